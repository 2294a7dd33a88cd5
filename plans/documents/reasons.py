"""Why a step lies where it lies: how old and new growth stand in its window, and what opens and shuts it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from plans.documents.manner import _, several
from plans.documents.told import told
from plans.documents.words import listed, lower_first, sentence, short, unique, window
from plans.planning import calendar, plots, tables
from plans.planning.calendar import SOWING, soil_wait_days
from plans.planning.fields import SPRAYING
from plans.planning.job import Conversion
from plans.planning.plan import Plan, Task
from plans.planning.programs import chemicals_for
from plans.planning.tables import Step

SUMMER_GROWERS = ("bermudagrass", "johnsongrass", "sericea lespedeza")
"""Covers that grow with the new grass and are killed then."""
SLEEPING_PCT = 10.0
"""Growth under this share of its best is called sleep: for the words alone, no date hangs on it."""
MUCH_MORE = 1.5
"""So many times the other's growth, and a spray can tell the two apart."""
EXPLAINED = ("kill", "plant")
"""Phases of which every step is explained; of later care only what is sprayed."""


@dataclass(frozen=True, slots=True)
class Growth:
    """Least, mean and most of its best growth within a window [%], and whether it ends higher."""

    least_pct: float
    mean_pct: float
    most_pct: float
    rising: bool

    @property
    def shown(self) -> str:
        least, most = round(self.least_pct), round(self.most_pct)
        if least == most:
            return _("{percent} %").format(percent=most)
        return _("{least} to {most} %").format(least=least, most=most)


@dataclass(frozen=True, slots=True)
class Reason:
    """One step, on the fields and in the years for which the same is to be said."""

    tasks: tuple[Task, ...]
    old: Growth
    new: Growth
    because: str
    opens: str
    shuts: str

    @property
    def step(self) -> str:
        return told(self.tasks[0].label)

    @property
    def windows(self) -> list[str]:
        return unique(window(task.earliest, task.latest) for task in self.tasks)

    @property
    def fields(self) -> list[str]:
        return unique(task.field for task in self.tasks)

    @property
    def said(self) -> str:
        return " ".join(part for part in (self.because, self.opens, self.shuts) if part)


def day_of_year(on: date) -> int:
    """0 to 364; the 29th of February counts as the 28th, as in a normal year."""
    day = 28 if (on.month, on.day) == (2, 29) else on.day
    return date(2001, on.month, day).timetuple().tm_yday - 1


def growth_in(curve: Sequence[float], first: date, last: date) -> Growth:
    """Of a curve of 365 values, 0 to 1, over the days from `first` to `last`."""
    best = max(max(curve), 1e-9)
    days = range(max((last - first).days, 0) + 1)
    shares = [100 * curve[day_of_year(first + timedelta(days=day))] / best for day in days]
    return Growth(min(shares), sum(shares) / len(shares), max(shares), shares[-1] > shares[0])


def reasons(plan: Plan) -> tuple[Reason, ...]:
    """Of each step to come that is explained, in order of the plan."""
    groups: dict[tuple, list[Task]] = {}
    conversions = {conversion.field: conversion for conversion in plan.job.conversions}
    for task in plan.tasks:
        explained = task.phase in EXPLAINED or task.operation in SPRAYING
        if explained and not task.done_on and task.step in tables.steps() and task.field in conversions:
            reason = reason_of(plan, task, conversions[task.field])
            groups.setdefault((task.label, reason.said), []).append(task)
    place = {name: number for number, name in enumerate(conversions)}
    for tasks in groups.values():
        tasks.sort(key=lambda task: (task.earliest, place[task.field]))
    return tuple(reason_of(plan, tasks[0], conversions[tasks[0].field], tasks) for tasks in groups.values())


def reason_of(plan: Plan, task: Task, ground: Conversion, tasks: Sequence[Task] = ()) -> Reason:
    season = plan.season
    old = growth_in(season.cool_growth, task.earliest, task.latest)
    new = growth_in(season.warm_growth, task.earliest, task.latest)
    return Reason(
        tasks=tuple(tasks) or (task,),
        old=old,
        new=new,
        because=_because(plan, task, ground, old, new),
        opens=_opens(plan, task, ground),
        shuts=_shuts(plan, task, ground),
    )


