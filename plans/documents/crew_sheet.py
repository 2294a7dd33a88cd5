"""The crew sheet: what to load, then a leaf a field, the work on its front, cautions and record on its back.

It goes out on a tailgate, so no price is ever on it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reportlab.platypus import Flowable, KeepTogether, Paragraph, Table

from plans.documents.field_plan import field_plan, legend
from plans.documents.legend import legend_table
from plans.documents.load_sheet import load_leaf
from plans.documents.look import (
    CELL,
    CELL_BOLD,
    CELL_SMALL,
    FINE,
    H2,
    H3,
    HEAD,
    INK,
    SMALL,
    TEXT_WIDTH,
    gap,
    p,
    paragraphs,
    part,
    plain,
    quiet,
    rich,
    strong,
    table,
)
from plans.documents.page import NextSide, Running, build
from plans.documents.words import day, listed, measured, number, sentence, unique, upper_first, window
from plans.planning import tables
from plans.planning.drawn import DrawnField
from plans.planning.figures import Figure
from plans.planning.figures import plain as amount_words
from plans.planning.job import Conversion
from plans.planning.loading import SMALL_UNITS, LoadingList, SeedWeight, box_words
from plans.planning.plan import Plan, TankMix, Task

MOST_LOADS = 8
"""Of more loads than this the full ones share a row."""
SKETCH_HEIGHT = 112.0
TALL_SKETCH_HEIGHT = 290.0
"""Where neither tank nor seed takes the front."""
PLAN_HEIGHT = 130.0
"""Of the field as it is drawn, on a front that also has a tank or seed: no higher than its facts."""
MOST_BESIDE = 300.0
EVERYWHERE = (("Emergency", "911"), ("Poison control", "1-800-222-1222"))
"""Numbers that hold in all of the United States: common knowledge."""
BARE = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
]
LINE = ("LINEBELOW", (0, 0), (-1, -1), 0.5, INK)


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewDay:
    """What is printed as entered; what is empty becomes a line to fill in."""

    crew: str = ""
    meet: str = ""
    """When and where."""
    contacts: tuple[tuple[str, str], ...] = ()
    """Who and the number."""
    hospital: str = ""
    directions: Mapping[str, str] | None = None
    """By field; the farm's place where there are none."""


def crew_sheet_pdf(plan: Plan, load: LoadingList, about: CrewDay | None = None) -> bytes:
    """Letter-size PDF of the trip that `load` describes; the same arguments give the same bytes.

    First a leaf with what is loaded; each field then starts on a fresh leaf, for printing on both sides.
    """
    about = about or CrewDay()
    story: list[Flowable] = load_leaf(plan, load)
    for task in load.tasks:
        ground = next(one for one in plan.job.conversions if one.field == task.field)
        story += [
            NextSide("front"),
            *_opening(plan, load, task, about),
            *_ground(plan, load, ground, task, about),
            *_work(task),
            *(flowable for tank in load.tanks if tank.task == task.key for flowable in _tank(tank)),
            *_seed(load, task.field),
            *_materials(load, task.field),
            *_settings(load, task.field),
            NextSide("back"),
            *_cautions(task),
            *_emergency(about),
            *_done(load, task),
        ]
    when = f", {day(load.on)}" if load.on else ""
    title = f"Crew sheet, {load.label.lower()}{when}"
    running = Running(
        title=f"{title}: {plan.job.title}",
        author=plan.job.practice.name,
        head_left=plan.job.farm.name,
        head_right=title,
        foot=plan.job.practice.name,
        subject="Crew sheet",
    )
    return build(story, running)


def _ruled(lines: int, height: float = 19.0) -> Table:
    """Lines to write on."""
    return Table(
        [[""]] * lines, colWidths=[TEXT_WIDTH], rowHeights=[height] * lines, style=[LINE], hAlign="LEFT"
    )


