"""What of the schema a database that spreads tables by practice would ask to be otherwise.

`python -m tests.load.spread` lists it for every table.
"""

from __future__ import annotations

import os
from dataclasses import dataclass

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    import django

    django.setup()

from django.apps import apps
from django.db import models

from consulting.models import Practice

Model = type[models.Model]


@dataclass(frozen=True, slots=True)
class Schema:
    """Names of tables, and for those of a practice what lacks the practice in it."""

    spread: tuple[str, ...]
    """With a column that names the practice."""
    joining: tuple[str, ...]
    """That join rows of a practice and have no such column."""
    whole: tuple[str, ...]
    """Of people, sessions and the site: on every node, or on one."""
    unique: tuple[str, ...]
    """`table: columns` that are unique without the practice among them; keys counted apart."""
    links: tuple[str, ...]
    """`table.column` that points to a row of a practice by its key alone."""


def schema() -> Schema:
    every = [model for model in apps.get_models(include_auto_created=True) if model._meta.managed]
    spread = [model for model in every if model is not Practice and of_practice(model)]
    joining = [model for model in every if model not in spread and points_to(model, spread)]
    rest = [model for model in every if model not in spread and model not in joining]
    return Schema(
        spread=names(spread),
        joining=names(joining),
        whole=names(rest),
        unique=tuple(sorted(said for model in spread for said in unique_without(model))),
        links=tuple(sorted(said for model in spread for said in links_to(model, spread))),
    )


def names(tables: list[Model]) -> tuple[str, ...]:
    return tuple(sorted(model._meta.db_table for model in tables))


def of_practice(model: Model) -> bool:
    return any(field.related_model is Practice and field.name == "practice" for field in model._meta.fields)


def points_to(model: Model, spread: list[Model]) -> bool:
    return any(field.related_model in spread for field in model._meta.fields)


def unique_without(model: Model) -> list[str]:
    """Sets of columns that are unique, without the practice and apart from the key."""
    found = [
        (field.column,) for field in model._meta.concrete_fields if field.unique and not field.primary_key
    ]
    for rule in model._meta.constraints:
        if isinstance(rule, models.UniqueConstraint) and "practice" not in rule.fields:
            found.append(rule.fields)
    return [
        f"{model._meta.db_table}: {', '.join(columns)}" for columns in found if columns != ("practice_id",)
    ]


def links_to(model: Model, spread: list[Model]) -> list[str]:
    return [
        f"{model._meta.db_table}.{field.column}"
        for field in model._meta.concrete_fields
        if field.related_model in spread
    ]


if __name__ == "__main__":
    found = schema()
    for what, said in (
        ("tables with a practice", found.spread),
        ("tables that join rows of one, without its column", found.joining),
        ("tables without a practice", found.whole),
        ("unique without the practice", found.unique),
        ("links to a row of a practice by its key alone", found.links),
    ):
        print(f"{len(said)} {what}", *(f"    {one}" for one in said), sep="\n")
