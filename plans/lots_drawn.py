"""What a record of work takes out of the shed: a lot for each line, and the moves that follow from it.

What went to a visit out of a lot is brought to what its standing records say: what somebody took there by
hand counts first, the rest is taken out, and what was not used comes back once the visit is done.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Q, QuerySet, Sum
from django.utils.translation import gettext

from consulting.models import User
from consulting.services import save
from plans.lines import SHED_KINDS, in_unit, line_key
from plans.models import LotUse, RecordLine, StockLot, StockMove, Visit, VisitState, WorkRecord
from plans.models.shed import exactly
from plans.shed import named, settled, write_down

What = StockMove.What
NONE = Decimal(0)
SAME_SHARE = Decimal("0.001")
"""An amount is proposed with four digits; what the shed lacks by less than this is no shortage."""
FOUND, ELSEWHERE = "found", "elsewhere"
MOST_LOTS = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """The lot that a line of a record came from."""

    order: int
    """Place of the line."""
    lot: int
    """Key of the StockLot."""
    short: str = ""
    """Where the shed has less: FOUND says that there was more of it, ELSEWHERE that the rest was not its."""


@dataclass(slots=True)
class _Asked:
    """What the lines of one record want of one lot, in its unit."""

    lot: StockLot
    lines: list[tuple[RecordLine, Decimal]]
    short: str

    @property
    def amount(self) -> Decimal:
        return sum((amount for _, amount in self.lines), NONE)


def draw(record: WorkRecord, draws: Iterable[Draw], *, visit: Visit, user: User) -> None:
    """Keep which lots the record's lines came from, and move the shed. Part of the record's transaction.

    Raises ValidationError at a line whose lot is gone, is counted in another unit, or has less than was used.
    """
    chosen = list(draws)
    before = set(LotUse.objects.filter(line__record__visit=visit).values_list("lot", flat=True))
    lots = _locked(before | {one.lot for one in chosen})
    kept, moved = _used(visit), _moved(visit)
    wanted = _asked(record, chosen, lots)
    settled_already = _as_before(record, wanted)
    wrong: dict[str, str] = {}
    for pk, asked in wanted.items():
        if pk in settled_already:
            continue
        over = _due(visit, kept.get(pk, NONE) + asked.amount, moved.get(pk)) - asked.lot.on_hand
        if over <= asked.amount * SAME_SHARE:
            continue
        if asked.short == FOUND:
            note = "More was used than was written down here."
            write_down(asked.lot, What.COUNTED, over, user, record.on, note=note, record=record)
        elif asked.short == ELSEWHERE:
            _lessen(asked, over)
        else:
            wrong[line_key(asked.lines[0][0].order, "short")] = _shortage(asked, asked.amount - over)
    if wrong:
        raise ValidationError(wrong)
    for asked in wanted.values():
        for line, amount in asked.lines:
            save(LotUse(practice_id=record.practice_id), line=line, lot=asked.lot, amount=amount)
    _settle((lot for pk, lot in lots.items() if pk not in settled_already), record, visit, user)


def _as_before(record: WorkRecord, wanted: Mapping[int, _Asked]) -> set[int]:
    """Lots of which a correction uses as much as before: what somebody moved by hand since stays."""
    if record.corrects_id is None:
        return set()
    rows = LotUse.objects.filter(line__record=record.corrects_id).order_by()
    before = {lot: settled(sum) for lot, sum in rows.values_list("lot").annotate(Sum("amount"))}
    return {pk for pk, amount in before.items() if pk in wanted and wanted[pk].amount == amount}


def give_back(visit: Visit, user: User) -> None:
    """The visit's records were taken back: what they took out of the shed comes back."""
    last = visit.records.order_by("-number").first()
    before = set(LotUse.objects.filter(line__record__visit=visit).values_list("lot", flat=True))
    if last and before:
        _settle(_locked(before).values(), last, visit, user)


def _locked(keys: Collection[int]) -> dict[int, StockLot]:
    rows = StockLot.objects.select_for_update().filter(pk__in=keys).order_by("pk")
    return {row.pk: row for row in rows}


def _used(visit: Visit) -> dict[int, Decimal]:
    """What the visit's standing records used, by lot."""
    rows = standing_uses().filter(line__record__visit=visit).values_list("lot").annotate(Sum("amount"))
    return {lot: settled(amount) for lot, amount in rows}


def standing_uses() -> QuerySet[Any]:
    return LotUse.objects.filter(
        line__record__corrected_by__isnull=True, line__record__taken_back=False
    ).order_by()


@dataclass(frozen=True, slots=True)
class _Moved:
    """What went to a visit out of a lot, less what came back."""

    by_hand: Decimal
    by_records: Decimal


def _moved(visit: Visit) -> dict[int, _Moved]:
    rows = (
        StockMove.objects.filter(visit=visit)
        .order_by()
        .values_list("lot")
        .annotate(
            by_hand=Sum("amount", filter=Q(record__isnull=True)),
            by_records=Sum("amount", filter=Q(record__isnull=False)),
        )
    )
    return {lot: _Moved(-settled(hand), -settled(records)) for lot, hand, records in rows}


