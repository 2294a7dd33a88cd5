"""Rows about plants: species, what a purpose asks of a mix, trees and shrubs, plots and what feeds them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from plans.planning.cells import Key, MaybeNumber, Source, words

Share = Annotated[float, Field(ge=0, le=100)]
Worth = Annotated[int, Field(ge=0, le=3)]
Month = Annotated[int, Field(ge=1, le=12)]
Months = Annotated[tuple[Month, ...], BeforeValidator(words)]
Moisture = Literal["dry", "mesic", "wet"]
Moistures = Annotated[tuple[Moisture, ...], Field(min_length=1), BeforeValidator(words)]
Acidity = Annotated[float, Field(ge=3, le=10)]
Shade = Literal["sun", "part", "shade"]


@dataclass(frozen=True, slots=True)
class Species:
    common_name: Key
    scientific_name: Key
    group: Literal["grass", "legume", "forb", "nurse", "plot"]
    season: Literal["warm", "cool", ""]
    seeds_per_lb: Annotated[float, Field(gt=0)]
    seeds_per_lb_low: Annotated[float, Field(gt=0)]
    seeds_per_lb_high: Annotated[float, Field(gt=0)]
    box: Literal["chaffy", "small", "large"]
    depth_in_min: float
    depth_in_max: float
    full_stand_lb_pls_per_acre_low: float
    full_stand_lb_pls_per_acre_high: float
    height_in: float
    family: Key
    life: Literal["annual", "short-lived perennial", "perennial"]
    bloom_months: Months
    """Months with showy flowers; none for grasses. Texas blooms a month or two earlier."""
    bloom_colour: str
    moisture: Moistures
    ph_low: Acidity
    ph_high: Acidity
    shade: Shade
    """The deepest shade it stands."""
    stratification_days: Annotated[int, Field(ge=0)]
    """Cold, moist days that help a spring seeding; 0 where none are needed."""
    native_range: Key
    """Coarse; `introduced` for a plant not native to North America."""
    value_bedding_cover: Worth
    value_nesting_brood: Worth
    value_pollinators: Worth
    value_erosion: Worth
    value_forage: Worth
    flower_mix_max_per_sqft: MaybeNumber
    """Most live seeds per ft² in a mix made for flowers, for a plant that crowds others out."""
    traits_source: Source
    status: Literal["seen", "memory", "mixed"]
    source: Source

    def __post_init__(self) -> None:
        if not self.seeds_per_lb_low <= self.seeds_per_lb <= self.seeds_per_lb_high:
            raise ValueError("seeds_per_lb must lie between its low and high")
        if self.ph_low >= self.ph_high:
            raise ValueError("ph_low must lie under ph_high")
        if bool(self.bloom_months) != bool(self.bloom_colour):
            raise ValueError("bloom_months and bloom_colour go together")

    @property
    def introduced(self) -> bool:
        return self.native_range == "introduced"

    @property
    def legume(self) -> bool:
        return self.family == "Fabaceae"


@dataclass(frozen=True, slots=True)
class AddedSpecies:
    """A species that the table lacks, with what it gives and to whom."""

    plant: Species
    gives: Annotated[str, Field(max_length=300)] = ""


@dataclass(frozen=True, slots=True)
class PurposeTarget:
    purpose: Key
    seeds_per_sqft_low: float
    seeds_per_sqft_high: float
    grass_share_pct_low: float
    grass_share_pct_high: float
    broadcast_seeds_per_sqft_low: float
    broadcast_seeds_per_sqft_high: float
    dormant_seeds_per_sqft_low: float
    dormant_seeds_per_sqft_high: float
    """Drilled while dormant; the columns without a way of seeding are for a drill in spring."""
    early_species: Annotated[int, Field(ge=0)]
    mid_species: Annotated[int, Field(ge=0)]
    late_species: Annotated[int, Field(ge=0)]
    """Least number of species in bloom in each season of reference/bloom_seasons.csv."""
    flower_species: Annotated[int, Field(ge=0)]
    """Least number of wildflowers and legumes."""
    one_species_share_pct_high: Share
    introduced_legume_share_pct_each: Share
    introduced_legume_share_pct_together: Share
    tall_in: Annotated[float, Field(ge=0)]
    """A plant of this height counts as tall."""
    tall_share_pct_low: Share
    tall_share_pct_high: Share
    height_in_high: MaybeNumber
    species_seeds_per_sqft_low: Annotated[float, Field(gt=0)]
    """Least density at which a species is worth buying and counts."""
    worth: Literal["bedding_cover", "nesting_brood", "pollinators", "erosion", "forage"]
    """Which of the species table's value columns speaks for this purpose."""
    worth_share_pct_low: Share
    """Least share of the seeds from species worth 2 or 3 to this purpose."""
    flower_mix: Literal["yes", "no"]
    """Whether the caps on pushy species hold."""
    targets_source: Source
    source: Source


