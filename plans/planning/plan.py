"""What the planning service gives back: one Plan, every figure with its working."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from plans.planning.figures import Figure
from plans.planning.job import Job
from plans.planning.money import ZERO

Severity = Literal["stop", "caution", "note"]
Category = Literal["work", "seed", "materials", "spray", "hauling"]
CATEGORIES: tuple[Category, ...] = ("work", "seed", "materials", "spray", "hauling")
NOTHING = Figure(ZERO, "$", "nothing of the kind")


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something to look at. A stop blocks offering; a caution needs a named acceptance with a reason."""

    severity: Severity
    rule: str
    """Key of the rule in reference/rules.csv."""
    field: str
    """Name of the field it concerns, empty for the whole job."""
    subject: str
    """What it is about (a species, an ingredient, a step): with rule and field it identifies the finding."""
    message: str
    reason: str
    way_out: str
    source: str

    @property
    def key(self) -> str:
        return "|".join((self.rule, self.field, self.subject))


@dataclass(frozen=True, slots=True, kw_only=True)
class SeedLine:
    """One species on one field."""

    species: str
    group: str
    """grass, forb, legume or nurse."""
    box: str
    """chaffy, small or large: the drill box it goes in."""
    seeds_per_sqft: Figure
    share_of_seed_pct: Figure
    share_of_weight_pct: Figure
    pls_lb_per_acre: Figure
    bulk_lb_per_acre: Figure | None
    """Bulk figures and cost are None when the species has no listed price, so no lot is known."""
    pls_lb: Figure
    bulk_lb: Figure | None
    cost: Figure | None
    """Direct cost [$]."""
    lot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldSeed:
    """The mix on one field."""

    field: str
    acres: float
    mix: str
    seeds_per_sqft: Figure
    pls_lb_per_acre: Figure
    grass_share_pct: Figure
    forb_share_pct: Figure
    """Forbs and legumes, by seeds."""
    cost_per_acre: Figure
    lines: tuple[SeedLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeedNeed:
    """One species for the whole job: what to buy."""

    species: str
    lot: str
    supplier: str
    pls_lb: Figure
    bulk_lb: Figure | None
    cost: Figure | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TankPart:
    """One product or adjuvant in a tank mix."""

    name: str
    active_ingredient: str
    """Empty for an adjuvant."""
    rate: Figure
    per_full_tank: Figure
    in_last_load: Figure
    total: Figure
    cost: Figure | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TankMix:
    """What one spray step on one field needs."""

    task: str
    field: str
    label: str
    acres: float
    carrier_gal_per_acre: float
    carrier_gal: Figure
    tank_gal: float
    acres_per_tank: Figure
    full_loads: int
    last_load_gal: Figure
    last_load_acres: float
    parts: tuple[TankPart, ...]
    order: tuple[str, ...] = ()
    """How the tank is filled, step by step."""
    jar_test: str = ""
    """Reminder to try the mix in a jar; empty for a single product."""
    leftover: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TreeCount:
    """One tree or shrub of a planting."""

    species: str
    stock: str
    share_pct: float
    plants: Figure
    """Set in the first spring; `replaced` again in the second."""
    replaced: Figure
    usual_spacing: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldTrees:
    """The trees and shrubs of one field."""

    field: str
    layout: str
    """The spacing in words."""
    per_acre: Figure | None
    """None for a strip, which is counted by its rows."""
    plants: Figure
    tubes: Figure
    lines: tuple[TreeCount, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldPlot:
    """What one food plot is fed, by its soil test."""

    field: str
    crops: tuple[str, ...]
    sown: str
    """Depths in words, crop by crop."""
    parted: tuple[str, str] | None
    """Two crops that share no sowing day, if there are."""
    need: dict[str, Figure]
    """N, P2O5 and K2O asked for [lb/acre]; empty where no soil test is entered."""
    fertilizer: dict[str, Figure]
    """Product by grade [lb/acre]."""
    short: dict[str, Figure]
    """What no listed fertilizer gives without overshooting [lb/acre]."""
    lime: Figure | None
    """Lime of the listed kind [tons/acre]; None where none is recommended."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """Plants, tubes, fence, fertilizer or lime that one step on one field takes."""

    task: str
    field: str
    name: str
    amount: Figure
    cost: Figure | None
    """Direct cost [$]; None without a listed price."""
    unchecked: bool = False
    """Whether nobody has confirmed that price."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One step on one field with its window: `earliest` to `latest`, both sound."""

    key: str
    """field/step/season: unique in the plan."""
    field: str
    step: str
    label: str
    why: str
    operation: str
    phase: str
    """kill, plant, establish or keep."""
    season: int
    """0 before seeding, 1 the establishment season, 2 … after."""
    earliest: date
    latest: date
    opens: str
    """Name of the moment on which the window opens; `closes` the one on which it shuts."""
    closes: str
    after: str
    """Step it waits for, and `wait_days` how long."""
    wait_days: int
    acres: float
    hours: Figure | None
    conditions: str
    cautions: tuple[str, ...]
    """A few words each, to stand beside the step; `Plan.cautions` says them whole."""
    done_on: date | None = None
    source: str = ""
    plants: int = 0
    """Plants worked on, where the work goes plant by plant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EstimateLine:
    """One priced line. `price` is rounded to the cent: totals are sums of these."""

    year: int
    category: Category
    label: str
    fields: tuple[str, ...]
    quantity: Figure
    cost: Figure
    """Direct cost [$], rounded to the cent."""
    price: Figure
    allowance: Figure | None = None
    """What of the cost is for seed or products used beyond the plan [$]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class YearPrice:
    """A year of the estimate; every amount is a sum of printed amounts [$]."""

    year: int
    phase: str
    work: Figure
    seed: Figure
    spray: Figure
    hauling: Figure
    materials: Figure = NOTHING
    """Plants, tubes, fence, fertilizer and lime; plans stored before there were any have none."""
    contingency: Figure
    discount: Figure
    """Zero or negative."""
    tax: Figure
    total: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class StageAmount:
    label: str
    share_pct: float
    due: str
    amount: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class PossibleStep:
    """A step that may be needed, outside the firm price; its price as a client would pay it [$]."""

    step: str
    label: str
    why: str
    fields: tuple[str, ...]
    likelihood_pct: int
    price: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceRange:
    """What all of it may come to [$]: enough in 10, in 50 and in 90 of 100 cases."""

    p10: Figure
    p50: Figure
    p90: Figure
    steps: tuple[PossibleStep, ...]
    unpriced: tuple[str, ...]
    """Steps that may be needed and cannot be priced from the price list."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    lines: tuple[EstimateLine, ...]
    years: tuple[YearPrice, ...]
    """In order; `total` is their column sums, with year 0."""
    total: YearPrice
    direct_cost: Figure
    stages: tuple[StageAmount, ...]
    cost_share: Figure | None
    after_cost_share: Figure | None
    range: PriceRange | None = None
    """None where no step is left open."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A named day of the normal year at this place."""

    key: str
    label: str
    day: str
    """month-day."""
    working: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Season:
    """The normal year at this place, for the ribbon: 365 values each."""

    place: str
    daily_mean_f: tuple[float, ...]
    cool_growth: tuple[float, ...]
    """Relative growth of the cool-season sod, 0 to 1."""
    warm_growth: tuple[float, ...]
    moments: tuple[Moment, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SoilStage:
    """Soil loss [tons/acre/year] at one stage, drilled through residue and tilled clean."""

    stage: str
    drilled_label: str
    drilled: Figure
    tilled_label: str
    tilled: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldSoil:
    """One field's soil loss by RUSLE, for comparing ways of working it and for nothing else."""

    field: str
    stages: tuple[SoilStage, ...]
    times: Figure
    """How many times as much the tilled way loses while the ground is open."""
    bare_days: Figure
    """Days of bare ground in this plan."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    job: Job
    today: date
    findings: tuple[Finding, ...]
    """Stops first, then cautions, then notes."""
    seed: tuple[FieldSeed, ...]
    seed_needs: tuple[SeedNeed, ...]
    tanks: tuple[TankMix, ...]
    tasks: tuple[Task, ...]
    """In order of `earliest`."""
    cautions: tuple[str, ...]
    """The usual cautions of the work in this plan, each whole and once."""
    estimate: Estimate
    season: Season
    soil: tuple[FieldSoil, ...] = ()
    """Fields whose slope, R and K are known."""
    trees: tuple[FieldTrees, ...] = ()
    plots: tuple[FieldPlot, ...] = ()
    materials: tuple[Material, ...] = ()
