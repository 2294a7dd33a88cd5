"""The least-cost mix as a reckoning: plain inputs in, Figures out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from plans.planning import mixing
from plans.planning import targets as aims
from plans.planning.figures import Figure, Term
from plans.planning.job import MixPurpose
from plans.planning.money import exact, to_cents, total
from plans.planning.plants import Moisture

Answer = Figure | str | Mapping[str, "Answer"]
Acres = Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
Usd = Annotated[float, Field(ge=0, le=10_000, allow_inf_nan=False)]
Density = Annotated[float, Field(gt=0, le=500, allow_inf_nan=False)]
Pct = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
Inches = Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]
Kinds = Annotated[int, Field(ge=0, le=80)]
Acidity = Annotated[float, Field(ge=3, le=10, allow_inf_nan=False)]
Name = Annotated[str, Field(min_length=1, max_length=200)]
STRICT = ConfigDict(strict=True, extra="forbid")
LIST_PRICE = "prices as given"


class PricedSpecies(BaseModel):
    """A species and what a pound of pure live seed of it costs."""

    model_config = STRICT
    species: Name
    usd_per_pls_lb: Usd
    seeds_per_lb: Annotated[float, Field(ge=100, le=1e9, allow_inf_nan=False)] | None = None
    """The lot's own count; left out, the reference table's."""
    low_per_sqft: Annotated[float, Field(ge=0, le=500, allow_inf_nan=False)] = 0.0
    high_per_sqft: Density | None = None


class OwnTargets(BaseModel):
    """Own numbers in place of the purpose's; what is left out stays the purpose's."""

    model_config = STRICT
    seeds_per_sqft_low: Density | None = None
    seeds_per_sqft_high: Density | None = None
    grass_share_pct_low: Pct | None = None
    grass_share_pct_high: Pct | None = None
    early_species: Kinds | None = None
    mid_species: Kinds | None = None
    late_species: Kinds | None = None
    flower_species: Kinds | None = None
    one_species_share_pct_high: Pct | None = None
    introduced_legume_share_pct_each: Pct | None = None
    introduced_legume_share_pct_together: Pct | None = None
    tall_in: Inches | None = None
    tall_share_pct_low: Pct | None = None
    tall_share_pct_high: Pct | None = None
    height_in_high: Inches | None = None
    species_seeds_per_sqft_low: Density | None = None
    worth: aims.Worth | None = None
    worth_share_pct_low: Pct | None = None
    flower_mix: bool | None = None


def _line(part: mixing.MixPart, acres: float, usd_per_pls_lb: Decimal) -> dict[str, Figure]:
    rate = float(part.pls_lb_per_acre.value)
    area = (Term("rate", rate, "lb/acre"), Term("area", acres, "acre"))
    pounds = Figure(rate * acres, "lb", "lb PLS per acre × acres", area, mixing.SOURCE)
    weighed = (Term("pure live seed", rate * acres, "lb"), Term("price", usd_per_pls_lb, "$/lb"))
    usd = to_cents(exact(rate * acres) * usd_per_pls_lb)
    return {
        "seeds_per_sqft": part.seeds_per_sqft,
        "share_of_seed_pct": Figure(part.share_of_seed_pct, "%", "its seeds / all seeds", (), mixing.SOURCE),
        "pls_lb_per_acre": part.pls_lb_per_acre,
        "usd_per_acre": part.usd_per_acre,
        "pls_lb": pounds,
        "usd": Figure(usd, "$", "lb PLS × price per PLS lb", weighed, LIST_PRICE),
    }


def least_cost_mix(
    purpose: MixPurpose,
    acres: Acres,
    species: Annotated[list[PricedSpecies], Field(min_length=1, max_length=100)],
    targets: OwnTargets | None = None,
    way: aims.Way = "drilled",
    moisture: Moisture | None = None,
    ph: Acidity | None = None,
    budget_usd_per_acre: Usd | None = None,
    wanted: tuple[Name, ...] = (),
    unwanted: tuple[Name, ...] = (),
) -> Answer:
    """The cheapest mix for a purpose, or the targets that cannot be met together, in words.

    Own targets replace the purpose's one by one. With a mix: `species` (per species lb PLS/acre, seeds/ft²,
    $), `usd_per_acre`, `usd`, `target_prices` [$/acre by target]. Without: `conflict`. Raises ValueError
    naming the input. Source: reference/purposes.csv.
    """
    own = {} if targets is None else targets.model_dump(exclude_none=True)
    goal = aims.Goal(
        targets=replace(aims.targets_for(purpose, way), **own),
        moisture=moisture,
        ph=ph,
        budget_usd_per_acre=None if budget_usd_per_acre is None else exact(budget_usd_per_acre),
        wanted=wanted,
        unwanted=unwanted,
    )
    prices = {item.species: exact(item.usd_per_pls_lb) for item in species}
    answer = mixing.least_cost_mix(
        goal,
        [
            aims.candidate(
                item.species,
                exact(item.usd_per_pls_lb),
                item.seeds_per_lb,
                low_per_sqft=item.low_per_sqft,
                high_per_sqft=item.high_per_sqft,
            )
            for item in species
        ],
    )
    if answer.mix is None:
        numbered = {str(number): words for number, words in enumerate(answer.conflict, start=1)}
        beyond = (
            {} if answer.usd_without_budget is None else {"usd_without_budget": answer.usd_without_budget}
        )
        return {"conflict": numbered, **beyond, "left_out": answer.left_out}
    lines = {part.species: _line(part, acres, prices[part.species]) for part in answer.mix.parts}
    whole = Figure(
        total(Decimal(line["usd"].value) for line in lines.values()),
        "$",
        "sum over the species",
        (Term("species", len(lines)), Term("area", acres, "acre")),
        LIST_PRICE,
    )
    return {
        "usd_per_acre": answer.mix.usd_per_acre,
        "usd": whole,
        "seeds_per_sqft": answer.mix.seeds_per_sqft,
        "grass_share_pct": answer.mix.grass_share_pct,
        "species": lines,
        "blooming": {season: ", ".join(names) for season, names in answer.mix.blooming.items()},
        "target_prices": {price.words: price.usd_per_acre for price in answer.prices},
        "left_out": answer.left_out,
    }
