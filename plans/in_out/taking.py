"""A list brought in: kept for a day, matched, checked part by part, and taken whole or not at all."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils import timezone
from django.utils.translation import gettext

from consulting.models import Practice, User
from consulting.services import save
from plans.in_out.checking import CHANGED, NEW, SAME, WRONG, Checked, Checker, match
from plans.in_out.gathered import CHECKERS
from plans.in_out.kinds import KINDS, Kind
from plans.in_out.reading import Row, Sheet, plain, read
from plans.models.in_out import ColumnMatch, ListUpload
from plans.services import Refused

AT_ONCE = 1000
"""Rows checked before it is said how far it is; rows written with one query."""
MOST_SHOWN = 200


@dataclass(frozen=True, slots=True)
class Looked:
    """What a check found up to `done` of `total` rows, and what a taking would do."""

    rows: tuple[Checked, ...]
    total: int
    stamp: str
    """Changes when what is there, or the file, does."""

    @property
    def done(self) -> int:
        return len(self.rows)

    @property
    def counts(self) -> dict[str, int]:
        found = Counter(row.what for row in self.rows)
        return {what: found[what] for what in (NEW, CHANGED, SAME, WRONG)}

    @property
    def may_take(self) -> bool:
        counts = self.counts
        return self.done == self.total and not counts[WRONG] and bool(counts[NEW] + counts[CHANGED])

    def some(self, what: str) -> list[Checked]:
        return [row for row in self.rows if row.what == what][:MOST_SHOWN]

    def unshown(self, what: str) -> int:
        return max(0, self.counts[what] - MOST_SHOWN)


def known_heads(kind: Kind, practice: Practice) -> frozenset[str]:
    return frozenset().union(*(column.known_as for column in kind.columns(practice)))


def sheet_of(upload: ListUpload) -> Sheet:
    """Raises Unreadable."""
    kind = KINDS[upload.kind]
    return read(upload.name, bytes(upload.data), known_heads(kind, upload.practice))


def heads_hash(sheet: Sheet) -> str:
    return hashlib.sha256("\n".join(plain(head) for head in sheet.heads).encode()).hexdigest()


@transaction.atomic
def upload_keep(*, practice: Practice, kind: Kind, by: User, name: str, data: bytes) -> ListUpload:
    """The file, to be taken within a day; older ones go.

    Its columns are matched by name, or as someone matched the same heads before. Raises Unreadable.
    """
    ListUpload.objects.filter(at__lt=timezone.now() - ListUpload.KEPT).delete()
    sheet = read(name, data, known_heads(kind, practice))
    matched, comma = match(kind, practice, sheet.heads), None
    known = ColumnMatch.objects.filter(kind=kind.key, heads_sha256=heads_hash(sheet)).first()
    if known:
        places = {plain(head): at for at, head in enumerate(sheet.heads)}
        matched = {ours: places[theirs] for ours, theirs in known.matched.items() if theirs in places}
        comma = known.decimal_comma
    upload = ListUpload(practice=practice, kind=kind.key, by=by, matched=matched, decimal_comma=comma)
    return save(upload, name=name[:200], data=data)


@transaction.atomic
def upload_match(*, upload: ListUpload, matched: Mapping[str, int], decimal_comma: bool | None) -> ListUpload:
    """Say which column is which, for this file and for later ones with the same heads."""
    sheet = sheet_of(upload)
    doubled = [place for place, times in Counter(matched.values()).items() if times > 1]
    if doubled:
        raise ValidationError(
            gettext("“{head}” is chosen twice. Each column can be one thing only.").format(
                head=sheet.heads[doubled[0]]
            )
        )
    ColumnMatch.objects.update_or_create(
        practice=upload.practice,
        kind=upload.kind,
        heads_sha256=heads_hash(sheet),
        defaults={
            "matched": {ours: plain(sheet.heads[at]) for ours, at in matched.items()},
            "decimal_comma": decimal_comma,
        },
    )
    return save(upload, matched=dict(matched), decimal_comma=decimal_comma)


def checker_of(upload: ListUpload, sheet: Sheet) -> Checker:
    comma = sheet.decimal_comma if upload.decimal_comma is None else upload.decimal_comma
    kind = KINDS[upload.kind]
    return CHECKERS.get(kind.key, Checker)(kind, upload.practice, sheet, upload.matched, comma)


def look(upload: ListUpload, sheet: Sheet) -> Iterator[Looked]:
    """What a taking would do, after each thousand rows and at the end. Writes nothing."""
    checker = checker_of(upload, sheet)
    checked: list[tuple[Checked, models.Model | None]] = []
    for rows in batched(sheet.rows, AT_ONCE):
        checked += checker.check(rows)
        yield Looked(tuple(row for row, _ in checked), len(sheet.rows), _stamp(checked))


def batched(rows: Sequence[Row], size: int) -> Iterator[Sequence[Row]]:
    return (rows[at : at + size] for at in range(0, len(rows), size))


def _stamp(checked: Sequence[tuple[Checked, models.Model | None]]) -> str:
    digest = hashlib.sha256()
    for row, record in checked:
        digest.update(repr((row, record.pk if record else None)).encode())
    return digest.hexdigest()[:32]


@transaction.atomic
def upload_take(*, upload: ListUpload, seen: str, user: User) -> dict[str, int]:
    """Write every new and changed row, or none; how many of each.

    Raises Refused where a row is wrong, the file was taken already, or the list is not as it was `seen`.
    """
    Practice.objects.select_for_update().get(pk=upload.practice_id)
    if not ListUpload.objects.select_for_update().filter(pk=upload.pk).exists():
        raise Refused(gettext("This file was taken already."))
    sheet = sheet_of(upload)
    checker = checker_of(upload, sheet)
    checked = checker.check(sheet.rows)
    looked = Looked(tuple(row for row, _ in checked), len(sheet.rows), _stamp(checked))
    if looked.stamp != seen:
        raise Refused(
            gettext("Something of this list was changed on the site meanwhile. Look again, then take it.")
        )
    if not looked.may_take:
        raise Refused(gettext("Nothing was taken: mend the rows that are wrong first."))
    try:
        checker.write(checked, user)
    except ValidationError as error:
        raise Refused(
            gettext("Nothing was taken: {messages}").format(messages=" ".join(error.messages))
        ) from None
    upload.delete()
    return looked.counts
