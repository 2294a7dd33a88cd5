"""Records of work: what each kind must say, how one is written, corrected and proved unbroken."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID, uuid4

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Prefetch
from django.utils import timezone
from django.utils.translation import gettext

from consulting.models import Practice, User
from plans.documents.told import told
from plans.lines import in_unit, line_key
from plans.lots_drawn import Draw, draw
from plans.models import RecordLabels, RecordLine, Visit, WorkRecord
from plans.planning import tables
from plans.services import Refused

Kind = WorkRecord.Kind
KINDS = {
    "boom_spraying": Kind.APPLICATION,
    "spot_spraying": Kind.APPLICATION,
    "no_till_drilling": Kind.SEEDING,
    "broadcast_seeding": Kind.SEEDING,
    "smother_crop": Kind.SEEDING,
    "rotary_mowing": Kind.MOWING,
    "haying": Kind.MOWING,
    "prescribed_burn": Kind.BURN,
    "tree_planting": Kind.PLANTING,
}
REQUIRED: dict[str, tuple[str, ...]] = {
    Kind.APPLICATION: (
        "start_time",
        "applicator",
        "certificate",
        "place",
        "site",
        "target",
        "customer_name",
        "customer_address",
    )
}
"""What 40 CFR 171.303(b)(7) names for a restricted-use product, asked of every application."""
LABELS = {
    "start_time": "Started at",
    "end_time": "Ended at",
    "people": "Who was there",
    "hours": "Hours in the field",
    "person_hours": "Person-hours",
    "hours_reason": "Why so far from the planned hours",
    "applicator": "Certified applicator",
    "certificate": "Certificate number",
    "supervised": "Applied under supervision by",
    "place": "County, or where it lies",
    "site": "Crop or site treated",
    "target": "Weeds or pest",
    "customer_name": "Customer",
    "customer_address": "Customer’s address",
    "wind_mph": "Wind speed",
    "wind_from": "Wind from",
    "temp_f": "Air temperature",
    "humidity_pct": "Humidity",
    "sky": "Sky",
}
APART_PCT = 10.0
"""Farther apart than this from what was planned asks for a reason."""
HOURS_APART_PCT = 25.0
"""The same for hours, which ground and weather move more than a rate. Both limits are the site's own."""

OF_RECORD = (
    *("number", "uid", "visit_id", "corrects_id", "because", "taken_back", "kind", "work", "on"),
    *("start_time", "end_time", "acres", "field_name", "farm_name", "place", "customer_name"),
    *("customer_address", "people", "applicator", "certificate", "supervised", "site", "target"),
    *("wind_mph", "wind_from", "temp_f", "humidity_pct", "sky", "extra", "notes", "entered_by_name"),
    *("hours", "person_hours", "planned_hours", "hours_reason"),
)
ASKED_LATER = ("hours", "person_hours", "planned_hours", "hours_reason")
"""What the first records did not say: sealed only where it holds something, so that their seals still fit."""
OF_LINE = (
    *("order", "what", "name", "ingredient", "registration_number", "restricted_use", "lot", "amount"),
    *("unit", "rate_per_acre", "planned_amount", "reason"),
)
OF_ITSELF = ("number", "uid", "corrects_id", "because", "taken_back", "entered_by_name")
KEPT = tuple(name for name in OF_RECORD if name not in OF_ITSELF)
"""What a correction that takes work back repeats as it was."""


class Corrected(Refused):
    """Somebody else corrected the record in between; `record` is theirs."""

    def __init__(self, record: WorkRecord) -> None:
        super().__init__(gettext("This record has been corrected already. Correct the latest one."))
        self.record = record


def kind_of(operation: str) -> str:
    return KINDS.get(operation, Kind.OTHER)


def apart_pct(amount: float, planned: float | None) -> float | None:
    """How far an amount lies from what was planned [%]; None for what was not planned."""
    return 100 * (amount - planned) / planned if planned else None


def asked_by(practice: Practice) -> RecordLabels:
    """What the practice's state asks besides; the least of it where nothing was set."""
    return RecordLabels.objects.filter(practice=practice).first() or RecordLabels(practice=practice)


def planned_hours_of(visit: Visit, acres: float) -> float | None:
    """Hours planned for some of a visit's acres; None where none were planned."""
    return visit.hours * acres / visit.acres if visit.hours and visit.acres else None


def by_people(operation: str) -> bool:
    """Whether the price list keeps the hours of a work in person-hours."""
    row = tables.operations().get(operation)
    return row is not None and row.hours_of == "people"


def written(uid: UUID | None) -> WorkRecord | None:
    """The record that was written under this uid, if it was."""
    return WorkRecord.objects.filter(uid=uid).first() if uid else None


def with_lines(records: Any) -> Any:
    """Records with their lines read along, for `lines_of`; a manager for each would take longest."""
    return records.prefetch_related(Prefetch("lines", to_attr="own_lines"))


