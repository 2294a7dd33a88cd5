"""The plan for the wall, in large print, and the years ahead on a large sheet: legible, whole, in any ink."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import date
from io import BytesIO

import numpy as np
import pytest
from pypdf import PdfReader
from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Drawing, Group

from plans.documents.marks import Bar, draw_bar, phases
from plans.documents.wall_about import WallAbout
from plans.documents.wall_plan import wall_plan_pdf
from plans.documents.wall_sheet import SHEETS, wall_sheet_pdf
from plans.documents.wall_type import ARMS_LENGTH_IN, least_size_pt
from plans.documents.wall_year import years_of
from plans.documents.words import short
from plans.planning.job import Manner
from plans.planning.plan import Plan
from tests.documents.conftest import TODAY, pages
from tests.documents.pdf import fonts_not_embedded, grey, page_sizes, type_sizes
from tests.planning import make

ABOUT = WallAbout(printed_on=TODAY, contacts=(("Fire dispatch", "555-0100"),))
CAPITAL = 0.668
"""Height of a capital of the sans font, of its size: `sCapHeight` of its OS/2 table."""


def squeezed(pdf: bytes) -> str:
    return re.sub(r"\s+", " ", " ".join(pages(pdf)))


def alike(count: int, **changes: object) -> Plan:
    return make.plan(*(make.conversion(field=f"Field {number}", **changes) for number in range(count)))


@pytest.fixture(scope="module")
def mixed() -> Plan:
    """Six fields, each killed and sown in a way of its own."""
    return make.plan(
        make.conversion(field="Sod"),
        make.conversion(field="Bermuda flat", cover="bermudagrass", kill_program="bermuda_summer"),
        make.conversion(
            field="Old orchard", cover="brushy old field", kill_program="brush_clear_kill", seeding="dormant"
        ),
        make.planting(field="Tree strip"),
        make.plot(field="Plot"),
        make.conversion(
            field="Stubble",
            cover="crop stubble",
            kill_program="stubble_burndown",
            seeding="broadcast",
            options=("burn",),
        ),
    )


@pytest.fixture(scope="module")
def wall(plan: Plan) -> bytes:
    return wall_plan_pdf(plan, ABOUT)


@pytest.fixture(scope="module")
def large(plan: Plan) -> bytes:
    return wall_plan_pdf(plan, ABOUT, large=True)


def test_the_least_type_has_capitals_of_16_minutes_of_arc() -> None:
    """ISO 9241-3: 16 minutes of arc at the least, 20 to 22 preferred."""
    for inches in (ARMS_LENGTH_IN, 60.0):
        capital_in = 2 * inches * math.tan(math.radians(16 / 60) / 2)
        assert least_size_pt(inches) == pytest.approx(72 * capital_in / CAPITAL, rel=1e-3)
    assert least_size_pt(ARMS_LENGTH_IN) > 12


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS)
@pytest.mark.parametrize("fields", [0, 2, 12])
def test_all_type_on_a_large_sheet_is_read_at_arms_length(fields: int, sheet: object, plan: Plan) -> None:
    shown = {0: replace(plan, tasks=()), 2: plan, 12: alike(12)}[fields]
    pdf = wall_sheet_pdf(shown, sheet, ABOUT)
    sizes = type_sizes(pdf)
    assert min(size for size, _ in sizes) >= least_size_pt(ARMS_LENGTH_IN) - 0.01, min(sizes)
    assert len(page_sizes(pdf)) == 1
    assert not fonts_not_embedded(pdf)


def test_a_large_sheet_has_the_size_of_its_paper(plan: Plan) -> None:
    inches = {
        "17x22": (22, 17),
        "11x17": (17, 11),
        "a2": (594 / 25.4, 420 / 25.4),
        "a3": (420 / 25.4, 297 / 25.4),
    }
    for key, sides in inches.items():
        (size,) = page_sizes(wall_sheet_pdf(plan, SHEETS[key], ABOUT))
        assert size == pytest.approx([72 * side for side in sides], abs=0.1)


def test_a_large_sheet_names_each_step_with_its_days_and_each_field(plan: Plan) -> None:
    said = squeezed(wall_sheet_pdf(plan, SHEETS["17x22"], ABOUT))
    for task in plan.tasks:
        days = f"{short(task.earliest, year=False)} – {short(task.latest, year=False)}"
        assert f"{task.label}, {days}" in said
    for conversion in plan.job.conversions:
        assert said.count(conversion.field) == len(years_of(plan))
    assert "…" not in said and plan.job.practice.phone in said


def test_many_fields_that_do_not_fit_run_on_in_type_no_smaller(mixed: Plan) -> None:
    pdf = wall_sheet_pdf(mixed, SHEETS["11x17"], ABOUT)
    assert len(page_sizes(pdf)) > 1
    assert min(size for size, _ in type_sizes(pdf)) >= least_size_pt(ARMS_LENGTH_IN) - 0.01
    said = squeezed(pdf)
    assert all(f"{task.label}, {short(task.earliest, year=False)}" in said for task in mixed.tasks)


def test_all_of_large_print_is_18_points_and_upright(large: bytes) -> None:
    """18 points: American Printing House for the Blind; heads of 22: American Council of the Blind 2022."""
    sizes = type_sizes(large)
    assert min(size for size, _ in sizes) >= 18, min(sizes)
    assert any(size >= 22 and "2028" in said for size, said in sizes)
    named = {
        font.get_object()["/BaseFont"]
        for page in PdfReader(BytesIO(large)).pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert named and not [name for name in named if "Italic" in name or name.endswith("It")]


def test_the_wall_plan_is_read_without_a_glass(wall: bytes) -> None:
    assert min(size for size, _ in type_sizes(wall)) >= 9


def test_fonts_are_embedded_and_the_same_plan_is_the_same_bytes(
    plan: Plan, wall: bytes, large: bytes
) -> None:
    assert not fonts_not_embedded(wall) and not fonts_not_embedded(large)
    assert wall_plan_pdf(plan, ABOUT) == wall


def test_both_say_each_step_of_each_year_with_its_window_and_its_cautions(
    plan: Plan, wall: bytes, large: bytes
) -> None:
    for pdf in (wall, large):
        said = squeezed(pdf)
        for task in plan.tasks:
            crosses = task.earliest.year != task.latest.year
            first, last = (short(on, year=crosses) for on in (task.earliest, task.latest))
            assert f"{first} – {last}" in said, task.key
            assert task.label in said
            assert all(caution.removesuffix(".") in said for caution in task.cautions)
        assert "$" not in said


def titles(pdf: bytes) -> list[str]:
    """The year each page is of; empty for a page that goes on with another's."""
    return [(re.match(r"\s*(20\d\d):", text) or ["", ""])[1] for text in pages(pdf)]


