"""A change to agreed work as a document of its own: what changes, the windows, the price, a place to sign."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from reportlab.platypus import Flowable

from plans.documents.changed import Row, difference_words, reasons, rows
from plans.documents.closing import AcceptedCaution, place_to_sign, the_findings
from plans.documents.letter import letterhead
from plans.documents.look import (
    CELL,
    CELL_BOLD,
    LETTER,
    LETTER_TIGHT,
    SMALL,
    SUBJECT,
    foot,
    gap,
    p,
    paragraphs,
    part,
    table,
)
from plans.documents.manner import _, in_its_manner
from plans.documents.page import Running, build
from plans.documents.words import cents, day, listed, lower_first, usd
from plans.planning import tables
from plans.planning.changes import Changes, compare
from plans.planning.money import ZERO, total
from plans.planning.plan import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreed:
    """What a change order changes."""

    reference: str
    """As `proposal 12, revision 2`."""
    on: date | None
    """The day of the yes, where it is known."""
    years: Mapping[int, Decimal]
    """Its whole price by year [$], with the change orders agreed to before this one."""

    @property
    def price(self) -> Decimal:
        return total(self.years.values())


@in_its_manner
def change_order_pdf(
    before: Plan,
    after: Plan,
    *,
    agreed: Agreed,
    number: str,
    offered_on: date,
    until: date,
    why: str,
    logo: bytes | None = None,
    accepted_cautions: Sequence[AcceptedCaution] = (),
) -> bytes:
    """PDF of a change from `before`, what is left as agreed, to `after`.

    The same arguments give the same bytes. `number` is empty for a draft. Raises ValueError for a logo that
    cannot be read.
    """
    changes, draft = compare(before, after), not number
    reference = (
        _("Draft of a change order, not an offer")
        if draft
        else _("Change order {number}").format(number=number)
    )
    job = after.job
    story: list[Flowable] = [
        *letterhead(job.practice, logo),
        p(day(offered_on), LETTER),
        p(job.client.name, LETTER_TIGHT),
        *paragraphs(job.client.address, LETTER_TIGHT),
        gap(10),
        p(f"{reference}: {job.title}", SUBJECT),
        p(standing(agreed, changes.difference, until), LETTER),
        *_why(why, changes),
        *_what(changes),
        *_windows(changes),
        *price_by_year(agreed.years, changes),
        *_cautions(before, after, accepted_cautions),
    ]
    if not draft:
        story += place_to_sign(after, reference, statement(reference, agreed, changes.difference))
    running = Running(
        title=f"{reference}: {job.title}",
        author=job.practice.name,
        head_left=f"{job.client.name}, {job.farm.name}",
        head_right=reference,
        foot=foot(job.practice.name),
        subject=_("Change order"),
    )
    return build(story, running)


def standing(agreed: Agreed, difference: Decimal, until: date) -> str:
    """The first paragraph: what was agreed, what this does to its price, what stays."""
    if agreed.on:
        begin = _("On {day} you agreed to {reference}, {price} in all.")
    else:
        begin = _("You agreed to {reference}, {price} in all.")
    scope = _(
        "This change order changes that agreement as set out here and in nothing else: what is done stays "
        "done, and what is not named stays as agreed."
    )
    if difference:
        price = _("The price changes from {before} to {after}, {difference}. It is open until {day}.")
    else:
        price = _("The price stays the same. It is open until {day}.")
    told = begin.format(
        day=day(agreed.on) if agreed.on else "", reference=agreed.reference, price=usd(agreed.price)
    )
    becomes = price.format(
        before=usd(agreed.price),
        after=usd(agreed.price + difference),
        difference=difference_words(difference),
        day=day(until),
    )
    return f"{told} {scope} {becomes}"


def statement(reference: str, agreed: Agreed, difference: Decimal) -> str:
    """The sentence above the signatures."""
    return _(
        "We have read {reference} to {agreed}, with its windows and cautions, and agree to it. The whole "
        "price becomes {price}; all else stays as agreed."
    ).format(reference=lower_first(reference), agreed=agreed.reference, price=usd(agreed.price + difference))


def _why(why: str, changes: Changes) -> list[Flowable]:
    found = reasons(changes, steps=False)
    return [
        *part(_("Why")),
        *paragraphs(why),
        *([p(" ".join(found), SMALL)] if found else []),
    ]


def _what(changes: Changes) -> list[Flowable]:
    found = choice_rows(changes)
    if not found:
        return []
    return [*part(_("What changes")), both_sides(found, _("As agreed"), _("With this change"))]


def both_sides(found: Sequence[Row], before: str, after: str) -> Flowable:
    """Rows with what was on the left and what becomes of it on the right."""
    fields = {row.field for row in found}
    body = [
        [
            p(f"{row.field}: {row.label}" if len(fields) > 1 else row.label, CELL),
            p(row.before, CELL),
            p(row.after, CELL_BOLD),
        ]
        for row in found
    ]
    head = listed(fields) if len(fields) == 1 else ""
    return table([head, before, after], body, [188, 140, 140], tight=True)


def _windows(changes: Changes) -> list[Flowable]:
    found = window_rows(changes)
    if not found:
        return [*part(_("Windows")), p(_("No step is added, left out or moved."))]
    return [*part(_("Steps and windows")), both_sides(found, _("As it stands"), _("With this change"))]


@dataclass(frozen=True, slots=True)
class YearOfChange:
    """The whole price of a year as agreed, what a change order adds to it, and what it becomes [$]."""

    year: int
    agreed: Decimal
    added: Decimal

    @property
    def becomes(self) -> Decimal:
        return self.agreed + self.added


def years_of_change(years: Mapping[int, Decimal], changes: Changes) -> list[YearOfChange]:
    """Years that have a price or get one."""
    added = {year.year: year.difference for year in changes.years}
    every = sorted({*years, *(year for year, amount in added.items() if amount)})
    return [YearOfChange(year, years.get(year, ZERO), added.get(year, ZERO)) for year in every]


def window_rows(changes: Changes) -> list[Row]:
    """Steps that come, go or move, with the window as it stands and the new one."""
    return [
        Row(
            row.field,
            row.label,
            _("new") if one.before is None else row.before,
            _("left out") if one.after is None else row.after,
        )
        for one, row in zip(changes.steps, rows(changes.steps), strict=True)
        if one.what == "step"
    ]


def choice_rows(changes: Changes) -> tuple[Row, ...]:
    """Ground, mix and ways of work that are others; the steps stand in `window_rows`."""
    ways = (one for one in changes.steps if one.what not in ("step", "done"))
    return rows([*changes.ground, *changes.mix, *ways])


def price_by_year(years: Mapping[int, Decimal], changes: Changes) -> list[Flowable]:
    body: list[list[object]] = [
        [str(one.year), cents(one.agreed), cents(one.added), cents(one.becomes)]
        for one in years_of_change(years, changes)
    ]
    whole = total(years.values())
    body.append(
        [
            p(_("All years"), CELL_BOLD),
            cents(whole),
            cents(changes.difference),
            cents(whole + changes.difference),
        ]
    )
    text = _(
        "In US dollars. The change is what is left to do with it, less what is left to do without it; what "
        "was agreed keeps its price. It is due with the payment that falls due next."
    )
    return [
        *part(_("Price by year"), 60 + 21.0 * len(body)),
        table(
            [_("Year"), _("As agreed"), _("Change"), _("With this change")],
            body,
            [168, 100, 100, 100],
            numbers={1, 2, 3},
            totals=1,
            tight=True,
        ),
        p(text, SMALL),
    ]


def _cautions(before: Plan, after: Plan, accepted: Sequence[AcceptedCaution]) -> list[Flowable]:
    """The cautions of steps that are new, and the points that the change brings up."""
    there = {(task.field, task.step) for task in before.tasks}
    added = [task for task in after.tasks if (task.field, task.step) not in there]
    keys = {key for task in added for key in tables.steps()[task.step].cautions}
    new = [caution.text for key, caution in tables.cautions().items() if key in keys]
    known = {finding.key for finding in before.findings}
    points = [finding for finding in after.findings if finding.key not in known]
    law = _(
        "The label of each product, local codes and the advice of those licensed for the work come before "
        "anything printed here."
    )
    return [
        *part(_("Cautions")),
        *(p(text, SMALL) for text in new),
        p(law),
        *the_findings(after, accepted, points),
    ]
