"""What a mix is asked to be: each target as whole-number inequalities over its species.

A density is counted in hundredths of a live seed per square foot, so that a target is met or missed
exactly. The same rows bind the solver and judge a mix made by hand.
Sources: reference/purposes.csv and reference/bloom_seasons.csv, row by row.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from plans.planning import tables
from plans.planning.figures import plain
from plans.planning.plants import Moisture, Species
from plans.planning.price_list import SeedPrice
from plans.planning.seed import SQFT_PER_ACRE, price_per_pls_lb

HUNDREDTHS = 100
ROUNDING = Fraction(1, 1_000_000)
Way = Literal["drilled", "broadcast", "dormant"]
Worth = Literal["", "bedding_cover", "nesting_brood", "pollinators", "erosion", "forage"]
SEASONS = ("early", "mid", "late")
MONTHS = "January February March April May June July August September October November December".split()


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A species that may go into the mix, and its price."""

    plant: Species
    usd_per_pls_lb: Decimal
    seeds_per_lb: float
    high_per_sqft: float | None = None
    """Own ceiling [seeds/ft²]."""
    low_per_sqft: float = 0.0
    """Own least density when it is in the mix [seeds/ft²]."""

    @property
    def species(self) -> str:
        return self.plant.common_name

    @property
    def blooms(self) -> tuple[str, ...]:
        """Bloom seasons in which it flowers for a month or more."""
        return seasons_of(self.plant)

    @property
    def exact_usd_per_seed(self) -> Fraction:
        """Dollars an acre for one live seed per ft²."""
        return Fraction(self.usd_per_pls_lb) * SQFT_PER_ACRE / Fraction(str(self.seeds_per_lb))


def seasons_of(plant: Species) -> tuple[str, ...]:
    """Bloom seasons in which a plant flowers for a month or more. Source: reference/bloom_seasons.csv."""
    months = set(plant.bloom_months)
    return tuple(season for season, row in tables.bloom_seasons().items() if months & set(row.months))


def candidate(
    species: str,
    usd_per_pls_lb: Decimal,
    seeds_per_lb: float | None = None,
    *,
    low_per_sqft: float = 0.0,
    high_per_sqft: float | None = None,
) -> Candidate:
    """A candidate from the species table. Raises ValueError for a species that is not in it."""
    plant = tables.species().get(species)
    if plant is None:
        raise ValueError(f"species: {species!r} is not in reference/species.csv")
    return Candidate(
        plant=plant,
        usd_per_pls_lb=usd_per_pls_lb,
        seeds_per_lb=seeds_per_lb or plant.seeds_per_lb,
        low_per_sqft=low_per_sqft,
        high_per_sqft=high_per_sqft,
    )


def from_lot(lot: SeedPrice) -> Candidate:
    """A candidate at a listed lot's price, turned to a PLS pound when it is quoted by bulk weight."""
    price = lot.price_usd_per_lb
    if lot.basis == "bulk":
        share = price_per_pls_lb(float(price), lot.purity_pct, lot.germination_pct, lot.dormant_pct)
        price = Decimal(str(share.value))
    return candidate(lot.species, price, lot.seeds_per_lb)


@dataclass(frozen=True, slots=True, kw_only=True)
class Targets:
    """The numbers of a purpose, or own ones. Shares are of live seeds."""

    seeds_per_sqft_low: float
    seeds_per_sqft_high: float
    grass_share_pct_low: float = 0.0
    grass_share_pct_high: float = 100.0
    early_species: int = 0
    mid_species: int = 0
    late_species: int = 0
    flower_species: int = 0
    one_species_share_pct_high: float = 100.0
    introduced_legume_share_pct_each: float = 100.0
    introduced_legume_share_pct_together: float = 100.0
    tall_in: float = 60.0
    tall_share_pct_low: float = 0.0
    tall_share_pct_high: float = 100.0
    height_in_high: float | None = None
    species_seeds_per_sqft_low: float = 0.2
    worth: Worth = ""
    worth_share_pct_low: float = 0.0
    flower_mix: bool = False

    def __post_init__(self) -> None:
        for name in ("seeds_per_sqft", "grass_share_pct", "tall_share_pct"):
            low, high = getattr(self, f"{name}_low"), getattr(self, f"{name}_high")
            if low > high:
                raise ValueError(f"targets.{name}_low: {low:g} is over {name}_high, {high:g}")
        if self.seeds_per_sqft_low <= 0:
            raise ValueError(f"targets.seeds_per_sqft_low: {self.seeds_per_sqft_low:g} is not over 0")


