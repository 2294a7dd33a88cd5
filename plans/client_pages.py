"""The client's page of a plan: what was offered, how it stands, what was asked. Arranges; reckons nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from plans.agreements import agreements_of, closed, matter_of, statement
from plans.client_documents import Shared, key_of, shared_with_client
from plans.contract import change_of, stages_of
from plans.documents import ribbon
from plans.documents.changed import Row, difference_words, reasons, rows
from plans.documents.closing import usual_terms
from plans.documents.coming import Expected, about_what_comes, expected
from plans.documents.cost_share import about_standards
from plans.documents.letter import in_prose
from plans.documents.manner import using
from plans.documents.own_words import OwnWords
from plans.documents.price import about_cost_share, may_come_on_top, quantity_of
from plans.documents.side_by_side import about_options
from plans.documents.sown import about_plants
from plans.documents.told import told
from plans.documents.words import day, listed, measured, number, short, window
from plans.models import Agreement, Answer, Plan, Proposal, Question, State, Visit, VisitState
from plans.offer_parts import (
    OptionsShown,
    Sown,
    StandardShown,
    kept_beside,
    mix_shown,
    options_shown,
    price_moves,
    prices_by_field,
    standards_shown,
)
from plans.pages import Sheet, sheet
from plans.planning import tables
from plans.planning.changes import compare
from plans.planning.drawn import DrawnField
from plans.planning.job import Conversion
from plans.planning.own_words import SECTIONS
from plans.planning.plan import EstimateLine, FieldSeed, Finding
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
    own: dict[str, str]
    """The practice's own words by place, as they were when it was offered."""
    own_of_programs: tuple[tuple[str, str], ...]
    """The same for kill programs and seedings, each with the names of its fields."""
    fields: tuple[FieldFacts, ...]
    coming: tuple[Expected, ...]
    about_coming: str
    mixes: tuple[tuple[FieldSeed, tuple[Sown, ...]], ...]
    about_plants: str
    by_field: tuple[tuple[str, tuple[Decimal, ...]], ...]
    moves: tuple[tuple[str, str], ...]
    """What would change the price, and by how much."""
    options: OptionsShown | None
    about_options: str
    standards: tuple[StandardShown, ...]
    about_standards: str
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
class ChangeShown:
    """A change order laid out as its print has it."""

    proposal: Proposal
    key: str
    """Among the documents."""
    difference: str
    reasons: tuple[str, ...]
    rows: tuple[Row, ...]
    steps: tuple[Row, ...]
    years: tuple[tuple[int, Decimal], ...]
    """What it adds to each year [$]."""
    statement: str


@dataclass(frozen=True, slots=True)
class ClientPage:
    plan: Plan
    proposal: Proposal | None
    """The one agreed to, or the latest that was offered; the others are among the documents."""
    asked: Proposal | None
    """What the client is asked to answer; None while nothing is open."""
    offer: Offer | None
    """None without a proposal that this version of the site can lay out."""
    standing: str
    closed: str
    """Why nothing can be answered; empty while something can."""
    agreements: tuple[Agreement, ...]
    """The latest first."""
    change: ChangeShown | None
    """The change order that is offered now."""
    changes: tuple[ChangeShown, ...]
    """Those agreed to."""
    price: Decimal | None
    """With all change orders agreed to [$]."""
    done: tuple[Step, ...]
    next: tuple[Step, ...]
    later: tuple[Step, ...]
    payments: Payments | None
    document: str
    """Key of the latest proposal among the documents; empty without one."""
    documents: tuple[Shared, ...]
    questions: tuple[Question, ...]

    @property
    def report(self) -> Shared | None:
        """The latest season report."""
        return next((one for one in self.documents if one.report), None)


def client_page(plan: Plan, today: date) -> ClientPage:
    """All of a plan that its client may see, in the language in force."""
    agreed = was_agreed(plan)
    matter = matter_of(plan)
    latest = latest_proposal(matter)
    shut = closed(matter, latest, None, today)
    chain = chain_in_force(plan) if agreed else []
    proposal = chain[0] if chain else latest_proposal(plan)
    outcome = frozen_outcome(proposal) if proposal else None
    visits = list(Visit.objects.filter(plan=plan).select_related("field")) if agreed else []
    coming = steps_ahead(visits)
    stages = stages_of(chain)
    return ClientPage(
        plan=plan,
        proposal=proposal,
        asked=None if shut else latest,
        offer=offer(proposal, outcome) if proposal and outcome else None,
        standing=standing(plan, proposal, today),
        closed=shut,
        agreements=tuple(agreements_of(plan)),
        change=change_shown(latest) if latest and matter != plan else None,
        changes=tuple(shown for order in chain[1:] if (shown := change_shown(order))),
        price=chain[-1].total_usd if chain else proposal.total_usd if proposal else None,
        done=done_steps(visits),
        next=coming[:NEXT_SHOWN],
        later=coming[NEXT_SHOWN:],
        payments=payments(stages, plan.stage_marks.all()) if stages else None,
        document=key_of(proposal) if proposal else "",
        documents=tuple(shared_with_client(plan)),
        questions=tuple(questions_of(plan)),
    )


def change_shown(order: Proposal) -> ChangeShown | None:
    """None for a change order that this version of the site cannot lay out; its PDF is complete."""
    change = change_of(Proposal.objects.defer("inputs", "pdf").get(pk=order.pk))
    if change is None:
        return None
    found = compare(change.before, change.after)
    steps = [one for one in found.steps if one.what in ("step", "done")]
    others = [*found.ground, *found.mix, *(one for one in found.steps if one not in steps)]
    return ChangeShown(
        proposal=order,
        key=key_of(order),
        difference=difference_words(change.amount),
        reasons=reasons(found),
        rows=rows(others),
        steps=rows(steps),
        years=tuple(change.by_year.items()),
        statement=statement(order),
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
    with tables.knowing(outcome.job.added_species):
        return _offer(proposal, outcome)


def _offer(proposal: Proposal, outcome: Outcome) -> Offer:
    kept = {one["key"]: one for one in proposal.accepted_cautions}
    beside = kept_beside(proposal.beside)
    with using(outcome.job.manner):
        own = OwnWords(outcome, proposal.valid_until)
    return Offer(
        outcome=outcome,
        sheet=sheet(outcome),
        prose=tuple(in_prose(outcome)),
        own={place: own.text(place) for place in SECTIONS},
        own_of_programs=tuple(own.texts_of_programs()),
        fields=tuple(field_facts(conversion) for conversion in outcome.job.conversions),
        coming=tuple(expected(outcome)),
        about_coming=about_what_comes(),
        mixes=tuple((field, mix_shown(field)) for field in outcome.seed if field.lines),
        about_plants=about_plants(outcome),
        by_field=prices_by_field(outcome),
        moves=price_moves(beside),
        options=options_shown(outcome, beside),
        about_options=about_options(),
        standards=standards_shown(outcome),
        about_standards=about_standards(),
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
    cover = told(conversion.cover)
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
        (_("To become"), told(conversion.purpose)),
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
