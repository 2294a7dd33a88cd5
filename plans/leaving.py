"""A practice takes all that is its own away, and is erased. What the law wants kept stays until its day."""

from __future__ import annotations

import json
import shutil
import tempfile
import zipfile
from collections.abc import Iterable
from datetime import date, datetime
from typing import IO, Any

from django.core.exceptions import ValidationError
from django.db import connection, models, transaction
from django.utils.text import slugify
from django.utils.translation import gettext, gettext_lazy

from consulting.keeping import written
from consulting.models import Practice
from consulting.tenancy import of_practices
from plans.changes_found import CHANGES, changes_as_rows
from plans.documents.rows import as_csv
from plans.in_out.going_out import rows_of
from plans.in_out.kinds import KINDS
from plans.models import ErasedPractice, LawfulRecord, Proposal, WorkRecord
from plans.record_pages import keep_until
from plans.records import asked_by
from sites.drawn import landmark_shape, outline_of
from sites.ground.found import Feature
from sites.ground.send_out import to_geojson
from sites.models import Farm

SECRETS = frozenset({"key_sha256"})
"""Columns that open something, and are of no use elsewhere."""
ENDINGS = {"png": "png", "jpeg": "jpg", "pdf": "pdf"}
READ_ME = gettext_lazy("""What {name} kept here, taken away on {day}.

rows/       every table as JSON, a list of rows; a file that a row holds is named there and lies in files/
files/      photographs, logos, scans and printed papers
lists/      prices, clients, farms, fields, mixes, stock and visits as CSV
maps/       outlines and landmarks of each farm as GeoJSON (RFC 7946)
changes.csv who changed what, in sentences
proposals/  every proposal and change order as it was offered (PDF)
""")


def tables() -> list[type[models.Model]]:
    """Every table of a practice."""
    return sorted(of_practices(), key=lambda model: model._meta.label_lower)


def take_away(practice: Practice, into: IO[bytes], *, on: date) -> None:
    """Write a zip of all that is the practice's, in its scope."""
    with zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("read-me.txt", READ_ME.format(name=practice.name, day=f"{on:%Y-%m-%d}"))
        _write_rows(archive, "practice", [practice])
        for model in tables():
            rows = model._default_manager.order_by("pk").iterator(100)
            _write_rows(archive, model._meta.label_lower, rows)
        for kind in KINDS.values():
            columns, listed = rows_of(kind, practice)
            archive.writestr(f"lists/{kind.key}.csv", as_csv(columns, listed))
        archive.writestr("changes.csv", as_csv(CHANGES, changes_as_rows()))
        for farm in Farm.objects.prefetch_related("fields", "landmarks").order_by("pk"):
            if features := _drawn(farm):
                archive.writestr(f"maps/{farm.pk}-{slugify(farm.name)[:60]}.geojson", to_geojson(features))
        for proposal in Proposal.objects.order_by("number").iterator(20):
            archive.writestr(f"proposals/{proposal.number}.pdf", bytes(proposal.pdf))


def _drawn(farm: Farm) -> list[Feature]:
    fields = [
        Feature(row.name, "polygon", outline) for row in farm.fields.all() if (outline := outline_of(row))
    ]
    return [*fields, *map(landmark_shape, farm.landmarks.all())]


def _write_rows(archive: zipfile.ZipFile, name: str, rows: Iterable[models.Model]) -> None:
    """A table as a JSON list, row by row: none is held in memory whole."""
    with tempfile.TemporaryFile() as spool:
        for at, row in enumerate(rows):
            spool.write(b",\n" if at else b"[\n")
            spool.write(json.dumps(_row(archive, name, row), ensure_ascii=False, sort_keys=True).encode())
        spool.write(b"\n]\n" if spool.tell() else b"[]\n")
        spool.seek(0)
        with archive.open(f"rows/{name}.json", "w", force_zip64=True) as file:
            shutil.copyfileobj(spool, file)


def _row(archive: zipfile.ZipFile, name: str, row: models.Model) -> dict[str, Any]:
    said: dict[str, Any] = {}
    for field in row._meta.concrete_fields:
        if field.name in SECRETS:
            continue
        value = getattr(row, field.attname)
        if isinstance(field, models.BinaryField) and value is not None:
            path = f"files/{name}-{row.pk}.{ENDINGS.get(field.name, 'bin')}"
            if name != "plans.proposal":
                archive.writestr(path, bytes(value))
            said[field.attname] = path if name != "plans.proposal" else f"proposals/{row.number}.pdf"  # type: ignore[attr-defined]
        else:
            said[field.attname] = written(field, row)
    for link in row._meta.many_to_many:
        said[link.name] = sorted(getattr(row, link.name).values_list("pk", flat=True))
    return said


@transaction.atomic
def practice_erase(*, practice: Practice, name: str, now: datetime, today: date) -> int:
    """Take everything of a practice out of the database, in its scope; how many records of work stay.

    `name` is what a person typed to show that they mean it. Records of work whose time has not run out stay
    apart, as text, until `forget_records` finds their day past. Raises ValidationError for another name.
    """
    if " ".join(name.split()) != " ".join(practice.name.split()):
        raise ValidationError(
            {"name": gettext("Type the practice’s name, {name}, to erase it.").format(name=practice.name)}
        )
    erased = ErasedPractice.objects.create(name=practice.name, slug=practice.slug, erased_at=now)
    years = asked_by(practice).keep_years
    records = WorkRecord.objects.prefetch_related("lines").order_by("number")
    kept = [
        LawfulRecord(
            erased=erased,
            number=record.number,
            on=record.on,
            keep_until=until,
            content=json.dumps(_lawful(record), ensure_ascii=False, sort_keys=True),
            sha256=record.sha256,
        )
        for record in records
        if (until := keep_until(record.on, years)) > today
    ]
    LawfulRecord.objects.bulk_create(kept)
    _empty(practice)
    return len(kept)


def _lawful(record: WorkRecord) -> dict[str, Any]:
    def said(row: models.Model, without: frozenset[str]) -> dict[str, Any]:
        return {
            field.name: written(field, row)
            for field in row._meta.concrete_fields
            if not field.is_relation and field.name not in without
        }

    apart = frozenset({"id"})
    return said(record, apart) | {"lines": [said(line, apart) for line in record.lines.all()]}


def _empty(practice: Practice) -> None:
    """Every row of the practice, append-only ones too: links are checked when all of it is gone."""
    with connection.cursor() as cursor:
        for model in tables():
            for link in model._meta.local_many_to_many:
                cursor.execute(
                    f'DELETE FROM "{link.m2m_db_table()}" WHERE "{link.m2m_column_name()}" IN '  # noqa: S608
                    f'(SELECT id FROM "{model._meta.db_table}" WHERE practice_id = %s)',
                    [practice.pk],
                )
        for model in tables():
            cursor.execute(
                f'DELETE FROM "{model._meta.db_table}" WHERE practice_id = %s',  # noqa: S608 - tables of ours
                [practice.pk],
            )
        cursor.execute("DELETE FROM consulting_practice WHERE id = %s", [practice.pk])


def records_forget(today: date) -> int:
    """Remove records of erased practices whose time has run out, and practices of which none stays."""
    gone = LawfulRecord.objects.filter(keep_until__lte=today).delete()[0]
    ErasedPractice.objects.filter(records=None).delete()
    return gone
