"""The cheapest whole number of packs, of several sizes and suppliers, that covers an amount.

A whole-number program, solved by CP-SAT with one worker and a fixed seed: the least cost, to within half a
cent, and of equal costs little left over. What the packs hold is cut, and what they cost is rounded, at the
ninth decimal, which is exact for bags and tests written with the usual decimals. Half a cent, since lots at
one price per pound of live seed differ by grains, and proving which grain is cheapest takes forever.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ortools.sat.python import cp_model

BILLIONTHS = 1_000_000_000
MOST_WHOLE_NUMBER = 2**62
WORK_LIMIT = 10.0
"""CP-SAT's own deterministic seconds for one thing; six offers take under a tenth."""
TIDY_LIMIT = 1.0
"""The same, for the least left over at that cost; what is found by then will do."""


class TooHard(ValueError):
    """The solver could not settle the split within its limit of work."""


@dataclass(frozen=True, slots=True)
class Pack:
    """One way to buy: what a pack holds [the need's unit], what it costs [$], fewest and most packs."""

    holds: Fraction
    usd: Fraction
    least: int = 0
    """Fewest packs, once any is bought."""
    most: int | None = None


def _most(pack: Pack, amount: Fraction) -> int:
    """Packs that would cover the amount alone, or as many as there are."""
    if amount <= 0:
        return 0
    alone = max(math.ceil(amount / pack.holds), pack.least)
    if pack.most is None:
        return alone
    return min(alone, pack.most) if pack.most >= pack.least else 0


def cheapest_split(amount: Fraction, packs: Sequence[Pack]) -> tuple[int, ...]:
    """Packs of each offer, in the given order, that hold `amount` or more together at the least cost,
    to within half a cent.

    Where all offers together hold less, everything they have. Raises ValueError for a pack that holds
    nothing or costs less than nothing, and TooHard.
    Source: integer covering program (knapsack cover), any operations-research text.
    """
    for pack in packs:
        if pack.holds <= 0 or pack.usd < 0:
            raise ValueError("a pack must hold something and cost nothing or more")
    most = [_most(pack, amount) for pack in packs]
    held = sum((pack.holds * count for pack, count in zip(packs, most, strict=True)), Fraction(0))
    if held < amount or sum(count > 0 for count in most) < 2:
        return tuple(most)
    return _solve(amount, packs, most)


def _solve(amount: Fraction, packs: Sequence[Pack], most: Sequence[int]) -> tuple[int, ...]:
    holds = [math.floor(pack.holds * BILLIONTHS) for pack in packs]
    usd = [round(pack.usd * BILLIONTHS) for pack in packs]
    for numbers in (holds, usd):
        if sum(number * count for number, count in zip(numbers, most, strict=True)) >= MOST_WHOLE_NUMBER:
            raise ValueError("an amount or a price is out of reach; check its units")
    model = cp_model.CpModel()
    count = [model.new_int_var(0, top, "") for top in most]
    for pack, var, top in zip(packs, count, most, strict=True):
        bought = model.new_bool_var("")
        model.add(var >= pack.least * bought)
        model.add(var <= top * bought)
    weigh = cp_model.LinearExpr.weighted_sum
    model.add(weigh(count, holds) >= math.ceil(amount * BILLIONTHS))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.max_deterministic_time = WORK_LIMIT
    solver.parameters.absolute_gap_limit = BILLIONTHS // 200
    model.minimize(weigh(count, usd))
    if solver.solve(model) != cp_model.OPTIMAL:
        raise TooHard("too many offers, too alike in price, for a cheapest split; leave some out")
    cheapest = [solver.value(var) for var in count]
    cost = sum(number * weight for number, weight in zip(cheapest, usd, strict=True))
    model.add(weigh(count, usd) <= cost)
    model.minimize(weigh(count, holds))
    for var, number in zip(count, cheapest, strict=True):
        model.add_hint(var, number)
    solver.parameters.max_deterministic_time = TIDY_LIMIT
    tidied = solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return tuple(solver.value(var) for var in count) if tidied else tuple(cheapest)