def _pairs(rows: Sequence[tuple[str, str]], wide: float = TEXT_WIDTH, label: float = 84.0) -> Table:
    """Labels with what was entered; what is empty is a line to fill in."""
    empty = [place for place, (_, said) in enumerate(rows) if not said.strip()]
    return table(
        (),
        [[p(name, HEAD), p(said, CELL)] for name, said in rows],
        [label, wide - label],
        ruled=False,
        tight=True,
        extra=[
            ("TOPPADDING", (0, 0), (0, -1), 3),
            *[("LINEBELOW", (1, place), (1, place), 0.5, INK) for place in empty],
            *[("TOPPADDING", (1, place), (1, place), 6) for place in empty],
            *[("TOPPADDING", (0, place), (0, place), 8) for place in empty],
        ],
    )


def _beside(left: Flowable, right: Flowable, wide: float) -> list[Flowable]:
    """Two flowables beside each other, the left one `wide` [pt]; below each other where one is long."""
    if max(left.wrap(wide, MOST_BESIDE)[1], right.wrap(TEXT_WIDTH - wide, MOST_BESIDE)[1]) > MOST_BESIDE:
        return [left, right]
    return [
        Table(
            [[left, right]],
            colWidths=[wide, TEXT_WIDTH - wide],
            style=BARE,
            hAlign="LEFT",
        )
    ]


def _opening(plan: Plan, load: LoadingList, task: Task, about: CrewDay) -> list[Flowable]:
    job = plan.job
    refused = any(task.field in one.fields and one.check.verdict == "no" for one in load.rig.checks)
    rig = f"{load.rig.machine}{': NO, see the first leaf' if refused else ''}"
    half = TEXT_WIDTH / 2
    left = _pairs(
        [
            ("Day", day(load.on) if load.on else ""),
            ("Window", window(task.earliest, task.latest)),
            ("Meet", about.meet),
        ],
        wide=half - 14,
        label=50,
    )
    licence = [("License", job.practice.applicator_licence)] if load.tanks else []
    right = _pairs([("Crew", about.crew), ("Machine", rig), *licence], wide=half, label=50)
    return [
        p(task.field, H2),
        p(f"Crew sheet of {job.practice.name} for {job.farm.name}, {job.client.name}", SMALL),
        *_beside(left, right, half),
    ]


def _work_of(task: Task) -> str:
    """The kind of work whose exclusions a task keeps; empty where it goes over the whole field."""
    return tables.operations()[task.operation].work if task.operation in tables.operations() else ""


def _kept_free(ground: Conversion, task: Task) -> list[tuple[str, str]]:
    """What this work stays away from; nothing where it goes over the whole field."""
    kept = next((kept for kept in ground.kept_away if kept.work == _work_of(task)), None)
    if kept is None:
        return []
    left = f" {measured(kept.left_acres, 'acre')} are left." if kept.left_acres is not None else ""
    return [("Keep free", f"{sentence(listed(list(kept.because)))}{left}")]


def _ground_facts(ground: Conversion) -> list[tuple[str, str]]:
    steep = f", {number(ground.slope_length_ft)} ft long" if ground.slope_length_ft else ""
    water = ground.water_within_ft
    return [
        ("Area", f"{measured(ground.acres, 'acre')}, {ground.cover}"),
        ("Slope", f"{number(ground.slope_pct)} %{steep}" if ground.slope_pct else "none entered: look first"),
        ("Water", f"{number(water)} ft from the work" if water is not None else "none entered: look first"),
        ("Neighbors", ground.sensitive_neighbours or "none entered: look first"),
        (
            "Power lines",
            "yes: look up before you raise anything" if ground.power_lines else "none entered: look up",
        ),
    ]


def _as_drawn(ground: Conversion, task: Task) -> DrawnField | None:
    """The field as it is drawn for this work; None where it has no outline."""
    work = _work_of(task)
    kept = next((one for one in ground.drawn if work and work in one.works), None)
    return kept or next((one for one in ground.drawn if not one.works), None)


