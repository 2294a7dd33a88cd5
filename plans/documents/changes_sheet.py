"""Two revisions of a plan side by side, as PDF."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Protocol

from reportlab.platypus import Flowable

from plans.documents.changed import Brief, Row, YearRows, difference_words
from plans.documents.look import (
    CELL,
    CELL_BOLD,
    CELL_SMALL,
    LETTER,
    SMALL,
    SUBJECT,
    YEAR,
    foot,
    p,
    paragraphs,
    part,
    plain,
    quiet,
    rich,
    table,
)
from plans.documents.manner import _
from plans.documents.page import Running, build
from plans.documents.words import cents, day


class Named(Protocol):
    """A revision by its short name, and with its day."""

    @property
    def name(self) -> str: ...

    @property
    def label(self) -> str: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Sides:
    """All that the print says; built by whoever compared the two revisions."""

    title: str
    practice: str
    client: str
    farm: str
    before: Named
    after: Named
    difference: Decimal
    why: str
    reasons: tuple[str, ...]
    briefs: tuple[Brief, ...]
    ground: tuple[Row, ...]
    mix: tuple[Row, ...]
    steps: tuple[Row, ...]
    years: tuple[YearRows, ...]
    price_before: Decimal
    price_after: Decimal


def changes_pdf(sides: Sides, *, on: date) -> bytes:
    """What changed between two revisions; the same arguments give the same bytes."""
    heading = _("What changed: {title}").format(title=sides.title)
    pair = _("{before} and {after}").format(before=sides.before.label, after=sides.after.label)
    story: list[Flowable] = [
        p(heading, SUBJECT),
        p(f"{sides.client}, {sides.farm}. {pair}.", SMALL),
        p(price_words(sides.difference), LETTER),
        *_why(sides),
        *_table(_("At a glance"), _briefs(sides.briefs), sides),
        *_table(_("Ground"), _rows(sides.ground), sides),
        *_table(_("Mix"), _rows(sides.mix), sides),
        *_table(_("Work and windows"), _rows(sides.steps), sides),
        *_years(sides),
    ]
    running = Running(
        title=heading,
        author=sides.practice,
        head_left=f"{sides.client}, {sides.farm}",
        head_right=pair,
        foot=f"{foot(sides.practice)}, {day(on)}",
        subject=_("Two revisions side by side"),
    )
    return build(story, running)


def price_words(difference: Decimal) -> str:
    if not difference:
        return _("The price is the same.")
    return _("The whole comes to {difference}.").format(difference=difference_words(difference))


def _why(sides: Sides) -> list[Flowable]:
    if not sides.why and not sides.reasons:
        return []
    return [
        *part(_("Why")),
        *paragraphs(sides.why),
        *(p(f"•  {sentence}") for sentence in sides.reasons),
    ]


def _briefs(found: Sequence[Brief]) -> list[list[object]]:
    return [
        [p(one.label, CELL), p(one.before, CELL), p(one.after, CELL_BOLD if one.differs else CELL)]
        for one in found
    ]


def _rows(found: Sequence[Row]) -> list[list[object]]:
    return [
        [
            rich(plain(f"{row.field}: "), plain(row.label), style=CELL),
            p(row.before, CELL),
            p(row.after, CELL),
        ]
        for row in found
    ]


def _table(title: str, body: Sequence[Sequence[object]], sides: Sides) -> list[Flowable]:
    if not body:
        return [*part(title), p(_("Nothing changed."))]
    return [*part(title), table(["", sides.before.name, sides.after.name], body, [198, 135, 135])]


def _years(sides: Sides) -> list[Flowable]:
    body: list[list[object]] = []
    extra: list[tuple] = []
    for year in sides.years:
        body.append([p(str(year.year), YEAR), cents(year.before), cents(year.after), cents(year.difference)])
        first = len(body)
        body += [
            [
                [
                    rich(plain(line.label), quiet(f", {line.fields}" if line.fields else ""), style=CELL),
                    *([p(line.because, CELL_SMALL)] if line.because else []),
                ],
                cents(line.before),
                cents(line.after),
                cents(line.difference),
            ]
            for line in year.lines
        ]
        extra.append(("TOPPADDING", (0, first), (-1, first), 9))
    body.append(
        [
            p(_("All years"), CELL_BOLD),
            cents(sides.price_before),
            cents(sides.price_after),
            cents(sides.difference),
        ]
    )
    note = _(
        "In US dollars. Lines that are the same are left out; the differences of the lines of a year sum to "
        "the difference of the year, and those of the years to the last."
    )
    return [
        *part(_("Price by year and line"), 150),
        table(
            ["", sides.before.name, sides.after.name, _("Difference")],
            body,
            [228, 80, 80, 80],
            numbers={1, 2, 3},
            totals=1,
            extra=extra,
        ),
        p(note, SMALL),
    ]
