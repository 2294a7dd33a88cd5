"""Single calculations by name, for scripts and checks: validated inputs in, Figures out."""

from __future__ import annotations

import inspect
import json
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError, create_model

from plans.planning import calibration, freezes, planting, season, seed, soil, spray, sprayday, stand, work
from plans.planning import leaves as leaves_module
from plans.planning.figures import Figure, Term
from plans.planning.job import MonthDay
from plans.planning.mix_reckoning import least_cost_mix
from plans.planning.planting_reckoning import food_plot, tree_block
from plans.planning.rig_reckoning import rig_check
from plans.planning.sprayday import Air as SprayAir
from plans.planning.sprayday import Cloud
from plans.planning.wire import BadInput, problems

Positive = Annotated[float, Field(gt=0, le=1e12, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, le=1e12, allow_inf_nan=False)]
Percent = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
PositivePercent = Annotated[float, Field(gt=0, le=100, allow_inf_nan=False)]
Degrees = Annotated[float, Field(ge=-100, le=150, allow_inf_nan=False)]
EachDay = Annotated[list[Degrees], Field(min_length=1, max_length=4000)]
Count = Annotated[int, Field(ge=0, le=1_000_000)]
Cells = Annotated[int, Field(gt=0, le=1_000_000)]
Slope = Annotated[float, Field(ge=0, le=200, allow_inf_nan=False)]
Factor = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
Humidity = Annotated[float, Field(ge=5, le=99, allow_inf_nan=False)]
Air = Annotated[float, Field(ge=-4, le=122, allow_inf_nan=False)]
Hour = Annotated[float, Field(ge=0, le=24, allow_inf_nan=False)]
Wind = Annotated[float, Field(ge=0, le=200, allow_inf_nan=False)]
Catches = Annotated[list[NotNegative], Field(min_length=2, max_length=200)]
Result = Figure | str | Mapping[str, "Result"]
STRICT = ConfigDict(strict=True, extra="forbid")


class MixPart(BaseModel):
    """One species of a mix given by its share of the seeds."""

    model_config = STRICT
    seeds_per_lb: Positive
    share_of_seed_pct: PositivePercent
    purity_pct: PositivePercent
    germination_pct: Percent
    dormant_pct: Percent = 0


def pls_pct(purity_pct: PositivePercent, germination_pct: Percent, dormant_pct: Percent = 0) -> Figure:
    return seed.pls_pct(purity_pct, germination_pct, dormant_pct)


def bulk_lb(
    pls_lb: NotNegative, purity_pct: PositivePercent, germination_pct: Percent, dormant_pct: Percent = 0
) -> Figure:
    return seed.bulk_lb(pls_lb, purity_pct, germination_pct, dormant_pct)


def price_per_pls_lb(
    price_per_bulk_lb: NotNegative,
    purity_pct: PositivePercent,
    germination_pct: Percent,
    dormant_pct: Percent = 0,
) -> Figure:
    return seed.price_per_pls_lb(price_per_bulk_lb, purity_pct, germination_pct, dormant_pct)


def seeds_per_sqft(pls_lb_per_acre: NotNegative, seeds_per_lb: Positive) -> Figure:
    return seed.seeds_per_sqft(pls_lb_per_acre, seeds_per_lb)


def pls_lb_per_acre(seeds_per_sqft: NotNegative, seeds_per_lb: Positive) -> Figure:
    return seed.pls_lb_per_acre(seeds_per_sqft, seeds_per_lb)


