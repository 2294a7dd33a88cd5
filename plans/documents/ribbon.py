"""The season ribbon: growth of old sod and new grass, the freezes, each task's window where it belongs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from reportlab.graphics.shapes import Drawing, Group, Polygon, PolyLine
from reportlab.lib.colors import Color

from plans.documents.data_table import DataTable
from plans.documents.fonts import SANS, SERIF_BOLD, width
from plans.documents.look import GREEN, INK, QUIET, RULE, STRAW, STRAW_DARK, STRAW_WASH, TEXT_WIDTH
from plans.documents.manner import _
from plans.documents.marks import BAR, Axis, Bar, draw_bar, next_month, rule, same_windows, stack, words
from plans.documents.reasons import SUMMER_GROWERS, Growth, Reason, day_of_year, growth_in
from plans.documents.told import told
from plans.documents.words import (
    fields_of,
    listed,
    lower_first,
    month_day,
    months,
    quantity,
    short,
    unique,
    upper_first,
    when,
)
from plans.planning import tables
from plans.planning.calendar import SOWING
from plans.planning.observed import day_in, moves
from plans.planning.plan import Moment, Plan, Task

CURVE = 72.0
MONTH_ROOM = 20.0
LANE = 12.0
SIZE = 7.5
MOST_LANES = 26
Point = tuple[float, float]
FIXED = frozenset({"last_freeze", "first_freeze"})
"""Moments that the ribbon names in words already."""


def span(tasks: Sequence[Task], first_year: int) -> tuple[date, date]:
    """First and last day shown: the pair of years, less the empty months before and after the work."""
    start, end = date(first_year, 1, 1), date(first_year + 1, 12, 31)
    inside = [task for task in tasks if start <= task.earliest <= end]
    if inside:
        start = max(start, next_month(inside[0].earliest, -1))
        latest = max(next_month(start, 11), *(task.latest for task in inside))
        end = min(end, next_month(latest, 2) - timedelta(days=1))
    return start, end


def season_ribbon(plan: Plan, first_year: int | None = None, *, wide: float = TEXT_WIDTH) -> Drawing:
    """The ribbon over `first_year` and the year after, `wide` pt across.

    By default the second of the two is the year in which the first field is seeded.
    """
    if first_year is None:
        first_year = _before_seeding(plan)
    axis = Axis(*span(plan.tasks, first_year), 0.0, wide)
    shown = [task for task in plan.tasks if task.earliest <= axis.last and task.latest >= axis.first]
    bars = stack([axis.bar(first, last, text, phase, SIZE) for text, phase, first, last in _windows(shown)])
    lanes = min(max((bar.lane for bar in bars), default=-1) + 1, MOST_LANES)
    bars = [bar for bar in bars if bar.lane < lanes]
    base = lanes * LANE + MONTH_ROOM
    drawing, group = Drawing(wide, round(base + CURVE + 30)), Group()
    drawing.add(group)
    _months(group, axis, base)
    old, new = _curves(group, plan, axis, base)
    freezes = _freezes(group, plan, axis, base, drawing.height, bars, lanes)
    _moments(group, plan, axis, base)
    taken: list[tuple[float, float, float]] = []
    _name_curve(group, old_growth(plan), old, STRAW_DARK, axis, freezes, taken)
    _name_curve(group, _("new grass"), new, GREEN, axis, freezes, taken)
    for bar in bars:
        draw_bar(group, bar, _lane_top(base, bar.lane) - (LANE + BAR) / 2, SIZE)
    return drawing


def _before_seeding(plan: Plan) -> int:
    sown = [task.latest.year - 1 for task in plan.tasks if task.operation in SOWING]
    return min(sown or [task.earliest.year for task in plan.tasks[:1]], default=plan.today.year)


def _windows(tasks: Sequence[Task]) -> list[tuple[str, str, date, date]]:
    """(words, phase, first, last): one for fields that share a window; one per step when that is too many."""
    everywhere = {task.field for task in tasks}
    groups = same_windows(tasks)
    if len(groups) > MOST_LANES:
        steps: dict[tuple[str, int], list[Task]] = {}
        for task in tasks:
            steps.setdefault((task.label, task.season), []).append(task)
        groups = list(steps.values())
    made = []
    for group in groups:
        fields = {task.field for task in group}
        text = label = told(group[0].label)
        if fields != everywhere and len(fields) <= 3:
            text = _("{step}: {fields}").format(step=label, fields=fields_of(group))
        first = min(task.done_on or task.earliest for task in group)
        last = max(task.done_on or task.latest for task in group)
        made.append((text, group[0].phase, first, last))
    return made


def _lane_top(base: float, lane: int) -> float:
    return base - MONTH_ROOM - lane * LANE


def _months(group: Group, axis: Axis, base: float) -> None:
    starts = axis.months()
    named = months("abbreviated" if (axis.right - axis.left) / len(starts) >= 19 else "narrow")
    for first in starts:
        at = axis.at(first)
        rule(group, at, 0, at, base + CURVE, RULE, 0.4)
        words(group, at + 2, base - 9, named[first.month - 1], size=7, colour=QUIET)
        if first.month == 1 or first == axis.first:
            words(group, at + 2, base - 17, str(first.year), font=SERIF_BOLD, size=7)
    rule(group, axis.right, 0, axis.right, base + CURVE, RULE, 0.4)


def _freezes(
    group: Group, plan: Plan, axis: Axis, base: float, top: float, bars: Sequence[Bar], lanes: int
) -> list[float]:
    """Dashed lines with their dates, broken where a task's words stand; returns where they are."""
    climate = plan.job.climate
    moved = moves(climate)
    seen = {(move.because.moment, move.because.on) for move in moved.values()}
    named = ((_("last spring freeze"), "last_freeze"), (_("first fall freeze"), "first_freeze"))
    marks = [
        (key, day_in(climate, key, year), name)
        for year in range(axis.first.year, axis.last.year + 1)
        for name, key in named
    ]
    freezes = {key for __, key in named}
    marks += [
        (key, on, lower_first(told(tables.moment_rules()[key].label)))
        for key, on in seen
        if key not in freezes
    ]
    days = sorted(
        (on, _("{moment}, seen").format(moment=name) if (key, on) in seen else name)
        for key, on, name in marks
    )
    found: list[float] = []
    free_from = [0.0, 0.0]
    for on, name in days:
        if not axis.first <= on <= axis.last:
            continue
        at = axis.at(on)
        found.append(at)
        text = _("{moment} {day}").format(moment=name, day=short(on, year=False))
        room = width(text, SANS, 7)
        left = min(max(at - room / 2, axis.left), axis.right - room)
        row = next((i for i, free in enumerate(free_from) if left >= free), None)
        ceiling = top - 21
        if row is not None:
            free_from[row] = left + room + 6
            words(group, left, top - 8 - row * 9, text, size=7, colour=QUIET)
            ceiling = top - 10 - row * 9
        _dashed(group, at, base, ceiling)
        for lane in range(lanes):
            if all(bar.lane != lane or not bar.text_left - 1 < at < bar.text_right + 1 for bar in bars):
                _dashed(group, at, _lane_top(base, lane + 1), _lane_top(base, lane))
    return found