def lines_of(record: WorkRecord) -> Sequence[RecordLine]:
    """The lines of a record, in their order."""
    read: Sequence[RecordLine] | None = getattr(record, "own_lines", None)
    return list(record.lines.all()) if read is None else read


def standing() -> Any:
    """Records that count: the latest correction of each, and not those of work that was taken back."""
    return WorkRecord.objects.filter(corrected_by__isnull=True, taken_back=False)


# What must be said


def check(kind: str, operation: str, values: Mapping[str, Any], lines: Sequence[Mapping[str, Any]]) -> None:
    """Raises ValidationError at each value that is missing or asks for a reason."""
    wrong = {
        name: gettext("{label} is missing. An application’s record must say it.").format(
            label=gettext(LABELS[name])
        )
        for name in REQUIRED.get(kind, ())
        if values.get(name) in (None, "")
    }
    if kind == Kind.APPLICATION and not any(line["what"] == "product" and line["amount"] for line in lines):
        wrong[line_key(0, "amount")] = gettext(
            "An application uses a product. Enter at least one with its amount."
        )
    for line in lines:
        order = line["order"]
        if line["what"] == "product" and line["amount"] and not line["registration_number"]:
            lacks = gettext(
                "The registration number of {product} is missing. The label has it as EPA Reg. No."
            )
            wrong[line_key(order, "registration_number")] = lacks.format(product=told(line["name"]))
    for order, name, amount, unit, apart in far_apart(lines):
        far = (
            gettext("{name}: {amount} is {apart} % over what was planned. Say why; it is kept beside it.")
            if apart > 0
            else gettext(
                "{name}: {amount} is {apart} % under what was planned. Say why; it is kept beside it."
            )
        )
        wrong[line_key(order, "reason")] = far.format(
            name=told(name), amount=f"{amount:.4g} {unit}", apart=f"{abs(apart):.0f}"
        )
    wrong |= check_hours(operation, values)
    if wrong:
        raise ValidationError(wrong)


def check_hours(operation: str, values: Mapping[str, Any]) -> dict[str, str]:
    """What is wrong with the hours: far from the plan without a reason."""
    name = "person_hours" if by_people(operation) else "hours"
    hours, planned = values.get(name), values.get("planned_hours")
    apart = apart_pct(hours, planned) if hours else None
    if apart is None or abs(apart) <= HOURS_APART_PCT or values.get("hours_reason"):
        return {}
    far = (
        gettext(
            "{label}: {hours} h is {apart} % over the {planned} h planned. Say why; it is kept beside it."
        )
        if apart > 0
        else gettext(
            "{label}: {hours} h is {apart} % under the {planned} h planned. Say why; it is kept beside it."
        )
    )
    return {
        "hours_reason": far.format(
            label=gettext(LABELS[name]),
            hours=f"{hours:.4g}",
            apart=f"{abs(apart):.0f}",
            planned=f"{planned:.3g}",
        )
    }


def far_apart(lines: Sequence[Mapping[str, Any]]) -> Iterator[tuple[int, str, float, str, float]]:
    """Things used far from what was planned, all their lots together, where no line of them says why.

    The first line's order, the name, amount and unit, and how far apart [%].
    """
    by_thing: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for line in lines:
        by_thing.setdefault((line["what"], line["name"]), []).append(line)
    for (_, name), some in by_thing.items():
        unit = some[0]["unit"]
        alike = [(line, in_unit(1.0, line["unit"], unit)) for line in some]
        amount = sum(line["amount"] * part for line, part in alike if part)
        planned = sum((line["planned_amount"] or 0.0) * part for line, part in alike if part)
        apart = apart_pct(amount, planned)
        if apart is not None and abs(apart) > APART_PCT and not any(line["reason"] for line in some):
            yield some[0]["order"], name, amount, unit, apart


# Writing


@transaction.atomic
def record_write(
    *,
    visit: Visit,
    user: User,
    uid: UUID | None,
    values: Mapping[str, Any],
    lines: Sequence[Mapping[str, Any]] = (),
) -> WorkRecord:
    """Add the record of work done on a visit. Raises ValidationError.

    `values` are columns of WorkRecord, `lines` rows of RecordLine without their rate.
    """
    kind = kind_of(visit.operation)
    farm = visit.field.farm
    told = {
        "customer_name": farm.client.name,
        "customer_address": farm.client.address,
        "place": farm.place,
        "planned_hours": planned_hours_of(visit, values["acres"]),
        **{name: value for name, value in values.items() if value not in (None, "")},
    }
    check(kind, visit.operation, told, lines)
    record = WorkRecord(
        practice_id=visit.practice_id,
        visit=visit,
        uid=uid or uuid4(),
        kind=kind,
        work=visit.label,
        field_name=visit.field.name,
        farm_name=farm.name,
        **told,
    )
    return add(record, user, lines)


