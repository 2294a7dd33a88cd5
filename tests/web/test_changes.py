"""Every write to a record raises its version and is written down: who, what, from what to what."""

from __future__ import annotations

from contextlib import nullcontext
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.apps import apps
from django.db import transaction
from django_scopes import scope

from consulting import services
from consulting.acting import acting
from consulting.append_only import Added, Recorded
from consulting.followed import ChangedMeanwhile, Followed, save_all
from consulting.models import Change, Client, Membership, SeedPrice
from consulting.tenancy import of_practices
from plans.client_links import link_make
from plans.models import Mix, Plan
from plans.planning.job import MixLine
from plans.services import mix_save, prices_confirm
from sites.models import Field
from sites.services import record_remove
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field, make_machine, make_seed_price
from tests.plan_factories import make_ready_plan

NOT_FOLLOWED = {
    "columnmatch": "a supplier's columns as they were matched: of use to the next file alone",
    "enclosure": "goes with its letter",
    "fitting": "an attempt of the solver; what is taken up of it is told by visits",
    "letter": "its state is what the sending of letters knows of it",
    "listupload": "a file for a day",
    "mapupload": "a file for a day",
    "proposal": "frozen, and sealed with its hash",
    "proposalcounter": "a counter",
    "visittold": "what letters have told already",
}


@pytest.fixture(autouse=True)
def made_rows_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.factories.told_elsewhere", nullcontext)


@pytest.fixture(autouse=True)
def scoped(cast: Cast):
    with scope(practice=cast.practice):
        yield


def told(**asked: object) -> list[tuple[str, str, dict[str, list[object]]]]:
    rows = Change.objects.filter(**asked).order_by("pk")
    return [(row.what, row.name, row.fields) for row in rows]


def test_every_table_of_a_practice_is_followed_or_says_why_not() -> None:
    for model in of_practices():
        if not issubclass(model, Followed | Added):
            assert NOT_FOLLOWED.pop(model._meta.model_name, ""), model
    assert not NOT_FOLLOWED


def test_no_key_or_hash_of_one_is_followed() -> None:
    for model in apps.get_models():
        if issubclass(model, Followed):
            assert not [field.name for field in model.followed() if "key" in field.name.split("_")[:1]] or (
                model._meta.model_name == "planoption"
            )
            assert not [field.name for field in model.followed() if "sha256" in field.name]


def test_who_read_an_older_version_does_not_write(cast: Cast) -> None:
    pk = make_seed_price(cast.practice, species="indiangrass").pk
    first, second = SeedPrice.objects.get(pk=pk), SeedPrice.objects.get(pk=pk)
    services.save(first, price_usd_per_lb=Decimal("17.00"))
    second.price_usd_per_lb = Decimal("15.00")
    with pytest.raises(ChangedMeanwhile) as raised:
        second.save()
    assert (raised.value.now.price_usd_per_lb, raised.value.now.version) == (Decimal("17.00"), 2)
    with pytest.raises(ChangedMeanwhile):
        second.save(update_fields=["lot"])
    first.delete()
    with pytest.raises(ChangedMeanwhile) as raised:
        second.save()
    assert raised.value.now is None and not SeedPrice.objects.filter(pk=pk).exists()


def test_a_save_that_changes_nothing_raises_no_version(cast: Cast) -> None:
    row = make_seed_price(cast.practice, price_usd_per_lb=Decimal("14.00"))
    services.save(row, price_usd_per_lb="14.0")
    assert row.version == 1 and [what for what, _, _ in told(kind="seedprice")] == ["added"]


def test_a_change_says_who_and_from_what_to_what(cast: Cast) -> None:
    row = make_seed_price(cast.practice, species="indiangrass", lot="", price_usd_per_lb=Decimal("14.00"))
    typed = {name: str(getattr(row, name)) for name in ("species", "basis", "purity_pct", "dormant_pct")}
    typed |= {"price_usd_per_lb": "15.50", "germination_pct": str(row.germination_pct), "lot": "K-7"}
    sent = cast.browser(cast.planner).post(cast.url(f"prices/seed/{row.pk}/"), typed)
    assert sent.status_code == 302
    change = Change.objects.get(kind="seedprice", what="changed")
    assert (change.by, change.by_name, change.way) == (cast.planner, "Perrin Planner", "member")
    assert (change.key, change.about, change.version) == (row.pk, f"seedprice:{row.pk}", 2)
    assert change.fields["price_usd_per_lb"] == ["14.00", "15.50"] and change.fields["lot"] == ["", "K-7"]


def test_what_is_rolled_back_is_not_told(cast: Cast) -> None:
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        make_seed_price(cast.practice)
        raise ZeroDivisionError
    assert not told(kind="seedprice")


def test_many_rows_at_once_are_told_one_by_one(cast: Cast) -> None:
    rows = [make_seed_price(cast.practice, unchecked=True) for _ in range(3)]
    with acting(cast.owner):
        assert prices_confirm(model=SeedPrice, pks=[row.pk for row in rows[:2]]) == 2
    assert [fields for _, _, fields in told(what="changed")] == [{"unchecked": [True, False]}] * 2
    assert set(Change.objects.filter(what="changed").values_list("by_name", flat=True)) == {"Ottilie Owner"}
    assert list(SeedPrice.objects.order_by("pk").values_list("version", flat=True)) == [2, 2, 1]
    with pytest.raises(ChangedMeanwhile):
        save_all([(rows[2], None), (rows[0], None)])


