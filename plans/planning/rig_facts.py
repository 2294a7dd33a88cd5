"""What is known of tractor, implement, truck and trailer, and what a comparison of two of them says.

Every fact may be None: nobody has looked. Units are in the names: in, lb, hp, gal per minute, pct.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field

from plans.planning.figures import Figure
from plans.planning.job import STRICT, Text
from plans.planning.rig_tables import (
    CouplerSeries,
    HitchCategory,
    MachineKey,
    PlugKey,
    PtoKey,
    TowCouplerKey,
)

Inches = Annotated[float, Field(gt=0, le=2000, allow_inf_nan=False)]
InchesOrNone = Annotated[float, Field(ge=0, le=2000, allow_inf_nan=False)]
Pounds = Annotated[float, Field(ge=0, le=200_000, allow_inf_nan=False)]
PoundsOver = Annotated[float, Field(gt=0, le=200_000, allow_inf_nan=False)]
Horsepower = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
Flow = Annotated[float, Field(gt=0, le=200, allow_inf_nan=False)]
Few = Annotated[int, Field(ge=0, le=20)]
SlopePct = Annotated[float, Field(ge=0, le=200, allow_inf_nan=False)]

Part = Literal[
    "hitch",
    "PTO",
    "hydraulics",
    "power",
    "lift",
    "tow",
    "brakes",
    "lights",
    "ballast",
    "width",
    "transport width",
]
Answer = Literal["yes", "no", "unknown"]
Brakes = Literal["none", "surge", "electric", "hydraulic", "air"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tractor:
    __pydantic_config__ = STRICT
    name: Text = ""
    weight_lb: PoundsOver | None = None
    """As it works, with the weights that are on it."""
    pto_hp: Horsepower | None = None
    drawbar_hp: Horsepower | None = None
    hitches: Annotated[tuple[HitchCategory, ...], Field(max_length=9)] | None = None
    """Categories that the ball ends take; empty where it has no three-point hitch."""
    quick_coupler: HitchCategory | Literal["none"] | None = None
    """Category of the quick-coupler frame on the links."""
    lift_lb_at_24_in: Pounds | None = None
    """Lift capacity 24 in behind the ball ends, by its manual."""
    lift_lb_at_ball_ends: Pounds | None = None
    drawbar_pin_in: Inches | None = None
    """Diameter of the drawbar's pin hole."""
    drawbar_load_lb: Pounds | None = None
    """Weight that the drawbar may carry, by its manual."""
    pto_to_drawbar_pin_in: Inches | None = None
    """From the end of the PTO shaft back to the drawbar pin."""
    pto_shafts: Annotated[tuple[PtoKey, ...], Field(max_length=5)] | None = None
    """Shafts with their speeds that it offers; empty where it has no PTO."""
    pto_overruns: bool | None = None
    """Whether a rotor that runs on leaves the wheels alone: an independent PTO or an overrunning clutch."""
    remotes: Few | None = None
    """Pairs of rear hydraulic couplers, each with its lever."""
    remote_floats: bool | None = None
    """Whether a lever has a float position."""
    remote_gpm: Flow | None = None
    free_return: bool | None = None
    """Whether there is a return without pressure, for a motor's case drain."""
    coupler: CouplerSeries | None = None
    coupler_size_in: Inches | None = None
    front_axle_lb: Pounds | None = None
    """Weight on the front axle without the implement."""
    wheelbase_in: Inches | None = None
    ball_ends_behind_axle_in: Inches | None = None
    """From the rear axle back to the ball ends, links level."""
    track_in: Inches | None = None
    """Rear track as set, middle of tire to middle of tire."""
    track_max_in: Inches | None = None
    """Widest rear track that its wheels can be set to."""
    slope_limit_pct: SlopePct | None = None
    """Steepest slope that its manual gives."""
    width_in: Inches | None = None
    """Over the tires or whatever is widest, on the road."""
    plug: PlugKey | Literal["none"] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Towed:
    """What goes on the road behind something, on wheels of its own."""

    __pydantic_config__ = STRICT
    name: Text = ""
    weight_lb: PoundsOver | None = None
    """Empty."""
    rated_gross_lb: Pounds | None = None
    """Most that it may weigh with its load, by its plate."""
    coupler: TowCouplerKey | None = None
    """What its tongue carries for the road."""
    tongue_lb: Pounds | None = None
    """As loaded for the road, on a scale."""
    brakes: Brakes | None = None
    breakaway: bool | None = None
    """Whether its brakes set themselves when it tears off."""
    chains: bool | None = None
    """Whether it has its two chains."""
    plug: PlugKey | Literal["none"] | None = None
    lamps_work: bool | None = None
    width_in: Inches | None = None
    """At its widest as it goes on the road, folded or loaded."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Implement(Towed):
    machine: MachineKey | None = None
    """Its class, for what such machines usually ask."""
    attaches: Literal["three-point", "drawbar"] | None = None
    load_lb: Pounds | None = None
    """Seed, spray or weights on it when it is lifted or towed; 0 for none."""
    hitch: HitchCategory | None = None
    quick_coupler_ready: bool | None = None
    """Whether pins and mast stand as a quick coupler wants them."""
    balance_in: InchesOrNone | None = None
    """From the ball ends back to where it balances, loaded."""
    drawbar_pin_in: Inches | None = None
    """Diameter of the pin that its tongue takes."""
    drawbar_load_lb: Pounds | None = None
    """Weight of its tongue on the tractor's drawbar in work."""
    pto_driven: bool | None = None
    pto_rpm: Annotated[int, Field(gt=0, le=3000)] | None = None
    """As its decal says; enough where nobody has counted splines."""
    pto_shaft: PtoKey | None = None
    """Shaft that its driveline slides onto."""
    pto_guarded: bool | None = None
    """Whether its shields are in place and turn free."""
    overrunning_coupler: bool | None = None
    """Whether its driveline has one."""
    pto_hp: Horsepower | None = None
    """Least power at the PTO, by its manual; 0 for none."""
    drawbar_hp: Horsepower | None = None
    """Least power at the drawbar, by its manual; 0 for none."""
    double_acting: Few | None = None
    """Circuits of cylinders with two hoses, each moved by itself: lift, tilt, fold, marker."""
    single_acting: Few | None = None
    """Circuits of cylinders with one hose."""
    motors: Few | None = None
    """Hydraulic motors."""
    motor_gpm: Flow | None = None
    hoses: Few | None = None
    """Hoses to the tractor, for when nobody has told the circuits apart."""
    hose_coupler: CouplerSeries | None = None
    hose_coupler_size_in: Inches | None = None
    slope_limit_pct: SlopePct | None = None
    """Steepest slope that its manual gives."""
    road_mph: Annotated[float, Field(gt=0, le=80)] | None = None
    """Fastest that it may be towed, by its owner or manual."""
    emblem: bool | None = None
    """Whether it carries a slow-moving-vehicle emblem that is seen from behind."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trailer(Towed):
    """A trailer that carries the implement, or the tractor with it."""

    other_load_lb: Pounds | None = None
    """Tools, seed and water beside the machines; 0 for none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TowVehicle:
    """A truck."""

    __pydantic_config__ = STRICT
    name: Text = ""
    weight_lb: PoundsOver | None = None
    """As it goes, with people and what is in the bed."""
    combined_rating_lb: Pounds | None = None
    """Most that truck and trailer may weigh together (GCWR)."""
    tow_rating_lb: Pounds | None = None
    hitch_rating_lb: Pounds | None = None
    """The least of what receiver, mount and ball have stamped on them."""
    tongue_rating_lb: Pounds | None = None
    coupler: TowCouplerKey | None = None
    brake_controller: bool | None = None
    plug: PlugKey | Literal["none"] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Road:
    """How the implement gets to the farm on public roads.

    Without a vehicle the tractor takes it; with a vehicle and no trailer it runs on its own wheels.
    """

    __pydantic_config__ = STRICT
    vehicle: TowVehicle | None = None
    trailer: Trailer | None = None
    with_tractor: bool = False
    """Whether the trailer carries the tractor too."""
    brakes_over_lb: Pounds | None = None
    """Gross weight above which this state asks for brakes on what is towed."""

    def __post_init__(self) -> None:
        if self.trailer and not self.vehicle:
            raise ValueError("vehicle: say which truck pulls the trailer")
        if self.with_tractor and not self.trailer:
            raise ValueError("trailer: say which trailer carries the tractor")


