"""The least-cost mix for a page: the price list as a market, targets in sentences, mixes side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

from plans.planning import mixing, tables
from plans.planning.fields import Prices
from plans.planning.figures import Figure
from plans.planning.mixing import Look, MixAnswer
from plans.planning.targets import Candidate, Goal, Targets, fits_in_a_mix, from_lot

WORK_LIMIT = 2.0
"""Deterministic seconds of the solver for one page; the whole species table takes under one."""
NUMBERS = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten")
MONTHS = {"early": "spring", "mid": "early summer", "late": "late summer and fall"}


@dataclass(frozen=True, slots=True)
class Market:
    """The price list as a mix is bought from it: of each species its cheapest lot, as a plan takes it."""

    candidates: tuple[Candidate, ...]
    unchecked: frozenset[str]
    unpriced: tuple[str, ...]
    """Species that fit in a mix and have no lot."""
    unknown: tuple[str, ...]
    """Species that have a lot and are not in the species table."""

    @property
    def mixable(self) -> tuple[Candidate, ...]:
        found = (item for item in self.candidates if fits_in_a_mix(item.plant))
        return tuple(sorted(found, key=lambda item: item.species.lower()))


def market_of(prices: Prices) -> Market:
    plants = tables.species()
    known = {name: lot for name, lot in sorted(prices.lots.items()) if name in plants}
    return Market(
        candidates=tuple(from_lot(lot) for lot in known.values()),
        unchecked=frozenset(name for name, lot in known.items() if lot.unchecked),
        unpriced=tuple(
            sorted(name for name, plant in plants.items() if fits_in_a_mix(plant) and name not in known)
        ),
        unknown=tuple(sorted(set(prices.lots) - set(known))),
    )


def answer_of(goal: Goal, market: Market) -> MixAnswer:
    """Raises ValueError naming the field; TooHard beyond the page's limit of work."""
    return mixing.least_cost_mix(goal, market.candidates, WORK_LIMIT)


# By key of a target: what it costs, how to loosen it, and the field of the form where that is done.
WORDS: Mapping[str, tuple[str, str, str]] = {
    "density_low": (
        "The last of the {seeds_per_sqft_low:g} seeds/ft² costs you",
        "Ask for fewer seeds/ft².",
        "seeds_per_sqft_low",
    ),
    "density_high": (
        "Keeping to {seeds_per_sqft_high:g} seeds/ft² costs you",
        "Allow more seeds/ft².",
        "seeds_per_sqft_high",
    ),
    "grass_low": (
        "Grass at {grass_share_pct_low:g} % of the seeds costs you",
        "Ask for a smaller share of grass.",
        "grass_share_pct_low",
    ),
    "grass_high": (
        "Holding grass to {grass_share_pct_high:g} % of the seeds costs you",
        "Allow more grass.",
        "grass_share_pct_high",
    ),
    "tall_low": (
        "Tall plants at {tall_share_pct_low:g} % of the seeds cost you",
        "Ask for fewer tall plants, or let a lower plant count as tall.",
        "tall_share_pct_low",
    ),
    "tall_high": (
        "Holding tall plants to {tall_share_pct_high:g} % of the seeds costs you",
        "Allow more tall plants.",
        "tall_share_pct_high",
    ),
    "legumes": (
        "Holding introduced legumes to {introduced_legume_share_pct_together:g} % together costs you",
        "Allow more introduced legumes together.",
        "introduced_legume_share_pct_together",
    ),
    "legume_each": (
        "Holding each introduced legume to {introduced_legume_share_pct_each:g} % costs you",
        "Allow more of one introduced legume.",
        "introduced_legume_share_pct_each",
    ),
    "worth": (
        "Species good for the purpose at {worth_share_pct_low:g} % of the seeds cost you",
        "Ask for a smaller share of species good for the purpose.",
        "worth_share_pct_low",
    ),
    "one_species": (
        "Holding every species to {one_species_share_pct_high:g} % of the seeds costs you",
        "Allow more of one species.",
        "one_species_share_pct_high",
    ),
    "flower_species": (
        "{kinds} of wildflower cost you",
        "Ask for fewer kinds of wildflower, or price more of them.",
        "flower_species",
    ),
    "soil": (
        "Keeping to species for this ground costs you",
        "Leave moisture or pH open if you are not sure of it, or price species that suit this ground.",
        "moisture",
    ),
    "worthless": (
        "Leaving out species of no worth to the purpose costs you",
        "Do without the species of no worth to this purpose, or choose a purpose that they serve.",
        "purpose",
    ),
    "height": (
        "Keeping under {height_in_high:g} in costs you",
        "Allow taller plants.",
        "height_in_high",
    ),
    "pushy": (
        "Holding back {species}, which crowds flowers out, costs you",
        "Do without {species}; in a mix made for flowers it is held back.",
        "wanted",
    ),
    "wanted": ("Having {species} in it costs you", "Do without {species}.", "wanted"),
    "unwanted": ("Leaving out {species} costs you", "Let {species} in.", "unwanted"),
    "budget": ("The budget costs you", "Allow {usd} an acre.", "budget_usd_per_acre"),
}


