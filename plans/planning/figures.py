"""A figure: a value that carries its unit, how it was worked out, and where the rule comes from."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

Number = float | int | Decimal


def plain(value: Number, unit: str = "") -> str:
    """The value as a person writes it: dollars to the cent, other numbers to four significant digits."""
    if unit == "$" or unit.startswith("$/"):
        amount = Decimal(str(value))
        return f"{'−' if amount < 0 else ''}${abs(amount):,.2f}"
    number = float(value)
    if number == int(number) and abs(number) < 1e12:
        text = f"{int(number):,}"
    elif abs(number) >= 1000:
        text = f"{number:,.1f}"
    else:
        text = f"{number:.4g}" if abs(number) < 100 else f"{number:.2f}"
    return f"{text} {unit}".strip()


@dataclass(frozen=True, slots=True)
class Term:
    """One input of a working: a name, its value and its unit."""

    name: str
    value: Number | str
    unit: str = ""

    def __str__(self) -> str:
        shown = self.value if isinstance(self.value, str) else plain(self.value, self.unit)
        return f"{self.name} {shown}"


@dataclass(frozen=True, slots=True)
class Figure:
    """A computed value. `formula` is the rule in words and signs; `inputs` are the numbers put into it."""

    value: float | Decimal
    unit: str
    formula: str
    inputs: tuple[Term, ...] = ()
    source: str = "arithmetic"

    @property
    def dollars(self) -> Decimal:
        """The value as money; exact for a figure in dollars."""
        return Decimal(self.value)

    @property
    def shown(self) -> str:
        return plain(self.value, self.unit)

    @property
    def working(self) -> str:
        """`formula; input, input = value`: one line a person can follow with a pencil."""
        inputs = "; ".join(str(term) for term in self.inputs)
        return f"{self.formula}: {inputs} = {self.shown}" if inputs else f"{self.formula} = {self.shown}"
