"""A practice's own rates, suggested from what its done visits show.

Each visit gives one value: acres an hour, or how far what was used lies from its plan. The suggestion is
their median, which a single odd visit hardly moves; the middle half says how much they differ. Nothing is
left out: a visit far from the rest counts, and is marked. Sources: quartiles by linear interpolation
between visits (Hyndman and Fan 1996, type 7), far from the rest by Tukey 1977, more than 1.5 times the
middle half beyond it [both from memory]; the least number of visits is this module's own choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from statistics import median, quantiles

from plans.planning.estimate import with_allowance
from plans.planning.figures import Figure, Term
from plans.planning.job import Terms
from plans.planning.money import exact, price_from_cost, to_cents
from plans.planning.price_list import WorkRate

LEAST_VISITS = 3
MOST_TOLD = 24
"""Visits that are told one by one, of those that a suggestion comes from."""
"""Fewer than these suggest nothing."""
FAR = 1.5
"""Times the middle half beyond it, from where a visit lies far from the rest."""
RECORDS = "records of done work"
EXAMPLE_ACRES = 20.0
EXAMPLE_USD = Decimal("1000.00")


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """What one visit shows: its value with the working, and what was said of it."""

    visit: int
    """Key of the visit, for who asks."""
    on: date
    """The last day of its work."""
    where: str
    acres: float
    value: Figure
    said: tuple[str, ...] = ()
    """Reasons and notes that stand on its records."""
    hours: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """Something that a visit used, beside what was planned of it [unit]."""

    name: str
    used: float
    planned: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """What several visits show together."""

    visits: tuple[tuple[Done, bool], ...]
    """By day, and whether each lies far from the rest."""
    acres: Figure
    suggested: Figure | None
    """None where there are too few visits."""
    low: Figure | None
    high: Figure | None
    """Ends of the middle half."""

    @property
    def count(self) -> int:
        return len(self.visits)

    @property
    def telling(self) -> tuple[tuple[Done, bool], ...]:
        """The latest visits, and the latest of those that lie far from the rest, by day."""
        far = [at for at, (_, far) in enumerate(self.visits) if far]
        latest = range(max(0, self.count - MOST_TOLD), self.count)
        return tuple(self.visits[at] for at in sorted({*latest, *far[-MOST_TOLD:]}))

    @property
    def untold(self) -> int:
        return self.count - len(self.telling)

    @property
    def far(self) -> int:
        return sum(far for _, far in self.visits)

    @property
    def seasons(self) -> tuple[int, ...]:
        return tuple(sorted({done.on.year for done, _ in self.visits}))


def pace_of(acres: float, hours: float, *, from_times: bool = False) -> Figure:
    """Pace of one visit [acre/h] = acres / hours in the field. Source: the visit's records."""
    source = "record of the visit, from start to end" if from_times else "record of the visit"
    return Figure(
        acres / hours,
        "acre/h",
        "acres / hours",
        (Term("area", acres, "acre"), Term("hours", hours, "h")),
        source,
    )


def beyond_plan(used: Sequence[Used]) -> Figure:
    """How far a visit's use lies from its plan [%]; below 0 is left over. Source: the visit's records.

    Things in one unit, as seed in pounds, are added up first; things in several are averaged, each by
    its own plan. Raises ValueError where nothing was planned.
    """
    if not used or any(one.planned <= 0 for one in used):
        raise ValueError("give what was used with what was planned of it, over 0")
    terms = tuple(
        term
        for one in used
        for term in (
            Term(f"{one.name}, used", one.used, one.unit),
            Term("planned", one.planned, one.unit),
        )
    )
    if len({one.unit for one in used}) == 1:
        value = 100 * (sum(one.used for one in used) / sum(one.planned for one in used) - 1)
        rule = "used / planned - 1, all added up"
    else:
        value = 100 * (sum(one.used / one.planned for one in used) / len(used) - 1)
        rule = "mean of used / planned - 1"
    return Figure(value, "%", rule if len(used) > 1 else "used / planned - 1", terms, "record of the visit")


def suggest(visits: Sequence[Done]) -> Suggestion:
    """The median of the visits with the middle half, in their unit. Raises ValueError for no visit."""
    if not visits:
        raise ValueError("give at least one visit")
    ordered = sorted(visits, key=lambda done: (done.on, done.visit))
    values = [float(done.value.value) for done in ordered]
    unit = ordered[0].value.unit
    acres = Figure(
        sum(done.acres for done in ordered),
        "acre",
        "acres of the visits, added up",
        (Term("visits", len(ordered)),),
        RECORDS,
    )
    if len(ordered) < LEAST_VISITS:
        return Suggestion(
            visits=tuple((done, False) for done in ordered), acres=acres, suggested=None, low=None, high=None
        )
    first, _, third = quantiles(values, n=4, method="inclusive")
    below, above = first - FAR * (third - first), third + FAR * (third - first)
    terms = tuple(
        Term(f"{done.on.isoformat()}, {done.where}", value, unit)
        for done, value in zip(ordered, values, strict=True)
    )
    if len(terms) > MOST_TOLD:
        terms = (
            Term("visits", len(values)),
            Term("least", min(values), unit),
            Term("most", max(values), unit),
        )

    def figure(value: float, rule: str, inputs: tuple[Term, ...]) -> Figure:
        return Figure(value, unit, f"{rule} of {len(values)} visits", inputs, RECORDS)

    return Suggestion(
        visits=tuple(
            (done, not below <= value <= above) for done, value in zip(ordered, values, strict=True)
        ),
        acres=acres,
        suggested=figure(median(values), "median", terms),
        low=figure(first, "first quartile", ()),
        high=figure(third, "third quartile", ()),
    )


