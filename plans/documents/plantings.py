"""Trees, shrubs and plots: what is set, what is spread, and how it is looked after."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from plans.documents.look import CELL, CELL_BOLD, SMALL, p, part, plain, quiet, rich, table
from plans.documents.words import listed, measured, number, quantity, sentence
from plans.planning.figures import Figure
from plans.planning.plan import FieldPlot, FieldTrees, Material, Plan, Task

NUTRIENTS = {"N": "nitrogen", "P2O5": "phosphate (P2O5)", "K2O": "potash (K2O)"}


def plot_in_words(plot: FieldPlot) -> str:
    """Depths, what the soil test asks for and what is spread for it."""
    said = [sentence(plot.sown)] if plot.sown else []
    if plot.need:
        asked = [f"{number(float(one.value), 0)} lb of {NUTRIENTS[name]}" for name, one in plot.need.items()]
        said.append(f"The soil test asks for {listed(asked)} an acre.")
    spread = [f"{number(float(one.value), 0)} lb of {name}" for name, one in plot.fertilizer.items()]
    if plot.lime is not None:
        spread.insert(0, f"{measured(float(plot.lime.value), 'ton', most=1)} of lime")
    if spread:
        said.append(f"Spread for it, an acre: {listed(spread)}.")
    return " ".join(said)


def _count(figure: Figure) -> str:
    return number(float(figure.value), 0)


def planting(found: FieldTrees) -> list[Flowable]:
    """The trees and shrubs of one field as a table."""
    rows: list[list[object]] = [
        [
            rich(plain(line.species[:1].upper() + line.species[1:]), quiet(f" {line.stock}"), style=CELL),
            f"{number(line.share_pct, 1)} %",
            _count(line.plants),
            _count(line.replaced),
            p(line.usual_spacing, CELL),
        ]
        for line in found.lines
    ]
    again = sum(float(line.replaced.value) for line in found.lines)
    rows.append([p("All plants", CELL_BOLD), "", _count(found.plants), number(again, 0), ""])
    each = f", {_count(found.per_acre)} to the acre" if found.per_acre else ""
    stand = "stands in a tube" if found.tubes.value == 1 else "stand in tubes"
    tubes = f" {_count(found.tubes)} of them {stand}." if found.tubes.value else ""
    return [
        *part(f"{found.field}: trees and shrubs", 120),
        p(sentence(f"{found.layout}{each}") + tubes, SMALL),
        table(
            ["Tree or shrub", "Share", "Set", "Set again", "Usual spacing"],
            rows,
            [212, 52, 58, 62, 84],
            numbers={1, 2, 3},
            totals=1,
        ),
    ]


def to_bring(materials: Sequence[Material], tasks: Sequence[Task]) -> list[Flowable]:
    """Plants, tubes, fence, fertilizer and lime of the whole job, field by field and year by year."""
    if not materials:
        return []
    years = {task.key: task.earliest.year for task in tasks}
    rows: list[list[object]] = [
        [
            p(one.name[:1].upper() + one.name[1:], CELL),
            p(one.field, CELL),
            str(years[one.task]),
            quantity(float(one.amount.value), one.amount.unit, 1),
        ]
        for one in materials
    ]
    return [
        *part("Plants and materials", 90),
        table(["What", "Field", "Year", "How much"], rows, [200, 138, 40, 90], numbers={2, 3}, tight=True),
    ]


def plantings(plan: Plan) -> list[Flowable]:
    """Empty where the plan has neither trees nor anything to spread."""
    story = [flowable for found in plan.trees for flowable in planting(found)]
    return [*story, *to_bring(plan.materials, plan.tasks)]
