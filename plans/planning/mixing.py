"""The least-cost mix: the cheapest seeds per square foot that meet every target, and what each target costs.

Solved exactly in whole numbers by CP-SAT with one worker and a fixed seed, so the same question always gets
the same answer. What a target costs is found by solving again with it left out (the seed density: with one
seed/ft² less); nothing is read off the dual of a relaxation. What cannot be met is pared down to a set of
targets that cannot be met together, as few as there are (a deletion filter, then every smaller set).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import combinations
from typing import Literal

from ortools.sat.python import cp_model

from plans.planning import job, seed
from plans.planning.figures import Figure, Term
from plans.planning.money import exact, to_cents, total
from plans.planning.targets import (
    HUNDREDTHS,
    SEASONS,
    Candidate,
    Goal,
    Row,
    Target,
    fits_in_a_mix,
    least_density,
    met,
    rows_of,
)

MOST_PER_SQFT = 500
MILLIONTHS = 1_000_000
MOST_WHOLE_NUMBER = 2**60
WORK_LIMIT = 10.0
"""CP-SAT's own deterministic seconds for a question with its target prices; 73 species take under one."""
SOURCE = "least-cost mix: whole-number program, reference/purposes.csv"


class TooHard(ValueError):
    """The solver could not settle the mix within its limit of work."""


@dataclass(slots=True)
class _Work:
    """What a question may still take of the solver [deterministic seconds]."""

    left: float


@dataclass(frozen=True, slots=True)
class MixPart:
    species: str
    group: str
    seeds_per_sqft: Figure
    share_of_seed_pct: float
    pls_lb_per_acre: Figure
    usd_per_acre: Figure


@dataclass(frozen=True, slots=True)
class TargetPrice:
    key: str
    words: str
    usd_per_acre: Figure
    """What the cheapest mix costs more for this target."""


@dataclass(frozen=True, slots=True)
class Look:
    """A mix seen against the goal."""

    name: str
    parts: tuple[MixPart, ...]
    seeds_per_sqft: Figure
    grass_share_pct: Figure
    usd_per_acre: Figure
    blooming: Mapping[str, tuple[str, ...]]
    """Species in bloom by season, of those dense enough to count."""
    met: tuple[str, ...]
    missed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MixAnswer:
    """The cheapest mix and its target prices, or no mix and the targets that cannot be met together."""

    mix: Look | None
    prices: tuple[TargetPrice, ...]
    conflict: tuple[str, ...]
    """In words; none of them can be spared."""
    conflict_keys: tuple[str, ...]
    usd_without_budget: Figure | None
    """When the budget is part of the conflict: the cheapest mix that meets all else."""
    left_out: Mapping[str, str]
    """Species that were not considered, and why."""

    def as_mix(self, name: str, way: Literal["drilled", "broadcast"] = "drilled") -> job.Mix:
        """The answer as a mix by share of seed. Raises ValueError when there is none."""
        if self.mix is None:
            raise ValueError("no mix meets the targets")
        lines = tuple(
            job.MixLine(species=part.species, amount=part.share_of_seed_pct) for part in self.mix.parts
        )
        return job.Mix(
            name=name,
            basis="share of seed",
            lines=lines,
            seeds_per_sqft=float(self.mix.seeds_per_sqft.value),
            rate_is_for=way,
        )


def _cheapest(
    items: Sequence[Candidate], goal: Goal, work: _Work, targets: Sequence[Target], rows: Sequence[Row] = ()
) -> list[int] | None:
    """The cheapest densities [hundredths of a seed/ft²] that meet targets and further rows, or None.

    A budget only judges the cheapest mix there is: no other could keep to it. Raises TooHard.
    """
    found = _solve(items, goal, work, [*(row for target in targets for row in target.rows), *rows])
    budgets = [target.usd_per_acre for target in targets if target.usd_per_acre is not None]
    if found is not None and budgets and _cost(items, found) > min(budgets):
        return None
    return found


