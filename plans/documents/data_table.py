"""What a drawing shows, as a table: for a page beneath it, and for print where it belongs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.platypus import Flowable

from plans.documents.look import CELL_SMALL, FINE, FINE_BOLD, p, table


@dataclass(frozen=True, slots=True)
class DataTable:
    """Words only, made for reading: the first cell of a row names it."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    @property
    def cells(self) -> list[tuple[str, list[tuple[str, str]]]]:
        """Each row as its name and the other cells, each with the head it stands under."""
        return [(row[0], list(zip(self.head[1:], row[1:], strict=True))) for row in self.rows]


def printed(found: DataTable, widths: Sequence[float]) -> list[Flowable]:
    """The table in small type under its caption; nothing without rows."""
    if not found.rows:
        return []
    rows = [[p(row[0], FINE_BOLD), *(p(cell, FINE) for cell in row[1:])] for row in found.rows]
    return [p(found.caption, CELL_SMALL), table(found.head, rows, widths, tight=True, text=FINE)]
