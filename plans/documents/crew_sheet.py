"""The crew sheet: what to load, then a leaf a field, the work on its front, cautions and record on its back.

It goes out on a tailgate, so no price is ever on it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from reportlab.platypus import Flowable, KeepTogether, Table

from plans.documents.crew_loads import calibration, seed_by_box, shown_amount, supplies, tank_by_load
from plans.documents.field_plan import field_plan, legend
from plans.documents.legend import legend_table
from plans.documents.load_sheet import load_leaf
from plans.documents.look import (
    CELL,
    CELL_SMALL,
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
    rich,
    strong,
    table,
)
from plans.documents.manner import _, in_force, marked
from plans.documents.page import NextSide, Running, build
from plans.documents.told import told
from plans.documents.words import (
    by_label,
    day,
    listed,
    measured,
    number,
    quantity,
    sentence,
    short,
    unique,
    unit,
    upper_first,
    window,
)
from plans.planning import tables
from plans.planning.drawn import DrawnField
from plans.planning.job import Conversion
from plans.planning.loading import LoadingList, box_words
from plans.planning.plan import Plan, Task

SKETCH_HEIGHT = 112.0
TALL_SKETCH_HEIGHT = 290.0
"""Where neither tank nor seed takes the front."""
PLAN_HEIGHT = 130.0
"""Of the field as it is drawn, on a front that also has a tank or seed: no higher than its facts."""
MOST_BESIDE = 300.0
EVERYWHERE = ((marked("Emergency"), "911"), (marked("Poison control"), "1-800-222-1222"))
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
    """PDF of the trip that `load` describes, in the manner in force; the same arguments give the same bytes.

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
            *(flowable for tank in load.tanks if tank.task == task.key for flowable in tank_by_load(tank)),
            *seed_by_box(load, task.field),
            *supplies(load, task.field),
            *calibration(load, task.field),
            NextSide("back"),
            *_cautions(task),
            *_emergency(about),
            *_done(load, task),
        ]
    title = crew_sheet_title(load, day)
    running = Running(
        title=f"{title}: {plan.job.title}",
        author=plan.job.practice.name,
        head_left=plan.job.farm.name,
        head_right=crew_sheet_title(load, short),
        foot=plan.job.practice.name,
        subject=_("Crew sheet"),
    )
    return build(story, running)