@pytest.mark.parametrize("paper", ["letter", "A4"])
@pytest.mark.parametrize("fields", [1, 2, 6, "mixed"])
def test_a_year_keeps_to_a_page_for_up_to_six_fields(fields: int | str, paper: str, mixed: Plan) -> None:
    shown = mixed if fields == "mixed" else alike(int(fields))
    shown = replace(shown, job=replace(shown.job, manner=Manner(paper=paper)))  # type: ignore[arg-type]
    pdf = wall_plan_pdf(shown, ABOUT)
    assert titles(pdf) == ["", *map(str, years_of(shown))]
    assert page_sizes(pdf)[0] == pytest.approx((612, 792) if paper == "letter" else (595.28, 841.89), abs=0.1)


def test_each_year_says_who_does_what_to_look_for_to_leave_and_when_to_call(plan: Plan, wall: bytes) -> None:
    for page in pages(wall)[1:]:
        for head in ("We do all of this", "Look for", "Do not", "Call us", "Your part", "Whoever rents"):
            assert head in page
    front = pages(wall)[0]
    for said in (plan.job.practice.phone, "911", "1-800-222-1222", "555-0100", "The product label"):
        assert said in front


def test_what_is_done_and_what_is_booked_is_said(plan: Plan) -> None:
    first, second, *others = plan.tasks
    done = replace(plan, tasks=(replace(first, done_on=date(2027, 8, 12)), second, *others))
    about = replace(ABOUT, standing="agreed", booked={second.key: date(2027, 8, 20)})
    said = squeezed(wall_plan_pdf(done, about))
    assert "done Aug 12, 2027" in said and "booked for August 20, 2027" in said
    assert "As the work stands on November 25, 2026." in said