def mix(
    seeds_per_sqft: Positive,
    acres: Positive,
    lines: Annotated[list[MixPart], Field(min_length=1, max_length=80)],
) -> dict[str, dict[str, Figure]]:
    """Raises ValueError when the shares do not sum to 100 %."""
    shares = sum(line.share_of_seed_pct for line in lines)
    if abs(shares - 100) > 0.5:
        raise ValueError(f"lines: the shares of seed sum to {shares:g} %; they must sum to 100")
    result = {}
    for number, line in enumerate(lines, start=1):
        density = seeds_per_sqft * line.share_of_seed_pct / 100
        rate = seed.pls_lb_per_acre(density, line.seeds_per_lb)
        pounds = float(rate.value)
        result[str(number)] = {
            "pls_lb_per_acre": rate,
            "bulk_lb": seed.bulk_lb(pounds * acres, line.purity_pct, line.germination_pct, line.dormant_pct),
            "bulk_lb_per_acre": seed.bulk_lb(pounds, line.purity_pct, line.germination_pct, line.dormant_pct),
            "pls_lb": Figure(
                pounds * acres,
                "lb",
                "lb PLS per acre × acres",
                (Term("rate", pounds, "lb/acre"), Term("area", acres, "acre")),
                seed.DENSITY_SOURCE,
            ),
        }
    return result


def drill_lb_per_acre(
    grams: NotNegative, rows: Positive, row_spacing_in: Positive, distance_ft: Positive
) -> Figure:
    return seed.drill_lb_per_acre(grams, rows, row_spacing_in, distance_ft)


def drill_catch_g(
    lb_per_acre: NotNegative, rows: Positive, row_spacing_in: Positive, distance_ft: Positive
) -> Figure:
    return seed.drill_catch_g(lb_per_acre, rows, row_spacing_in, distance_ft)


def sprayer_gal_per_acre(
    nozzle_gal_per_min: NotNegative, speed_mph: Positive, spacing_in: Positive
) -> Figure:
    return spray.sprayer_gal_per_acre(nozzle_gal_per_min, speed_mph, spacing_in)


def nozzle_gal_per_min(gal_per_acre: NotNegative, speed_mph: Positive, spacing_in: Positive) -> Figure:
    return spray.nozzle_gal_per_min(gal_per_acre, speed_mph, spacing_in)


def speed_mph(distance_ft: NotNegative, seconds: Positive) -> Figure:
    return spray.speed_mph(distance_ft, seconds)


def tank(
    acres: Positive, gal_per_acre: Positive, tank_gal: Positive, rate_per_acre: NotNegative
) -> dict[str, Figure]:
    return spray.tank(acres, gal_per_acre, tank_gal, rate_per_acre)


def volume_pct(volume: NotNegative, pct: Percent) -> Figure:
    return spray.volume_pct(volume, pct)


def acid_to_product(lb_ae_per_acre: NotNegative, lb_ae_per_gal: Positive) -> Figure:
    return spray.acid_to_product(lb_ae_per_acre, lb_ae_per_gal)


def acres_per_hour(width_ft: Positive, speed_mph: Positive, efficiency_pct: PositivePercent) -> Figure:
    return work.acres_per_hour(width_ft, speed_mph, efficiency_pct)


def slope(rise_ft: NotNegative, run_ft: Positive) -> dict[str, Figure]:
    return work.slope(rise_ft, run_ft)


def plants_per_acre(row_ft: Positive, plant_ft: Positive) -> Figure:
    return work.plants_per_acre(row_ft, plant_ft)


def growing_degree_days(
    max_f: EachDay, min_f: EachDay, base_f: Degrees, cap_f: Degrees | None = None
) -> Figure:
    return season.growing_degree_days(max_f, min_f, base_f, cap_f)


def seeds_per_row_ft(seeds_per_sqft: NotNegative, row_spacing_in: Positive) -> Figure:
    return seed.seeds_per_row_ft(seeds_per_sqft, row_spacing_in)


def drill_wheel_g(
    lb_per_acre: NotNegative,
    turns: Positive,
    wheel_circumference_ft: Positive,
    rows: Positive,
    row_spacing_in: Positive,
) -> Figure:
    return seed.drill_wheel_g(lb_per_acre, turns, wheel_circumference_ft, rows, row_spacing_in)


def nozzle_catch_128th(spacing_in: Positive, ounces: NotNegative) -> Figure:
    return spray.nozzle_catch_128th(spacing_in, ounces)


