"""Loading: weights by lot and box, products by load, what a drill and a sprayer let out, what goes along."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from plans.planning import loading, tables
from plans.planning.buying import SeedStock, SeedTest, ShelfStock, buy_list, needs_of
from plans.planning.loading import LoadingList, LoadLine, loading_list
from plans.planning.loading_rig import CheckedRig, Drill, Rig, Sprayer
from plans.planning.plan import Plan
from plans.planning.rig_facts import RigCheck, unknown, yes
from plans.planning.seed import drill_lb_per_acre
from tests.planning import make

DRILL = "no_till_drilling"
FIELD = "Ridge Pasture"


def lines(found: LoadingList, key: str) -> tuple[LoadLine, ...]:
    return next((section.lines for section in found.sections if section.key == key), ())


def value(line: LoadLine) -> float:
    assert line.amount is not None
    return float(line.amount.value)


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Ten acres of three grasses, sprayed from a tank of 100 gal at 15 gal/acre."""
    terms = make.terms(tank_gal=100.0, carrier_gal_per_acre=15.0)
    return make.plan(make.conversion(acres=10.0, mix=make.grass_mix()), terms=terms)


def test_a_box_holds_its_lots_and_lets_out_bulk_seed_with_its_carrier(plan: Plan) -> None:
    """25, 20 and 20 lb PLS at 61.92, 60.2 and 48.36 % are 40.375, 33.223 and 41.356 lb bulk."""
    drill = Drill(openers=5, spacing_in=7.5, carrier="rice hulls", carrier_lb_per_acre=(("chaffy", 8.0),))
    found = loading_list(plan, DRILL, [FIELD], rig=Rig(drill=drill))
    weighed = {one.species: one.bulk_lb and one.bulk_lb.value for one in found.weights}
    assert weighed == pytest.approx(
        {"big bluestem": 40.3747, "indiangrass": 33.2226, "little bluestem": 41.3565}, abs=1e-4
    )
    (box,) = found.boxes
    assert box.lb_per_acre is not None and box.catch_g is not None and box.carrier_lb is not None
    assert box.lb_per_acre.value == pytest.approx(11.49538 + 8, abs=1e-4)
    assert box.carrier_lb.value == 80
    caught = drill_lb_per_acre(float(box.catch_g.value), 5, 7.5, 100)
    assert caught.value == pytest.approx(box.lb_per_acre.value)
    assert value(lines(found, "carrier")[0]) == 80


def test_seed_set_apart_for_the_field_is_weighed_by_its_own_lots(plan: Plan) -> None:
    half = SeedTest(purity_pct=50, germination_pct=100, tested_on=date(2027, 9, 1))
    shed = [SeedStock(species="big bluestem", lot=name, test=half, bulk_lb=24) for name in ("A", "B")]
    uses = [
        use for line in buy_list(needs_of(plan, "1"), shed, [], date(2030, 1, 1)).lines for use in line.uses
    ]
    found = loading_list(plan, DRILL, [FIELD], uses=uses)
    lots = [(one.lot, one.pls_lb.value, one.bulk_lb and one.bulk_lb.value) for one in found.weights]
    assert lots[:2] == [("A", 12, 24), ("B", 12, 24)]
    assert lots[2] == ("", pytest.approx(1), None)
    assert found.boxes[0].lb_per_acre is None
    assert "no lot yet: 1 lb PLS" in lines(found, "seed")[2].note


def test_products_go_load_by_load_and_by_container(plan: Plan) -> None:
    """100 gal is 6 2/3 acres at 64 fl oz: 426.7 fl oz, a jug of 2.5 gal and 106.7; 3 1/3 acres are left."""
    found = loading_list(plan, "boom_spraying", [FIELD], containers={"glyphosate, 3 lb/gal": 2.5})
    product = [line for line in lines(found, "products") if line.what.startswith("glyphosate")]
    assert [value(line) for line in product] == pytest.approx([426.667, 213.333, 5], abs=1e-3)
    assert product[0].note == "1 whole and 106.67 fl oz"
    assert product[2].note == "2 × 2.5 gal to load"
    assert "last load of 50 gal" in product[1].where
    assert value(lines(found, "water")[-1]) == 150


def test_a_nozzle_lets_out_the_gallons_an_acre_in_ounces(plan: Plan) -> None:
    """20 in between nozzles: 204.2 ft; at 5 mph 27.8 s. Source: LSU AgCenter, Ounces Equal Gallons."""
    rig = Rig(sprayer=Sprayer(nozzle_spacing_in=20, speed_mph=5))
    catch, flow = lines(loading_list(plan, "boom_spraying", [FIELD], rig=rig), "calibration")
    assert value(catch) == 15
    assert catch.note.startswith("over 204.19 ft in 27.84 s")
    assert value(flow) == pytest.approx(15 * 5 * 20 / 5940)
    assert value(catch) / 128 / (27.844 / 60) == pytest.approx(value(flow), rel=1e-3)


