"""Killing and drilling through residue beside clean tillage on the same field: soil loss and bare days.

RUSLE (USDA Agriculture Handbook 703), straight up and down the slope (P 1). It compares choices and proves
nothing to a program: agencies use later tools.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Literal, cast

from pydantic import Field

from plans.planning import soil, tables
from plans.planning.calendar import SOWING
from plans.planning.cells import Key, Source, Words
from plans.planning.figures import Figure, Term
from plans.planning.job import Conversion, Texture
from plans.planning.plan import FieldSoil, SoilStage, Task

Share = Annotated[float, Field(gt=0, le=1)]
STAGES = ("before", "during", "after")


@dataclass(frozen=True, slots=True)
class SoilTexture:
    texture: Texture
    k_low: Share
    k: Share
    k_high: Share
    source: Source


@dataclass(frozen=True, slots=True)
class CoverStage:
    stage: Literal["before", "during", "after"]
    way: Literal["both", "drilled", "tilled"]
    covers: Words
    """Kinds of old cover it is for; empty for all."""
    label: Key
    c: Share
    c_low: Share
    c_high: Share
    source: Source


@lru_cache(maxsize=1)
def textures() -> dict[str, SoilTexture]:
    """K by texture [tons/acre per unit of R], with the range of the sources."""
    return dict(tables.keyed("soil_texture", SoilTexture, "texture"))


@lru_cache(maxsize=1)
def cover_stages() -> tuple[CoverStage, ...]:
    """C by stage and way of working, with the range of the sources."""
    return tables.read_table(tables.FOLDER / "cover_stages.csv", CoverStage)


def _cover(stage: str, way: str, cover: str) -> CoverStage:
    return next(
        row
        for row in cover_stages()
        if row.stage == stage and row.way in ("both", way) and (not row.covers or cover in row.covers)
    )


def k_of(conversion: Conversion) -> Figure | None:
    """The soil's K [tons/acre per unit of R]: the survey's, else the texture's, else None.

    Source: the soil survey as entered, or reference/soil_texture.csv, row by row.
    """
    if conversion.soil_k is not None:
        return Figure(conversion.soil_k, "K", "as entered", (), "soil survey, as entered")
    if conversion.soil_texture is None:
        return None
    row = textures()[conversion.soil_texture]
    return Figure(row.k, "K", f"{row.texture}: {row.k_low:g} to {row.k_high:g} is printed", (), row.source)


def _loss(r: float, k: Figure, ls: Figure, row: CoverStage) -> Figure:
    return Figure(
        r * float(k.value) * float(ls.value) * row.c,
        "tons/acre/year",
        "R × K × LS × C, P 1",
        (
            Term("R", r),
            Term("K", float(k.value)),
            Term("LS", float(ls.value)),
            Term("C", row.c),
            Term("C is printed from", row.c_low),
            Term("to", row.c_high),
        ),
        f"{ls.source}; C: {row.source}; K: {k.source}",
    )


def bare_days(tasks: Sequence[Task]) -> Figure:
    """Days from the first discing of the whole field to the seeding, both on their earliest day [days].

    Drilled through residue there are none. The weeks until seedlings cover the ground come on top.
    Source: the tasks of the plan; arithmetic.
    """
    sowing = next((task for task in tasks if task.operation in SOWING), None)
    discs = [task for task in tasks if task.operation == "discing" and task.season == 0]
    if sowing is None or not discs:
        return Figure(0.0, "days", "no tillage before the seeding", (), "tasks of this plan")
    first = min(task.earliest for task in discs)
    return Figure(
        float(max(0, (sowing.earliest - first).days)),
        "days",
        "first discing to seeding, and until it greens on top",
        (Term("disced", str(first)), Term("seeded", str(sowing.earliest))),
        "tasks of this plan",
    )


def field_soil(conversion: Conversion, tasks: Sequence[Task]) -> FieldSoil | None:
    """Soil loss before, during and after, drilled and tilled side by side [tons/acre/year].

    None unless R, K, slope and slope length are known. Source: Agriculture Handbook 703.
    """
    k = k_of(conversion)
    if conversion.soil_r is None or k is None or not (conversion.slope_pct and conversion.slope_length_ft):
        return None
    ls = soil.ls_rusle(conversion.slope_pct, conversion.slope_length_ft)
    stages = []
    for stage in STAGES:
        drilled, tilled = (_cover(stage, way, conversion.cover) for way in ("drilled", "tilled"))
        stages.append(
            SoilStage(
                stage=stage,
                drilled_label=drilled.label,
                drilled=_loss(conversion.soil_r, k, ls, drilled),
                tilled_label=tilled.label,
                tilled=_loss(conversion.soil_r, k, ls, tilled),
            )
        )
    during = stages[STAGES.index("during")]
    low, high = cast(float, during.drilled.value), cast(float, during.tilled.value)
    return FieldSoil(
        field=conversion.field,
        stages=tuple(stages),
        times=Figure(
            high / low,
            "times",
            "tilled / drilled, while the ground is open",
            (Term("tilled", high, "tons/acre/year"), Term("drilled", low, "tons/acre/year")),
            ls.source,
        ),
        bare_days=bare_days(tasks),
    )


def fields_soil(fields: Iterable[tuple[Conversion, Sequence[Task]]]) -> tuple[FieldSoil, ...]:
    """`field_soil` of every field that has one. Source: Agriculture Handbook 703."""
    found = (field_soil(conversion, tasks) for conversion, tasks in fields)
    return tuple(each for each in found if each is not None)


def against_tillage(conversion: Conversion, tasks: Sequence[Task]) -> str:
    """Why a slope is not tilled, in a sentence, with its loss where that is known. Source: Handbook 703."""
    found = field_soil(conversion, tasks)
    if found is None:
        return "Dead sod left standing holds the soil; tilled, the same slope can lose many times as much."
    during = found.stages[STAGES.index("during")]
    return (
        f"By RUSLE the bare slope would lose about {found.times.value:.0f} times as much as one drilled "
        f"through residue: {during.tilled.value:.1f} against {during.drilled.value:.1f} tons an acre a year."
    )