def _box_to_draw_in(wide: float, high: float) -> Table:
    return Table(
        [[p("Sketch: gates, water, lines, where to fill, where to turn. North up.", CELL_SMALL)]],
        colWidths=[wide],
        rowHeights=[high],
        style=[("BOX", (0, 0), (-1, -1), 0.8, INK), ("VALIGN", (0, 0), (-1, -1), "TOP")],
    )


def _ground(plan: Plan, load: LoadingList, ground: Conversion, task: Task, about: CrewDay) -> list[Flowable]:
    left = 226.0
    wide = TEXT_WIDTH - left - 14
    tight = bool(load.tanks or load.boxes)
    directions = (about.directions or {}).get(ground.field) or plan.job.farm.place
    facts = _pairs(
        [*_kept_free(ground, task), *_ground_facts(ground), ("Way there", directions)], wide=left, label=60
    )
    drawn = _as_drawn(ground, task)
    if drawn is None:
        shown: Flowable = _box_to_draw_in(wide, SKETCH_HEIGHT if tight else TALL_SKETCH_HEIGHT)
    else:
        shown = field_plan(drawn, wide=wide, high=PLAN_HEIGHT if tight else TALL_SKETCH_HEIGHT)
    told = _told(drawn) if drawn else []
    notes = [p("Notes", HEAD), *paragraphs(ground.notes, CELL)] if ground.notes.strip() else []
    return [*part("The field", 170), *_beside(facts, shown, left + 14), *told, *notes]


def _told(drawn: DrawnField) -> list[Flowable]:
    """The legend in two columns; the acres left stand in the facts."""
    lines = [line for line in legend(drawn) if not line.total]
    middle, half = (len(lines) + 1) // 2, TEXT_WIDTH / 2
    left, right = (legend_table(some, half - 14) for some in (lines[:middle], lines[middle:]))
    return _beside(left, right, half)


def _work(task: Task) -> list[Flowable]:
    hours = f", about {measured(float(task.hours.value), 'hour', most=1)} in the field" if task.hours else ""
    plants = f", {measured(task.plants, 'plant')}" if task.plants else ""
    amount = f"{measured(task.acres, 'acre')}{plants}{hours}."
    right = [rich(strong("When it is right: "), plain(sentence(task.conditions)), style=CELL)]
    return [
        *part("The work"),
        rich(strong(sentence(task.label)), plain(f" {sentence(task.why)} {amount}"), style=CELL),
        *([gap(3), *right] if task.conditions.strip() else []),
    ]


def _measure(figure: Figure) -> Paragraph:
    """An amount, and below it as gallons and ounces, or pounds and ounces, where it is that much."""
    per_large, large = SMALL_UNITS.get(figure.unit, (0, ""))
    value = float(figure.value)
    shown = plain(f"{number(value, 1)} {figure.unit}")
    if per_large and value >= per_large:
        whole, rest = divmod(round(value, 1), per_large)
        small = f" {number(rest, 1)} {figure.unit}" if round(rest, 1) else ""
        shown += quiet(f"\n{number(whole)} {large}{small}")
    return rich(shown, style=CELL)


def _load_rows(tank: TankMix) -> list[tuple[str, float, float, bool]]:
    """Each load: its name, gallons, acres and whether it is a full one."""
    acres = float(tank.acres_per_tank.value)
    last = float(tank.last_load_gal.value)
    rows = []
    if tank.full_loads + bool(last) > MOST_LOADS:
        rows.append((f"1–{tank.full_loads}, each", tank.tank_gal, acres, True))
    else:
        rows += [(str(n), tank.tank_gal, acres, True) for n in range(1, tank.full_loads + 1)]
    if last:
        rows.append((str(tank.full_loads + 1), last, tank.last_load_acres, False))
    return rows


