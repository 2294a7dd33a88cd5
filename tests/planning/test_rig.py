"""Tractor and implement: what goes together, what does not, and what nobody has looked at."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from plans.planning import rig_tables
from plans.planning.reckoner import reckon
from plans.planning.rig import Implement, Road, TowVehicle, Tractor, Trailer, rig_check
from plans.planning.rig_drive import pto_power_needed, remotes_needed
from plans.planning.rig_hitch import front_axle_pct
from plans.planning.tables import TableError, read_table
from plans.planning.wire import BadInput
from tests.planning.rigs import CUTTER, DRILL, LOADED, ROAD, TRACTOR, answer, points, said


@pytest.mark.parametrize(
    ("implement", "road"),
    [(CUTTER, None), (CUTTER, Road()), (CUTTER, LOADED), (DRILL, None), (DRILL, Road()), (DRILL, ROAD)],
)
def test_a_rig_that_is_known_and_fits(implement: Implement, road: Road | None) -> None:
    check = rig_check(TRACTOR, implement, 6, road)
    assert [point for point in check.points if point.verdict != "yes"] == []
    assert check.verdict == "yes" and check.look == ()


def test_a_rig_that_nobody_has_looked_at_is_unknown_at_every_point_and_says_where_to_look() -> None:
    for road in (None, Road(), Road(vehicle=TowVehicle()), Road(vehicle=TowVehicle(), trailer=Trailer())):
        check = rig_check(Tractor(), Implement(), road=road)
        assert check.verdict == "unknown"
        assert all(point.verdict == "unknown" and point.look for point in check.points)


def test_one_no_decides_and_nothing_is_called_safe_or_legal() -> None:
    check = rig_check(replace(TRACTOR, remotes=None), replace(CUTTER, hitch="3"), 40, LOADED)
    assert check.verdict == "no"
    words = " ".join(f"{point.why} {point.look} {point.bring}" for point in check.points).lower().split()
    assert not {"safe", "legal", "permitted", "allowed"} & {word.strip(".,:;") for word in words}
    assert all(point.source for point in check.points)


@pytest.mark.parametrize(
    ("balls", "pin", "verdict", "words"),
    [
        (("2",), "2", "yes", "one category"),
        (("2",), "1", "yes", "2 lower hitch bushings 7/8 in to 1 1/8 in, 1 top link bushing 3/4 in to 1 in"),
        (("1",), "2", "no", "A 1 1/8 in pin does not go into a 7/8 in ball"),
        (("3",), "1", "no", "do not close from 40 in to 28 in"),
        (("1", "2"), "2", "yes", "one category"),
        (("3",), "3N", "unknown", "Tape the implement"),
        (("2",), None, "unknown", "Measure its pins"),
        (None, "2", "unknown", "at 60 hp usually 2"),
        ((), "2", "no", "has none"),
    ],
)
def test_hitch(balls: Any, pin: Any, verdict: str, words: str) -> None:
    rig = replace(TRACTOR, hitches=balls), replace(CUTTER, hitch=pin)
    assert answer("hitch", *rig) == verdict
    assert words in said("hitch", *rig)


@pytest.mark.parametrize(
    ("frame", "ready", "verdict"),
    [
        ("2", True, "yes"),
        ("2", None, "unknown"),
        ("2", False, "no"),
        ("1", True, "no"),
        (None, True, "unknown"),
        ("none", None, "yes"),
    ],
)
def test_quick_coupler(frame: Any, ready: bool | None, verdict: str) -> None:
    rig = replace(TRACTOR, quick_coupler=frame), replace(CUTTER, quick_coupler_ready=ready)
    assert answer("hitch", *rig) == verdict


@pytest.mark.parametrize(
    ("hole", "pin", "verdict", "words"),
    [
        (1.25, 1.25, "yes", "1 1/4 in drawbar pin"),
        (1.25, 1.0, "yes", "drawbar bushing 1 in to 1 1/4 in"),
        (1.0, 1.25, "no", "takes a 1 1/4 in pin, the drawbar has a 1 in hole"),
        (None, 1.0, "unknown", "Measure"),
    ],
)
def test_drawbar(hole: float | None, pin: float, verdict: str, words: str) -> None:
    rig = replace(TRACTOR, drawbar_pin_in=hole), replace(DRILL, drawbar_pin_in=pin)
    assert answer("hitch", *rig) == verdict
    assert words in said("hitch", *rig)


@pytest.mark.parametrize(
    ("offered", "shaft", "rpm", "verdict", "words"),
    [
        (("type 1",), "type 1", None, "yes", "540 rpm, 6 straight splines, 1 3/8 in"),
        (("type 2",), "type 1", None, "no", "runs at 540 rpm and the tractor's shaft is 1000 rpm"),
        (("type 1",), "type 2", None, "no", "never adapted"),
        (("type 1", "type 2"), "type 2", None, "yes", "Both are 1000 rpm"),
        (("type 2",), "type 3", None, "unknown", "exchanged"),
        (("old 540",), "type 1", None, "yes", "sleeve adapter, 1 1/8 in 6-spline shaft to 1 3/8 in"),
        (("type 1",), None, 540, "unknown", "Count the splines"),
        (("type 1",), None, 1000, "no", "never adapted"),
        (("type 1",), None, None, "unknown", "read the speed on its decal"),
        (None, "type 1", None, "unknown", "Count the splines of the tractor's shaft"),
        ((), "type 1", None, "no", "no PTO"),
    ],
)
def test_pto(offered: Any, shaft: Any, rpm: int | None, verdict: str, words: str) -> None:
    rig = replace(TRACTOR, pto_shafts=offered), replace(CUTTER, pto_shaft=shaft, pto_rpm=rpm)
    assert answer("PTO", *rig) == verdict
    assert words in said("PTO", *rig)


def test_what_no_shaft_turns_is_not_compared_with_the_pto() -> None:
    assert not points("PTO", replace(TRACTOR, pto_shafts=()), DRILL)


@pytest.mark.parametrize(
    ("overruns", "machine", "has_one", "verdict", "brought"),
    [
        (False, "rotary cutter", None, "yes", ("overrunning coupler, 6 splines, 1 3/8 in",)),
        (False, "rotary cutter", True, "yes", ()),
        (False, "boom sprayer", None, "yes", ()),
        (True, "rotary cutter", None, "yes", ()),
        (None, "rotary cutter", None, "unknown", ()),
    ],
)
def test_a_rotor_on_an_old_tractor_takes_an_overrunning_coupler(
    overruns: bool | None, machine: Any, has_one: bool | None, verdict: str, brought: tuple[str, ...]
) -> None:
    cutter = replace(CUTTER, machine=machine, overrunning_coupler=has_one)
    tractor = replace(TRACTOR, pto_overruns=overruns)
    assert answer("PTO", tractor, cutter) == verdict
    assert rig_check(tractor, cutter).bring == brought


@pytest.mark.parametrize(("guarded", "verdict"), [(True, "yes"), (False, "no"), (None, "unknown")])
def test_shields(guarded: bool | None, verdict: str) -> None:
    assert answer("PTO", TRACTOR, replace(CUTTER, pto_guarded=guarded)) == verdict


@pytest.mark.parametrize(("length_in", "verdict"), [(14, "yes"), (20, "unknown"), (None, "unknown")])
def test_the_drawbar_of_a_pulled_and_driven_implement(length_in: float | None, verdict: str) -> None:
    pulled = replace(CUTTER, attaches="drawbar", drawbar_pin_in=1.25)
    assert answer("PTO", replace(TRACTOR, pto_to_drawbar_pin_in=length_in), pulled) == verdict


def test_two_hoses_are_one_remote_and_lift_and_tilt_are_two() -> None:
    """Source: ISO 10448, coupler pair."""
    assert [remotes_needed(count).value for count in (1, 2, 3)] == [1, 2, 3]
    assert remotes_needed(2, 1, 1).value == 4


@pytest.mark.parametrize(
    ("has", "circuits", "hoses", "verdict"),
    [
        (1, 1, None, "yes"),
        (1, 2, None, "no"),
        (2, 2, None, "yes"),
        (0, 1, None, "no"),
        (None, 1, None, "unknown"),
        (1, None, 2, "yes"),
        (1, None, 4, "no"),
        (2, None, 3, "unknown"),
        (2, None, None, "unknown"),
    ],
)
def test_remotes(has: int | None, circuits: int | None, hoses: int | None, verdict: str) -> None:
    rig = replace(TRACTOR, remotes=has), replace(DRILL, double_acting=circuits, hoses=hoses)
    assert answer("hydraulics", *rig) == verdict


@pytest.mark.parametrize(
    ("change", "verdict"),
    [
        ({}, "yes"),
        ({"free_return": False}, "no"),
        ({"free_return": None}, "unknown"),
        ({"remote_gpm": 5}, "no"),
        ({"remote_gpm": None}, "unknown"),
    ],
)
def test_a_motor_needs_its_return_and_its_flow(change: dict[str, Any], verdict: str) -> None:
    fan = replace(DRILL, motors=1, motor_gpm=8)
    assert answer("hydraulics", replace(TRACTOR, remotes=2, **change), fan) == verdict


@pytest.mark.parametrize(("floats", "verdict"), [(True, "yes"), (False, "no"), (None, "unknown")])
def test_a_single_acting_cylinder_needs_float(floats: bool | None, verdict: str) -> None:
    drill = replace(DRILL, double_acting=0, single_acting=1)
    assert answer("hydraulics", replace(TRACTOR, remote_floats=floats), drill) == verdict


@pytest.mark.parametrize(
    ("series", "size_in", "verdict", "words"),
    [
        ("A", 0.5, "yes", "one series and size"),
        (
            "flat face",
            0.5,
            "yes",
            "2 coupler adapters: tip agricultural (ISO 7241 series A) 1/2 in at the tractor's end, "
            "socket flat face (ISO 16028) 1/2 in at the hose's end",
        ),
        ("A", 0.375, "yes", "socket agricultural (ISO 7241 series A) 3/8 in at"),
        ("A", None, "unknown", "Measure both ends"),
        (None, 0.5, "unknown", "Compare the ends"),
    ],
)
def test_couplers(series: Any, size_in: float | None, verdict: str, words: str) -> None:
    drill = replace(DRILL, hose_coupler=series, hose_coupler_size_in=size_in)
    assert answer("hydraulics", TRACTOR, drill) == verdict
    assert words in said("hydraulics", TRACTOR, drill)


def test_series_between_which_no_adapter_is_known_do_not_go_together() -> None:
    drill = replace(DRILL, hose_coupler="flat face")
    assert answer("hydraulics", replace(TRACTOR, coupler="old"), drill) == "no"


def test_power_at_once_is_summed() -> None:
    """Source: by hand, 30 hp turning and 18 hp pulling at a share of 72 %: 55 hp."""
    assert pto_power_needed(30, 18, 72).value == pytest.approx(55)


@pytest.mark.parametrize(
    ("pto", "drawbar", "verdict", "words"),
    [
        (40, None, "yes", "needs 40 hp at the PTO; the tractor has 60 hp"),
        (61, None, "no", "needs 61 hp"),
        (0, 48, "yes", "needs 48 hp at the drawbar; the tractor has 48 hp"),
        (0, 49, "no", "needs 49 hp at the drawbar"),
        (30, 24, "yes", "pulling and turning together"),
        (31, 24, "no", "needs 61 hp at the PTO, pulling and turning together"),
        (None, None, "unknown", "A rotary cutter usually asks for 25 to 100 hp"),
    ],
)
def test_power(pto: float | None, drawbar: float | None, verdict: str, words: str) -> None:
    cutter = replace(CUTTER, pto_hp=pto, drawbar_hp=drawbar)
    assert answer("power", TRACTOR, cutter) == verdict
    assert words in said("power", TRACTOR, cutter)


def test_power_of_a_tractor_that_nobody_has_read() -> None:
    assert answer("power", Tractor(), CUTTER) == "unknown"
    assert answer("power", Tractor(pto_hp=25), replace(DRILL, drawbar_hp=18)) == "yes"
    assert answer("power", Tractor(pto_hp=24), replace(DRILL, drawbar_hp=18)) == "no"


@pytest.mark.parametrize(
    ("weight", "load", "behind", "verdict"),
    [
        (2000, 500, 24, "yes"),
        (2000, 501, 24, "no"),
        (2400, 0, 40, "unknown"),
        (2600, 0, 40, "no"),
        (2600, 0, 12, "unknown"),
        (3400, 0, 12, "no"),
        (2000, None, 24, "unknown"),
        (3400, None, None, "no"),
        (2000, 0, None, "unknown"),
    ],
)
def test_lift(weight: float, load: float | None, behind: float | None, verdict: str) -> None:
    cutter = replace(CUTTER, weight_lb=weight, load_lb=load, balance_in=behind)
    assert answer("lift", TRACTOR, cutter) == verdict


def test_the_front_axle_by_hand() -> None:
    """Source: 2,000 lb less 900 × 54 / 80, of 5,000 lb: 27.85 %."""
    assert front_axle_pct(2000, 900, 54, 80, 5000).value == pytest.approx(27.85)


def test_ballast() -> None:
    heavy = replace(CUTTER, weight_lb=2000)
    assert answer("ballast", TRACTOR, CUTTER) == "yes"
    assert answer("ballast", TRACTOR, heavy) == "no"
    assert answer("ballast", replace(TRACTOR, wheelbase_in=None), heavy) == "unknown"
    assert not points("ballast", TRACTOR, DRILL)
    assert "lifts off the ground" in said("ballast", TRACTOR, replace(CUTTER, weight_lb=3000))


def test_the_front_weights_that_are_named_are_enough() -> None:
    """Source: 650 lb on the front axle of 5,000; with 438 lb over it, 1,088 of 5,438 is 20 %."""
    (point,) = points("ballast", TRACTOR, replace(CUTTER, weight_lb=2000))
    assert point.bring == "front weights of 438 lb, counted over the front axle"
    assert point.figure and point.figure.value == pytest.approx(13)
    more = replace(TRACTOR, weight_lb=5438, front_axle_lb=2438)
    assert answer("ballast", more, replace(CUTTER, weight_lb=2000)) == "yes"


@pytest.mark.parametrize(
    ("slope_pct", "change", "verdict", "words"),
    [
        (8, {}, "yes", "8 % (4.6 degrees)"),
        (8, {"slope_limit_pct": 5}, "no", "5 % for the tractor"),
        (12, {}, "yes", "on the contour"),
        (12, {"slope_limit_pct": None}, "unknown", "tractor's manual"),
        (18, {}, "unknown", "Rear track 60 in, widest 76 in"),
        (18, {"track_in": 76}, "yes", "track is set wide"),
        (22, {"track_in": 76}, "no", "20 % for the implement"),
        (None, {}, "unknown", "steepest part"),
    ],
)
def test_slope(slope_pct: float | None, change: dict[str, Any], verdict: str, words: str) -> None:
    tractor = replace(TRACTOR, **change)
    assert answer("width", tractor, CUTTER, slope_pct=slope_pct) == verdict
    assert words in said("width", tractor, CUTTER, slope_pct=slope_pct)


def test_over_27_pct_a_person_decides_whatever_the_manuals_say() -> None:
    tractor = replace(TRACTOR, track_in=76, slope_limit_pct=45)
    cutter = replace(CUTTER, slope_limit_pct=45)
    assert answer("width", tractor, cutter, slope_pct=30) == "unknown"
    assert answer("width", tractor, cutter, slope_pct=27) == "yes"
    assert "planned across" in said("width", tractor, cutter, slope_pct=30)


def test_facts_are_read_strictly() -> None:
    read = TypeAdapter(Implement).validate_json
    assert read('{"hitch": "1", "weight_lb": 900}') == Implement(hitch="1", weight_lb=900)
    for wrong in ('{"hitch": "5"}', '{"weight_lb": -1}', '{"weight_lb": "900"}', '{"hich": "1"}'):
        with pytest.raises(ValidationError):
            read(wrong)
    with pytest.raises(ValueError, match="which truck"):
        Road(trailer=Trailer())


def test_the_check_is_reckoned_by_name() -> None:
    given: dict[str, dict[str, Any]] = {
        "tractor": {"hitches": ["2"], "quick_coupler": "none"},
        "implement": {"attaches": "three-point", "hitch": "1", "pto_driven": False, "hoses": 0},
    }
    found = reckon("rig_check", json.dumps({**given, "slope_pct": 6, "road": {}}))
    assert found["verdict"] == "unknown"
    assert found["points"]["1 hitch"]["bring"].startswith("2 lower hitch bushings")
    with pytest.raises(BadInput, match="tractor.hitches"):
        reckon("rig_check", json.dumps({**given, "tractor": {"hitches": ["9"]}}))


@pytest.mark.parametrize(
    ("value", "shown"), [(1.4375, "1 7/16 in"), (2, "2 in"), (0.875, "7/8 in"), (0, "0 in")]
)
def test_inches_as_a_rule_shows_them(value: float, shown: str) -> None:
    assert rig_tables.inches(value) == shown


def test_an_adapter_between_two_speeds_is_refused(tmp_path: Path) -> None:
    rows = tuple(rig_tables.pto_adapters().values())
    assert rig_tables.one_speed(rows) == rows
    with pytest.raises(TableError, match="never adapted"):
        rig_tables.one_speed((replace(rows[0], implement="type 2"),))
    with pytest.raises(TableError, match="stands twice"):
        rig_tables.by_pair("pto_adapters", (rows[0], rows[0]))


def test_a_hitch_whose_pins_are_turned_round_is_refused(tmp_path: Path) -> None:
    text = (rig_tables.FOLDER / "hitch_categories.csv").read_text()
    table = tmp_path / "hitch_categories.csv"
    table.write_text(text.replace("2,1.125,1,34", "2,1,1.125,34"))
    with pytest.raises(TableError, match="upper_pin_in"):
        read_table(table, rig_tables.Hitch)
