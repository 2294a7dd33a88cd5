"""Other ways of doing a job: the same job with one thing changed, or why that cannot be here.

Each way is a function of one field; what it cannot change it leaves as it is, with a sentence that says why.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache

from plans.planning import tables
from plans.planning.calendar import SOWING
from plans.planning.cells import Key, Source
from plans.planning.fields import Prices, index_prices
from plans.planning.job import Conversion, Job, Mix, MixLine
from plans.planning.plants import Species
from plans.planning.price_list import PriceList
from plans.planning.programs import among, conditions_met, useful_options
from plans.planning.said import Said, said
from plans.planning.seed import SQFT_PER_ACRE, mix_rates
from plans.planning.targets import SEASONS, Candidate, Way, fits_in_a_mix, from_lot, seasons_of, targets_for

MOST_ADDED = 5
ADDED_PER_SQFT = 1.0
"""Live seeds of a species that enriches a mix: enough to be seen, common practice."""
FEWEST_YEARS = 3


@dataclass(frozen=True, slots=True)
class OtherWay:
    key: Key
    label: Key
    reason: Key
    """One line that says what it is, until the consultant writes a better one."""
    source: Source


@lru_cache(maxsize=1)
def other_ways() -> Mapping[str, OtherWay]:
    return tables.keyed("other_ways", OtherWay, "key")


@dataclass(frozen=True, slots=True)
class Given:
    """What a way looks at besides the field."""

    today: date
    prices: Prices


@dataclass(frozen=True, slots=True)
class Varied:
    """The changed job, None where nothing could be changed; and what stays as it is, with why."""

    job: Job | None
    fields: tuple[str, ...]
    """Fields that are changed."""
    unchanged: tuple[Said, ...]


def _begun(field: Conversion) -> Said | None:
    if field.log:
        return said("Work on {field} has begun.", field=field.field)
    return None


def _sown(field: Conversion) -> bool:
    return any(
        tables.steps()[done.step].operation in SOWING for done in field.log if done.step in tables.steps()
    )


def _no_herbicide(field: Conversion, given: Given) -> Conversion | Said:
    if begun := _begun(field):
        return begun
    key = "tree_scalp" if field.trees is not None else "no_spray"
    program = tables.programs()[key]
    if field.kill_program == key:
        return said("No spray is planned before the seed on {field} as it is.", field=field.field)
    if field.cover not in program.covers or not among(program.seedings, field.seeding):
        return said(
            "We know of no sound way to do without herbicide on {field}, with {cover} on it today.",
            field=field.field,
            cover=field.cover,
        )
    kept = tuple(
        option
        for option in field.options
        if option != "kill_again" and among(tables.options()[option].programs, key)
    )
    left_out = tuple(step for step in field.left_out if tables.steps()[step].set == "upkeep")
    return replace(field, kill_program=key, options=kept, left_out=left_out, rates_lb_per_acre={})


def _extra_kill(field: Conversion, given: Given) -> Conversion | Said:
    if _sown(field):
        return said("{field} is sown already.", field=field.field)
    if "kill_again" in field.options:
        return said("One more kill is in the plan for {field} as it is.", field=field.field)
    useful = useful_options(field.kill_program, field.seeding, conditions_met(field))
    if not any(option.option == "kill_again" for option in useful):
        return said("The way of killing what grows on {field} has no further round.", field=field.field)
    return replace(field, options=(*field.options, "kill_again"))


def _year_later(field: Conversion, given: Given) -> Conversion | Said:
    if begun := _begun(field):
        return begun
    start = max(field.start_on, given.today)
    try:
        later = start.replace(year=start.year + 1)
    except ValueError:
        later = date(start.year + 1, 3, 1)
    return replace(field, start_on=later)


OTHER_SEASON = {"drill": "dormant", "broadcast": "dormant", "dormant": "drill"}


def _other_season(field: Conversion, given: Given) -> Conversion | Said:
    seeding = OTHER_SEASON.get(field.seeding)
    if _sown(field):
        return said("{field} is sown already.", field=field.field)
    if seeding is None or not among(tables.programs()[field.kill_program].seedings, seeding):
        return said("What is planned on {field} has one season only.", field=field.field)
    kept = tuple(option for option in field.options if among(tables.options()[option].seedings, seeding))
    return replace(field, seeding=seeding, options=kept)


def _burn(field: Conversion, given: Given) -> Conversion | Said:
    if "burn" in field.options:
        return said("{field} is burned in this plan as it is.", field=field.field)
    if not among(tables.options()["burn"].seedings, field.seeding):
        return said("What grows on {field} then is not kept by fire.", field=field.field)
    kept = tuple(option for option in field.options if option != "disc_thirds")
    return replace(field, options=(*kept, "burn"))


def _added(field: Conversion, mix: Mix, given: Given, way: Way) -> list[Candidate]:
    """Wildflowers of a confirmed price that the mix lacks, each for the bloom season served least so far."""
    targets = targets_for(field.purpose, way)
    have = {line.species for line in mix.lines}

    def worth(plant: Species) -> int:
        own: int = getattr(plant, f"value_{targets.worth}") if targets.worth else 0
        return max(plant.value_pollinators, own)

    lots = [
        lot
        for lot in given.prices.lots.values()
        if lot.species in tables.species() and lot.species not in have
    ]
    spare = [
        one
        for one in (from_lot(lot) for lot in lots if not lot.unchecked)
        if fits_in_a_mix(one.plant)
        and one.plant.group != "grass"
        and not one.plant.introduced
        and worth(one.plant) >= 2
    ]
    known = [tables.species()[name] for name in have if name in tables.species()]
    served = {season: sum(season in seasons_of(plant) for plant in known) for season in SEASONS}
    chosen: list[Candidate] = []
    while spare and len(chosen) < MOST_ADDED:
        best = min(
            spare,
            key=lambda one: (
                min((served[season] for season in one.blooms), default=99),
                -worth(one.plant),
                one.exact_usd_per_seed,
                one.species,
            ),
        )
        for season in best.blooms:
            served[season] += 1
        spare.remove(best)
        chosen.append(best)
    return chosen


def _richer_mix(field: Conversion, given: Given) -> Conversion | Said:
    """Wildflowers added at a seed per ft² each; the others give way only where the purpose bears no more.

    Source of the limit: reference/purposes.csv.
    """
    mix, row = field.mix, tables.seedings()[field.seeding]
    if mix is None or field.purpose not in tables.purposes():
        return said("{field} has no mix of natives to make richer.", field=field.field)
    if row.way == "none" or _sown(field):
        return said("Nothing is left to sow on {field}.", field=field.field)
    way: Way = (
        "dormant" if field.seeding == "dormant" else "broadcast" if row.way == "broadcast" else "drilled"
    )
    chosen = _added(
        field, mix, given, "drilled" if mix.rate_is_for == "drilled" and way == "broadcast" else way
    )
    if not chosen:
        return said(
            "Our price list has no wildflower of a confirmed price that the mix for {field} lacks.",
            field=field.field,
        )
    rates = mix_rates(mix, given.prices.lots)
    added = {
        one.species: min(ADDED_PER_SQFT, one.plant.flower_mix_max_per_sqft or ADDED_PER_SQFT)
        for one in chosen
    }
    old = sum(rate.seeds_per_sqft for rate in rates)
    most = max(targets_for(field.purpose, way).seeds_per_sqft_high, old)
    share = min(1.0, (most - sum(added.values())) / old)
    lines = [MixLine(species=rate.species, amount=rate.pls_lb_per_acre * share) for rate in rates]
    lines += [
        MixLine(species=one.species, amount=added[one.species] * SQFT_PER_ACRE / one.seeds_per_lb)
        for one in chosen
    ]
    richer = replace(
        mix,
        name=f"{mix.name[:190]}, richer",
        basis="lb PLS per acre",
        lines=tuple(lines),
        seeds_per_sqft=None,
    )
    return replace(field, mix=richer)


WAYS: dict[str, Callable[[Conversion, Given], Conversion | Said]] = {
    "richer_mix": _richer_mix,
    "no_herbicide": _no_herbicide,
    "extra_kill": _extra_kill,
    "year_later": _year_later,
    "other_season": _other_season,
    "burn": _burn,
}


def vary(key: str, job: Job, prices: PriceList, today: date) -> Varied:
    """The job done another way. Raises KeyError for a way in no table, ValueError as `plan_job` does."""
    if key == "three_years":
        if job.terms.years <= FEWEST_YEARS:
            return Varied(None, (), (said("The plan has no more than three growing seasons as it is."),))
        fields = tuple(field.field for field in job.conversions)
        return Varied(replace(job, terms=replace(job.terms, years=FEWEST_YEARS)), fields, ())
    given = Given(today, index_prices(prices))
    changed = [(field, WAYS[key](field, given)) for field in job.conversions]
    fields = tuple(field.field for field, found in changed if isinstance(found, Conversion))
    unchanged = tuple(found for _, found in changed if isinstance(found, Said))
    if not fields:
        return Varied(None, (), unchanged)
    conversions = tuple(found if isinstance(found, Conversion) else field for field, found in changed)
    return Varied(replace(job, conversions=conversions), fields, unchanged)
