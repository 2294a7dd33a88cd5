"""JSON in: what cannot be used is refused by name, with the value and what is allowed."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from typing import Any

import pytest

from plans.planning.planner import plan_job
from plans.planning.wire import BadInput, job_file_json, job_schema, read_job_file, read_plan
from tests.planning import make

Change = Callable[[dict[str, Any]], Any]


def put(path: str, value: Any) -> Change:
    """Sets `job.conversions.0.acres`."""
    *way, last = path.split(".")

    def change(file: dict[str, Any]) -> None:
        at: Any = file
        for key in way:
            at = at[int(key)] if key.isdigit() else at[key]
        at[int(last) if last.isdigit() else last] = value

    return change


def drop(path: str) -> Change:
    *way, last = path.split(".")

    def change(file: dict[str, Any]) -> None:
        at: Any = file
        for key in way:
            at = at[int(key)] if key.isdigit() else at[key]
        del at[last]

    return change


def text(change: Change) -> str:
    file = copy.deepcopy(json.loads(make.EXAMPLE.read_text()))
    change(file)
    return json.dumps(file)


FIRST = "job.conversions.0"
REFUSED = [
    (put(f"{FIRST}.acre", 5), f"{FIRST}.acre", "5", "no key"),
    (put(f"{FIRST}.acres", float("nan")), f"{FIRST}.acres", "NaN", "finite"),
    (put(f"{FIRST}.acres", float("inf")), f"{FIRST}.acres", "Infinity", "finite"),
    (put(f"{FIRST}.acres", -3), f"{FIRST}.acres", "-3", "greater than 0"),
    (put(f"{FIRST}.acres", 0), f"{FIRST}.acres", "0", "greater than 0"),
    (put(f"{FIRST}.acres", 100_001), f"{FIRST}.acres", "100001", "100000"),
    (put(f"{FIRST}.acres", "11"), f"{FIRST}.acres", '"11"', "number"),
    (put(f"{FIRST}.acres", True), f"{FIRST}.acres", "true", "number"),
    (put(f"{FIRST}.slope_pct", -1), f"{FIRST}.slope_pct", "-1", "greater than or equal to 0"),
    (put(f"{FIRST}.cover", "moss"), f"{FIRST}.cover", '"moss"', "cool-season sod"),
    (put(f"{FIRST}.purpose", "lawn"), f"{FIRST}.purpose", '"lawn"', "pollinators"),
    (put(f"{FIRST}.thatch", "deep"), f"{FIRST}.thatch", '"deep"', "heavy"),
    (put(f"{FIRST}.start_on", "2027-02-30"), f"{FIRST}.start_on", "2027-02-30", "date"),
    (put(f"{FIRST}.start_on", "9999-12-31"), f"{FIRST}.start_on", "9999-12-31", "2200-12-31"),
    (put(f"{FIRST}.broadcast_factor", 0.5), f"{FIRST}.broadcast_factor", "0.5", "greater than or equal to 1"),
    (
        put(f"{FIRST}.rates_lb_per_acre", {"kill_fall": -1}),
        "rates_lb_per_acre.kill_fall",
        "-1",
        "greater than 0",
    ),
    (put(f"{FIRST}.mix.lines", []), f"{FIRST}.mix.lines", "[]", "at least 1"),
    (put(f"{FIRST}.mix.lines.0.amount", 27), f"{FIRST}.mix", "101", "100"),
    (put(f"{FIRST}.mix.lines.0.species", "indiangrass"), f"{FIRST}.mix", "indiangrass", "one line"),
    (put(f"{FIRST}.mix.basis", "percent"), f"{FIRST}.mix.basis", '"percent"', "share of weight"),
    (drop(f"{FIRST}.mix.seeds_per_sqft"), f"{FIRST}.mix", "seeds_per_sqft", "needed"),
    (put("job.conversions.1.field", "Ridge Pasture"), "job", "Ridge Pasture", "must differ"),
    (put("job.conversions", []), "job.conversions", "[]", "at least 1"),
    (drop("job.farm"), "job.farm", "missing", "must be given"),
    (drop("prices"), "prices", "missing", "must be given"),
    (put("job.client.name", ""), "job.client.name", '""', "at least 1"),
    (put("job.client.name", "x" * 201), "job.client.name", "xxx", "at most 200"),
    (put("job.climate.monthly_mean_f", [50.0] * 11), "job.climate", "11", "12"),
    (put("job.climate.monthly_mean_f.3", 500), "job.climate.monthly_mean_f.3", "500", "120"),
    (put("job.climate.first_fall_freeze", "02-30"), "job.climate.first_fall_freeze", "02-30", "pattern"),
    (put("job.terms.years", 6), "job.terms.years", "6", "5"),
    (put("job.terms.years", 2.5), "job.terms.years", "2.5", "integer"),
    (put("job.terms.pricing", "guess"), "job.terms.pricing", '"guess"', "markup on cost"),
    (put("job.terms.pricing_pct", 100), "job.terms", "pricing_pct", "100 %"),
    (put("job.terms.stages.0.share_pct", 20), "job.terms", "95", "100"),
    (put("job.terms.tank_gal", 0), "job.terms.tank_gal", "0", "greater than or equal to 1"),
    (put("prices.seed.0.germination_pct", 95), "prices.seed.0", "103", "100"),
    (put("prices.seed.0.purity_pct", 0), "prices.seed.0.purity_pct", "0", "greater than 0"),
    (put("prices.seed.0.basis", "bag"), "prices.seed.0.basis", '"bag"', "'PLS' or 'bulk'"),
    (
        put("prices.seed.0.price_usd_per_lb", "-1"),
        "prices.seed.0.price_usd_per_lb",
        "-1",
        "greater than or equal",
    ),
    (put("prices.seed.0.price_usd_per_lb", "NaN"), "prices.seed.0.price_usd_per_lb", "NaN", "finite"),
    (put("prices.products.0.lb_active_per_gal", None), "prices.products.0", "lb_active_per_gal", "needed"),
    (put("prices.products.0.form", "gas"), "prices.products.0.form", '"gas"', "dry"),
    (put("prices.adjuvants.0.kind", "soap"), "prices.adjuvants.0.kind", '"soap"', "non-ionic surfactant"),
    (put("prices.work.0.basis", "day"), "prices.work.0.basis", '"day"', "hour"),
]


@pytest.mark.parametrize(("change", "where", "given", "allowed"), REFUSED, ids=[case[1] for case in REFUSED])
def test_bad_input_is_named(change: Change, where: str, given: str, allowed: str) -> None:
    with pytest.raises(BadInput) as caught:
        read_job_file(text(change))
    (problem,) = caught.value.problems
    assert problem.startswith(where) or f".{where}" in problem.split(":")[0]
    assert given in problem
    assert allowed in problem


UNPLANNABLE = [
    (put(f"{FIRST}.kill_program", "salt"), "Ridge Pasture", "'salt'", "sod_fall_spring"),
    (put(f"{FIRST}.seeding", "by hand"), "Ridge Pasture", "'by hand'", "dormant"),
    (put(f"{FIRST}.mix.lines.0.species", "moon grass"), "Upland bunchgrass", "'moon grass'", "species.csv"),
    (put("prices.work.0.operation", "sorcery"), "prices.work.0.operation", "'sorcery'", "boom_spraying"),
    (put("prices.work.1.operation", "boom_spraying"), "prices.work", "'boom_spraying'", "two rates"),
]


@pytest.mark.parametrize(
    ("change", "where", "given", "allowed"), UNPLANNABLE, ids=[case[2] for case in UNPLANNABLE]
)
def test_what_no_table_knows_is_named(change: Change, where: str, given: str, allowed: str) -> None:
    file = read_job_file(text(change))
    with pytest.raises(ValueError) as caught:
        plan_job(file.job, file.prices, make.TODAY)
    for words in (where, given, allowed):
        assert words in str(caught.value)


def test_every_problem_is_told_at_once() -> None:
    def two(file: dict[str, Any]) -> None:
        put(f"{FIRST}.acres", -1)(file)
        put("job.terms.years", 9)(file)

    with pytest.raises(BadInput) as caught:
        read_job_file(text(two))
    assert len(caught.value.problems) == 2


@pytest.mark.parametrize("raw", ["", "{", "[]", "null", '"job"', "\x00", '{"job": 1}'])
def test_what_is_no_job_file_is_refused(raw: str) -> None:
    for read in (read_job_file, read_plan):
        with pytest.raises(BadInput):
            read(raw)


def test_a_refused_field_is_not_told_again_as_a_field_that_is_missing() -> None:
    raw = json.loads(make.EXAMPLE.read_text())
    raw["job"]["conversions"] = raw["job"]["conversions"][:1]
    raw["job"]["conversions"][0]["acres"] = -1
    with pytest.raises(BadInput) as caught:
        read_job_file(json.dumps(raw))
    (problem,) = caught.value.problems
    assert problem.startswith("job.conversions.0.acres: ")
    raw["job"]["conversions"] = []
    with pytest.raises(BadInput, match="job.conversions: Tuple should have at least 1 item"):
        read_job_file(json.dumps(raw))


def test_a_job_file_comes_back_as_it_was() -> None:
    file = make.example()
    assert read_job_file(job_file_json(file.job, file.prices)) == file


def test_text_is_text() -> None:
    """Markup, formulas and other scripts' letters pass through untouched."""
    for name in ("<b>&amp; O'Brien</b>", "=1+1", "草地", "Ærø\nÅse"):
        file = read_job_file(text(put("job.client.name", name)))
        assert file.job.client.name == name