def targets_for(purpose: str, way: Way = "drilled") -> Targets:
    """The published targets of a purpose for a way of seeding.

    Source: reference/purposes.csv. Raises ValueError for a purpose that is not in it.
    """
    row = tables.purposes().get(purpose)
    if row is None:
        raise ValueError(f"purpose: {purpose!r} is not one of: {', '.join(tables.purposes())}")
    low, high = {
        "drilled": (row.seeds_per_sqft_low, row.seeds_per_sqft_high),
        "broadcast": (row.broadcast_seeds_per_sqft_low, row.broadcast_seeds_per_sqft_high),
        "dormant": (row.dormant_seeds_per_sqft_low, row.dormant_seeds_per_sqft_high),
    }[way]
    return Targets(
        seeds_per_sqft_low=low,
        seeds_per_sqft_high=high,
        grass_share_pct_low=row.grass_share_pct_low,
        grass_share_pct_high=row.grass_share_pct_high,
        early_species=row.early_species,
        mid_species=row.mid_species,
        late_species=row.late_species,
        flower_species=row.flower_species,
        one_species_share_pct_high=row.one_species_share_pct_high,
        introduced_legume_share_pct_each=row.introduced_legume_share_pct_each,
        introduced_legume_share_pct_together=row.introduced_legume_share_pct_together,
        tall_in=row.tall_in,
        tall_share_pct_low=row.tall_share_pct_low,
        tall_share_pct_high=row.tall_share_pct_high,
        height_in_high=row.height_in_high,
        species_seeds_per_sqft_low=row.species_seeds_per_sqft_low,
        worth=row.worth,
        worth_share_pct_low=row.worth_share_pct_low,
        flower_mix=row.flower_mix == "yes",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """A purpose's targets on one piece of ground, with what the consultant and the purse will bear."""

    targets: Targets
    moisture: Moisture | None = None
    ph: float | None = None
    budget_usd_per_acre: Decimal | None = None
    wanted: tuple[str, ...] = ()
    unwanted: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """Σ density × x + Σ counted × y ≥ at_least; x in hundredths of a seed, y 1 for a species that counts."""

    x: Mapping[int, int]
    y: Mapping[int, int]
    at_least: int


@dataclass(frozen=True, slots=True)
class Target:
    key: str
    words: str
    rows: tuple[Row, ...]
    eased: tuple[Row, ...] = ()
    """The target a step easier; empty where easing means leaving it out."""
    eased_words: str = "without it"
    usd_per_acre: Decimal | None = None
    """A budget: judged by the printed cents, not by a row."""


def fits_in_a_mix(plant: Species) -> bool:
    """Native grasses and wildflowers, and introduced legumes; nurse and other plot crops are sown apart."""
    return plant.group in ("grass", "forb", "legume") or (plant.group == "plot" and plant.legume)


def least_density(item: Candidate, targets: Targets) -> int:
    """Least density at which a species is in the mix and counts [hundredths of a seed/ft²]."""
    return max(1, round(HUNDREDTHS * max(item.low_per_sqft, targets.species_seeds_per_sqft_low)))


def _share(size: int, members: Collection[int], pct: float, sign: int) -> Row:
    """Members hold at least (sign 1) or at most (-1) a share of all seeds."""
    share = Fraction(str(round(pct, 4))) / 100
    weights = {
        index: sign * int((share.denominator if index in members else 0) - share.numerator)
        for index in range(size)
    }
    return Row(weights, {}, 0)


def _absent(indexes: Collection[int]) -> tuple[Row, ...]:
    return tuple(Row({index: -1}, {}, 0) for index in indexes)


def _span(months: Sequence[int]) -> str:
    first, last = MONTHS[months[0] - 1], MONTHS[months[-1] - 1]
    return first if first == last else f"{first} to {last}"


def _density(items: Sequence[Candidate], targets: Targets) -> list[Target]:
    every = dict.fromkeys(range(len(items)), 1)
    low = round(HUNDREDTHS * targets.seeds_per_sqft_low)
    high = round(HUNDREDTHS * targets.seeds_per_sqft_high)
    return [
        Target(
            "density_low",
            f"at least {plain(targets.seeds_per_sqft_low)} seeds/ft²",
            (Row(every, {}, low),),
            (Row(every, {}, max(0, low - HUNDREDTHS)),),
            "with one seed/ft² less",
        ),
        Target(
            "density_high",
            f"at most {plain(targets.seeds_per_sqft_high)} seeds/ft²",
            (Row(dict.fromkeys(every, -1), {}, -high),),
        ),
    ]


def _shares(items: Sequence[Candidate], targets: Targets) -> list[Target]:
    size = len(items)
    grass = {index for index, item in enumerate(items) if item.plant.group == "grass"}
    tall = {index for index, item in enumerate(items) if item.plant.height_in >= targets.tall_in}
    legumes = {index for index, item in enumerate(items) if item.plant.introduced and item.plant.legume}
    plants = f"plants of {plain(targets.tall_in)} in and more"
    found = [
        ("grass_low", "grass", grass, targets.grass_share_pct_low, 1),
        ("grass_high", "grass", grass, targets.grass_share_pct_high, -1),
        ("tall_low", plants, tall, targets.tall_share_pct_low, 1),
        ("tall_high", plants, tall, targets.tall_share_pct_high, -1),
        ("legumes", "introduced legumes", legumes, targets.introduced_legume_share_pct_together, -1),
    ]
    if targets.worth:
        good = {
            index for index, item in enumerate(items) if getattr(item.plant, f"value_{targets.worth}") >= 2
        }
        found.append(
            ("worth", "species good for the purpose", good, targets.worth_share_pct_low, 1),
        )
    shares = [
        Target(
            key,
            f"{'at least' if sign > 0 else 'at most'} {plain(pct, '%')} of the seeds {named}",
            (_share(size, members, pct, sign),),
        )
        for key, named, members, pct, sign in found
        if (pct > 0 if sign > 0 else pct < 100)
    ]
    for key, named, each, pct in (
        ("one_species", "any one species", range(size), targets.one_species_share_pct_high),
        ("legume_each", "any one introduced legume", legumes, targets.introduced_legume_share_pct_each),
    ):
        if pct < 100 and each:
            rows = tuple(_share(size, {index}, pct, -1) for index in sorted(each))
            shares.append(Target(key, f"at most {plain(pct, '%')} of the seeds {named}", rows))
    return shares


def _counts(items: Sequence[Candidate], targets: Targets) -> list[Target]:
    found = []
    for season in SEASONS:
        number = getattr(targets, f"{season}_species")
        blooming = [index for index, item in enumerate(items) if season in item.blooms]
        if number:
            months = _span(tables.bloom_seasons()[season].months)
            found.append(
                Target(
                    f"bloom_{season}",
                    f"at least {number} species in bloom {season} ({months}; {len(blooming)} can serve)",
                    (Row({}, dict.fromkeys(blooming, 1), number),),
                )
            )
    flowers = [
        index for index, item in enumerate(items) if fits_in_a_mix(item.plant) and item.plant.group != "grass"
    ]
    if targets.flower_species:
        found.append(
            Target(
                "flower_species",
                f"at least {targets.flower_species} kinds of wildflower ({len(flowers)} can serve)",
                (Row({}, dict.fromkeys(flowers, 1), targets.flower_species),),
            )
        )
    return found


def _unsuited(plant: Species, goal: Goal) -> bool:
    wrong_water = goal.moisture is not None and goal.moisture not in plant.moisture
    return wrong_water or (goal.ph is not None and not plant.ph_low <= goal.ph <= plant.ph_high)


def _species(items: Sequence[Candidate], goal: Goal) -> list[Target]:
    targets = goal.targets
    found = []
    unsuited = [index for index, item in enumerate(items) if _unsuited(item.plant, goal)]
    if unsuited:
        ground = [goal.moisture or "", f"pH {goal.ph:g}" if goal.ph is not None else ""]
        words = f"only species for this ground ({', '.join(filter(None, ground))})"
        found.append(Target("soil", words, _absent(unsuited)))
    worthless = [
        index
        for index, item in enumerate(items)
        if targets.worth and not getattr(item.plant, f"value_{targets.worth}")
    ]
    if worthless:
        found.append(Target("worthless", "no species of no worth to the purpose", _absent(worthless)))
    if targets.height_in_high is not None:
        tall = [index for index, item in enumerate(items) if item.plant.height_in > targets.height_in_high]
        if tall:
            words = f"nothing taller than {plain(targets.height_in_high)} in"
            found.append(Target("height", words, _absent(tall)))
    for index, item in enumerate(items):
        caps = [
            ("most", item.high_per_sqft),
            ("pushy", item.plant.flower_mix_max_per_sqft if targets.flower_mix else None),
        ]
        for key, cap in caps:
            if cap is not None:
                row = Row({index: -1}, {}, -round(HUNDREDTHS * cap))
                words = f"at most {plain(cap)} seeds/ft² of {item.species}"
                found.append(Target(f"{key}:{item.species}", words, (row,)))
        if item.species in goal.wanted:
            found.append(
                Target(f"wanted:{item.species}", f"{item.species} is wanted", (Row({}, {index: 1}, 1),))
            )
        if item.species in goal.unwanted:
            found.append(
                Target(f"unwanted:{item.species}", f"{item.species} is not wanted", _absent([index]))
            )
    return found


def rows_of(goal: Goal, items: Sequence[Candidate]) -> tuple[Target, ...]:
    """Every target that asks anything, in a fixed order; the indexes of its rows are those of `items`.

    A species blooms in a season when one of its months lies in it, and counts from the least density on.
    """
    found = [
        *_density(items, goal.targets),
        *_shares(items, goal.targets),
        *_counts(items, goal.targets),
        *_species(items, goal),
    ]
    if goal.budget_usd_per_acre is not None:
        words = f"no more than {plain(goal.budget_usd_per_acre, '$')} an acre for seed"
        found.append(Target("budget", words, (), usd_per_acre=goal.budget_usd_per_acre))
    return tuple(found)


def met(
    target: Target, hundredths: Sequence[Fraction | int], counted: Sequence[bool], usd_per_acre: Decimal
) -> bool:
    """Whether a mix meets a target, to a millionth of what the row adds up; a budget to the cent."""
    if target.usd_per_acre is not None and usd_per_acre > target.usd_per_acre:
        return False
    for row in target.rows:
        parts = [weight * Fraction(hundredths[index]) for index, weight in row.x.items()]
        parts += [Fraction(weight * counted[index]) for index, weight in row.y.items()]
        slack = ROUNDING * (sum(map(abs, parts), Fraction(0)) if row.x else 0)
        if sum(parts, Fraction(0)) + slack < row.at_least:
            return False
    return True
