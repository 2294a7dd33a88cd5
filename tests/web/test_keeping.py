"""An archive of everything: whole, checked, and back on either database with nothing lost."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from io import StringIO
from pathlib import Path
from typing import Any

import psycopg
import pytest
from django.conf import settings as site
from django.core.management import CommandError, call_command
from django.db import connection, connections
from django_scopes import scope
from psycopg import sql

from consulting import keeping, outbox, stamps
from consulting.models import Client
from plans.models import Proposal
from tests.conftest import Cast
from tests.factories import make_client
from tests.plan_factories import make_offered, make_ready_plan

NOW = datetime(2027, 3, 1, 6, 0, tzinfo=UTC)


def manage(database: str, *arguments: object) -> subprocess.CompletedProcess[str]:
    """A command in a process of its own, on another database."""
    return subprocess.run(
        [sys.executable, "manage.py", *map(str, arguments)],
        cwd=site.BASE_DIR,
        env=os.environ | {"DATABASE_URL": database, "DJANGO_SETTINGS_MODULE": "tests.settings"},
        capture_output=True,
        text=True,
        check=False,
    )


def rewritten(archive: Path, change: Callable[[str, bytes], bytes]) -> Path:
    """The same archive with members changed, sound as a zip."""
    out = archive.with_name("changed.zip")
    with zipfile.ZipFile(archive) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
    return out


@pytest.fixture
def kept(cast: Cast, tmp_path: Path) -> Path:
    make_client(cast.practice, name="Ælfgifu “Ada” Óðinsdóttir \u200f=1+1")
    archive = tmp_path / "kept.zip"
    keeping.keep(archive, now=NOW)
    return archive


@pytest.fixture(params=["sqlite", "postgresql"])
def elsewhere(request: pytest.FixtureRequest, tmp_path: Path, db: None) -> Iterator[str]:
    """The address of an empty database of either kind."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'elsewhere.sqlite3'}"
        return
    if connection.vendor != "postgresql":
        pytest.skip("no PostgreSQL in this run")
    here = connection.settings_dict
    name = f"elsewhere_{here['NAME']}"
    server = psycopg.connect(host=here["HOST"], user=here["USER"], dbname="postgres", autocommit=True)
    with server:
        server.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        yield f"postgres://{here['USER']}@/{here['HOST']}/{name}"
        server.execute(sql.SQL("DROP DATABASE {}").format(sql.Identifier(name)))


def test_a_restore_drill(cast: Cast, tmp_path: Path, settings: Any, elsewhere: str) -> None:
    settings.VAR_DIR = tmp_path
    proposal = make_offered(make_ready_plan(cast.practice), cast.owner)
    outbox.put(practice=cast.practice, once="x", to="lena@example.org", subject="Yours", text="It waits.")
    first, second = tmp_path / "first.zip", tmp_path / "second.zip"
    call_command("keep", first, stdout=StringIO())
    back = manage(elsewhere, "bring_back", first)
    assert back.returncode == 0, back.stderr
    assert "left to a person: 1." in back.stdout
    assert manage(elsewhere, "keep", second).returncode == 0
    before, after = keeping.check(first), keeping.check(second)
    assert after.rows == before.rows
    assert {name for name in before.sha256 if before.sha256[name] != after.sha256[name]} == {
        "consulting.letter"
    }
    assert before.rows["plans.proposal"] == 1
    with zipfile.ZipFile(first) as archive:
        row = json.loads(archive.read("tables/plans.proposal.jsonl"))
    with scope(practice=cast.practice):
        assert row["sha256"] == Proposal.objects.get().sha256 == proposal.sha256
    again = manage(elsewhere, "bring_back", first)
    assert again.returncode == 1 and "people are in it" in again.stderr


def test_the_file_is_for_its_owner_and_whole(kept: Path) -> None:
    assert kept.stat().st_mode & 0o777 == 0o600
    assert [file.name for file in kept.parent.iterdir()] == ["kept.zip"]
    with pytest.raises(keeping.KeepError, match="there already"):
        keeping.keep(kept, now=NOW)


def test_sessions_stay_out(cast: Cast, tmp_path: Path) -> None:
    cast.browser(cast.owner)
    kept = keeping.keep(tmp_path / "kept.zip", now=NOW)
    assert not [name for name in kept.rows if name.startswith(("sessions.", "auth.", "contenttypes."))]
    assert kept.rows["consulting.user"] == 4


