"""What may be done to the shed. Each is one transaction; every change of what is on hand is written down."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max, Q, Sum
from django.utils.translation import gettext

from consulting.followed import as_read
from consulting.models import User
from consulting.services import save
from plans.documents.words import window
from plans.models import StockLot, StockMove, Visit, VisitState, WorkRecord
from plans.models.shed import exactly
from plans.planning.calendar import SOWING
from plans.planning.fields import SPRAYING
from plans.planning.needs import Kind, SeedStock, SeedTest, ShelfStock, Stock

What = StockMove.What
MOST_VISITS = 200
SOON, LATELY = timedelta(days=180), timedelta(days=120)


def settled(amount: Decimal | None) -> Decimal:
    """A sum of the database as it counts: SQLite adds decimals up as floats."""
    return (amount or Decimal(0)).quantize(Decimal("0.0001"))


def held(lot: StockLot, version: int) -> StockLot:
    """The lot, locked, as the person saw it. Raises ChangedMeanwhile when it is another by now."""
    now: StockLot = as_read(lot, StockLot.objects.select_for_update().get(pk=lot.pk), version)
    return now


def held_for(lot: StockLot, version: int, visit: Visit) -> StockLot:
    """The same for a move to or from a visit: that is locked first, as when it is done."""
    Visit.objects.select_for_update(of=("self",)).get(pk=visit.pk)
    return held(lot, version)


@transaction.atomic
def lot_add(*, lot: StockLot, amount: Decimal, user: User, on: date, note: str = "") -> StockLot:
    """A new lot with what came in."""
    lot = save(lot)
    write_down(lot, What.IN, amount, user, on, note=note)
    return lot


@transaction.atomic
def lot_save(*, stock: StockLot, version: int, **values: Any) -> StockLot:
    """Put facts of a lot right; what is on hand stays. Raises ChangedMeanwhile."""
    return save(held(stock, version), **values)


def write_down(
    lot: StockLot,
    what: str,
    amount: Decimal,
    user: User,
    on: date,
    visit: Visit | None = None,
    note: str = "",
    record: WorkRecord | None = None,
) -> StockMove:
    """Change what a locked lot holds by `amount`, on its record."""
    save(lot, on_hand=lot.on_hand + amount)
    return save(
        StockMove(practice_id=lot.practice_id, lot=lot),
        version=lot.version,
        what=what,
        amount=amount,
        after=lot.on_hand,
        visit=visit,
        record=record,
        on=on,
        note=note,
        by=user,
        by_name=str(user)[:200],
    )


@transaction.atomic
def stock_out(
    *, lot: StockLot, version: int, user: User, amount: Decimal, visit: Visit, on: date, note: str = ""
) -> StockMove:
    """Take some of a lot to a field. Raises ValidationError for more than there is, or ChangedMeanwhile."""
    lot = held_for(lot, version, visit)
    if amount > lot.on_hand:
        less = gettext("{amount} on hand. Take that or less, or count the lot anew first.")
        raise ValidationError({"amount": less.format(amount=lot.holds)})
    return write_down(lot, What.OUT, -amount, user, on, visit, note)


@transaction.atomic
def stock_in(
    *,
    lot: StockLot,
    version: int,
    user: User,
    amount: Decimal,
    on: date,
    visit: Visit | None = None,
    note: str = "",
) -> StockMove:
    """More of a lot came in, or some came back from a field. Raises ValidationError or ChangedMeanwhile."""
    lot = held_for(lot, version, visit) if visit else held(lot, version)
    if visit is not None:
        out = -settled(lot.moves.filter(visit=visit).aggregate(sum=Sum("amount"))["sum"])
        if amount > out:
            less = gettext("{amount} of this lot went there. Bring back that or less.")
            raise ValidationError({"amount": less.format(amount=f"{exactly(out)} {lot.measure}")})
    return write_down(lot, What.IN, amount, user, on, visit, note)


@transaction.atomic
def stock_count(
    *, lot: StockLot, version: int, user: User, amount: Decimal, on: date, note: str = ""
) -> StockMove:
    """What was found when the lot was counted. Raises ChangedMeanwhile."""
    lot = held(lot, version)
    return write_down(lot, What.COUNTED, amount - lot.on_hand, user, on, note=note)


# What the screens ask


def visits_for(kind: str, today: date) -> list[Visit]:
    """Visits that such a thing may go to: open ones of the half year ahead, those worked on of late."""
    near = Q(state=VisitState.OPEN, window_opens__lte=today + SOON) | Q(done_on__gte=today - LATELY)
    found = Visit.objects.filter(near).exclude(state=VisitState.SKIPPED).select_related("field__farm")
    if kind == StockLot.Kind.SEED:
        found = found.filter(operation__in=SOWING)
    elif kind == StockLot.Kind.PRODUCT:
        found = found.filter(operation__in=SPRAYING)
    return list(found.order_by("field__farm__name", "field__name", "order", "pk")[:MOST_VISITS])


def visit_choices(visits: Iterable[Visit]) -> list[tuple[str, list[tuple[str, str]]]]:
    """Visits as choices, by farm."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for visit in visits:
        when = window(visit.window_opens, visit.window_shuts)
        label = f"{visit.field.name}: {visit.label} ({when})"
        groups.setdefault(visit.field.farm.name, []).append((str(visit.pk), label))
    return list(groups.items())


@dataclass(frozen=True, slots=True)
class Went:
    """What one field got of one lot, less what came back."""

    lot_id: int
    field_id: int
    field: str
    farm: str
    amount: Decimal
    last: date

    @property
    def says(self) -> str:
        return exactly(self.amount)


def went_to(lots: Iterable[StockLot]) -> dict[int, list[Went]]:
    """Where each lot went, the latest field first: one query."""
    found = (
        StockMove.objects.filter(lot__in=list(lots), visit__isnull=False)
        .order_by()
        .values_list("lot_id", "visit__field_id", "visit__field__name", "visit__field__farm__name")
        .annotate(sum=Sum("amount"), last=Max("on"))
    )
    went: dict[int, list[Went]] = {}
    for lot, field, name, farm, amount, last in found:
        if out := -settled(amount):
            went.setdefault(lot, []).append(Went(lot, field, name, farm, out, last))
    for rows in went.values():
        rows.sort(key=lambda row: (-row.last.toordinal(), row.field, row.field_id))
    return went


def stock_of(lot: StockLot, amount: Decimal) -> Stock:
    """Some of a lot as the planning service takes it."""
    if lot.kind == StockLot.Kind.SEED:
        return SeedStock(
            species=lot.name, lot=named(lot), test=test_of(lot), bulk_lb=float(amount), key=str(lot.pk)
        )
    kind: Kind = "product" if lot.kind == StockLot.Kind.PRODUCT else "supply"
    return ShelfStock(
        kind=kind, name=lot.name, unit=lot.unit, amount=float(amount), lot=named(lot), key=str(lot.pk)
    )


def named(lot: StockLot) -> str:
    return lot.lot or f"no. {lot.pk} in the shed"


def test_of(lot: StockLot) -> SeedTest:
    return SeedTest(
        purity_pct=lot.purity_pct or 0,
        germination_pct=lot.germination_pct or 0,
        dormant_pct=lot.dormant_pct or 0,
        tested_on=lot.tested_on,
    )


def counted_in_needs(lot: StockLot, amount: Decimal) -> float:
    """An amount of a lot in the unit in which it is needed: lb PLS for seed."""
    return float(amount) * float(test_of(lot).pls_share) if lot.kind == StockLot.Kind.SEED else float(amount)
