"""Options arranged for a page: what each comes to beside the plan. Reckons nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from plans.planning.options import Option


@dataclass(frozen=True, slots=True)
class OptionRow:
    option: Option
    years: str
    trips: str
    unchanged: tuple[str, ...]
    why_not: tuple[str, ...]


def option_row(option: Option) -> OptionRow:
    years = trips = ""
    if found := option.standing:
        years = f"{found.first_year}–{found.last_year}" if found.first_year else ""
        said = _("{trips}, {sprays} to spray") if found.sprays else _("{trips}, none to spray")
        trips = said.format(trips=found.trips, sprays=found.sprays)
    return OptionRow(
        option=option,
        years=years,
        trips=trips,
        unchanged=tuple(str(said) for said in option.unchanged),
        why_not=tuple(str(said) for said in option.why_not),
    )


def option_rows(options: Iterable[Option]) -> tuple[OptionRow, ...]:
    return tuple(option_row(option) for option in options)
