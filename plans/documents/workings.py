"""How the figures that matter were worked out: the rule once, then what was put in, line by line.

What things cost the practice and what it keeps stay on its own screens.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from reportlab.platypus import CondPageBreak, Flowable

from plans.documents import fonts
from plans.documents.lines import the_lines
from plans.documents.look import (
    CELL_SMALL,
    H3_FINE,
    SMALL,
    TEXT_WIDTH,
    gap,
    p,
    part,
    plain,
    quiet,
    rich,
    section,
    strong,
    table,
)
from plans.documents.look import (
    FINEST as FINE,
)
from plans.documents.look import (
    FINEST_BOLD as FINE_BOLD,
)
from plans.documents.manner import _, in_force, using
from plans.documents.season import growth_in_numbers
from plans.documents.soil import soil_workings
from plans.documents.told import told
from plans.documents.words import exactly, number, quantity, source, unique, upper_first
from plans.planning.figures import Figure, Term
from plans.planning.plan import Plan, SeedLine, TankMix, TankPart

Named = tuple[str, Figure]
RULE = FINE.clone("rule", fontSize=8.2, leading=10.2)
TIGHT = [("TOPPADDING", (0, 0), (-1, -1), 0.2), ("BOTTOMPADDING", (0, 0), (-1, -1), 0.6)]


def _by_rule(title: str, figures: Sequence[Named]) -> list[Flowable]:
    """A small table per rule: its formula and source above, then a line for each figure that follows it."""
    groups: dict[str, list[Named]] = {}
    for name, figure in figures:
        groups.setdefault(figure.formula, []).append((name, figure))
    story: list[Flowable] = []
    longest = max((fonts.width(name, FINE.fontName, FINE.fontSize) for name, _figure in figures), default=0)
    beside = min(longest + 8, 0.6 * TEXT_WIDTH)
    for formula, same in groups.items():
        sources = unique(_cited(figure) for _name, figure in same if figure.source != "arithmetic")
        shared = sources[0] if len(sources) == 1 else ""
        story += [CondPageBreak(48), _rule(title, formula, [shared] if shared else [])]
        rows: list[list[object]] = []
        result = 10 + max(
            fonts.width(exactly(figure.value, figure.unit), fonts.SERIF, FINE.fontSize + 0.2)
            for _name, figure in same
        )
        for name, figure in same:
            inputs = "; ".join(_said(term) for term in figure.inputs)
            if len(sources) > 1 and figure.source != "arithmetic":
                inputs = f"{inputs}; {_cited(figure)}" if inputs else _cited(figure)
            rows.append([p(name, FINE), p(inputs, CELL_SMALL), exactly(figure.value, figure.unit)])
        widths = [beside, TEXT_WIDTH - beside - result, result]
        story.append(table([], rows, widths, numbers={2}, text=FINE, tight=True, extra=TIGHT))
    return story


def _rule(title: str, formula: str, sources: Iterable[str]) -> Flowable:
    """`title: formula. Source: …`"""
    cited = "; ".join(sources)
    return rich(
        strong(f"{title}: "),
        plain(f"{told(formula)}. "),
        quiet(_("Source: {source}.").format(source=cited) if cited else ""),
        style=RULE,
    )


def _cited(figure: Figure) -> str:
    return told(source(figure.source), convert=False)


def _said(term: Term) -> str:
    value = told(term.value) if isinstance(term.value, str) else exactly(term.value, term.unit)
    return f"{told(term.name)} {value}"


def _part(title: str, *groups: list[Flowable]) -> list[Flowable]:
    story = [flowable for group in groups for flowable in group]
    return [*part(title, 70, H3_FINE), *story] if story else []


def _term(figure: Figure | None, name: str) -> str:
    """One input of a working, as it stands in a column of them."""
    found = next((term.value for term in figure.inputs if term.name == name), None) if figure else None
    return "" if found is None or isinstance(found, str) else number(float(found))


def _seed_row(name: str, acres: float, line: SeedLine) -> list[object]:
    per_acre, bulk = line.pls_lb_per_acre, line.bulk_lb
    return [
        p(name, FINE),
        _term(per_acre, "density"),
        _term(per_acre, "count"),
        number(float(per_acre.value), 4),
        number(acres),
        number(float(line.pls_lb.value), 3),
        _term(bulk, "purity"),
        _term(bulk, "germination"),
        _term(bulk, "dormant"),
        number(float(bulk.value), 3) if bulk else _("no lot"),
    ]


def _seed(plan: Plan) -> list[Flowable]:
    rows: list[list[object]] = []
    extra: list[tuple] = [*TIGHT, ("LEFTPADDING", (1, 0), (-1, -1), 2), ("RIGHTPADDING", (1, 0), (-2, -1), 2)]
    for field in plan.seed:
        if field.lines and len(plan.seed) > 1:
            rows.append([p(field.field, FINE_BOLD), *[""] * 9])
            extra += [
                ("SPAN", (0, len(rows)), (-1, len(rows))),
                ("NOSPLIT", (0, len(rows)), (-1, len(rows) + 1)),
            ]
        rows += [_seed_row(upper_first(told(line.species)), field.acres, line) for line in field.lines]
    if not rows:
        return []
    lines = [line for field in plan.seed for line in field.lines]
    rates = unique(line.pls_lb_per_acre.formula for line in lines)
    raised = unique(
        number(float(term.value))
        for line in lines
        for term in line.pls_lb_per_acre.inputs
        if term.name == "raised for broadcasting" and not isinstance(term.value, str)
    )
    bulk = next((line.bulk_lb for line in lines if line.bulk_lb), None)
    head = [
        _("Seed"),
        _("seeds per ft²"),
        _("seeds per lb"),
        _("lb PLS per acre"),
        _("acres"),
        _("lb PLS"),
        _("purity %"),
        _("germ. %"),
        _("dorm. %"),
        _("bulk lb"),
    ]
    widths = [0.0, 34.0, 44.0, 42.0, 32.0, 42.0, 34.0, 36.0, 34.0, 42.0]
    widths[0] = TEXT_WIDTH - sum(widths)
    story: list[Flowable] = [
        _rule(
            _("Pure live seed per acre"),
            "; ".join(rates),
            unique(_cited(line.pls_lb_per_acre) for line in lines),
        )
    ]
    if raised:
        factors = "; ".join(raised)
        story.append(p(_("Raised for broadcasting: {factors} times.").format(factors=factors), CELL_SMALL))
    if bulk:
        story.append(_rule(_("Bulk seed to weigh out"), bulk.formula, [_cited(bulk)]))
    story.append(table(head, rows, widths, numbers=range(1, len(head)), text=FINE, tight=True, extra=extra))
    return [*part(_("Seed"), 100, H3_FINE), *story]


def _materials(plan: Plan) -> list[Flowable]:
    counts = [
        (f"{upper_first(told(line.species))}, {found.field}", line.plants)
        for found in plan.trees
        for line in found.lines
    ]
    whole = [(_("All plants, {field}").format(field=found.field), found.plants) for found in plan.trees]
    fed = [
        (f"{told(name)}, {plot.field}", figure)
        for plot in plan.plots
        for name, figure in plot.fertilizer.items()
    ]
    need = [(f"{name}, {plot.field}", figure) for plot in plan.plots for name, figure in plot.need.items()]
    lime = [
        (_("Lime, {field}").format(field=plot.field), plot.lime)
        for plot in plan.plots
        if plot.lime is not None
    ]
    return _part(
        _("Plants and materials"),
        _by_rule(_("Plants"), whole),
        _by_rule(_("Plants of each kind"), counts),
        _by_rule(_("Nutrients asked for"), need),
        _by_rule(_("Fertilizer"), fed),
        _by_rule(_("Lime"), lime),
    )


def _spray(plan: Plan) -> list[Flowable]:
    """A row a product of a step, all fields together: rate, acres or carrier, and what it takes."""
    rates: dict[str, Named] = {}
    together: dict[tuple[str, str, str], list[tuple[TankMix, TankPart]]] = {}
    rules: list[Figure] = []
    for tank in plan.tanks:
        for used in tank.parts:
            name = upper_first(told(used.name))
            if used.rate.inputs:
                rates.setdefault(f"{name} {used.rate.value}", (name, used.rate))
            rules.append(used.total)
            together.setdefault((tank.label, name, exactly(used.rate.value, used.rate.unit)), []).append(
                (tank, used)
            )
    if not together:
        return []
    rows: list[list[object]] = []
    for (label, name, rate), same in together.items():
        by_area = bool(same[0][1].active_ingredient)
        on = sum(tank.acres if by_area else float(tank.carrier_gal.value) for tank, _part in same)
        takes = sum(float(used.total.value) for _tank, used in same)
        rows.append(
            [
                p(told(label), FINE),
                p(name, FINE),
                rate,
                quantity(on, "acres" if by_area else "gal"),
                quantity(takes, same[0][1].total.unit, 3),
            ]
        )
    formulas = unique(rule.formula for rule in rules)
    cited = unique(_cited(rule) for rule in rules)
    return [
        *part(_("Products to spray"), 90, H3_FINE),
        *_by_rule(_("Product per acre"), list(rates.values())),
        _rule(_("Product for a step"), "; ".join(told(formula) for formula in formulas), cited),
        table(
            [_("Step"), _("Product"), _("Rate"), _("On, or in"), _("Takes")],
            rows,
            [TEXT_WIDTH - 318, 108, 90, 60, 60],
            numbers={2, 3, 4},
            text=FINE,
            tight=True,
            extra=TIGHT,
        ),
    ]


def _sums(plan: Plan) -> list[Flowable]:
    estimate = plan.estimate

    def yearly(name: str) -> list[Named]:
        figures: list[Named] = [(str(year.year), getattr(year, name)) for year in estimate.years]
        return [(year, figure) for year, figure in figures if figure.dollars]

    share = [(_("Not part of the price"), estimate.cost_share)] if estimate.cost_share is not None else []
    return _part(
        _("Sums"),
        *(_in_a_run(told(name.capitalize()), yearly(name)) for name in ("contingency", "discount", "tax")),
        _in_a_run(_("Cost-share"), share),
    )


def _in_a_run(title: str, figures: Sequence[Named]) -> list[Flowable]:
    """The rule once, then every figure with its inputs in one paragraph."""
    if not figures:
        return []
    first = figures[0][1]
    said = " ".join(
        strong(f"{name}: ")
        + plain("; ".join(_said(term) for term in figure.inputs))
        + strong(f" = {exactly(figure.value, figure.unit)}.")
        for name, figure in figures
    )
    return [_rule(title, first.formula, [_cited(first)]), rich(said, style=FINE), gap(2)]


def the_workings(plan: Plan) -> list[Flowable]:
    metric = in_force().metric
    with using(replace(in_force(), measures="US customary")):
        worked_out = [*_seed(plan), *_materials(plan), *_spray(plan), *_sums(plan), *soil_workings(plan)]
    blocks = [*the_lines(plan), *worked_out, *growth_in_numbers(plan)]
    if not blocks:
        return []
    return [
        *section(_("How it was worked out"), 150),
        p(
            _(
                "The figures that decide the price: the rule, where it comes from, what was put in, and the "
                "result. If an input looks wrong to you, tell us: the result follows from it."
            ),
            SMALL,
        ),
        *(
            [p(_("They are worked out in US customary measures, and shown here as they are."), SMALL)]
            if metric
            else []
        ),
        *blocks,
    ]