@dataclass(frozen=True, slots=True, kw_only=True)
class RigPoint:
    """One thing compared. `yes` holds as they stand, or with what `bring` names."""

    part: Part
    verdict: Answer
    why: str
    look: str = ""
    """What to go and look at, where the answer is unknown."""
    bring: str = ""
    """For the loading list."""
    source: str
    figure: Figure | None = None


@dataclass(frozen=True, slots=True)
class RigCheck:
    """Every point compared, part by part. The machine's manual, standards and local law go before it."""

    points: tuple[RigPoint, ...]

    @property
    def verdict(self) -> Answer:
        """No if any is no; unknown if any is unknown, or nothing was compared; else yes."""
        return worst(point.verdict for point in self.points) if self.points else "unknown"

    @property
    def bring(self) -> tuple[str, ...]:
        """What goes on the loading list, each once."""
        return tuple(dict.fromkeys(point.bring for point in self.points if point.bring))

    @property
    def look(self) -> tuple[str, ...]:
        """What to go and look at, each once."""
        return tuple(dict.fromkeys(point.look for point in self.points if point.look))


def worst(answers: Iterable[Answer]) -> Answer:
    """The answer that decides: no before unknown before yes."""
    found = set(answers)
    return "no" if "no" in found else "unknown" if "unknown" in found else "yes"


def yes(part: Part, why: str, source: str, *, bring: str = "", figure: Figure | None = None) -> RigPoint:
    return RigPoint(part=part, verdict="yes", why=why, bring=bring, source=source, figure=figure)


def no(part: Part, why: str, source: str, *, bring: str = "", figure: Figure | None = None) -> RigPoint:
    return RigPoint(part=part, verdict="no", why=why, bring=bring, source=source, figure=figure)


def unknown(
    part: Part, why: str, look: str, source: str, *, bring: str = "", figure: Figure | None = None
) -> RigPoint:
    return RigPoint(
        part=part, verdict="unknown", why=why, look=look, bring=bring, source=source, figure=figure
    )
