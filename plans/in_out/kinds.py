"""The lists that come in and go out: their columns, what names a row, and how a row is found again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django import forms
from django.db import models
from django.utils.translation import gettext_lazy as _

from consulting.forms import ClientForm
from consulting.models import (
    AdjuvantPrice,
    Client,
    PlantPrice,
    Practice,
    Product,
    SeedPrice,
    SupplyPrice,
    WorkRate,
)
from plans.forms.in_out import MixLineForm, StockForm, VisitForm
from plans.forms.own_species import OwnSpeciesForm
from plans.forms.prices import (
    AdjuvantForm,
    PlantForm,
    ProductForm,
    SeedPriceForm,
    SupplyForm,
    WorkRateForm,
)
from plans.in_out.reading import plain
from plans.models import Mix, OwnSpecies, StockLot, Visit
from sites.forms import FarmForm, FieldForm
from sites.models import Farm, Field


@dataclass(frozen=True, slots=True)
class Column:
    name: str
    title: str
    """With its unit: what a file that goes out calls it."""
    required: bool = False
    told: str = ""
    """What to write there."""
    also: tuple[str, ...] = ()
    """Other heads by which it is known at once."""

    @property
    def known_as(self) -> frozenset[str]:
        bare = self.title.partition(",")[0]
        return frozenset(plain(head) for head in (self.name, self.title, bare, *self.also))


@dataclass(frozen=True, slots=True)
class Parent:
    """The record that a row belongs to, by its name; a farm's name counts within its client."""

    name: str
    title: Any
    none_here: Any
    """Says that there is none of a name."""
    model: type[models.Model]


@dataclass(frozen=True, slots=True)
class Kind:
    key: str
    title: Any
    one: Any
    model: type[models.Model]
    form: type[forms.BaseForm]
    """Its fields are the columns."""
    named_by: tuple[str, ...]
    """Columns that together name a row: a row of a file with the same ones changes it."""
    parents: tuple[Parent, ...] = ()
    fact: Callable[[Any], Any] | None = None
    """Makes of a row what the planning service takes; raises ValueError."""
    leave_out: frozenset[str] = frozenset()
    also: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def columns(self, practice: Practice) -> tuple[Column, ...]:
        form = self.blank_form(practice)
        parents = tuple(Column(parent.name, str(parent.title), True) for parent in self.parents)
        return parents + tuple(
            Column(
                name=name,
                title=_title(name, given),
                required=name in self.named_by and given.required,
                told=str(given.help_text),
                also=self.also.get(name, ()),
            )
            for name, given in form.fields.items()
            if name not in self.leave_out
        )

    def blank_form(self, practice: Practice) -> forms.BaseForm:
        if issubclass(self.form, forms.ModelForm):
            return self.form(instance=self.model(practice=practice))
        return self.form()


def _title(name: str, given: forms.Field) -> str:
    label = str(given.label or name.replace("_", " ").capitalize())
    unit = getattr(given, "unit", "")
    return f"{label}, {unit}" if unit else label


CLIENT = Parent(
    "client", _("Client"), _("No client of this name here. Add it, or bring in those first."), Client
)
FARM = Parent("farm", _("Farm"), _("No farm of this name here. Add it, or bring in those first."), Farm)
SUPPLIER = ("vendor", "seller", "dealer", "nursery")
PRICE = ("price", "unit price", "cost", "list price", "price usd", "usd")

KINDS: dict[str, Kind] = {
    kind.key: kind
    for kind in (
        Kind(
            "clients",
            _("Clients"),
            _("client"),
            Client,
            ClientForm,
            ("name",),
            also={"name": ("client", "landowner")},
        ),
        Kind(
            "farms",
            _("Farms"),
            _("farm"),
            Farm,
            FarmForm,
            ("client", "name"),
            (CLIENT,),
            also={"name": ("farm",)},
        ),
        Kind(
            "fields",
            _("Fields"),
            _("field"),
            Field,
            FieldForm,
            ("client", "farm", "name"),
            (CLIENT, FARM),
            also={"name": ("field",)},
        ),
        Kind(
            "species",
            _("Species of your own"),
            _("species"),
            OwnSpecies,
            OwnSpeciesForm,
            ("common_name",),
            fact=OwnSpeciesForm.fact,
            also={
                "common_name": ("species", "plant", "name"),
                "scientific_name": ("latin name", "botanical name"),
            },
        ),
        Kind(
            "seed",
            _("Seed prices"),
            _("seed lot"),
            SeedPrice,
            SeedPriceForm,
            ("species", "lot", "supplier"),
            fact=SeedPriceForm.fact,
            also={
                "species": ("plant", "name", "seed", "common name"),
                "price_usd_per_lb": (*PRICE, "price per lb", "price lb"),
                "purity_pct": ("pure seed",),
                "germination_pct": ("germ", "germination percent"),
                "dormant_pct": ("dormant", "hard seed", "dormant seed", "hard"),
                "tested_on": ("test date", "date tested"),
                "lot": ("lot number", "lot no"),
                "supplier": SUPPLIER,
            },
        ),
        Kind(
            "plants",
            _("Plant prices"),
            _("plant"),
            PlantPrice,
            PlantForm,
            ("species", "stock", "supplier"),
            fact=PlantForm.fact,
            also={"species": ("plant", "tree", "name"), "price_usd_each": PRICE, "supplier": SUPPLIER},
        ),
        Kind(
            "supplies",
            _("Supply prices"),
            _("supply"),
            SupplyPrice,
            SupplyForm,
            ("kind", "grade"),
            fact=SupplyForm.fact,
            also={"price_usd": PRICE},
        ),
        Kind(
            "products",
            _("Herbicide prices"),
            _("product"),
            Product,
            ProductForm,
            ("active_ingredient", "registration_number", "container_size"),
            fact=ProductForm.fact,
            also={"active_ingredient": ("ingredient",), "price_usd_per_container": PRICE},
        ),
        Kind(
            "adjuvants",
            _("Adjuvant prices"),
            _("adjuvant"),
            AdjuvantPrice,
            AdjuvantForm,
            ("kind",),
            fact=AdjuvantForm.fact,
            also={"price_usd_per_container": PRICE},
        ),
        Kind(
            "work",
            _("Work rates"),
            _("work rate"),
            WorkRate,
            WorkRateForm,
            ("operation",),
            fact=WorkRateForm.fact,
            also={"operation": ("work",)},
        ),
        Kind(
            "mixes",
            _("Mixes"),
            _("line of a mix"),
            Mix,
            MixLineForm,
            ("name", "species"),
            also={"name": ("mix",)},
        ),
        Kind(
            "stock",
            _("Stock in the shed"),
            _("lot"),
            StockLot,
            StockForm,
            ("name", "lot"),
            also={
                "name": ("species", "product"),
                "on_hand": ("amount", "quantity"),
                "lot": ("lot number", "batch"),
            },
        ),
        Kind("visits", _("Visits"), _("visit"), Visit, VisitForm, ("visit",)),
    )
}
