"""Plots and tree blocks as reckonings: the tables, a soil test and the planter's prices put together."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Annotated

from pydantic import Field

from plans.planning import planting, tables, work
from plans.planning.figures import Figure, Term
from plans.planning.job import Level

Crop = Annotated[str, Field(json_schema_extra={"enum": list(tables.plot_crops())})]
Woody = Annotated[str, Field(json_schema_extra={"enum": list(tables.woody())})]
Acres = Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
Spacing = Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)]
Feet = Annotated[float, Field(ge=0, le=1e6, allow_inf_nan=False)]
Percent = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
Acidity = Annotated[float, Field(ge=3, le=10, allow_inf_nan=False)]
Price = Annotated[float, Field(ge=0, le=1e6, allow_inf_nan=False)]


def food_plot(
    crop: Crop, acres: Acres, phosphorus: Level, potassium: Level, soil_ph: Acidity
) -> Mapping[str, Figure | str]:
    """Seed [lb], depth [in], N, P2O5 and K2O [lb/acre] and whether to lime, for a crop sown alone.

    Source: reference/plots.csv and reference/soil_test.csv; the laboratory's own recommendation goes first.
    Raises ValueError for a crop that is not in the table.
    """
    need = planting.plot_need(crop, phosphorus, potassium)
    row = tables.plot_crops()[crop]

    def seed(rate: float) -> Figure:
        terms = (Term("area", acres, "acre"), Term("rate", rate, "lb/acre"))
        return Figure(acres * rate, "lb", "acres × rate", terms, row.source)

    lime = planting.lime_wanted(crop, soil_ph)
    said: dict[str, Figure | str] = {
        "seed_low": seed(row.rate_lb_per_acre_low),
        "seed_high": seed(row.rate_lb_per_acre_high),
        "depth": f"{row.depth_in_low:g} to {row.depth_in_high:g} in",
        **need,
        "lime": f"sourer than the crop likes (pH {row.ph_low:g}): ask the laboratory for its tons"
        if lime
        else f"not for this crop (it bears pH {row.ph_low:g} and up)",
    }
    if row.caution:
        said["mind"] = row.caution
    return said


def tree_block(
    species: Woody,
    acres: Acres,
    row_ft: Spacing,
    plant_ft: Spacing,
    replaced_pct: Percent = 10.0,
    in_tubes_pct: Percent = 100.0,
    fence_ft: Feet = 0.0,
    price_per_plant: Price = 0.0,
    price_per_tube: Price = 0.0,
    price_per_fence_ft: Price = 0.0,
) -> Mapping[str, Figure | str]:
    """Plants [plants], tubes and cost [$] of a block of one tree or shrub at a spacing [ft].

    Source: Coder, University of Georgia, for the count; reference/trees.csv for the usual spacing and stock.
    Raises ValueError for a species that is not in the table.
    """
    if species not in tables.woody():
        raise ValueError(f"species: {species!r} is not one of: {', '.join(tables.woody())}")
    row = tables.woody()[species]
    per_acre = work.plants_per_acre(row_ft, plant_ft)
    plants = planting.plants_on(acres, per_acre)
    order = planting.to_order(int(plants.value), replaced_pct)
    tubes = planting.tubes(int(plants.value), in_tubes_pct)
    bought = {
        "plants": (float(order.value), Decimal(str(price_per_plant))),
        "tubes": (float(tubes.value), Decimal(str(price_per_tube))),
        "fence": (fence_ft, Decimal(str(price_per_fence_ft))),
    }
    costs = {f"cost_of_{name}": figure for name, figure in planting.planting_cost(bought).items()}
    total = costs.pop("cost_of_total")
    said: dict[str, Figure | str] = {
        "plants_per_acre": per_acre,
        "plants": plants,
        "to_order": order,
        "tubes": tubes,
        **costs,
        "cost": total,
        "usual": f"{row.spacing_ft_low:g} to {row.spacing_ft_high:g} ft apart; {row.stock}",
    }
    if row.caution:
        said["mind"] = row.caution
    return said
