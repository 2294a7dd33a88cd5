"""What you have: the fields as they are, as they were walked and as they lie, and what stays away."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import CondPageBreak, Flowable, Table

from plans.documents.field_plan import field_plan, legend
from plans.documents.fonts import SANS
from plans.documents.legend import legend_table
from plans.documents.look import (
    BODY,
    CELL,
    CELL_BOLD,
    H3,
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
from plans.documents.manner import _, several
from plans.documents.told import told
from plans.documents.words import area_head, converted, day, listed, measured, number, quantity, upper_first
from plans.planning.away import ground_left
from plans.planning.beside import Beside
from plans.planning.job import Conversion
from plans.planning.plan import Plan
from plans.planning.walked import Walk

THATCH = {"light": "{cover}, light thatch", "heavy": "{cover}, heavy thatch"}
ABUNDANCE = {
    "few": "a few {what}",
    "patches": "{what} in patches",
    "throughout": "{what} throughout",
}


def _mix_name(conversion: Conversion) -> str:
    if conversion.trees is not None:
        return listed(told(line.species) for line in conversion.trees.lines)
    return conversion.mix.name if conversion.mix else ""


def _grows(conversion: Conversion) -> str:
    cover = upper_first(told(conversion.cover))
    parts = [plain(told(THATCH.get(conversion.thatch, "{cover}")).format(cover=cover))]
    if conversion.weeds.strip():
        parts.append(quiet("\n" + _("Weeds: {weeds}").format(weeds=conversion.weeds)))
    if conversion.woody_plants.strip():
        parts.append(quiet("\n" + _("Woody: {plants}").format(plants=conversion.woody_plants)))
    return "".join(parts)


def _slope(conversion: Conversion) -> str:
    if not conversion.slope_pct:
        return _("level")
    slope = number(conversion.slope_pct, 1)
    if not conversion.slope_length_ft:
        return _("{slope} %").format(slope=slope)
    length = quantity(conversion.slope_length_ft, "ft", 0)
    return _("{slope} %, {length} long").format(slope=slope, length=length)


def _watch(conversion: Conversion) -> list[str]:
    said = []
    if conversion.water_within_ft is not None:
        said.append(
            _("Water within {distance}.").format(distance=quantity(conversion.water_within_ft, "ft", 0))
        )
    if conversion.sensitive_neighbours.strip():
        text = conversion.sensitive_neighbours.strip().rstrip(".")
        said.append(_("Sensitive neighbors: {neighbors}.").format(neighbors=text))
    if conversion.power_lines:
        said.append(_("Power lines over or beside the field."))
    return said


def _walked(walk: Walk) -> str:
    """The walk-over in one sentence."""
    found = [
        _("{what} on {share} % of the ground").format(what=cover.what, share=number(cover.share_pct, 0))
        for cover in sorted(walk.covers, key=lambda cover: -cover.share_pct)
    ]
    if walk.bare_pct:
        found.append(_("bare ground on {share} %").format(share=number(walk.bare_pct, 0)))
    found += [told(ABUNDANCE[weed.abundance]).format(what=weed.what) for weed in walk.weeds]
    stems = sum(row.stems_per_acre for row in walk.woody)
    if stems:
        kinds = listed(dict.fromkeys(row.what for row in walk.woody))
        found.append(
            _("woody: {stems} of {kinds}").format(stems=quantity(stems, "stems/acre", 0), kinds=kinds)
        )
    if walk.thatch_in is not None:
        found.append(_("thatch {depth} deep").format(depth=quantity(walk.thatch_in, "in", 1)))
    if not found:
        return _("Walked on {day}.").format(day=day(walk.on))
    return _("Walked on {day}: {found}.").format(day=day(walk.on), found="; ".join(found))


def _found(conversions: Sequence[Conversion], beside: Beside) -> list[Flowable]:
    """Field by field what was seen on foot and what lies near."""
    walks = {one.field: one.walk for one in beside.walks}
    story: list[Flowable] = []
    for conversion in conversions:
        walk = walks.get(conversion.field)
        said = [*([_walked(walk)] if walk else []), *_watch(conversion)]
        if said:
            story.append(rich(strong(f"{conversion.field}. "), plain(" ".join(said)), style=BODY))
    return story


def _kept_free(conversions: Sequence[Conversion]) -> list[Flowable]:
    """Which work goes over how many acres, where some ground of a field is kept free."""
    found = [(conversion.field, ground_left(conversion)) for conversion in conversions]
    told_on_a_map = {conversion.field for conversion in conversions if conversion.drawn}
    said = [
        rich(strong(f"{field}. "), plain(" ".join(ground.words for ground in grounds)), style=BODY)
        for field, grounds in found
        if grounds and field not in told_on_a_map
    ]
    words = _(
        "Where ground is kept free, seed, product and price are for the acres that are left; the others stay "
        "as they are."
    )
    if not any(grounds for _field, grounds in found):
        return []
    return [*(part(_("What stays away"), 60) if said else []), *said, p(words)]


MAP_HIGH, GAP = 150.0, 16.0
ALONE_HIGH = 170.0
LEGEND_LINE = 15.0
"""Of a legend, with some that take two [pt]."""


def _facts(conversion: Conversion, wide: float) -> list[Flowable]:
    return [
        p(f"{measured(conversion.acres, 'acre')}, {_slope(conversion)}", CELL_BOLD),
        rich(_grows(conversion), style=CELL),
        gap(3),
        legend_table(legend(conversion.drawn[0]), wide),
    ]


def _side_by_side(cells: Sequence[object], widths: Sequence[float]) -> Table:
    bare = [(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP")]
    style = [*bare, ("FONT", (0, 0), (-1, -1), SANS), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    return Table([list(cells)], colWidths=list(widths), style=style, hAlign="LEFT", splitInRow=1)


def _as_drawn(conversions: Sequence[Conversion]) -> list[Flowable]:
    """Fields to scale, for work that keeps away from most: two and two, the one over beside its facts."""
    drawn = [conversion for conversion in conversions if conversion.drawn]
    half = (TEXT_WIDTH - GAP) / 2
    title = _("{field} as it lies")
    story: list[Flowable] = []
    for pair in zip(drawn[::2], drawn[1::2], strict=False):
        left, right = (
            [
                p(title.format(field=one.field), H3),
                field_plan(one.drawn[0], wide=half, high=MAP_HIGH),
                gap(4),
                legend_table(legend(one.drawn[0]), half),
            ]
            for one in pair
        )
        longest = max(len(legend(one.drawn[0])) for one in pair)
        story += [
            CondPageBreak(MAP_HIGH + 32 + LEGEND_LINE * longest),
            _side_by_side([left, "", right], [half, GAP, half]),
        ]
    if len(drawn) % 2:
        last = drawn[-1]
        wide = TEXT_WIDTH - half - 40 - GAP
        cells = [field_plan(last.drawn[0], wide=half + 40, high=ALONE_HIGH), _facts(last, wide)]
        story += [
            *part(title.format(field=last.field), ALONE_HIGH + 40),
            _side_by_side(cells, [half + 40 + GAP, wide]),
        ]
    return story


def _notes(conversion: Conversion) -> list[Flowable]:
    """As typed, a paragraph a line, the first of them behind the name of the field."""
    lines = [line for line in conversion.notes.splitlines() if line.strip()]
    if not lines:
        return []
    title = _("Notes on {field}").format(field=conversion.field)
    first = rich(strong(f"{title}. "), plain(lines[0]), style=BODY)
    return [first, *paragraphs("\n".join(lines[1:]))]


def the_fields(plan: Plan, beside: Beside) -> list[Flowable]:
    conversions = plan.job.conversions
    rows: list[list[object]] = [
        [
            p(conversion.field, CELL_BOLD),
            number(converted(conversion.acres, "acre")),
            p(_slope(conversion), CELL),
            rich(_grows(conversion), style=CELL),
            rich(
                plain(upper_first(told(conversion.purpose))),
                quiet(f"\n{_mix_name(conversion)}"),
                style=CELL,
            ),
        ]
        for conversion in conversions
    ]
    if len(conversions) > 1:
        acres = number(converted(sum(conversion.acres for conversion in conversions), "acre"))
        together = several("{number} field", "{number} fields", len(conversions))
        rows.append([p(together.format(number=len(conversions)), CELL_BOLD), acres, "", "", ""])
    story = [
        *section(_("What you have")),
        table(
            [
                _("Field"),
                area_head(),
                _("Slope"),
                _("What grows there"),
                _("What it becomes"),
            ],
            rows,
            [92, 44, 66, 134, 132],
            numbers={1},
            tight=True,
            totals=1 if len(conversions) > 1 else 0,
        ),
        *_as_drawn(conversions),
        *_found(conversions, beside),
        *_kept_free(conversions),
    ]
    for conversion in conversions:
        story += _notes(conversion)
    return story
