"""The generator's copies may meet in no column that has to be unique; what grows is written as it is."""

from __future__ import annotations

from pathlib import Path

from django.db import models

from tests.load.copies import COPY, FRESH, NUMBERED, copied, links, statements, with_client
from tests.load.generate import shares
from tests.load.spread import schema

RUNNING = Path(__file__).parent.parent.parent / "RUNNING.md"


def sets_of(model: type[models.Model]) -> list[tuple[str, ...]]:
    """Columns that are unique together."""
    fields = {field.name: field.column for field in model._meta.concrete_fields}
    found = [(field.column,) for field in model._meta.concrete_fields if field.unique]
    rules = [rule for rule in model._meta.constraints if isinstance(rule, models.UniqueConstraint)]
    return found + [tuple(fields[name] for name in rule.fields) for rule in rules if rule.fields]


def test_no_two_copies_meet_in_what_must_be_unique() -> None:
    for model in copied():
        moved = {column for column, target in links(model).items() if with_client(target)}
        shared = set(links(model)) - moved
        for columns in sets_of(model):
            differs = moved | (shared if not with_client(model) else set()) | {model._meta.pk.column}
            differs |= {
                field.column for field in model._meta.concrete_fields if isinstance(field, models.UUIDField)
            }
            label = model._meta.label_lower
            differs |= {name for name in columns if f"{label}.{name}" in {*FRESH, *NUMBERED}}
            assert differs & set(columns), f"{label}: copies have the same {', '.join(columns)}"


def test_each_table_is_filled_after_what_it_points_to() -> None:
    order = [statement.table for statement in statements()]
    assert len(order) == len(set(order)) == len(copied())
    for model in copied():
        for target in links(model).values():
            assert order.index(target._meta.db_table) <= order.index(model._meta.db_table)
    moved = {statement.table: statement.moved for statement in statements()}
    assert moved["plans_visit"] == moved["plans_visit_people"] == moved["plans_recordline"] == COPY
    assert moved["plans_mix"] == moved["consulting_membership"] == moved["consulting_user"] != COPY


def test_the_first_practice_gets_most_and_none_nothing() -> None:
    cut = shares(1250, 50)
    assert sum(cut) == 1250 and min(cut) >= 1 and cut == sorted(cut, reverse=True) and cut[0] > 10 * cut[-1]


def test_running_names_every_table_that_has_no_practice() -> None:
    found, said = schema(), RUNNING.read_text(encoding="utf-8")
    growing = said.partition("## Growing")[2].partition("\n## ")[0]
    for table in (*found.whole, *found.joining):
        assert f"`{table}`" in growing, f"{table}: has no practice and is not under Growing in RUNNING.md"