def _counted(number: int, one: str, many: str) -> str:
    return f"{NUMBERS[number] if number < len(NUMBERS) else number} {one if number == 1 else many}"


def _words(key: str, targets: Targets, usd: str = "more") -> tuple[str, str, str]:
    kind, _, species = key.partition(":")
    if kind.startswith("bloom_"):
        season = kind.removeprefix("bloom_")
        number = getattr(targets, f"{season}_species")
        return (
            _counted(number, f"{season} bloomer costs you", f"{season} bloomers cost you"),
            f"Ask for fewer {season} bloomers, or price another species that flowers in {MONTHS[season]}.",
            f"{season}_species",
        )
    cost, loosen, field = WORDS[kind]
    words = asdict(targets) | {
        "species": species,
        "usd": usd,
        "kinds": _counted(targets.flower_species, "kind", "kinds"),
    }
    return cost.format(**words), loosen.format(**words), field


@dataclass(frozen=True, slots=True)
class Cost:
    """`words` and then the dollars: "Three late bloomers cost you" $14.00 "an acre"."""

    words: str
    usd_per_acre: Figure


def costs(answer: MixAnswer, targets: Targets) -> tuple[tuple[Cost, ...], tuple[str, ...]]:
    """What each target costs, dearest first, and in words those that cost nothing."""
    dear = [price for price in answer.prices if price.usd_per_acre.value > 0]
    dear.sort(key=lambda price: -price.usd_per_acre.value)
    free = tuple(price.words for price in answer.prices if price not in dear and price.key != "budget")
    return tuple(Cost(_words(price.key, targets)[0], price.usd_per_acre) for price in dear), free


@dataclass(frozen=True, slots=True)
class Clash:
    """A target of those that cannot be met together, how to loosen it, and the field where."""

    words: str
    loosen: str
    field: str


def clashes(answer: MixAnswer, targets: Targets) -> tuple[Clash, ...]:
    usd = answer.usd_without_budget.shown if answer.usd_without_budget else "more"
    return tuple(
        Clash(words, *_words(key, targets, usd.removesuffix("/acre"))[1:])
        for key, words in zip(answer.conflict_keys, answer.conflict, strict=True)
    )


@dataclass(frozen=True, slots=True)
class Beside:
    """A mix in the table: its name, what it is, and in each season the species in bloom."""

    name: str
    look: Look
    blooming: tuple[tuple[str, Figure], ...]

    @property
    def asked(self) -> int:
        return len(self.look.met) + len(self.look.missed)


def side_by_side(
    goal: Goal, market: Market, mixes: Sequence[tuple[str, Mapping[str, float]]]
) -> tuple[Beside, ...]:
    """Mixes of seeds/ft² by species against the same targets. Raises ValueError for one without a price."""
    numbered = {str(number): densities for number, (_, densities) in enumerate(mixes)}
    looks = mixing.compare(goal, market.candidates, numbered)
    return tuple(
        Beside(
            name,
            look,
            tuple(
                (
                    season,
                    Figure(
                        len(names),
                        "species",
                        f"in bloom: {', '.join(names) or 'none'}",
                        (),
                        "dense enough to count; reference/species.csv and bloom_seasons.csv",
                    ),
                )
                for season, names in look.blooming.items()
            ),
        )
        for (name, _), look in zip(mixes, looks, strict=True)
    )


def densities(look: Look) -> dict[str, float]:
    return {part.species: float(part.seeds_per_sqft.value) for part in look.parts}
