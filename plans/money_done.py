"""Money done of an agreed plan: its frozen estimate beside its visits, its records and its payments."""

from __future__ import annotations

from dataclasses import dataclass

from plans.lines import in_unit
from plans.models import Plan, StageMark, Visit, VisitState
from plans.planning.plan import Plan as Outcome
from plans.planning.progress import (
    Difference,
    Margin,
    Progress,
    Share,
    UnitPrices,
    Used,
    allowed,
    difference,
    margin,
    progress,
)
from plans.records import standing
from plans.selectors import frozen_outcome, latest_proposal
from plans.stages import Payments, payments, was_agreed


@dataclass(frozen=True, slots=True)
class MoneyDone:
    progress: Progress
    differences: tuple[Difference, ...]
    margin: Margin
    payments: Payments
    marks: tuple[StageMark, ...]


def money_done(plan: Plan) -> MoneyDone | None:
    """What is done of a plan in money, in six queries; None where no agreed proposal can be read."""
    proposal = latest_proposal(plan) if was_agreed(plan) else None
    outcome = frozen_outcome(proposal) if proposal else None
    if outcome is None:
        return None
    keys = task_keys(plan, outcome)
    done = progress(outcome, shares(plan, keys))
    credit = allowed(done)
    found = (*differences(plan, outcome, keys), *([credit] if credit else []))
    marks = tuple(StageMark.objects.filter(plan=plan))
    return MoneyDone(done, found, margin(done, found), payments(outcome.estimate.stages, marks), marks)


def task_keys(plan: Plan, outcome: Outcome) -> dict[tuple[int, str], str]:
    """The frozen task of each field and step. Fields may have another name by now, so their order tells."""
    conversions = list(plan.conversions.select_related("field").order_by("pk"))
    frozen = [conversion.field for conversion in outcome.job.conversions]
    names = frozen if len(frozen) == len(conversions) else [one.field.name for one in conversions]
    ids = {name: one.field_id for name, one in zip(names, conversions, strict=True)}
    return {(ids[task.field], task.step): task.key for task in outcome.tasks if task.field in ids}


def shares(plan: Plan, keys: dict[tuple[int, str], str]) -> dict[str, Share]:
    return {
        keys[visit.field_id, visit.step]: share_of(visit)
        for visit in Visit.objects.filter(plan=plan)
        if (visit.field_id, visit.step) in keys
    }


def share_of(visit: Visit) -> Share:
    """How much of a visit is done; what was skipped of it is not to be done."""
    if visit.state == VisitState.DONE:
        return Share(done=1.0)
    done = min(1.0, visit.acres_done / visit.acres) if visit.acres else 0.0
    return Share(done, 1.0 - done if visit.state == VisitState.SKIPPED else 0.0)


def differences(plan: Plan, outcome: Outcome, keys: dict[tuple[int, str], str]) -> tuple[Difference, ...]:
    """Lines of the records that stand and differ from what was planned for their acres, by day."""
    prices = UnitPrices(outcome)
    records = standing().filter(visit__plan=plan).select_related("visit").prefetch_related("lines")
    found = []
    for record in records.order_by("on", "number"):
        task = keys.get((record.visit.field_id, record.visit.step), "")
        for line in record.lines.all():
            price = prices.of(task, line.name)
            asked = price.unit if price else line.unit
            used, planned = (
                in_unit(amount, line.unit, asked) for amount in (line.amount, line.planned_amount or 0)
            )
            told = line.amount, line.planned_amount or 0.0, line.unit
            if used is not None and planned is not None:
                told = used, planned, asked
            where = f"Record {record.number}: {record.work}, {record.field_name}"
            one = difference(
                Used(task=task, name=line.name, where=where, used=told[0], planned=told[1], unit=told[2]),
                price,
            )
            if one:
                found.append(one)
    return tuple(found)