def _solve(items: Sequence[Candidate], goal: Goal, work: _Work, rows: Sequence[Row]) -> list[int] | None:
    """At least a hundredth of a seed is sown, lest the empty mix meet every share and hide what conflicts."""
    model = cp_model.CpModel()
    most = MOST_PER_SQFT * HUNDREDTHS
    x = [model.new_int_var(0, most, "") for _ in items]
    y = [model.new_bool_var("") for _ in items]
    for index, item in enumerate(items):
        model.add(x[index] >= least_density(item, goal.targets) * y[index])
        model.add(x[index] <= most * y[index])
    for row in (Row(dict.fromkeys(range(len(items)), 1), {}, 1), *rows):
        terms = [(x[index], weight) for index, weight in row.x.items()]
        terms += [(y[index], weight) for index, weight in row.y.items()]
        if terms:
            sum_ = cp_model.LinearExpr.weighted_sum(
                [var for var, _ in terms], [weight for _, weight in terms]
            )
            model.add(sum_ >= row.at_least)
        elif row.at_least > 0:
            return None
    usd = [round(item.exact_usd_per_seed * MILLIONTHS / HUNDREDTHS) for item in items]
    if max(usd) * most * len(items) >= MOST_WHOLE_NUMBER:
        dear = max(items, key=lambda item: item.exact_usd_per_seed)
        raise ValueError(f"species: {dear.species} has a price or seed count out of reach; check its units")
    model.minimize(cp_model.LinearExpr.weighted_sum(x, usd))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.max_deterministic_time = max(work.left, 0.0)
    status = solver.solve(model)
    work.left -= solver.response_proto.deterministic_time
    if status == cp_model.INFEASIBLE:
        return None
    if status != cp_model.OPTIMAL:
        raise TooHard("species: too many, or too alike in price, for a cheapest mix; leave some out")
    return [solver.value(var) for var in x]


def _usd(item: Candidate, seeds_per_sqft: Fraction) -> Decimal:
    usd = item.exact_usd_per_seed * seeds_per_sqft
    return to_cents(Decimal(usd.numerator) / Decimal(usd.denominator))


def _cost(items: Sequence[Candidate], hundredths: Sequence[int]) -> Decimal:
    return total(
        _usd(item, Fraction(count, HUNDREDTHS)) for item, count in zip(items, hundredths, strict=True)
    )


def _part(item: Candidate, seeds_per_sqft: Fraction, share: float) -> MixPart:
    dense = float(seeds_per_sqft)
    rate = seed.pls_lb_per_acre(dense, item.seeds_per_lb)
    return MixPart(
        species=item.species,
        group=item.plant.group,
        seeds_per_sqft=Figure(dense, "seeds/ft²", "density in the mix", (), SOURCE),
        share_of_seed_pct=share,
        pls_lb_per_acre=rate,
        usd_per_acre=Figure(
            _usd(item, seeds_per_sqft),
            "$/acre",
            "lb PLS per acre × price per PLS lb",
            (Term("rate", float(rate.value), "lb/acre"), Term("price", item.usd_per_pls_lb, "$/lb")),
            "price list of the practice",
        ),
    )


def _look(
    name: str,
    items: Sequence[Candidate],
    goal: Goal,
    targets: Sequence[Target],
    densities: Sequence[Fraction],
) -> Look:
    """A mix against the goal; `densities` [seeds/ft²] in the order of `items`."""
    all_seeds = sum(densities, Fraction(0))
    hundredths = [density * HUNDREDTHS for density in densities]
    counted = [
        count > 0 and count >= least_density(item, goal.targets) * (1 - Fraction(1, 1000))
        for item, count in zip(items, hundredths, strict=True)
    ]
    sown = [
        (item, density, counts)
        for item, density, counts in zip(items, densities, counted, strict=True)
        if density > 0
    ]
    parts = tuple(_part(item, density, float(100 * density / all_seeds)) for item, density, _ in sown)
    grass = sum((density for item, density, _ in sown if item.plant.group == "grass"), Fraction(0))
    number = (Term("species", len(parts)),)
    usd = total(Decimal(part.usd_per_acre.value) for part in parts)
    verdicts = [(target.words, met(target, hundredths, counted, usd)) for target in targets]
    return Look(
        name=name,
        parts=parts,
        seeds_per_sqft=Figure(float(all_seeds), "seeds/ft²", "sum over the species", number, SOURCE),
        grass_share_pct=Figure(
            float(100 * grass / all_seeds) if all_seeds else 0.0,
            "%",
            "seeds of grass / all seeds",
            (Term("grass", float(grass), "seeds/ft²"), Term("all", float(all_seeds), "seeds/ft²")),
            SOURCE,
        ),
        usd_per_acre=Figure(usd, "$/acre", "sum over the species", number, "price list of the practice"),
        blooming={
            season: tuple(item.species for item, _, counts in sown if counts and season in item.blooms)
            for season in SEASONS
        },
        met=tuple(words for words, ok in verdicts if ok),
        missed=tuple(words for words, ok in verdicts if not ok),
    )


def _price(
    items: Sequence[Candidate],
    goal: Goal,
    work: _Work,
    targets: Sequence[Target],
    target: Target,
    cost: Decimal,
) -> TargetPrice:
    eased = _cheapest(items, goal, work, [other for other in targets if other is not target], target.eased)
    cheaper = cost if eased is None else _cost(items, eased)
    return TargetPrice(
        target.key,
        target.words,
        Figure(
            max(cost - cheaper, Decimal("0.00")),
            "$/acre",
            f"cheapest mix - cheapest mix {target.eased_words}",
            (Term("with it", cost, "$/acre"), Term(target.eased_words, cheaper, "$/acre")),
            "solved again with the target eased",
        ),
    )


