"""Visits added to a signed plan, told as its tasks: what to load, to buy and to write down for them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from django.db.models.functions import Coalesce

from plans.models import Proposal, Visit
from plans.planning import tables, wire
from plans.planning.calendar import Slot
from plans.planning.fields import SPRAYING, field_tasks, index_prices, tank_mix
from plans.planning.plan import Plan as Outcome


def inputs_of(visits: Iterable[Visit], proposals: Sequence[Proposal]) -> dict[int, str]:
    """The frozen inputs of these proposals by agreed plan, where a visit was added; else no query."""
    if not any(visit.added_on for visit in visits):
        return {}
    rows = Proposal.objects.filter(pk__in=[proposal.pk for proposal in proposals])
    return dict(rows.annotate(of=Coalesce("plan__changes", "plan")).values_list("of", "inputs"))


def with_added(
    outcome: Outcome, visits: Iterable[Visit], inputs: str | None, names: Mapping[int, str]
) -> Outcome:
    """The signed plan with a task, and a tank where it sprays, for each visit that was added to it.

    `names` are the fields' signed ones. At the signed prices; unchanged where these cannot be read.
    """
    known = {(task.field, task.step) for task in outcome.tasks}
    signed = {one.field: one for one in outcome.job.conversions}
    added = [
        (visit, signed[name], tables.steps()[visit.step])
        for visit in visits
        if visit.added_on
        and (name := names.get(visit.field_id, "")) in signed
        and visit.step in tables.steps()
        and (name, visit.step) not in known
    ]
    if not added or not inputs:
        return outcome
    try:
        prices = index_prices(wire.read_job_file(inputs).prices)
    except ValueError:
        return outcome
    tasks, tanks = list(outcome.tasks), list(outcome.tanks)
    for visit, conversion, step in added:
        slot = Slot(step, visit.window_opens, visit.window_shuts, visit.after)
        (task,) = field_tasks(conversion, [slot], prices)
        tasks.append(task)
        if task.operation in SPRAYING:
            tanks.append(tank_mix(task, step, conversion, outcome.job, prices))
    return replace(outcome, tasks=tuple(tasks), tanks=tuple(tanks))
