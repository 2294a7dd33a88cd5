"""What a visit's record begins with: what the frozen proposal planned for it, and what was true last time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from consulting.models import Practice, User
from plans.added import with_added
from plans.lines import SHED_KINDS
from plans.lots_drawn import LotHere, lots_here, taken_along
from plans.models import Conversion, StockLot, Visit, WorkRecord
from plans.planning import wire
from plans.planning.calendar import SOWING
from plans.planning.fields import choose_product, index_prices
from plans.planning.needs import Need, needs_of
from plans.planning.plan import Plan as Outcome
from plans.planning.plan import Task
from plans.records import Kind, asked_by, by_people, kind_of, planned_hours_of
from plans.selectors import chain_in_force, frozen_outcome
from plans.trips import less, lots_for, signed_names, task_of

SPARE: dict[str, tuple[str, int]] = {
    Kind.APPLICATION: ("product", 2),
    Kind.SEEDING: ("seed", 2),
    Kind.PLANTING: ("plants", 1),
}
"""Lines left empty for what was not planned, by kind."""
SMALLEST_SHARE = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedLine:
    """Something that a step takes: so much of it for each acre."""

    what: str
    name: str
    unit: str
    per_acre: float
    ingredient: str = ""
    registration_number: str = ""
    restricted_use: bool = False
    lot: str = ""
    stock: int | None = None
    """Key of the lot in the shed that it comes from."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beginning:
    """What the form of a record begins with."""

    kind: str
    lines: tuple[PlannedLine, ...] = ()
    spare: tuple[str, int] = ("", 0)
    labels: tuple[str, ...] = ()
    planned_hours_per_acre: float = 0.0
    """In person-hours where `by_people`, else of the machine or crew as one; 0 where none were planned."""
    by_people: bool = False
    lots: tuple[LotHere, ...] = ()
    """What the lines may have come from."""
    first: dict[str, Any] = field(default_factory=dict)


def beginning_of(visit: Visit, user: User, practice: Practice) -> Beginning:
    kind = kind_of(visit.operation)
    application = kind == Kind.APPLICATION
    lines, spare = planned_lines(visit), SPARE.get(kind, ("", 0))
    return Beginning(
        kind=kind,
        lines=lines,
        spare=spare,
        lots=tuple(lots_here(kinds_in_the_shed(lines, spare), visit)),
        labels=tuple(asked_by(practice).labels) if application else (),
        planned_hours_per_acre=planned_hours_of(visit, 1.0) or 0.0,
        by_people=by_people(visit.operation),
        first={"people": ", ".join(sorted(str(person.user) for person in visit.people.all()))}
        | (of_application(visit, user, practice) if application else {}),
    )


def kinds_in_the_shed(lines: Iterable[PlannedLine], spare: tuple[str, int]) -> set[str]:
    named = {line.what for line in lines} | {spare[0]}
    return {SHED_KINDS[what] for what in named if what in SHED_KINDS}


def of_application(visit: Visit, user: User, practice: Practice) -> dict[str, Any]:
    """Names as the same person entered them last, and the ground as it is known now."""
    ground = visit.field
    last = WorkRecord.objects.filter(entered_by=user, kind=Kind.APPLICATION).order_by("-number").first()
    purpose = Conversion.objects.filter(plan=visit.plan_id, field=ground).values_list("purpose", flat=True)
    planted = next(iter(purpose), "")
    return {
        "applicator": last.applicator if last else "",
        "certificate": last.certificate if last else practice.applicator_licence,
        "place": ground.farm.place,
        "site": ground.get_cover_display() if visit.phase == "kill" else planted,
        "target": ground.weeds or (ground.get_cover_display() if visit.phase == "kill" else ""),
        "customer_name": ground.farm.client.name,
        "customer_address": ground.farm.client.address,
    }