def crew_sheet_title(load: LoadingList, day_words: Callable[[date], str]) -> str:
    """What the sheet is called: its work and its day."""
    work = told(load.label).lower()
    if load.on is None:
        return _("Crew sheet, {work}").format(work=work)
    return _("Crew sheet, {work}, {day}").format(work=work, day=day_words(load.on))


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
    rig = (
        _("{machine}: NO, see the first leaf").format(machine=load.rig.machine)
        if refused
        else load.rig.machine
    )
    half = TEXT_WIDTH / 2
    left = _pairs(
        [
            (_("Day"), day(load.on) if load.on else ""),
            (_("Window"), window(task.earliest, task.latest)),
            (_("Meet"), about.meet),
        ],
        wide=half - 14,
        label=50,
    )
    licence = [(_("License"), job.practice.applicator_licence)] if load.tanks else []
    right = _pairs([(_("Crew"), about.crew), (_("Machine"), rig), *licence], wide=half, label=50)
    return [
        p(task.field, H2),
        p(
            _("Crew sheet of {practice} for {farm}, {client}").format(
                practice=job.practice.name, farm=job.farm.name, client=job.client.name
            ),
            SMALL,
        ),
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
    away = sentence(listed(told(because) for because in kept.because))
    if kept.left_acres is not None:
        away += " " + _("{area} are left.").format(area=measured(kept.left_acres, "acre"))
    return [(_("Keep free"), away)]


def _ground_facts(ground: Conversion) -> list[tuple[str, str]]:
    none = _("none entered: look first")
    slope = _("{slope} %").format(slope=number(ground.slope_pct))
    if ground.slope_length_ft:
        slope = _("{slope} %, {length} long").format(
            slope=number(ground.slope_pct), length=quantity(ground.slope_length_ft, "ft")
        )
    water = ground.water_within_ft
    return [
        (_("Area"), f"{measured(ground.acres, 'acre')}, {told(ground.cover)}"),
        (_("Slope"), slope if ground.slope_pct else none),
        (
            _("Water"),
            _("{distance} from the work").format(distance=quantity(water, "ft"))
            if water is not None
            else none,
        ),
        (_("Neighbors"), ground.sensitive_neighbours or none),
        (
            _("Power lines"),
            _("yes: look up before you raise anything") if ground.power_lines else _("none entered: look up"),
        ),
    ]


def _as_drawn(ground: Conversion, task: Task) -> DrawnField | None:
    """The field as it is drawn for this work; None where it has no outline."""
    work = _work_of(task)
    kept = next((one for one in ground.drawn if work and work in one.works), None)
    return kept or next((one for one in ground.drawn if not one.works), None)


def _box_to_draw_in(wide: float, high: float) -> Table:
    return Table(
        [[p(_("Sketch: gates, water, lines, where to fill, where to turn. North up."), CELL_SMALL)]],
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
        [*_kept_free(ground, task), *_ground_facts(ground), (_("Way there"), directions)], wide=left, label=60
    )
    drawn = _as_drawn(ground, task)
    if drawn is None:
        shown: Flowable = _box_to_draw_in(wide, SKETCH_HEIGHT if tight else TALL_SKETCH_HEIGHT)
    else:
        shown = field_plan(drawn, wide=wide, high=PLAN_HEIGHT if tight else TALL_SKETCH_HEIGHT)
    beneath = _legend(drawn) if drawn else []
    notes = [p(_("Notes"), HEAD), *paragraphs(ground.notes, CELL)] if ground.notes.strip() else []
    return [*part(_("The field"), 170), *_beside(facts, shown, left + 14), *beneath, *notes]


def _legend(drawn: DrawnField) -> list[Flowable]:
    """The legend in two columns; the acres left stand in the facts."""
    lines = [line for line in legend(drawn) if not line.total]
    middle, half = (len(lines) + 1) // 2, TEXT_WIDTH / 2
    left, right = (legend_table(some, half - 14) for some in (lines[:middle], lines[middle:]))
    return _beside(left, right, half)


def _work(task: Task) -> list[Flowable]:
    much = [measured(task.acres, "acre")]
    if task.plants:
        much.append(measured(task.plants, "plant"))
    if task.hours:
        hours = measured(float(task.hours.value), "hour", most=1)
        much.append(_("about {hours} in the field").format(hours=hours))
    conditions = sentence(told(task.conditions))
    right = [rich(strong(_("When it is right:") + " "), plain(conditions), style=CELL)]
    return [
        *part(_("The work")),
        rich(
            strong(sentence(told(task.label))),
            plain(f" {sentence(told(task.why))} {', '.join(much)}."),
            style=CELL,
        ),
        *([gap(3), *right] if task.conditions.strip() else []),
    ]


def _cautions(task: Task) -> list[Flowable]:
    step = tables.steps().get(task.step)
    whole = [tables.cautions()[key].text for key in step.cautions] if step else list(task.cautions)
    if not whole:
        return []
    title = _("Take care on {field}").format(field=task.field)
    return [*part(title, 80), *(p(f"• {told(text)}", CELL) for text in whole)]


def _emergency(about: CrewDay) -> list[Flowable]:
    contact = _("Contact")
    given = [(name or contact, said) for name, said in about.contacts] or [(contact, ""), (contact, "")]
    half = TEXT_WIDTH / 2
    everywhere = [(_(who), called) for who, called in EVERYWHERE]
    left = _pairs([*everywhere, (_("Nearest hospital"), about.hospital)], wide=half - 14, label=84)
    right = _pairs(given, wide=half, label=84)
    return [KeepTogether([p(_("Emergency"), H3), *_beside(left, right, half)])]


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
        (told(one.name), by_label(one.total.value, one.total.unit))
        for tank in load.tanks
        if tank.task == task.key
        for one in tank.parts
    ]
    for rate in load.boxes:
        if rate.field == task.field:
            inside = [one for one in load.weights if (one.field, one.box) == (rate.field, rate.box)]
            sown = listed(unique(told(one.species) for one in inside))
            pounds = ""
            if rate.bulk_lb:
                pounds = _("{weight} bulk").format(weight=quantity(float(rate.bulk_lb.value), "lb"))
            found.append((f"{upper_first(told(box_words(rate.box)))}: {sown}", pounds))
    for section in load.sections:
        if section.key == "materials":
            found += [
                (told(line.what), shown_amount(line.amount))
                for line in section.lines
                if line.where == task.field
            ]
    return found


def _done(load: LoadingList, task: Task) -> list[Flowable]:
    wind, air = _("Wind, {unit} and from").format(unit=unit("mph")), _("Air, {unit}").format(unit=unit("°F"))
    heads = ["", _("Time"), wind, air, _("Humidity, %"), _("Sky")]
    ends = (_("Start"), _("End"))
    weather = [[p(name, HEAD) for name in heads], *([p(name, CELL), *[""] * 5] for name in ends)]
    area = _("Hectares done") if in_force().metric else _("Acres done")
    asked = (_("Date"), area, _("Done by"), _("Stopped, and why"))
    planned = _planned(load, task)
    amounts = [
        KeepTogether(
            _grid(
                [
                    [p(name, HEAD) for name in (_("Amounts"), _("Planned"), _("Used"))],
                    *([p(name, CELL), p(much, CELL), ""] for name, much in planned),
                ],
                [248, 100, 120],
                height=None,
            )
        )
    ]
    return [
        *part(_("What was done"), 190),
        _grid(
            [[p(name, HEAD) for name in asked], [""] * 4],
            [92, 70, 130, 176],
        ),
        _grid(weather, [42, 62, 128, 62, 76, 98]),
        *(amounts if planned else []),
        KeepTogether(
            [
                p(_("Remarks, and what is left to do"), HEAD),
                _ruled(3),
                gap(4),
                _pairs([(_("Signed"), "")], label=40),
            ]
        ),
    ]