def numbered_moments(plan: Plan) -> tuple[tuple[int, Moment], ...]:
    """The moments that open and shut this plan's windows, numbered in the order of the year."""
    steps = tables.steps()
    keys = {key for task in plan.tasks for key in (steps[task.step].opens, steps[task.step].closes)}
    used = [moment for moment in plan.season.moments if moment.key in keys - FIXED]
    return tuple(enumerate(sorted(used, key=lambda moment: moment.day), start=1))


def _moments(group: Group, plan: Plan, axis: Axis, base: float) -> None:
    """A number just over the base line where each moment falls; those too close to read climb."""
    years = range(axis.first.year, axis.last.year + 1)
    climate = plan.job.climate
    placed = sorted(
        (axis.at(on), number)
        for number, moment in numbered_moments(plan)
        for year in years
        if axis.first <= (on := day_in(climate, moment.key, year)) <= axis.last
    )
    tops: list[tuple[float, float]] = []
    for at, number in placed:
        rise = 3.0
        while any(abs(at - other) < 8 and abs(rise - high) < 7 for other, high in tops):
            rise += 7
        tops.append((at, rise))
        rule(group, at, base, at, base + rise - 0.5, INK, 0.5)
        words(group, at - width(str(number), SANS, 6) / 2, base + rise, str(number), size=6, colour=INK)


def _dashed(group: Group, at: float, bottom: float, top: float) -> None:
    rule(group, at, bottom, at, top, QUIET, 0.7, strokeDashArray=[2, 2.5])


def _curves(group: Group, plan: Plan, axis: Axis, base: float) -> tuple[list[Point], list[Point]]:
    """Draws both and returns the points of the old and of the new growth."""
    season = plan.season
    days = [axis.first + timedelta(days=i) for i in range(0, (axis.last - axis.first).days + 1, 3)] + [
        axis.last
    ]
    highest = max(1e-9, *season.cool_growth, *season.warm_growth)

    def points(growth: Sequence[float]) -> list[Point]:
        return [(axis.at(on), base + (CURVE - 8) * growth[day_of_year(on)] / highest) for on in days]

    old, new = points(season.cool_growth), points(season.warm_growth)
    group.add(
        Polygon(_flat([(old[0][0], base), *old, (old[-1][0], base)]), fillColor=STRAW_WASH, strokeColor=None)
    )
    group.add(PolyLine(_flat(old), strokeColor=STRAW, strokeWidth=1.2))
    group.add(PolyLine(_flat(new), strokeColor=GREEN, strokeWidth=1.8))
    rule(group, axis.left, base, axis.right, base, INK, 0.7)
    return old, new


def has_sod(plan: Plan) -> bool:
    """Whether the straw curve stands for a sod on any of these fields, and not for weeds alone."""
    sods = ("cool-season sod", "smooth brome", "failed native stand")
    return any(conversion.cover in sods for conversion in plan.job.conversions)


