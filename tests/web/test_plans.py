"""Plans on the screen: from a farm to a price, with scripts off, and what stands on the page."""

from __future__ import annotations

import csv
import io
import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from html import unescape
from typing import Any

from django_scopes import scope

from consulting.clock import today_for
from consulting.models import Practice
from plans.forms.conversions import first_program, program_choices
from plans.models import Acceptance, Conversion, Plan, State
from plans.planning import tables
from plans.selectors import plans_whole, prices_for, reckon
from plans.workings import year_table
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field, make_seed_price
from tests.plan_factories import (
    TODAY,
    make_conversion,
    make_mix,
    make_offered,
    make_plan,
    make_prices,
    make_ready_plan,
    price,
)
from tests.web import queries


def posted(**values: str) -> dict[str, str]:
    return {
        "purpose": "nesting and brood cover",
        "kill_program": "sod_fall_spring",
        "seeding": "drill",
        "start_on": "2027-07-01",
        "broadcast_factor": "1.5",
    } | values


def page_total(page: str) -> Decimal:
    """The total of all years as the page prints it."""
    foot = re.search(r'<table class="sum">.*?<tfoot>(.*?)</tfoot>', page, re.DOTALL)
    assert foot
    return price(re.findall(r"<summary[^>]*>(\$[\d,.]+)", foot.group(1))[-1])


def test_from_a_farm_to_a_price_with_scripts_off(cast: Cast) -> None:
    make_prices(cast.practice)
    mix = make_mix(cast.practice)
    farm = make_farm(make_client(cast.practice, name="Ada Quillen"))
    field = make_field(farm, name="Barn Hill", acres=11.2)
    browser = cast.browser(cast.planner)

    assert farm.name in browser.get(cast.url("plans/new/?q=Quillen")).content.decode()
    made = browser.post(cast.url(f"plans/new/{farm.pk}/"), {"title": "One field to cover"})
    page = browser.get(made.headers["Location"]).content.decode()
    assert "This plan has no field yet" in page and "Barn Hill" in page

    url = f"{made.headers['Location']}fields/{field.pk}/"
    form = browser.get(url).content.decode()
    assert "Fall and spring kill of cool-season sod" in form and "Fit this ground" in form
    assert browser.post(url, posted(mix=str(mix.pk))).status_code == 302

    page = browser.get(made.headers["Location"]).content.decode()
    assert page_total(page) > 0
    for part in ("What it costs", "Why these dates", "The years ahead", "What goes in the ground"):
        assert part in page
    for part in ("What goes in the tank", "What happens when", "Every line of the price", "<svg"):
        assert part in page


def test_a_new_plan_takes_the_practices_terms_of_that_day(cast: Cast) -> None:
    Practice.objects.filter(pk=cast.practice.pk).update(pricing_pct=31, cost_share_label="County office")
    cast.practice.refresh_from_db()
    plan = make_plan(make_farm(make_client(cast.practice)))
    Practice.objects.filter(pk=cast.practice.pk).update(pricing_pct=12)
    plan.refresh_from_db()
    assert (plan.pricing_pct, plan.cost_share_label, plan.state) == (31, "County office", State.DRAFT)


