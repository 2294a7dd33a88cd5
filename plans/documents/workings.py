"""How the figures that matter were worked out: the rule once, then what was put in, line by line.

What things cost the practice and what it keeps stay on its own screens.
"""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import CondPageBreak, Flowable

from plans.documents import fonts
from plans.documents.look import (
    CELL,
    CELL_SMALL,
    FINE,
    TEXT_WIDTH,
    p,
    part,
    plain,
    quiet,
    rich,
    section,
    strong,
    table,
)
from plans.documents.manner import _, in_force
from plans.documents.soil import soil_workings
from plans.documents.told import told
from plans.documents.words import exactly, source, unique, upper_first
from plans.planning.figures import Figure, Term
from plans.planning.plan import Plan

Named = tuple[str, Figure]


def _by_rule(title: str, figures: Sequence[Named]) -> list[Flowable]:
    """A small table per rule: its formula and source above, then a line for each figure that follows it."""
    groups: dict[str, list[Named]] = {}
    for name, figure in figures:
        groups.setdefault(figure.formula, []).append((name, figure))
    story: list[Flowable] = []
    longest = max((fonts.width(name, FINE.fontName, FINE.fontSize) for name, _ in figures), default=0)
    beside = min(longest + 8, 0.6 * TEXT_WIDTH)
    for formula, same in groups.items():
        sources = unique(source(figure.source) for _, figure in same if figure.source != "arithmetic")
        shared = sources[0] if len(sources) == 1 else ""
        story += [
            CondPageBreak(56),
            rich(
                strong(f"{title}: "),
                plain(f"{told(formula, convert=False)}. "),
                quiet(_("Source: {source}.").format(source=shared) if shared else ""),
                style=CELL,
            ),
        ]
        rows: list[list[object]] = []
        result = 10 + max(
            fonts.width(exactly(figure.value, figure.unit), fonts.SERIF, FINE.fontSize + 0.2)
            for _, figure in same
        )
        for name, figure in same:
            inputs = "; ".join(_term(term) for term in figure.inputs)
            if len(sources) > 1 and figure.source != "arithmetic":
                inputs = f"{inputs}; {source(figure.source)}" if inputs else source(figure.source)
            rows.append([p(name, FINE), p(inputs, CELL_SMALL), exactly(figure.value, figure.unit)])
        story.append(
            table(
                [], rows, [beside, TEXT_WIDTH - beside - result, result], numbers={2}, text=FINE, tight=True
            )
        )
    return story


def _term(term: Term) -> str:
    value = told(term.value) if isinstance(term.value, str) else exactly(term.value, term.unit)
    return f"{told(term.name, convert=False)} {value}"


def _part(title: str, *groups: list[Flowable]) -> list[Flowable]:
    story = [flowable for group in groups for flowable in group]
    return [*part(title, 84), *story] if story else []


def _seed(plan: Plan) -> list[Flowable]:
    several = len(plan.seed) > 1
    lines = [
        (upper_first(told(line.species)) + (f", {field.field}" if several else ""), line)
        for field in plan.seed
        for line in field.lines
    ]
    return _part(
        _("Seed"),
        _by_rule(_("Pure live seed per acre"), [(name, line.pls_lb_per_acre) for name, line in lines]),
        _by_rule(_("Bulk seed to weigh out"), [(name, line.bulk_lb) for name, line in lines if line.bulk_lb]),
    )


def _materials(plan: Plan) -> list[Flowable]:
    counts = [
        (f"{upper_first(told(line.species))}, {found.field}", line.plants)
        for found in plan.trees
        for line in found.lines
    ]
    whole = [(f"{_('All plants')}, {found.field}", found.plants) for found in plan.trees]
    fed = [
        (f"{name}, {plot.field}", figure) for plot in plan.plots for name, figure in plot.fertilizer.items()
    ]
    need = [(f"{name}, {plot.field}", figure) for plot in plan.plots for name, figure in plot.need.items()]
    lime = [
        (f"{upper_first(_('lime'))}, {plot.field}", plot.lime) for plot in plan.plots if plot.lime is not None
    ]
    return _part(
        _("Plants and materials"),
        _by_rule(_("Plants"), whole),
        _by_rule(_("Plants of each kind"), counts),
        _by_rule(_("Nutrients asked for"), need),
        _by_rule(_("Fertilizer"), fed),
        _by_rule(upper_first(_("lime")), lime),
    )


def _spray(plan: Plan) -> list[Flowable]:
    rates: dict[str, Named] = {}
    totals: list[Named] = []
    for tank in plan.tanks:
        for used in tank.parts:
            name = upper_first(told(used.name))
            if used.rate.inputs:
                rates.setdefault(f"{name} {used.rate.value}", (name, used.rate))
            totals.append((f"{name}; {told(tank.label)}, {tank.field}", used.total))
    return _part(
        _("Products to spray"),
        _by_rule(_("Product per acre"), list(rates.values())),
        _by_rule(_("Product for the step"), totals),
    )


def _sums(plan: Plan) -> list[Flowable]:
    estimate = plan.estimate

    def yearly(name: str) -> list[Named]:
        figures: list[Named] = [(str(year.year), getattr(year, name)) for year in estimate.years]
        return [(year, figure) for year, figure in figures if figure.dollars]

    share = [(_("Not part of the price"), estimate.cost_share)] if estimate.cost_share is not None else []
    return _part(
        _("Sums"),
        _by_rule(_("Contingency"), yearly("contingency")),
        _by_rule(_("Discount"), yearly("discount")),
        _by_rule(_("Tax"), yearly("tax")),
        _by_rule(_("Cost-share"), share),
    )


def the_workings(plan: Plan) -> list[Flowable]:
    metric = in_force().metric
    blocks = [*_seed(plan), *_materials(plan), *_spray(plan), *_sums(plan), *soil_workings(plan)]
    if not blocks:
        return []
    return [
        *section(_("How it was worked out"), 200),
        p(
            _(
                "The figures that decide the price: the rule, where it comes from, what was put in, and the "
                "result. If an input looks wrong to you, tell us: the result follows from it."
            )
        ),
        *(
            [p(_("They are worked out in US customary measures, and shown here as they are."))]
            if metric
            else []
        ),
        *blocks,
    ]