def ls_factor(slope_pct: Slope, slope_length_ft: Positive) -> dict[str, Figure]:
    return soil.ls_factor(slope_pct, slope_length_ft)


def soil_loss(
    r: Factor, k: Factor, slope_pct: Slope, slope_length_ft: Positive, c: Factor, p: Factor
) -> dict[str, Figure]:
    return soil.soil_loss(r, k, slope_pct, slope_length_ft, c, p)


def delta_t(temp_f: Air, humidity_pct: Humidity) -> Figure:
    return sprayday.delta_t(temp_f, humidity_pct)


def spray_day(
    temp_f: Air,
    humidity_pct: Humidity,
    wind_mph: Wind,
    cloud: Cloud,
    hour: Hour,
    sunrise_hour: Hour | None = None,
    sunset_hour: Hour | None = None,
    label_wind_max_mph: Wind | None = None,
    ester: bool = False,
    smoke_or_fog_hangs: bool = False,
) -> Mapping[str, Result]:
    return sprayday.spray_day(
        SprayAir(
            temp_f=temp_f,
            humidity_pct=humidity_pct,
            wind_mph=wind_mph,
            cloud=cloud,
            hour=hour,
            sunrise_hour=sunrise_hour,
            sunset_hour=sunset_hour,
            label_wind_max_mph=label_wind_max_mph,
            ester=ester,
            smoke_or_fog_hangs=smoke_or_fog_hangs,
        )
    )


def boomless_gal_per_acre(nozzle_gal_per_min: NotNegative, speed_mph: Positive, swath_ft: Positive) -> Figure:
    return calibration.boomless_gal_per_acre(nozzle_gal_per_min, speed_mph, swath_ft)


def spot_gal_per_acre(gallons: NotNegative, sprayed_sqft: Positive) -> Figure:
    return calibration.spot_gal_per_acre(gallons, sprayed_sqft)


def refill_gal_per_acre(gallons: NotNegative, distance_ft: Positive, swath_ft: Positive) -> Figure:
    return calibration.refill_gal_per_acre(gallons, distance_ft, swath_ft)


def nozzle_wear(ounces: Catches) -> Mapping[str, Result]:
    return calibration.nozzle_wear(ounces)


def next_drill_setting(
    setting_before: NotNegative,
    catch_before: NotNegative,
    setting_last: NotNegative,
    catch_last: NotNegative,
    wanted: Positive,
) -> Figure:
    return calibration.next_drill_setting(setting_before, catch_before, setting_last, catch_last, wanted)


def freeze_probability(side: freezes.Side, median: MonthDay, p90: MonthDay, day: MonthDay) -> Figure:
    return freezes.freeze_probability(side, median, p90, day)


def freeze_dates(side: freezes.Side, median: MonthDay, p90: MonthDay) -> Mapping[str, Result]:
    return freezes.freeze_dates(side, median, p90)


def walk_to_count(
    plant: str,
    emerged: MonthDay,
    leaves: Annotated[int, Field(ge=1, le=20)],
    monthly_mean_f: Annotated[list[Degrees], Field(min_length=12, max_length=12)],
) -> Mapping[str, Result]:
    return leaves_module.walk_to_count(plant, emerged, leaves, monthly_mean_f)


def frequency_grid(hits: Count, cells: Cells) -> dict[str, Figure | str]:
    return stand.frequency_grid(hits, cells)


def plants_per_acre_triangular(spacing_ft: Positive) -> Figure:
    return planting.plants_per_acre_triangular(spacing_ft)


def plants_in_strip(
    rows: Annotated[int, Field(gt=0, le=1000)], length_ft: NotNegative, plant_ft: Positive
) -> Figure:
    return planting.plants_in_strip(rows, length_ft, plant_ft)


