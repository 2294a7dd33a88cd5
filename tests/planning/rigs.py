"""A tractor, a cutter, a drill and a truck of which everything is known, and how a test asks about them."""

from __future__ import annotations

from typing import Any

from plans.planning.rig import Implement, Part, RigPoint, Road, TowVehicle, Tractor, Trailer, rig_check
from plans.planning.rig_facts import worst

TRACTOR = Tractor(
    weight_lb=5000,
    pto_hp=60,
    drawbar_hp=48,
    hitches=("2",),
    quick_coupler="none",
    lift_lb_at_24_in=2500,
    lift_lb_at_ball_ends=3300,
    drawbar_pin_in=1.25,
    drawbar_load_lb=1500,
    pto_to_drawbar_pin_in=14,
    pto_shafts=("type 1",),
    pto_overruns=True,
    remotes=1,
    remote_floats=True,
    remote_gpm=12,
    free_return=True,
    coupler="A",
    coupler_size_in=0.5,
    front_axle_lb=2000,
    wheelbase_in=80,
    ball_ends_behind_axle_in=30,
    track_in=60,
    track_max_in=76,
    slope_limit_pct=25,
    width_in=76,
    plug="7 blade",
)
CUTTER = Implement(
    machine="rotary cutter",
    attaches="three-point",
    hitch="2",
    weight_lb=900,
    load_lb=0,
    balance_in=24,
    pto_driven=True,
    pto_shaft="type 1",
    pto_guarded=True,
    pto_hp=40,
    hoses=0,
    slope_limit_pct=20,
    width_in=84,
    plug="7 blade",
    lamps_work=True,
    emblem=True,
)
DRILL = Implement(
    machine="no-till drill",
    attaches="drawbar",
    drawbar_pin_in=1.25,
    drawbar_load_lb=600,
    weight_lb=3500,
    load_lb=500,
    pto_driven=False,
    drawbar_hp=30,
    double_acting=1,
    single_acting=0,
    motors=0,
    hose_coupler="A",
    hose_coupler_size_in=0.5,
    slope_limit_pct=20,
    width_in=100,
    plug="4 flat",
    lamps_work=True,
    brakes="none",
    emblem=True,
    coupler="ball 2",
    chains=True,
    tongue_lb=500,
    rated_gross_lb=5000,
    road_mph=45,
)
TRUCK = TowVehicle(
    weight_lb=6500,
    combined_rating_lb=15000,
    tow_rating_lb=9000,
    hitch_rating_lb=7500,
    tongue_rating_lb=900,
    coupler="ball 2",
    brake_controller=True,
    plug="7 blade",
)
FLATBED = Trailer(
    weight_lb=1500,
    rated_gross_lb=7000,
    coupler="ball 2",
    tongue_lb=360,
    brakes="electric",
    breakaway=True,
    chains=True,
    plug="7 blade",
    lamps_work=True,
    width_in=98,
    other_load_lb=500,
)
ROAD = Road(vehicle=TRUCK, brakes_over_lb=5000)
LOADED = Road(vehicle=TRUCK, trailer=FLATBED, brakes_over_lb=3000)


def points(part: Part, tractor: Tractor, implement: Implement, **way: Any) -> list[RigPoint]:
    return [point for point in rig_check(tractor, implement, **way).points if point.part == part]


def answer(part: Part, tractor: Tractor, implement: Implement, **way: Any) -> str:
    return worst(point.verdict for point in points(part, tractor, implement, **way))


def said(part: Part, tractor: Tractor, implement: Implement, **way: Any) -> str:
    return " ".join(
        f"{point.why} {point.look} {point.bring}" for point in points(part, tractor, implement, **way)
    )
