"""The ten heaviest queries of the pages, each as PostgreSQL carries it out."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from django.db import connection, transaction
from django_scopes import scope

from consulting.models import Practice
from tests.load.pages import Looked, Query

HEAVIEST = 10
KEPT = Path(__file__).parent / "heaviest_queries.txt"
LONG = re.compile(r"SELECT (.{300,}?) FROM", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Explained:
    page: str
    sql: str
    ms: float
    lines: tuple[str, ...]

    @property
    def scans(self) -> list[str]:
        """Tables that are read from one end to the other."""
        return sorted(set(re.findall(r"Seq Scan on (\w+)", "\n".join(self.lines))))


def explained(practice: Practice, page: str, query: Query) -> Explained:
    sql, params = query
    with scope(practice=practice), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN (ANALYZE, BUFFERS, COSTS OFF) {sql}", params)
        lines = tuple(line for (line,) in cursor.fetchall())
    took = next(line for line in lines if line.startswith("Execution Time"))
    return Explained(page, sql, float(took.split()[2]), lines)


def heaviest(practice: Practice, looks: Iterable[Looked], most: int = HEAVIEST) -> list[Explained]:
    """Of all queries of these pages, each kind once, the heaviest first."""
    kinds: dict[str, tuple[str, Query]] = {}
    for looked in looks:
        for sql, params in looked.queries:
            if sql.lstrip().upper().startswith("SELECT"):
                kinds.setdefault(re.sub(r"(%s(, )?)+", "%s", sql), (looked.page.name, (sql, params)))
    found = [explained(practice, page, query) for page, query in kinds.values()]
    return sorted(found, key=lambda one: -one.ms)[:most]


def written(found: Iterable[Explained], heading: str) -> str:
    """As the file beside this one has them; what a query takes of a table is left out where it is long."""
    parts = [heading]
    for number, one in enumerate(found, start=1):
        sql = LONG.sub("SELECT … FROM", one.sql)
        parts += [f"{number}. {one.page}: {one.ms:.1f} ms", sql, "", *one.lines, ""]
    return "\n".join([*parts, ""])
