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
)
from plans.documents.manner import _, in_force, several
from plans.documents.own_words import OwnWords
from plans.documents.told import told
from plans.documents.words import day, listed, lower_first, measured, unique, usd
from plans.planning import tables
from plans.planning.calendar import SOWING
from plans.planning.job import Conversion, Practice
from plans.planning.plan import Plan, Task

WANTED = {
    "pollinators": "a meadow for pollinators",
    "erosion control": "cover that holds the soil",
    "forage": "native forage",
    "food plot": "a food plot",
    "tree and shrub planting": "a planting of trees and shrubs",
}
"""A purpose as it stands in a sentence; the others are such words already."""
COVERS = {
    "brushy old field": "a brushed-in old field",
    "failed native stand": "a native stand gone to cool-season grass",
}
LOGO_WIDE, LOGO_HIGH = 130.0, 54.0
MOST_NAMED = 6
"""Of more fields than this only the number is said."""


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
    """`between May 10, 2028 and June 15, 2028`, over all the tasks; `on …` for those that are done."""
    if all(task.done_on for task in tasks):
        days = unique(day(task.done_on) for task in tasks if task.done_on)
        return _("on {days}").format(days=listed(days))
    first, last = min(task.earliest for task in tasks), max(task.latest for task in tasks)
    return _("between {first} and {last}").format(first=day(first), last=day(last))


def named(conversions: Iterable[Conversion]) -> str:
    names = [conversion.field for conversion in conversions]
    if len(names) <= MOST_NAMED:
        return listed(names)
    return several("{number} field", "{number} fields", len(names)).format(number=len(names))


def _groups(conversions: Sequence[Conversion], *attributes: str) -> list[tuple[tuple, list[Conversion]]]:
    groups: dict[tuple, list[Conversion]] = {}
    for conversion in conversions:
        groups.setdefault(tuple(getattr(conversion, name) for name in attributes), []).append(conversion)
    return list(groups.items())


def _ground(plan: Plan) -> str:
    """What ground and what cover."""
    job = plan.job
    acres = measured(sum(conversion.acres for conversion in job.conversions), "acre")
    groups = _groups(job.conversions, "cover", "purpose")
    species = len({line.species for field in plan.seed for line in field.lines})
    if len(groups) == 1:
        (cover, purpose), conversions = groups[0]
        places = {
            "farm": job.farm.name,
            "acres": acres,
            "fields": named(conversions),
            "cover": told(COVERS.get(cover, cover)),
            "wanted": told(WANTED.get(purpose, purpose)),
            "number": species,
        }
        if not species:
            return _(
                "Thank you for letting us look at your ground at {farm}. This is our proposal for {acres} on "
                "{fields}: {cover} today, to become {wanted}."
            ).format(**places)
        return several(
            "Thank you for letting us look at your ground at {farm}. This is our proposal for {acres} on "
            "{fields}: {cover} today, to become {wanted}, sown with {number} species.",
            "Thank you for letting us look at your ground at {farm}. This is our proposal for {acres} on "
            "{fields}: {cover} today, to become {wanted}, sown with a mix of {number} species.",
            species,
        ).format(**places)
    said = [
        _(
            "Thank you for letting us look at your ground at {farm}. This is our proposal for {acres} in all."
        ).format(farm=job.farm.name, acres=acres)
    ]
    for (cover, purpose), conversions in groups:
        said.append(
            several(
                "{fields} ({acres}) is {cover} today and is to become {wanted}.",
                "{fields} ({acres}) are {cover} today and are to become {wanted}.",
                len(conversions),
            ).format(
                fields=named(conversions),
                acres=measured(sum(conversion.acres for conversion in conversions), "acre"),
                cover=told(COVERS.get(cover, cover)),
                wanted=told(WANTED.get(purpose, purpose)),
            )
        )
    return " ".join(said)


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
        places = {
            "fields": named(conversions),
            "how": lower_first(told(tables.programs()[key].summary).rstrip(".")),
            "when": between(steps),
        }
        if conversions[0].cover == "failed native stand":
            sentence = _(
                "On {fields} what was planted there is still alive under the old grass, and is set free: "
                "{how}. That work falls {when}."
            )
        else:
            sentence = _("What grows on {fields} now has to go first: {how}. That work falls {when}.")
        said.append(sentence.format(**places))
    return " ".join(said)


