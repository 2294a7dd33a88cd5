"""What a landowner is told by the year: conditions name what the tables know, and no year goes without."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import pytest

from plans.planning import tables, wall_notes
from plans.planning.job import Cover, Purpose
from plans.planning.wall_notes import ALWAYS, WallNote, notes_for
from tests.planning import make

KNOWN = {
    "phase": {step.phase for step in tables.steps().values()},
    "operation": set(tables.operations()),
    "step": set(tables.steps()),
    "season": {str(step.season) for step in tables.steps().values()},
    "caution": set(tables.cautions()),
    "cover": set(get_args(Cover)),
    "purpose": set(tables.purposes()) | {"food plot", "tree and shrub planting"},
    "seeding": set(tables.seedings()),
}


@pytest.mark.parametrize("note", wall_notes.wall_notes().values(), ids=lambda note: note.note)
def test_a_note_asks_only_for_what_the_tables_know(note: WallNote) -> None:
    assert KNOWN["purpose"] == set(get_args(Purpose)) | {"food plot", "tree and shrub planting"}
    for condition in note.on:
        for fact in condition:
            name, _, value = fact.partition("=")
            assert fact == ALWAYS or value in KNOWN[name], fact
    assert note.kind == "who" or note.text.endswith(".")
    if note.kind == "do_not":
        assert note.text.startswith("Do not "), "read alone, it must not say the opposite"


@pytest.mark.parametrize(("program", "seeding"), make.WAYS)
def test_every_year_of_every_way_has_its_notes(program: str, seeding: str) -> None:
    plan = make.plan(make.sown_by(seeding, kill_program=program, cover=tables.programs()[program].covers[0]))
    for year in {task.earliest.year for task in plan.tasks}:
        tasks = [task for task in plan.tasks if task.earliest.year == year]
        notes = notes_for(tasks, plan.job.conversions)
        assert notes["do_not"] and notes["call"] and notes["you"]
        said = {note.note for kind in notes.values() for note in kind}
        if any("Read the label first" in caution for task in tasks for caution in task.cautions):
            assert {"keep_off", "keep_stock_off", "stock_in", "drift_seen"} <= said
        if any(task.operation == "prescribed_burn" for task in tasks):
            assert {"no_fire", "clear_breaks", "burn_changes"} <= said


def test_notes_come_from_the_steps_of_the_year_and_the_ground() -> None:
    plan = make.plan(make.conversion())
    kill = [task for task in plan.tasks if task.phase == "kill"]
    first = {note.note for note in notes_for(kill, plan.job.conversions)["look_for"]}
    assert first == {"green_strips", "old_seedheads"}
    stubble = [make.conversion(cover="crop stubble")]
    assert {note.note for note in notes_for(kill, stubble)["look_for"]} == {"green_strips"}
    assert [note.note for note in notes_for([], ())["call"]] == ["before_others"]


@pytest.mark.parametrize(
    ("on", "text"),
    [("sometimes", "A text."), ("weather=wet", "A text."), ("phase=", "A text."), ("", "A text.")],
)
def test_a_broken_condition_is_refused_with_its_place(tmp_path: Path, on: str, text: str) -> None:
    path = tmp_path / "wall_notes.csv"
    path.write_text(f"note,kind,on,text,source\nodd,call,{on},{text},common practice\n")
    with pytest.raises(tables.TableError, match=r"wall_notes\.csv, row 2"):
        tables.read_table(path, WallNote)
