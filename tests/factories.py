"""Plain make_* functions: a valid row with sensible invented values, each of them changeable."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from itertools import count
from typing import Any
from uuid import uuid4

from django.db import models
from django_scopes import scope

from consulting.history import told_elsewhere
from consulting.models import (
    AdjuvantPrice,
    Client,
    Machine,
    MachinePhoto,
    MachineSpan,
    Membership,
    Practice,
    Product,
    SeedPrice,
    User,
    WorkRate,
)
from sites.models import Farm, Field, Landmark, PrevailingWind, WalkOver, WalkPhoto

_numbers = count(1)

DETAILS = {
    "name": "Kestrel",
    "time_zone": "America/Chicago",
    "locale": "en_US",
    "paper": "letter",
    "measures": "US customary",
}
"""What the form of a practice's details needs."""


def make(model: Any, values: dict[str, Any], **defaults: Any) -> Any:
    """A row that nobody is told of, as it was there before: what is written down begins with the test."""
    row = model(**{**defaults, **values})
    with scope(practice=getattr(row, "practice", None) or row), told_elsewhere():
        # What the database refuses by itself need not be asked of it twice.
        row.full_clean(validate_unique=False, validate_constraints=False)
        row.save()
    return row


def tampered_with(row: models.Model, **values: Any) -> None:
    """Change a row as somebody with the database in hand can, past everything that forbids it."""
    models.QuerySet(type(row)).filter(pk=row.pk).update(**values)


def make_user(email: str = "", **values: Any) -> User:
    email = email or f"person{next(_numbers)}@example.org"
    return User.objects.create_user(email, values.pop("password", "wide open prairie"), **values)


def make_practice(name: str = "Kestrel Cover Company", **values: Any) -> Practice:
    number = next(_numbers)
    return make(Practice, values, name=name, slug=f"practice-{number}", hauling_usd_per_mile=Decimal("1.00"))


def make_member(practice: Practice, role: str = "owner", **values: Any) -> Membership:
    user = values.pop("user", None) or make_user(**values)
    return make(Membership, {}, practice=practice, user=user, role=role)


def make_client(practice: Practice, **values: Any) -> Client:
    return make(Client, values, practice=practice, name=f"Client {next(_numbers)}")


def make_farm(client: Client, **values: Any) -> Farm:
    return make(
        Farm,
        values,
        practice=client.practice,
        client=client,
        name=f"Farm {next(_numbers)}",
        place="Invented County",
        round_trip_miles=40.0,
        climate_place="an invented place",
        monthly_mean_f=[28.0, 33.0, 43.0, 54.0, 64.0, 73.0, 77.0, 76.0, 68.0, 56.0, 44.0, 33.0],
        last_spring_freeze="04-15",
        first_fall_freeze="10-20",
        climate_source="invented for tests",
    )


def make_field(farm: Farm, **values: Any) -> Field:
    return make(
        Field,
        values,
        practice=farm.practice,
        farm=farm,
        name=f"Field {next(_numbers)}",
        acres=10.0,
        cover="cool-season sod",
    )


SOD_COVERS = [
    {"what": "tall fescue", "share_pct": 80, "height_in": 8, "stage": "leaf"},
    {"what": "red clover", "share_pct": 15, "height_in": None, "stage": ""},
]


def make_walk(field: Field, **values: Any) -> WalkOver:
    return make(
        WalkOver,
        values,
        practice=field.practice,
        field=field,
        uid=uuid4(),
        on=date(2026, 6, 2),
        people="Cass",
        covers=SOD_COVERS,
        bare_pct=5,
        entered_by=make_user(),
        entered_by_name="Cass Crew",
    )


def make_walk_photo(walk: WalkOver, **values: Any) -> WalkPhoto:
    """Not a picture, but bytes in a picture's place."""
    return make(WalkPhoto, values, practice=walk.practice, walk=walk, jpeg=b"bytes", width_px=4, height_px=3)


def make_landmark(farm: Farm, kind: str, shape: dict[str, Any], **values: Any) -> Landmark:
    return make(Landmark, values, practice=farm.practice, farm=farm, kind=kind, shape=shape)


def make_wind(farm: Farm, season: str = "fall", comes_from: str = "northwest") -> PrevailingWind:
    return make(PrevailingWind, {}, practice=farm.practice, farm=farm, season=season, comes_from=comes_from)


def make_seed_price(practice: Practice, **values: Any) -> SeedPrice:
    return make(
        SeedPrice,
        values,
        practice=practice,
        species="big bluestem",
        price_usd_per_lb=Decimal("14.00"),
        basis="PLS",
        purity_pct=60.0,
        germination_pct=65.0,
        dormant_pct=10.0,
    )


def make_product(practice: Practice, **values: Any) -> Product:
    return make(
        Product,
        values,
        practice=practice,
        active_ingredient="glyphosate",
        form="liquid",
        lb_active_per_gal=3.0,
        container_size=2.5,
        price_usd_per_container=Decimal("60.00"),
        label_rate_low_oz_per_acre=32.0,
        label_rate_high_oz_per_acre=128.0,
        label_season_max_oz_per_acre=256.0,
    )


def make_adjuvant(practice: Practice, **values: Any) -> AdjuvantPrice:
    return make(
        AdjuvantPrice,
        values,
        practice=practice,
        kind="ammonium sulfate",
        container_size=50.0,
        price_usd_per_container=Decimal("30.00"),
    )


def make_work_rate(practice: Practice, **values: Any) -> WorkRate:
    return make(
        WorkRate,
        values,
        practice=practice,
        operation="boom_spraying",
        basis="acre",
        rate_usd=Decimal("15.00"),
        minimum_usd=Decimal("150.00"),
        width_ft=20.0,
        speed_mph=4.0,
        efficiency_pct=60.0,
    )


def make_machine(practice: Practice, kind: str = "tractor", **values: Any) -> Machine:
    return make(Machine, values, practice=practice, kind=kind, name=f"Machine {next(_numbers)}")


def make_span(machine: Machine, **values: Any) -> MachineSpan:
    """The first nine days of May 2027 lent out, unless said otherwise."""
    usual = {"first": date(2027, 5, 1), "last": date(2027, 5, 9), "reason": "lent to a neighbor"}
    return make(
        MachineSpan, values, practice=machine.practice, machine=machine, by_name="Ottilie Owner", **usual
    )


def make_photo(machine: Machine) -> MachinePhoto:
    """Not a picture, but bytes in a picture's place."""
    return make(
        MachinePhoto, {}, practice=machine.practice, machine=machine, jpeg=b"bytes", width_px=4, height_px=3
    )