def schema_objects(schema: Any) -> list[dict[str, Any]]:
    if isinstance(schema, dict):
        found = [schema] if schema.get("type") == "object" and "properties" in schema else []
        return found + [inner for part in schema.values() for inner in schema_objects(part)]
    if isinstance(schema, list):
        return [inner for part in schema for inner in schema_objects(part)]
    return []


def test_the_schema_describes_the_example() -> None:
    schema = job_schema()
    assert set(schema["properties"]) == {"job", "prices"} == set(schema["required"])
    for described in schema_objects(schema):
        assert described["additionalProperties"] is False
        assert set(described.get("required", ())) <= described["properties"].keys()
    conversion = schema["$defs"]["Conversion"]["properties"]
    assert json.loads(make.EXAMPLE.read_text())["job"]["conversions"][0].keys() <= conversion.keys()
    assert conversion["acres"]["exclusiveMinimum"] == 0
    assert "cool-season sod" in conversion["cover"]["enum"]
    assert "raised" in conversion["broadcast_factor"]["description"]


def test_the_schemas_references_lead_somewhere() -> None:
    schema = job_schema()
    named = [line.split('"')[3] for line in json.dumps(schema, indent=1).splitlines() if '"$ref"' in line]
    assert named
    assert {name.removeprefix("#/$defs/") for name in named} <= schema["$defs"].keys()