@dataclass(frozen=True, slots=True)
class BloomSeason:
    season: Literal["early", "mid", "late"]
    months: Annotated[Months, Field(min_length=1)]
    source: Source


@dataclass(frozen=True, slots=True)
class Woody:
    """A tree or shrub for mast, thickets, edges and screens."""

    common_name: Key
    scientific_name: Key
    kind: Literal["tree", "shrub"]
    uses: Annotated[
        tuple[Literal["mast", "thicket", "edge", "screen"], ...],
        Field(min_length=1),
        BeforeValidator(words),
    ]
    spacing_ft_low: Annotated[float, Field(gt=0)]
    spacing_ft_high: Annotated[float, Field(gt=0)]
    height_ft: Annotated[float, Field(gt=0)]
    moisture: Moistures
    ph_low: Acidity
    ph_high: Acidity
    shade: Shade
    stock: Key
    """Stock usually bought."""
    mast_months: Months
    native_range: Key
    caution: str
    source: Source

    def __post_init__(self) -> None:
        if self.spacing_ft_low > self.spacing_ft_high:
            raise ValueError("spacing_ft_low must not be over spacing_ft_high")
        if self.ph_low >= self.ph_high:
            raise ValueError("ph_low must lie under ph_high")


@dataclass(frozen=True, slots=True)
class PlotCrop:
    """A food-plot crop: rate alone, depth, and what it feeds on."""

    species: Key
    """A nurse or plot row of reference/species.csv."""
    rate_lb_per_acre_low: Annotated[float, Field(gt=0)]
    rate_lb_per_acre_high: Annotated[float, Field(gt=0)]
    """Drilled alone; broadcast takes more, in a mixture less."""
    depth_in_low: Annotated[float, Field(ge=0)]
    depth_in_high: Annotated[float, Field(gt=0)]
    feeds_as: Literal["legume", "small grain", "brassica", "row grain"]
    ph_low: Acidity
    """Lime is worth its price under this."""
    caution: str
    source: Source


@dataclass(frozen=True, slots=True)
class PlotWindow:
    """When a plot crop is sown in a season, in the moments of the year."""

    species: Key
    season: Literal["spring", "fall"]
    opens: Key
    opens_days: int
    closes: Key
    closes_days: int
    source: Source


@dataclass(frozen=True, slots=True)
class SoilNeed:
    """Nutrients for a plot by what the soil test calls low, medium or high [lb/acre]."""

    feeds_as: Literal["legume", "small grain", "brassica", "row grain"]
    nutrient: Literal["N", "P2O5", "K2O"]
    soil_test: Literal["any", "low", "medium", "high"]
    lb_per_acre: Annotated[float, Field(ge=0)]
    source: Source


@dataclass(frozen=True, slots=True)
class Gives:
    """What a plant gives and to whom, in a few words."""

    plant: Key
    """A row of species.csv or trees.csv."""
    gives: Key
    source: Source
