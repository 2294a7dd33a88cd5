"""What the screens ask of the database, in few queries, and what the planning service makes of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, Q, QuerySet
from django.utils import timezone

from consulting.models import AdjuvantPrice, PlantPrice, Practice, Product, SeedPrice, SupplyPrice, WorkRate
from plans import facts
from plans.documents.closing import AcceptedCaution
from plans.models import Conversion, Plan, Proposal, State
from plans.planning import wire
from plans.planning.plan import Finding
from plans.planning.plan import Plan as Outcome
from plans.planning.planner import plan_job
from plans.planning.price_list import PriceList, signed_first
from plans.planning.tables import TableError
from sites.models import Exclusion


def plans_whole() -> QuerySet[Plan]:
    """Plans with all that a job and its page read: nine queries however many fields and species."""
    conversions = (
        Conversion.objects.select_related("field", "mix")
        .prefetch_related(
            "mix__lines",
            Prefetch("field__exclusions", queryset=Exclusion.objects.select_related("landmark")),
        )
        .order_by("pk")
    )
    return Plan.objects.select_related("practice__own_look", "farm__client", "changes").prefetch_related(
        Prefetch("conversions", queryset=conversions),
        "acceptances",
        "options",
        "farm__observations",
        "farm__landmarks",
        "practice__ownspecies_set",
    )


def prices_for(practice: Practice) -> PriceList:
    """The practice's whole price list: six queries."""
    return PriceList(
        seed=tuple(facts.seed_price_of(row) for row in SeedPrice.objects.all()),
        products=tuple(facts.product_of(row) for row in Product.objects.all()),
        adjuvants=tuple(facts.adjuvant_price_of(row) for row in AdjuvantPrice.objects.all()),
        work=tuple(facts.work_rate_of(row) for row in WorkRate.objects.all()),
        plants=tuple(facts.plant_price_of(row) for row in PlantPrice.objects.all()),
        supplies=tuple(facts.supply_price_of(row) for row in SupplyPrice.objects.all()),
        hauling_usd_per_mile=practice.hauling_usd_per_mile,
        hauling_unchecked=practice.hauling_unchecked,
    )


def prices_of(plan: Plan, listed: PriceList | None = None) -> PriceList:
    """What a plan is priced with: the price list and, for a change, what was signed before it.

    `listed` spares reading the list again. What was agreed keeps its price; labels are today's.
    """
    listed = listed or prices_for(plan.practice)
    agreed = proposals_in_force([plan.changes]).only("inputs").last() if plan.changes else None
    if agreed is None:
        return listed
    try:
        return signed_first(wire.read_job_file(agreed.inputs).prices, listed)
    except wire.BadInput:
        return listed


@dataclass(frozen=True, slots=True)
class Reckoned:
    """A plan worked out, or the sentences that say why it could not be."""

    outcome: Outcome | None = None
    problems: tuple[str, ...] = ()


def reckon(plan: Plan, prices: PriceList, today: date) -> Reckoned:
    """Work out a plan from `plans_whole`; one without a field has neither outcome nor problem."""
    if not plan.conversions.all():
        return Reckoned()
    if plan.is_change:
        take_log(plan)
    try:
        return Reckoned(outcome=plan_job(facts.job_of(plan), prices, today))
    except TableError:
        raise
    except ValueError as unsound:
        message = str(unsound)
        return Reckoned(problems=(f"{message[:1].upper()}{message[1:]}",))


def take_log(change: Plan) -> None:
    """What was done on the agreed plan up to now, in the rows of a change to it as they were read."""
    logs = dict(Conversion.objects.filter(plan=change.changes_id).values_list("field", "log"))
    for row in change.conversions.all():
        row.log = logs.get(row.field_id, [])


def proposals_in_force(plans: Iterable[Plan]) -> QuerySet[Proposal]:
    """What was offered of these plans, and the change orders that were taken in; the latest last."""
    wanted = [plan.pk for plan in plans]
    taken_in = Q(plan__changes__in=wanted, plan__state=State.TAKEN_IN)
    return Proposal.objects.filter(Q(plan__in=wanted) | taken_in).order_by("number")


def latest_proposal(plan: Plan) -> Proposal | None:
    """What stands: the latest that was offered of a plan, or the latest change order taken in there."""
    return proposals_in_force([plan]).defer("inputs", "pdf", "before").last()


def chain_in_force(plan: Plan) -> list[Proposal]:
    """The proposal that stands and the change orders taken in since, in order; whole rows but the PDF."""
    rows = list(proposals_in_force([plan]).defer("pdf"))
    first = max((at for at, row in enumerate(rows) if not row.is_change_order), default=0)
    return rows[first:]


def revisions_of(plan: Plan) -> QuerySet[Proposal]:
    """All that was ever offered of a plan and of the changes to it, in order; light rows."""
    whole = plan.changes_id or plan.pk
    rows = Proposal.objects.filter(Q(plan=whole) | Q(plan__changes=whole)).select_related("plan")
    return rows.defer("inputs", "result", "before", "pdf").order_by("number")


def next_revision(plan: Plan) -> int:
    return revisions_of(plan).count() + 1


MOST_KEPT = 100
"""Of some 300 kB each."""
_read_lately: dict[bytes, Outcome] = {}


def frozen_outcome(proposal: Proposal) -> Outcome | None:
    """The plan as it was offered; None when it was stored by a version that wrote it differently.

    The PDF is the record: it never needs reading by us. What was read lately is kept in this process, as it
    never changes and one takes 6 ms.
    """
    key = sha256(proposal.result.encode()).digest()
    # Taken out and put back: the first in the dictionary is the one that nobody asked for longest.
    outcome = _read_lately.pop(key, None)
    if outcome is None:
        try:
            outcome = wire.read_plan(proposal.result)
        except wire.BadInput:
            return None
    _read_lately[key] = outcome
    for oldest in list(_read_lately)[:-MOST_KEPT]:
        _read_lately.pop(oldest, None)
    return outcome


def accepted_keys(plan: Plan) -> set[str]:
    return {acceptance.finding_key for acceptance in plan.acceptances.all()}


def accepted_cautions(plan: Plan, findings: Iterable[Finding]) -> list[AcceptedCaution]:
    """The cautions among `findings` that somebody accepted, as they are printed."""
    found = {acceptance.finding_key: acceptance for acceptance in plan.acceptances.all()}
    zone = ZoneInfo(plan.practice.time_zone)
    return [
        AcceptedCaution(
            key=finding.key,
            accepted_by=acceptance.accepted_by_name,
            reason=acceptance.reason,
            on=timezone.localdate(acceptance.at, timezone=zone),
        )
        for finding in findings
        if finding.severity == "caution" and (acceptance := found.get(finding.key))
    ]


def unaccepted(findings: Iterable[Finding], accepted_keys: Iterable[str]) -> list[Finding]:
    """The cautions that nobody has accepted yet."""
    accepted = set(accepted_keys)
    return [finding for finding in findings if finding.severity == "caution" and finding.key not in accepted]
