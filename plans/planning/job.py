"""What the planning service is given: the job, field by field.

Frozen dataclasses whose annotations state what is allowed; `plans.planning.wire` reads them from JSON,
and the web app fills them from the database. Units are in the names: ft, acres, lb, gal, F, pct, usd.
"""

from __future__ import annotations

from dataclasses import dataclass
from dataclasses import field as preset
from datetime import date
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from plans.planning.drawn import STRICT as STRICT
from plans.planning.drawn import DrawnField
from plans.planning.drawn import Work as Work
from plans.planning.own_look import OwnLook
from plans.planning.plants import AddedSpecies

Text = Annotated[str, Field(max_length=200)]
LongText = Annotated[str, Field(max_length=20_000)]
Name = Annotated[str, Field(min_length=1, max_length=200)]
Percent = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
PositivePercent = Annotated[float, Field(gt=0, le=100, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, le=1e9, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False)]
Acres = Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
Money = Annotated[Decimal, Field(ge=0, le=Decimal("10000000"), allow_inf_nan=False)]
MONTH_DAY = r"^((0[13578]|1[02])-(0[1-9]|[12]\d|3[01])|(0[469]|11)-(0[1-9]|[12]\d|30)|02-(0[1-9]|[12]\d))$"
MonthDay = Annotated[str, Field(pattern=MONTH_DAY)]
FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2200, 12, 31)
Day = Annotated[date, Field(ge=FIRST_DAY, le=LAST_DAY)]

Cover = Literal[
    "cool-season sod",
    "smooth brome",
    "bermudagrass",
    "johnsongrass",
    "sericea lespedeza",
    "crop stubble",
    "annual weeds",
    "brushy old field",
    "failed native stand",
]
Thatch = Literal["none", "light", "heavy"]
Basis = Literal["lb PLS per acre", "share of seed", "share of weight"]
Pricing = Literal["margin on price", "markup on cost"]
MixPurpose = Literal[
    "winter bedding and screening cover",
    "nesting and brood cover",
    "pollinators",
    "erosion control",
    "forage",
]
"""Purposes that a mix of natives is held to, by reference/purposes.csv."""
Purpose = Literal[MixPurpose, "food plot", "tree and shrub planting"]
Layout = Literal["square", "triangle", "strip"]
Level = Literal["low", "medium", "high"]
Texture = Literal[
    "sand",
    "loamy sand",
    "sandy loam",
    "fine sandy loam",
    "loam",
    "silt loam",
    "silt",
    "sandy clay loam",
    "clay loam",
    "silty clay loam",
    "sandy clay",
    "silty clay",
    "clay",
]


