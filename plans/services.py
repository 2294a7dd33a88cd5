"""What may be done to mixes and plans. Each is one transaction and leaves sound rows or none."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext, gettext_lazy

from consulting.models import Practice, PriceRow, TermsFields, User
from consulting.services import save
from plans.beside import beside_of, options_keep
from plans.change_offer import ChangeOffer, change_offer
from plans.documents.proposal import proposal_pdf
from plans.documents.words import sentence
from plans.models import Acceptance, Conversion, Mix, MixLine, Plan, Proposal, ProposalCounter, State
from plans.own_look import logo_kept
from plans.planning import wire
from plans.planning.beside import NOTHING, beside_json
from plans.planning.job import MixLine as LineFact
from plans.planning.plan import Finding
from plans.planning.plan import Plan as Outcome
from plans.program import program_sha256
from plans.selectors import (
    accepted_cautions,
    accepted_keys,
    next_revision,
    plans_whole,
    prices_of,
    reckon,
    unaccepted,
)
from sites.models import Farm

TERMS = tuple(field.name for field in TermsFields._meta.fields)


class Refused(Exception):
    """An act that the plan does not allow as it stands; each problem is a sentence for whoever tried."""

    def __init__(self, *problems: str | Promise):
        self.problems = tuple(map(str, problems))
        super().__init__(" ".join(self.problems))


def locked(plan: Plan) -> Plan:
    """The plan as it stands now, held until the transaction ends (SQLite holds the whole file instead)."""
    return Plan.objects.select_for_update(of=("self",)).get(pk=plan.pk)


NOT_A_DRAFT = gettext_lazy("Only a draft can be changed. Start the plan’s next revision first.")


def draft(plan: Plan) -> Plan:
    """The plan, locked. Raises Refused when it is not a draft any more."""
    held = locked(plan)
    if not held.is_draft:
        raise Refused(NOT_A_DRAFT)
    return held


# Mixes


@transaction.atomic
def mix_save(*, mix: Mix, lines: Sequence[LineFact]) -> Mix:
    """Save a mix with its lines.

    One that was ever offered stays as it is, and the next version takes its place in every draft.
    """
    if mix.pk and was_offered(mix):
        return next_version(mix, lines)
    save(mix)
    lines_keep(mix, lines)
    return mix


def was_offered(mix: Mix) -> bool:
    used = Plan.objects.filter(conversions__mix=mix)
    return used.exclude(state=State.DRAFT).exists() or used.filter(proposals__isnull=False).exists()


def next_version(mix: Mix, lines: Sequence[LineFact]) -> Mix:
    old = Mix.objects.select_for_update(of=("self",)).get(pk=mix.pk)
    latest = Mix.objects.filter(name=mix.name).order_by("-edition").values_list("edition", flat=True).first()
    new = Mix(
        practice=old.practice,
        name=mix.name,
        edition=(latest or 0) + 1,
        basis=mix.basis,
        seeds_per_sqft=mix.seeds_per_sqft,
        rate_is_for=mix.rate_is_for,
        copied_from=old,
    )
    save(new)
    lines_keep(new, lines)
    Mix.objects.filter(pk=old.pk).update(replaced=True)
    Conversion.objects.filter(mix=old, plan__state=State.DRAFT).update(mix=new)
    return new


def lines_keep(mix: Mix, lines: Iterable[LineFact]) -> None:
    """The mix with these lines. That of a species that stays is changed, so that its history is."""
    there = {row.species: row for row in mix.lines.all()}
    for order, line in enumerate(lines):
        row = there.pop(line.species, None) or MixLine(practice=mix.practice, mix=mix, species=line.species)
        save(row, amount=line.amount, order=order)
    for row in there.values():
        row.delete()


@transaction.atomic
def mix_copy(*, mix: Mix) -> Mix:
    """The same mix under another name, to be changed freely."""
    made = save(
        Mix(practice=mix.practice),
        name=free_name(mix.name),
        basis=mix.basis,
        seeds_per_sqft=mix.seeds_per_sqft,
        rate_is_for=mix.rate_is_for,
        copied_from=mix,
    )
    lines_keep(made, [LineFact(species=line.species, amount=line.amount) for line in mix.lines.all()])
    return made


def free_name(name: str) -> str:
    """`name, copy`, with a number when that is taken."""
    stem, number = f"{name[:180]}, copy", 1
    taken = set(Mix.objects.filter(name__startswith=stem).values_list("name", flat=True))
    found = stem
    while found in taken:
        number += 1
        found = f"{stem} {number}"
    return found


@transaction.atomic
def mix_remove(*, mix: Mix) -> None:
    """Raises ProtectedError while a plan uses it."""
    mix.delete()


# Plans while they are drafts


@transaction.atomic
def plan_create(*, practice: Practice, farm: Farm, title: str, today: date) -> Plan:
    """A draft on a farm, with the practice's terms of today as its own."""
    plan = Plan(practice=practice, farm=farm, title=title, state_on=today)
    for name in TERMS:
        setattr(plan, name, getattr(practice, name))
    return save(plan)


