"""Machines of a visit: chosen with its day, compared, and said where it is loaded and on the crew sheet."""

from __future__ import annotations

import re
from datetime import date
from html import unescape
from typing import Any

import pytest
from django_scopes import scope

from consulting.models import Machine
from plans import fitting, rigs
from plans.models import Visit, VisitChange
from tests.conftest import Cast
from tests.factories import make_machine
from tests.plan_factories import make_agreed, make_ready_plan
from tests.planning.rigs import DRILL, FLATBED, TRACTOR, TRUCK
from tests.web.test_machines import facts_of
from tests.web.test_shed import text

ON = date(2027, 9, 20)
WORK = ["no_till_drilling"]


@pytest.fixture
def drill(cast: Cast) -> Any:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        yield Visit.objects.get(plan=plan, step="drill")


def yard(cast: Cast, **changed: Any) -> dict[str, Machine]:
    practice = cast.practice
    return {
        "tractor": make_machine(practice, name="<u>Sixty</u>", facts=facts_of(TRACTOR)),
        "implement": make_machine(
            practice, "implement", name="Seven", operations=WORK, facts=facts_of(DRILL, **changed)
        ),
        "truck": make_machine(practice, "truck", name="Truck", facts=facts_of(TRUCK)),
        "trailer": make_machine(practice, "trailer", name="Flat", facts=facts_of(FLATBED)),
    }


def book(cast: Cast, visit: Visit, machines: dict[str, Machine], **more: str) -> Any:
    chosen = {kind: f"{machine.pk}" for kind, machine in machines.items()}
    typed = {"on": f"{visit.window_opens}"}
    url = cast.url(f"work/{visit.pk}/book/")
    return cast.browser(cast.planner).post(url, typed | chosen | more, follow=True)


def page_of(cast: Cast, visit: Visit) -> str:
    return cast.browser(cast.crew).get(cast.url(f"work/{visit.pk}/")).content.decode()


def test_machines_are_chosen_with_the_day_and_written_down(drill: Visit, cast: Cast) -> None:
    machines = yard(cast, drawbar_pin_in=1)
    offered = cast.browser(cast.planner).get(cast.url(f"work/{drill.pk}/book/")).content.decode()
    assert re.search(rf'value="{machines["implement"].pk}" selected', offered)
    assert book(cast, drill, machines, tractor_rides="on").status_code == 200
    now = Visit.objects.get(pk=drill.pk)
    assert set(now.machines.all()) == set(machines.values()) and now.tractor_rides
    change = VisitChange.objects.get(what="machines")
    assert change.after == "<u>Sixty</u>, Flat, Seven, Truck; the tractor on the trailer"
    page = page_of(cast, drill)
    assert "Sixty" in page and "<u>Sixty" not in page and "Drawbar bushing 1 in to 1 1/4 in" in page
    (link,) = re.findall(r'href="([^"]+)">See the rig check', page)
    checked = cast.browser(cast.crew).get(unescape(link)).content.decode()
    assert "Drawbar bushing 1 in to 1 1/4 in" in checked and "Flat" in checked
    assert book(cast, drill, {"tractor": machines["tractor"]}).status_code == 200
    assert list(Visit.objects.get(pk=drill.pk).machines.all()) == [machines["tractor"]]


def test_a_rig_that_does_not_go_together_is_loud_everywhere(drill: Visit, cast: Cast) -> None:
    machines = yard(cast, drawbar_hp=200)
    machines = {kind: machines[kind] for kind in ("tractor", "implement")}
    answer = book(cast, drill, machines).content.decode()
    assert "do not go together" in answer
    page = page_of(cast, drill)
    assert 'class="rig-box no" role="alert"' in page and "No: do not hitch these up" in page
    assert "200" in page.split("rig-box")[1].split("</div>")[0]
    sheet = text(cast.browser(cast.crew).get(cast.url(f"work/{drill.pk}/sheet.pdf")).content)
    assert "NO: these machines do not go together" in sheet and "<u>Sixty</u> with Seven" in sheet
    assert "See the first leaf".lower() in sheet.lower()


