"""Species that a practice adds: as facts for the planning service, known while they are asked for."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext
from pydantic import TypeAdapter
from pydantic import ValidationError as NotSo

from consulting.models import SeedPrice
from consulting.services import save
from plans.models import MixLine, OwnSpecies
from plans.planning import tables
from plans.planning.plants import AddedSpecies, Species

_species = TypeAdapter(Species)
_ASKED = [one.name for one in fields(Species) if one.name != "traits_source"]


def fact_of(row: OwnSpecies) -> AddedSpecies:
    """A row as the table would have it. Raises ValueError that begins with the column it is about."""
    cells = {name: getattr(row, name) for name in _ASKED} | {"traits_source": row.source}
    for name in ("bloom_months", "moisture"):
        cells[name] = cells[name].replace(",", ";")
    try:
        return AddedSpecies(_species.validate_python(cells), row.gives)
    except NotSo as refused:
        first = refused.errors(include_url=False)[0]
        said = first["msg"].removeprefix("Value error, ")
        column = str(first["loc"][0]) if first["loc"] else ""
        raise ValueError(f"{column}: {said}" if column else said) from None


@contextmanager
def known() -> Iterator[None]:
    """Within, the table of species has those that the practice in scope added: one query."""
    with tables.knowing([fact_of(row) for row in OwnSpecies.objects.all()]):
        yield


@transaction.atomic
def own_species_save(*, row: OwnSpecies) -> OwnSpecies:
    """Raises ValidationError, also where mixes or prices still name a row that gets another name."""
    if row.pk:
        before = OwnSpecies.objects.get(pk=row.pk).common_name
        if before != row.common_name:
            _not_named(before)
    return save(row)


@transaction.atomic
def own_species_remove(*, row: OwnSpecies) -> None:
    """Raises ValidationError while a mix or a price names it."""
    _not_named(row.common_name)
    row.delete()


def _not_named(name: str) -> None:
    mixes = MixLine.objects.filter(species=name).order_by("mix__name").values_list("mix__name", flat=True)
    if found := list(dict.fromkeys(mixes)):
        said = gettext("{name} is in the mix {mix}. Take it out of there first.")
        raise ValidationError(said.format(name=name, mix=found[0]))
    if SeedPrice.objects.filter(species=name).exists():
        said = gettext("{name} is on the price list. Take it off there first.")
        raise ValidationError(said.format(name=name))
