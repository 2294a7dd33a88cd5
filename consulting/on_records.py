"""A form that carries the versions of the records it is on, and is not written where they moved on since."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Self

from django import forms

from consulting.acting import who_acts
from consulting.beside import Beside, beside
from consulting.changes import Change
from consulting.followed import Followed
from consulting.opened import NONE_YET, OPENED, MovedOn, changes_since, own_changes_since, stamp, versions_of

MEND = "mend"
"""Sent along where a form is to be shown again with what was typed, and not to be written yet."""


class OnRecords(forms.BaseForm):
    """A form of one record does so by itself; one of several, or of none yet, calls `on_records`."""

    records: tuple[Followed, ...] = ()
    opened_at: str | None = None
    """The versions of `records` as they stand; None of a form that is on none."""
    sends_itself: bool = False
    """Whether the page sends it with each choice: what the same person chose just before is no surprise."""
    adds: bool = False
    """Whether its fields stand in no column of its records, such as work done: what was typed is told by
    itself, and whatever became of them since is looked at first."""
    made_with: tuple[tuple[Any, ...], dict[str, Any]]

    def __new__(cls, *args: Any, **kwargs: Any) -> Self:
        form = super().__new__(cls)
        form.made_with = args, kwargs
        return form

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        row = getattr(self, "instance", None)
        if isinstance(row, Followed) and row.pk is not None:
            self.on_records(row)

    def on_records(self, *rows: Followed | None) -> None:
        """Carry the versions of these records; without any that was saved, that there was none."""
        self.records = tuple(row for row in rows if row is not None and row.pk is not None)
        self.opened_at = stamp(self.records)
        # Several forms of a page carry one: it has no id.
        self.fields[OPENED] = forms.CharField(required=False, widget=forms.HiddenInput({"id": False}))
        given = self.made_with[1].get("initial") or {}
        self.initial = {**self.initial, OPENED: given.get(OPENED, self.opened_at)}

    def full_clean(self) -> None:
        """Raises MovedOn before anything of the form is looked at."""
        if self.is_bound and self.opened_at is not None:
            opened = self.data.get(self.add_prefix(OPENED), "")
            if opened and opened != self.opened_at and self._is_touched(opened):
                raise MovedOn(self.records, opened, self)
        super().full_clean()
        if hasattr(self, "cleaned_data"):
            self.cleaned_data.pop(OPENED, None)

    def _is_touched(self, opened: str) -> bool:
        """Whether anything that stands in the form was changed since; if not, it goes on top of that."""
        if self.adds or (not versions_of(opened) and opened != NONE_YET):
            return True
        if self.sends_itself:
            changes, mine = changes_since(opened, self.records), who_acts().user
            if changes and all(mine and change.by_id == mine.pk for change in changes):
                return False
        if isinstance(self, forms.BaseModelForm) and len(self.records) == 1 and opened != NONE_YET:
            changes = changes_since(opened, self.records)
            own = own_changes_since(opened, self.records)
            touched = [*(change.fields for change in changes), *(change.fields for change in own)]
            columns = {name for fields in touched for name in fields}
            whole = any(change.what != Change.What.CHANGED for change in changes)
            if touched and not whole and columns.isdisjoint(self.fields):
                return False
        return bool(beside(self))

    def is_valid(self) -> bool:
        """False also where the form is only to be shown again with what was typed."""
        return super().is_valid() and MEND not in self.data

    def as_it_stands(self) -> Self:
        """The same form unbound: with what stands in its records."""
        (*given,), named = self.made_with
        mine = {"data", "files"} | ({"initial"} if isinstance(self, forms.BaseModelForm) else set())
        named = {name: value for name, value in named.items() if name not in mine}
        return type(self)(*(None for _ in given[:2]), *given[2:], **named)

    def told_as(self, name: str) -> str:
        """How a field is called away from the form."""
        return str(self[name].label)

    def stands(self) -> Iterable[tuple[str, str]]:
        """What its records say besides the fields, in labelled words."""
        return ()

    def also_beside(self) -> Iterable[Beside]:
        """What differs besides the fields, such as lines of a list."""
        return ()