def _plant(plan: Plan) -> str:
    said: list[tuple[date, str]] = []
    for (key,), conversions in _groups(plan.job.conversions, "seeding"):
        sown = [task for conversion in conversions if (task := sowing(plan, conversion.field))]
        if sown:
            row = tables.seedings()[key]
            sentence = (
                _("Planting on {fields} falls {when}: {how}.")
                if row.way == "planted"
                else _("Seeding on {fields} falls {when}: {how}.")
            )
            how = lower_first(told(row.summary).rstrip("."))
            text = sentence.format(fields=named(conversions), when=between(sown), how=how)
            said.append((min(task.earliest for task in sown), text))
    return " ".join(text for _at, text in sorted(said))


def _keep(plan: Plan) -> str:
    care = [task for task in plan.tasks if task.phase in ("establish", "keep")]
    if not care:
        return ""
    last = max(task.latest for task in care).year
    purposes = {conversion.purpose for conversion in plan.job.conversions}
    if not purposes & tables.purposes().keys():
        return _("After that we look after it through {year}.").format(year=last)
    return _(
        "After that we look after the stand through {year}. A native stand spends its first summer on "
        "roots and looks like weeds from the road; it shows itself in the second and third year. The "
        "clippings, counts and other care in this plan are there to bring it through that time."
    ).format(year=last)


def _price(plan: Plan, until: date) -> str:
    estimate = plan.estimate
    total = usd(estimate.total.total.dollars)
    if not estimate.years:
        return _("Nothing in this plan is priced yet. It holds until {day}.").format(day=day(until))
    first, last, years = estimate.years[0].year, estimate.years[-1].year, len(estimate.years)
    if years == 1:
        said = [_("The price for all of it is {total}.").format(total=total)]
    else:
        most = max(estimate.years, key=lambda year: year.total.dollars)
        said = [
            _(
                "The price for all of it is {total}, spread over the {number} years from {first} to "
                "{last}. The largest share, {most}, falls in {year}."
            ).format(
                total=total,
                number=years,
                first=first,
                last=last,
                most=usd(most.total.dollars),
                year=most.year,
            )
        ]
    if estimate.stages:
        parts = [f"{usd(stage.amount.dollars)} ({lower_first(stage.label)})" for stage in estimate.stages]
        said.append(
            several(
                "You would pay it at once: {parts}.",
                "You would pay it in {number} parts: {parts}.",
                len(parts),
            ).format(number=len(parts), parts=listed(parts))
        )
    said.append(_("This price holds until {day}.").format(day=day(until)))
    if estimate.cost_share is not None and Decimal(estimate.cost_share.value):
        said.append(
            _("Cost-share may return some of it to you; we show it apart, since it is not ours to promise.")
        )
    return " ".join(said)


def _closing(plan: Plan, *, draft: bool) -> str:
    practice = plan.job.practice
    inside = _(
        "The pages that follow say what you have and what you will have, what we would do on each field, "
        "when and why, what goes into the ground, what else could be done, and how each sum was worked out."
    )
    then = (
        _("This is a draft for talking over; it is not to be signed.")
        if draft
        else _("If it suits you, sign near the end and send us a copy.")
    )
    reach = listed([text for text in (practice.phone, practice.email) if text.strip()])
    ask = (
        _("Call or write with any question ({reach}).").format(reach=reach)
        if reach
        else _("Ask us anything that is not clear.")
    )
    return f"{inside} {then} {ask}"


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
        p(_("Dear {name},").format(name=client.name), LETTER),
        *own.at("opening", LETTER),
    ]
    story += [p(text, LETTER) for text in in_prose(plan)]
    story += paragraphs(job.letter, LETTER)
    story.append(p(_price(plan, until), LETTER))
    story += own.at("closing", LETTER)
    story.append(
        KeepTogether(
            [
                p(_closing(plan, draft=draft), LETTER),
                p(_("Sincerely,"), LETTER),
                gap(26),
                HRFlowable(width=190, thickness=0.6, hAlign="LEFT", spaceAfter=3),
                p(_("for {practice}").format(practice=practice.name), LETTER_TIGHT),
                *([p(practice.applicator_licence, SMALL)] if practice.applicator_licence.strip() else []),
            ]
        )
    )
    return story
