"""Who changed what, as pages: sentences, who may read which, narrowed by what is asked, page by page."""

from __future__ import annotations

import re
from contextlib import nullcontext
from datetime import date, timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.apps import apps
from django.utils import timezone
from django.utils.html import strip_tags
from django_scopes import scope

from consulting import services
from consulting.acting import CLIENT, acting
from consulting.followed import Followed
from consulting.models import Change, Membership
from consulting.services import save
from plans import visits
from plans.change_kinds import FORGOTTEN, NAMED, WHOLES
from plans.changes_found import PER_PAGE
from plans.changes_told import VISITS
from plans.models import VisitChange
from plans.services import prices_confirm
from sites.services import observation_create
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field, make_machine, make_seed_price
from tests.plan_factories import SPRAYED, line, make_agreed, make_ready_plan
from tests.web import queries


@pytest.fixture(autouse=True)
def made_rows_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.factories.told_elsewhere", nullcontext)


@pytest.fixture(autouse=True)
def scoped(cast: Cast):
    with scope(practice=cast.practice):
        yield


def page(cast: Cast, path: str, user: object = None, status: int = 200) -> str:
    answer = cast.browser(user or cast.planner).get(cast.url(path))  # type: ignore[arg-type]
    assert answer.status_code == status
    return answer.content.decode()


def sentences(html: str) -> str:
    """The list as it is read."""
    listed = re.search(r'<ol class="record changed">(.*?)</ol>', html, re.DOTALL)
    return " ".join(unescape(strip_tags(listed[1])).split()) if listed else ""


def test_a_price_that_was_changed_reads_as_a_sentence(cast: Cast) -> None:
    row = make_seed_price(cast.practice, species="indiangrass", lot="K-7", price_usd_per_lb=Decimal("14.00"))
    pk = row.pk
    with acting(cast.owner):
        save(row, price_usd_per_lb=Decimal("15.50"))
        save(row, tested_on=date(2027, 5, 3), supplier="Prairie Seed")
        row.delete()
    said = sentences(page(cast, f"history/seedprice/{pk}/"))
    assert (
        "Ottilie Owner changed “price” of the seed price “indiangrass, lot K-7” from $14.00 to $15.50."
        in said
    )
    assert "“tested on” to May 3, 2027" in said and "“supplier” to Prairie Seed" in said
    assert "Ottilie Owner removed the seed price “indiangrass, lot K-7”." in said
    assert "“price” was $15.50" in said


def test_confirming_a_price_is_told_as_that(cast: Cast) -> None:
    row = make_seed_price(cast.practice, species="indiangrass", lot="", unchecked=True)
    with acting(cast.planner):
        prices_confirm(model=type(row), pks=[row.pk])
    assert "Perrin Planner confirmed the seed price “indiangrass”." in sentences(page(cast, "history/"))


def test_every_kind_that_is_followed_has_its_words(cast: Cast) -> None:
    followed = {
        model._meta.model_name
        for model in apps.get_models()
        if issubclass(model, Followed) and not model.keeps_own_history
    }
    assert set(NAMED) == followed
    forgotten = {
        model._meta.model_name
        for model in apps.get_models()
        if issubclass(model, Followed) and model.forgotten
    }
    assert set(FORGOTTEN) == forgotten
    assert set(VISITS) == set(VisitChange.What)


def test_units_choices_and_links_are_told_in_words(cast: Cast) -> None:
    field = make_field(make_farm(make_client(cast.practice)), name="North forty", slope_pct=4, thatch="none")
    with acting(cast.owner):
        save(field, slope_pct=6.5, thatch="heavy", power_lines=True, notes="Gate sticks")
    said = sentences(page(cast, f"history/field/{field.pk}/", cast.crew))
    assert "“steepest slope” from 4 % to 6.5 %" in said and "“thatch” from None to Heavy" in said
    assert "“power lines cross or border the field” from no to yes" in said
    assert "“notes” to Gate sticks" in said


def test_facts_of_a_machine_are_told_by_their_labels(cast: Cast) -> None:
    machine = make_machine(cast.practice, facts={"weight_lb": 9000, "pto_hp": 60})
    with acting(cast.planner):
        save(machine, facts={"weight_lb": 9000, "pto_hp": 75})
    said = sentences(page(cast, f"history/machine/{machine.pk}/"))
    assert re.search(r"changed “what is known of it” .* from [^.]*60[^.]* to [^.]*75", said), said


def test_what_is_typed_is_text(cast: Cast) -> None:
    client = make_client(cast.practice, name="<b>Wren</b> {who}")
    with acting(cast.owner):
        services.client_update(client=client, name="<script>alert(1)</script> {record}")
    html = page(cast, "history/")
    assert "<script>alert" not in html and "<b>Wren" not in html
    assert "from <b>Wren</b> {who} to <script>alert(1)</script> {record}." in unescape(html)


def test_crew_read_no_price_and_no_setting(cast: Cast) -> None:
    machine = make_machine(cast.practice, holding="rented", lender="Ada’s yard")
    with acting(cast.owner):
        save(machine, rent_usd_per_day=Decimal("325.00"))
        save(machine, notes="Greased", delivery_usd=Decimal("80.00"))
    shown = page(cast, f"history/machine/{machine.pk}/", cast.crew)
    assert "Greased" in shown and "325.00" not in shown and "80.00" not in shown
    assert "$325.00" in page(cast, f"history/machine/{machine.pk}/")
    price = make_seed_price(cast.practice)
    member = Membership.objects.get(user=cast.crew)
    for path in (f"seedprice/{price.pk}", f"membership/{member.pk}", f"practice/{cast.practice.pk}"):
        page(cast, f"history/{path}/", cast.crew, 403)
    page(cast, "history/", cast.crew, 403)
    page(cast, f"history/membership/{member.pk}/", cast.planner, 403)


