"""Mixes: the builder with and without scripts, versions, copies."""

from __future__ import annotations

from django_scopes import scope

from plans.models import Mix
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field, make_seed_price
from tests.plan_factories import make_conversion, make_mix, make_offered, make_plan, make_ready_plan
from tests.web import queries


def form(name: str, lines: list[tuple[str, str]], **values: str) -> dict[str, str]:
    """What the builder posts when Save is pressed."""
    posted = {
        "name": name,
        "basis": "share of seed",
        "seeds_per_sqft": "40",
        "rate_is_for": "drilled",
        "lines-TOTAL_FORMS": str(len(lines)),
        "lines-INITIAL_FORMS": "0",
        "save": "yes",
    }
    for at, (species, amount) in enumerate(lines):
        posted |= {f"lines-{at}-species": species, f"lines-{at}-amount": amount}
    return posted | values


GOOD = [("Indiangrass", "60"), ("", ""), ("black-eyed Susan", "40")]


def lines_of(mix: Mix) -> list[tuple[str, float]]:
    return [(line.species, line.amount) for line in mix.lines.all()]


def test_a_mix_is_made_and_empty_lines_are_none(cast: Cast) -> None:
    assert cast.browser(cast.planner).post(cast.url("mixes/new/"), form("Two", GOOD)).status_code == 302
    with scope(practice=cast.practice):
        mix = Mix.objects.get(name="Two")
        assert lines_of(mix) == [("indiangrass", 60), ("black-eyed Susan", 40)]
        assert (mix.edition, mix.seeds_per_sqft) == (1, 40)


def test_what_is_wrong_is_said_and_kept(cast: Cast) -> None:
    make_mix(cast.practice, "Taken")
    browser = cast.browser(cast.planner)
    for posted, says in (
        (form("Two", [("indiangrass", "60"), ("indiangrass", "40")]), "Indiangrass stands in the mix twice"),
        (form("Two", [("indiangrass", "60")]), "The shares sum to 60 %"),
        (form("Two", [("indiangras", "100")]), "Did you mean indiangrass?"),
        (form("Two", [("indiangrass", "")]), "How much indiangrass?"),
        (form("Two", [("", "100")]), "Which species is this?"),
        (form("Two", [("indiangrass", "-3")]), "Give an amount over 0."),
        (form("Two", []), "at least one species"),
        (form("Two", GOOD, seeds_per_sqft=""), "needs its seeds per square foot"),
        (form("", GOOD), "Name is missing"),
        (form("Taken", GOOD), "already a mix of this name"),
    ):
        response = browser.post(cast.url("mixes/new/"), posted)
        page = response.content.decode()
        assert response.status_code == 422, says
        assert says in page.replace("&#x27;", "'"), says
        assert "There is something to mend" in page
        for at in range(int(posted["lines-TOTAL_FORMS"])):
            assert not posted[f"lines-{at}-species"] or f'value="{posted[f"lines-{at}-species"]}"' in page
    with scope(practice=cast.practice):
        assert list(Mix.objects.values_list("name", flat=True)) == ["Taken"]


def test_lines_of_a_wrong_number_are_refused_in_words(cast: Cast) -> None:
    posted = form("Two", GOOD) | {"lines-MAX_NUM_FORMS": "many"}
    response = cast.browser(cast.planner).post(cast.url("mixes/new/"), posted)
    assert response.status_code == 422 and "The lines of the mix came incomplete" in response.content.decode()


def test_more_lines_without_scripts_keeps_what_is_typed(cast: Cast) -> None:
    posted = form("Two", [("indiangrass", "60"), ("nonsense", "4x")], more="yes")
    del posted["save"]
    page = cast.browser(cast.planner).post(cast.url("mixes/new/"), posted).content.decode()
    assert 'value="indiangrass"' in page and 'value="nonsense"' in page and 'value="4x"' in page
    assert "lines-5-species" in page
    assert "something to mend" not in page