def _tank(tank: TankMix) -> list[Flowable]:
    names = [tank_part.name for tank_part in tank.parts]
    rows: list[list[object]] = []
    for name, gallons, acres, full in _load_rows(tank):
        amounts = [_measure(one.per_full_tank if full else one.in_last_load) for one in tank.parts]
        rows.append(
            [p(name, CELL_BOLD), p(number(gallons, 1), CELL), p(number(acres, 2), CELL), *amounts, ""]
        )
    whole = [p(one.total.shown, CELL_BOLD) for one in tank.parts]
    rows.append(
        [
            p("all", CELL_BOLD),
            p(number(float(tank.carrier_gal.value), 1), CELL_BOLD),
            p(number(tank.acres), CELL_BOLD),
            *whole,
            "",
        ]
    )
    room = TEXT_WIDTH - 64 - 44 - 44 - 62
    widths = [64, 44, 44, *([room / max(len(names), 1)] * len(names)), 62]
    rates = "; ".join(f"{one.name} {one.rate.shown}" for one in tank.parts)
    carrier = amount_words(tank.carrier_gal_per_acre, "gal/acre")
    fill = [p(f"{at}. {sentence(step)}", CELL) for at, step in enumerate(tank.order, start=1)]
    after = [p(said, FINE) for said in (tank.jar_test, tank.leftover) if said]
    return [
        *part("Tank, load by load", 150),
        p(f"{sentence(f'{carrier} of spray: {rates}')} The label goes before this table.", CELL),
        table(["Load", "Gallons", "Acres", *names, "Filled at"], rows, widths, totals=1, tight=len(rows) > 4),
        *([KeepTogether([p("How to fill", CELL_BOLD), *fill, gap(3), *after])] if fill or after else []),
    ]


def _pounds(figure: Figure) -> str:
    return f"{float(figure.value):,.2f}"


def _weight_row(one: SeedWeight) -> list[object]:
    bulk = _pounds(one.bulk_lb) if one.bulk_lb else "no lot yet"
    return [p(one.species, CELL), p(one.lot, CELL), _pounds(one.pls_lb), bulk, ""]


def _seed(load: LoadingList, field: str) -> list[Flowable]:
    boxes = [rate for rate in load.boxes if rate.field == field]
    if not boxes:
        return []
    rows: list[list[object]] = []
    heads: list[tuple] = []
    for rate in boxes:
        inside = [one for one in load.weights if (one.field, one.box) == (field, rate.box)]
        row = len(rows) + 1
        rows.append([p(upper_first(box_words(rate.box)), CELL_BOLD), "", "", "", ""])
        heads.append(("NOSPLIT", (0, row), (-1, row + 1)))
        rows += [_weight_row(one) for one in inside]
        if rate.bulk_lb is not None and len(inside) > 1:
            rows.append([p("together", CELL), "", "", _pounds(rate.bulk_lb), ""])
        if rate.carrier_lb is not None:
            carrier = (load.rig.drill and load.rig.drill.carrier) or "carrier"
            rows.append([p(f"{carrier}, mixed in", CELL), "", "", _pounds(rate.carrier_lb), ""])
    return [
        *part("Seed by box", 120),
        p("Weigh bulk pounds; each lot has its own. Keep the tags.", CELL),
        table(
            ["Species", "Lot", "PLS lb", "Bulk lb", "Weighed"],
            rows,
            [158, 100, 62, 70, 78],
            numbers=(2, 3),
            extra=heads,
            tight=True,
        ),
    ]


def _materials(load: LoadingList, field: str) -> list[Flowable]:
    rows = [
        [p(line.what, CELL), p(line.amount.shown if line.amount else "", CELL_BOLD), ""]
        for section in load.sections
        if section.key == "materials"
        for line in section.lines
        if line.where == field
    ]
    if not rows:
        return []
    return [*part("Plants and supplies", 110), table(["What", "How many", "Loaded"], rows, [258, 120, 90])]