def old_cover(ground: Conversion, *, in_summer: bool) -> str:
    """What the old growth is called on this ground; what grows in summer is not what greens in spring."""
    if ground.cover in SUMMER_GROWERS and not in_summer:
        return _("the green cover")
    return {
        "cool-season sod": _("the old sod"),
        "smooth brome": _("the brome"),
        "bermudagrass": _("the bermudagrass"),
        "johnsongrass": _("the johnsongrass"),
        "sericea lespedeza": _("the sericea"),
        "brushy old field": _("the grass under the brush"),
        "failed native stand": _("the cool-season grass"),
    }.get(ground.cover, _("the green cover"))


def _because(plan: Plan, task: Task, ground: Conversion, old: Growth, new: Growth) -> str:
    why = sentence(told(task.why))
    if task.operation in SPRAYING:
        return _sprayed(task, ground, old, new)
    if task.operation in SOWING:
        return _sown(plan, task, ground, new)
    following = _following(plan, task)
    if following is None or following.operation not in SPRAYING or not following.wait_days:
        return why
    return several(
        "{why} Done in time, it leaves {n} day of regrowth for the spray after it.",
        "{why} Done in time, it leaves {n} days of regrowth for the spray after it.",
        following.wait_days,
    ).format(why=why, n=following.wait_days)


def _sprayed(task: Task, ground: Conversion, old: Growth, new: Growth) -> str:
    """A spray kills what is green and growing: what that is then, and what sleeps."""
    sprays = [told(name) for name, _rate in chemicals_for(tables.steps()[task.step], ground)]
    words = {
        "why": sentence(told(task.why)),
        "spray": listed(sprays),
        "old": old_cover(ground, in_summer=new.mean_pct > old.mean_pct),
        "old_pct": old.shown,
        "new_pct": new.shown,
    }
    return _why_sprayed(task, ground, old, new).format(**words)


def _why_sprayed(task: Task, ground: Conversion, old: Growth, new: Growth) -> str:
    before_seed, in_summer = task.phase in EXPLAINED, new.mean_pct > old.mean_pct
    neither = _(
        "{why} In this window cool-season growth is at {old_pct} of its best, warm-season growth at "
        "{new_pct}."
    )
    if ground.cover in SUMMER_GROWERS and in_summer:
        if before_seed:
            return _(
                "Sprayed then, with {spray}, because {old} grows in summer, at the time of the native grass "
                "({new_pct} of its best), and only what grows takes the herbicide down to its roots."
            )
        return _(
            "Sprayed then, with {spray}, and plant by plant, because {old} and the native grass grow at the "
            "same time ({new_pct} of its best)."
        )
    if old.mean_pct < MUCH_MORE * new.mean_pct:
        return neither
    if new.most_pct < SLEEPING_PCT:
        return _(
            "Sprayed then, with {spray}, because {old} is growing, at {old_pct} of its best, while the "
            "native grass sleeps, at {new_pct}."
        )
    if new.mean_pct < SLEEPING_PCT and not new.rising:
        return _(
            "Sprayed then, with {spray}, because {old} is growing again, at {old_pct} of its best, while the "
            "native grass goes to sleep, at {new_pct}."
        )
    if before_seed and ground.cover not in SUMMER_GROWERS:
        return _(
            "Sprayed then, with {spray}, because {old} is growing, at {old_pct} of its best, and takes it in "
            "before the season of the native grass, which is only at {new_pct}."
        )
    return neither


def _sown(plan: Plan, task: Task, ground: Conversion, new: Growth) -> str:
    seeding, why = tables.seedings()[ground.seeding], sentence(told(task.why))
    if seeding.way == "planted" or seeding.crop_season:
        return why
    if new.most_pct < SLEEPING_PCT:
        text = _("{why} The native grass is at {new_pct} of its best then, and does not sprout too soon.")
        return text.format(why=why, new_pct=new.shown)
    most, least = (_ahead_pct(plan.season.warm_growth, on) for on in (task.earliest, task.latest))
    text = _(
        "{why} Sown in this window the new grass has {least} to {most} % of its year’s growth before it."
    )
    return text.format(why=why, least=least, most=most)


def _ahead_pct(curve: Sequence[float], on: date) -> int:
    """How much of the calendar year's growth comes after a day [%]."""
    return round(100 * sum(curve[day_of_year(on) :]) / max(sum(curve), 1e-9))