def as_pace(suggestion: Suggestion) -> Figure | None:
    """The pace to keep [acre/h]: the median to three digits. Source: records of done work."""
    found = suggestion.suggested
    return found and Figure(
        float(f"{float(found.value):.3g}"),
        found.unit,
        f"{found.formula}, to three digits",
        found.inputs,
        found.source,
    )


def as_allowance(suggestion: Suggestion) -> Figure | None:
    """The allowance to keep [%]: the median to a tenth, 0 to 100. Source: records of done work."""
    found = suggestion.suggested
    return found and Figure(
        min(100.0, max(0.0, round(float(found.value), 1))),
        found.unit,
        f"{found.formula}, to a tenth; what is left over is not counted on",
        found.inputs,
        found.source,
    )


def apart(suggested: Figure, present: Figure) -> Figure:
    """Suggested less present [their unit]. Source: arithmetic."""
    return Figure(
        round(float(suggested.value) - float(present.value), 3),
        suggested.unit,
        "suggested - price list",
        (
            Term("suggested", float(suggested.value), suggested.unit),
            Term("price list", float(present.value), present.unit),
        ),
    )


# What it means for the next quote


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a suggestion would do to an example: the price of it, and the hours or the worth of an hour."""

    more: Figure
    """More, or less, in price without tax [$]."""
    hours: Figure | None = None
    """More, or fewer, hours in the field [h]."""
    brings: Figure | None = None
    """What an hour brings at a rate that is not by the hour [$/h]."""


def pace_means(rate: WorkRate, present: Figure, suggested: Figure, terms: Terms) -> Meaning:
    """What another pace does to 20 acres done in one visit, at the practice's own terms.

    A rate by the hour moves the price; any other rate moves only what an hour of the work brings.
    """
    now, then = (EXAMPLE_ACRES / float(pace.value) for pace in (present, suggested))
    area = Term("area", EXAMPLE_ACRES, "acre")
    hours = Figure(
        then - now,
        "h",
        "acres / suggested pace - acres / present pace",
        (area, Term("suggested", float(suggested.value), "acre/h"), _term("present", present)),
    )
    if rate.basis != "hour":
        nothing = Figure(Decimal("0.00"), "$", f"the rate is by the {rate.basis}, so hours do not move it")
        if rate.basis != "acre":
            return Meaning(nothing, hours)
        brings = Figure(
            to_cents(exact(float(suggested.value)) * rate.rate_usd),
            "$/h",
            "suggested pace × rate by the acre",
            (_term("suggested", suggested), Term("rate", rate.rate_usd, "$")),
        )
        return Meaning(nothing, hours, brings)
    old, new = (to_cents(max(exact(one) * rate.rate_usd, rate.minimum_usd)) for one in (now, then))
    inputs = (
        Term("hours now", now, "h"),
        Term("hours as suggested", then, "h"),
        Term("rate", rate.rate_usd, "$"),
        Term("least charge", rate.minimum_usd, "$"),
    )
    return Meaning(_more(old, new, "hours × rate, and at least the least charge", inputs, terms), hours)


def allowance_means(present: Figure, suggested: Figure, terms: Terms) -> Meaning:
    """What another allowance does to $1,000 of seed or products, at the practice's own terms."""
    planned = Figure(EXAMPLE_USD, "$", "example")
    old, new = (with_allowance(planned, float(pct.value))[0].dollars for pct in (present, suggested))
    inputs = (
        Term("cost as planned", EXAMPLE_USD, "$"),
        _term("present", present),
        _term("suggested", suggested),
    )
    return Meaning(_more(old, new, "cost as planned × (1 + allowance)", inputs, terms))


def _term(name: str, figure: Figure) -> Term:
    return Term(name, float(figure.value), figure.unit)


def _more(old: Decimal, new: Decimal, rule: str, inputs: tuple[Term, ...], terms: Terms) -> Figure:
    price = [
        price_from_cost(cost, terms.overhead_pct, terms.pricing, terms.pricing_pct) for cost in (old, new)
    ]
    return Figure(
        price[1] - price[0],
        "$",
        f"{rule}; priced by the practice's terms, suggested less present",
        (
            *inputs,
            Term("cost now", old, "$"),
            Term("cost as suggested", new, "$"),
            Term("price now", price[0], "$"),
            Term("price as suggested", price[1], "$"),
        ),
        "price list and terms of the practice",
    )