@transaction.atomic
def record_correct(
    *,
    record: WorkRecord,
    user: User,
    uid: UUID | None,
    because: str,
    values: Mapping[str, Any],
    lines: Sequence[Mapping[str, Any]] = (),
    draws: Sequence[Draw] = (),
) -> WorkRecord:
    """Add the record that stands in place of this one; the shed follows. Raises ValidationError or Corrected.

    `draws` are the lots that the lines came from.
    """
    # As when a visit is done: visit, practice, lots in this order, so that nobody waits for one another.
    visit = Visit.objects.select_for_update(of=("self",)).get(pk=record.visit_id)
    first = written(uid)
    if first:
        return first
    only_latest(record)
    kept = {name: getattr(record, name) for name in KEPT} | dict(values)
    if record.planned_hours:
        kept["planned_hours"] = record.planned_hours * kept["acres"] / record.acres
    check(record.kind, visit.operation, kept, lines)
    added = WorkRecord(practice_id=record.practice_id, uid=uid or uuid4(), corrects=record, because=because)
    for name, value in kept.items():
        setattr(added, name, value)
    added = add(added, user, lines)
    draw(added, draws, visit=visit, user=user)
    return added


@transaction.atomic
def records_take_back(*, visit: Visit, user: User, because: str) -> None:
    """The visit is open again: each of its records that stands is followed by one that takes it back."""
    for record in standing().filter(visit=visit).order_by("number"):
        taken = WorkRecord(
            practice_id=record.practice_id, uid=uuid4(), corrects=record, because=because, taken_back=True
        )
        for name in KEPT:
            setattr(taken, name, getattr(record, name))
        lines = [{name: getattr(line, name) for name in OF_LINE} for line in record.lines.all()]
        add(taken, user, lines)


def only_latest(record: WorkRecord) -> None:
    latest = WorkRecord.objects.filter(corrects=record).first()
    if latest:
        raise Corrected(latest)
    if record.taken_back:
        raise Refused(gettext("This work was taken back. Do the visit again; its record is then a new one."))


def add(record: WorkRecord, user: User, lines: Sequence[Mapping[str, Any]]) -> WorkRecord:
    """Give the record its number and its hash, and keep it with its lines."""
    # No other record gets the same number meanwhile; rows that point to the practice may still be added.
    Practice.objects.select_for_update(no_key=True).get(pk=record.practice_id)
    last = WorkRecord.objects.order_by("-number").first()
    if record.corrects:
        only_latest(record.corrects)
    record.number = last.number + 1 if last else 1
    record.entered_by, record.entered_by_name, record.at = user, str(user), timezone.now()
    record.full_clean(exclude={"sha256"})
    rows = [
        RecordLine(
            practice_id=record.practice_id,
            record=record,
            **{**line, "rate_per_acre": line["amount"] / record.acres},
        )
        for line in lines
    ]
    for row in rows:
        row.full_clean(exclude={"record"})
    record.sha256 = sealed(last.sha256 if last else "", record, rows)
    record.save()
    for row in rows:
        row.record = record
        row.save()
    return record


# The chain


def content(record: WorkRecord, lines: Iterable[RecordLine]) -> str:
    """All that a record says, as canonical JSON: sorted keys, no spaces."""
    said: dict[str, Any] = {name: getattr(record, name) for name in OF_RECORD}
    for name in ASKED_LATER:
        if said[name] in (None, ""):
            del said[name]
    said["at"] = record.at.timestamp()
    said["lines"] = [
        {name: getattr(line, name) for name in OF_LINE} for line in sorted(lines, key=lambda line: line.order)
    ]
    return json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=False, default=str)


def sealed(before: str, record: WorkRecord, lines: Iterable[RecordLine]) -> str:
    """SHA-256 of the hash before and of what the record says."""
    return hashlib.sha256((before + content(record, lines)).encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class Chain:
    """What the check of a practice's records found."""

    length: int
    last: str
    """Hash of the last record that fits."""
    broken_at: int | None = None
    """Number of the first record that does not fit."""
    why: str = ""


def chain() -> Chain:
    """Follow the chain of the practice in scope from its first record.

    It shows a row changed, taken out or put in between; its end cut off shows beside a print of the last.
    """
    length, before = 0, ""
    for record in in_order():
        if record.number != length + 1:
            return Chain(length, before, length + 1, "it is gone")
        if sealed(before, record, lines_of(record)) != record.sha256:
            return Chain(length, before, record.number, "it says something else than when it was written")
        length, before = record.number, record.sha256
    return Chain(length, before)


def in_order() -> Iterator[WorkRecord]:
    yield from with_lines(WorkRecord.objects.order_by("number")).iterator(chunk_size=2000)
