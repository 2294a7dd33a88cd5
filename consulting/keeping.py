"""All that the site holds in one file, and back: the same on SQLite and on PostgreSQL.

An archive is a zip of `manifest.json` and one `tables/APP.MODEL.jsonl` for each table, a row a line, ordered
by key. Files that people gave (logos, photographs, printed proposals) are rows, so there is nothing else to
keep. The manifest names the migrations that had run, the number of rows and the SHA-256 of each table. What a
migrated database makes by itself (content types, permissions) and what must not come back (sessions) stays
out.
"""

from __future__ import annotations

import base64
import hashlib
import json
import os
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.apps.registry import Apps
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connection, models, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django_scopes import scopes_disabled

from consulting import outbox
from consulting.letters import Letter

FORMAT = 1
DAMAGED = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError)
"""What the zip library says of a file that is none, or of half a one."""
LEFT_OUT = frozenset({"contenttypes", "auth", "sessions"})
"""Apps whose tables are not kept."""
AT_ONCE = 200
"""Rows read or written together."""
MOST_MANIFEST_BYTES = 5_000_000


class KeepError(Exception):
    """An archive that cannot be made, read or brought back; says why and what to do."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What an archive holds."""

    made_at: str
    rows: dict[str, int]
    """By table, `consulting.practice`."""
    sha256: dict[str, str]
    """Of each table's rows as they are written."""
    migrations: list[list[str]]
    """[app, name] of the last ones of each app."""

    @property
    def total(self) -> int:
        return sum(self.rows.values())


@contextmanager
def _one_moment() -> Iterator[None]:
    """Everything read inside is of one moment, while others write."""
    if connection.in_atomic_block:
        yield
        return
    begin = "BEGIN DEFERRED"
    if connection.vendor == "postgresql":
        begin = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
    connection.ensure_connection()
    with connection.cursor() as cursor:
        cursor.execute(begin)
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("ROLLBACK")


def _tables(apps: Apps) -> list[type[models.Model]]:
    found = [
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy and model._meta.app_label not in LEFT_OUT
    ]
    return sorted(found, key=lambda model: model._meta.label_lower)


def written(field: models.Field[Any, Any], row: models.Model) -> Any:
    """A value as JSON has it, the same whichever database it was read from."""
    value = getattr(row, field.attname)
    if value is None or isinstance(field, models.JSONField):
        return value
    if isinstance(field, models.BinaryField):
        return base64.b64encode(bytes(value)).decode()
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(field, models.DecimalField):
        return f"{value:.{field.decimal_places}f}"
    if isinstance(value, bool | int | float | str):
        return value
    return str(value)


def _read(field: models.Field[Any, Any], value: Any) -> Any:
    if value is None or isinstance(field, models.JSONField):
        return value
    if isinstance(field, models.BinaryField):
        return base64.b64decode(value, validate=True)
    if isinstance(field, models.ForeignKey):
        return field.target_field.to_python(value)
    return field.to_python(value)