def _due(visit: Visit, used: Decimal, moved: _Moved | None) -> Decimal:
    """What is still to be taken out for the visit; under 0 for what is to come back."""
    there = moved or _Moved(NONE, NONE)
    goes = used if visit.state == VisitState.DONE else max(used, there.by_hand)
    return goes - there.by_hand - there.by_records


def _asked(record: WorkRecord, draws: Sequence[Draw], lots: dict[int, StockLot]) -> dict[int, _Asked]:
    """The lines of the record by lot. Raises ValidationError."""
    lines = {line.order: line for line in record.lines.all()}
    found: dict[int, _Asked] = {}
    wrong = {}
    for one in draws:
        line, lot = lines.get(one.order), lots.get(one.lot)
        if line is None:
            continue
        if lot is None or lot.kind != SHED_KINDS[line.what]:
            wrong[line_key(one.order, "stock")] = gettext("That lot is in the shed no more. Choose another.")
            continue
        amount = in_unit(line.amount, line.unit, lot.unit)
        if amount is None:
            otherwise = gettext(
                "{lot} is counted in {unit} and cannot be told in {other}. Choose another lot, or another "
                "unit."
            )
            wrong[line_key(one.order, "stock")] = otherwise.format(lot=lot, unit=lot.unit, other=line.unit)
            continue
        asked = found.setdefault(lot.pk, _Asked(lot, [], ""))
        asked.lines.append((line, Decimal(str(amount)).quantize(Decimal("0.0001"))))
        asked.short = asked.short or one.short
    if wrong:
        raise ValidationError(wrong)
    return found


def _lessen(asked: _Asked, over: Decimal) -> None:
    """What the shed does not have did not come from it: the last lines give way first."""
    for place in reversed(range(len(asked.lines))):
        line, amount = asked.lines[place]
        less = min(over, amount)
        asked.lines[place] = (line, amount - less)
        over -= less


def _shortage(asked: _Asked, there: Decimal) -> str:
    lot = asked.lot
    return gettext(
        "{lot}: the shed says {there}, you used {used}. Say below which is right, or choose another lot."
    ).format(lot=lot, there=f"{exactly(max(there, NONE))} {lot.measure}", used=exactly(asked.amount))


def _settle(lots: Iterable[StockLot], record: WorkRecord, visit: Visit, user: User) -> None:
    used, moved = _used(visit), _moved(visit)
    for lot in lots:
        due = min(_due(visit, used.get(lot.pk, NONE), moved.get(lot.pk)), lot.on_hand)
        if due:
            what = What.OUT if due > 0 else What.IN
            write_down(lot, what, -due, user, record.on, visit, record=record)


# What the screens ask


@dataclass(frozen=True, slots=True)
class LotHere:
    """A lot as a record's line may choose it. `out` is what was taken for the visit and is not used yet."""

    lot: StockLot
    out: Decimal

    @property
    def says(self) -> str:
        return f"{self.lot.name}, {self.brief}"

    @property
    def brief(self) -> str:
        """The same where the thing is named already."""
        said = gettext("lot {lot}: {amount} in the shed").format(lot=named(self.lot), amount=self.lot.holds)
        if self.out <= 0:
            return said
        along = gettext("{amount} taken along").format(amount=f"{exactly(self.out)} {self.lot.measure}")
        return f"{said}, {along}"


def taken_along(visit: Visit) -> dict[int, Decimal]:
    """What went out of the shed for the visit and is in no record of it, by lot."""
    used = _used(visit)
    there = {lot: one.by_hand + one.by_records - used.get(lot, NONE) for lot, one in _moved(visit).items()}
    return {lot: amount for lot, amount in there.items() if amount > 0}


def lots_here(kinds: Collection[str], visit: Visit, chosen: Collection[int] = ()) -> list[LotHere]:
    """Lots of these kinds that a record of the visit may name: on hand, taken along, or chosen already."""
    if not kinds:
        return []
    out = taken_along(visit)
    there = Q(on_hand__gt=0) | Q(pk__in=[*out, *chosen])
    rows = StockLot.objects.filter(there, kind__in=kinds).order_by("name", "lot", "pk")
    return [LotHere(row, out.get(row.pk, NONE)) for row in rows[:MOST_LOTS]]


def lots_of(record: WorkRecord) -> dict[int, LotUse]:
    """The lot that each line of the record came from, by the line's order."""
    uses = LotUse.objects.filter(line__record=record).select_related("line", "lot")
    return {use.line.order: use for use in uses}


def moves_of(record: WorkRecord) -> list[StockMove]:
    return list(record.stock_moves.select_related("lot").order_by("pk"))


def said(move: StockMove) -> str:
    """A move that followed from a record, in a sentence."""
    amount = f"{move.size} {move.lot.measure}"
    if move.what == What.OUT:
        text = gettext("{amount} of {lot} went out of the shed.")
    elif move.what == What.IN:
        text = gettext("{amount} of {lot} came back into the shed.")
    else:
        text = gettext("The shed’s count of {lot} was put right by {amount}.")
    return text.format(amount=amount, lot=move.lot)