def fertilizer(
    n: NotNegative,
    p2o5: NotNegative,
    k2o: NotNegative,
    grades: Annotated[list[str], Field(min_length=1, max_length=20)],
) -> dict[str, Mapping[str, Figure]]:
    """Needs in lb/acre; grades as on the bag, `18-46-0`. Raises ValueError for a grade that is none."""
    bags = [planting.grade(text) for text in grades]
    feed = planting.fertilizer({"N": n, "P2O5": p2o5, "K2O": k2o}, bags)
    return {"products": feed.products, "supplied": feed.supplied, "short": feed.short}


def lime_tons(recommended_tons: NotNegative, basis_ecce_pct: Positive, product_ecce_pct: Positive) -> Figure:
    return planting.lime_tons(recommended_tons, basis_ecce_pct, product_ecce_pct)


Reckonings = Mapping[str, Callable[..., Result]]
RECKONINGS: Reckonings = {
    function.__name__: function
    for function in (
        pls_pct,
        bulk_lb,
        price_per_pls_lb,
        seeds_per_sqft,
        pls_lb_per_acre,
        mix,
        drill_lb_per_acre,
        drill_catch_g,
        sprayer_gal_per_acre,
        nozzle_gal_per_min,
        speed_mph,
        tank,
        volume_pct,
        acid_to_product,
        acres_per_hour,
        slope,
        plants_per_acre,
        growing_degree_days,
        freeze_probability,
        freeze_dates,
        walk_to_count,
        seeds_per_row_ft,
        drill_wheel_g,
        nozzle_catch_128th,
        ls_factor,
        soil_loss,
        delta_t,
        spray_day,
        boomless_gal_per_acre,
        spot_gal_per_acre,
        refill_gal_per_acre,
        nozzle_wear,
        next_drill_setting,
        frequency_grid,
        plants_per_acre_triangular,
        plants_in_strip,
        fertilizer,
        lime_tons,
        food_plot,
        tree_block,
        least_cost_mix,
        rig_check,
    )
}


@lru_cache(maxsize=2 * len(RECKONINGS))
def _inputs(reckoning: Callable[..., Result]) -> type[BaseModel]:
    fields: dict[str, Any] = {}
    for parameter in inspect.signature(reckoning, eval_str=True).parameters.values():
        default = ... if parameter.default is inspect.Parameter.empty else parameter.default
        fields[parameter.name] = (parameter.annotation, default)
    model: type[BaseModel] = create_model(reckoning.__name__, __config__=STRICT, **fields)
    return model


def inputs_schema(name: str, reckonings: Reckonings = RECKONINGS) -> dict[str, Any]:
    """The JSON Schema of what one reckoning is given."""
    return _inputs(reckonings[name]).model_json_schema()


def listing(reckonings: Reckonings = RECKONINGS) -> dict[str, dict[str, Any]]:
    """Every reckoning with the JSON Schema of its inputs."""
    return {name: inputs_schema(name, reckonings) for name in reckonings}


def _shown(result: Any) -> Any:
    if isinstance(result, Figure):
        return {
            "value": float(f"{float(result.value):.12g}"),
            "unit": result.unit,
            "working": result.working,
            "source": result.source,
        }
    if isinstance(result, str):
        return result
    return {key: _shown(part) for key, part in result.items()}


def reckon(name: str, inputs_json: str, reckonings: Reckonings = RECKONINGS) -> dict[str, Any]:
    """One reckoning: `{"value", "unit", "working", "source"}`, or an object of such for several results.

    Raises BadInput naming the input, what was given and what is allowed.
    """
    if name not in reckonings:
        raise BadInput([f"name: {name!r} is not one of: {', '.join(reckonings)}"])
    try:
        given = _inputs(reckonings[name]).model_validate_json(inputs_json)
    except ValidationError as error:
        raise BadInput(problems(error)) from None
    values = {key: getattr(given, key) for key in type(given).model_fields}
    try:
        shown: dict[str, Any] = _shown(reckonings[name](**values))
    except (ValueError, OverflowError, ZeroDivisionError) as error:
        raise BadInput([f"{error}; given {inputs_json.strip()[:200]}"]) from None
    json.dumps(shown, allow_nan=False)
    return shown
