"""`plan_job` and `reckon` from the command line: status 2 and the field by name, the same bytes twice."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from plans.planning.wire import plan_json, read_plan
from tests.planning import make

ROOT = Path(__file__).parents[2]
EXAMPLE = str(make.EXAMPLE)
TODAY = ("--today", "2026-11-25")


def run(*words: str) -> tuple[int, str, str]:
    """Exit status, output and error stream of a command in this process."""
    out, err = io.StringIO(), io.StringIO()
    try:
        call_command(*words, stdout=out, stderr=err, no_color=True)
    except SystemExit as stop:
        return int(stop.code or 0), out.getvalue(), err.getvalue()
    return 0, out.getvalue(), err.getvalue()


def reckoned(name: str, **inputs: Any) -> Any:
    status, out, err = run("reckon", name, json.dumps(inputs))
    assert (status, err) == (0, "")
    return json.loads(out)


def test_plan_job_prints_the_plan() -> None:
    status, out, err = run("plan_job", EXAMPLE, *TODAY)
    assert (status, err) == (0, "")
    file = make.example()
    assert read_plan(out) == make.plan_job(file.job, file.prices, make.TODAY)
    keys = ["job", "today", "findings", "seed", "seed_needs", "tanks", "tasks", "estimate", "season"]
    assert [key for key in json.loads(out) if key in keys] == keys


def test_the_same_input_and_day_give_the_same_bytes(tmp_path: Path) -> None:
    papers = [tmp_path / "first.pdf", tmp_path / "second.pdf"]
    outs = [run("plan_job", EXAMPLE, *TODAY, "--pdf", str(paper))[1] for paper in papers]
    assert outs[0] == outs[1]
    assert papers[0].read_bytes() == papers[1].read_bytes()
    assert papers[0].read_bytes().startswith(b"%PDF-")


def test_another_day_gives_another_plan() -> None:
    late = read_plan(run("plan_job", EXAMPLE, "--today", "2027-11-20")[1])
    assert any(finding.rule == "window_past" for finding in late.findings)


@pytest.mark.parametrize(
    "command",
    [("plan_job", EXAMPLE, *TODAY), ("reckon", "pls_pct", '{"purity_pct": 90, "germination_pct": 80}')],
)
def test_it_needs_neither_settings_nor_a_database(tmp_path: Path, command: tuple[str, ...]) -> None:
    """A process of its own, with an empty environment, twice."""
    clean = {"PATH": os.environ["PATH"], "DATABASE_URL": "postgres://nobody@127.0.0.1:1/none"}
    runs = [
        subprocess.run(
            [sys.executable, str(ROOT / "manage.py"), *command],
            env=clean | {"PYTHONHASHSEED": seed},
            cwd=tmp_path,
            capture_output=True,
            check=False,
        )
        for seed in ("1", "2")
    ]
    assert [(run.returncode, run.stderr) for run in runs] == [(0, b""), (0, b"")]
    assert runs[0].stdout == runs[1].stdout
    assert json.loads(runs[0].stdout)


def test_a_job_from_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(make.EXAMPLE.read_text()))
    file = make.example()
    assert run("plan_job", "-", *TODAY)[1].strip() == plan_json(
        make.plan_job(file.job, file.prices, make.TODAY)
    )


def test_the_schema_is_printed() -> None:
    status, out, _ = run("plan_job", "--schema")
    schema = json.loads(out)
    assert status == 0
    assert set(schema["properties"]) == {"job", "prices"}
    assert schema["additionalProperties"] is False


def bad_job(tmp_path: Path, **changes: Any) -> str:
    file = json.loads(make.EXAMPLE.read_text())
    file["job"]["conversions"][0] |= changes
    path = tmp_path / "job.json"
    path.write_text(json.dumps(file))
    return str(path)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"acres": -1}, ("job.conversions.0.acres", "-1", "greater than 0")),
        ({"acre": 1}, ("job.conversions.0.acre", "no key")),
        ({"kill_program": "salt"}, ("kill_program", "'salt'", "sod_fall_spring")),
        ({"start_on": "soon"}, ("job.conversions.0.start_on", '"soon"', "date")),
        ({"log": [{"step": "clip_1", "on": "2028-06-01"}]}, ("log", "'clip_1'", "'drill'")),
        ({"log": [{"step": "kill_fall", "on": "2027-10-01"}]}, ("log", "'kill_fall'", "2027-10-01", "after")),
    ],
)
def test_a_bad_job_exits_2_and_names_the_field(
    tmp_path: Path, changes: dict[str, Any], words: tuple[str, ...]
) -> None:
    status, out, err = run("plan_job", bad_job(tmp_path, **changes), *TODAY)
    assert (status, out) == (2, "")
    assert "Traceback" not in err
    for word in words:
        assert word in err


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("plan_job",), "job: is missing"),
        (("plan_job", "nowhere.json"), "nowhere.json cannot be read"),
        (("plan_job", EXAMPLE, "--today", "tomorrow"), "--today: 'tomorrow'"),
        (("plan_job", EXAMPLE, "--today", "9999-12-31"), "today: 9999-12-31"),
        (("plan_job", EXAMPLE, *TODAY, "--pdf", "/nowhere/at/all.pdf"), "--pdf: /nowhere/at/all.pdf"),
        (("reckon",), "name: is missing"),
        (("reckon", "luck", "{}"), "name: 'luck' is not one of: pls_pct"),
        (("reckon", "pls_pct", "{"), "Invalid JSON"),
        (("reckon", "pls_pct", "[]"), "object"),
        (("reckon", "pls_pct", "{}"), "purity_pct: is missing"),
        (("reckon", "pls_pct", '{"purity_pct": 101, "germination_pct": 5}'), "purity_pct: Input should be l"),
        (("reckon", "pls_pct", '{"purity_pct": 90, "germination_pct": 95, "dormant_pct": 9}'), "dormant_pct"),
        (("reckon", "pls_pct", '{"purity_pct": NaN, "germination_pct": 5}'), "purity_pct"),
        (("reckon", "pls_pct", '{"purity_pct": "90", "germination_pct": 5}'), 'given "90"'),
        (("reckon", "pls_pct", '{"purity_pct": 90, "germination_pct": 5, "hope": 1}'), "hope: "),
        (("reckon", "speed_mph", '{"distance_ft": 88, "seconds": 0}'), "seconds: Input should be greater"),
        (("reckon", "slope", '{"rise_ft": 1, "run_ft": 0}'), "run_ft: Input should be greater"),
        (("reckon", "mix", '{"seeds_per_sqft": 30, "acres": 1, "lines": []}'), "lines: "),
    ],
)  # fmt: skip
def test_bad_use_exits_2_and_says_what_is_allowed(words: tuple[str, ...], named: str) -> None:
    status, out, err = run(*words)
    assert (status, out) == (2, "")
    assert named in err


def test_shares_of_a_mix_must_sum() -> None:
    line = {"seeds_per_lb": 1000, "share_of_seed_pct": 60, "purity_pct": 90, "germination_pct": 80}
    status, _, err = run("reckon", "mix", json.dumps({"seeds_per_sqft": 30, "acres": 1, "lines": [line]}))
    assert status == 2
    assert "lines: the shares of seed sum to 60 %" in err


LINE = {"seeds_per_lb": 150_000, "share_of_seed_pct": 100, "purity_pct": 80, "germination_pct": 70}
DORMANT = {"dormant_pct": 0}
MIX = {"seeds_per_sqft": 30, "acres": 4, "lines": [LINE]}
TANK = {"acres": 37, "gal_per_acre": 15, "tank_gal": 300, "rate_per_acre": 2}
TANK_UNITS = {"acres_per_tank": "acre", "product_per_tank": "same unit", "loads": "loads"} | {
    "total_product": "same unit"
}
SIDE = 0.0145
SQUARE = {"type": "Polygon", "coordinates": [[[0, 0], [SIDE, 0], [SIDE, SIDE], [0, SIDE], [0, 0]]]}
NAMES = [
    # name, inputs (those with a default last, in its own dict), unit or units by result
    ("pls_pct", {"purity_pct": 90, "germination_pct": 80}, DORMANT, "%"),
    ("bulk_lb", {"pls_lb": 10, "purity_pct": 90, "germination_pct": 80}, DORMANT, "lb"),
    ("price_per_pls_lb", {"price_per_bulk_lb": 9, "purity_pct": 90, "germination_pct": 80}, DORMANT, "$"),
    ("seeds_per_sqft", {"pls_lb_per_acre": 5, "seeds_per_lb": 150_000}, {}, "seeds/ft²"),
    ("pls_lb_per_acre", {"seeds_per_sqft": 30, "seeds_per_lb": 150_000}, {}, "lb/acre"),
    ("mix", MIX, {}, {"1.pls_lb_per_acre": "lb/acre", "1.bulk_lb": "lb"}),
    ("drill_lb_per_acre", {"grams": 50, "rows": 4, "row_spacing_in": 7.5, "distance_ft": 150}, {}, "lb/acre"),
    ("drill_catch_g", {"lb_per_acre": 9, "rows": 4, "row_spacing_in": 7.5, "distance_ft": 150}, {}, "g"),
    ("sprayer_gal_per_acre", {"nozzle_gal_per_min": 0.25, "speed_mph": 5, "spacing_in": 20}, {}, "gal/acre"),
    ("nozzle_gal_per_min", {"gal_per_acre": 15, "speed_mph": 5, "spacing_in": 20}, {}, "gal/min"),
    ("speed_mph", {"distance_ft": 200, "seconds": 27.3}, {}, "mph"),
    ("tank", TANK, {}, TANK_UNITS),
    ("volume_pct", {"volume": 300, "pct": 0.25}, {}, "same unit"),
    ("acid_to_product", {"lb_ae_per_acre": 1.5, "lb_ae_per_gal": 3}, {}, "gal/acre"),
    ("acres_per_hour", {"width_ft": 20, "speed_mph": 5, "efficiency_pct": 65}, {}, "acre/h"),
    ("slope", {"rise_ft": 15, "run_ft": 100}, {}, {"percent": "%", "degrees": "degrees"}),
    ("plants_per_acre", {"row_ft": 9, "plant_ft": 9}, {}, "plants"),
    ("polygon_acres", {"geojson": SQUARE}, {}, "acre"),
    ("growing_degree_days", {"max_f": [70, 90], "min_f": [50, 40], "base_f": 50}, {"cap_f": None}, "°F·day"),
]  # fmt: skip
ids = [name for name, *_ in NAMES]


@pytest.mark.parametrize(("name", "inputs", "defaults", "units"), NAMES, ids=ids)
def test_a_reckoning_takes_exactly_these_inputs(
    name: str, inputs: dict[str, Any], defaults: dict[str, Any], units: Any
) -> None:
    listed = json.loads(run("reckon", "--list")[1])[name]
    assert list(listed["properties"]) == [*inputs, *defaults]
    assert listed["required"] == list(inputs)
    assert listed["additionalProperties"] is False
    assert {key: listed["properties"][key]["default"] for key in defaults} == defaults
    found = reckoned(name, **inputs)
    assert found == reckoned(name, **inputs, **defaults)
    for path, unit in units.items() if isinstance(units, dict) else [("", units)]:
        result = found
        for key in path.split(".") if path else ():
            result = result[key]
        assert list(result) == ["value", "unit", "working", "source"]
        assert isinstance(result["value"], float)
        assert result["unit"] == unit
        assert result["working"] and result["source"]


@pytest.mark.parametrize(("name", "inputs", "defaults", "units"), NAMES, ids=ids)
def test_a_reckoning_misses_each_input_by_name(
    name: str, inputs: dict[str, Any], defaults: dict[str, Any], units: Any
) -> None:
    for key in inputs:
        left = {other: value for other, value in inputs.items() if other != key}
        status, _, err = run("reckon", name, json.dumps(left))
        assert status == 2
        assert f"{key}: is missing" in err
        status, _, err = run("reckon", name, json.dumps(inputs | {key: "much"}))
        assert status == 2
        assert err.startswith(f"{key}")


def test_a_mix_of_two_gives_a_result_for_each_line() -> None:
    lines = [LINE | {"share_of_seed_pct": 25}, LINE | {"share_of_seed_pct": 75, "dormant_pct": 10}]
    found = reckoned("mix", seeds_per_sqft=40, acres=2, lines=lines)
    assert list(found) == ["1", "2"]
    assert found["1"]["pls_lb_per_acre"]["value"] == pytest.approx(10 * 43_560 / 150_000)
    assert found["2"]["bulk_lb"]["value"] == pytest.approx(30 * 43_560 / 150_000 * 2 / (0.8 * 0.8))


@pytest.mark.parametrize(
    ("geojson", "said"),
    [
        ({}, "geojson: “no type” is no geometry of GeoJSON"),
        ({"type": "Point", "coordinates": [1, 2]}, "geojson: holds no polygon"),
        ({"type": "Polygon", "coordinates": [[[38.8, -92.2], [38.9, -92.2], [38.9, -92.3]]]}, "stands first"),
        ({"type": "Polygon", "coordinates": [[[40, -83], [40.01, -83], [40.01, -83.01]]]}, "Antarctica"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [1, 1], [1, 0], [0, 1]]]}, "crosses itself near"),
    ],
)
def test_acres_of_a_polygon_in_doubt_are_refused(geojson: dict[str, Any], said: str) -> None:
    status, out, err = run("reckon", "polygon_acres", json.dumps({"geojson": geojson}))
    assert (status, out) == (2, "")
    assert said in err
