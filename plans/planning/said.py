"""A sentence with named places: read here as it stands, and in print in another language."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Said:
    """`text` has a place in braces for each of `values`."""

    text: str
    values: tuple[tuple[str, str], ...] = ()

    def __str__(self) -> str:
        return self.text.format(**dict(self.values))


def said(text: str, **values: object) -> Said:
    return Said(text, tuple((name, str(value)) for name, value in values.items()))