def test_a_year_in_which_all_is_done_says_what_was_done_and_asks_for_nothing(plan: Plan) -> None:
    tasks = (
        replace(task, done_on=task.earliest) if task.latest.year == 2027 else task for task in plan.tasks
    )
    over, ahead = pages(wall_plan_pdf(replace(plan, tasks=tuple(tasks)), ABOUT))[1:3]
    assert "done Sep 14, 2027" in over and "Do not" not in over and "Take care" not in over
    assert "Do not" in ahead


HOSTILE = [
    "W" * 200,
    "<b>bold</b> & <script>",
    "שדה צפון",
    "حقل شمالي",
    "東の畑",
    "a\nb\tc",
    "%s {0} {field}",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_a_name_is_text_however_long_or_strange(name: str, plan: Plan) -> None:
    job = replace(
        plan.job,
        title=name,
        client=replace(plan.job.client, name=name),
        farm=replace(plan.job.farm, name=name),
        practice=replace(plan.job.practice, name=name, phone=""),
        conversions=(replace(plan.job.conversions[0], field=name), *plan.job.conversions[1:]),
    )
    tasks = tuple(
        replace(task, field=name) if task.field == plan.job.conversions[0].field else task
        for task in plan.tasks
    )
    named = replace(plan, job=job, tasks=tasks)
    about = replace(ABOUT, contacts=((name, name),), hospital=name)
    for pdf in (
        wall_plan_pdf(named, about),
        wall_plan_pdf(named, about, large=True),
        wall_sheet_pdf(named, SHEETS["11x17"], about),
    ):
        assert not fonts_not_embedded(pdf)
        if name.startswith("<b>"):
            assert name in squeezed(pdf)


@pytest.mark.parametrize("large", [False, True])
def test_a_plan_with_nothing_left_is_still_a_sheet(large: bool, plan: Plan) -> None:
    bare = replace(plan, tasks=())
    assert "Nothing is left to do." in squeezed(wall_plan_pdf(bare, ABOUT, large=large))
    assert "Nothing is left to do." in squeezed(wall_sheet_pdf(bare, SHEETS["a3"], ABOUT))


def test_sixty_fields_and_all_their_names() -> None:
    plan = alike(60)
    said = squeezed(wall_plan_pdf(plan, ABOUT))
    assert all(conversion.field in said for conversion in plan.job.conversions)


def bar_in_grey(phase: str) -> np.ndarray:
    """The inside of a phase's bar, darkest 0, as a black-and-white printer sets it."""
    drawing, group = Drawing(120, 30), Group()
    drawing.add(group)
    draw_bar(group, Bar(10, 110, "", phase, 0, 0), 8, 7.5, high=14)
    picture = grey(renderPDF.drawToString(drawing))
    return picture[4 * 10 : 4 * 20, 4 * 13 : 4 * 107]


def test_phases_are_told_apart_in_black_and_white() -> None:
    inside = {phase: bar_in_grey(phase) for phase in phases()}
    ground = {phase: float(np.median(picture)) for phase, picture in inside.items()}
    assert ground["plant"] < 100, "planting is solid and dark"
    assert all(ground[phase] > 200 for phase in ("kill", "establish", "keep"))

    def strokes(row: np.ndarray) -> int:
        dark = row < 190
        return int(np.count_nonzero(dark[1:] & ~dark[:-1]))

    across = {phase: strokes(picture[picture.shape[0] // 2]) for phase, picture in inside.items()}
    assert across["establish"] == across["plant"] == 0
    assert across["kill"] > 5 and across["keep"] > 5
    # Strokes that lean have moved along by the foot of the bar; upright ones have not.
    for phase, leans in (("kill", True), ("keep", False)):
        top, foot = (inside[phase][row] < 190 for row in (2, -3))
        assert (np.count_nonzero(top != foot) > 0.1 * top.size) == leans, phase
