"""Trees, shrubs and plots: what is set, what is spread, and how it is looked after."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from plans.documents.look import CELL, CELL_BOLD, SMALL, p, part, plain, quiet, rich, table
from plans.documents.manner import _, marked, several
from plans.documents.told import told
from plans.documents.words import listed, number, quantity, sentence, upper_first
from plans.planning.figures import Figure
from plans.planning.plan import FieldPlot, FieldTrees, Material, Plan, Task

NUTRIENTS = {"N": marked("nitrogen"), "P2O5": marked("phosphate (P2O5)"), "K2O": marked("potash (K2O)")}


def plot_in_words(plot: FieldPlot) -> str:
    """Depths, what the soil test asks for and what is spread for it."""
    said = [sentence(told(plot.sown))] if plot.sown else []
    if plot.need:
        asked = [_of(float(one.value), "lb/acre", _(NUTRIENTS[name])) for name, one in plot.need.items()]
        said.append(_("The soil test asks for {nutrients}.").format(nutrients=listed(asked)))
    spread = [_of(float(one.value), "lb/acre", name) for name, one in plot.fertilizer.items()]
    if plot.lime is not None:
        spread.insert(0, _of(float(plot.lime.value), "tons/acre", _("lime"), 1))
    if spread:
        said.append(_("Spread for it: {materials}.").format(materials=listed(spread)))
    return " ".join(said)


def _of(value: float, unit: str, what: str, most: int = 0) -> str:
    return _("{amount} of {material}").format(amount=quantity(value, unit, most), material=what)


def _count(figure: Figure) -> str:
    return number(float(figure.value), 0)


def planting(found: FieldTrees) -> list[Flowable]:
    """The trees and shrubs of one field as a table."""
    rows: list[list[object]] = [
        [
            rich(plain(upper_first(told(line.species))), quiet(f" {told(line.stock)}"), style=CELL),
            f"{number(line.share_pct, 1)} %",
            _count(line.plants),
            _count(line.replaced),
            p(told(line.usual_spacing), CELL),
        ]
        for line in found.lines
    ]
    again = sum(float(line.replaced.value) for line in found.lines)
    rows.append([p(_("All plants"), CELL_BOLD), "", _count(found.plants), number(again, 0), ""])
    said = [sentence(told(found.layout))]
    if found.per_acre:
        said.append(f"{quantity(float(found.per_acre.value), 'plants/acre', 0)}.")
    if found.tubes.value:
        tubes = several(
            "{tubes} of them stands in a tube.", "{tubes} of them stand in tubes.", int(found.tubes.value)
        )
        said.append(tubes.format(tubes=_count(found.tubes)))
    return [
        *part(_("{field}: trees and shrubs").format(field=found.field), 120),
        p(" ".join(said), SMALL),
        table(
            [_("Tree or shrub"), _("Share"), _("Set"), _("Set again"), _("Usual spacing")],
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
            p(upper_first(told(one.name)), CELL),
            p(one.field, CELL),
            str(years[one.task]),
            quantity(float(one.amount.value), one.amount.unit, 1),
        ]
        for one in materials
    ]
    return [
        *part(_("Plants and materials"), 90),
        table(
            [_("What"), _("Field"), _("Year"), _("How much")],
            rows,
            [200, 138, 40, 90],
            numbers={2, 3},
            tight=True,
        ),
    ]


def plantings(plan: Plan) -> list[Flowable]:
    """Empty where the plan has neither trees nor anything to spread."""
    story = [flowable for found in plan.trees for flowable in planting(found)]
    return [*story, *to_bring(plan.materials, plan.tasks)]
