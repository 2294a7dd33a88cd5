"""Small makers of jobs, prices and plans; each starts from the example job and changes what a test is
about."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from plans.planning import tables
from plans.planning.job import Climate, Conversion, DoneStep, Job, Mix, MixLine, Terms, TreeLine, Trees
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.price_list import PriceList
from plans.planning.wire import JobFile, read_job_file
from sites.climate import stations

EXAMPLE = Path(__file__).parents[2] / "plans" / "examples" / "job.json"
TODAY = date(2026, 11, 25)


@cache
def example() -> JobFile:
    return read_job_file(EXAMPLE.read_text(encoding="utf-8"))


def prices(**changes: Any) -> PriceList:
    return replace(example().prices, **changes)


def priced(part: str, key: str, **changes: Any) -> PriceList:
    """The example's prices with one row changed: `priced("products", "glyphosate", restricted_use=True)`."""
    rows = getattr(example().prices, part)
    name = {"seed": "species", "products": "active_ingredient", "adjuvants": "kind", "work": "operation"}[
        part
    ]
    assert any(getattr(row, name) == key for row in rows), key
    changed = tuple(replace(row, **changes) if getattr(row, name) == key else row for row in rows)
    return prices(**{part: changed})


def conversion(**changes: Any) -> Conversion:
    """Cool-season sod, fall and spring kill, drilled, no thatch; from July 2027."""
    return replace(example().job.conversions[0], **({"thatch": "none"} | changes))


def trees(*lines: tuple[str, float], **changes: Any) -> Trees:
    """`trees(("white oak", 100), tubes_pct=50)`, 10 ft by 10 ft."""
    made = tuple(TreeLine(species=name, share_pct=share) for name, share in lines or (("white oak", 100),))
    return Trees(**({"lines": made, "row_ft": 10.0, "plant_ft": 10.0} | changes))


def planting(**changes: Any) -> Conversion:
    """White oaks in killed strips, in tubes; from July 2027."""
    asked = {"trees": trees(tubes_pct=100.0), "mix": None, "purpose": "tree and shrub planting"}
    return conversion(**(asked | {"kill_program": "tree_strips", "seeding": "tree_planting"} | changes))


def plot(**changes: Any) -> Conversion:
    """Oats and white clover, which have a window in either season, drilled in fall; from July 2027."""
    sown = mix(("oats", 60.0), ("white clover", 2.0))
    asked = {"mix": sown, "purpose": "food plot", "seeding": "plot_fall_drill"}
    return conversion(**(asked | changes))


WAYS = sorted(
    (program, seeding)
    for seeding, way in tables.seedings().items()
    for program, row in tables.programs().items()
    if seeding in row.seedings or (not way.crop_season and way.way != "planted" and "drill" in row.seedings)
)
"""Every program with every seeding that it goes with, and those of native cover with all of theirs."""


def sown_by(seeding: str, **changes: Any) -> Conversion:
    """A conversion for which a way of seeding is meant."""
    way = tables.seedings()[seeding]
    fitting = planting if way.way == "planted" else plot if way.crop_season else conversion
    return fitting(**({"seeding": seeding} | changes))


def mix(*lines: tuple[str, float], basis: Any = "lb PLS per acre", **changes: Any) -> Mix:
    made = tuple(MixLine(species=name, amount=amount) for name, amount in lines)
    return Mix(**({"name": "Tried mix", "basis": basis, "lines": made} | changes))


GRASSES = (("big bluestem", 2.5), ("indiangrass", 2.0), ("little bluestem", 2.0))


def grass_mix(**changes: Any) -> Mix:
    """Three native grasses, about 28 seeds per square foot."""
    return mix(*GRASSES, **changes)


def log(**steps: date) -> tuple[DoneStep, ...]:
    """`log(kill_fall=date(2027, 10, 1))`."""
    return tuple(DoneStep(step=step, on=day) for step, day in steps.items())


def job(*conversions: Conversion, terms: Terms | None = None, **changes: Any) -> Job:
    """The example's job with these conversions, or with one field of `conversion()`."""
    return replace(
        example().job,
        conversions=conversions or (conversion(),),
        **({"terms": terms} if terms else {}),
        **changes,
    )


def terms(**changes: Any) -> Terms:
    return replace(example().job.terms, **changes)


def plan(
    *conversions: Conversion, today: date = TODAY, price_list: PriceList | None = None, **changes: Any
) -> Plan:
    return plan_job(job(*conversions, **changes), price_list or prices(), today)


@cache
def climates() -> dict[str, Climate]:
    """Every station of the site's own table, by place."""
    return {
        station.place: Climate(
            place=station.place,
            monthly_mean_f=station.monthly_mean_f,
            last_spring_freeze=station.last_spring_freeze,
            first_fall_freeze=station.first_fall_freeze,
        )
        for station in stations().values()
    }


def columbia() -> Climate:
    return example().job.climate