def test_a_planner_reads_nothing_of_people_and_settings(cast: Cast) -> None:
    with acting(cast.owner):
        services.practice_update(practice=cast.practice, overhead_pct=18)
        services.member_update(member=Membership.objects.get(user=cast.crew), role="planner", own_locale="")
    assert "overhead" not in page(cast, "history/") and "overhead" in page(cast, "history/", cast.owner)
    assert "“role”" not in page(cast, "history/") and "“role”" in page(cast, "history/", cast.owner)


def test_visits_tell_their_own_among_the_rest(cast: Cast) -> None:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    visit = plan.visits.order_by("pk").first()
    day = visit.window_opens
    visit = visits.visit_book(visit=visit, version=visit.version, user=cast.planner, on=day)
    visits.visit_book(visit=visit, version=visit.version, user=cast.planner, on=day + timedelta(days=2))
    said = sentences(page(cast, "history/?kind=visit"))
    assert f"Perrin Planner moved the visit “{visit.label}” on {visit.field.name} from " in said
    told = Change.objects.count()
    visits.visit_do(
        visit=visit,
        version=visit.version + 1,
        user=cast.crew,
        on=day,
        acres=visit.acres,
        today=day,
        record=SPRAYED,
        lines=[line()],
    )
    assert Change.objects.count() == told, "what follows from a visit is told by the visit alone"
    assert (
        said.count("moved the visit")
        == 1
        == page(cast, f"history/visit/{visit.pk}/").count("moved the visit")
    )


def test_narrowed_by_person_kind_and_days(cast: Cast) -> None:
    with acting(cast.owner):
        make_client(cast.practice, name="Wren Hollow")
    with acting(CLIENT):
        make_seed_price(cast.practice, species="indiangrass", lot="")
    make_machine(cast.practice, name="The drill")
    today = timezone.localdate()
    for query, shown in {
        f"who={cast.owner.pk}": "Ottilie Owner added the client “Wren Hollow”.",
        "who=client": "The client’s page added the seed price “indiangrass”.",
        "who=itself&kind=machine": "The site, by itself, added the machine “The drill”.",
        "kind=client": "Ottilie Owner added the client “Wren Hollow”.",
    }.items():
        said = sentences(page(cast, f"history/?{query}&first={today - timedelta(days=2)}"))
        assert shown in said and said.count(" added ") == 1, query
    assert "Nothing fits" in page(cast, f"history/?last={today - timedelta(days=2)}")
    assert " added " in page(cast, "history/?who=²&kind=nobody&first=tomorrow&page=-1&last=9999-99-99")
    page(cast, "history/?page=99999999999999999999&last=9999-12-31&first=0001-01-01")


def test_pages_hold_all_and_cost_the_same_for_many(cast: Cast) -> None:
    browser = cast.browser(cast.owner)
    observation_create(
        farm=make_farm(make_client(cast.practice)), by=cast.owner, moment="first_freeze", on=date(2026, 10, 9)
    )
    browser.get(cast.url("history/"))  # the first of a sign-in writes down when
    few = queries.count(lambda: browser.get(cast.url("history/")))
    client = make_client(cast.practice, name="Wren Hollow")
    for number in range(PER_PAGE):
        save(client, own_locale="es_US" if number % 2 else "en_US")
    for number in range(PER_PAGE):
        make_seed_price(cast.practice, species=f"grass {number}")
    assert queries.count(lambda: browser.get(cast.url("history/"))) == few == 7
    listed = [sentences(page(cast, f"history/?page={number}", cast.owner)) for number in (1, 2, 3)]
    assert [said.count("added the seed price") for said in listed] == [PER_PAGE, 0, 0]
    assert listed[1].count("“language”") == PER_PAGE and "first fall freeze" in listed[2].lower()
    assert queries.count(lambda: browser.get(cast.url(f"history/client/{client.pk}/"))) == 6


def test_what_was_removed_still_has_its_page_and_what_never_was_has_none(cast: Cast) -> None:
    machine = make_machine(cast.practice, name="The drill")
    path = f"history/machine/{machine.pk}/"
    assert "The drill" in page(cast, path)
    machine.delete()
    assert "not there any more" in page(cast, path)
    for path in ("machine/999999", "nothing/1", f"practice/{cast.other_practice.pk}", "letter/1"):
        page(cast, f"history/{path}/", cast.owner, 404)


@pytest.mark.parametrize("path", ["clients/{}/", "farms/{}/", "fields/{}/"])
def test_a_record_leads_to_what_was_changed_on_it(cast: Cast, path: str) -> None:
    client = make_client(cast.practice)
    farm = make_farm(client)
    rows = {"clients/{}/": client, "farms/{}/": farm, "fields/{}/": make_field(farm)}
    row = rows[path]
    kind = row._meta.model_name
    assert cast.url(f"history/{kind}/{row.pk}/") in page(cast, path.format(row.pk), cast.crew)
    assert kind in WHOLES
