"""Options side by side: a job planned again another way, and what that does to price, season and risk."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from plans.planning import tables
from plans.planning.calendar import SOWING
from plans.planning.fields import SPRAYING
from plans.planning.figures import Figure, Term
from plans.planning.other_ways import other_ways, vary
from plans.planning.plan import Finding, Plan
from plans.planning.planner import plan_job
from plans.planning.price_list import PriceList
from plans.planning.said import Said, said
from plans.planning.work import visits


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """An option that the consultant shows, with a line of their own; empty for the usual one."""

    key: str
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What a plan comes to, in the few figures by which it is held beside another."""

    total: Figure
    seeding: date | None
    """First day of the first seeding or planting that is still ahead."""
    first_year: int | None
    last_year: int | None
    trips: int
    sprays: int
    """Trips on which herbicide is sprayed."""
    possible: int
    """Steps that may be needed on top."""
    p10: Figure | None
    p90: Figure | None
    cautions: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One way of doing the job, held beside the plan. `why_not` is empty where it can be offered."""

    key: str
    label: str
    reason: str
    fields: tuple[str, ...] = ()
    """Fields on which something changes."""
    unchanged: tuple[Said, ...] = ()
    """Why other fields stay as they are."""
    standing: Standing | None = None
    difference: Figure | None = None
    """Its price less the plan's [$]."""
    raised: tuple[str, ...] = ()
    """Cautions that it has and the plan has not; `settled` the other way round."""
    settled: tuple[str, ...] = ()
    why_not: tuple[Said, ...] = ()


def standing(plan: Plan) -> Standing:
    """The plan in the figures by which options are compared."""
    trips = visits(plan.tasks)
    ahead = [task for task in plan.tasks if task.done_on is None]
    likely = plan.estimate.range
    return Standing(
        total=plan.estimate.total.total,
        seeding=min((task.earliest for task in ahead if task.operation in SOWING), default=None),
        first_year=min((trip.on.year for trip in trips), default=None),
        last_year=max((task.latest.year for task in ahead), default=None),
        trips=len(trips),
        sprays=sum(trip.operation in SPRAYING for trip in trips),
        possible=len(likely.steps) if likely else 0,
        p10=likely.p10 if likely else None,
        p90=likely.p90 if likely else None,
        cautions=sum(finding.severity == "caution" for finding in plan.findings),
    )


NOT_A_RISK = frozenset({"window_past"})
"""A window that shut before another way begins is told by its dates."""
RISK_NOTES = frozenset({"program_note"})
"""What to mind about a way of killing: a note on one plan, a difference between two."""


def _new(findings: Iterable[Finding], beside: Iterable[Finding], severity: str) -> tuple[str, ...]:
    known = {finding.key for finding in beside}
    new = [
        finding
        for finding in findings
        if finding.key not in known
        and finding.rule not in NOT_A_RISK
        and (finding.severity == severity or (severity == "caution" and finding.rule in RISK_NOTES))
    ]
    return tuple(dict.fromkeys(_message(finding) for finding in new))


def _message(finding: Finding) -> str:
    """What is to be minded; a note that holds wherever a way is taken is said once, without the field."""
    if finding.rule not in RISK_NOTES:
        return finding.message
    text = finding.message.removeprefix(f"{finding.field}: ")
    return text[:1].upper() + text[1:]


def option(plan: Plan, prices: PriceList, wanted: Wanted) -> Option:
    """One option beside the plan. Raises KeyError for a key in no table."""
    row = other_ways()[wanted.key]
    reason = wanted.reason.strip() or row.reason
    varied = vary(wanted.key, plan.job, prices, plan.today)
    if varied.job is None:
        return Option(key=row.key, label=row.label, reason=reason, why_not=varied.unchanged)
    try:
        other = plan_job(varied.job, prices, plan.today)
    except ValueError as unsound:
        text = str(unsound)
        why_not = (said("{what}", what=f"{text[:1].upper()}{text[1:].rstrip('.')}."),)
        return Option(key=row.key, label=row.label, reason=reason, why_not=why_not)
    stops = _new(other.findings, plan.findings, "stop")
    total, was = other.estimate.total.total.dollars, plan.estimate.total.total.dollars
    return Option(
        key=row.key,
        label=row.label,
        reason=reason,
        fields=varied.fields,
        unchanged=varied.unchanged,
        standing=standing(other),
        difference=Figure(
            total - was,
            "$",
            "price of the option - price of the plan",
            (Term("option", total, "$"), Term("plan", -was, "$")),
            "the whole job planned again with the same prices",
        ),
        raised=_new(other.findings, plan.findings, "caution"),
        settled=_new(plan.findings, other.findings, "caution"),
        why_not=tuple(said("{what}", what=stop) for stop in stops),
    )


def compare(plan: Plan, prices: PriceList, wanted: Iterable[Wanted]) -> tuple[Option, ...]:
    """The wanted options in order, each a plan of the whole job of its own."""
    with tables.knowing(plan.job.added_species):
        return tuple(option(plan, prices, one) for one in wanted)