def test_choices_move_the_price_and_a_wrong_one_moves_nothing(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{plan.pk}/")
    before = page_total(browser.get(url).content.decode())
    with scope(practice=cast.practice):
        conversion = plan.conversions.get()
    choices = {
        f"{conversion.pk}-mix": str(conversion.mix_id),
        f"{conversion.pk}-kill_program": "sod_spring_only",
        f"{conversion.pk}-seeding": "drill",
        f"{conversion.pk}-start_on": "2027-07-01",
        "pricing": "margin on price",
        "pricing_pct": "40",
    }
    assert browser.post(f"{url}choices/", choices).status_code == 302
    after = page_total(browser.get(url).content.decode())
    assert after > before

    live = browser.post(f"{url}choices/", choices | {"pricing_pct": "20"}, headers={"HX-Request": "true"})
    part = live.content.decode()
    assert "<html" not in part and 'id="now" hx-swap-oob' in part
    assert page_total(part) < after

    wrong = choices | {"pricing_pct": "100", f"{conversion.pk}-start_on": "soon"}
    refused = browser.post(f"{url}choices/", wrong)
    said = refused.content.decode()
    assert refused.status_code == 422
    assert "A margin on price must be under 100 %" in said and "must be a day" in said
    assert 'value="100"' in said and 'value="soon"' in said
    alone = browser.post(f"{url}choices/", wrong, headers={"HX-Request": "true"})
    assert (alone.status_code, alone.headers["HX-Retarget"]) == (422, "#choice-errors")
    plan.refresh_from_db()
    assert plan.pricing_pct == 20


def test_steps_can_be_left_out_done_already_or_given_a_rate(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        conversion = plan.conversions.get()
    url = cast.url(f"plans/{plan.pk}/fields/{conversion.field_id}/")
    browser = cast.browser(cast.planner)
    answer = posted(
        mix=str(conversion.mix_id),
        options="burn",
        **{"left-clip_3": "on", "rate-kill_fall-0": "2", "done-kill_fall": "2025-09-20"},
    )
    assert browser.post(url, answer).status_code == 302
    conversion.refresh_from_db()
    assert conversion.options == ["burn"]
    assert conversion.left_out == ["clip_3"]
    assert conversion.rates_lb_per_acre == {"kill_fall/glyphosate": 2.0}
    assert conversion.log == [{"step": "kill_fall", "on": "2025-09-20"}]
    shown = browser.get(url).content.decode()
    assert 'value="2025-09-20"' in shown and "Burn the first third" in shown
    both = browser.post(url, answer | {"left-kill_fall": "on"})
    assert both.status_code == 422 and "clear one of the two" in both.content.decode()


def test_a_step_is_not_done_on_a_day_to_come(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        conversion = plan.conversions.get()
    url = cast.url(f"plans/{plan.pk}/fields/{conversion.field_id}/")
    browser, today = cast.browser(cast.planner), today_for(cast.practice)
    done = f"{today + timedelta(days=1)}"
    refused = browser.post(url, posted(mix=str(conversion.mix_id), **{"done-kill_fall": done}))
    page = refused.content.decode()
    assert refused.status_code == 422
    assert "First kill: spray the fall regrowth: that day is still to come" in page
    assert f'value="{done}"' in page
    taken = browser.post(url, posted(mix=str(conversion.mix_id), **{"done-kill_fall": f"{today}"}))
    assert taken.status_code == 302


def test_what_is_known_of_another_programs_steps_stays(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        conversion = plan.conversions.get()
        Conversion.objects.update(log=[{"step": "burndown", "on": "2027-05-01"}], left_out=["mow_weeds"])
    url = cast.url(f"plans/{plan.pk}/fields/{conversion.field_id}/")
    cast.browser(cast.planner).post(url, posted(mix=str(conversion.mix_id)))
    conversion.refresh_from_db()
    assert conversion.log == [{"step": "burndown", "on": "2027-05-01"}]
    assert conversion.left_out == ["mow_weeds"]


def test_the_form_follows_program_and_seeding_without_saving(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        conversion = plan.conversions.get()
    url = cast.url(f"plans/{plan.pk}/fields/{conversion.field_id}/")
    browser = cast.browser(cast.planner)
    wanted = posted(mix=str(conversion.mix_id), seeding="broadcast", start_on="not yet", show="yes")
    page = browser.post(url, wanted).content.decode()
    assert "Disc twice" in page and 'value="not yet"' in page
    assert "something to mend" not in page
    part = browser.post(f"{url}steps/", wanted).content.decode()
    assert "Disc twice" in part and "Drill the mix" not in part
    conversion.refresh_from_db()
    assert conversion.seeding == "drill"


def test_a_wrong_field_form_says_so_and_keeps_what_was_typed(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        conversion = plan.conversions.get()
    url = cast.url(f"plans/{plan.pk}/fields/{conversion.field_id}/")
    wrong = posted(
        mix="", kill_program="prayer", start_on="31 June", broadcast_factor="9", seeding="broadcast"
    )
    response = cast.browser(cast.planner).post(url, wrong | {"rate-kill_fall-0": "lots"})
    page = unescape(response.content.decode())
    assert response.status_code == 422
    for says in ("Mix is missing", "cannot be “prayer”", "must be a day", "2.5 or less"):
        assert says in page, says
    assert 'value="31 June"' in page and 'value="9"' in page


def test_what_cannot_be_worked_out_is_a_finding_and_no_breakdown(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{plan.pk}/")
    for broken in ({"kill_program": "forgotten"}, {"log": [{"step": "nowhere", "on": "2027-01-01"}]}):
        with scope(practice=cast.practice):
            Conversion.objects.filter(plan=plan).update(**broken)
        response = browser.get(url)
        page = unescape(response.content.decode())
        assert response.status_code == 200
        assert "This plan cannot be worked out" in page and "is not one of" in page
        assert browser.get(f"{url}draft.pdf").status_code == 404
        offer = browser.get(f"{url}offer/").content.decode()
        assert "Not yet ready to offer" in offer
        assert browser.post(f"{url}offer/").status_code == 409
    assert browser.get(cast.url()).status_code == 200


def test_a_caution_is_accepted_with_a_reason_and_taken_back(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice, sensitive_neighbours="vineyard to the east")
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{plan.pk}/")
    page = unescape(browser.get(url).content.decode())
    keys = re.findall(r'name="key" value="(neighbou?rs[^"]+)"', page)
    assert keys and "vineyard to the east" in page

    empty = browser.post(f"{url}accept/", {"key": keys, "reason": " "})
    assert empty.status_code == 422 and "Why it is accepted is missing" in empty.content.decode()
    browser.post(f"{url}accept/", {"key": keys, "reason": "Spoken with <b>the grower</b>."})
    page = browser.get(url).content.decode()
    assert "Accepted by Perrin Planner" in page and "&lt;b&gt;the grower" in page
    with scope(practice=cast.practice):
        kept = Acceptance.objects.get(finding_key=keys[0])
        assert (kept.accepted_by, kept.reason) == (cast.planner, "Spoken with <b>the grower</b>.")
    browser.post(f"{url}unaccept/", {"key": keys})
    with scope(practice=cast.practice):
        assert not Acceptance.objects.exists()


def test_a_stop_cannot_be_accepted(cast: Cast) -> None:
    farm = make_farm(make_client(cast.practice))
    plan = make_plan(farm)
    make_conversion(plan, make_field(farm), make_mix(cast.practice))
    with scope(practice=cast.practice):
        outcome = reckon(plans_whole().get(pk=plan.pk), prices_for(cast.practice), TODAY).outcome
    assert outcome is not None
    stops = [finding.key for finding in outcome.findings if finding.severity == "stop"]
    assert stops
    cast.browser(cast.planner).post(cast.url(f"plans/{plan.pk}/accept/"), {"key": stops, "reason": "no"})
    with scope(practice=cast.practice):
        assert not Acceptance.objects.exists()


def test_screen_csv_and_stored_plan_print_one_total(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        Plan.objects.update(contingency_pct=7.5, discount_pct=3, tax_seed_pct=6.35, tax_work_pct=4)
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{plan.pk}/")
    on_screen = page_total(browser.get(url).content.decode())
    file = browser.get(f"{url}estimate.csv")
    rows = list(csv.reader(io.StringIO(file.content.decode("utf-8-sig"))))
    lines = [Decimal(row[7]) for row in rows[1:] if row[1] != "total"]
    assert sum(lines) == Decimal(rows[-1][7]) == on_screen
    proposal = make_offered(plan, cast.owner)
    assert proposal.total_usd == on_screen
    assert page_total(browser.get(url).content.decode()) == on_screen
    assert page_total(browser.get(cast.url(f"proposals/{proposal.number}/")).content.decode()) == on_screen


def test_every_sum_on_the_page_adds_up_from_its_working(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        outcome = reckon(plans_whole().get(pk=plan.pk), prices_for(cast.practice), TODAY).outcome
    assert outcome is not None
    table = year_table(outcome.estimate)
    for row in (*table.rows, table.total):
        for _, figure in (*row.cells, ("", row.total)):
            if figure is not None and figure.inputs:
                assert sum(term.value for term in figure.inputs) == figure.value, figure.formula


def test_the_list_keeps_its_filter_in_the_address_and_has_pages(cast: Cast) -> None:
    farm = make_farm(make_client(cast.practice))
    for number in range(26):
        make_plan(farm, f"Draft {number}")
    make_plan(farm, "The agreed one", state=State.AGREED)
    browser = cast.browser(cast.planner)
    page = browser.get(cast.url("plans/?state=draft")).content.decode()
    assert "The agreed one" not in page and "Page 1 of 2" in page and "?state=draft&amp;page=2" in page
    second = browser.get(cast.url("plans/?state=draft&page=2")).content.decode()
    assert second.count("Draft ") >= 1 and "Page 2 of 2" in second
    assert "The agreed one" in browser.get(cast.url("plans/?state=nonsense")).content.decode()
    assert browser.get(cast.url("plans/?page=9999")).status_code == 200


def test_pages_ask_the_same_of_the_database_for_ten_plans_and_for_two_hundred(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    farm = make_farm(make_client(cast.practice))
    for number in range(9):
        make_plan(farm, f"Plan {number}")
    browser = cast.browser(cast.planner)
    pages = [cast.url(f"plans/{plan.pk}/"), cast.url("plans/"), cast.url()]
    few = [queries.count(lambda page=page: browser.get(page)) for page in pages]
    with scope(practice=cast.practice):
        model = Plan.objects.get(pk=plan.pk)
        Plan.objects.bulk_create(copy_of(model, number) for number in range(190))
    assert [queries.count(lambda page=page: browser.get(page)) for page in pages] == few


def copy_of(plan: Plan, number: int) -> Plan:
    values = {field.attname: getattr(plan, field.attname) for field in Plan._meta.concrete_fields}
    return Plan(**values | {"id": None, "title": f"Copy {number}"})


def test_a_plan_asks_the_same_of_the_database_for_one_field_and_for_eight(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    browser, url = cast.browser(cast.planner), cast.url(f"plans/{plan.pk}/")
    one = queries.count(lambda: browser.get(url))
    with scope(practice=cast.practice):
        farm = Plan.objects.select_related("farm").get(pk=plan.pk).farm
    for number in range(7):
        make_conversion(plan, make_field(farm), make_mix(cast.practice, f"Mix {number}"))
    assert queries.count(lambda: browser.get(url)) == one


def test_names_print_as_typed(cast: Cast) -> None:
    make_prices(cast.practice)
    farm = make_farm(make_client(cast.practice, name="Zoë <b>& Söhne 农场"), name="=1+1 농장")
    plan = make_plan(farm, "Über <i>all</i> & more")
    make_conversion(
        plan, make_field(farm, name="<script>Feld</script>"), make_mix(cast.practice, "Mix “<b>”")
    )
    browser = cast.browser(cast.planner)
    page = browser.get(cast.url(f"plans/{plan.pk}/")).content.decode()
    assert "<script>Feld" not in page and "<b>& " not in page
    assert "Über <i>all</i> & more" in unescape(page) and "<script>Feld</script>" in unescape(page)
    file = browser.get(cast.url(f"plans/{plan.pk}/estimate.csv"))
    assert re.fullmatch(r'attachment; filename="[a-z0-9-]+\.csv"', file.headers["Content-Disposition"])
    assert browser.get(cast.url(f"plans/{plan.pk}/draft.pdf")).content.startswith(b"%PDF")


def test_a_field_of_another_farm_has_no_place_in_the_plan(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    elsewhere = make_field(make_farm(make_client(cast.practice)))
    url = cast.url(f"plans/{plan.pk}/fields/{elsewhere.pk}/")
    assert cast.browser(cast.planner).get(url).status_code == 404


def test_another_practices_mix_cannot_be_chosen(cast: Cast) -> None:
    theirs = make_mix(cast.other_practice, "Theirs")
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        conversion = plan.conversions.get()
    browser = cast.browser(cast.planner)
    url = cast.url(f"plans/{plan.pk}/fields/{conversion.field_id}/")
    assert browser.post(url, posted(mix=str(theirs.pk))).status_code == 422
    assert browser.get(cast.url(f"mixes/{theirs.pk}/")).status_code == 404


def test_crew_see_the_work_and_no_price(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    make_offered(plan, cast.owner)
    with scope(practice=cast.practice):
        Plan.objects.update(state=State.AGREED)
    page = cast.browser(cast.crew).get(cast.url()).content.decode()
    assert plan.title in page and "$" not in page and f"/plans/{plan.pk}/" not in page


def test_a_new_practice_is_led_to_its_first_quote_and_an_old_one_sees_where_things_stand(cast: Cast) -> None:
    browser = cast.browser(cast.owner)
    start = browser.get(cast.url()).content.decode()
    assert "To your first quote" in start and "Waits for the one before" in start
    plan = make_ready_plan(cast.practice)
    make_offered(plan, cast.owner)
    make_seed_price(cast.practice, unchecked=True)
    draft = make_plan(make_farm(make_client(cast.practice)), "A later draft")
    page = browser.get(cast.url()).content.decode()
    assert "Where things stand" in page and plan.title in page and draft.title in page
    assert "unchecked" in page


def test_programs_that_fit_come_first() -> None:
    for cover in ("cool-season sod", "crop stubble", "annual weeds", "brushy old field"):
        groups = program_choices(cover, "forage")
        assert groups[0][0] == "Fit this ground"
        assert all(cover in tables.programs()[key].covers for key, _ in groups[0][1])
        assert first_program(cover, "forage") == groups[0][1][0][0]


def test_today_is_the_day_where_the_practice_is(cast: Cast, monkeypatch: Any) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: datetime(2026, 12, 1, 3, 30, tzinfo=UTC))
    for zone, day in (("America/Chicago", date(2026, 11, 30)), ("Asia/Seoul", date(2026, 12, 1))):
        cast.practice.time_zone = zone
        assert today_for(cast.practice) == day


def test_a_field_not_yet_in_the_plan_shows_the_steps_of_what_was_just_chosen(cast: Cast) -> None:
    farm = make_farm(make_client(cast.practice))
    plan, field, mix = make_plan(farm), make_field(farm), make_mix(cast.practice)
    url = cast.url(f"plans/{plan.pk}/fields/{field.pk}/")
    wanted = posted(mix=str(mix.pk), kill_program="sod_spring_only", seeding="broadcast", show="yes")
    browser = cast.browser(cast.planner)
    for page in (browser.post(url, wanted), browser.post(f"{url}steps/", wanted)):
        html = page.content.decode()
        assert "Clear the winter thatch" not in html, "thatch is not on this field"
        assert "First kill: spray the spring growth" in html and "Broadcast the mix" in html
    assert 'value="sod_spring_only" selected' in browser.post(url, wanted).content.decode()
