"""Lists whose rows are no plain records: lines of mixes, lots with what is on hand, days of visits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils.translation import gettext

from consulting.models import User
from plans import shed, visits
from plans.facts import mix_of
from plans.in_out.checking import (
    CHANGED,
    NEW,
    SAME,
    WRONG,
    Checked,
    Checker,
    Difference,
    Problem,
    folded,
    shown,
)
from plans.in_out.reading import Row
from plans.models import Mix, StockLot, Visit
from plans.planning import job, tables
from plans.planning.needs import PackOffer, offers_of
from plans.selectors import prices_for
from plans.services import Refused, mix_save

WHOLE = ("basis", "seeds_per_sqft", "rate_is_for")


@dataclass(frozen=True, slots=True)
class MixAsBrought:
    """A mix with the lines that the file gives it."""

    pk: int | None
    mix: Mix
    lines: tuple[job.MixLine, ...]


class MixChecker(Checker):
    """A mix is the lines that bear its name: those that a file lacks leave it."""

    found: dict[int, tuple[Checked, MixAsBrought | None]] | None = None

    def rows_here(self) -> dict[Any, list[models.Model]]:
        rows = Mix.objects.filter(replaced=False).prefetch_related("lines").order_by("pk")
        return {(folded(row.name),): [row] for row in rows}

    def check(self, rows: Iterable[Row]) -> list[tuple[Checked, Any]]:
        if self.found is None:
            self.found = self._all()
        return [self.found[row.number] for row in rows]

    def _all(self) -> dict[int, tuple[Checked, MixAsBrought | None]]:
        found: dict[int, tuple[Checked, MixAsBrought | None]] = {}
        mixes: dict[str, list[tuple[Row, dict[str, Any]]]] = {}
        for row in self.sheet.rows:
            typed = {name: row.cells[at] for name, at in self.matched.items()}
            problems: list[Problem] = []

            wrong = self.complaints(typed, problems)
            values = self.values(typed, wrong)
            for name in ("basis", "amount"):
                if name not in self.matched:
                    wrong(name, gettext("This column is missing. A mix needs it."))
            if problems:
                found[row.number] = Checked(row.number, typed.get("name", ""), WRONG, tuple(problems)), None
            else:
                values["rate_is_for"] = values.get("rate_is_for") or "drilled"
                mixes.setdefault(folded(values["name"]), []).append((row, values))
        for key, lines in mixes.items():
            found |= self._mix(key, lines)
        return found

    def _mix(
        self, key: str, lines: list[tuple[Row, dict[str, Any]]]
    ) -> dict[int, tuple[Checked, MixAsBrought | None]]:
        first, head = lines[0]
        (old,) = self.there.get((key,), [None])
        facts = tuple(job.MixLine(species=values["species"], amount=values["amount"]) for _, values in lines)
        reason = self._reason(lines, head, facts)
        if reason:
            problem = Problem(self.columns["name"].title, head["name"], reason)
            return {
                row.number: (Checked(row.number, head["name"], WRONG, (problem,)), None) for row, _ in lines
            }
        mix = old if isinstance(old, Mix) else Mix(practice=self.practice)
        before = mix_of(mix) if old else None
        made: dict[int, tuple[Checked, MixAsBrought | None]] = {}
        for at, (row, values) in enumerate(lines):
            differences = _line_differences(before, values)
            if at == 0 and before:
                differences = [*self._whole_differences(before, head, facts), *differences]
            what = NEW if before is None else CHANGED if differences else SAME
            name = f"{head['name']}: {values['species']}"
            made[row.number] = Checked(row.number, name, what, differences=tuple(differences)), None
        if any(row.what != SAME for row, _ in made.values()):
            mix.name = head["name"] if old is None else mix.name
            for name in WHOLE:
                setattr(mix, name, head.get(name))
            checked, _ = made[first.number]
            made[first.number] = checked, MixAsBrought(mix.pk, mix, facts)
        return made

    def _reason(self, lines: Sequence[tuple[Row, dict[str, Any]]], head: dict[str, Any], facts: Any) -> str:
        for row, values in lines:
            if any(values.get(name) != head.get(name) for name in WHOLE):
                said = gettext("Row {number} says otherwise than row {first} what the amounts are.")
                return said.format(number=row.number, first=lines[0][0].number)
        try:
            whole: Any = {name: head.get(name) for name in WHOLE}
            job.Mix(name=head["name"], lines=facts, **whole)
        except ValueError as refused:
            return f"{refused}."
        return ""

    def _whole_differences(self, before: job.Mix, head: dict[str, Any], facts: Any) -> list[Difference]:
        changed = [
            Difference(self.columns[name].title, shown(getattr(before, name)), shown(head.get(name)))
            for name in WHOLE
            if getattr(before, name) != head.get(name)
        ]
        there = {line.species for line in facts}
        gone = [line for line in before.lines if line.species not in there]
        return changed + [
            Difference(line.species, shown(line.amount), gettext("leaves the mix")) for line in gone
        ]

    def write(self, checked: Sequence[tuple[Checked, Any]], user: User) -> None:
        for _, brought in checked:
            if brought is not None:
                mix_save(mix=brought.mix, lines=brought.lines)


def _line_differences(before: job.Mix | None, values: dict[str, Any]) -> list[Difference]:
    if before is None:
        return []
    old = next((line.amount for line in before.lines if line.species == values["species"]), None)
    return (
        []
        if old == values["amount"]
        else [Difference(values["species"], shown(old), shown(values["amount"]))]
    )


class StockChecker(Checker):
    """Lots of the shed. What is on hand changes by a count, as it would on the site."""

    def rows_here(self) -> dict[Any, list[models.Model]]:
        self.species = {folded(name): name for name in tables.species()}
        self.units: dict[tuple[str, Any], tuple[str, str]] = {
            (offer.kind, folded(offer.name)): (offer.name, offer.unit)
            for offer in offers_of(prices_for(self.practice))
            if isinstance(offer, PackOffer)
        }
        return super().rows_here()

    def whole(self, record: Any, wrong: Any) -> None:
        if record.pk is None:
            self._measure(record, wrong)
        super().whole(record, wrong)

    def _measure(self, lot: StockLot, wrong: Any) -> None:
        """Under which name and in which unit a new lot is counted."""
        if lot.kind == StockLot.Kind.SEED:
            known = self.species.get(folded(lot.name))
            if known is None:
                near = get_close_matches(folded(lot.name), self.species, n=1)
                wrong(
                    "name",
                    gettext("This is not in the species list. Did you mean {near}?").format(
                        near=self.species[near[0]]
                    )
                    if near
                    else gettext("This is not in the species list. Write it as the price list has it."),
                )
            lot.name, lot.unit = known or lot.name, "lb"
            return
        found = self.units.get((lot.kind, folded(lot.name)))
        if lot.kind and found is None:
            wrong(
                "name",
                gettext("The price list does not have it, so its unit is unknown. Enter its price first."),
            )
        lot.name, lot.unit = found or (lot.name, "unit")

    def record(self, row: Row, typed: Any, values: dict[str, Any], wrong: Any) -> Any:
        record, old = super().record(row, typed, values, wrong)
        if old and old.get("kind", "") != values.get("kind", old.get("kind", "")):
            wrong("kind", gettext("A lot of this name is of another kind. Give this one another lot number."))
        return record, old

    def write(self, checked: Sequence[tuple[Checked, Any]], user: User) -> None:
        names = {column.title: column.name for column in self.columns.values()}
        for row, lot in checked:
            if row.what == NEW:
                amount, lot.on_hand = lot.on_hand, 0
                shed.lot_add(lot=lot, amount=amount, user=user, on=self.today, note="From a list")
            elif row.what == CHANGED:
                changed = {names[difference.column] for difference in row.differences}
                held = StockLot.objects.get(pk=lot.pk)
                if changed - {"on_hand"}:
                    values = {name: getattr(lot, name) for name in changed - {"on_hand"}}
                    held = shed.lot_save(stock=held, version=lot.version, **values)
                if "on_hand" in changed:
                    counted = {"amount": lot.on_hand, "on": self.today, "note": "From a list"}
                    shed.stock_count(lot=held, version=held.version, user=user, **counted)


class VisitChecker(Checker):
    """Days of open visits. What a day would clash with is found by booking it all and taking that back."""

    def rows_here(self) -> dict[Any, list[models.Model]]:
        return {}

    def check(self, rows: Iterable[Row]) -> list[tuple[Checked, Any]]:
        with transaction.atomic():
            found = [self._book(row, None) for row in rows]
            transaction.set_rollback(True)
        return found

    def write(self, checked: Sequence[tuple[Checked, Any]], user: User) -> None:
        rows = {row.number: row for row in self.sheet.rows}
        self.seen = {}
        for row, _ in checked:
            if row.what == CHANGED:
                again, _ = self._book(rows[row.number], user)
                if again.problems:
                    raise ValidationError(
                        gettext("row {number}: {reason}").format(
                            number=row.number, reason=again.problems[0].reason
                        )
                    )

    def _book(self, row: Row, user: User | None) -> tuple[Checked, Visit | None]:
        typed = {name: row.cells[at] for name, at in self.matched.items()}
        problems: list[Problem] = []

        wrong = self.complaints(typed, problems)
        values = self.values(typed, wrong)
        number = values.get("visit")
        visit = Visit.objects.select_related("field").filter(pk=number).first() if number else None
        if not problems and visit is None:
            wrong(
                "visit",
                gettext("There is no visit of this number. Take the numbers from the list that went out."),
            )
        if visit is not None and (number,) in self.seen:
            said = gettext("Row {number} is the same visit. Leave one of them out.")
            wrong("visit", said.format(number=self.seen[number,]))
        if problems or visit is None:
            return Checked(row.number, typed.get("visit", ""), WRONG, tuple(problems)), None
        self.seen[number,] = row.number
        name, before, on = f"{visit}", visit.booked_on, values.get("booked_on", visit.booked_on)
        if on == before:
            return Checked(row.number, name, SAME), visit
        try:
            self._put(visit, on, user)
        except (Refused, ValidationError) as refused:
            why = refused.problems if isinstance(refused, Refused) else refused.messages
            wrong("booked_on", " ".join(why))
            return Checked(row.number, name, WRONG, tuple(problems)), None
        difference = Difference(self.columns["booked_on"].title, shown(before), shown(on))
        return Checked(row.number, name, CHANGED, differences=(difference,)), visit

    def _put(self, visit: Visit, on: Any, user: User | None) -> None:
        asked: dict[str, Any] = {"visit": visit, "version": visit.version, "reason": "From a list"}
        asked["user"] = user
        if on is None:
            visits.visit_unbook(**asked)
        else:
            visits.visit_book(**asked, on=on, people=list(visit.people.all()), hours=visit.booked_hours)


CHECKERS: dict[str, type[Checker]] = {"mixes": MixChecker, "stock": StockChecker, "visits": VisitChecker}
