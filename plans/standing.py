"""A plan as it stands: a draft as worked out today, an offer as frozen, agreed work as far as it is done."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from plans.added import with_added
from plans.documents.wall_about import Standing as Word
from plans.documents.wall_about import WallAbout
from plans.models import Conversion, Plan, Proposal, Visit, VisitState
from plans.planning.plan import Plan as Outcome
from plans.planning.plan import Task
from plans.selectors import chain_in_force, frozen_outcome, prices_of, reckon
from plans.stages import was_agreed
from plans.trips import contacts_of, signed_names


@dataclass(frozen=True, slots=True)
class Standing:
    outcome: Outcome
    word: Word
    reference: str = ""
    """Number and revision of the proposal it comes from."""
    booked: Mapping[str, date] = field(default_factory=dict)
    """The day a step is booked for, by task."""


def standing_of(plan: Plan, today: date) -> Standing | None:
    """A plan from `plans_whole` as it stands; None while it cannot be worked out, or read any more."""
    chain = chain_in_force(plan)
    if plan.is_draft or not chain:
        outcome = reckon(plan, prices_of(plan), today).outcome
        return Standing(outcome, "draft") if outcome else None
    outcome = frozen_outcome(chain[-1])
    if outcome is None:
        return None
    if not was_agreed(plan):
        return Standing(outcome, "offered", str(chain[-1]))
    return _as_the_work_stands(plan, chain, outcome)


def _as_the_work_stands(plan: Plan, chain: Sequence[Proposal], outcome: Outcome) -> Standing:
    """Done steps on their day, open ones in the window they have now, added ones too, skipped ones gone.

    The windows of visits are kept where the record and the year have put them: see `visits.windows_move`.
    """
    fields = list(Conversion.objects.filter(plan=plan).select_related("field").order_by("pk"))
    visits = list(Visit.objects.filter(plan=plan).order_by("order", "pk"))
    names = signed_names(outcome, fields)
    outcome = with_added(outcome, visits, chain[-1].inputs, names)
    by_step = {(names.get(visit.field_id, ""), visit.step): visit for visit in visits}
    signed = [*outcome.tasks, *_done_before(chain, outcome, fields, names, by_step)]
    found = (_as_it_stands(task, by_step.get((task.field, task.step))) for task in signed)
    tasks = sorted((task for task in found if task), key=lambda task: task.done_on or task.earliest)
    booked = {
        task.key: visit.booked_on
        for task in tasks
        if (visit := by_step.get((task.field, task.step))) and visit.is_open and visit.booked_on
    }
    return Standing(replace(outcome, tasks=tuple(tasks)), "agreed", str(chain[-1]), booked)


def _done_before(
    chain: Sequence[Proposal],
    outcome: Outcome,
    fields: Sequence[Conversion],
    names: Mapping[int, str],
    by_step: Mapping[tuple[str, str], Visit],
) -> Iterator[Task]:
    """Steps that were done and that a change order, which plans what is left, names no more."""
    known = {(task.field, task.step) for task in outcome.tasks}
    for proposal in reversed(chain[:-1]):
        earlier = frozen_outcome(proposal)
        then = {name: pk for pk, name in signed_names(earlier, fields).items()} if earlier else {}
        for task in earlier.tasks if earlier else ():
            key = (names.get(then.get(task.field, 0), ""), task.step)
            visit = by_step.get(key)
            if visit is not None and visit.state == VisitState.DONE and key not in known:
                known.add(key)
                yield replace(task, field=key[0], key=f"{key[0]}/{task.step}")


def _as_it_stands(task: Task, visit: Visit | None) -> Task | None:
    if visit is None or task.done_on is not None:
        return task
    if visit.state == VisitState.SKIPPED:
        return None
    done_on = visit.done_on if visit.state == VisitState.DONE else None
    return replace(task, earliest=visit.window_opens, latest=visit.window_shuts, done_on=done_on)


def about_of(plan: Plan, standing: Standing, today: date) -> WallAbout:
    """What is printed for the wall beside the plan: whom to call, and what it shows."""
    return WallAbout(
        printed_on=today,
        standing=standing.word,
        reference=standing.reference,
        contacts=contacts_of(plan.practice),
        hospital=plan.farm.nearest_hospital,
        booked=standing.booked,
    )
