"""Money done of an agreed plan: its frozen estimate beside its visits, its records and its payments."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from plans.contract import stages_of
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
from plans.selectors import chain_in_force, frozen_outcome
from plans.stages import Payments, payments, was_agreed


@dataclass(frozen=True, slots=True)
class MoneyDone:
    progress: Progress
    differences: tuple[Difference, ...]
    margin: Margin
    payments: Payments
    marks: tuple[StageMark, ...]


def money_done(plan: Plan) -> MoneyDone | None:
    """What is done of a plan in money, in six queries; None where no agreed proposal can be read.

    With change orders it is what was done before each of them, and then what the last one leaves.
    """
    chain = chain_in_force(plan) if was_agreed(plan) and not plan.is_change else []
    outcomes = [outcome for proposal in chain if (outcome := frozen_outcome(proposal))]
    stages = stages_of(chain)
    if not outcomes or len(outcomes) < len(chain) or stages is None:
        return None
    visits = list(Visit.objects.filter(plan=plan).select_related("field"))
    ids = field_ids(plan, visits, outcomes[-1])
    keys = [task_keys(outcome, ids) for outcome in outcomes]
    given = [shares(visits, own) for own in keys]
    earlier = [
        (outcome, {key: share for key, share in own.items() if key not in still_open(after)})
        for outcome, own, after in zip(outcomes, given, outcomes[1:], strict=False)
    ]
    done = progress(outcomes[-1], given[-1], earlier)
    credit = allowed(done)
    named = {visit: key for own in keys for visit, key in own.items()}
    found = (*differences(plan, outcomes, named), *([credit] if credit else []))
    marks = tuple(StageMark.objects.filter(plan=plan))
    return MoneyDone(done, found, margin(done, found), payments(stages, marks), marks)


def field_ids(plan: Plan, visits: Iterable[Visit], outcome: Outcome) -> dict[str, int]:
    """The fields of a plan by name. They may have another by now, so their order tells in what is frozen."""
    conversions = list(plan.conversions.select_related("field").order_by("pk"))
    frozen = [conversion.field for conversion in outcome.job.conversions]
    names = frozen if len(frozen) == len(conversions) else [one.field.name for one in conversions]
    worked = {visit.field.name: visit.field_id for visit in visits}
    return worked | {name: one.field_id for name, one in zip(names, conversions, strict=True)}


def task_keys(outcome: Outcome, ids: Mapping[str, int]) -> dict[tuple[int, str], str]:
    """The frozen task of each field and step."""
    return {(ids[task.field], task.step): task.key for task in outcome.tasks if task.field in ids}


def still_open(outcome: Outcome) -> set[str]:
    """Tasks that a change order leaves to be done: they count there, and not where they were agreed first."""
    return {task.key for task in outcome.tasks if task.done_on is None}


def shares(visits: Iterable[Visit], keys: Mapping[tuple[int, str], str]) -> dict[str, Share]:
    return {
        keys[visit.field_id, visit.step]: share_of(visit)
        for visit in visits
        if (visit.field_id, visit.step) in keys
    }


def share_of(visit: Visit) -> Share:
    """How much of a visit is done; what was skipped of it is not to be done.

    What a change order took out is settled by its price, and neither skipped nor left.
    """
    if visit.state == VisitState.DONE:
        return Share(done=1.0)
    done = min(1.0, visit.acres_done / visit.acres) if visit.acres else 0.0
    skipped = visit.state == VisitState.SKIPPED and not visit.taken_out_by_id
    return Share(done, 1.0 - done if skipped else 0.0)


def differences(
    plan: Plan, outcomes: Iterable[Outcome], keys: Mapping[tuple[int, str], str]
) -> tuple[Difference, ...]:
    """Lines of the records that stand and differ from what was planned for their acres, by day."""
    prices = UnitPrices(*outcomes)
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
            where = _("Record {number}: {work}, {field_name}").format(
                number=record.number, work=record.work, field_name=record.field_name
            )
            one = difference(
                Used(task=task, name=line.name, where=where, used=told[0], planned=told[1], unit=told[2]),
                price,
            )
            if one:
                found.append(one)
    return tuple(found)