def test_a_list_of_rows_costs_no_query_each(cast: Cast, django_assert_num_queries) -> None:
    rows = [SeedPrice(practice=cast.practice, species=f"grass {n}", price_usd_per_lb=9) for n in range(50)]
    for row in rows:
        row.basis, row.purity_pct, row.germination_pct = "PLS", 95.0, 90.0
    with transaction.atomic(), django_assert_num_queries(4):  # a savepoint, its end, the rows, what is told
        SeedPrice.objects.bulk_create(rows)
    assert Change.objects.filter(kind="seedprice", what="added").count() == 50


def test_the_lines_of_a_mix_are_told_with_the_mix(cast: Cast) -> None:
    lines = [MixLine(species="indiangrass", amount=40), MixLine(species="little bluestem", amount=60)]
    mix = mix_save(mix=Mix(practice=cast.practice, name="Hill mix", seeds_per_sqft=40), lines=lines)
    lines = [MixLine(species="indiangrass", amount=45), MixLine(species="sideoats grama", amount=55)]
    mix_save(mix=mix, lines=lines)
    assert [
        (what, name, fields.get("amount"))
        for what, name, fields in told(about=f"mix:{mix.pk}", kind="mixline")[2:]
    ] == [
        ("changed", "indiangrass", [40.0, 45.0]),
        ("added", "sideoats grama", None),
        ("removed", "little bluestem", [60.0, None]),
    ]
    mix.delete()
    assert told(kind="mixline", what="removed")[1:] == []


def test_of_named_facts_those_that_differ_are_told(cast: Cast) -> None:
    machine = make_machine(cast.practice, facts={"pto_rpm": 540, "weight_lb": 9000})
    services.save(machine, facts={"pto_rpm": 1000, "weight_lb": 9000, "width_ft": 8})
    assert told(kind="machine", what="changed")[0][2] == {
        "facts": [{"pto_rpm": 540}, {"pto_rpm": 1000, "width_ft": 8}]
    }


def test_how_to_reach_a_client_is_never_kept(cast: Cast) -> None:
    client = make_client(cast.practice, name="Wren Hollow", phone="555 0100", notes="Rings at night")
    services.client_update(client=client, phone="555 0199", notes="Rings at noon", name="Wren Hollow Farm")
    assert told(kind="client", what="changed")[0][2] == {
        "name": ["Wren Hollow", "Wren Hollow Farm"],
        "phone": [],
        "notes": [],
    }


def everything_told() -> str:
    return repr(list(Change.objects.values_list("name", "within", "fields")))


def test_a_client_who_is_removed_is_forgotten(cast: Cast) -> None:
    client = make_client(cast.practice, name="Wren Hollow", email="wren@example.org", address="7 Creek Rd")
    farm = make_farm(client, name="Hollow Farm", directions="Past the red barn")
    field = make_field(farm, name="Wren's forty", notes="Old sod")
    services.save(field, notes="New sod of Wren Hollow")
    services.client_update(client=client, phone="555 0100")
    with acting(cast.owner):
        for row in (field, farm, client):
            record_remove(row=row)
    assert Change.objects.filter(what="removed", by=cast.owner).count() == 3
    for word in ("Wren", "Hollow", "example.org", "Creek", "555", "barn", "sod"):
        assert word not in everything_told()
    assert not Client.objects.exists() and not Field.objects.exists()


def test_the_address_of_a_client_page_is_told_without_its_key(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    today = date(2026, 11, 25)
    link, key = link_make(plan=plan, user=cast.owner, expires_on=today + timedelta(days=9), today=today)
    assert told(kind="clientlink") and link.key_sha256 not in everything_told()
    assert key not in everything_told()


def test_what_happens_outside_any_request_happens_by_itself(cast: Cast) -> None:
    make_client(cast.practice)
    assert list(Change.objects.filter(kind="client").values_list("way", "by", "by_name")) == [
        ("itself", None, "")
    ]


def test_the_settings_of_a_practice_are_followed_too(cast: Cast) -> None:
    with acting(cast.owner):
        services.practice_update(practice=cast.practice, overhead_pct=18)
    assert told(about=f"practice:{cast.practice.pk}", what="changed") == [
        ("changed", "Kestrel Cover Company", {"overhead_pct": [15.0, 18.0]})
    ]


def test_a_change_is_never_changed_or_removed(cast: Cast) -> None:
    make_client(cast.practice)
    change = Change.objects.filter(kind="client").get()
    for act in (change.save, change.delete, Change.objects.all().delete):
        with pytest.raises(Recorded):
            act()


def test_a_draft_that_is_only_touched_keeps_its_version(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    before = Plan.objects.get(pk=plan.pk)
    Plan.objects.filter(pk=plan.pk).update(changed_at=before.changed_at + timedelta(hours=1))
    now = Plan.objects.get(pk=plan.pk)
    assert now.version == before.version and now.changed_at > before.changed_at


def test_days_off_and_roles_are_told_of_the_person(cast: Cast) -> None:
    member = Membership.objects.get(user=cast.crew)
    services.member_update(member=member, role="planner", own_locale="")
    assert told(about=f"membership:{member.pk}", what="changed") == [
        ("changed", "Cass Crew", {"role": ["crew", "planner"]})
    ]
