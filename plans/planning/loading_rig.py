"""What goes along on a trip: machines and whether they go together, a drill and a sprayer as calibrated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from plans.planning.rig_facts import RigCheck


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """A drill as it is calibrated: a catch from `openers` over `catch_ft`."""

    openers: int
    spacing_in: float
    catch_ft: float = 100.0
    carrier: str = ""
    carrier_lb_per_acre: tuple[tuple[str, float], ...] = ()
    """By box: chaffy, small or large."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sprayer:
    nozzle_spacing_in: float
    speed_mph: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckedRig:
    """Machines that go out together, and whether they go together on these fields."""

    machines: str
    fields: tuple[str, ...]
    check: RigCheck


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """What goes along, by class; whatever is not known stays empty."""

    machine: str = ""
    checks: tuple[CheckedRig, ...] = ()
    pto_hp: float | None = None
    fuel: Literal["diesel", "gasoline"] = "diesel"
    drill: Drill | None = None
    sprayer: Sprayer | None = None
