"""Writes to the ground: farms, their climate, and fields."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import ProtectedError
from django.utils.translation import gettext_lazy

from consulting.models import Client, User
from consulting.services import save
from sites.climate import Station
from sites.drawn import outline_json
from sites.ground.measuring import measure
from sites.ground.outline import Outline
from sites.models import Farm, Field, Observation, PrevailingWind
from sites.signals import year_changed


def climate_values(station: Station) -> dict[str, Any]:
    """What a farm takes over from a station; it can be changed by hand afterwards."""
    return {
        "climate_place": station.place,
        "monthly_mean_f": list(station.monthly_mean_f),
        "last_spring_freeze": station.last_spring_freeze,
        "first_fall_freeze": station.first_fall_freeze,
        "climate_source": station.provenance,
    }


def farm_create(*, client: Client, station: Station, **values: Any) -> Farm:
    """A farm with the climate of `station`. Raises ValidationError."""
    return save(Farm(practice_id=client.practice_id, client=client), **values, **climate_values(station))


def farm_update(*, farm: Farm, **values: Any) -> Farm:
    return save(farm, **values)


def farm_take_climate(*, farm: Farm, station: Station) -> Farm:
    return save(farm, **climate_values(station))


@transaction.atomic
def observation_create(*, farm: Farm, by: User, **values: Any) -> Observation:
    """What was seen on the farm. Raises ValidationError for the same moment twice in a season."""
    seen = save(Observation(practice_id=farm.practice_id, farm=farm), **values)
    year_changed.send(Farm, farm=farm, by=by, because=f"{seen} was seen")
    return seen


@transaction.atomic
def observation_remove(*, observation: Observation, by: User) -> None:
    observation.delete()
    year_changed.send(Farm, farm=observation.farm, by=by, because=f"{observation} was taken back")


def wind_keep(*, farm: Farm, season: str, comes_from: str) -> PrevailingWind:
    """The wind of a season, in place of the one that was there. Raises ValidationError."""
    there = PrevailingWind.objects.filter(farm=farm, season=season).first()
    return save(
        there or PrevailingWind(practice_id=farm.practice_id, farm=farm, season=season), comes_from=comes_from
    )


def wind_remove(*, wind: PrevailingWind) -> None:
    wind.delete()


def field_create(*, farm: Farm, **values: Any) -> Field:
    return save(Field(practice_id=farm.practice_id, farm=farm), **values)


def field_update(*, field: Field, **values: Any) -> Field:
    """Changes a field by hand; where its slope changes, how that was found no longer holds."""
    if any(name in values and values[name] != getattr(field, name) for name in ("slope_pct", "faces")):
        values |= {"slope_from": "", "slope_on": None}
    return save(field, **values)


def slope_take(*, field: Field, source: str, on: date, **values: Any) -> Field:
    """The field with its slope and the side it faces as they were found. Raises ValidationError."""
    return save(field, slope_from=source[:300], slope_on=on, **values)


def outline_keep(*, field: Field, outline: Outline, source: str, on: date) -> Field:
    """The field with this outline and its acres, to two decimals. Raises ValidationError."""
    return save(
        field,
        outline=outline_json(outline),
        acres=round(measure(outline).acres, 2),
        outline_from=source[:300],
        outline_on=on,
    )


def outline_remove(*, field: Field) -> Field:
    """The field without an outline; its acres stay, and can be typed again."""
    return save(field, outline=None, outline_from="", outline_on=None)


WHAT_HOLDS = {
    Client: gettext_lazy("{name} cannot be removed. It still has farms; remove those first."),
    Farm: gettext_lazy("{name} cannot be removed. It still has fields or plans."),
    Field: gettext_lazy("{name} cannot be removed. A plan or a walk-over still uses it."),
}


@transaction.atomic
def record_remove(*, row: Client | Farm | Field) -> None:
    """Raises ValidationError while a farm, a field or a plan still hangs on it."""
    try:
        row.delete()
    except ProtectedError:
        raise ValidationError(WHAT_HOLDS[type(row)].format(name=row.name)) from None
