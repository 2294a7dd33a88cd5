"""The least-cost mix for a page: the price list as a market, targets in sentences, mixes side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from django.utils.translation import gettext, gettext_lazy, ngettext

from plans.planning import mixing, tables
from plans.planning.fields import Prices
from plans.planning.figures import Figure
from plans.planning.mixing import Look, MixAnswer
from plans.planning.targets import Candidate, Goal, Targets, fits_in_a_mix, from_lot

WORK_LIMIT = 2.0
"""Deterministic seconds of the solver for one page; the whole species table takes under one."""
NUMBERS = (
    gettext_lazy("No"),
    gettext_lazy("One"),
    gettext_lazy("Two"),
    gettext_lazy("Three"),
    gettext_lazy("Four"),
    gettext_lazy("Five"),
    gettext_lazy("Six"),
    gettext_lazy("Seven"),
    gettext_lazy("Eight"),
    gettext_lazy("Nine"),
    gettext_lazy("Ten"),
)


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
WORDS: Mapping[str, tuple[Any, Any, str]] = {
    "density_low": (
        gettext_lazy("The last of the {seeds_per_sqft_low:g} seeds/ft² costs you"),
        gettext_lazy("Ask for fewer seeds/ft²."),
        "seeds_per_sqft_low",
    ),
    "density_high": (
        gettext_lazy("Keeping to {seeds_per_sqft_high:g} seeds/ft² costs you"),
        gettext_lazy("Allow more seeds/ft²."),
        "seeds_per_sqft_high",
    ),
    "grass_low": (
        gettext_lazy("Grass at {grass_share_pct_low:g} % of the seeds costs you"),
        gettext_lazy("Ask for a smaller share of grass."),
        "grass_share_pct_low",
    ),
    "grass_high": (
        gettext_lazy("Holding grass to {grass_share_pct_high:g} % of the seeds costs you"),
        gettext_lazy("Allow more grass."),
        "grass_share_pct_high",
    ),
    "tall_low": (
        gettext_lazy("Tall plants at {tall_share_pct_low:g} % of the seeds cost you"),
        gettext_lazy("Ask for fewer tall plants, or let a lower plant count as tall."),
        "tall_share_pct_low",
    ),
    "tall_high": (
        gettext_lazy("Holding tall plants to {tall_share_pct_high:g} % of the seeds costs you"),
        gettext_lazy("Allow more tall plants."),
        "tall_share_pct_high",
    ),
    "legumes": (
        gettext_lazy(
            "Holding introduced legumes to {introduced_legume_share_pct_together:g} % together costs you"
        ),
        gettext_lazy("Allow more introduced legumes together."),
        "introduced_legume_share_pct_together",
    ),
    "legume_each": (
        gettext_lazy("Holding each introduced legume to {introduced_legume_share_pct_each:g} % costs you"),
        gettext_lazy("Allow more of one introduced legume."),
        "introduced_legume_share_pct_each",
    ),
    "worth": (
        gettext_lazy("Species good for the purpose at {worth_share_pct_low:g} % of the seeds cost you"),
        gettext_lazy("Ask for a smaller share of species good for the purpose."),
        "worth_share_pct_low",
    ),
    "one_species": (
        gettext_lazy("Holding every species to {one_species_share_pct_high:g} % of the seeds costs you"),
        gettext_lazy("Allow more of one species."),
        "one_species_share_pct_high",
    ),
    "soil": (
        gettext_lazy("Keeping to species for this ground costs you"),
        gettext_lazy(
            "Leave moisture or pH open if you are not sure of it, or price species that suit this ground."
        ),
        "moisture",
    ),
    "worthless": (
        gettext_lazy("Leaving out species of no worth to the purpose costs you"),
        gettext_lazy(
            "Do without the species of no worth to this purpose, or choose a purpose that they serve."
        ),
        "purpose",
    ),
    "height": (
        gettext_lazy("Keeping under {height_in_high:g} in costs you"),
        gettext_lazy("Allow taller plants."),
        "height_in_high",
    ),
    "pushy": (
        gettext_lazy("Holding back {species}, which crowds flowers out, costs you"),
        gettext_lazy("Do without {species}; in a mix made for flowers it is held back."),
        "wanted",
    ),
    "wanted": (
        gettext_lazy("Having {species} in it costs you"),
        gettext_lazy("Do without {species}."),
        "wanted",
    ),
    "unwanted": (
        gettext_lazy("Leaving out {species} costs you"),
        gettext_lazy("Let {species} in."),
        "unwanted",
    ),
    "budget": (
        gettext_lazy("The budget costs you"),
        gettext_lazy("Allow {usd} an acre."),
        "budget_usd_per_acre",
    ),
}


def _number(number: int) -> str:
    """At the start of a sentence."""
    return str(NUMBERS[number] if number < len(NUMBERS) else number)


def _bloomers(season: str, number: int) -> tuple[str, str]:
    """What species in bloom in a season cost, and how to loosen that."""
    cost, loosen = {
        "early": (
            ngettext("{number} early bloomer costs you", "{number} early bloomers cost you", number),
            gettext("Ask for fewer early bloomers, or price another species that flowers in spring."),
        ),
        "mid": (
            ngettext("{number} mid bloomer costs you", "{number} mid bloomers cost you", number),
            gettext("Ask for fewer mid bloomers, or price another species that flowers in early summer."),
        ),
        "late": (
            ngettext("{number} late bloomer costs you", "{number} late bloomers cost you", number),
            gettext(
                "Ask for fewer late bloomers, or price another species that flowers in late summer and fall."
            ),
        ),
    }[season]
    return cost.format(number=_number(number)), loosen


def _words(key: str, targets: Targets, usd: str = "") -> tuple[str, str, str]:
    kind, _, species = key.partition(":")
    if kind.startswith("bloom_"):
        season = kind.removeprefix("bloom_")
        return *_bloomers(season, getattr(targets, f"{season}_species")), f"{season}_species"
    if kind == "flower_species":
        kinds = targets.flower_species
        cost = ngettext(
            "{number} kind of wildflower cost you", "{number} kinds of wildflower cost you", kinds
        )
        loosen = gettext("Ask for fewer kinds of wildflower, or price more of them.")
        return cost.format(number=_number(kinds)), loosen, kind
    cost, loosen, field = WORDS[kind]
    words = asdict(targets) | {"species": species, "usd": usd or gettext("more")}
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
    usd = answer.usd_without_budget.shown if answer.usd_without_budget else ""
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
                        gettext("in bloom: {species}").format(species=", ".join(names) or gettext("none")),
                        (),
                        gettext("dense enough to count; reference/species.csv and bloom_seasons.csv"),
                    ),
                )
                for season, names in look.blooming.items()
            ),
        )
        for (name, _), look in zip(mixes, looks, strict=True)
    )


def densities(look: Look) -> dict[str, float]:
    return {part.species: float(part.seeds_per_sqft.value) for part in look.parts}