def _lines(model: type[models.Model]) -> Iterator[bytes]:
    fields = model._meta.concrete_fields
    rows = model._base_manager.order_by("pk").iterator(chunk_size=AT_ONCE)
    for row in rows:
        said = {field.attname: written(field, row) for field in fields}
        yield json.dumps(said, sort_keys=True, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def keep(path: Path, *, now: datetime) -> Kept:
    """Write everything, as it is at one moment, to a new file that only its owner may read.

    The file appears under its name when it is whole. Raises KeepError when it is there already or cannot be
    written.
    """
    if path.exists():
        raise KeepError(f"{path} is there already. Give another name, or move that file away.")
    part = path.with_name(f"{path.name}.part")
    try:
        opened = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(opened, "wb") as file:
            kept = _write(file, now)
            file.flush()
            os.fsync(file.fileno())
        part.rename(path)
    except OSError as error:
        raise KeepError(f"{path} cannot be written: {error.strerror or error}.") from None
    finally:
        part.unlink(missing_ok=True)
    return kept


def _write(file: Any, now: datetime) -> Kept:
    rows: dict[str, int] = {}
    sums: dict[str, str] = {}
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive, _one_moment(), scopes_disabled():
        loader = MigrationLoader(connection)
        leaves = _leaves(loader)
        for model in _tables(loader.project_state(leaves).apps):
            name = model._meta.label_lower
            digest, count = hashlib.sha256(), 0
            with archive.open(f"tables/{name}.jsonl", "w", force_zip64=True) as table:
                for line in _lines(model):
                    table.write(line)
                    digest.update(line)
                    count += 1
            rows[name], sums[name] = count, digest.hexdigest()
        kept = Kept(
            made_at=now.astimezone(UTC).isoformat(timespec="seconds"),
            rows=rows,
            sha256=sums,
            migrations=[list(leaf) for leaf in leaves],
        )
        manifest = {
            "format": FORMAT,
            "made_at": kept.made_at,
            "database": connection.vendor,
            "migrations": kept.migrations,
            "tables": {name: {"rows": rows[name], "sha256": sums[name]} for name in rows},
        }
        archive.writestr("manifest.json", json.dumps(manifest, indent=1))
    return kept


def _leaves(loader: MigrationLoader) -> list[tuple[str, str]]:
    """The last migrations that this database has run, one for each app."""
    done = set(loader.applied_migrations) & set(loader.graph.nodes)
    followed = {
        parent.key
        for node in done
        for parent in loader.graph.node_map[node].parents
        if parent.key[0] == node[0]
    }
    return sorted(done - followed)


def check(path: Path) -> Kept:
    """Read all of an archive, each table against its checksum. Raises KeepError at the first fault."""
    with _opened(path) as archive:
        kept = _manifest(path, archive)
        for name in kept.rows:
            for _ in _checked(path, archive, kept, name):
                pass
    return kept


@contextmanager
def _opened(path: Path) -> Iterator[zipfile.ZipFile]:
    try:
        with zipfile.ZipFile(path) as archive:
            yield archive
    except FileNotFoundError:
        raise KeepError(f"{path} is not there.") from None
    except OSError as error:
        raise KeepError(f"{path} cannot be read: {error.strerror or error}.") from None
    except DAMAGED as error:
        raise KeepError(f"{path} is no whole archive ({error}). Use another copy.") from None


def _manifest(path: Path, archive: zipfile.ZipFile) -> Kept:
    try:
        if archive.getinfo("manifest.json").file_size > MOST_MANIFEST_BYTES:
            raise ValueError
        said = json.loads(archive.read("manifest.json"))
        version = said["format"]
        kept = Kept(
            made_at=str(said["made_at"]),
            rows={str(name): int(table["rows"]) for name, table in said["tables"].items()},
            sha256={str(name): str(table["sha256"]) for name, table in said["tables"].items()},
            migrations=[[str(app), str(name)] for app, name in said["migrations"]],
        )
    except (KeyError, TypeError, ValueError, AttributeError, *DAMAGED):
        raise KeepError(f"{path} was not written by `manage.py keep`.") from None
    if version != FORMAT:
        raise KeepError(f"{path} is of format {version}; this version reads {FORMAT}.")
    return kept


def _checked(path: Path, archive: zipfile.ZipFile, kept: Kept, name: str) -> Iterator[dict[str, Any]]:
    """The rows of a table; the fault is raised after the last of them."""
    digest, count = hashlib.sha256(), 0
    try:
        with archive.open(f"tables/{name}.jsonl") as table:
            for line in table:
                digest.update(line)
                count += 1
                yield json.loads(line)
    except (KeyError, ValueError, *DAMAGED) as error:
        raise KeepError(
            f"{path}: table {name}, row {count}: is damaged ({error}). Use another copy."
        ) from None
    if (count, digest.hexdigest()) != (kept.rows[name], kept.sha256[name]):
        raise KeepError(
            f"{path}: table {name}: is not what was kept ({count} rows, {kept.rows[name]} expected, or a row "
            "was changed). Use another copy."
        )


def bring_back(path: Path) -> tuple[Kept, int]:
    """Restore an archive into an empty database, wholly or not at all, and bring it up to this version.

    What it held, and how many letters that waited are left to a person: they may have gone since. The tables
    are first made as they were when the archive was written. Raises KeepError when the file is damaged, newer
    than this program, or the database holds anyone already.
    """
    kept = check(path)
    _refuse_strangers(path, kept)
    _refuse_full()
    for app, name in kept.migrations:
        call_command("migrate", app, name, verbosity=0, interactive=False)
    loader = MigrationLoader(connection)
    tables = _tables(loader.project_state([(app, name) for app, name in kept.migrations]).apps)
    strange = kept.rows.keys() - {model._meta.label_lower for model in tables}
    if strange:
        raise KeepError(f"{path}: table {min(strange)}: is not known to this version.")
    # First the practices: PostgreSQL shows no row of one that it does not know.
    in_turn = sorted(tables, key=lambda model: model._meta.label_lower != "consulting.practice")
    held = 0
    with transaction.atomic(), scopes_disabled(), _opened(path) as archive:
        for model in in_turn:
            name = model._meta.label_lower
            if name in kept.rows:
                model._base_manager.all().delete()
                _load(model, _checked(path, archive, kept, name))
            if name == Letter._meta.label_lower:
                held = outbox.hold_back(model)
        with connection.cursor() as cursor:
            for sql in connection.ops.sequence_reset_sql(no_style(), tables):
                cursor.execute(sql)
        connection.check_constraints()
    call_command("migrate", verbosity=0, interactive=False)
    return kept, held


def _refuse_strangers(path: Path, kept: Kept) -> None:
    known = MigrationLoader(None).graph.nodes
    for app, name in kept.migrations:
        if (app, name) not in known:
            raise KeepError(
                f"{path} was written by another version ({app} {name} is not known here). Install the "
                "version that wrote it, or a newer one, and bring it back with that."
            )


def _refuse_full() -> None:
    """Nothing is written over: an archive comes back into a database in which nobody is."""
    tables = connection.introspection.table_names()
    if "consulting_user" not in tables:
        # Tables of ours are left by a bringing back that was cut off: it goes on where it was.
        ours = {*connection.introspection.django_table_names(), MigrationRecorder.Migration._meta.db_table}
        if set(tables) - ours:
            raise KeepError("The database holds tables of something else. Name an empty one in DATABASE_URL.")
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT COUNT(*) FROM consulting_user")
        if cursor.fetchone()[0]:
            raise KeepError("The database is in use: people are in it. Name an empty one in DATABASE_URL.")


def _load(model: type[models.Model], rows: Iterable[dict[str, Any]]) -> None:
    fields = {field.attname: field for field in model._meta.concrete_fields}
    for field in fields.values():
        if isinstance(field, models.DateField):
            field.auto_now = field.auto_now_add = False  # the days that were kept stay
    batch: list[models.Model] = []
    for row in rows:
        batch.append(model(**{name: _read(fields[name], value) for name, value in row.items()}))
        if len(batch) == AT_ONCE:
            model._base_manager.bulk_create(batch)
            batch = []
    model._base_manager.bulk_create(batch)
