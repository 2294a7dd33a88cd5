"""The starter price list a new practice begins with: round figures, every one to be checked."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any

from consulting.models import (
    AdjuvantPrice,
    PlantPrice,
    Practice,
    PriceRow,
    Product,
    SeedPrice,
    SupplyPrice,
    WorkRate,
)
from consulting.tables import number, one_of, optional, read_table, text

HERE = Path(__file__).parent


def usd(cell: str) -> Decimal:
    value = Decimal(cell)
    if value != value.quantize(Decimal("0.01")) or value < 0:
        raise ValueError("must be dollars and cents, zero or more")
    return value


SIZE = number(0.001, 100_000)
TABLES: dict[type[PriceRow], tuple[str, dict[str, Callable[[str], Any]]]] = {
    SeedPrice: (
        "seed.csv",
        {
            "species": text,
            "price_usd_per_lb": usd,
            "basis": one_of("PLS", "bulk"),
            "purity_pct": number(1, 100),
            "germination_pct": number(0, 100),
            "dormant_pct": number(0, 100),
            "source": text,
        },
    ),
    PlantPrice: (
        "plants.csv",
        {"species": text, "stock": text, "price_usd_each": usd, "source": text},
    ),
    SupplyPrice: (
        "supplies.csv",
        {
            "kind": one_of(*(kind for kind, _ in SupplyPrice.KINDS)),
            "grade": str,
            "container_lb": optional(SIZE),
            "ecce_pct": optional(number(1, 100)),
            "price_usd": usd,
            "source": text,
        },
    ),
    Product: (
        "products.csv",
        {
            "active_ingredient": text,
            "form": one_of("liquid", "dry"),
            "lb_active_per_gal": optional(SIZE),
            "active_pct": optional(number(0.1, 100)),
            "container_size": SIZE,
            "price_usd_per_container": usd,
            "label_rate_low_oz_per_acre": number(0, 1000),
            "label_rate_high_oz_per_acre": SIZE,
            "label_season_max_oz_per_acre": SIZE,
            "restricted_use": lambda cell: one_of("yes", "no")(cell) == "yes",
            "source": text,
        },
    ),
    AdjuvantPrice: (
        "adjuvants.csv",
        {
            "kind": one_of(*(kind for kind, _ in AdjuvantPrice.KINDS)),
            "container_size": SIZE,
            "price_usd_per_container": usd,
            "source": text,
        },
    ),
    WorkRate: (
        "work.csv",
        {
            "operation": text,
            "basis": one_of("acre", "hour", "trip", "plant"),
            "rate_usd": usd,
            "minimum_usd": usd,
            "width_ft": optional(SIZE),
            "speed_mph": optional(SIZE),
            "efficiency_pct": optional(number(1, 100)),
            "source": text,
        },
    ),
}


@lru_cache(maxsize=1)
def _tables() -> tuple[tuple[type[PriceRow], dict[str, Any]], ...]:
    return tuple(
        (model, row) for model, (name, columns) in TABLES.items() for row in read_table(HERE / name, columns)
    )


def starter_rows(practice: Practice) -> Iterator[PriceRow]:
    """Unsaved rows of the starter price list, all unchecked."""
    for model, row in _tables():
        yield model(practice=practice, unchecked=True, **row)