@transaction.atomic
def plan_save(*, plan: Plan) -> Plan:
    """Save changed title, terms or letter of a draft."""
    draft(plan)
    return save(plan)


@transaction.atomic
def conversion_save(*, conversion: Conversion) -> Conversion:
    draft(conversion.plan)
    if conversion.field.farm_id != conversion.plan.farm_id:
        raise ValidationError({"field": gettext("This field lies on another farm than the plan.")})
    save(conversion)
    touch(conversion.plan)
    return conversion


@transaction.atomic
def choices_save(*, plan: Plan, conversions: Iterable[Conversion], pricing: str, pricing_pct: float) -> None:
    """Keep the choices that move a price most, for all fields of a draft at once."""
    draft(plan)
    for conversion in conversions:
        save(conversion)
    save(plan, pricing=pricing, pricing_pct=pricing_pct)


@transaction.atomic
def options_choose(*, plan: Plan, shown: Mapping[str, str]) -> None:
    """What a draft's proposal shows beside it: keys of other ways with a line for each."""
    options_keep(plan=draft(plan), shown=shown)
    touch(plan)


@transaction.atomic
def conversion_remove(*, conversion: Conversion) -> None:
    draft(conversion.plan)
    conversion.delete()
    touch(conversion.plan)


def touch(plan: Plan) -> None:
    Plan.objects.filter(pk=plan.pk).update(changed_at=timezone.now())


@transaction.atomic
def cautions_accept(*, plan: Plan, findings: Iterable[Finding], reason: str, user: User) -> None:
    """Put on record that `user` accepts these cautions, and why. Raises Refused for a stop."""
    draft(plan)
    known = set(Acceptance.objects.filter(plan=plan).values_list("finding_key", flat=True))
    for finding in findings:
        if finding.severity != "caution":
            said = gettext("A {severity} cannot be accepted: {message}")
            raise Refused(said.format(severity=finding.severity, message=finding.message))
        if finding.key not in known:
            save(
                Acceptance(practice=plan.practice, plan=plan, accepted_by=user, accepted_by_name=str(user)),
                finding_key=finding.key,
                reason=reason,
            )


@transaction.atomic
def cautions_unaccept(*, plan: Plan, finding_keys: Iterable[str]) -> None:
    draft(plan)
    Acceptance.objects.filter(plan=plan, finding_key__in=list(finding_keys)).delete()


# Offering and after


