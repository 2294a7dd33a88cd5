"""The years ahead on one large sheet for the wall: 17 × 22 or 11 × 17 in, A2 or A3, read at arm's length."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO

from reportlab.graphics import renderPDF
from reportlab.graphics.shapes import Drawing, Group
from reportlab.lib.pagesizes import A2, A3, landscape
from reportlab.pdfgen.canvas import Canvas

from plans.documents import fonts
from plans.documents.fonts import SANS, SANS_BOLD, SERIF_BOLD
from plans.documents.look import GREEN, INK, QUIET, RULE
from plans.documents.manner import _, in_force, in_its_manner, several
from plans.documents.marks import phase_key, rule, words
from plans.documents.wall_about import WallAbout, standing_in_words
from plans.documents.wall_type import ARMS_LENGTH_IN, least_size_pt
from plans.documents.words import listed, measured
from plans.documents.years import fields_alike, sheets_needed, years_ahead
from plans.planning.job import Paper
from plans.planning.plan import Plan

SIDE = 36.0
"""Clear on every side [pt]: half an inch, which plotters and copy shops ask for; common practice."""
SIZES_PT = (20.0, 18.0, 16.0, 15.0, 14.0, 13.0)
"""Of the least type, largest first; then comes the least that can be read at arm's length."""
HEAD_LINES, FOOT_LINES, ALIKE_LINES = 5.6, 2.0, 1.4
"""Of a sheet, in sizes of its type."""
MOST_ALIKE_LINES = 6
NOTES_FROM = 120.0
"""So much room left beneath the years is ruled for notes [pt]."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A size of paper, lying on its side."""

    label: str
    pagesize: tuple[float, float]
    paper: Paper
    """The usual paper that it goes with."""


SHEETS = {
    "17x22": Sheet("17 × 22 in", (22 * 72.0, 17 * 72.0), "letter"),
    "11x17": Sheet("11 × 17 in", (17 * 72.0, 11 * 72.0), "letter"),
    "a2": Sheet("A2", landscape(A2), "A4"),
    "a3": Sheet("A3", landscape(A3), "A4"),
}


def sheets_for(paper: Paper) -> list[tuple[str, Sheet]]:
    """The large sheets that go with a usual paper, each with its key."""
    return [(key, sheet) for key, sheet in SHEETS.items() if sheet.paper == paper]


def least_pt() -> float:
    """The least type on a sheet [pt]: read at arm's length."""
    return least_size_pt(ARMS_LENGTH_IN)


@in_its_manner
def wall_sheet_pdf(plan: Plan, sheet: Sheet, about: WallAbout) -> bytes:
    """PDF of the years ahead in the largest type that keeps them to one sheet; the same plan, the same bytes.

    Where the least type does not, they run on over more sheets.
    """
    made = wall_drawings(plan, sheet, about)
    buffer = BytesIO()
    lang = in_force().locale.replace("_", "-")
    canvas = Canvas(buffer, pagesize=sheet.pagesize, invariant=1, initialFontName=SANS, lang=lang)
    canvas.setTitle(fonts.clean(_("The years ahead: {title}").format(title=plan.job.title)))
    canvas.setAuthor(fonts.clean(plan.job.practice.name))
    canvas.setCreator("Coverstead")
    canvas.setSubject(_("The years ahead"))
    canvas.setViewerPreference("DisplayDocTitle", "true")
    for drawing in made:
        renderPDF.draw(drawing, canvas, 0, 0)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def wall_drawings(plan: Plan, sheet: Sheet, about: WallAbout) -> list[Drawing]:
    """The sheets as drawings, each as large as its paper."""
    wide, high = (side - 2 * SIDE for side in sheet.pagesize)
    size, alike = _fit(plan, wide, high)
    room = _room(plan, wide, high, size, alike)
    years = years_ahead(plan, wide=wide, most_high=room, size=size, alike=alike)
    pages: list[Drawing | None] = [*years] or [None]
    return [
        _page(plan, sheet, size, drawing, (number, len(pages)), alike, about)
        for number, drawing in enumerate(pages, start=1)
    ]


def _fit(plan: Plan, wide: float, high: float) -> tuple[float, bool]:
    """The largest type in which all years stand on one sheet, and whether fields that do the same share rows.

    A row for each field goes before larger type, and words uncut before both.
    """
    least = least_pt()
    cut: list[tuple[float, bool]] = []
    for alike in (False, True):
        for size in (*SIZES_PT, least):
            room = _room(plan, wide, high, size, alike)
            sheets, is_cut = sheets_needed(plan, wide=wide, most_high=room, size=size, alike=alike)
            if sheets <= 1 and not is_cut:
                return size, alike
            if sheets <= 1:
                cut.append((size, alike))
    return cut[0] if cut else (least, True)


