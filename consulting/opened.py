"""The versions that a form was opened at, and what somebody changed on its records meanwhile.

A form on a record carries `opened`, such as `client:12.3`: the third version of client 12. Where a record has
moved on since, nothing is written, and both are shown (`views/moved.py`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from django.db import connection
from django.db.models import Q
from django.forms import BaseForm
from django.http import HttpRequest

from consulting.changes import Change
from consulting.followed import Followed, OwnChange

OPENED = "opened"
"""The name under which a form carries the versions."""
NONE_YET = "none"
"""Of records that are still to be made."""
MOST_TOLD = 20
_ONE = re.compile(r"([a-z]{1,40}):(\d{1,18})\.(\d{1,9})")
Versions = dict[tuple[str, int], int]


class MovedOn(Exception):
    """Records of a form, or of an act, are not as they were when it was opened; nothing was written."""

    def __init__(self, rows: Sequence[Followed], opened: str, form: BaseForm | None = None) -> None:
        super().__init__(f"opened at {opened[:200]}, now at {stamp(rows)}")
        self.rows, self.opened, self.form = rows, opened, form


def stamp(rows: Iterable[Followed | None]) -> str:
    """`mix:5.2 mixline:9.1`, or what says that there is none yet."""
    known = (row for row in rows if row is not None and row.pk is not None)
    return " ".join(f"{row._meta.model_name}:{row.pk}.{row.version}" for row in known) or NONE_YET


def versions_of(opened: str) -> Versions:
    """Version by kind and key of each record that a stamp names; what is no stamp names none."""
    found = (_ONE.fullmatch(part) for part in opened.split(" "))
    return {(one[1], int(one[2])): int(one[3]) for one in found if one}


def unmoved(request: HttpRequest, *given: Followed | None) -> None:
    """Look at the records of an act before it. Raises MovedOn where its form was opened at other versions.

    In a transaction they stay as they are until it ends.
    """
    opened = request.POST.get(OPENED, "") if request.method == "POST" else ""
    if not opened:
        return
    rows = [row for row in given if row is not None]
    if connection.in_atomic_block:
        for row in rows:
            now = type(row)._base_manager.select_for_update().filter(pk=row.pk)
            row.version = now.values_list("version", flat=True).first() or row.version
    if opened != stamp(rows):
        raise MovedOn(rows, opened)


def changes_since(opened: str, rows: Iterable[Followed]) -> list[Change]:
    """What became of the records since a form was opened, the latest first. In the practice's scope."""
    known = versions_of(opened)
    asked = Q(pk__in=[])
    for (kind, key), version in known.items():
        later = Q(version__gt=version) | Q(what=Change.What.REMOVED)
        asked |= Q(later, kind=kind, key=key)
    for row in rows:
        if (str(row._meta.model_name), row.pk) not in known:
            asked |= Q(kind=row._meta.model_name, key=row.pk)
    return list(Change.objects.filter(asked)[:MOST_TOLD])


def own_changes_since(opened: str, rows: Iterable[Followed]) -> list[OwnChange]:
    """The same, as a history of their own tells it."""
    known = versions_of(opened)
    told = [
        change
        for row in rows
        for change in row.own_changes(known.get((str(row._meta.model_name), row.pk), 0))
    ]
    return sorted(told, key=lambda change: change.at, reverse=True)[:MOST_TOLD]


def removed_since(opened: str) -> list[Change]:
    """The records that a form was opened on and that are gone, with who removed them."""
    asked = Q(pk__in=[])
    for kind, key in versions_of(opened):
        asked |= Q(kind=kind, key=key)
    return list(Change.objects.filter(asked, what=Change.What.REMOVED)[:MOST_TOLD])