LocaleName = Literal["en_US", "en_CA", "en_GB", "es_US", "es_MX", "es_ES"]
Paper = Literal["letter", "A4"]
Measures = Literal["US customary", "metric"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Manner:
    """How a job is printed. It changes no figure, only how one is written."""

    __pydantic_config__ = STRICT
    locale: LocaleName = "en_US"
    """Language and country by CLDR: the words, and how numbers, dates and money are written."""
    paper: Paper = "letter"
    measures: Measures = "US customary"
    look: OwnLook = preset(default_factory=OwnLook)

    @property
    def language(self) -> str:
        return self.locale.partition("_")[0]

    @property
    def metric(self) -> bool:
        return self.measures == "metric"


@dataclass(frozen=True, slots=True, kw_only=True)
class SlopeLimits:
    """Steepest part [%] above which a field is looked at; planning bands of the practice, no legal limits."""

    __pydantic_config__ = STRICT
    tillage_pct: Percent = 8.0
    """Above it no ground is tilled without a word; common practice: 8 % free, to 15 % on the contour."""
    machines_pct: Percent = 15.0
    """Above it wheeled machines go with care; common practice."""
    across_pct: Percent = 27.0
    """15 degrees: above it no tractor goes across, in extension sheets [from memory] and manuals (seen)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Practice:
    """The business that makes the proposal."""

    __pydantic_config__ = STRICT
    name: Name
    address: LongText = ""
    phone: Text = ""
    email: Text = ""
    applicator_licence: Text = ""
    """Licence line as printed; empty when no applicator license is on file."""
    slopes: SlopeLimits = preset(default_factory=SlopeLimits)


@dataclass(frozen=True, slots=True, kw_only=True)
class Client:
    __pydantic_config__ = STRICT
    name: Name
    address: LongText = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """A moment of the year as somebody saw it: it goes before the normal in that year."""

    __pydantic_config__ = STRICT
    moment: Name
    """A key of reference/moments.csv."""
    on: Day


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """The place's normals: twelve monthly means [F] and the median freeze dates (month-day)."""

    __pydantic_config__ = STRICT
    place: Name
    monthly_mean_f: tuple[Annotated[float, Field(ge=-60, le=120, allow_inf_nan=False)], ...] = preset(
        metadata={"months": 12}
    )
    last_spring_freeze: MonthDay
    first_fall_freeze: MonthDay
    source: Text = ""
    observed: Annotated[tuple[Observation, ...], Field(max_length=100)] = ()

    def __post_init__(self) -> None:
        if len(self.monthly_mean_f) != 12:
            raise ValueError(f"monthly_mean_f has {len(self.monthly_mean_f)} values; give 12, January first")
        if self.last_spring_freeze >= self.first_fall_freeze:
            raise ValueError(
                f"first_fall_freeze {self.first_fall_freeze} must come after last_spring_freeze "
                f"{self.last_spring_freeze} in the year"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Farm:
    __pydantic_config__ = STRICT
    name: Name
    place: Text = ""
    """County and state, or directions, as printed."""
    round_trip_miles: NotNegative = 0.0
    """From the practice's yard to the farm and back."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MixLine:
    __pydantic_config__ = STRICT
    species: Name
    amount: Positive
    """lb PLS per acre, % of seeds or % of weight, as the mix's basis says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    __pydantic_config__ = STRICT
    name: Name
    basis: Basis
    lines: Annotated[tuple[MixLine, ...], Field(min_length=1, max_length=80)]
    seeds_per_sqft: Annotated[float, Field(gt=0, le=500, allow_inf_nan=False)] | None = None
    """Live seeds per square foot of the whole mix; needed for both share bases."""
    rate_is_for: Literal["drilled", "broadcast"] = "drilled"
    """The way of seeding that the rate already assumes, so that it is not raised twice."""

    def __post_init__(self) -> None:
        if self.basis != "lb PLS per acre":
            if self.seeds_per_sqft is None:
                raise ValueError("seeds_per_sqft is needed for a mix by share of seed or of weight")
            share = sum(line.amount for line in self.lines)
            if abs(share - 100) > 0.5:
                raise ValueError(f"the shares sum to {share:.4g} %; they must sum to 100")
        names = [line.species for line in self.lines]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"{twice[0]} stands in the mix twice; give it one line")


@dataclass(frozen=True, slots=True, kw_only=True)
class TreeLine:
    __pydantic_config__ = STRICT
    species: Name
    """A tree or shrub of reference/trees.csv."""
    share_pct: PositivePercent
    """Share of the plants."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trees:
    """Trees and shrubs of a planting, in a block at one spacing or in a strip of rows."""

    __pydantic_config__ = STRICT
    lines: Annotated[tuple[TreeLine, ...], Field(min_length=1, max_length=40)]
    layout: Layout = "square"
    row_ft: Annotated[float, Field(ge=1, le=200, allow_inf_nan=False)]
    plant_ft: Annotated[float, Field(ge=1, le=200, allow_inf_nan=False)]
    """Between plants of a row; in a triangle the distance of a plant to each of its neighbours."""
    rows: Annotated[int, Field(ge=1, le=500)] = 1
    length_ft: NotNegative = 0.0
    """Rows and their length count in a strip alone."""
    stock: Text = ""
    """As the price list names it; empty for the cheapest that is listed of each species."""
    tubes_pct: Percent = 0.0
    fence_ft: NotNegative = 0.0
    replaced_pct: Percent = 10.0
    """Share of the plants set again in the second year."""

    def __post_init__(self) -> None:
        share = sum(line.share_pct for line in self.lines)
        if abs(share - 100) > 0.5:
            raise ValueError(f"the shares sum to {share:.4g} %; they must sum to 100")
        names = [line.species for line in self.lines]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"{twice[0]} stands in the planting twice; give it one line")
        if self.layout == "strip" and self.length_ft < self.plant_ft:
            raise ValueError(
                f"length_ft {self.length_ft:g} is under the {self.plant_ft:g} ft between plants; "
                "give the length of the strip's rows"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class SoilTest:
    """What a laboratory wrote about a plot's soil; what is left out is unknown."""

    __pydantic_config__ = STRICT
    tested_on: Day | None = None
    ph: Annotated[float, Field(ge=3, le=10, allow_inf_nan=False)] | None = None
    phosphorus: Level | None = None
    potassium: Level | None = None
    n_lb_per_acre: NotNegative | None = None
    """The laboratory's own recommendations for the crop go before the table's."""
    p2o5_lb_per_acre: NotNegative | None = None
    k2o_lb_per_acre: NotNegative | None = None
    lime_tons_per_acre: Annotated[float, Field(ge=0, le=20, allow_inf_nan=False)] = 0.0
    lime_ecce_pct: PositivePercent = 100.0
    """Effective calcium carbonate equivalent that the laboratory means by a ton of lime."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneStep:
    """A step that has already happened on this field; the plan goes on from there."""

    __pydantic_config__ = STRICT
    step: Name
    on: Day


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptAway:
    """What is left of a field for one kind of work that stays away from something on it."""

    __pydantic_config__ = STRICT
    work: Work
    left_acres: NotNegative | None
    """None where nobody knows, since the field has no outline: the whole field is then planned."""
    because: Annotated[tuple[LongText, ...], Field(max_length=200)] = ()
    """What takes the ground: `50 ft from Mill Creek`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Conversion:
    """One field: the ground as it is, the cover wanted, and the way there."""

    __pydantic_config__ = STRICT
    field: Name
    acres: Acres
    cover: Cover
    kill_program: Name
    """A key of reference/programs.csv."""
    seeding: Name
    """A key of reference/seedings.csv."""
    mix: Mix | None = None
    """What is sown; a planting of trees and shrubs has `trees` in its stead."""
    trees: Trees | None = None
    soil_test: SoilTest | None = None
    purpose: Purpose
    start_on: Day
    """The earliest day on which work may begin."""
    slope_pct: Annotated[float, Field(ge=0, le=200, allow_inf_nan=False)] = 0.0
    slope_length_ft: NotNegative = 0.0
    soil_texture: Texture | None = None
    soil_k: Annotated[float, Field(gt=0, le=1, allow_inf_nan=False)] | None = None
    """The soil survey's K [tons/acre per unit of R]; goes before the texture's."""
    soil_r: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] | None = None
    """Rain and run-off, R, of the county [hundreds of ft-tonf·in/(acre·h·year)]."""
    thatch: Thatch = "none"
    weeds: Text = ""
    woody_plants: Text = ""
    water_within_ft: NotNegative | None = None
    """Distance from the sprayed ground to the nearest water or well; leave out when there is none near."""
    sensitive_neighbours: Text = ""
    power_lines: bool = False
    kept_away: tuple[KeptAway, ...] = ()
    """Kinds of work for which a part of the field is excluded; the others go over all of it."""
    drawn: tuple[DrawnField, ...] = ()
    """The field as it is drawn, once for each set of kinds of work that keep away from the same."""
    notes: LongText = ""
    options: tuple[Name, ...] = ()
    """Keys of optional steps that are taken, as reference/steps.csv names them."""
    left_out: tuple[Name, ...] = ()
    """Keys of usual steps that are left out."""
    rates_lb_per_acre: dict[str, Positive] = preset(default_factory=dict)
    """Own rate of active ingredient (acid) by step key, in place of the program's."""
    broadcast_factor: Annotated[float, Field(ge=1, le=2.5, allow_inf_nan=False)] = 1.5
    """Seed raised by this when a drilled rate is broadcast (published advice runs from 1 to 2)."""
    log: tuple[DoneStep, ...] = ()

    def __post_init__(self) -> None:
        if self.purpose == "tree and shrub planting":
            if self.trees is None or self.mix is not None:
                raise ValueError("trees is needed, and no mix, for the purpose 'tree and shrub planting'")
        elif self.mix is None or self.trees is not None:
            raise ValueError(f"mix is needed, and no trees, for the purpose {self.purpose!r}")
        kinds = [kept.work for kept in self.kept_away]
        twice = sorted({kind for kind in kinds if kinds.count(kind) > 1})
        if twice:
            raise ValueError(f"kept_away has {twice[0]!r} twice; give each kind of work once")
        over = next((kept for kept in self.kept_away if (kept.left_acres or 0) > self.acres), None)
        if over is not None:
            raise ValueError(
                f"kept_away leaves {over.left_acres:g} acres to {over.work} of {self.acres:g}; "
                "it cannot leave more than the field has"
            )

    def acres_to(self, work: Work | Literal[""]) -> float:
        """Acres left for a kind of work [acres]; all of the field where none are excluded or known."""
        for kept in self.kept_away:
            if kept.work == work and kept.left_acres is not None:
                return kept.left_acres
        return self.acres


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """A payment: a share of the total and when it is due, in words."""

    __pydantic_config__ = STRICT
    label: Name
    share_pct: PositivePercent
    due: Text = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Taxes:
    """Sales tax by category [%]."""

    __pydantic_config__ = STRICT
    work_pct: Percent = 0.0
    seed_pct: Percent = 0.0
    materials_pct: Percent = 0.0
    spray_pct: Percent = 0.0
    hauling_pct: Percent = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CostShare:
    """Money a program may pay the landowner; it never changes the price."""

    __pydantic_config__ = STRICT
    label: Name
    usd_per_acre: Money


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    __pydantic_config__ = STRICT
    years: Annotated[int, Field(ge=1, le=5)] = 5
    """Growing seasons planned, the establishment season being the first."""
    overhead_pct: Annotated[float, Field(ge=0, le=300, allow_inf_nan=False)] = 0.0
    pricing: Pricing = "margin on price"
    pricing_pct: Annotated[float, Field(ge=0, le=300, allow_inf_nan=False)] = 0.0
    contingency_pct: Percent = 0.0
    discount_pct: Percent = 0.0
    taxes: Taxes = preset(default_factory=Taxes)
    cost_share: CostShare | None = None
    stages: tuple[Stage, ...] = ()
    valid_days: Annotated[int, Field(ge=1, le=365)] = 30
    carrier_gal_per_acre: Annotated[float, Field(ge=1, le=100, allow_inf_nan=False)] = 15.0
    tank_gal: Annotated[float, Field(ge=1, le=5000, allow_inf_nan=False)] = 200.0
    text: LongText = ""
    """Terms of business, printed as typed."""

    def __post_init__(self) -> None:
        if self.pricing == "margin on price" and self.pricing_pct >= 100:
            raise ValueError(f"pricing_pct: a margin on price of {self.pricing_pct:g} % is not under 100 %")
        shares = sum(stage.share_pct for stage in self.stages)
        if self.stages and abs(shares - 100) > 1e-6:
            raise ValueError(f"the payment stages sum to {shares:g} %; they must sum to 100")


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    __pydantic_config__ = STRICT
    title: Name
    practice: Practice
    client: Client
    farm: Farm
    climate: Climate
    conversions: Annotated[tuple[Conversion, ...], Field(min_length=1, max_length=60)]
    terms: Terms = preset(default_factory=Terms)
    letter: LongText = ""
    """A few sentences of the consultant's own for the cover letter."""
    manner: Manner = preset(default_factory=Manner)
    added_species: tuple[AddedSpecies, ...] = ()
    """Plants that the practice knows besides those of the table."""

    def __post_init__(self) -> None:
        names = [conversion.field for conversion in self.conversions]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"two conversions are named {twice[0]!r}; field names must differ within a job")
