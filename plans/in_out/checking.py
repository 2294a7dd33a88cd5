"""Rows of a file held against what is there: which are new, which change what, which are wrong and why."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from decimal import Decimal
from difflib import get_close_matches
from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import models
from django.utils.translation import gettext as _

from consulting.clock import today_for
from consulting.followed import save_all
from consulting.models import Practice, PriceRow, User
from plans.in_out.kinds import Column, Kind
from plans.in_out.reading import Row, Sheet, number, plain
from sites.climate import nearest
from sites.models import Farm
from sites.services import climate_values

YES, NO = {"yes", "y", "true", "x", "1", "si", "sí"}, {"no", "n", "false", "0", ""}
NEW, CHANGED, SAME, WRONG = "new", "changed", "same", "wrong"
Key = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Problem:
    column: str
    value: str
    reason: str


@dataclass(frozen=True, slots=True)
class Difference:
    column: str
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class Checked:
    """What becomes of one row."""

    number: int
    name: str
    what: str
    problems: tuple[Problem, ...] = ()
    differences: tuple[Difference, ...] = ()

    def as_json(self) -> dict[str, Any]:
        return asdict(self)


def match(kind: Kind, practice: Practice, heads: Sequence[str]) -> dict[str, int]:
    """Which column of a file is which of ours, by name alone; each is taken once."""
    found: dict[str, int] = {}
    taken: set[int] = set()
    columns = kind.columns(practice)
    for exact in (True, False):
        for column in columns:
            wanted = {plain(column.title)} if exact else column.known_as
            at = next((i for i, head in enumerate(heads) if i not in taken and plain(head) in wanted), None)
            if column.name not in found and at is not None:
                found[column.name] = at
                taken.add(at)
    return found


class Checker:
    """Holds rows of a sheet against a practice's own; reads what is there once."""

    def __init__(self, kind: Kind, practice: Practice, sheet: Sheet, matched: dict[str, int], comma: bool):
        self.kind, self.practice, self.sheet, self.comma = kind, practice, sheet, comma
        self.matched = {name: at for name, at in matched.items() if 0 <= at < len(sheet.heads)}
        self.columns = {column.name: column for column in kind.columns(practice)}
        self.fields = {
            name: given for name, given in kind.blank_form(practice).fields.items() if name in self.columns
        }
        self.choices = {
            name: _by_words(given)
            for name, given in self.fields.items()
            if isinstance(given, forms.ChoiceField)
        }
        self.belongs_to = {field.name for field in kind.model._meta.concrete_fields if field.remote_field}
        self.today = today_for(practice)
        self.parents = self._parents()
        self.there = self.rows_here()
        self.seen: dict[Key, int] = {}

    @property
    def missing(self) -> list[Column]:
        """Columns without which no row can be named."""
        return [
            column for column in self.columns.values() if column.required and column.name not in self.matched
        ]

    def _parents(self) -> dict[Key, list[models.Model]]:
        found: dict[Key, list[models.Model]] = {}
        if not self.kind.parents:
            return found
        last = self.kind.parents[-1].model
        rows = last._default_manager.select_related("client") if last is Farm else last._default_manager.all()
        for row in rows:
            names = (row.client.name, row.name) if isinstance(row, Farm) else (row.name,)  # type: ignore[attr-defined]
            found.setdefault(tuple(map(folded, names)), []).append(row)
        return found

    def rows_here(self) -> dict[Key, list[models.Model]]:
        found: dict[Key, list[models.Model]] = {}
        links = {"farms": ("client",), "fields": ("farm__client",)}.get(self.kind.key, ())
        for row in self.kind.model._default_manager.select_related(*links).order_by("pk"):
            found.setdefault(self.key_of(row), []).append(row)
        return found

    def key_of(self, row: models.Model) -> Key:
        values: dict[str, Any] = {}
        if self.kind.key == "farms":
            values["client"] = row.client.name  # type: ignore[attr-defined]
        if self.kind.key == "fields":
            values |= {"client": row.farm.client.name, "farm": row.farm.name}  # type: ignore[attr-defined]
        return tuple(folded(values.get(name, getattr(row, name, ""))) for name in self.kind.named_by)

    def check(self, rows: Iterable[Row]) -> list[tuple[Checked, Any]]:
        """Each row with the record as it would be; None where it is wrong. Rows must come in their order."""
        return [self.one(row) for row in rows]

    def write(self, checked: Sequence[tuple[Checked, Any]], user: User) -> None:
        """Keep what was checked. Raises Refused, ValidationError where a row is refused after all."""
        new = [record for row, record in checked if row.what == NEW]
        self.kind.model._default_manager.bulk_create(new, batch_size=1000)
        names = {column.title: column.name for column in self.columns.values()}
        checked_now = ["unchecked"] if issubclass(self.kind.model, PriceRow) else []
        save_all(
            [
                (record, [names[difference.column] for difference in row.differences] + checked_now)
                for row, record in checked
                if row.what == CHANGED
            ]
        )

    def one(self, row: Row) -> tuple[Checked, models.Model | None]:
        typed = {name: row.cells[at] for name, at in self.matched.items()}
        problems: list[Problem] = []
        wrong = self.complaints(typed, problems)
        values = self.values(typed, wrong)
        name = ", ".join(str(typed.get(part, "")) for part in self.kind.named_by if typed.get(part))
        if problems:
            return Checked(row.number, name, WRONG, tuple(problems)), None
        record, old = self.record(row, typed, values, wrong)
        if record is None or problems:
            return Checked(row.number, name, WRONG, tuple(problems)), None
        self.whole(record, wrong)
        if problems:
            return Checked(row.number, name, WRONG, tuple(problems)), None
        if old is None:
            return Checked(row.number, name, NEW), record
        differences = tuple(
            Difference(self.columns[key].title, shown(old[key]), shown(getattr(record, key)))
            for key in values
            if old[key] != getattr(record, key)
        )
        return Checked(row.number, name, CHANGED if differences else SAME, differences=differences), record

    def complaints(self, typed: dict[str, str], into: list[Problem]) -> Callable[[str, str], None]:
        """Writes down what is wrong in a column of a row."""

        def wrong(name: str, reason: str) -> None:
            column = self.columns.get(name)
            into.append(Problem(column.title if column else "", typed.get(name, ""), reason))

        return wrong

    def values(self, typed: dict[str, str], wrong: Any) -> dict[str, Any]:
        values = {}
        for name, text in typed.items():
            given = self.fields.get(name)
            if given is None:
                continue
            try:
                values[name] = self.value(name, given, text)
                self.within_bounds(name, values[name])
            except ValidationError as error:
                wrong(name, " ".join(error.messages))
        return values

    def within_bounds(self, name: str, value: Any) -> None:
        """Asked of each cell by itself, so that a row tells all that is wrong with it at once."""
        column = next((field for field in self.kind.model._meta.concrete_fields if field.name == name), None)
        if column is not None and value not in column.empty_values:
            column.run_validators(value)

    def value(self, name: str, given: forms.Field, text: str) -> Any:
        if name in self.choices:
            return self.chosen(name, given, text)
        if isinstance(given, forms.BooleanField):
            if text.casefold() not in YES | NO:
                raise ValidationError(_("Write yes or no."))
            return text.casefold() in YES
        if isinstance(given, forms.FloatField | forms.DecimalField | forms.IntegerField):
            text = number(text, self.comma)
        value = given.clean(text)
        if value is None and not isinstance(given, forms.DateField):
            default = self.kind.model._meta.get_field(name)
            if not default.null:
                return default.get_default()  # type: ignore[union-attr]
        return value

    def chosen(self, name: str, given: forms.Field, text: str) -> str:
        words = self.choices[name]
        found = words.get(plain(text))
        if found is None and text:
            near = get_close_matches(plain(text), list(words), n=1)
            if near:
                said = _("“{given}” is not on our list. Did you mean {near}?")
                raise ValidationError(said.format(given=text[:80], near=words[near[0]]))
            said = _("“{given}” is not on our list. Write it as the page of this list has it.")
            raise ValidationError(said.format(given=text[:80]))
        return str(given.clean(found or ""))

    def record(
        self, row: Row, typed: dict[str, str], values: dict[str, Any], wrong: Any
    ) -> tuple[models.Model | None, dict[str, Any] | None]:
        parent = self._parent(typed, wrong) if self.kind.parents else None
        if self.kind.parents and parent is None:
            return None, None
        key = tuple(
            folded(typed.get(name, "") if name not in self.fields else values.get(name, self.default(name)))
            for name in self.kind.named_by
        )
        if key in self.seen:
            said = _("Row {number} is the same {one}. Leave one of them out.")
            wrong(self.kind.named_by[-1], said.format(number=self.seen[key], one=self.kind.one))
            return None, None
        self.seen[key] = row.number
        there = self.there.get(key, [])
        if len(there) > 1:
            said = _("There are {count} of this name here. Tell them apart first, on the site.")
            wrong(self.kind.named_by[0], said.format(count=len(there)))
            return None, None
        if there:
            record = there[0]
            old = {name: getattr(record, name) for name in values}
            if getattr(record, "outline", None) and values.get("acres") not in (None, old.get("acres")):
                said = _("The acres follow from the outline: {acres}. Leave this as it is.")
                wrong("acres", said.format(acres=f"{old['acres']:g}"))
                return None, None
        else:
            record, old = self.kind.model(practice=self.practice), None
            if parent is not None:
                setattr(record, self.kind.parents[-1].name, parent)
        for name, value in values.items():
            setattr(record, name, value)
        if isinstance(record, Farm) and old is None:
            self._climate(record, wrong)
        if isinstance(record, PriceRow):
            record.unchecked = False
        return record, old

    def default(self, name: str) -> Any:
        return self.kind.model._meta.get_field(name).get_default()  # type: ignore[union-attr]

    def _parent(self, typed: dict[str, str], wrong: Any) -> models.Model | None:
        names = tuple(folded(typed.get(parent.name, "")) for parent in self.kind.parents)
        for parent in self.kind.parents:
            if not typed.get(parent.name):
                wrong(parent.name, _("{title} is missing. Write whose this is.").format(title=parent.title))
                return None
        found = self.parents.get(names, [])
        if len(found) == 1:
            return found[0]
        last = self.kind.parents[-1]
        several = _("There are {count} of this name. Tell them apart first, on the site.")
        wrong(last.name, several.format(count=len(found)) if found else str(last.none_here))
        return None

    def _climate(self, farm: Farm, wrong: Any) -> None:
        if farm.latitude is None or farm.longitude is None:
            wrong(
                "latitude",
                _("A new farm needs latitude and longitude, for the climate of the nearest station."),
            )
            return
        near = nearest(farm.latitude, farm.longitude, farm.elevation_ft)[0]
        for name, value in climate_values(near.station).items():
            setattr(farm, name, value)

    def whole(self, record: models.Model, wrong: Any) -> None:
        """The rules of the row itself, and what the planning service makes of it."""
        try:
            # What it belongs to was found here, so the database need not be asked for it row by row.
            record.full_clean(exclude=self.belongs_to, validate_unique=False, validate_constraints=False)
        except ValidationError as error:
            for name, messages in error.message_dict.items():
                for message in messages:
                    wrong("" if name == NON_FIELD_ERRORS else name, message)
            return
        tested = getattr(record, "tested_on", None)
        if isinstance(tested, date) and tested > self.today:
            wrong("tested_on", _("That day is still to come. Copy the test date from the seed tag."))
        if self.kind.fact is not None:
            try:
                self.kind.fact(record)
            except ValueError as refused:
                named = next((name for name in self.fields if str(refused).startswith(name)), "")
                wrong(named, f"{refused}.")


def _by_words(given: forms.ChoiceField) -> dict[str, str]:
    """What may be written for each choice: its key, its label, and the label's first words."""
    found: dict[str, str] = {}
    for value, label in list(given.choices):  # type: ignore[arg-type]
        pairs = label if isinstance(label, list | tuple) else [(value, label)]
        for key, words in pairs:
            for said in (str(key), str(words), str(words).partition(":")[0], str(words).partition(",")[0]):
                if plain(said):
                    found.setdefault(plain(said), str(key))
    return found


def folded(value: Any) -> Any:
    """A name as it is compared: whatever its capitals and spaces."""
    return " ".join(value.split()).casefold() if isinstance(value, str) else value


def shown(value: Any) -> str:
    """A value as a list that goes out has it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, Decimal):
        return f"{value:f}"
    return value.isoformat() if isinstance(value, date) else str(value)
