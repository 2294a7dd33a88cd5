"""The client's page of a plan: what was offered, how it stands, what was asked. Arranges; reckons nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from plans.agreements import closed, statement
from plans.client_changes import ChangeShown, change_shown
from plans.client_documents import Shared, shared_with_client
from plans.contract import stages_of
from plans.documents import ribbon
from plans.documents.closing import usual_terms
from plans.documents.letter import in_prose
from plans.documents.price import about_cost_share, may_come_on_top, quantity_of
from plans.documents.words import day, listed, measured, number, short, window
from plans.models import Agreement, Answer, Plan, Proposal, Question, State, Visit, VisitState
from plans.pages import Sheet, sheet
from plans.planning.drawn import DrawnField
from plans.planning.job import Conversion
from plans.planning.plan import EstimateLine, Finding
from plans.planning.plan import Plan as Outcome
from plans.selectors import chain_in_force, frozen_outcome, latest_proposal
from plans.stages import Payments, payments, was_agreed

NEXT_SHOWN = 6


@dataclass(frozen=True, slots=True)
class FieldFacts:
    name: str
    facts: tuple[tuple[str, str], ...]
    """What is said of it, as label and words."""
    notes: str
    drawn: DrawnField | None


@dataclass(frozen=True, slots=True)
class Line:
    line: EstimateLine
    quantity: str


@dataclass(frozen=True, slots=True)
class Offer:
    """A proposal laid out, from what was frozen and from nothing else."""

    outcome: Outcome
    sheet: Sheet
    prose: tuple[str, ...]
    fields: tuple[FieldFacts, ...]
    ribbon_words: str
    lines: tuple[tuple[int, tuple[Line, ...]], ...]
    """The lines of each year."""
    on_top: str
    cost_share: str
    findings: tuple[tuple[Finding, str], ...]
    """Stops and cautions, and who accepted each and why."""
    terms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """A visit as a client reads of it."""

    label: str
    when: str
    fields: tuple[str, ...]
    why: str = ""


@dataclass(frozen=True, slots=True)
class ClientPage:
    plan: Plan
    proposal: Proposal | None
    """The latest that was offered; the others are among the documents."""
    offer: Offer | None
    """None without a proposal that this version of the site can lay out."""
    change: ChangeShown | None
    """Of a change order: what it changes; `offer` is then what was left to do with it."""
    standing: str
    closed: str
    """Why the proposal cannot be answered; empty while it can."""
    statement: str
    agreement: Agreement | None
    done: tuple[Step, ...]
    next: tuple[Step, ...]
    later: tuple[Step, ...]
    payments: Payments | None
    documents: tuple[Shared, ...]
    questions: tuple[Question, ...]


def client_page(plan: Plan, today: date) -> ClientPage:
    """All of a plan that its client may see, in the language in force."""
    proposal = latest_proposal(plan)
    outcome = frozen_outcome(proposal) if proposal else None
    agreed = was_agreed(plan)
    visits = list(Visit.objects.filter(plan=plan).select_related("field")) if agreed else []
    coming = steps_ahead(visits)
    stages = stages_of(chain_in_force(plan)) if agreed and not plan.is_change else None
    return ClientPage(
        plan=plan,
        proposal=proposal,
        offer=offer(proposal, outcome) if proposal and outcome else None,
        change=change_shown(proposal) if proposal else None,
        standing=standing(plan, proposal, today),
        closed=closed(plan, proposal, None, today),
        statement=statement(proposal) if proposal else "",
        agreement=Agreement.objects.filter(plan=plan).select_related("proposal").first(),
        done=done_steps(visits),
        next=coming[:NEXT_SHOWN],
        later=coming[NEXT_SHOWN:],
        payments=payments(stages, plan.stage_marks.all()) if stages else None,
        documents=tuple(shared_with_client(plan)),
        questions=tuple(questions_of(plan)),
    )


def questions_of(plan: Plan) -> Iterable[Question]:
    """A plan's questions, each with its answers."""
    answers = Prefetch("answers", queryset=Answer.objects.order_by("pk"))
    return Question.objects.filter(plan=plan).prefetch_related(answers).order_by("pk")


def standing(plan: Plan, proposal: Proposal | None, today: date) -> str:
    """How things stand, in a sentence or two for the client."""
    if proposal is None or plan.state in (State.DRAFT, State.DECLINED, State.WITHDRAWN):
        return closed(plan, proposal, None, today)
    since = day(plan.state_on)
    if plan.state == State.AGREED:
        return _("Agreed on {day}. The work has not begun yet; what comes next is below.").format(day=since)
    if plan.state == State.UNDER_WAY:
        return _("The work has been under way since {day}.").format(day=since)
    if plan.state == State.IN_UPKEEP:
        return _("The stand is established, and in upkeep since {day}.").format(day=since)
    if plan.state == State.CLOSED:
        return _("This plan was closed on {day}. Everything stays here to look up.").format(day=since)
    return closed(plan, proposal, None, today) or _(
        "Open until {day}. Take your time, ask us anything, and answer at the end of this page."
    ).format(day=day(proposal.valid_until))


