"""The machines of visits and their rig check, arranged for a page: the verdict in words, point by point."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse

from consulting.models import Machine
from plans.documents import words
from plans.documents.manner import _
from plans.machine_facts import BadFacts, read_facts
from plans.models import Visit
from plans.planning import tables
from plans.planning.loading_rig import CheckedRig, Rig
from plans.planning.rig import RigCheck, RigPoint, Road, rig_check
from plans.planning.rig_facts import Answer, Part

VERDICTS: Mapping[Answer, str] = {"yes": "Yes", "no": "No", "unknown": "Go and look"}
PARTS: Mapping[Part, str] = {
    "hitch": "Hitch",
    "PTO": "PTO",
    "hydraulics": "Hydraulics",
    "power": "Power",
    "lift": "Lift",
    "tow": "Tow",
    "brakes": "Brakes",
    "lights": "Lights",
    "ballast": "Front axle",
    "width": "Slope",
    "transport width": "Width on the road",
}


@dataclass(frozen=True, slots=True)
class ShownPoint:
    verdict: Answer
    says: str
    point: RigPoint


@dataclass(frozen=True, slots=True)
class ShownPart:
    title: str
    points: tuple[ShownPoint, ...]


@dataclass(frozen=True, slots=True)
class ShownRig:
    verdict: Answer
    says: str
    sum: str
    against: tuple[RigPoint, ...]
    """The points that say no."""
    bring: tuple[str, ...]
    parts: tuple[ShownPart, ...]


def shown(check: RigCheck) -> ShownRig:
    parts = tuple(
        ShownPart(PARTS[part], tuple(ShownPoint(p.verdict, VERDICTS[p.verdict], p) for p in points))
        for part, points in groupby(check.points, key=lambda point: point.part)
    )
    against = tuple(point for point in check.points if point.verdict == "no")
    return ShownRig(check.verdict, VERDICTS[check.verdict], _sum(check), against, check.bring, parts)


def _sum(check: RigCheck) -> str:
    """What was compared and how it came out, in a sentence."""
    by_verdict = {answer: [p for p in check.points if p.verdict == answer] for answer in VERDICTS}
    against, open_points = by_verdict["no"], by_verdict["unknown"]
    look = words.count(len(open_points), "point")
    points = words.count(len(check.points), "point")
    if against:
        speak = words.count(len(against), "speaks", "speak")
        if open_points:
            text = _("Of {points} compared {speak} against it; {look} to go and look at.")
            return text.format(points=points, speak=speak, look=look)
        return _("Of {points} compared {speak} against it.").format(points=points, speak=speak)
    if open_points:
        text = _("Nothing of {points} compared speaks against it; {look} to go and look at.")
        return text.format(points=points, look=look)
    if check.bring:
        text = _("Nothing of {points} compared speaks against it, with what is brought along.")
        return text.format(points=points)
    return _("Nothing of {points} compared speaks against it.").format(points=points)


# The machines of visits


@dataclass(frozen=True, slots=True)
class TripRig:
    """The machines of some visits that go out together, and whether they go together."""

    machines: tuple[Machine, ...]
    visits: tuple[Visit, ...]
    tractor_rides: bool
    chosen: bool
    """Whether somebody chose them; else they are the only ones for the work."""
    check: RigCheck | None
    """None without a tractor and an implement, or where facts of one cannot be read."""

    @property
    def names(self) -> str:
        first, *rest = (machine.name for machine in self.machines)
        return f"{first} with {words.listed(rest)}" if rest else first

    @property
    def shown(self) -> ShownRig | None:
        return shown(self.check) if self.check else None

    @property
    def slope_pct(self) -> float | None:
        return steepest(self.visits)

    @property
    def path(self) -> str:
        """The rig check of these machines on the first of these fields, on the steepest slope of all."""
        asked: dict[str, Any] = {machine.kind: machine.pk for machine in self.machines}
        asked["visit"] = self.visits[0].pk
        asked |= {"slope_pct": f"{self.slope_pct:g}"} if self.slope_pct else {}
        asked |= {"tractor_rides": "on"} if self.tractor_rides else {}
        return f"{reverse('rig', args=[self.visits[0].practice.slug])}?{urlencode(asked)}"


def steepest(visits: Iterable[Visit]) -> float | None:
    return max((visit.field.slope_pct or 0.0 for visit in visits), default=0.0) or None


def takes_a_machine(operation: str) -> bool:
    row = tables.operations().get(operation)
    return bool(row and row.width_ft is not None)


def usual_machines(operation: str, machines: Iterable[Machine]) -> list[Machine]:
    """What goes along where there is no choice: the one implement for the work, and the one tractor."""
    in_use = [row for row in machines if row.active]
    implements = [row for row in in_use if row.kind == Machine.Kind.IMPLEMENT and operation in row.operations]
    tractors = [row for row in in_use if row.kind == Machine.Kind.TRACTOR]
    if len(implements) != 1:
        return []
    return [*(tractors if len(tractors) == 1 else ()), *implements]


def in_order(machines: Iterable[Machine]) -> tuple[Machine, ...]:
    """As they are hitched: tractor, implement, tow vehicle, trailer."""
    kinds = list(Machine.Kind)
    return tuple(sorted(machines, key=lambda row: (kinds.index(Machine.Kind(row.kind)), row.pk)))


def rigs_for(visits: Sequence[Visit]) -> list[TripRig]:
    """The rigs of a trip: visits with the same machines share one. Two queries, however many visits."""
    through = Visit.machines.through.objects.filter(visit__in=visits).select_related("machine")
    of_visit: dict[int, list[Machine]] = {}
    for row in through:
        of_visit.setdefault(row.visit_id, []).append(row.machine)
    bare = len(of_visit) < len({visit.pk for visit in visits})
    usual = usual_machines(visits[0].operation, Machine.objects.filter(active=True)) if bare else []
    groups: dict[tuple[tuple[int, ...], bool, bool], tuple[tuple[Machine, ...], list[Visit]]] = {}
    for visit in visits:
        chosen = visit.pk in of_visit
        machines = in_order(of_visit.get(visit.pk, usual))
        key = (tuple(machine.pk for machine in machines), visit.tractor_rides, chosen)
        groups.setdefault(key, (machines, []))[1].append(visit)
    return [
        TripRig(machines, tuple(own), rides, chosen, check_of(machines, steepest(own), rides))
        for (_, rides, chosen), (machines, own) in groups.items()
        if machines
    ]


def check_of(machines: Iterable[Machine], slope_pct: float | None, tractor_rides: bool) -> RigCheck | None:
    """The rig check of these machines, at most one of each kind."""
    by_kind = {machine.kind: machine for machine in machines}
    if not {Machine.Kind.TRACTOR, Machine.Kind.IMPLEMENT} <= by_kind.keys():
        return None
    try:
        facts = {kind: read_facts(kind, row.name, row.facts) for kind, row in by_kind.items()}
    except BadFacts:
        return None
    truck, trailer = facts.get(Machine.Kind.TRUCK), facts.get(Machine.Kind.TRAILER)
    rides = tractor_rides and trailer is not None
    road = Road(vehicle=truck, trailer=trailer, with_tractor=rides) if truck else None
    return rig_check(facts[Machine.Kind.TRACTOR], facts[Machine.Kind.IMPLEMENT], slope_pct, road)


def rig_of(rigs: Sequence[TripRig], names: Mapping[int, str]) -> Rig:
    """For the loading list. `names` are the fields' signed ones."""
    if not rigs:
        return Rig()
    tractor = next((row for row in rigs[0].machines if row.kind == Machine.Kind.TRACTOR), None)
    power = tractor.facts.get("pto_hp") if tractor else None
    return Rig(
        machine="; ".join(dict.fromkeys(rig.names for rig in rigs)),
        checks=tuple(
            CheckedRig(
                machines=rig.names,
                fields=tuple(names.get(visit.field_id, visit.field.name) for visit in rig.visits),
                check=rig.check,
            )
            for rig in rigs
            if rig.check
        ),
        pto_hp=float(power) if isinstance(power, int | float) and power > 0 else None,
    )
