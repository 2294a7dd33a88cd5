"""A buy list: each thing with what to order, what the shed gives, and every use of every lot."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from plans.planning.figures import Figure
from plans.planning.needs import Kind, Need

Origin = Literal["shed", "purchase"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """What one task takes of one lot."""

    origin: Origin
    kind: Kind
    name: str
    supplier: str
    lot: str
    stock_key: str = ""
    """The asker's own key of the lot in the shed."""
    plan_id: str
    plan_title: str
    field: str
    task: str
    needed_on: date
    amount: Figure
    """In the need's unit; lb PLS for seed."""
    bulk_lb: Figure | None
    """What to weigh out of this lot, by its own test; None for what is no seed."""
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """A lot in the shed: on hand = used + left."""

    kind: Kind
    name: str
    lot: str
    on_hand: Figure
    used: Figure
    left: Figure
    left_bulk_lb: Figure | None
    uses: tuple[Use, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """One line of an order: bought = used + left."""

    kind: Kind
    name: str
    supplier: str
    lot: str
    packs: int
    """Bags, containers or pieces; ounces of what is sold loose."""
    order: str
    """What to ask for, in words: `2 bags of 50 lb bulk`, `12.25 lb PLS, loose`, `3 × 2.5 gal`."""
    bought: Figure
    bulk_lb: Figure | None
    cost: Figure
    used: Figure
    left: Figure
    left_bulk_lb: Figure | None
    left_value: Figure
    """What the left-over cost [$]."""
    needed_on: date
    """First day on which any of it is needed."""
    uses: tuple[Use, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyLine:
    """One thing: needed = from the shed + used of what is bought + short."""

    kind: Kind
    name: str
    needed: Figure
    from_shed: Figure
    to_buy: Figure
    bought: Figure
    left_over: Figure
    """Of what is bought, after all fields; what stays in the shed's own lots is in `draws`."""
    cost: Figure
    short: Figure | None
    """What no offer covers."""
    needed_on: date
    needs: tuple[Need, ...]
    draws: tuple[Draw, ...]
    purchases: tuple[Purchase, ...]
    notes: tuple[str, ...]

    @property
    def uses(self) -> tuple[Use, ...]:
        """Every use, by day and field: from a field to its lots."""
        found = [use for draw in self.draws for use in draw.uses]
        found += [use for purchase in self.purchases for use in purchase.uses]
        return tuple(sorted(found, key=lambda use: (use.needed_on, use.plan_id, use.field, use.task)))


@dataclass(frozen=True, slots=True, kw_only=True)
class BuyList:
    """Everything needed by the day, seed first, then products, then plants and supplies."""

    by: date
    lines: tuple[BuyLine, ...]
    cost: Figure
    left_value: Figure

    @property
    def purchases(self) -> tuple[Purchase, ...]:
        return tuple(purchase for line in self.lines for purchase in line.purchases)

    def uses_of(self, plan_id: str, field: str) -> tuple[Use, ...]:
        """The lots that go to one field of one plan."""
        found = (use for line in self.lines for use in line.uses)
        return tuple(use for use in found if (use.plan_id, use.field) == (plan_id, field))