def _conflict(items: Sequence[Candidate], goal: Goal, work: _Work, targets: Sequence[Target]) -> list[Target]:
    """The smallest set of targets that cannot be met together, in the given order.

    Two sets of which none can be spared, pared from either end, bound its size; then every smaller set is
    tried, smallest first. Where the solver's work runs out first, the shorter of the two is the answer.
    """
    found = []
    for order in (targets, targets[::-1]):
        kept = list(targets)
        for target in order:
            fewer = [other for other in kept if other is not target]
            if _cheapest(items, goal, work, fewer) is None:
                kept = fewer
        found.append(kept)
    shortest = min(found, key=len)
    try:
        for size in range(1, len(shortest)):
            for few in combinations(targets, size):
                if _cheapest(items, goal, work, few) is None:
                    return list(few)
    except TooHard:
        pass
    return shortest


def _ordered(goal: Goal, candidates: Sequence[Candidate]) -> list[Candidate]:
    """By name, so that the order of typing never changes an answer. Raises ValueError naming the field."""
    names = [item.species for item in candidates]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f"species: {twice[0]} stands twice; give it one price")
    for field in ("wanted", "unwanted"):
        for name in getattr(goal, field):
            if name not in names:
                raise ValueError(f"{field}: {name!r} is not among the species given")
    both = sorted(set(goal.wanted) & set(goal.unwanted))
    if both:
        raise ValueError(f"unwanted: {both[0]} is wanted as well; choose one")
    return sorted(candidates, key=lambda item: item.species)


def least_cost_mix(goal: Goal, candidates: Sequence[Candidate], work_limit: float = WORK_LIMIT) -> MixAnswer:
    """The cheapest mix [$/acre, seeds/ft² in hundredths] that meets every target of the goal.

    Nurse and plot crops other than introduced legumes are left out: they are sown beside the mix, not in it.
    Raises ValueError naming the field for a species given twice or wished for and not given; TooHard.
    Source: targets as reference/purposes.csv names them.
    """
    ordered = _ordered(goal, candidates)
    items = [item for item in ordered if fits_in_a_mix(item.plant)]
    left_out = {
        item.species: "a nurse or plot crop: sown beside the mix, not in it"
        for item in ordered
        if not fits_in_a_mix(item.plant)
    }
    for name in goal.wanted:
        if name in left_out:
            raise ValueError(f"wanted: {name} is {left_out[name]}")
    if not items:
        raise ValueError("species: give at least one native grass, wildflower or legume")
    targets = rows_of(goal, items)
    work = _Work(work_limit)
    best = _cheapest(items, goal, work, targets)
    if best is not None:
        densities = [Fraction(count, HUNDREDTHS) for count in best]
        cost = _cost(items, best)
        return MixAnswer(
            mix=_look("least-cost mix", items, goal, targets, densities),
            prices=tuple(_price(items, goal, work, targets, target, cost) for target in targets),
            conflict=(),
            conflict_keys=(),
            usd_without_budget=None,
            left_out=left_out,
        )
    kept = _conflict(items, goal, work, targets)
    unbound = None
    if any(target.key == "budget" for target in kept):
        free = _cheapest(items, goal, work, [target for target in targets if target.key != "budget"])
        if free is not None:
            unbound = Figure(
                _cost(items, free), "$/acre", "cheapest mix that meets all but the budget", (), SOURCE
            )
    return MixAnswer(
        mix=None,
        prices=(),
        conflict=tuple(target.words for target in kept),
        conflict_keys=tuple(target.key for target in kept),
        usd_without_budget=unbound,
        left_out=left_out,
    )


def compare(
    goal: Goal, candidates: Sequence[Candidate], mixes: Mapping[str, Mapping[str, float]]
) -> tuple[Look, ...]:
    """Mixes side by side: each a name and its seeds/ft² by species, in the order given.

    A species under the least density is sown and paid for but counts for no bloom. Raises ValueError for a
    species without a price, a density that is not over 0, or an empty mix.
    """
    ordered = _ordered(goal, candidates)
    targets = rows_of(goal, ordered)
    looks = []
    for name, densities in mixes.items():
        unknown = sorted(set(densities) - {item.species for item in ordered})
        if unknown:
            raise ValueError(
                f"mixes.{name}: {unknown[0]!r} is not among the species given, so it has no price"
            )
        if not densities or min(densities.values()) <= 0:
            raise ValueError(f"mixes.{name}: needs a species, and each density over 0 seeds/ft²")
        given = [Fraction(exact(densities.get(item.species, 0))) for item in ordered]
        looks.append(_look(name, ordered, goal, targets, given))
    return tuple(looks)