def old_growth(plan: Plan) -> str:
    """What the straw curve stands for on these fields."""
    return _("old sod") if has_sod(plan) else _("cool-season weeds")


def summer_growers(plan: Plan) -> str:
    """What grows on these fields in summer and is killed then, named; empty where nothing does."""
    summer = (
        told(conversion.cover) for conversion in plan.job.conversions if conversion.cover in SUMMER_GROWERS
    )
    return listed(unique(summer))


def _flat(points: Sequence[Point]) -> list[float]:
    return [value for point in points for value in point]


def _name_curve(
    group: Group,
    text: str,
    curve: Sequence[Point],
    colour: Color,
    axis: Axis,
    freezes: Sequence[float],
    taken: list[tuple[float, float, float]],
) -> None:
    """The curve's name over its last highest point that is clear of freezes and of the other name."""
    room = width(text, SERIF_BOLD, 8.5)
    for at, y in sorted(curve, key=lambda point: (-round(point[1]), -point[0])):
        for left in (at - room / 2, at - room, at):
            right, low = left + room, y + 3
            meets = any(
                left < other_right + 4 and right > other_left - 4 and abs(low - other) < 11
                for other_left, other_right, other in taken
            )
            crossed = any(left - 3 < freeze < right + 3 for freeze in freezes)
            if axis.left < left and right < axis.right and not meets and not crossed:
                words(group, left, low, text, font=SERIF_BOLD, size=8.5, colour=colour)
                taken.append((left, right, low))
                return


def _peak_months(growth: Sequence[float]) -> str:
    """Names of the months in which the curve has a top of its own."""
    tops = [
        day
        for day in range(365)
        if growth[day] > max(0.25 * max(growth), growth[day - 1])
        and all(growth[day] >= growth[(day + away) % 365] for away in range(-30, 31))
    ]
    return listed(months()[(date(2001, 1, 1) + timedelta(days=day)).month - 1] for day in tops) or _(
        "no month"
    )


def growth_table(plan: Plan) -> DataTable:
    """The two curves month by month, with the air and what falls into the month."""
    season = plan.season
    rows = []
    for month in range(1, 13):
        first, last = date(2001, month, 1), next_month(date(2001, month, 1)) - timedelta(days=1)
        means = season.daily_mean_f[day_of_year(first) : day_of_year(last) + 1]
        falls = [
            _("{moment} {day}").format(moment=told(moment.label), day=short(on, year=False))
            for on, moment in sorted(_days_of(plan), key=lambda found: found[0])
            if on.month == month
        ]
        rows.append(
            (
                months()[month - 1],
                quantity(sum(means) / len(means), "°F", 0),
                _mean(growth_in(season.cool_growth, first, last)),
                _mean(growth_in(season.warm_growth, first, last)),
                "; ".join(falls),
            )
        )
    head = (_("Month"), _("Mean air"), upper_first(old_growth(plan)), _("New grass"), _("What falls into it"))
    caption = _("A normal year at {place}; growth in % of the best day").format(place=season.place)
    return DataTable(caption, head, tuple(rows))


def _days_of(plan: Plan) -> list[tuple[date, Moment]]:
    """The moments of this plan's windows, and the freezes, each on its day of a normal year."""
    numbered = {moment.key for _number, moment in numbered_moments(plan)}
    moments = [moment for moment in plan.season.moments if moment.key in numbered | FIXED]
    return [(month_day(moment.day, 2001), moment) for moment in moments]


def _mean(growth: Growth) -> str:
    return _("{percent} %").format(percent=round(growth.mean_pct))


def windows_table(reasons: Sequence[Reason]) -> DataTable:
    """Each window that is explained, with the growth in it."""
    rows = [
        (
            reason.step,
            listed(reason.fields),
            "; ".join(reason.windows),
            reason.old.shown,
            reason.new.shown,
        )
        for reason in reasons
    ]
    head = (_("Step"), _("Fields"), _("Window"), _("Cool-season growth"), _("Warm-season growth"))
    return DataTable(_("Growth in each window, in % of the best day"), head, tuple(rows))


def describe(plan: Plan) -> str:
    """The ribbon in words, for a reader who cannot see it."""
    climate, season = plan.job.climate, plan.season
    spring, fall = (
        short(month_day(text, 2001), year=False)
        for text in (climate.last_spring_freeze, climate.first_fall_freeze)
    )
    said = [
        _(
            "In a normal year at {place} cool-season grass grows most in {cool}, the new warm-season grass "
            "in {warm}. Last spring freeze {spring}, first fall freeze {fall}."
        ).format(
            place=climate.place,
            cool=_peak_months(season.cool_growth),
            warm=_peak_months(season.warm_growth),
            spring=spring,
            fall=fall,
        )
    ]
    said += [
        _("{fields}: {step}, {when}.").format(
            fields=fields_of(group), step=lower_first(told(group[0].label)), when=when(group[0])
        )
        for group in same_windows(plan.tasks)
    ]
    return " ".join(said)
