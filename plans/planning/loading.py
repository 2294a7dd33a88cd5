"""The loading list of one trip: what one operation on some fields takes along, weighed and measured.

Seed is weighed by lot and by drill box; sprays are measured load by load; a drill and a sprayer come with
what they should let out. Tools, protective equipment and papers are rows of reference/loading.csv.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Annotated, Literal

from pydantic import Field

from plans.planning import seed, spray, tables
from plans.planning.calendar import SOWING
from plans.planning.cells import Key, Source, Words
from plans.planning.figures import Figure, Term, plain
from plans.planning.job import Conversion
from plans.planning.loading_rig import Drill, Rig, Sprayer
from plans.planning.orders import Use
from plans.planning.plan import Plan, SeedLine, TankMix, TankPart, Task
from plans.planning.rig_facts import RigCheck

BOXES = ("chaffy", "small", "large")
SMALL_UNITS = {"fl oz": (spray.FL_OZ_PER_GAL, "gal"), "oz": (spray.OZ_PER_LB, "lb")}
GAL_PER_HP_HOUR = {"diesel": 0.044, "gasoline": 0.060}
FUEL_SOURCE = "average fuel use by maximum PTO horsepower: Iowa State University AgDM A3-29"
LOT_SOURCE = "weighed by the lot's own test"


@dataclass(frozen=True, slots=True)
class LoadingRow:
    """One thing of reference/loading.csv."""

    section: Literal["tools", "protective", "documents"]
    item: Key
    operations: Annotated[Words, Field(min_length=1)]
    """Keys of reference/operations.csv, or `all`."""
    when: Literal["", "water", "neighbours", "power_lines"]
    """Taken only where a field has it."""
    source: Source


@lru_cache(maxsize=1)
def loading_rows() -> tuple[LoadingRow, ...]:
    """What the operations take along besides seed and sprays. Raises TableError."""
    return tables.read_table(tables.FOLDER / "loading.csv", LoadingRow)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeedWeight:
    """One lot of one species in one box of one field."""

    field: str
    box: str
    species: str
    lot: str
    pls_lb: Figure
    bulk_lb: Figure | None
    """What to weigh out [lb]; None where no lot is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxRate:
    """What one box lets out on one field."""

    field: str
    box: str
    acres: float
    bulk_lb: Figure | None
    seed_lb_per_acre: Figure | None
    carrier_lb: Figure | None
    lb_per_acre: Figure | None
    """Bulk seed and carrier together: what the drill is set to."""
    catch_g: Figure | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadLine:
    what: str
    amount: Figure | None = None
    where: str = ""
    """Field, box or load."""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    key: str
    title: str
    lines: tuple[LoadLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadingList:
    """One trip; `sections` hold everything in the order in which it is loaded."""

    operation: str
    label: str
    on: date | None
    rig: Rig
    tasks: tuple[Task, ...]
    """One a field, in the plan's order of fields."""
    tanks: tuple[TankMix, ...]
    weights: tuple[SeedWeight, ...]
    boxes: tuple[BoxRate, ...]
    hours: Figure
    sections: tuple[Section, ...]


def _sum(figures: Sequence[tuple[str, Figure]], unit: str, what: str) -> Figure:
    terms = tuple(Term(name, figure.value, figure.unit) for name, figure in figures)
    return Figure(
        math.fsum(float(figure.value) for _, figure in figures), unit, f"sum over the {what}", terms
    )


def tasks_on(plan: Plan, operation: str, fields: Sequence[str], on: date | None = None) -> tuple[Task, ...]:
    """The task of that operation on each field, in the plan's order: the one whose window holds the day.

    Else, and without a day, the first that is not done. Raises ValueError for a field that has none ahead.
    """
    order = [conversion.field for conversion in plan.job.conversions]
    found = []
    for name in sorted(set(fields), key=lambda name: (order.index(name) if name in order else -1, name)):
        ahead = [
            task
            for task in plan.tasks
            if (task.field, task.operation) == (name, operation) and task.done_on is None
        ]
        if not ahead:
            raise ValueError(f"fields: {name!r} has no step of the operation {operation!r} ahead")
        fitting = [task for task in ahead if on is not None and task.earliest <= on <= task.latest]
        found.append((fitting or ahead)[0])
    if not found:
        raise ValueError("fields: give at least one")
    return tuple(found)


def _scaled(figure: Figure, task: Task, acres: float) -> Figure:
    if abs(task.acres - acres) < 1e-9:
        return figure
    return Figure(
        float(figure.value) * task.acres / acres,
        figure.unit,
        f"{figure.formula}, × acres sown / acres of the field",
        (*figure.inputs, Term("sown", task.acres, "acre"), Term("field", acres, "acre")),
        figure.source,
    )


def _weights_of(task: Task, line: SeedLine, acres: float, uses: Sequence[Use]) -> Iterator[SeedWeight]:
    pls = _scaled(line.pls_lb, task, acres)
    bulk = None if line.bulk_lb is None else _scaled(line.bulk_lb, task, acres)
    if not uses:
        yield SeedWeight(
            field=task.field, box=line.box, species=line.species, lot=line.lot, pls_lb=pls, bulk_lb=bulk
        )
        return
    for use in uses:
        yield SeedWeight(
            field=task.field,
            box=line.box,
            species=line.species,
            lot=use.lot,
            pls_lb=Figure(use.amount.value, "lb", use.amount.formula, use.amount.inputs, use.amount.source),
            bulk_lb=use.bulk_lb,
        )
    given = math.fsum(float(use.amount.value) for use in uses)
    if float(pls.value) - given > 1e-6:
        terms = (Term("needed", pls.value, "lb"), Term("in lots", given, "lb"))
        missing = Figure(float(pls.value) - given, "lb", "needed - in lots", terms)
        yield SeedWeight(
            field=task.field, box=line.box, species=line.species, lot="", pls_lb=missing, bulk_lb=None
        )


def _weights(plan: Plan, tasks: Sequence[Task], uses: Sequence[Use]) -> tuple[SeedWeight, ...]:
    by_field = {sown.field: sown for sown in plan.seed}
    found: list[SeedWeight] = []
    for task in tasks:
        if task.operation not in SOWING or task.field not in by_field:
            continue
        sown = by_field[task.field]
        for line in sorted(sown.lines, key=lambda line: BOXES.index(line.box)):
            of_lots = [
                use for use in uses if (use.kind, use.task, use.name) == ("seed", task.key, line.species)
            ]
            found += _weights_of(task, line, sown.acres, of_lots)
    return tuple(found)


def _box_rate(task: Task, box: str, weights: Sequence[SeedWeight], drill: Drill | None) -> BoxRate:
    known = [(f"{one.species} {one.lot}".strip(), one.bulk_lb) for one in weights if one.bulk_lb is not None]
    bulk = per_acre = together = carrier = catch = None
    area = Term("area", task.acres, "acre")
    carried = dict(drill.carrier_lb_per_acre).get(box, 0.0) if drill else 0.0
    if carried:
        rate = Term("rate", carried, "lb/acre")
        carrier = Figure(carried * task.acres, "lb", "carrier per acre × acres", (rate, area), "as entered")
    if len(known) == len(weights):
        bulk = _sum(known, "lb", "lots")
        rate_lb = float(bulk.value) / task.acres
        seed_term = Term("bulk seed", float(bulk.value), "lb")
        per_acre = Figure(rate_lb, "lb/acre", "bulk seed / acres", (seed_term, area), LOT_SOURCE)
        together = Figure(
            rate_lb + carried,
            "lb/acre",
            "bulk seed per acre + carrier per acre",
            (Term("bulk seed", rate_lb, "lb/acre"), Term("carrier", carried, "lb/acre")),
            LOT_SOURCE,
        )
        if drill is not None:
            catch = seed.drill_catch_g(rate_lb + carried, drill.openers, drill.spacing_in, drill.catch_ft)
    return BoxRate(
        field=task.field,
        box=box,
        acres=task.acres,
        bulk_lb=bulk,
        seed_lb_per_acre=per_acre,
        carrier_lb=carrier,
        lb_per_acre=together,
        catch_g=catch,
    )


def _boxes(tasks: Sequence[Task], weights: Sequence[SeedWeight], drill: Drill | None) -> tuple[BoxRate, ...]:
    return tuple(
        _box_rate(task, box, inside, drill)
        for task in tasks
        for box in BOXES
        if (inside := [one for one in weights if (one.field, one.box) == (task.field, box)])
    )


BOX_WORDS = {"chaffy": "chaffy-seed box", "small": "small-seed box", "large": "large-seed box"}


def box_words(box: str) -> str:
    return BOX_WORDS[box]


def _seed_lines(weights: Sequence[SeedWeight], boxes: Sequence[BoxRate]) -> Iterator[LoadLine]:
    for rate in boxes:
        where = f"{rate.field}, {box_words(rate.box)}"
        for one in weights:
            if (one.field, one.box) == (rate.field, rate.box):
                lot = f"{one.species}, lot {one.lot}" if one.lot else one.species
                pls = plain(one.pls_lb.value, "lb PLS")
                note = f"bulk; {pls}" if one.bulk_lb is not None else f"no lot yet: {pls} to weigh out"
                yield LoadLine(what=lot, amount=one.bulk_lb, where=where, note=note)
        if rate.bulk_lb is not None:
            yield LoadLine(what="together in this box", amount=rate.bulk_lb, where=where, note="bulk")


def _carrier_lines(boxes: Sequence[BoxRate], drill: Drill | None) -> Iterator[LoadLine]:
    for rate in boxes:
        if drill is not None and rate.carrier_lb is not None:
            where = f"{rate.field}, {box_words(rate.box)}"
            yield LoadLine(what=drill.carrier or "carrier", amount=rate.carrier_lb, where=where)


def _in_containers(amount: Figure, size: float | None) -> str:
    """853.3 fl oz from jugs of 2.5 gal: `2 whole and 213.3 fl oz`."""
    per_large, _ = SMALL_UNITS.get(amount.unit, (1, amount.unit))
    if not size:
        return ""
    value = float(amount.value)
    whole = math.floor(value / per_large / size + 1e-9)
    rest = max(0.0, value - whole * size * per_large)
    if not whole:
        return ""
    return f"{whole} whole and {plain(rest, amount.unit)}" if rest > 1e-6 * size else f"{whole} whole"


def _loads(tank: TankMix, part: TankPart) -> Iterator[tuple[str, Figure]]:
    full, last = plain(tank.tank_gal, "gal"), tank.last_load_gal.shown
    if tank.full_loads > 1:
        yield f"{tank.field}, each of {tank.full_loads} loads of {full}", part.per_full_tank
    elif tank.full_loads:
        yield f"{tank.field}, load of {full}", part.per_full_tank
    if tank.last_load_gal.value and tank.full_loads:
        yield f"{tank.field}, last load of {last}", part.in_last_load
    elif tank.last_load_gal.value:
        yield f"{tank.field}, one load of {last}", part.in_last_load


def _product_lines(
    tanks: Sequence[TankMix], containers: Mapping[str, float], uses: Sequence[Use]
) -> Iterator[LoadLine]:
    totals: dict[tuple[str, str], list[tuple[str, Figure]]] = {}
    for tank in tanks:
        for part in tank.parts:
            totals.setdefault((part.name, part.total.unit), []).append((tank.field, part.total))
            for where, amount in _loads(tank, part):
                yield LoadLine(
                    what=part.name,
                    amount=amount,
                    where=where,
                    note=_in_containers(amount, containers.get(part.name)),
                )
    for (name, unit), parts in totals.items():
        whole = _sum(parts, unit, "fields")
        size = containers.get(name)
        count = math.ceil(float(whole.value) / size - 1e-9) if size else 0
        held = f"{count} × {plain(size, unit)} to load" if size else ""
        yield LoadLine(what=name, amount=whole, where="all fields", note=held)
        yield from _from_the_shed(name, whole, uses)


def _from_the_shed(name: str, needed: Figure, uses: Sequence[Use]) -> Iterator[LoadLine]:
    """What each lot in the shed gives of a thing that is no seed, and what none of them has."""
    by_lot: dict[str, list[tuple[str, Figure]]] = {}
    for use in uses:
        if use.kind != "seed" and use.name == name:
            by_lot.setdefault(use.lot, []).append((use.field, use.amount))
    for lot, parts in by_lot.items():
        whole = _sum(parts, parts[0][1].unit, "fields")
        yield LoadLine(what=f"{name}, lot {lot}", amount=whole, where="out of the shed")
    given = [(lot, amount) for lot, parts in by_lot.items() for _, amount in parts]
    rest = float(needed.value) - math.fsum(float(amount.value) for _, amount in given)
    if given and rest > 1e-6:
        terms = (
            Term("needed", needed.value, needed.unit),
            *(Term(lot, one.value, one.unit) for lot, one in given),
        )
        missing = Figure(rest, needed.unit, "needed - out of the shed", terms)
        yield LoadLine(what=name, amount=missing, where="not in the shed")


def _water_lines(tanks: Sequence[TankMix]) -> Iterator[LoadLine]:
    for tank in tanks:
        yield LoadLine(what="spray volume", amount=tank.carrier_gal, where=tank.field)
    if tanks:
        whole = _sum([(tank.field, tank.carrier_gal) for tank in tanks], "gal", "fields")
        note = "the products take a little of it; water to rinse and to wash comes on top"
        yield LoadLine(what="water to haul or to draw", amount=whole, where="all fields", note=note)


def _sprayer_lines(tanks: Sequence[TankMix], sprayer: Sprayer | None) -> Iterator[LoadLine]:
    for volume in sorted({tank.carrier_gal_per_acre for tank in tanks}):
        target = spray.nozzle_target_128th(volume)
        if sprayer is None:
            note = "the course in feet is 4,084 / nozzle spacing in inches"
            yield LoadLine(what="catch of each nozzle over 1/128 acre", amount=target, note=note)
            continue
        course = spray.course_128th_ft(sprayer.nozzle_spacing_in)
        time = spray.seconds_over(float(course.value), sprayer.speed_mph)
        flow = spray.nozzle_gal_per_min(volume, sprayer.speed_mph, sprayer.nozzle_spacing_in)
        note = f"over {course.shown} in {time.shown} at {plain(sprayer.speed_mph, 'mph')}"
        yield LoadLine(what="catch of each nozzle over 1/128 acre", amount=target, note=note)
        yield LoadLine(what="nozzle, flow", amount=flow, note=f"for {plain(volume, 'gal/acre')}")


def _drill_lines(boxes: Sequence[BoxRate], drill: Drill | None) -> Iterator[LoadLine]:
    for rate in boxes:
        where = f"{rate.field}, {box_words(rate.box)}"
        if rate.lb_per_acre is None:
            yield LoadLine(what="bulk seed to let out", where=where, note="not known before every lot is")
            continue
        carried = "bulk, carrier included" if rate.carrier_lb else "bulk"
        yield LoadLine(what="let out", amount=rate.lb_per_acre, where=where, note=carried)
        if drill is not None and rate.catch_g is not None:
            over = f"{drill.openers} openers over {plain(drill.catch_ft, 'ft')}"
            yield LoadLine(what="catch", amount=rate.catch_g, where=where, note=f"from {over}")


def _fuel_lines(operation: str, hours: Figure, rig: Rig) -> Iterator[LoadLine]:
    if rig.pto_hp is None:
        if tables.operations()[operation].width_ft is not None:
            note = "enter the tractor's PTO horsepower to have it reckoned"
            yield LoadLine(what=f"{rig.fuel} for {hours.shown} in the field", note=note)
        return
    per_hour = GAL_PER_HP_HOUR[rig.fuel]
    amount = Figure(
        float(hours.value) * per_hour * rig.pto_hp,
        "gal",
        f"hours × {per_hour:g} × PTO horsepower",
        (Term("hours", float(hours.value), "h"), Term("power", rig.pto_hp, "hp")),
        FUEL_SOURCE,
    )
    note = f"{hours.shown} in the field at {plain(per_hour * rig.pto_hp, 'gal/h')}; the road comes on top"
    yield LoadLine(what=rig.fuel, amount=amount, note=note)


def _has(conversion: Conversion, when: str) -> bool:
    return {
        "": True,
        "water": conversion.water_within_ft is not None,
        "neighbours": bool(conversion.sensitive_neighbours.strip()),
        "power_lines": conversion.power_lines,
    }[when]


def _of_checks(rig: Rig, told: Callable[[RigCheck], Sequence[str]]) -> Iterator[LoadLine]:
    """What the rig checks tell, each once; where there are several rigs, with the fields that it is for."""
    fields: dict[str, list[str]] = {}
    for one in rig.checks:
        for said in told(one.check):
            fields.setdefault(said, []).extend(one.fields)
    for said, where in fields.items():
        yield LoadLine(what=said, where=", ".join(where) if len(rig.checks) > 1 else "")


def _rows(section: str, operation: str, grounds: Sequence[Conversion]) -> Iterator[LoadLine]:
    for row in loading_rows():
        taken = operation in row.operations or "all" in row.operations
        where = [ground.field for ground in grounds if _has(ground, row.when)]
        if row.section == section and taken and where:
            yield LoadLine(what=row.item, where=", ".join(where) if row.when else "")


def loading_list(
    plan: Plan,
    operation: str,
    fields: Sequence[str],
    *,
    on: date | None = None,
    rig: Rig | None = None,
    uses: Sequence[Use] = (),
    containers: Mapping[str, float] | None = None,
) -> LoadingList:
    """What to load for one operation on some fields of a plan [lb, gal, fl oz, g], in one trip.

    `uses` are those of this plan in a buy list: seed is then weighed by the lots that were set apart for the
    field, and else by the price list's lot. `containers` gives the size [gal or lb] of a product's container
    by the name that the tank mix prints. Deterministic. Raises ValueError for a field without such a task.
    """
    rig = rig or Rig()
    tasks = tasks_on(plan, operation, fields, on)
    keys = {task.key for task in tasks}
    named = {task.field for task in tasks}
    grounds = [conversion for conversion in plan.job.conversions if conversion.field in named]
    tanks = tuple(tank for task in tasks for tank in plan.tanks if tank.task == task.key)
    weights = _weights(plan, tasks, uses)
    sprayed = [use for use in uses if use.task in keys]
    boxes = _boxes(tasks, weights, rig.drill)
    hours = _sum([(task.field, task.hours) for task in tasks if task.hours is not None], "h", "fields")
    boom = operation == "boom_spraying"
    found = {
        "seed": ("Seed, weighed by lot and box", _seed_lines(weights, boxes)),
        "carrier": ("Carrier", _carrier_lines(boxes, rig.drill)),
        "products": ("Products, load by load", _product_lines(tanks, containers or {}, sprayed)),
        "water": ("Water", _water_lines(tanks)),
        "materials": (
            "Plants and supplies",
            (
                LoadLine(what=material.name, amount=material.amount, where=material.field)
                for material in plan.materials
                if material.task in keys
            ),
        ),
        "calibration": (
            "Calibration",
            (*_drill_lines(boxes, rig.drill), *_sprayer_lines(tanks if boom else (), rig.sprayer)),
        ),
        "adapters": ("Adapters and hitches", _of_checks(rig, lambda check: check.bring)),
        "look": ("Go and look before it is loaded", _of_checks(rig, lambda check: check.look)),
        "tools": ("Tools", _rows("tools", operation, grounds)),
        "protective": ("Protective equipment", _rows("protective", operation, grounds)),
        "documents": ("Papers", _rows("documents", operation, grounds)),
        "fuel": ("Fuel", _fuel_lines(operation, hours, rig)),
    }
    sections = (Section(key=key, title=title, lines=tuple(lines)) for key, (title, lines) in found.items())
    return LoadingList(
        operation=operation,
        label=tables.operations()[operation].label,
        on=on,
        rig=rig,
        tasks=tasks,
        tanks=tanks,
        weights=weights,
        boxes=boxes,
        hours=hours,
        sections=tuple(section for section in sections if section.lines),
    )
