"""Lines of a record: their names in forms, the units that they count in, and where the shed keeps such."""

from __future__ import annotations

from collections.abc import Mapping

from plans.models import RecordLine, StockLot

What = RecordLine.What
UNITS = {"fl oz": ("gal", 1 / 128), "pt": ("gal", 1 / 8), "qt": ("gal", 1 / 4), "gal": ("gal", 1.0)} | {
    "oz": ("lb", 1 / 16),
    "lb": ("lb", 1.0),
}
"""Units of an amount that can be turned into one another, by what they are parts of."""
SHED_KINDS: Mapping[str, str] = {
    What.PRODUCT: StockLot.Kind.PRODUCT,
    What.ADJUVANT: StockLot.Kind.PRODUCT,
    What.SEED: StockLot.Kind.SEED,
    What.PLANTS: StockLot.Kind.SUPPLY,
    What.MATERIAL: StockLot.Kind.SUPPLY,
}


def line_key(order: int, name: str) -> str:
    """The name of a line's value in forms and in what is refused."""
    return f"line{order}_{name}"


def in_unit(amount: float, unit: str, other: str) -> float | None:
    """An amount in another unit; None where the two do not measure the same."""
    if unit == other:
        return amount
    (whole, part), (other_whole, other_part) = UNITS.get(unit, (unit, 1.0)), UNITS.get(other, (other, 1.0))
    return amount * part / other_part if whole == other_whole else None
