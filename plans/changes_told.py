"""What was changed, in sentences: who did what to which record, from what to what."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import models
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as marked

from consulting.acting import Way
from consulting.changes import Change
from consulting.followed import OwnChange
from plans.change_kinds import column_in_words, columns_of, hidden, record_in_words, value_in_words
from plans.documents.told import told
from plans.models import VisitChange

What = VisitChange.What


@dataclass(frozen=True, slots=True)
class Told:
    """One change as it is read. `parts` says column by column what `sentence` says of several at once."""

    at: datetime
    about: str
    record: str
    sentence: str
    parts: tuple[str, ...] = ()


def change_told(change: Change, rights: Mapping[str, bool]) -> Told | None:
    """None where all that changed is hidden from this reader."""
    who, record = _who(change), record_in_words(change)
    if change.what == Change.What.ADDED:
        return Told(
            change.at, change.about, record, _("{who} added {record}.").format(who=who, record=record)
        )
    columns = columns_of(change.kind)
    seen = {
        name: (field, change.fields[name])
        for name, field in columns.items()
        if name in change.fields and not hidden(name, rights)
    }
    if change.what == Change.What.REMOVED:
        sentence = _("{who} removed {record}.").format(who=who, record=record)
        last = [_was(change.kind, field, values[0]) for field, values in seen.values() if values]
        return Told(change.at, change.about, record, sentence, tuple(filter(None, last)))
    if set(change.fields) == {"unchecked"}:
        return Told(
            change.at, change.about, record, _("{who} confirmed {record}.").format(who=who, record=record)
        )
    for aside in ("unchecked", "hauling_unchecked"):
        seen.pop(aside, None)
    if not seen:
        return None
    if len(seen) == 1:
        ((field, values),) = seen.values()
        sentence = _said(ALONE, change.kind, field, values, who=who, record=record)
        return Told(change.at, change.about, record, sentence)
    sentence = _("{who} changed {record}:").format(who=who, record=record)
    parts = tuple(_said(AMONG, change.kind, field, values) for field, values in seen.values())
    return Told(change.at, change.about, record, sentence, parts)


MOVED, SET, EMPTIED, CHANGED = "moved", "set", "emptied", "changed"
ALONE: Mapping[str, Any] = {
    MOVED: marked("{who} changed “{column}” of {record} from {before} to {after}."),
    SET: marked("{who} set “{column}” of {record} to {after}."),
    EMPTIED: marked("{who} emptied “{column}” of {record}; it was {before}."),
    CHANGED: marked("{who} changed “{column}” of {record}."),
}
AMONG: Mapping[str, Any] = {
    MOVED: marked("“{column}” from {before} to {after}"),
    SET: marked("“{column}” to {after}"),
    EMPTIED: marked("“{column}” emptied; it was {before}"),
    CHANGED: marked("“{column}”"),
}


def _said(
    ways: Mapping[str, Any], kind: str, field: models.Field[Any, Any], values: list[Any], **named: str
) -> str:
    before, after = (value_in_words(kind, field, value) for value in values) if values else ("", "")
    way = {(True, True): MOVED, (False, True): SET, (True, False): EMPTIED}.get(
        (bool(before), bool(after)), CHANGED
    )
    return str(ways[way]).format(column=column_in_words(field), before=before, after=after, **named)


def _was(kind: str, field: models.Field[Any, Any], value: Any) -> str:
    shown = value_in_words(kind, field, value)
    return _("“{column}” was {value}").format(column=column_in_words(field), value=shown) if shown else ""


def _who(change: Change) -> str:
    if change.way == Way.CLIENT:
        return _("The client’s page")
    return change.by_name if change.way == Way.MEMBER else _("The site, by itself,")


VISITS: Mapping[str, Any] = {
    What.MADE: marked("{who} made the visit {visit}, {after}."),
    What.BOOKED: marked("{who} booked the visit {visit} for {after}."),
    What.UNBOOKED: marked("{who} took the visit {visit} off the calendar, where it stood on {before}."),
    What.PEOPLE: marked("{who} gave the visit {visit} to {after}."),
    What.MACHINES: marked("{who} sends the visit {visit} with {after}."),
    What.HELD: marked("{who} let the visit {visit} wait for weather: {after}."),
    What.FREED: marked("{who} said that the visit {visit} waits no more."),
    What.PART: marked("{who} did a part of the visit {visit}: {after}."),
    What.DONE: marked("{who} said that the visit {visit} is done: {after}."),
    What.SKIPPED: marked("{who} skipped the visit {visit}."),
    What.REOPENED: marked("{who} opened the visit {visit} again, which was {before}."),
    What.WINDOW: marked("{who} moved the window of the visit {visit} from {before} to {after}."),
    What.CHANGED: marked("{who} changed the visit {visit} by agreement: {before}, now {after}."),
}
VISITS_MOVED: Mapping[str, Any] = {
    What.BOOKED: marked("{who} moved the visit {visit} from {before} to {after}."),
    What.PEOPLE: marked("{who} gave the visit {visit} to {after} in place of {before}."),
    What.MACHINES: marked("{who} sends the visit {visit} with {after} in place of {before}."),
}
VISITS_EMPTIED: Mapping[str, Any] = {
    What.PEOPLE: marked("{who} took {before} off the visit {visit}."),
    What.MACHINES: marked("{who} sends the visit {visit} without {before}."),
    What.CHANGED: marked("{who} changed the visit {visit} by agreement; it was {before}."),
}
BY_ITSELF = "Reckoned anew"
"""The name under which visits are moved by the practice's own reckoning."""


def visit_told(change: VisitChange) -> Told:
    """Asks for `visit__field`."""
    pattern = VISITS[change.what]
    if change.before and change.after:
        pattern = VISITS_MOVED.get(change.what, pattern)
    elif change.before:
        pattern = VISITS_EMPTIED.get(change.what, pattern)
    elif change.what == What.CHANGED:
        pattern = marked("{who} changed the visit {visit} by agreement: {after}.")
    who = _("The site, by itself,") if change.by_name == BY_ITSELF else change.by_name
    visit = _("“{step}” on {field}").format(step=told(change.visit.label), field=change.visit.field.name)
    sentence = str(pattern).format(
        who=who, visit=visit, before=told(change.before), after=told(change.after) or _("nothing")
    )
    parts = (told(change.reason),) if change.reason else ()
    return Told(change.at, f"visit:{change.visit_id}", visit, sentence, parts)


MACHINES = ("tractor", "implement", "truck", "trailer", "tractor_rides")
FIELDS: Mapping[str, tuple[str, ...]] = {
    What.BOOKED: ("on",),
    What.UNBOOKED: ("on",),
    What.PEOPLE: ("people",),
    What.MACHINES: MACHINES,
}
"""What a change of a visit touches, by its names in the form of a booking."""


def own_changes(changes: Iterable[VisitChange]) -> list[OwnChange]:
    """Changes of visits beside a form that was opened before them. Asks for `visit__field`."""
    found = []
    for change in changes:
        said = visit_told(change)
        before = [] if change.what == What.MACHINES else [_sent(change.before)]
        fields = dict.fromkeys(FIELDS.get(change.what, ()), before)
        found.append(OwnChange(change.at, said.sentence, said.parts, change.by_name, fields))
    return found


def _sent(before: str) -> str:
    """What a visit's history keeps, as a form sends it: a day by its number."""
    try:
        return f"{datetime.strptime(before, '%B %d, %Y'):%Y-%m-%d}"
    except ValueError:
        return before
