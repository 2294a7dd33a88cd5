"""What the screens ask of the database, in few queries, and what the planning service makes of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from consulting.models import AdjuvantPrice, PlantPrice, Practice, Product, SeedPrice, SupplyPrice, WorkRate
from plans import facts
from plans.documents.closing import AcceptedCaution
from plans.documents.proposal import proposal_pdf
from plans.models import Conversion, Plan, Proposal
from plans.planning import wire
from plans.planning.plan import Finding
from plans.planning.plan import Plan as Outcome
from plans.planning.planner import plan_job
from plans.planning.price_list import PriceList
from plans.planning.tables import TableError
from sites.models import Exclusion


def plans_whole() -> QuerySet[Plan]:
    """Plans with all that a job and its page read: seven queries however many fields and species."""
    conversions = (
        Conversion.objects.select_related("field", "mix")
        .prefetch_related(
            "mix__lines",
            Prefetch("field__exclusions", queryset=Exclusion.objects.select_related("landmark")),
        )
        .order_by("pk")
    )
    return Plan.objects.select_related("practice__own_look", "farm__client").prefetch_related(
        Prefetch("conversions", queryset=conversions), "acceptances", "farm__observations", "farm__landmarks"
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


@dataclass(frozen=True, slots=True)
class Reckoned:
    """A plan worked out, or the sentences that say why it could not be."""

    outcome: Outcome | None = None
    problems: tuple[str, ...] = ()


def reckon(plan: Plan, prices: PriceList, today: date) -> Reckoned:
    """Work out a plan from `plans_whole`; one without a field has neither outcome nor problem."""
    if not plan.conversions.all():
        return Reckoned()
    try:
        return Reckoned(outcome=plan_job(facts.job_of(plan), prices, today))
    except TableError:
        raise
    except ValueError as unsound:
        message = str(unsound)
        return Reckoned(problems=(f"{message[:1].upper()}{message[1:]}",))


def latest_proposal(plan: Plan) -> Proposal | None:
    return plan.proposals.defer("inputs", "pdf").order_by("-revision").first()


def frozen_outcome(proposal: Proposal) -> Outcome | None:
    """The plan as it was offered; None when it was stored by a version that wrote it differently.

    The PDF is the record: it never needs reading by us.
    """
    try:
        return wire.read_plan(proposal.result)
    except wire.BadInput:
        return None


def reprinted(proposal: Proposal) -> bytes | None:
    """A proposal printed again from what was kept with it: the bytes that were offered.

    None when it was stored by a version that wrote it differently; another version may print other bytes.
    """
    outcome = frozen_outcome(proposal)
    if outcome is None:
        return None
    return proposal_pdf(
        outcome,
        number=str(proposal.number),
        revision=proposal.revision,
        offered_on=proposal.offered_on,
        logo=bytes(proposal.logo.png) if proposal.logo else None,
        accepted_cautions=[
            AcceptedCaution(**(one | {"on": date.fromisoformat(one["on"])}))
            for one in proposal.accepted_cautions
        ],
    )


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
