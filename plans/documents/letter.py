"""The cover letter: letterhead, address, a page of plain prose, signature."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from io import BytesIO

from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable, HRFlowable, Image, KeepTogether, Table

from plans.documents import fonts
from plans.documents.look import (
    GREEN,
    LETTER,
    LETTER_TIGHT,
    PRACTICE,
    SMALL,
    SMALL_RIGHT,
    SUBJECT,
    TEXT_WIDTH,
    gap,
    p,
    paragraphs,
    plain,
    rich,
    strong,
)
from plans.documents.manner import in_force
from plans.documents.own_words import OwnWords
from plans.documents.words import count, day, listed, lower_first, measured, unique, usd
from plans.planning import tables
from plans.planning.calendar import SOWING
from plans.planning.job import Conversion, Practice
from plans.planning.plan import Plan, Task

WANTED = {
    "winter bedding and screening cover": "winter bedding and screening cover",
    "nesting and brood cover": "nesting and brood cover",
    "pollinators": "a meadow for pollinators",
    "erosion control": "cover that holds the soil",
    "forage": "native forage",
    "food plot": "a food plot",
    "tree and shrub planting": "a planting of trees and shrubs",
}
COVERS = {
    "cool-season sod": "cool-season sod",
    "smooth brome": "smooth brome",
    "bermudagrass": "bermudagrass",
    "johnsongrass": "johnsongrass",
    "sericea lespedeza": "sericea lespedeza",
    "crop stubble": "crop stubble",
    "annual weeds": "annual weeds",
    "brushy old field": "a brushed-in old field",
    "failed native stand": "a native stand gone to cool-season grass",
}
LOGO_WIDE, LOGO_HIGH = 130.0, 54.0


def logo_image(data: bytes) -> Image:
    """The logo at most 130 x 54 pt. Raises ValueError when the bytes are no picture."""
    try:
        wide, high = ImageReader(BytesIO(data)).getSize()
    except Exception as error:
        raise ValueError("logo: not a picture that can be read; use a PNG or JPEG file") from error
    scale = min(LOGO_WIDE / wide, LOGO_HIGH / high)
    return Image(BytesIO(data), width=wide * scale, height=high * scale, hAlign="LEFT")


def letterhead(practice: Practice, logo: bytes | None) -> list[Flowable]:
    left: list[Flowable] = [logo_image(logo), gap(6)] if logo else []
    left.append(p(practice.name, PRACTICE))
    look = in_force().look
    left += paragraphs(look.below, SMALL)
    usual = (practice.address, practice.phone, practice.email, practice.applicator_licence)
    lines = [
        line
        for text in ((look.beside,) if look.beside.strip() else usual)
        for line in fonts.clean(text).split("\n")
        if line.strip()
    ]
    longest = max(
        (fonts.width(line, SMALL_RIGHT.fontName, SMALL_RIGHT.fontSize) for line in lines), default=0
    )
    beside = min(longest + 12, TEXT_WIDTH * 0.45)
    right = [p(line, SMALL_RIGHT) for line in lines]
    head = Table(
        [[left, right]],
        colWidths=[TEXT_WIDTH - beside, beside],
        style=[
            ("FONT", (0, 0), (-1, -1), fonts.SANS),
            ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
            *[(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM")],
        ],
        splitInRow=1,
    )
    return [
        head,
        HRFlowable(width="100%", thickness=1.4, color=GREEN, spaceBefore=8, spaceAfter=1.4),
        HRFlowable(width="100%", thickness=0.5, color=GREEN, spaceBefore=0, spaceAfter=16),
    ]


def sowing(plan: Plan, field: str) -> Task | None:
    return next((task for task in plan.tasks if task.field == field and task.operation in SOWING), None)


def between(tasks: Sequence[Task]) -> str:
    """`between May 10 and June 15, 2028`, over all the tasks."""
    if all(task.done_on for task in tasks):
        days = unique(day(task.done_on) for task in tasks if task.done_on)
        return f"on {listed(days)}"
    first, last = min(task.earliest for task in tasks), max(task.latest for task in tasks)
    opening = day(first) if first.year != last.year else day(first).rsplit(",", 1)[0]
    return f"between {opening} and {day(last)}"


def _named(conversions: Iterable[Conversion]) -> str:
    names = [conversion.field for conversion in conversions]
    return listed(names) if len(names) <= 6 else count(len(names), "field")


def _groups(conversions: Sequence[Conversion], *attributes: str) -> list[tuple[tuple, list[Conversion]]]:
    groups: dict[tuple, list[Conversion]] = {}
    for conversion in conversions:
        groups.setdefault(tuple(getattr(conversion, name) for name in attributes), []).append(conversion)
    return list(groups.items())


def _ground(plan: Plan) -> str:
    """What ground and what cover."""
    job = plan.job
    acres = sum(conversion.acres for conversion in job.conversions)
    groups = _groups(job.conversions, "cover", "purpose")
    opening = f"Thank you for letting us look at your ground at {job.farm.name}. This is our proposal for "
    species = len({line.species for field in plan.seed for line in field.lines})
    with_mix = f", seeded with a mix of {count(species, 'species', 'species')}" if species else ""
    if len(groups) == 1:
        (cover, purpose), conversions = groups[0]
        where = f"{measured(acres, 'acre')} on {_named(conversions)}"
        return f"{opening}{where}: {COVERS[cover]} today, to become {WANTED[purpose]}{with_mix}."
    said = []
    for (cover, purpose), conversions in groups:
        verb = "is" if len(conversions) == 1 else "are"
        size = measured(sum(conversion.acres for conversion in conversions), "acre")
        said.append(
            f"{_named(conversions)} ({size}) {verb} {COVERS[cover]} today and {verb} to become "
            f"{WANTED[purpose]}"
        )
    return f"{opening}{measured(acres, 'acre')} in all. {'; '.join(said)}."


def _kill(plan: Plan) -> str:
    said = []
    groups = _groups(plan.job.conversions, "kill_program")
    for (key,), conversions in groups:
        names = {conversion.field for conversion in conversions}
        steps = [
            task for task in plan.tasks if task.phase == "kill" and task.field in names and not task.done_on
        ]
        if not steps:
            continue
        summary = lower_first(tables.programs()[key].summary.rstrip("."))
        if conversions[0].cover == "failed native stand":
            summary = f"what was planted there is still alive under the old grass, and is set free: {summary}"
        on = "" if len(groups) == 1 else f"On {_named(conversions)}: "
        said.append(f"{on}{summary}. That work falls {between(steps)}.")
    if not said:
        return ""
    return f"What grows there now has to go first{':' if len(groups) == 1 else '.'} {' '.join(said)}"


def _plant(plan: Plan) -> str:
    said: list[tuple[date, str]] = []
    for (key,), conversions in _groups(plan.job.conversions, "seeding"):
        sown = [task for conversion in conversions if (task := sowing(plan, conversion.field))]
        if sown:
            where = "" if len(sown) == len(plan.job.conversions) else f" on {_named(conversions)}"
            row = tables.seedings()[key]
            what = "Planting" if row.way == "planted" else "Seeding"
            how = lower_first(row.summary.rstrip("."))
            said.append((min(task.earliest for task in sown), f"{what}{where} falls {between(sown)}: {how}."))
    return " ".join(text for _, text in sorted(said))


def _keep(plan: Plan) -> str:
    care = [task for task in plan.tasks if task.phase in ("establish", "keep")]
    if not care:
        return ""
    last = max(task.latest for task in care).year
    purposes = {conversion.purpose for conversion in plan.job.conversions}
    if not purposes & tables.purposes().keys():
        return f"After that we look after it through {last}."
    return (
        f"After that we look after the stand through {last}. A native stand spends its first summer on "
        "roots and looks like weeds from the road; it shows itself in the second and third year. The "
        "clippings, counts and spot sprays in this plan are there to bring it through that time."
    )


def _price(plan: Plan, until: date) -> str:
    estimate = plan.estimate
    total = estimate.total.total.dollars
    if not estimate.years:
        return f"Nothing in this plan is priced yet. It holds until {day(until)}."
    years = len(estimate.years)
    said = [f"The price for all of it is {usd(total)}"]
    if years > 1:
        most = max(estimate.years, key=lambda year: year.total.dollars)
        said[0] += (
            f", spread over {count(years, 'year')} from {estimate.years[0].year} to {estimate.years[-1].year}"
        )
        said.append(f" The largest share, {usd(most.total.dollars)}, falls in {most.year}.")
    said[0] += "."
    if estimate.stages:
        parts = [f"{usd(stage.amount.dollars)} ({lower_first(stage.label)})" for stage in estimate.stages]
        said.append(f" You would pay it in {count(len(parts), 'part')}: {listed(parts)}.")
    said.append(f" This price holds until {day(until)}.")
    if estimate.cost_share is not None and Decimal(estimate.cost_share.value):
        said.append(
            " Cost-share may return some of it to you; we show it apart, since it is not ours to promise."
        )
    return "".join(said)


def in_prose(plan: Plan) -> list[str]:
    """The ground, the work and the years after it, a paragraph each."""
    work = " ".join(text for text in (_kill(plan), _plant(plan)) if text)
    return [text for text in (_ground(plan), work, _keep(plan)) if text]


def cover_letter(
    plan: Plan,
    *,
    reference: str,
    offered_on: date,
    until: date,
    logo: bytes | None,
    draft: bool,
    own: OwnWords,
) -> list[Flowable]:
    job = plan.job
    practice, client = job.practice, job.client
    story = [
        *letterhead(practice, logo),
        p(day(offered_on), LETTER),
        gap(4),
        p(client.name, LETTER_TIGHT),
        *paragraphs(client.address, LETTER_TIGHT),
        gap(14),
        p(f"{job.title}: {lower_first(reference)}", SUBJECT),
        p(f"Dear {client.name},", LETTER),
        *own.at("opening", LETTER),
    ]
    story += [p(text, LETTER) for text in in_prose(plan)]
    story += paragraphs(job.letter, LETTER)
    story.append(p(_price(plan, until), LETTER))
    story += own.at("closing", LETTER)
    reach = listed([text for text in (practice.phone, practice.email) if text.strip()])
    ask = f"Call or write with any question ({reach})." if reach else "Ask us anything that is not clear."
    story.append(
        KeepTogether(
            [
                p(
                    "The pages that follow say what we would do on each field, when and why, what goes "
                    "into the ground, and how each sum was worked out. "
                    + (
                        "This is a draft for talking over; "
                        if draft
                        else "If it suits you, sign near the end "
                    )
                    + ("it is not to be signed. " if draft else "and send us a copy. ")
                    + ask,
                    LETTER,
                ),
                p("Sincerely,", LETTER),
                gap(26),
                HRFlowable(width=190, thickness=0.6, hAlign="LEFT", spaceAfter=3),
                rich(plain("for ", fonts.SERIF), strong(practice.name, fonts.SERIF_BOLD), style=LETTER_TIGHT),
                *([p(practice.applicator_licence, SMALL)] if practice.applicator_licence.strip() else []),
            ]
        )
    )
    return story