def test_sums_follow_what_is_typed_in_all_three_bases(cast: Cast) -> None:
    # 40 seeds/ft² of one species at its table count; the published formula is checked in tests/published.
    make_seed_price(
        cast.practice,
        species="indiangrass",
        price_usd_per_lb=10,
        purity_pct=80.0,
        germination_pct=75.0,
        dormant_pct=0.0,
    )
    browser, url = cast.browser(cast.planner), cast.url("mixes/sums/")
    page = browser.post(url, form("", [("indiangrass", "100")])).content.decode()
    # 40 x 43,560 / 174,720 seeds a pound = 9.973 lb PLS; / 0.6 = 16.621 lb bulk; x $10 = $99.73
    assert "9.973" in page and "16.621" in page and "$99.73" in page
    assert "Grass <strong>100 %" in page
    half_done = browser.post(url, form("", [("indiangrass", "50"), ("", "")]))
    assert half_done.status_code == 200 and "sum to 50 %" in half_done.content.decode()
    unpriced = browser.post(url, form("", [("switchgrass", "100")])).content.decode()
    assert "no listed price" in unpriced
    assert browser.post(url, {}).status_code == 200
    with scope(practice=cast.practice):
        assert not Mix.objects.exists()


def test_a_copy_is_another_mix(cast: Cast) -> None:
    mix = make_mix(cast.practice, "Meadow")
    browser = cast.browser(cast.planner)
    browser.post(cast.url(f"mixes/{mix.pk}/copy/"))
    browser.post(cast.url(f"mixes/{mix.pk}/copy/"))
    with scope(practice=cast.practice):
        names = list(Mix.objects.order_by("pk").values_list("name", flat=True))
        assert names == ["Meadow", "Meadow, copy", "Meadow, copy 2"]
        copy = Mix.objects.get(name="Meadow, copy")
        assert lines_of(copy) == lines_of(mix) and copy.copied_from == mix


def test_a_mix_that_was_offered_stays_and_its_next_version_takes_its_place_in_drafts(cast: Cast) -> None:
    offered = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        mix = offered.conversions.get().mix
        before = lines_of(mix)
    farm = make_farm(make_client(cast.practice))
    draft = make_conversion(make_plan(farm), make_field(farm), mix)
    make_offered(offered, cast.owner)
    browser = cast.browser(cast.planner)
    assert "Save the next version" in browser.get(cast.url(f"mixes/{mix.pk}/")).content.decode()
    browser.post(cast.url(f"mixes/{mix.pk}/"), form(mix.name, GOOD))
    with scope(practice=cast.practice):
        old, new = Mix.objects.filter(name=mix.name).order_by("edition")
        assert (old.pk, old.replaced, lines_of(old)) == (mix.pk, True, before)
        assert (new.edition, lines_of(new)[0]) == (2, ("indiangrass", 60))
        draft.refresh_from_db()
        assert draft.mix == new
        assert offered.conversions.get().mix == old
    assert browser.get(cast.url("mixes/")).content.decode().count(f"/mixes/{old.pk}/") == 0


def test_a_mix_in_use_cannot_be_removed(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        mix = plan.conversions.get().mix
    idle = make_mix(cast.practice, "Idle")
    browser = cast.browser(cast.planner)
    for each in (mix, idle):
        browser.post(cast.url(f"mixes/{each.pk}/remove/"))
    with scope(practice=cast.practice):
        assert list(Mix.objects.all()) == [mix]


def test_the_list_asks_the_same_of_the_database_for_one_mix_and_for_thirty(cast: Cast) -> None:
    browser = cast.browser(cast.planner)
    make_mix(cast.practice, "First")
    one = queries.count(lambda: browser.get(cast.url("mixes/")))
    for number in range(30):
        make_mix(cast.practice, f"Mix {number}")
    assert queries.count(lambda: browser.get(cast.url("mixes/"))) == one
