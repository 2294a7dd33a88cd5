"""What goes into the ground: each plant of a mix with how tall it grows, when it blooms and what it gives."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from reportlab.graphics.shapes import Drawing, Group, Rect
from reportlab.platypus import Flowable

from plans.documents.look import (
    CELL,
    CELL_BOLD,
    CELL_SMALL,
    FINE,
    QUIET,
    RULE,
    SMALL,
    STRAW,
    TEXT_WIDTH,
    WHITE,
    p,
    part,
    plain,
    quiet,
    rich,
    section,
    table,
)
from plans.documents.manner import _, in_force, several
from plans.documents.marks import words
from plans.documents.plantings import plantings, plot_in_words
from plans.documents.told import told
from plans.documents.words import (
    converted,
    fixed,
    listed,
    measured,
    months,
    number,
    quantity,
    unique,
    upper_first,
)
from plans.planning import tables
from plans.planning.figures import Figure
from plans.planning.plan import FieldPlot, FieldSeed, Plan, SeedLine
from plans.planning.plants import Species

KINDS = {"grass": "", "forb": "wildflower", "legume": "legume", "nurse": "nurse crop"}
MONTHS_SHOWN = range(4, 11)
"""April to October: outside of it no plant of the tables blooms."""
CELL_WIDE, CELL_HIGH = 8.0, 7.0
INCHES_TO_FOOT = 12
MOST_ACROSS = 5
"""Fields beside each other; more go in another table."""
PLANT = CELL.clone("plant", fontSize=8.8, leading=11)
GIVES = FINE.clone("gives", leading=10.4)


def _months_head() -> Drawing:
    drawing, group = Drawing(CELL_WIDE * len(MONTHS_SHOWN), 10), Group()
    drawing.add(group)
    for at, month in enumerate(MONTHS_SHOWN):
        words(
            group,
            (at + 0.5) * CELL_WIDE,
            2,
            months("narrow")[month - 1],
            size=7,
            colour=QUIET,
            anchor="middle",
        )
    return drawing


def _bloom(plant: Species | None) -> Drawing:
    """A box a month, filled where it blooms."""
    drawing, group = Drawing(CELL_WIDE * len(MONTHS_SHOWN), CELL_HIGH + 2), Group()
    drawing.add(group)
    months = set(plant.bloom_months) if plant else set()
    for at, month in enumerate(MONTHS_SHOWN):
        group.add(
            Rect(
                at * CELL_WIDE,
                0,
                CELL_WIDE - 1,
                CELL_HIGH,
                fillColor=STRAW if month in months else WHITE,
                strokeColor=STRAW if month in months else RULE,
                strokeWidth=0.4,
            )
        )
    return drawing


def height_of(plant: Species | None) -> str:
    if plant is None:
        return "–"
    if plant.height_in < 3 * INCHES_TO_FOOT:
        return quantity(plant.height_in, "in", 0)
    return quantity(plant.height_in / INCHES_TO_FOOT, "ft", 1 if in_force().metric else 0)


def what_it_gives(line: SeedLine) -> str:
    row = tables.gives().get(line.species)
    return upper_first(told(row.gives)) if row else ""


def kind_of(line: SeedLine, plant: Species | None) -> str:
    kind = told(KINDS[line.group]) if KINDS[line.group] else ""
    colour = told(plant.bloom_colour) if plant and plant.bloom_colour else ""
    return ", ".join(text for text in (kind, colour) if text)


def _shares(field: FieldSeed) -> str:
    if field.grass_share_pct.value >= 99.95:
        return _("All grass.")
    return _("Grasses are {grass} % of the seeds, wildflowers and legumes {flowers} %.").format(
        grass=number(float(field.grass_share_pct.value), 0),
        flowers=number(float(field.forb_share_pct.value), 0),
    )


def _two(figure: Figure, unit: str) -> str:
    """Two decimals, as a column has them, in the measures in force."""
    return fixed(converted(float(figure.value), unit), 2)


def _amount_heads() -> list[str]:
    if in_force().metric:
        return [_("Seeds per m²"), _("kg PLS per ha"), _("kg to weigh out")]
    return [_("Seeds per ft²"), _("lb PLS per acre"), _("lb to weigh out")]


def _same_mix(sown: Sequence[FieldSeed], plots: Mapping[str, FieldPlot]) -> list[list[FieldSeed]]:
    """Fields sown with the same plants at the same rates, together; each plot by itself."""
    groups: dict[object, list[FieldSeed]] = {}
    for field in sown:
        rates = tuple(
            (line.species, line.seeds_per_sqft.value, line.pls_lb_per_acre.value) for line in field.lines
        )
        key = (field.mix, rates, field.field if field.field in plots else "")
        groups.setdefault(key, []).append(field)
    return list(groups.values())


def _to_weigh(line: SeedLine) -> str:
    return _two(line.bulk_lb, "lb") if line.bulk_lb else _("no lot")


def _whole(field: FieldSeed) -> str:
    weighed = [float(line.bulk_lb.value) for line in field.lines if line.bulk_lb]
    return fixed(converted(sum(weighed), "lb"), 2) if len(weighed) == len(field.lines) else "–"


def _weighed(fields: Sequence[FieldSeed]) -> list[Flowable]:
    """Of one mix, what each field takes: plants down, fields across."""
    tables: list[Flowable] = []
    for at in range(0, len(fields), MOST_ACROSS):
        some = fields[at : at + MOST_ACROSS]
        rows: list[list[object]] = [
            [p(upper_first(told(lines[0].species)), FINE), *(_to_weigh(line) for line in lines)]
            for lines in zip(*(field.lines for field in some), strict=True)
        ]
        rows.append([p(_("The whole mix"), CELL_BOLD), *(_whole(field) for field in some)])
        heads = [f"{field.field}, {measured(field.acres, 'acre')}" for field in some]
        wide = min(120.0, 0.75 * TEXT_WIDTH / len(some))
        tables.append(
            table(
                [_amount_heads()[2], *heads],
                rows,
                [TEXT_WIDTH - wide * len(some), *[wide] * len(some)],
                numbers=range(1, len(some) + 1),
                totals=1,
                tight=True,
                text=FINE,
            )
        )
    return tables


def _mix(fields: Sequence[FieldSeed], plot: FieldPlot | None) -> list[Flowable]:
    """The mix of a field, or of several at once with what each of them takes beneath."""
    first, alone = fields[0], len(fields) == 1
    rows: list[list[object]] = []
    for line in first.lines:
        plant = tables.species().get(line.species)
        kind = "" if plot else kind_of(line, plant)
        rows.append(
            [
                rich(plain(upper_first(told(line.species))), quiet(f"\n{kind}" if kind else ""), style=PLANT),
                p(what_it_gives(line), GIVES),
                height_of(plant),
                _bloom(plant) if plant and plant.bloom_months else "",
                _two(line.seeds_per_sqft, "seeds/ft²"),
                _two(line.pls_lb_per_acre, "lb/acre"),
                *([_to_weigh(line)] if alone else []),
            ]
        )
    rows.append(
        [
            p(_("The whole mix"), CELL_BOLD),
            "",
            "",
            "",
            _two(first.seeds_per_sqft, "seeds/ft²"),
            _two(first.pls_lb_per_acre, "lb/acre"),
            *([_whole(first)] if alone else []),
        ]
    )
    acres = measured(sum(field.acres for field in fields), "acre")
    about = plot_in_words(plot) if plot else _shares(first)
    whole_ends = [
        ("NOSPLIT", (0, 0), (-1, min(2, len(rows)))),
        ("NOSPLIT", (0, max(-3, -len(rows))), (-1, -1)),
        ("TOPPADDING", (3, 1), (3, -1), 4),
    ]
    amounts = _amount_heads() if alone else _amount_heads()[:2]
    head = [_("Plant"), _("What it gives"), _("Height"), _("In bloom"), *amounts]
    widths = [100.0, 0.0, 40.0, CELL_WIDE * len(MONTHS_SHOWN) + 12, *[38.0, 44.0, 46.0][: len(amounts)]]
    widths[1] = TEXT_WIDTH - sum(widths)
    numbers = {2, *range(4, len(head))}
    made = table(head, rows, widths, numbers=numbers, totals=1, extra=whole_ends, tight=True)
    named = listed([field.field for field in fields])
    if len(fields) > MOST_ACROSS:
        named = several("{number} field", "{number} fields", len(fields)).format(number=len(fields))
    return [
        *part(f"{named}: {first.mix}", 140),
        p(f"{acres}. {about}", SMALL),
        made,
        *([] if alone else _weighed(fields)),
    ]


def about_plants(plan: Plan) -> str:
    """Where heights, bloom and what a plant gives come from, once for all mixes."""
    names = unique(line.species for field in plan.seed for line in field.lines)
    remembered = [name for name in names if (row := tables.gives().get(name)) and "memory" in row.source]
    said = _(
        "Heights: USDA NRCS PLANTS Database, where it has them. Months are those of the middle latitudes; "
        "bloom, and what a plant gives, are common practice of the trade."
    )
    if remembered:
        said += " " + _("From memory of the trade: {plants}.").format(plants=listed(remembered))
    return said


def the_mixes(plan: Plan) -> list[Flowable]:
    """Mixes, plantings and what is spread; empty where there is none of them."""
    planted = plantings(plan)
    sown = [field for field in plan.seed if field.lines]
    if not planted and not sown:
        return []
    story = section(_("What goes into the ground"), 235)
    plots = {plot.field: plot for plot in plan.plots}
    if sown:
        story.append(
            p(
                _(
                    "Seed is bought by the bag, but only pure live seed (PLS) grows: purity times the seed "
                    "that is alive. The last column is what the scale must show for the field, from the "
                    "lots in our price list; a new lot means a new weight."
                )
            )
        )
    for fields in _same_mix(sown, plots):
        story += _mix(fields, plots.get(fields[0].field))
    if sown:
        story.append(p(about_plants(plan), CELL_SMALL))
    return [*story, *planted]