def planned_lines(visit: Visit) -> tuple[PlannedLine, ...]:
    """Tank parts, seed, plants and materials of the visit's step; none where the proposal cannot be read."""
    found = _signed(visit)
    if found is None:
        return ()
    outcome, inputs, task = found
    lines = (
        *_sprayed(task.key, task.field, outcome, inputs),
        *(_sown(task.field, outcome) if task.operation in SOWING else ()),
        *_brought(task.key, task.acres, outcome),
    )
    needs = needs_of(replace(outcome, tasks=(task,)), str(visit.plan_id))
    left = visit.acres_left / visit.acres if visit.acres else 1.0
    return tuple(of_lots(lines, [need for one in needs if (need := less(one, left, 0.0))], visit))


def _signed(visit: Visit) -> tuple[Outcome, str, Task] | None:
    """The plan in force in which the visit's step is still to be done, its inputs, and the step as its task.

    Of work done before a change order that is the proposal before it.
    """
    conversions = Conversion.objects.filter(plan=visit.plan_id).select_related("field").order_by("pk")
    for proposal in reversed(chain_in_force(visit.plan)):
        outcome = frozen_outcome(proposal)
        if outcome is None:
            return None
        names = signed_names(outcome, list(conversions))
        outcome = with_added(outcome, [visit], proposal.inputs, names)
        if task := task_of(visit, outcome, names):
            return outcome, proposal.inputs, task
    return None


def of_lots(lines: Sequence[PlannedLine], needs: Sequence[Need], visit: Visit) -> Iterator[PlannedLine]:
    """Each line once for every lot of the shed that it comes from; what no lot has stays as planned."""
    along = taken_along(visit)
    uses = lots_for(needs, [(lot, along[lot.pk]) for lot in StockLot.objects.filter(pk__in=along)])
    whole = {need.key[:2]: float(need.amount.value) for need in needs}
    for line in lines:
        key = (SHED_KINDS[line.what], line.name)
        rest = 1.0
        for use in uses if visit.acres_left else ():
            if (use.kind, use.name) == key:
                share = float(use.amount.value) / whole[use.kind, use.name]
                amount = use.bulk_lb or use.amount
                rest -= share
                yield replace(
                    line,
                    lot=use.lot,
                    stock=int(use.stock_key),
                    per_acre=float(amount.value) / visit.acres_left,
                )
        if rest > SMALLEST_SHARE:
            yield replace(line, per_acre=line.per_acre * rest)


def _sprayed(key: str, ground: str, outcome: Outcome, inputs: str) -> Iterator[PlannedLine]:
    tank = next((tank for tank in outcome.tanks if tank.task == key), None)
    if tank is None:
        return
    conversion = next(one for one in outcome.job.conversions if one.field == ground)
    try:
        prices = index_prices(wire.read_job_file(inputs).prices)
    except ValueError:
        prices = None
    for part in tank.parts:
        found = None
        if prices and part.active_ingredient:
            found = choose_product(part.active_ingredient, conversion, prices)
        yield PlannedLine(
            what="product" if part.active_ingredient else "adjuvant",
            name=part.name,
            ingredient=part.active_ingredient,
            registration_number=found.registration_number if found else "",
            restricted_use=bool(found and found.restricted_use),
            unit=part.total.unit,
            per_acre=float(part.total.value) / tank.acres,
        )


def _sown(ground: str, outcome: Outcome) -> Iterator[PlannedLine]:
    seed = next((seed for seed in outcome.seed if seed.field == ground), None)
    for line in seed.lines if seed else ():
        pounds = line.bulk_lb_per_acre or line.pls_lb_per_acre
        yield PlannedLine(
            what="seed", name=line.species, lot=line.lot, unit="lb", per_acre=float(pounds.value)
        )


def _brought(key: str, acres: float, outcome: Outcome) -> Iterator[PlannedLine]:
    for material in outcome.materials:
        if material.task == key:
            plants = material.amount.unit == "plants"
            yield PlannedLine(
                what="plants" if plants else "material",
                name=material.name,
                unit=material.amount.unit,
                per_acre=float(material.amount.value) / acres,
            )