def _settings(load: LoadingList, field: str) -> list[Flowable]:
    lines = [line for section in load.sections if section.key == "calibration" for line in section.lines]
    here = [line for line in lines if not line.where or line.where.startswith(f"{field}, ")]
    if not here:
        return []
    rows: list[list[object]] = []
    for line in here:
        where = line.where.removeprefix(f"{field}, ")
        what = f"{where}: {line.what}" if where else line.what
        amount = line.amount.shown if line.amount else ""
        rows.append([p(upper_first(what), CELL), p(amount, CELL_BOLD), p(line.note, CELL), ""])
    head = ["Setting", "Should be", "", "Is"]
    return [*part("Calibration", 110), table(head, rows, [162, 90, 160, 56], tight=True)]


def _cautions(task: Task) -> list[Flowable]:
    step = tables.steps().get(task.step)
    whole = [tables.cautions()[key].text for key in step.cautions] if step else list(task.cautions)
    if not whole:
        return []
    return [*part(f"Take care on {task.field}", 80), *(p(f"• {text}", CELL) for text in whole)]


def _emergency(about: CrewDay) -> list[Flowable]:
    given = [(name or "Contact", said) for name, said in about.contacts] or [("Contact", ""), ("Contact", "")]
    half = TEXT_WIDTH / 2
    left = _pairs([*EVERYWHERE, ("Nearest hospital", about.hospital)], wide=half - 14, label=84)
    right = _pairs(given, wide=half, label=84)
    return [KeepTogether([p("Emergency", H3), *_beside(left, right, half)])]


def _grid(rows: Sequence[Sequence[object]], widths: Sequence[float], height: float | None = 20.0) -> Table:
    """A form to write in."""
    return Table(
        [list(row) for row in rows],
        colWidths=list(widths),
        rowHeights=[None, *([height] * (len(rows) - 1))],
        style=[
            ("GRID", (0, 0), (-1, -1), 0.5, INK),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
        ],
        hAlign="LEFT",
        spaceAfter=6,
        repeatRows=1,
        splitInRow=1,
    )


def _planned(load: LoadingList, task: Task) -> list[tuple[str, str]]:
    """What is used, and how much of it is planned."""
    found = [
        (one.name, one.total.shown) for tank in load.tanks if tank.task == task.key for one in tank.parts
    ]
    for rate in load.boxes:
        if rate.field == task.field:
            inside = [one for one in load.weights if (one.field, one.box) == (rate.field, rate.box)]
            sown = listed(unique(one.species for one in inside))
            pounds = f"{number(float(rate.bulk_lb.value))} lb bulk" if rate.bulk_lb else ""
            found.append((f"{upper_first(box_words(rate.box))}: {sown}", pounds))
    for section in load.sections:
        if section.key == "materials":
            found += [
                (line.what, line.amount.shown if line.amount else "")
                for line in section.lines
                if line.where == task.field
            ]
    return found


def _done(load: LoadingList, task: Task) -> list[Flowable]:
    heads = ["", "Time", "Wind, mph and from", "Air, °F", "Humidity, %", "Sky"]
    weather = [[p(name, HEAD) for name in heads], *([p(name, CELL), *[""] * 5] for name in ("Start", "End"))]
    planned = _planned(load, task)
    amounts = [
        KeepTogether(
            _grid(
                [
                    [p(name, HEAD) for name in ("Amounts", "Planned", "Used")],
                    *([p(name, CELL), p(much, CELL), ""] for name, much in planned),
                ],
                [248, 100, 120],
                height=None,
            )
        )
    ]
    return [
        *part("What was done", 190),
        _grid(
            [[p(name, HEAD) for name in ("Date", "Acres done", "Done by", "Stopped, and why")], [""] * 4],
            [92, 70, 130, 176],
        ),
        _grid(weather, [42, 62, 128, 62, 76, 98]),
        *(amounts if planned else []),
        KeepTogether(
            [
                p("Remarks, and what is left to do", HEAD),
                _ruled(3),
                gap(4),
                _pairs([("Signed", "")], label=40),
            ]
        ),
    ]
