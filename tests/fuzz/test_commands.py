"""Every command of ours with arguments that hurt, and every print with text that hurts."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest
from django.conf import LazySettings
from hypothesis import strategies as st
from pypdf import PdfReader

from plans.documents.proposal import proposal_pdf
from plans.planning.planner import plan_job
from plans.planning.wire import BadInput, read_job_file
from tests.fuzz import commands, files, hostile, jobs
from tests.fuzz.budget import SEED, run, share
from tests.planning.make import TODAY


def test_commands_end_in_words(
    db: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, settings: LazySettings
) -> None:
    # Deep enough that a path which leads up stays inside.
    folder = tmp_path / "a" / "b" / "c" / "d"
    folder.mkdir(parents=True)
    for name, data in (("job.json", json.dumps(jobs.JOB).encode()), ("empty", b""), ("scan.pdf", files.PDF)):
        (folder / name).write_bytes(data)
    (folder / "kept.zip").write_bytes(files.FILES[7].data)
    monkeypatch.chdir(folder)
    settings.VAR_DIR = tmp_path
    names = commands.commands()
    failures: list[str] = []
    for turn, name in enumerate(names):
        cases = max(2, share("commands") // len(names))
        run(
            name, cases, commands.calls(name, commands.words_of(name, folder), turn), commands.check, failures
        )
    assert not failures, f"seed {SEED}\n" + "\n\n".join(failures)


TYPED = [
    place
    for place in jobs.PLACES
    if place[-1] in ("title", "letter", "name", "client", "place", "farm", "lot", "notes")
]


@st.composite
def texts(draw: st.DrawFn) -> str:
    """A job in which what somebody types is hostile wherever it may be."""
    job = json.loads(json.dumps(jobs.JOB))
    for place in TYPED:
        inside: Any = job
        for key in place[:-1]:
            inside = inside[key]
        if isinstance(inside[place[-1]], str) and draw(st.booleans()):
            inside[place[-1]] = draw(st.sampled_from(hostile.turned(hostile.EVERYTHING, 3)))
    return json.dumps(job)


def print_of(text: str) -> None:
    try:
        source = read_job_file(text)
    except BadInput:
        return
    plan = plan_job(source.job, source.prices, TODAY)
    pdf = proposal_pdf(plan, number="P-1", revision=1, offered_on=TODAY)
    assert len(PdfReader(io.BytesIO(pdf)).pages) > 2


def test_hostile_text_is_printed_as_text() -> None:
    failures: list[str] = []
    run("proposal", share("prints"), texts(), print_of, failures)
    assert not failures, f"seed {SEED}\n" + "\n\n".join(failures)
