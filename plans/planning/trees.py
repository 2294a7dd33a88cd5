"""Trees and shrubs of a planting: how many of each, and what a step on them takes.

Sources: plants per acre as in Coder, University of Georgia; a strip by its rows; shares cut to whole plants
by the largest remainder, so that they add up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from plans.planning import planting, tables, work
from plans.planning.figures import Figure, Term
from plans.planning.job import Conversion, Trees
from plans.planning.plan import FieldTrees, TreeCount
from plans.planning.programs import known
from plans.planning.tables import Step

SHARE_SOURCE = "plants × share, whole plants by the largest remainder: arithmetic"


def per_acre(trees: Trees) -> Figure | None:
    """Plants on an acre at the planting's spacing [plants]; None for a strip.

    Source: Coder, University of Georgia; the triangle is geometry.
    """
    if trees.layout == "strip":
        return None
    if trees.layout == "triangle":
        return planting.plants_per_acre_triangular(trees.plant_ft)
    return work.plants_per_acre(trees.row_ft, trees.plant_ft)


def whole(trees: Trees, acres: float) -> Figure:
    """All plants of the planting [plants], by its spacing on the acres, or by the rows of a strip.

    Source: Coder, University of Georgia; rows × (length / spacing + 1) for a strip.
    """
    each = per_acre(trees)
    if each is None:
        return planting.plants_in_strip(trees.rows, trees.length_ft, trees.plant_ft)
    return planting.plants_on(acres, each)


def shared(plants: int, shares_pct: Sequence[float]) -> list[int]:
    """Whole plants for each share, adding up to `plants`: largest remainder. Source: arithmetic."""
    exact = [plants * share / sum(shares_pct) for share in shares_pct]
    counts = [math.floor(amount + 1e-9) for amount in exact]
    by_remainder = sorted(range(len(exact)), key=lambda at: (counts[at] - exact[at], at))
    for at in by_remainder[: plants - sum(counts)]:
        counts[at] += 1
    return counts


def in_words(trees: Trees) -> str:
    """The layout as printed: `rows 10 ft apart, plants every 8 ft`."""
    if trees.layout == "triangle":
        return f"in triangles, every plant {trees.plant_ft:g} ft from the next"
    rows = f"rows {trees.row_ft:g} ft apart, plants every {trees.plant_ft:g} ft"
    if trees.layout == "strip":
        if trees.rows == 1:
            return f"a strip of 1 row {trees.length_ft:g} ft long, {rows}"
        return f"a strip of {trees.rows} rows {trees.length_ft:g} ft long, {rows}"
    return rows


def field_trees(conversion: Conversion) -> FieldTrees | None:
    """The planting of a field in whole plants; None where none is planned.

    Source: reference/trees.csv for spacing and stock. Raises UnknownChoice for a species in no table.
    """
    trees = conversion.trees
    if trees is None:
        return None
    for line in trees.lines:
        known(f"conversion {conversion.field!r}, trees", line.species, tables.woody().keys())
    plants = whole(trees, conversion.acres)
    counts = shared(int(plants.value), [line.share_pct for line in trees.lines])
    lines = []
    for line, count in zip(trees.lines, counts, strict=True):
        row = tables.woody()[line.species]
        again = (Term("plants", count), Term("share set again", trees.replaced_pct, "%"))
        lines.append(
            TreeCount(
                species=line.species,
                stock=trees.stock or row.stock,
                share_pct=line.share_pct,
                plants=Figure(
                    float(count),
                    "plants",
                    "all plants × share, cut to whole plants that add up",
                    (Term("plants", int(plants.value)), Term("share", line.share_pct, "%")),
                    SHARE_SOURCE,
                ),
                replaced=Figure(
                    float(math.ceil(count * trees.replaced_pct / 100 - 1e-9)),
                    "plants",
                    "plants × share set again, rounded up",
                    again,
                    "share as entered; common practice",
                ),
                usual_spacing=f"{row.spacing_ft_low:g} to {row.spacing_ft_high:g} ft",
            )
        )
    return FieldTrees(
        field=conversion.field,
        layout=in_words(trees),
        per_acre=per_acre(trees),
        plants=plants,
        tubes=planting.tubes(int(plants.value), trees.tubes_pct),
        lines=tuple(lines),
    )


def worked_on(step: Step, found: FieldTrees | None) -> int:
    """Plants that a step works on: those set again, those in tubes, or all. Source: the step's materials."""
    if found is None:
        return 0
    if "replacements" in step.materials:
        return sum(int(line.replaced.value) for line in found.lines)
    if "tubes" in step.materials or step.when == "tubes":
        return int(found.tubes.value)
    return int(found.plants.value)
