"""The one place where money is rounded: Decimal dollars, half up, to the cent, once per printed line.

Policy: a line is rounded when it is made; every total is the sum of lines already rounded, so a reader
with a pencil gets the same total. Shares of a sum are cut so that they add up to the sum exactly.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")
ZERO = Decimal("0.00")


def exact(value: float | int | str | Decimal) -> Decimal:
    """A number as Decimal by its shortest decimal text, so 0.1 means one tenth."""
    return value if isinstance(value, Decimal) else Decimal(str(value))


def to_cents(value: float | int | str | Decimal) -> Decimal:
    """Dollars rounded half up to the cent (half away from zero for a credit)."""
    return exact(value).quantize(CENT, rounding=ROUND_HALF_UP)


def total(amounts: Iterable[Decimal]) -> Decimal:
    """Sum of printed amounts [$]."""
    return sum(amounts, ZERO)


def percent_of(amount: Decimal, pct: float | Decimal) -> Decimal:
    """`amount` × `pct` / 100, rounded to the cent [$]."""
    return to_cents(amount * exact(pct) / 100)


def split(amount: Decimal, shares: Sequence[float | Decimal]) -> tuple[Decimal, ...]:
    """`amount` cut in proportion to `shares`, each in whole cents, together exactly `amount` [$].

    Running totals are rounded, not the parts, so no part is more than a cent from its exact share.
    Raises ValueError when the shares do not sum to more than zero or one is negative.
    """
    parts = [exact(share) for share in shares]
    whole = sum(parts, Decimal(0))
    if whole <= 0 or any(part < 0 for part in parts):
        raise ValueError("shares must be zero or more and sum to more than zero")
    cut: list[Decimal] = []
    running, given = Decimal(0), ZERO
    for part in parts:
        running += part
        upto = to_cents(amount * running / whole)
        cut.append(upto - given)
        given = upto
    return tuple(cut)


def price_from_cost(cost: Decimal, overhead_pct: float, pricing: str, pricing_pct: float) -> Decimal:
    """Price of a line from its direct cost [$].

    Overhead is added to the cost first. `margin on price` divides by (1 - pct/100): the share of the
    price that is kept. `markup on cost` multiplies by (1 + pct/100). A 25 % margin is a 33.3 % markup.
    Raises ValueError for a margin of 100 % or more, or an unknown way of pricing.
    """
    loaded = cost * (1 + exact(overhead_pct) / 100)
    share = exact(pricing_pct) / 100
    if pricing == "margin on price":
        if share >= 1:
            raise ValueError("a margin on price must be under 100 %")
        return to_cents(loaded / (1 - share))
    if pricing == "markup on cost":
        return to_cents(loaded * (1 + share))
    raise ValueError(f"pricing {pricing!r} is not one of: margin on price, markup on cost")