def offer(proposal: Proposal, outcome: Outcome) -> Offer:
    kept = {one["key"]: one for one in proposal.accepted_cautions}
    return Offer(
        outcome=outcome,
        sheet=sheet(outcome),
        prose=tuple(in_prose(outcome)),
        fields=tuple(field_facts(conversion) for conversion in outcome.job.conversions),
        ribbon_words=ribbon.describe(outcome),
        lines=tuple(
            (
                year.year,
                tuple(
                    Line(line, quantity_of(line)) for line in outcome.estimate.lines if line.year == year.year
                ),
            )
            for year in outcome.estimate.years
        ),
        on_top=may_come_on_top(outcome),
        cost_share=about_cost_share(outcome),
        findings=tuple(
            (finding, accepted_by(kept[finding.key]) if finding.key in kept else "")
            for finding in outcome.findings
            if finding.severity != "note"
        ),
        terms=usual_terms(proposal.valid_until),
    )


def accepted_by(kept: dict[str, str]) -> str:
    return _("Looked at by {name} on {day}: {reason}").format(
        name=kept["accepted_by"], day=day(date.fromisoformat(kept["on"])), reason=kept["reason"]
    )


def field_facts(conversion: Conversion) -> FieldFacts:
    cover = _(conversion.cover)
    if conversion.thatch == "light":
        cover = _("{cover}, with light thatch").format(cover=cover)
    elif conversion.thatch == "heavy":
        cover = _("{cover}, with heavy thatch").format(cover=cover)
    slope = (
        _("{percent} %").format(percent=number(conversion.slope_pct, 1))
        if conversion.slope_pct
        else _("level")
    )
    watch = [conversion.sensitive_neighbours] if conversion.sensitive_neighbours else []
    if conversion.water_within_ft is not None:
        watch.append(_("water nearby"))
    if conversion.power_lines:
        watch.append(_("power lines"))
    facts = [
        (_("Size"), measured(conversion.acres, "acre")),
        (_("Slope"), slope),
        (_("Grows there now"), cover),
        (_("Weeds"), conversion.weeds),
        (_("Woody plants"), conversion.woody_plants),
        (_("Take care of"), listed(watch)),
        (_("To become"), _(conversion.purpose)),
        (_("With"), what_is_planted(conversion)),
    ]
    return FieldFacts(
        name=conversion.field,
        facts=tuple((label, said) for label, said in facts if said.strip()),
        notes=conversion.notes,
        drawn=conversion.drawn[0] if conversion.drawn else None,
    )


def what_is_planted(conversion: Conversion) -> str:
    if conversion.trees is not None:
        return listed([line.species for line in conversion.trees.lines])
    return conversion.mix.name if conversion.mix else ""


def done_steps(visits: Iterable[Visit]) -> tuple[Step, ...]:
    """What was done, the latest first; what was left out at the end."""
    done = [(visit.done_on, visit) for visit in visits if visit.state == VisitState.DONE and visit.done_on]
    done.sort(key=lambda one: (one[0], one[1].label), reverse=True)
    said = [(short(on), visit) for on, visit in done]
    said += [(_("left out"), visit) for visit in visits if visit.state == VisitState.SKIPPED]
    return together(said)


def steps_ahead(visits: Iterable[Visit]) -> tuple[Step, ...]:
    """What is still to be done, the next first: the day it is booked for, or its window."""
    ahead = [(visit.booked_on or visit.window_opens, visit) for visit in visits if visit.is_open]
    ahead.sort(key=lambda one: (one[0], one[1].order, one[1].label))
    return together((days_of(visit), visit) for __, visit in ahead)


def days_of(visit: Visit) -> str:
    if visit.booked_on:
        return _("booked for {day}").format(day=short(visit.booked_on))
    return window(visit.window_opens, visit.window_shuts)


def together(said: Iterable[tuple[str, Visit]]) -> tuple[Step, ...]:
    """One step for the fields on which the same is done at the same time."""
    found: dict[tuple[str, str], list[Visit]] = {}
    for when, visit in said:
        found.setdefault((when, visit.label), []).append(visit)
    return tuple(
        Step(label, when, tuple(sorted(visit.field.name for visit in same)), same[0].why)
        for (when, label), same in found.items()
    )