# What bounds a window


def _opens(plan: Plan, task: Task, ground: Conversion) -> str:
    on = task.earliest
    day = short(on, year=False)
    step = _step(plan, task, ground)
    if any(_window(plan, step, year)[0] == on for year in _about(on)):
        return _at_moment(step.opens, step.opens_days, _opening()).format(day=day)
    before = next((one for one in plan.tasks if (one.field, one.step) == (task.field, task.after)), None)
    if before is not None and (before.done_on or before.earliest) + timedelta(days=task.wait_days) == on:
        return several(
            "It opens on {day}, {n} day after the earliest day of the step before: {step}.",
            "It opens on {day}, {n} days after the earliest day of the step before: {step}.",
            task.wait_days,
        ).format(day=day, n=task.wait_days, step=lower_first(told(before.label)))
    if on in (ground.start_on, plan.today):
        return _("It opens on {day}, when work may begin.").format(day=day)
    if task.operation in SOWING and any(_clears(one, task) for one in plan.tasks):
        return _("It opens on {day}, when the wait after the last herbicide is over.").format(day=day)
    return ""


def _clears(spray: Task, sowing: Task) -> bool:
    """Whether the sowing opens on the day that a spray's wait before seeding is over."""
    if spray.field != sowing.field or spray.step not in tables.steps():
        return False
    wait = soil_wait_days(tables.steps()[spray.step])
    return bool(wait) and (spray.done_on or spray.earliest) + timedelta(days=wait) == sowing.earliest


def _shuts(plan: Plan, task: Task, ground: Conversion) -> str:
    on = task.latest
    day = short(on, year=False)
    step = _step(plan, task, ground)
    if any(_window(plan, step, year)[1] == on for year in _about(on)):
        return _at_moment(step.closes, step.closes_days, _shutting()).format(day=day)
    following = _following(plan, task)
    if following is not None and on + timedelta(days=following.wait_days) == following.latest:
        return several(
            "It shuts on {day}, so that the next step still has its {n} day of wait: {step}.",
            "It shuts on {day}, so that the next step still has its {n} days of wait: {step}.",
            following.wait_days,
        ).format(day=day, n=following.wait_days, step=lower_first(told(following.label)))
    sowing = next((one for one in plan.tasks if one.field == task.field and one.operation in SOWING), None)
    wait = soil_wait_days(step)
    if sowing is not None and wait and on + timedelta(days=wait) == sowing.latest:
        return _("It shuts on {day}, so that the herbicide is gone before seeding ends.").format(day=day)
    return ""


def _step(plan: Plan, task: Task, ground: Conversion) -> Step:
    """The step with moments of the year alone: a plot's stand for the window of its crops."""
    step = tables.steps()[task.step]
    stands_in = {step.opens, step.closes} - tables.moment_rules().keys()
    return plots.dated(step, plots.crop_window(ground, plan.job.climate)) if stands_in else step


def _window(plan: Plan, step: Step, year: int) -> tuple[date, date]:
    return calendar.window(step, plan.job.climate, year)


def _about(on: date) -> tuple[int, ...]:
    return on.year - 1, on.year, on.year + 1


def _following(plan: Plan, task: Task) -> Task | None:
    return next((one for one in plan.tasks if (one.field, one.after) == (task.field, task.step)), None)


def _opening() -> tuple[str, str, str]:
    return (
        _("It opens on {day}, with “{moment}”."),
        _("It opens on {day}, {span} before “{moment}”."),
        _("It opens on {day}, {span} after “{moment}”."),
    )


def _shutting() -> tuple[str, str, str]:
    return (
        _("It shuts on {day}, with “{moment}”."),
        _("It shuts on {day}, {span} before “{moment}”."),
        _("It shuts on {day}, {span} after “{moment}”."),
    )


def _at_moment(key: str, days: int, said: tuple[str, str, str]) -> str:
    """The sentence for a day on, before or after a moment; `{day}` is left to fill in."""
    with_it, before, after = said
    span = several("{n} day", "{n} days", abs(days)).format(n=abs(days))
    text = before if days < 0 else after if days else with_it
    return text.format(day="{day}", span=span, moment=told(tables.moment_rules()[key].label))
