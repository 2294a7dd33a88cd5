"""Kinds of cells in the reference tables: lists with semicolons, amounts by name, blanks."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field


def words(text: Any) -> Any:
    """`a; b` and a list of JSON as a tuple; what else there is passes."""
    if isinstance(text, list):
        return tuple(text)
    return tuple(part.strip() for part in text.split(";") if part.strip()) if isinstance(text, str) else text


def amounts(text: Any) -> Any:
    """`name=amount; name=amount` as pairs. Raises ValueError for a part without its amount."""
    if not isinstance(text, str):
        return text
    pairs = []
    for part in words(text):
        name, equals, amount = part.partition("=")
        if not equals:
            raise ValueError(f"{part!r} must read name=amount")
        pairs.append((name.strip(), amount.strip()))
    return tuple(pairs)


def blank(text: Any) -> Any:
    """An empty cell as None."""
    return None if text == "" else text


Key = Annotated[str, Field(min_length=1)]
Words = Annotated[tuple[str, ...], BeforeValidator(words)]
Chemicals = Annotated[tuple[tuple[str, float], ...], BeforeValidator(amounts)]
Additions = Annotated[tuple[tuple[str, str], ...], BeforeValidator(amounts)]
MaybeNumber = Annotated[float | None, BeforeValidator(blank)]
MaybeInt = Annotated[int | None, BeforeValidator(blank)]
MaybePercent = Annotated[Annotated[int, Field(ge=1, le=99)] | None, BeforeValidator(blank)]
Source = Annotated[str, Field(min_length=4)]
