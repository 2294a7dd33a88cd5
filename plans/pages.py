"""A plan arranged for reading on a page. Arranges; reckons nothing."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from django.utils.translation import gettext as _

from plans.documents import ribbon, years
from plans.documents.data_table import DataTable
from plans.documents.reasons import Reason, reasons
from plans.documents.svg import inline_svg
from plans.models import Acceptance
from plans.planning import tables
from plans.planning.away import Ground, ground_left
from plans.planning.by_field import by_field
from plans.planning.figures import Figure
from plans.planning.plan import Finding, Moment, Plan, Task
from plans.workings import YearTable, year_table

WIDE = 580.0
"""Width at which the drawings are made [pt]; the page scales them to its own."""


@dataclass(frozen=True, slots=True)
class FindingGroup:
    """Findings of one rule with one reason and one way out, and who accepted them."""

    rule: str
    severity: str
    reason: str
    way_out: str
    source: str
    findings: tuple[Finding, ...]
    acceptance: Acceptance | None
    links: tuple[tuple[str, str], ...] = ()
    """Label and address of the pages where it can be mended."""

    @property
    def id(self) -> str:
        return f"finding-{zlib.crc32(self.findings[0].key.encode()):x}"

    @property
    def waits(self) -> bool:
        return self.severity == "caution" and self.acceptance is None


def finding_groups(findings: Iterable[Finding], accepted: Mapping[str, Acceptance]) -> list[FindingGroup]:
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for finding in findings:
        acceptance = accepted.get(finding.key) if finding.severity == "caution" else None
        told = f"{acceptance.reason}|{acceptance.accepted_by_name}" if acceptance else ""
        key = (finding.severity, finding.rule, finding.reason, finding.way_out, finding.source, told)
        groups.setdefault(key, []).append(finding)
    return [
        FindingGroup(
            severity=severity,
            rule=rule,
            reason=reason,
            way_out=way_out,
            source=source,
            findings=tuple(found),
            acceptance=accepted.get(found[0].key) if told else None,
        )
        for (severity, rule, reason, way_out, source, told), found in groups.items()
    ]


@dataclass(frozen=True, slots=True)
class Step:
    """One step on the fields that share its window."""

    task: Task
    fields: tuple[str, ...]
    acres: float
    operation: str


@dataclass(frozen=True, slots=True)
class YearSteps:
    year: int
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class FieldRow:
    """What a field is of the price, year by year."""

    field: str
    cells: tuple[tuple[int, Figure], ...]
    total: Figure


@dataclass(frozen=True, slots=True)
class Sheet:
    acres: float
    fields: tuple[str, ...]
    kept_free: tuple[Ground, ...]
    """What is left of fields of which some ground is kept free of work."""
    planting_opens: date | None
    last_year: int | None
    sown: bool
    prices: YearTable
    by_field: tuple[FieldRow, ...]
    """Empty for a single field, whose price is the whole."""
    schedule: tuple[YearSteps, ...]
    summer_growers: str
    moments: tuple[tuple[int, Moment], ...]
    """The numbers on the ribbon and what they stand for."""
    reasons: tuple[Reason, ...]
    """Why each step of killing and planting lies where it lies."""
    season_tables: tuple[DataTable, ...]
    years_table: DataTable
    """What the drawings show, as tables."""
    ribbon: str
    years: str
    """The drawings, as SVG elements."""


def sheet(plan: Plan) -> Sheet:
    conversions = plan.job.conversions
    plantings = [task.earliest for task in plan.tasks if task.phase == "plant"]
    why = reasons(plan)
    return Sheet(
        acres=sum(conversion.acres for conversion in conversions),
        fields=tuple(conversion.field for conversion in conversions),
        kept_free=tuple(ground for conversion in conversions for ground in ground_left(conversion)),
        planting_opens=min(plantings, default=None),
        last_year=max((task.latest.year for task in plan.tasks), default=None),
        sown=any(field.lines for field in plan.seed),
        prices=year_table(plan.estimate),
        by_field=field_rows(plan),
        schedule=schedule(plan.tasks),
        summer_growers=ribbon.summer_growers(plan),
        moments=ribbon.numbered_moments(plan),
        reasons=why,
        season_tables=(ribbon.growth_table(plan), ribbon.windows_table(why)),
        years_table=years.data_table(plan),
        ribbon=season_drawing(plan),
        years=years_drawing(plan),
    )


def field_rows(plan: Plan) -> tuple[FieldRow, ...]:
    if len(plan.job.conversions) < 2 or not plan.estimate.years:
        return ()
    years = [year.year for year in plan.estimate.years]
    return tuple(
        FieldRow(row.field, tuple(zip(years, row.years, strict=True)), row.total) for row in by_field(plan)
    )


def schedule(tasks: Iterable[Task]) -> tuple[YearSteps, ...]:
    """Tasks by the year in which they open; the same step in the same window on several fields is one."""
    shared: dict[tuple[object, ...], list[Task]] = {}
    for task in tasks:
        shared.setdefault((task.step, task.season, task.earliest, task.latest, task.done_on), []).append(task)
    steps = [
        Step(
            task=found[0],
            fields=tuple(task.field for task in found),
            acres=sum(task.acres for task in found),
            operation=tables.operations()[found[0].operation].label,
        )
        for found in shared.values()
    ]
    return tuple(
        YearSteps(year, tuple(some))
        for year, some in groupby(steps, key=lambda step: step.task.earliest.year)
    )


def season_drawing(plan: Plan) -> str:
    title = _("The season at {place}").format(place=plan.season.place)
    drawing = ribbon.season_ribbon(plan, wide=WIDE)
    return inline_svg(drawing, name="season", title=title, description=ribbon.describe(plan))


def years_drawing(plan: Plan) -> str:
    text = years.describe(plan)
    return "".join(
        inline_svg(drawing, name=f"years-{at}", title=_("The years ahead"), description=text)
        for at, drawing in enumerate(years.years_ahead(plan, wide=WIDE))
    )
