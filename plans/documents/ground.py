"""The fields, what is done on them and why, and the mix each one gets."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.graphics.shapes import Drawing, Rect
from reportlab.platypus import CondPageBreak, Flowable, Table

from plans.documents import fonts
from plans.documents.field_plan import field_plan, legend
from plans.documents.legend import legend_table
from plans.documents.look import (
    BODY,
    CELL,
    CELL_BOLD,
    DATES,
    GREEN,
    H4,
    SMALL,
    TEXT_WIDTH,
    gap,
    p,
    paragraphs,
    part,
    plain,
    quiet,
    rich,
    section,
    strong,
    table,
)
from plans.documents.plantings import plantings, plot_in_words
from plans.documents.words import count, listed, measured, number, sentence, unique, when
from plans.planning.away import ground_left
from plans.planning.job import Conversion
from plans.planning.plan import FieldPlot, FieldSeed, Plan, Task

PHASES = {
    "kill": "Kill what grows there",
    "plant": "Plant",
    "establish": "Help it establish, first and second year",
    "keep": "Keep it, third year and on",
}


def _mix_name(conversion: Conversion) -> str:
    if conversion.trees is not None:
        return listed([line.species for line in conversion.trees.lines])
    return conversion.mix.name if conversion.mix else ""


def _grows(conversion: Conversion) -> str:
    parts = [plain(conversion.cover[:1].upper() + conversion.cover[1:])]
    if conversion.thatch != "none":
        parts.append(plain(f", {conversion.thatch} thatch"))
    if conversion.weeds.strip():
        parts.append(quiet(f"\nWeeds: {conversion.weeds}"))
    if conversion.woody_plants.strip():
        parts.append(quiet(f"\nWoody: {conversion.woody_plants}"))
    return "".join(parts)


def _slope(conversion: Conversion) -> str:
    if not conversion.slope_pct:
        return "level"
    length = f", {number(conversion.slope_length_ft, 0)} ft long" if conversion.slope_length_ft else ""
    return f"{number(conversion.slope_pct, 1)} %{length}"


def _watch(conversion: Conversion) -> list[str]:
    said = []
    if conversion.water_within_ft is not None:
        said.append(f"water within {number(conversion.water_within_ft, 0)} ft")
    if conversion.sensitive_neighbours.strip():
        said.append(f"sensitive neighbours: {conversion.sensitive_neighbours.strip()}")
    if conversion.power_lines:
        said.append("power lines over or beside the field")
    return said


def _kept_free(conversions: Sequence[Conversion]) -> list[Flowable]:
    """Which work goes over how many acres, where some ground of a field is kept free."""
    found = [(conversion.field, ground_left(conversion)) for conversion in conversions]
    said = [
        rich(strong(f"{field}: "), plain(" ".join(ground.words for ground in grounds)), style=BODY)
        for field, grounds in found
        if grounds
    ]
    words = "Seed, product and price are for the acres that are left; the others stay as they are."
    return [*part("What stays away", 60), *said, p(words)] if said else []


MAP_WIDE, MAP_HIGH, MAP_GAP = 292.0, 250.0, 12.0


def _as_drawn(conversion: Conversion) -> list[Flowable]:
    """The field to scale, for work that keeps away from most, beside its facts; none without an outline."""
    if not conversion.drawn:
        return []
    drawn = conversion.drawn[0]
    wide = TEXT_WIDTH - MAP_WIDE - MAP_GAP
    facts = [
        p(f"{measured(conversion.acres, 'acre')}, {_slope(conversion)}", CELL_BOLD),
        rich(_grows(conversion), style=CELL),
        gap(4),
        legend_table(legend(drawn), wide),
    ]
    beside = Table(
        [[field_plan(drawn, wide=MAP_WIDE, high=MAP_HIGH), facts]],
        colWidths=[MAP_WIDE + MAP_GAP, wide],
        style=[
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), 0),
            ("TOPPADDING", (0, 0), (-1, -1), 0),
        ],
        hAlign="LEFT",
        splitInRow=1,
    )
    return [*part(f"{conversion.field} as it lies", MAP_HIGH + 40), beside]


def the_fields(plan: Plan) -> list[Flowable]:
    conversions = plan.job.conversions
    rows: list[list[object]] = [
        [
            p(conversion.field, CELL_BOLD),
            number(conversion.acres),
            p(_slope(conversion), CELL),
            rich(_grows(conversion), style=CELL),
            rich(
                plain(conversion.purpose[:1].upper() + conversion.purpose[1:]),
                quiet(f"\n{_mix_name(conversion)}"),
                style=CELL,
            ),
        ]
        for conversion in conversions
    ]
    if len(conversions) > 1:
        acres = number(sum(conversion.acres for conversion in conversions))
        rows.append([p(count(len(conversions), "field").capitalize(), CELL_BOLD), acres, "", "", ""])
    story = [
        *section("The fields"),
        table(
            ["Field", "Acres", "Slope", "What grows there", "What it becomes"],
            rows,
            [92, 44, 66, 142, 124],
            numbers={1},
            totals=1 if len(conversions) > 1 else 0,
        ),
    ]
    watch = [(conversion.field, _watch(conversion)) for conversion in conversions]
    story += [
        rich(strong(f"{field}: "), plain(sentence("; ".join(said))), style=BODY)
        for field, said in watch
        if said
    ]
    story += _kept_free(conversions)
    for conversion in conversions:
        story += _as_drawn(conversion)
    for conversion in conversions:
        if conversion.notes.strip():
            story += [*part(f"Notes on {conversion.field}", 60), *paragraphs(conversion.notes)]
    return story


def _same_work(plan: Plan, phase: str) -> list[tuple[list[str], list[Task]]]:
    """Fields whose steps of a phase are the same, with those tasks."""
    groups: dict[tuple, list[str]] = {}
    of_phase = [task for task in plan.tasks if task.phase == phase]
    for conversion in plan.job.conversions:
        steps = tuple(
            (task.step, task.label, task.why) for task in of_phase if task.field == conversion.field
        )
        if steps:
            groups.setdefault(steps, []).append(conversion.field)
    return [(fields, [task for task in of_phase if task.field in fields]) for fields in groups.values()]


def _windows(tasks: Sequence[Task]) -> str:
    """The window of a step; by field where they differ."""
    by_window: dict[str, list[str]] = {}
    for task in tasks:
        by_window.setdefault(when(task), []).append(task.field)
    if len(by_window) == 1:
        return plain(next(iter(by_window)), fonts.SERIF_ITALIC)
    return "<br/>".join(
        plain(window, fonts.SERIF_ITALIC) + quiet(f"\n{listed(unique(fields))}", fonts.SERIF_ITALIC)
        for window, fields in by_window.items()
    )


def what_we_do(plan: Plan) -> list[Flowable]:
    story = section("What we will do, and why", 170)
    if not plan.tasks:
        return [*story, p("No work is left to plan on these fields.")]
    several = len(plan.job.conversions) > 1
    for phase, title in PHASES.items():
        groups = _same_work(plan, phase)
        if groups:
            story += part(title, 110)
        for fields, tasks in groups:
            if several:
                story += [CondPageBreak(60), p(listed(fields), H4)]
            steps: dict[tuple[str, str, str], list[Task]] = {}
            for task in tasks:
                steps.setdefault((task.step, task.label, task.why), []).append(task)
            rows = [
                [
                    rich(_windows(same), style=DATES),
                    rich(strong(sentence(label)), plain(f" {sentence(why)}"), style=CELL),
                ]
                for (_, label, why), same in steps.items()
            ]
            story.append(table([], rows, [124, 344], ruled=False))
    return story


def _share_bar(share: float) -> Flowable:
    drawing = Drawing(52, 7)
    drawing.add(Rect(0, 0, max(0.5, 0.5 * share), 5, fillColor=GREEN, strokeColor=None))
    return drawing


KINDS = {"grass": "", "forb": " wildflower", "legume": " legume", "nurse": " nurse crop"}


def _shares(field: FieldSeed) -> str:
    if field.grass_share_pct.value >= 99.95:
        return "All grass."
    return (
        f"Grasses are {field.grass_share_pct.value:.0f} % of the seeds, wildflowers and legumes "
        f"{field.forb_share_pct.value:.0f} %."
    )


def _mix(field: FieldSeed, plot: FieldPlot | None) -> list[Flowable]:
    rows: list[list[object]] = []
    for line in field.lines:
        rows.append(
            [
                rich(
                    plain(line.species[:1].upper() + line.species[1:]),
                    quiet("" if plot else KINDS[line.group]),
                    style=CELL,
                ),
                f"{float(line.seeds_per_sqft.value):.2f}",
                f"{float(line.pls_lb_per_acre.value):.2f}",
                f"{float(line.bulk_lb.value):,.2f}" if line.bulk_lb else "no lot",
                p(line.box, CELL),
                f"{float(line.share_of_seed_pct.value):.1f} %",
                _share_bar(float(line.share_of_seed_pct.value)),
            ]
        )
    weighed = [float(line.bulk_lb.value) for line in field.lines if line.bulk_lb]
    rows.append(
        [
            p("The whole mix", CELL_BOLD),
            f"{float(field.seeds_per_sqft.value):.2f}",
            f"{float(field.pls_lb_per_acre.value):.2f}",
            f"{sum(weighed):,.2f}" if len(weighed) == len(field.lines) else "–",
            "",
            "",
            "",
        ]
    )
    whole_ends = [
        ("NOSPLIT", (0, 0), (-1, min(4, len(rows)))),
        ("NOSPLIT", (0, max(-4, -len(rows))), (-1, -1)),
    ]
    return [
        *part(f"{field.field}: {field.mix}", 150),
        p(
            f"{measured(field.acres, 'acre')}. {plot_in_words(plot) if plot else _shares(field)}",
            SMALL,
        ),
        table(
            [
                "Species",
                "Seeds per ft²",
                "lb PLS per acre",
                "lb bulk to weigh out",
                "Drill box",
                "Share of seed",
                "",
            ],
            rows,
            [150, 48, 56, 64, 50, 48, 52],
            numbers={1, 2, 3, 5},
            totals=1,
            extra=whole_ends,
        ),
    ]


def the_mixes(plan: Plan) -> list[Flowable]:
    """Mixes, plantings and what is spread; empty where there is none of them."""
    planted = plantings(plan)
    if not planted and not any(field.lines for field in plan.seed):
        return []
    story = section("What goes into the ground", 240)
    plots = {plot.field: plot for plot in plan.plots}
    if any(field.lines for field in plan.seed):
        story.append(_about_seed())
    for field in plan.seed:
        if field.lines:
            story += _mix(field, plots.get(field.field))
    return [*story, *planted]


def _about_seed() -> Flowable:
    return p(
        "Seed is bought and weighed by the bag, but only pure live seed (PLS) grows: purity times "
        "the seed that is alive. The bulk weight is what the scale must show for this field, from "
        "the lots in our price list; a new lot means a new weight."
    )
