"""Options side by side with the plan: price, season and risk of each, from a plan of its own."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from reportlab.platypus import Flowable

from plans.documents.look import (
    BODY,
    CELL,
    CELL_BOLD,
    FINE,
    GREEN,
    HEAD,
    STRAW_WASH,
    TEXT_WIDTH,
    gap,
    p,
    plain,
    rich,
    section,
    strong,
    table,
)
from plans.documents.manner import _, marked, several
from plans.documents.told import told
from plans.documents.words import day, sentence, usd
from plans.planning.options import Option, Standing, standing
from plans.planning.plan import Plan
from plans.planning.said import Said

ASIDE = 84.0
"""Width of the column that names the rows [pt]."""
MOST_BESIDE = 3
"""Options beside the plan in one table; more go in another."""


def in_words(said: Said) -> str:
    """A sentence of the planning service in the language in force."""
    return told(str(said))


def _difference(amount: Decimal) -> str:
    if not amount:
        return _("the same")
    if amount > 0:
        return _("{amount} more").format(amount=usd(amount))
    return _("{amount} less").format(amount=usd(-amount))


def _season(found: Standing) -> str:
    if found.seeding is None:
        return _("nothing is sown")
    return day(found.seeding)


def _years(found: Standing) -> str:
    if found.first_year is None or found.last_year is None:
        return "–"
    return f"{found.first_year}–{found.last_year}"


def _trips(found: Standing) -> str:
    trips = several("{number} trip", "{number} trips", found.trips).format(number=found.trips)
    if not found.sprays:
        return _("{trips}, none of them to spray").format(trips=trips)
    return several(
        "{trips}, {number} of them to spray", "{trips}, {number} of them to spray", found.sprays
    ).format(trips=trips, number=found.sprays)


def _range(found: Standing) -> str:
    if found.p10 is None or found.p90 is None or not found.possible:
        return _("no further step foreseen")
    return several(
        "{low} to {high}, with {number} step that may be needed",
        "{low} to {high}, with {number} steps that may be needed",
        found.possible,
    ).format(low=usd(found.p10.dollars), high=usd(found.p90.dollars), number=found.possible)


def _risk(option: Option) -> str:
    """Cautions it adds or settles, counted; they are said whole beneath the table."""
    raised, settled = len(option.raised), len(option.settled)
    said = []
    if raised:
        said.append(several("{number} more", "{number} more", raised).format(number=raised))
    if settled:
        said.append(several("{number} fewer", "{number} fewer", settled).format(number=settled))
    return ", ".join(said) or _("the same")


def _cautions(found: Standing) -> str:
    if not found.cautions:
        return _("none")
    return several("{number} caution", "{number} cautions", found.cautions).format(number=found.cautions)


ROWS: tuple[tuple[str, Callable[[Standing], str], Callable[[Option, Standing], str]], ...] = (
    (
        marked("Price"),
        lambda own: usd(own.total.dollars),
        lambda option, found: usd(found.total.dollars),
    ),
    (
        marked("Difference"),
        lambda own: "–",
        lambda option, found: _difference(option.difference.dollars if option.difference else Decimal(0)),
    ),
    (marked("Seeding opens"), _season, lambda option, found: _season(found)),
    (marked("Years of work"), _years, lambda option, found: _years(found)),
    (marked("Trips"), _trips, lambda option, found: _trips(found)),
    (marked("Likely in all"), _range, lambda option, found: _range(found)),
    (marked("Points to know"), _cautions, lambda option, found: _risk(option)),
)
STRONG = frozenset({"Price", "Difference"})


@dataclass(frozen=True, slots=True)
class SideBySide:
    """The plan and some options as a table: a column each."""

    heads: tuple[tuple[str, str], ...]
    """Title and reason of each column, the plan's own first."""
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    """Label and cells."""


def side_by_side(own: Standing, options: Sequence[Option]) -> SideBySide:
    """Options that can be had, each with its standing, beside the plan's."""
    heads = [(_("As proposed"), _("What this paper offers."))]
    heads += [(told(option.label), sentence(told(option.reason))) for option in options]
    return SideBySide(
        tuple(heads),
        tuple(
            (
                _(name),
                (
                    of_own(own),
                    *(of_option(one, one.standing) for one in options if one.standing is not None),
                ),
            )
            for name, of_own, of_option in ROWS
        ),
    )


def _beside(own: Standing, options: Sequence[Option]) -> Flowable:
    """Where a page breaks it, the head with its titles stands on the next one too."""
    columns = 1 + MOST_BESIDE if len(options) >= MOST_BESIDE else 1 + len(options)
    wide = (TEXT_WIDTH - ASIDE) / columns
    widths = [ASIDE, *[wide] * (1 + len(options))]
    found = side_by_side(own, options)
    rows: list[list[object]] = [
        ["", *([p(title, CELL_BOLD), p(reason, FINE)] for title, reason in found.heads)]
    ]
    for (name, *_of), (label, cells) in zip(ROWS, found.rows, strict=True):
        style = CELL_BOLD if name in STRONG else FINE
        rows.append([p(label, HEAD), *(p(cell, style) for cell in cells)])
    ends = [("NOSPLIT", (0, 0), (-1, 3)), ("NOSPLIT", (0, -3), (-1, -1))]
    whole = [*ends, ("LINEBELOW", (0, 0), (-1, 0), 0.8, GREEN)]
    wash = ("BACKGROUND", (1, 0), (1, -1), STRAW_WASH)
    made = table([], rows, widths, tight=True, extra=[*whole, wash, ("LEFTPADDING", (1, 0), (1, -1), 6)])
    made.repeatRows = 1
    return made


def beneath(option: Option) -> str:
    """What the table has no room for: where it changes nothing, and the cautions that differ."""
    said = [in_words(one) for one in option.unchanged]
    said += [sentence(text) for text in option.raised]
    if option.settled:
        gone = " ".join(sentence(text) for text in option.settled)
        said.append(_("No longer to mind: {points}").format(points=gone))
    return " ".join(said)


def _beneath(option: Option) -> list[Flowable]:
    said = beneath(option)
    return [rich(strong(f"{told(option.label)}. "), plain(said), style=FINE), gap(3)] if said else []


def shown(options: Sequence[Option]) -> list[Option]:
    """Those that can be had."""
    return [option for option in options if not option.why_not and option.standing is not None]


def why_not(options: Sequence[Option]) -> list[tuple[str, str]]:
    """Those that cannot be had, and why."""
    return [
        (told(option.label), " ".join(sentence(in_words(one)) for one in option.why_not))
        for option in options
        if option.why_not
    ]


def about_options() -> str:
    return _(
        "Each column is a plan of its own: the whole job reckoned again with that one thing "
        "changed, at the same prices. None of them is offered by this paper; tell us, and the next "
        "revision is that one."
    )


def the_options(plan: Plan, options: Sequence[Option]) -> list[Flowable]:
    """Options that can be had beside the plan, then why others cannot; empty where none is shown."""
    if not options:
        return []
    own = standing(plan)
    can = shown(options)
    opening: list[Flowable] = [
        *section(_("Other ways to do it"), 230),
        p(about_options(), BODY),
    ]
    story: list[Flowable] = [] if can else opening
    for at in range(0, len(can), MOST_BESIDE):
        some = can[at : at + MOST_BESIDE]
        story += [*(opening if at == 0 else []), _beside(own, some)]
        for option in some:
            story += _beneath(option)
    for label, why in why_not(options):
        story.append(
            rich(strong(_("{option}: not here.").format(option=label) + " "), plain(why), style=CELL)
        )
    return story