def test_fuel_is_hours_by_horsepower() -> None:
    """Source: Iowa State University AgDM A3-29: 180 hp take 7.92 gal of diesel an hour."""
    plan = make.plan()
    found = loading_list(plan, DRILL, [FIELD], rig=Rig(pto_hp=180))
    (fuel,) = lines(found, "fuel")
    assert value(fuel) / float(found.hours.value) == pytest.approx(7.92)
    assert "7.92 gal/h" in fuel.note
    (unknown,) = lines(loading_list(plan, DRILL, [FIELD]), "fuel")
    assert unknown.amount is None and "horsepower" in unknown.note


def test_what_goes_along_depends_on_the_work_and_on_the_ground() -> None:
    wet = make.conversion(field="Wet", water_within_ft=40.0, sensitive_neighbours="an orchard")
    plan = make.plan(make.conversion(field="Dry"), wet)
    point = yes("hitch", "fits", "x", bring="<b>pin")
    asks = unknown("PTO", "?", "count the splines", "x", bring="<b>pin")
    check = CheckedRig(machines="Tractor", fields=("Wet", "Dry"), check=RigCheck((point, asks)))
    found = loading_list(plan, "boom_spraying", ["Wet", "Dry"], rig=Rig(checks=(check,)))
    strip = [line for line in lines(found, "tools") if "strip beside water" in line.what]
    notice = [line for line in lines(found, "documents") if "neighbors had" in line.what]
    assert [line.where for line in strip + notice] == ["Wet", "Wet"]
    assert [(line.what, line.where) for line in lines(found, "adapters")] == [("<b>pin", "")]
    assert [line.what for line in lines(found, "look")] == ["count the splines"]
    other = CheckedRig(machines="Other", fields=("Dry",), check=RigCheck((point,)))
    both = loading_list(
        plan, "boom_spraying", ["Wet", "Dry"], rig=Rig(checks=(replace(check, fields=("Wet",)), other))
    )
    assert [(line.what, line.where) for line in lines(both, "adapters")] == [("<b>pin", "Wet, Dry")]
    assert any("gloves" in line.what for line in lines(found, "protective"))
    dry = loading_list(plan, "boom_spraying", ["Dry"])
    assert not [line for line in lines(dry, "tools") if "strip beside water" in line.what]


def test_a_product_names_its_lots_in_the_shed_and_what_none_has(plan: Plan) -> None:
    name = "glyphosate, 3 lb/gal"
    whole = next(n for n in needs_of(plan, "1") if n.name == name)
    shelf = [ShelfStock(kind="product", name=name, unit="gal", amount=1.0, lot="J", key="7")]
    uses = [use for line in buy_list([whole], shelf, [], date(2030, 1, 1)).lines for use in line.uses]
    assert [use.stock_key for use in uses] == ["7"]
    found = lines(loading_list(plan, "boom_spraying", [FIELD], uses=uses), "products")
    by_where = {line.where: value(line) for line in found if line.what.startswith(name)}
    assert by_where["out of the shed"] == 1
    assert by_where["not in the shed"] == pytest.approx(by_where["all fields"] - 1)
    assert not any(
        "shed" in one.where for one in lines(loading_list(plan, "boom_spraying", [FIELD]), "products")
    )


def test_the_day_chooses_the_task(plan: Plan) -> None:
    sprays = [task for task in plan.tasks if task.operation == "boom_spraying"]
    assert loading_list(plan, "boom_spraying", [FIELD]).tasks == (sprays[0],)
    assert loading_list(plan, "boom_spraying", [FIELD], on=sprays[1].latest).tasks == (sprays[1],)


def test_a_field_without_the_work_is_refused_by_name(plan: Plan) -> None:
    with pytest.raises(ValueError, match="'Elsewhere' has no step"):
        loading_list(plan, DRILL, [FIELD, "Elsewhere"])
    with pytest.raises(ValueError, match="at least one"):
        loading_list(plan, DRILL, [])


def test_every_kind_of_work_has_its_list() -> None:
    operations = {name for row in loading.loading_rows() for name in row.operations} - {"all"}
    assert operations <= tables.operations().keys()
    for operation in tables.operations():
        for section in ("tools", "documents"):
            rows = [row for row in loading.loading_rows() if row.section == section]
            assert [row for row in rows if {"all", operation} & set(row.operations)]


def test_the_same_question_gets_the_same_list_whatever_the_order(plan: Plan) -> None:
    two = make.plan(make.conversion(field="A"), make.conversion(field="B"))
    assert loading_list(two, DRILL, ["B", "A", "A"]) == loading_list(two, DRILL, ["A", "B"])


def test_a_step_on_part_of_the_field_takes_part_of_the_seed(plan: Plan) -> None:
    tasks = tuple(replace(task, acres=2.5) if task.operation == DRILL else task for task in plan.tasks)
    found = loading_list(replace(plan, tasks=tasks), DRILL, [FIELD])
    whole = loading_list(plan, DRILL, [FIELD])
    assert value(lines(found, "seed")[-1]) == pytest.approx(value(lines(whole, "seed")[-1]) / 4)
    assert found.boxes[0].lb_per_acre and whole.boxes[0].lb_per_acre
    assert found.boxes[0].lb_per_acre.value == pytest.approx(whole.boxes[0].lb_per_acre.value)
