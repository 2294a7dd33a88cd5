"""The price list that the planning service is given: seed, plants, supplies, products, rates of work."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal, TypeVar

from plans.planning.job import STRICT, Day, Money, Name, NotNegative, Percent, Positive, PositivePercent, Text

PriceBasis = Literal["PLS", "bulk"]
RateBasis = Literal["acre", "hour", "trip", "plant"]
Adjuvant = Literal["ammonium sulfate", "non-ionic surfactant", "methylated seed oil", "crop oil concentrate"]
SupplyKind = Literal["tube", "fence", "fertilizer", "lime"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeedPrice:
    """A lot on the price list."""

    __pydantic_config__ = STRICT
    species: Name
    price_usd_per_lb: Money
    basis: PriceBasis
    purity_pct: PositivePercent
    germination_pct: Percent
    dormant_pct: Percent = 0.0
    """Dormant or hard seed. A tetrazolium result goes in germination_pct alone, never here as well."""
    tested_on: Day | None = None
    lot: Text = ""
    supplier: Text = ""
    seeds_per_lb: Positive | None = None
    """This lot's own count; left out, the reference table's."""
    unchecked: bool = False

    def __post_init__(self) -> None:
        live = self.germination_pct + self.dormant_pct
        if not 0 < live <= 100:
            raise ValueError(
                f"germination_pct plus dormant_pct is {live:g}; it must be over 0 and at most 100"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantPrice:
    """A tree or shrub as a nursery sells it."""

    __pydantic_config__ = STRICT
    species: Name
    stock: Text = "bare-root seedling"
    price_usd_each: Money
    supplier: Text = ""
    unchecked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyPrice:
    """What a planting or a plot takes besides plants and seed."""

    __pydantic_config__ = STRICT
    kind: SupplyKind
    price_usd: Money
    """A tube with its stake, a foot of fence as built, a container of fertilizer, a ton of delivered lime."""
    grade: Text = ""
    """N-P2O5-K2O of a fertilizer, as `18-46-0`."""
    container_lb: Positive | None = None
    """Pounds in the container that a fertilizer is priced by."""
    ecce_pct: PositivePercent | None = None
    """Effective calcium carbonate equivalent of a lime."""
    unchecked: bool = False

    def __post_init__(self) -> None:
        if self.kind == "fertilizer":
            parse_grade(self.grade)
            if self.container_lb is None:
                raise ValueError("container_lb is needed for a fertilizer")
        if self.kind == "lime" and self.ecce_pct is None:
            raise ValueError("ecce_pct is needed for a lime")


def parse_grade(text: str) -> tuple[float, float, float]:
    """Per cent of N, P2O5 and K2O of a grade as printed on the bag, `18-46-0`. Raises ValueError."""
    try:
        n, p, k = (float(part) for part in text.split("-"))
    except ValueError:
        raise ValueError(f"grade: {text!r} must read N-P2O5-K2O, as 18-46-0") from None
    if not (min(n, p, k) >= 0 and 0 < n + p + k <= 100):
        raise ValueError(f"grade: {text!r} needs parts of 0 and more that add up to over 0 and at most 100")
    return n, p, k


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """A herbicide as its label and invoice describe it. Liquids are measured in fl oz, dry ones in oz."""

    __pydantic_config__ = STRICT
    active_ingredient: Name
    form: Literal["liquid", "dry"]
    lb_active_per_gal: Positive | None = None
    """Pounds of acid equivalent (or active ingredient where the label has no acid) in a gallon; liquids."""
    active_pct: PositivePercent | None = None
    """Active ingredient by weight; dry products."""
    container_size: Positive
    """Gallons for a liquid, pounds for a dry product."""
    price_usd_per_container: Money
    label_rate_low_oz_per_acre: NotNegative = 0.0
    label_rate_high_oz_per_acre: Positive
    """The most the label allows in one application: fl oz (liquid) or oz (dry) of product per acre."""
    label_season_max_oz_per_acre: Positive
    """The most the label allows in a year, same unit."""
    registration_number: Text = ""
    restricted_use: bool = False
    aquatic_label: bool = False
    unchecked: bool = False

    def __post_init__(self) -> None:
        if self.form == "liquid" and self.lb_active_per_gal is None:
            raise ValueError("lb_active_per_gal is needed for a liquid product")
        if self.form == "dry" and self.active_pct is None:
            raise ValueError("active_pct is needed for a dry product")


@dataclass(frozen=True, slots=True, kw_only=True)
class AdjuvantPrice:
    __pydantic_config__ = STRICT
    kind: Adjuvant
    container_size: Positive
    """Gallons, or pounds of ammonium sulfate."""
    price_usd_per_container: Money
    unchecked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkRate:
    __pydantic_config__ = STRICT
    operation: Name
    """A key of reference/operations.csv."""
    basis: RateBasis
    rate_usd: Money
    minimum_usd: Money = Decimal("0.00")
    """Least charge for one visit to a farm."""
    width_ft: Positive | None = None
    speed_mph: Positive | None = None
    efficiency_pct: PositivePercent | None = None
    acres_per_hour: Positive | None = None
    """Pace as measured on done work; it goes before width, speed and efficiency."""
    allowance_pct: Percent = 0.0
    """Seed or products that this work uses beyond what is planned; it is priced, not ordered."""
    unchecked: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceList:
    """Direct costs to the practice; terms turn them into prices."""

    __pydantic_config__ = STRICT
    seed: tuple[SeedPrice, ...] = ()
    products: tuple[Product, ...] = ()
    adjuvants: tuple[AdjuvantPrice, ...] = ()
    work: tuple[WorkRate, ...] = ()
    plants: tuple[PlantPrice, ...] = ()
    supplies: tuple[SupplyPrice, ...] = ()
    hauling_usd_per_mile: Money = Decimal("0.00")
    hauling_unchecked: bool = False


Row = TypeVar("Row")


def _first(signed: Sequence[Row], listed: Sequence[Row], key: Callable[[Row], object]) -> tuple[Row, ...]:
    known = {key(row) for row in signed}
    return (*signed, *(row for row in listed if key(row) not in known))


def _label_of_today(signed: Product, listed: Sequence[Product]) -> Product:
    now = next(
        (
            row
            for row in listed
            if (row.active_ingredient, row.form) == (signed.active_ingredient, signed.form)
        ),
        None,
    )
    if now is None:
        return signed
    price = signed.price_usd_per_container
    return replace(now, price_usd_per_container=price, container_size=signed.container_size)


def signed_first(signed: PriceList, listed: PriceList) -> PriceList:
    """A signed price list with what is new on today's: what was agreed keeps its price.

    What a product's label says is today's, for the label governs.
    """
    return PriceList(
        seed=_first(signed.seed, listed.seed, lambda row: row.species),
        products=_first(
            [_label_of_today(row, listed.products) for row in signed.products],
            listed.products,
            lambda row: row.active_ingredient,
        ),
        adjuvants=_first(signed.adjuvants, listed.adjuvants, lambda row: row.kind),
        work=_first(signed.work, listed.work, lambda row: row.operation),
        plants=_first(signed.plants, listed.plants, lambda row: (row.species, row.stock)),
        supplies=_first(signed.supplies, listed.supplies, lambda row: (row.kind, row.grade)),
        hauling_usd_per_mile=signed.hauling_usd_per_mile,
        hauling_unchecked=signed.hauling_unchecked,
    )