def _room(plan: Plan, wide: float, high: float, size: float, alike: bool) -> float:
    """What head, foot and the lines that name fields alike leave for the years [pt]."""
    lines = len(_alike_lines(plan, size, wide)) if alike else 0
    return high - size * (HEAD_LINES + FOOT_LINES + ALIKE_LINES * lines)


def _alike_lines(plan: Plan, size: float, wide: float) -> list[str]:
    """Which fields share a row, in lines of the sheet's width."""
    lines: list[str] = []
    for names in fields_alike(plan):
        if len(names) < 2:
            continue
        said = _("{n} fields alike: {fields}.").format(n=len(names), fields=listed(names))
        line = ""
        for word in said.split():
            longer = f"{line} {word}".strip()
            if line and fonts.width(longer, SANS, size) > wide:
                lines.append(line)
                line = word
            else:
                line = longer
        lines.append(line)
    return lines if len(lines) <= MOST_ALIKE_LINES else [*lines[: MOST_ALIKE_LINES - 1], "…"]


def _page(
    plan: Plan,
    sheet: Sheet,
    size: float,
    years: Drawing | None,
    number: tuple[int, int],
    alike: bool,
    about: WallAbout,
) -> Drawing:
    wide, high = sheet.pagesize
    drawing, group = Drawing(wide, high), Group()
    drawing.add(group)
    _title(group, plan, size, wide, high, about)
    top = high - SIDE - HEAD_LINES * size
    if years is None:
        words(group, SIDE, top - 2 * size, _("Nothing is left to do."), size=size)
    else:
        placed = Group(*years.contents)
        placed.translate(SIDE, top - years.height)
        group.add(placed)
        top -= years.height
    for line in _alike_lines(plan, size, wide - 2 * SIDE) if alike and years else ():
        top -= ALIKE_LINES * size
        words(group, SIDE, top, line, size=size, room=wide - 2 * SIDE)
    _notes(group, size, wide, top)
    rule(group, SIDE, SIDE + 1.4 * size, wide - SIDE, SIDE + 1.4 * size, RULE, 0.8)
    said = _("The product label and local codes come before anything printed here.")
    words(group, SIDE, SIDE, said, size=size, room=wide - 2 * SIDE - 12 * size)
    page = _("Page {page} of {pages}").format(page=number[0], pages=number[1])
    words(group, wide - SIDE, SIDE, page, size=size, anchor="end")
    return drawing


def _title(group: Group, plan: Plan, size: float, wide: float, high: float, about: WallAbout) -> None:
    """Farm and client on the left, whom to call on the right, what the bars mean beneath."""
    job = plan.job
    top, right, half = high - SIDE, wide - SIDE, (wide - 2 * SIDE) / 2
    title = _("The years ahead at {farm}").format(farm=job.farm.name)
    words(
        group, SIDE, top - 1.9 * size, title, font=SERIF_BOLD, size=2.2 * size, colour=GREEN, room=half * 1.25
    )
    phone = job.practice.phone or job.practice.email
    calls = half * 0.7
    words(group, right, top - 1.7 * size, phone, font=SANS_BOLD, size=1.8 * size, anchor="end", room=calls)
    acres = measured(sum(conversion.acres for conversion in job.conversions), "acre")
    ground = several("{n} field, {acres}.", "{n} fields, {acres}.", len(job.conversions)).format(
        n=len(job.conversions), acres=acres
    )
    said = f"{job.client.name}. {ground} {standing_in_words(about)}"
    words(group, SIDE, top - 3.5 * size, said, size=size, room=half * 1.25)
    words(group, right, top - 3.5 * size, job.practice.name, size=size, anchor="end", room=calls)
    key = phase_key({task.phase for task in plan.tasks}, size)
    placed = Group(*key.contents)
    placed.translate(SIDE, top - 5.1 * size)
    group.add(placed)
    note = _("Bars are windows of a normal year; a wet spring or a late fall moves them.")
    room = min(half, wide - 2 * SIDE - key.width - size)
    words(group, right, top - 5.1 * size + 2, note, size=size, colour=QUIET, anchor="end", room=room)


def _notes(group: Group, size: float, wide: float, top: float) -> None:
    """Lines to write on where the years leave room."""
    bottom = SIDE + 3 * size
    if top - bottom < NOTES_FROM:
        return
    words(group, SIDE, top - 2 * size, _("Notes"), font=SANS_BOLD, size=size)
    y = top - 4.4 * size
    while y > bottom:
        rule(group, SIDE, y, wide - SIDE, y, INK, 0.5)
        y -= 2.2 * size