@transaction.atomic
def plan_offer(*, plan: Plan, user: User, today: date, expected_total: Decimal | None = None) -> Proposal:
    """Freeze the draft as the practice's next numbered proposal. Raises Refused, with what is in the way.

    `expected_total` is the price that the person saw; a plan that has come to another since is not offered.
    """
    draft(plan)
    plan = plans_whole().get(pk=plan.pk)
    prices = prices_of(plan)
    reckoned = reckon(plan, prices, today)
    outcome = reckoned.outcome
    if outcome is None:
        raise Refused(*(reckoned.problems or [gettext("There is no field in this plan yet.")]))
    if waiting := in_the_way(outcome.findings, accepted_keys(plan)):
        raise Refused(*waiting)
    change = to_be_changed(plan, outcome)
    total = change.price if change else outcome.estimate.total.total.dollars
    if expected_total is not None and total != expected_total:
        said = gettext(
            "The price has changed since you looked: it is {price} now. Look again before you offer."
        )
        raise Refused(said.format(price=f"${total:,.2f}"))
    accepted = accepted_cautions(plan, outcome.findings)
    revision = next_revision(plan)
    number = next_number(plan.practice)
    logo = logo_kept(plan.practice)
    told: dict[str, Any] = {"number": str(number), "offered_on": today, "accepted_cautions": accepted}
    told["logo"] = bytes(logo.png) if logo else None
    beside = NOTHING if change else beside_of(plan, outcome, prices)
    pdf = (
        change.pdf(why=plan.why, **told)
        if change
        else proposal_pdf(outcome, revision=revision, beside=beside, **told)
    )
    proposal = Proposal.objects.create(
        practice=plan.practice,
        plan=plan,
        number=number,
        revision=revision,
        total_usd=total,
        inputs=wire.job_file_json(outcome.job, prices),
        result=wire.plan_json(outcome),
        beside=beside_json(beside),
        logo=logo,
        pdf=pdf,
        sha256=hashlib.sha256(pdf).hexdigest(),
        program_sha256=program_sha256(),
        offered_on=today,
        valid_until=today + timedelta(days=plan.valid_days),
        offered_by=user,
        offered_by_name=str(user),
        why=plan.why,
        changes=change.proposal if change else None,
        before=wire.plan_json(change.before) if change else "",
        accepted_cautions=[
            {"key": one.key, "accepted_by": one.accepted_by, "reason": one.reason, "on": one.on.isoformat()}
            for one in accepted
        ],
    )
    become(plan, State.OFFERED, today)
    return proposal


def to_be_changed(plan: Plan, outcome: Outcome) -> ChangeOffer | None:
    """What a change is set against; None for another plan. Raises Refused where something is missing."""
    if not plan.is_change:
        return None
    try:
        change = change_offer(plan, outcome)
    except ValueError as unsound:
        raise Refused(sentence(str(unsound))) from None
    if not plan.why.strip():
        raise Refused(gettext("Say why the agreed work changes: the client reads it in the change order."))
    return change


def in_the_way(findings: Sequence[Finding], accepted_keys: Iterable[str]) -> list[str]:
    """What keeps a plan from being offered: every stop, and every caution that nobody has accepted."""
    stops = [
        gettext("Stop: {message}").format(message=finding.message)
        for finding in findings
        if finding.severity == "stop"
    ]
    cautions = [
        gettext("Caution not yet accepted: {message}").format(message=finding.message)
        for finding in unaccepted(findings, accepted_keys)
    ]
    return stops + cautions


def next_number(practice: Practice) -> int:
    ProposalCounter.objects.get_or_create(practice=practice)
    counter = ProposalCounter.objects.select_for_update(of=("self",)).get(practice=practice)
    counter.last += 1
    counter.save()
    return counter.last


@transaction.atomic
def plan_move(*, plan: Plan, state: State, today: date) -> Plan:
    """Bring a plan into another state than offered. Raises Refused where the way there is not open."""
    held = locked(plan)
    if state == State.OFFERED:
        raise ValueError("a plan becomes offered by plan_offer alone")
    if not held.may_become(state):
        raise Refused(cannot_become(held, state))
    if state == State.DRAFT:
        held.why = ""
        held.save(update_fields=["why"])
    return become(held, state, today)


def cannot_become(plan: Plan, state: State) -> str:
    said = gettext("A plan that is {state} cannot become {wanted}.")
    return said.format(state=plan.get_state_display().lower(), wanted=state.label.lower())


def become(plan: Plan, state: State, today: date) -> Plan:
    plan.state = state
    plan.state_on = today
    if state in (State.AGREED, State.TAKEN_IN):
        plan.agreed_on = today
    plan.save(update_fields=["state", "state_on", "agreed_on", "changed_at"])
    return plan


# The price list


@transaction.atomic
def price_save(*, row: PriceRow) -> PriceRow:
    """Save a row that someone of the practice typed or changed, and so has checked."""
    return save(row, unchecked=False)


@transaction.atomic
def prices_confirm(*, model: type[PriceRow], pks: Iterable[int]) -> int:
    """Mark rows as checked; how many were not before."""
    return model.objects.filter(pk__in=list(pks), unchecked=True).update(unchecked=False)


@transaction.atomic
def hauling_save(*, practice: Practice, usd_per_mile: Decimal) -> Practice:
    return save(practice, hauling_usd_per_mile=usd_per_mile, hauling_unchecked=False)


@transaction.atomic
def price_remove(*, row: PriceRow) -> None:
    row.delete()
