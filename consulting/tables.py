"""Reads a table of facts from a CSV file and checks every row once."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any


class BadTable(ValueError):
    """A table that cannot be used: names file, row and column."""


def read_table(path: Path, columns: Mapping[str, Callable[[str], Any]]) -> list[dict[str, Any]]:
    """Rows of `path` with each cell read by its column's parser.

    The first line must name exactly these columns. A parser raises ValueError for a cell it cannot take.
    Raises BadTable with file, row (as a spreadsheet counts: the first row of facts is row 2) and column.
    """
    with path.open(newline="", encoding="utf-8") as file:
        reader = csv.DictReader(file, strict=True)
        if reader.fieldnames is None or list(reader.fieldnames) != list(columns):
            raise BadTable(
                f"{path.name}, row 1: the columns must be {', '.join(columns)}; found {reader.fieldnames}"
            )
        rows = []
        for number, raw in enumerate(reader, start=2):
            row = {}
            for column, parse in columns.items():
                cell = raw[column]
                if cell is None or None in raw:
                    raise BadTable(f"{path.name}, row {number}: has not as many cells as the first row")
                try:
                    row[column] = parse(cell.strip())
                except (ValueError, ArithmeticError) as error:
                    raise BadTable(f"{path.name}, row {number}, column {column}: {cell!r} {error}") from None
            rows.append(row)
    return rows


def text(cell: str) -> str:
    if not cell:
        raise ValueError("is empty; write something")
    return cell


def optional(parse: Callable[[str], Any]) -> Callable[[str], Any]:
    return lambda cell: parse(cell) if cell else None


def one_of(*allowed: str) -> Callable[[str], str]:
    def parse(cell: str) -> str:
        if cell not in allowed:
            raise ValueError(f"is not one of: {', '.join(allowed)}")
        return cell

    return parse


def number(low: float, high: float) -> Callable[[str], float]:
    """A number from `low` to `high`, both allowed."""

    def parse(cell: str) -> float:
        try:
            value = float(cell)
        except ValueError:
            raise ValueError("is not a number") from None
        if not low <= value <= high:
            raise ValueError(f"must be from {low:g} to {high:g}")
        return value

    return parse