def test_a_changed_row_is_seen(kept: Path) -> None:
    def other_name(name: str, data: bytes) -> bytes:
        return data.replace(b"Ottilie", b"Otto") if name == "tables/consulting.user.jsonl" else data

    with pytest.raises(keeping.KeepError, match=r"table consulting\.user: is not what was kept"):
        keeping.check(rewritten(kept, other_name))


def test_a_missing_row_is_seen(kept: Path) -> None:
    def shorter(name: str, data: bytes) -> bytes:
        return b"".join(data.splitlines(True)[1:]) if name == "tables/consulting.user.jsonl" else data

    with pytest.raises(keeping.KeepError, match="3 rows, 4 expected"):
        keeping.check(rewritten(kept, shorter))


@pytest.mark.parametrize("length", [0, 100, -1000, -10])
def test_half_a_file_is_refused(kept: Path, length: int) -> None:
    kept.write_bytes(kept.read_bytes()[:length])
    with pytest.raises(keeping.KeepError, match="no whole archive"):
        keeping.check(kept)


def test_a_flipped_byte_is_seen_or_says_nothing(kept: Path) -> None:
    whole, sound = kept.read_bytes(), keeping.check(kept)
    refused = 0
    for at in range(0, len(whole), max(1, len(whole) // 60)):
        kept.write_bytes(whole[:at] + bytes([whole[at] ^ 0xFF]) + whole[at + 1 :])
        try:
            assert keeping.check(kept) == sound  # a date in the directory of the zip
        except keeping.KeepError:
            refused += 1
    assert refused > 20


@pytest.mark.parametrize(
    ("manifest", "said"),
    [
        (b"{}", "was not written by"),
        (b"[1]", "was not written by"),
        (b"\xff", "was not written by"),
        (b'{"format": 99, "made_at": "", "migrations": [], "tables": {}}', "of format 99"),
    ],
)
def test_a_manifest_of_something_else(kept: Path, manifest: bytes, said: str) -> None:
    with pytest.raises(keeping.KeepError, match=said):
        keeping.check(rewritten(kept, lambda name, data: manifest if name == "manifest.json" else data))


def test_another_version_is_named(kept: Path) -> None:
    def newer(name: str, data: bytes) -> bytes:
        return data.replace(b"0001_initial", b"9999_of_tomorrow") if name == "manifest.json" else data

    changed = rewritten(kept, newer)
    with zipfile.ZipFile(changed) as archive:
        assert b"9999_of_tomorrow" in archive.read("manifest.json")
    with pytest.raises(keeping.KeepError, match="by another version"):
        keeping.bring_back(changed)


def test_a_database_in_use_is_not_written_over(kept: Path) -> None:
    with pytest.raises(keeping.KeepError, match="people are in it"):
        keeping.bring_back(kept)


@pytest.mark.parametrize("command", ["keep", "bring_back"])
def test_a_command_says_what_is_wrong(command: str, tmp_path: Path, db: None) -> None:
    with pytest.raises(CommandError, match=r"cannot be written|is not there"):
        call_command(command, tmp_path / "no folder" / "kept.zip", stdout=StringIO())


def test_a_keeping_leaves_a_stamp(cast: Cast, tmp_path: Path, settings: Any) -> None:
    settings.VAR_DIR = tmp_path / "var"
    assert stamps.last("kept") is None
    call_command("keep", tmp_path / "kept.zip", stdout=StringIO())
    assert stamps.last("kept") is not None
    said = StringIO()
    call_command("bring_back", tmp_path / "kept.zip", "--check", stdout=said)
    assert said.getvalue().startswith("Sound: ")


@pytest.mark.skipif(connection.vendor != "postgresql", reason="the tests' SQLite is in memory, of one writer")
@pytest.mark.django_db(transaction=True)
def test_what_is_written_meanwhile_stays_out_whole(cast: Cast) -> None:
    def add() -> None:
        make_client(cast.practice, name="Added meanwhile")
        connections.close_all()

    with keeping._one_moment(), scope(practice=cast.practice):
        before = Client.objects.count()
        with ThreadPoolExecutor(1) as pool:
            pool.submit(add).result()
        assert Client.objects.count() == before
    with scope(practice=cast.practice):
        assert Client.objects.count() == before + 1
