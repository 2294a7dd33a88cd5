"""One trip as the crew takes it: visits of one plan and operation, what to load, what the sheet prints."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Sum
from django.urls import reverse

from consulting.models import AdjuvantPrice, Practice, Product
from plans import facts
from plans.added import inputs_of, with_added
from plans.board import Row
from plans.documents.crew_sheet import EVERYWHERE, CrewDay, crew_sheet_pdf
from plans.documents.words import listed, number
from plans.lots_drawn import taken_along
from plans.models import Conversion, StockLot, StockMove, Visit
from plans.models.shed import exactly
from plans.planning import tables
from plans.planning.buying import buy_list
from plans.planning.fields import product_name
from plans.planning.figures import Figure, Term
from plans.planning.job import Conversion as Signed
from plans.planning.loading import LoadingList, loading_list
from plans.planning.needs import Need, Stock, needs_of
from plans.planning.orders import Use
from plans.planning.plan import Plan as Outcome
from plans.planning.plan import Task
from plans.rigs import TripRig, rig_of, rigs_for, takes_a_machine
from plans.selectors import frozen_outcome, latest_proposal
from plans.shed import settled, stock_of
from sites.models import Field


def signed_names(outcome: Outcome, conversions: Sequence[Conversion]) -> dict[int, str]:
    """The name under which each field was signed for: it may have been given another since."""
    signed = outcome.job.conversions
    if len(signed) == len(conversions):
        return {now.field_id: then.field for now, then in zip(conversions, signed, strict=True)}
    return {now.field_id: now.field.name for now in conversions}


def task_of(visit: Visit, outcome: Outcome, names: Mapping[int, str]) -> Task | None:
    """The signed task of a visit, in the window that it has now."""
    name = names.get(visit.field_id)
    found = (task for task in outcome.tasks if (task.field, task.step) == (name, visit.step))
    task = next((task for task in found if task.done_on is None), None)
    if task is None:
        return None
    return replace(task, earliest=visit.window_opens, latest=visit.window_shuts)


def less(need: Need, share: float, taken: float) -> Need | None:
    """What is still needed of it, where a share of the acres is left and some was taken there already."""
    whole = float(need.amount.value)
    left = min(whole * share, max(0.0, whole - taken))
    if left == whole:
        return need
    terms = (
        Term("for the whole field", whole, need.amount.unit),
        Term("share of the acres left", share),
        Term("taken there already", taken, need.amount.unit),
    )
    formula = "the lesser of whole × share left and whole - taken"
    amount = Figure(left, need.amount.unit, formula, terms, need.amount.source)
    return replace(need, amount=amount) if left > 0 else None


@dataclass(frozen=True, slots=True)
class Trip:
    outcome: Outcome
    """The signed plan with the tasks of this trip alone, and the ground as it is known today."""
    load: LoadingList
    visits: tuple[Visit, ...]
    rigs: tuple[TripRig, ...]


def trip_of(visits: Sequence[Visit], on: date | None = None) -> Trip | None:
    """The trip for visits of one plan and operation, one a field; None where its proposal cannot be read."""
    plan = visits[0].plan
    proposal = latest_proposal(plan)
    outcome = frozen_outcome(proposal) if proposal else None
    if proposal is None or outcome is None:
        return None
    conversions = list(Conversion.objects.filter(plan=plan).select_related("field").order_by("pk"))
    names = signed_names(outcome, conversions)
    outcome = with_added(outcome, visits, inputs_of(visits, [proposal]).get(plan.pk), names)
    tasks = tuple(task for visit in visits if (task := _told(visit, task_of(visit, outcome, names))))
    if not tasks:
        return None
    ground = {names[one.field_id]: one.field for one in conversions if one.field_id in names}
    job = replace(
        outcome.job,
        conversions=tuple(_as_known(signed, ground.get(signed.field)) for signed in outcome.job.conversions),
    )
    outcome = replace(outcome, tasks=tasks, job=job)
    rigs = rigs_for(visits)
    load = loading_list(
        outcome,
        visits[0].operation,
        [task.field for task in tasks],
        on=on,
        rig=rig_of(rigs, names),
        uses=lots_for(needs_of(outcome, str(plan.pk), plan.title), taken_for(visits)),
        containers=_containers(),
    )
    return Trip(outcome, load, tuple(visits), tuple(rigs))


def _told(visit: Visit, task: Task | None) -> Task | None:
    if task is None or not visit.acres_done:
        return task
    done = f"{number(visit.acres_done)} of {number(visit.acres)} acres are done; amounts are for all of them."
    return replace(task, why=f"{done} {task.why}")


def _as_known(signed: Signed, field: Field | None) -> Signed:
    """What lies near may have changed since the signing, and the crew has to know."""
    if field is None:
        return signed
    return replace(
        signed,
        water_within_ft=field.water_within_ft,
        sensitive_neighbours=field.sensitive_neighbours,
        power_lines=field.power_lines,
        slope_pct=field.slope_pct,
        notes=field.notes,
    )


def taken_for(visits: Iterable[Visit]) -> list[tuple[StockLot, Decimal]]:
    """What went out of the shed for these visits and did not come back, by lot."""
    moved = (
        StockMove.objects.filter(visit__in=list(visits)).order_by().values_list("lot").annotate(Sum("amount"))
    )
    sums = {lot: -settled(amount) for lot, amount in moved if settled(amount) < 0}
    return [(lot, sums[lot.pk]) for lot in StockLot.objects.filter(pk__in=sums)]


def loading_of(visit: Visit) -> dict[str, Any]:
    """For the visit's page: what went there out of the shed and, while it is open, what to load.

    `unused` is what went there and is in no record of a visit that is done.
    """
    trip = trip_of([visit], visit.booked_on) if visit.is_open else None
    along = {} if visit.is_open else taken_along(visit)
    out = taken_for([visit])
    return {
        "load": trip.load if trip else None,
        "rigs": trip.rigs if trip else (),
        "bare": takes_a_machine(visit.operation) and bool(trip and not trip.rigs),
        "out": [(lot, f"{exactly(amount)} {lot.measure}") for lot, amount in out],
        "unused": [(lot, f"{exactly(along[lot.pk])} {lot.measure}") for lot, _ in out if lot.pk in along],
    }


def lots_for(needs: Sequence[Need], taken: Sequence[tuple[StockLot, Decimal]]) -> tuple[Use, ...]:
    """Which lots to load: those taken out for the trip first, then what else the shed has of it."""
    if not needs:
        return ()
    first = _drawn(needs, [stock_of(lot, amount) for lot, amount in taken])
    got: dict[tuple[str, str], float] = {}
    for use in first:
        key = (use.task, use.name)
        got[key] = got.get(key, 0.0) + float(use.amount.value)
    rest = [left for need in needs if (left := less(need, 1.0, got.get((need.task, need.name), 0.0)))]
    names = {need.name for need in rest}
    shed = StockLot.objects.filter(name__in=names, on_hand__gt=0).order_by("pk")
    return (*first, *_drawn(rest, [stock_of(lot, lot.on_hand) for lot in shed[:200]]))


def _drawn(needs: Sequence[Need], stock: Sequence[Stock]) -> tuple[Use, ...]:
    bought = buy_list(needs, stock, (), date.max)
    return tuple(use for line in bought.lines for draw in line.draws for use in draw.uses)


def _containers() -> dict[str, float]:
    """Size of a container by the name that a tank mix prints."""
    sizes = {product_name(facts.product_of(row)): float(row.container_size) for row in Product.objects.all()}
    return sizes | {row.kind: float(row.container_size) for row in AdjuvantPrice.objects.all()}


def contacts_of(practice: Practice) -> tuple[tuple[str, str], ...]:
    """`who: number`, one a line; a line without a colon is all number."""
    lines = [line.strip() for line in practice.emergency_contacts.splitlines() if line.strip()]
    split = [line.rpartition(":") for line in lines]
    return tuple((who.strip(), number.strip()) for who, _, number in split)


@dataclass(frozen=True, slots=True)
class Call:
    """Whom to call. `dial` is the number as a telephone takes it; empty where it has no digit."""

    who: str
    number: str

    @property
    def dial(self) -> str:
        return "".join(sign for sign in self.number if sign in "0123456789+")


def calls_of(practice: Practice) -> list[Call]:
    return [Call(who, number) for who, number in (*EVERYWHERE, *contacts_of(practice))]


def sheet_of(trip: Trip, practice: Practice) -> bytes:
    """The crew sheet of a trip as PDF. No price is on it."""
    farm = trip.visits[0].field.farm
    people = dict.fromkeys(str(person.user) for visit in trip.visits for person in visit.people.all())
    way = farm.directions.strip()
    about = CrewDay(
        crew=", ".join(people),
        contacts=contacts_of(practice),
        hospital=farm.nearest_hospital,
        directions={task.field: way for task in trip.load.tasks} if way else None,
    )
    return crew_sheet_pdf(trip.outcome, trip.load, about)


@dataclass(frozen=True, slots=True)
class SheetLink:
    label: str
    where: str
    url: str


def first_of_each_field(visits: Iterable[Visit]) -> tuple[list[Visit], list[Visit]]:
    """The first visit of each field, and those that a field has besides: a sheet has one leaf a field."""
    first: dict[int, Visit] = {}
    besides = [visit for visit in visits if first.setdefault(visit.field_id, visit) is not visit]
    return list(first.values()), besides


def sheet_links(practice: Practice, day: date, rows: Iterable[Row]) -> list[SheetLink]:
    """A crew sheet for each plan and operation of a day, and one for a field's second step of a kind."""
    groups: dict[tuple[int, str], list[Visit]] = {}
    for row in rows:
        groups.setdefault((row.visit.plan_id, row.visit.operation), []).append(row.visit)
    links = []
    for (plan, operation), visits in groups.items():
        first, besides = first_of_each_field(visits)
        links.append(_link(first, reverse("day_sheet", args=[practice.slug, f"{day}", plan, operation])))
        links += [_link([one], reverse("visit_sheet", args=[practice.slug, one.pk])) for one in besides]
    return links


def _link(visits: Sequence[Visit], url: str) -> SheetLink:
    row = tables.operations().get(visits[0].operation)
    fields = listed(visit.field.name for visit in visits)
    return SheetLink(row.label if row else visits[0].operation, f"{fields}, {visits[0].field.farm.name}", url)
