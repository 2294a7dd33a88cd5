"""The plan for the wall and the truck: a page that says it in short, then a page a year; also in large print.

No price is on it: it hangs where anyone reads it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from reportlab.platypus import Flowable, PageBreak, Table

from plans.documents.crew_sheet import EVERYWHERE
from plans.documents.look import INK, TEXT_WIDTH, foot, p, plain, rich, strong, table, text_height
from plans.documents.manner import _, in_its_manner, several
from plans.documents.page import Running, build
from plans.documents.told import told
from plans.documents.wall_about import WallAbout, standing_in_words
from plans.documents.wall_type import LARGE_PT, SIZES_PT, WallType, wall_type
from plans.documents.wall_year import (
    BARE,
    Fit,
    block,
    height,
    item,
    phases_in,
    tasks_in,
    year_page,
    years_of,
)
from plans.documents.words import listed, measured, upper_first
from plans.planning.job import Conversion
from plans.planning.plan import Plan
from plans.planning.wall_notes import notes_for


@in_its_manner
def wall_plan_pdf(plan: Plan, about: WallAbout, *, large: bool = False) -> bytes:
    """PDF of the plan for the wall, or of the same in large print; the same arguments give the same bytes.

    Each year keeps to one page in the largest type that allows it; a year that no type keeps to one runs on.
    """
    story: list[Flowable] = []
    for number, page in enumerate(_pages(plan, about, large)):
        story += [PageBreak(), *page] if number else page
    title = _("Plan for the wall, large print") if large else _("Plan for the wall")
    practice = plan.job.practice
    running = Running(
        title=f"{title}: {plan.job.title}",
        author=practice.name,
        head_left=plan.job.farm.name,
        head_right=title,
        foot=" · ".join(part for part in (practice.phone, foot(practice.name)) if part.strip()),
        subject=title,
        type_size=LARGE_PT if large else 9.0,
    )
    return build(story, running)


def _pages(plan: Plan, about: WallAbout, large: bool) -> list[list[Flowable]]:
    if large:
        fit = Fit(wall_type(LARGE_PT, large=True), strip=False, notes="stacked")
        return [
            _front(plan, about, fit.type_),
            *(year_page(plan, one, fit, about.booked) for one in years_of(plan)),
        ]
    front = fitted([partial(_front, plan, about, wall_type(size)) for size in SIZES_PT])
    return [front, *(_year(plan, year, about) for year in years_of(plan))]


def _year(plan: Plan, year: int, about: WallAbout) -> list[Flowable]:
    """On one page: first the type gives way, then the columns of notes, the strip of months, late notes."""
    least = wall_type(SIZES_PT[-1])
    fits = [
        *(Fit(wall_type(size)) for size in SIZES_PT),
        Fit(least, strip=False),
        *(Fit(wall_type(size), strip, notes="run in") for strip in (True, False) for size in SIZES_PT),
        *(Fit(least, strip=False, notes="run in", most_notes=most) for most in (5, 4, 3, 2)),
        Fit(least, notes="stacked"),
    ]
    return fitted([partial(year_page, plan, year, fit, about.booked) for fit in fits])


def fitted(ways: Sequence[Callable[[], list[Flowable]]]) -> list[Flowable]:
    """The first that a page holds, else the last."""
    for way in ways[:-1]:
        page = way()
        if height(page, TEXT_WIDTH) <= text_height():
            return page
    return ways[-1]()


# The front


def _front(plan: Plan, about: WallAbout, type_: WallType) -> list[Flowable]:
    job = plan.job
    acres = sum(conversion.acres for conversion in job.conversions)
    ground = several("{n} field, {acres}.", "{n} fields, {acres}.", len(job.conversions)).format(
        n=len(job.conversions), acres=measured(acres, "acre")
    )
    return [
        p(_("Your plan for {farm}").format(farm=job.farm.name), type_.title),
        p(f"{job.client.name}. {ground} {standing_in_words(about)}", type_.body),
        *_fields(job.conversions, type_),
        *_years(plan, type_),
        *_calls(plan, about, type_),
        p(_("Always"), type_.head),
        *(item(text, type_) for text in _always()),
    ]


def _always() -> list[str]:
    return [
        _("The product label and local codes come before anything printed here."),
        _("The days are those of a normal year. A wet spring or a late fall moves them, and we tell you."),
        _("We choose the day within a window by the weather and the ground."),
    ]


def _fields(conversions: Sequence[Conversion], type_: WallType) -> list[Flowable]:
    """Each field, what grows there and what it becomes."""
    head = p(_("The fields"), type_.head)
    if type_.large:
        lines = [
            rich(strong(conversion.field), plain(f", {_becomes(conversion)}"), style=type_.body)
            for conversion in conversions
        ]
        return [head, *lines]
    rows = [
        [p(conversion.field, type_.bold), p(_becomes(conversion), type_.body)] for conversion in conversions
    ]
    wide = TEXT_WIDTH * 0.3
    return [head, table((), rows, [wide, TEXT_WIDTH - wide], tight=True, text=type_.body)]


def _becomes(conversion: Conversion) -> str:
    return _("{acres}: {cover} becomes {purpose}.").format(
        acres=measured(conversion.acres, "acre"),
        cover=told(conversion.cover),
        purpose=told(conversion.purpose),
    )


def _years(plan: Plan, type_: WallType) -> list[Flowable]:
    """A line a year: what is done and when, and what there is to see."""
    head = p(_("The years"), type_.head)
    rows = []
    for year in years_of(plan):
        tasks = tasks_in(plan, year)
        young = [task for task in tasks if task.phase == "establish" and task.earliest.year == year]
        ground = plan.job.conversions
        expect = notes_for(young or tasks, ground)["expect"] or notes_for(tasks, ground)["expect"]
        work = upper_first(listed(phases_in(plan, year))) or _("No work planned")
        seen = told(expect[-1].text) if expect and tasks else ""
        rows.append((str(year), work, seen))
    if not rows:
        return [head, p(_("Nothing is left to do."), type_.body)]
    if type_.large:
        return [
            head,
            *(
                rich(strong(f"{year}: {work}."), plain(f" {seen}"), style=type_.body)
                for year, work, seen in rows
            ),
        ]
    year_wide, work_wide = type_.size * 3.6, TEXT_WIDTH * 0.3
    cells = [[p(year, type_.bold), p(work, type_.bold), p(seen, type_.body)] for year, work, seen in rows]
    widths = [year_wide, work_wide, TEXT_WIDTH - year_wide - work_wide]
    return [head, table((), cells, widths, tight=True, text=type_.body)]


def _calls(plan: Plan, about: WallAbout, type_: WallType) -> list[Flowable]:
    """The practice first and large, then emergencies, the practice's own contacts, the hospital."""
    practice = plan.job.practice
    notes = notes_for(plan.tasks, plan.job.conversions)["call"]
    story: list[Flowable] = [p(_("Whom to call"), type_.head), p(practice.name, type_.bold)]
    story.append(p(practice.phone, type_.number) if practice.phone.strip() else _line(type_))
    if practice.email.strip():
        story.append(p(practice.email, type_.body))
    numbers = [*((_(who), number) for who, number in EVERYWHERE), *about.contacts]
    for who, number in numbers:
        story.append(rich(plain(f"{who} " if who else ""), strong(number), style=type_.body))
    if about.hospital.strip():
        story.append(rich(plain(_("Nearest hospital:") + " "), strong(about.hospital), style=type_.body))
    else:
        story += [p(_("Nearest hospital:"), type_.body), _line(type_)]
    return [*story, *block(_("Call us"), notes[:2], type_)]


def _line(type_: WallType) -> Flowable:
    """To write on."""
    return Table(
        [[""]],
        colWidths=[TEXT_WIDTH],
        rowHeights=[type_.size * 1.6],
        style=[*BARE, ("LINEBELOW", (0, 0), (-1, -1), 0.8, INK)],
        hAlign="LEFT",
    )