def test_what_nobody_has_looked_at_is_listed(drill: Visit, cast: Cast) -> None:
    tractor = make_machine(cast.practice, name="Bare tractor")
    implement = make_machine(cast.practice, "implement", name="Bare drill", operations=WORK)
    book(cast, drill, {"tractor": tractor, "implement": implement})
    page = page_of(cast, drill)
    assert 'class="rig-box unknown"' in page and "Go and look:" in page
    assert "Go and look before it is loaded" in page
    sheet = text(cast.browser(cast.crew).get(cast.url(f"work/{drill.pk}/sheet.pdf")).content)
    assert "Go and look before anything is hitched up" in sheet


def test_without_a_choice_the_only_machines_are_taken_and_else_none(drill: Visit, cast: Cast) -> None:
    assert "No machines are chosen" in page_of(cast, drill)
    yard(cast)
    assert "they are the only ones for this work" in page_of(cast, drill)
    make_machine(cast.practice, "implement", name="Other drill", operations=WORK)
    assert "No machines are chosen" in page_of(cast, drill)
    clip = Visit.objects.get(plan=drill.plan, step="count_1")
    assert "No machines are chosen" not in page_of(cast, clip)


@pytest.mark.parametrize(
    ("left_out", "more", "says"),
    [
        ("truck", {}, "Choose the tow vehicle"),
        ("trailer", {"tractor_rides": "on"}, "Choose the trailer"),
        ("tractor", {"tractor": "999999"}, "999999"),
    ],
)
def test_a_rig_that_cannot_be_is_refused(
    drill: Visit, cast: Cast, left_out: str, more: dict[str, str], says: str
) -> None:
    machines = yard(cast)
    del machines[left_out]
    answer = book(cast, drill, machines, reason="kept <i>", **more)
    page = answer.content.decode()
    assert answer.status_code == 422 and says in page and "kept &lt;i&gt;" in page
    assert not Visit.objects.get(pk=drill.pk).machines.exists()


def test_a_machine_of_another_practice_cannot_be_chosen(drill: Visit, cast: Cast) -> None:
    theirs = make_machine(cast.other_practice, name="Theirs", facts=facts_of(TRACTOR))
    assert book(cast, drill, yard(cast) | {"tractor": theirs}).status_code == 422
    assert not Visit.objects.get(pk=drill.pk).machines.exists()


def test_a_fitted_season_books_its_machines(drill: Visit, cast: Cast) -> None:
    machines = yard(cast)
    Visit.objects.exclude(pk=drill.pk).update(state="skipped")
    asked = {"first": drill.window_opens, "last": drill.window_shuts, "seconds": 1}
    found = fitting.fitting_start(
        practice=cast.practice, user=cast.owner, working_hours=9.0, saturdays=True, **asked
    )
    taken, _, _ = fitting.fitting_take(fitting=found, visits=[f"{drill.pk}"], user=cast.owner)
    assert taken == 1
    now = Visit.objects.get(pk=drill.pk)
    assert set(now.machines.all()) == {machines["tractor"], machines["implement"]}


def test_facts_that_cannot_be_read_compare_nothing(drill: Visit, cast: Cast) -> None:
    machines = yard(cast)
    Machine.objects.filter(pk=machines["tractor"].pk).update(facts={"pto_hp": "sixty"})
    book(cast, drill, machines)
    assert "Not compared" in page_of(cast, drill)
    assert cast.browser(cast.crew).get(cast.url(f"work/{drill.pk}/sheet.pdf")).status_code == 200


def test_rigs_of_many_visits_cost_no_more_queries_than_of_one(
    drill: Visit, cast: Cast, django_assert_num_queries: Any
) -> None:
    machines = yard(cast)
    others = Visit.objects.filter(plan=drill.plan).exclude(pk=drill.pk).select_related("field")
    visits = [Visit.objects.select_related("field").get(pk=drill.pk), *others]
    for visit in others:
        visit.machines.set(machines.values())
    for some in (visits[:2], visits):
        with django_assert_num_queries(2):
            found = rigs.rigs_for(some)
    assert len(found) == 2


def test_a_trips_slope_is_that_of_its_steepest_field(drill: Visit, cast: Cast) -> None:
    machines = yard(cast, slope_limit_pct=10)
    drill.field.slope_pct = 14
    drill.field.save()
    book(cast, drill, {kind: machines[kind] for kind in ("tractor", "implement")})
    assert 'class="rig-box no"' in page_of(cast, drill)
