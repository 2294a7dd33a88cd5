"""The first page of a practice: a way to the first quote, then what stands where."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.models import (
    AdjuvantPrice,
    Client,
    Letter,
    PlantPrice,
    Practice,
    Product,
    SeedPrice,
    SupplyPrice,
    WorkRate,
)
from consulting.policy import Right, may
from plans.client_links import unanswered
from plans.models import Mix, Plan, Proposal, State
from plans.selectors import accepted_keys, plans_whole, prices_for, prices_of, reckon, unaccepted
from sites.models import Farm, Field

DRAFTS_READ = 12
AT_WORK = (State.AGREED, State.UNDER_WAY, State.IN_UPKEEP)
STATES_SHOWN = (State.DRAFT, State.OFFERED, *AT_WORK)


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do on the way to the first quote."""

    label: str
    text: str
    done: bool
    url: str


@dataclass(frozen=True, slots=True)
class Waiting:
    """A draft and what keeps it from being offered."""

    plan: Plan
    stops: int
    cautions: int
    problem: str


@require_safe
@practice_view(Right.SEE_WORK)
def overview(request: PracticeRequest) -> HttpResponse:
    if not may(request.membership, Right.SEE_PRICES):
        return render(request, "plans/overview_crew.html", {"plans": at_work()})
    if not Proposal.objects.exists():
        return render(request, "plans/overview_new.html", {"tasks": way_to_first_quote(request.practice)})
    counts = dict(Plan.objects.order_by().values_list("state").annotate(Count("pk")))
    context = {
        "states": [(state.value, state.label, counts[state]) for state in STATES_SHOWN if state in counts],
        "asked": unanswered(),
        "waiting": waiting(request.practice),
        "offered": Plan.objects.filter(state=State.OFFERED).select_related("farm__client")[:DRAFTS_READ],
        "unchecked": unchecked_prices(request.practice),
        "at_work": at_work(),
        "unsent": Letter.objects.filter(state__in=Letter.TROUBLE).count(),
    }
    return render(request, "plans/overview.html", context)


def at_work() -> list[Plan]:
    rows = Plan.objects.filter(state__in=AT_WORK).select_related("farm").order_by("title", "pk")
    return list(rows.prefetch_related("conversions__field")[:50])


def unchecked_prices(practice: Practice) -> int:
    rows = sum(
        model.objects.filter(unchecked=True).count()
        for model in (SeedPrice, PlantPrice, SupplyPrice, Product, AdjuvantPrice, WorkRate)
    )
    return rows + practice.hauling_unchecked


def waiting(practice: Practice) -> list[Waiting]:
    """The drafts changed last, with what is in the way of each."""
    drafts = list(plans_whole().filter(state=State.DRAFT)[:DRAFTS_READ])
    if not drafts:
        return []
    prices, today = prices_for(practice), today_for(practice)
    found = []
    for plan in drafts:
        reckoned = reckon(plan, prices_of(plan, prices), today)
        findings = reckoned.outcome.findings if reckoned.outcome else ()
        found.append(
            Waiting(
                plan=plan,
                stops=sum(finding.severity == "stop" for finding in findings),
                cautions=len(unaccepted(findings, accepted_keys(plan))),
                problem=reckoned.problems[0] if reckoned.problems else "",
            )
        )
    return found


def way_to_first_quote(practice: Practice) -> list[Task]:
    def to(name: str, *args: object) -> str:
        return reverse(name, args=[practice.slug, *args])

    client = Client.objects.order_by("pk").first()
    farm = Farm.objects.order_by("pk").first()
    field = Field.objects.order_by("pk").exists()
    plan = Plan.objects.order_by("pk").first()
    unchecked = unchecked_prices(practice)
    return [
        Task(
            _("Say who you are"),
            _("Address, phone and license line, as they stand at the head of a proposal."),
            bool(practice.address and practice.phone),
            to("practice_details"),
        ),
        Task(
            _("Look over the price list"),
            ngettext(
                "{count} price is only a start: put in your own and confirm it.",
                "{count} prices are only a start: put in your own and confirm them.",
                unchecked,
            ).format(count=unchecked)
            if unchecked
            else _("Every price is confirmed."),
            not unchecked,
            to("prices"),
        ),
        Task(
            _("Make a mix"),
            _("Species and amounts; the sums follow as you type."),
            Mix.objects.exists(),
            to("mixes"),
        ),
        Task(
            _("Put a client on your books"),
            _("Who the proposal is addressed to."),
            client is not None,
            to("client_new"),
        ),
        Task(
            _("Add the farm"),
            _("Where it lies sets the year: frost, first growth, planting."),
            farm is not None,
            to("farm_new", client.pk) if client else "",
        ),
        Task(
            _("Add its fields"),
            _("Acres, slope and what grows there now."),
            field,
            to("field_new", farm.pk) if farm else "",
        ),
        Task(
            _("Plan the fields"),
            _("A mix, a kill program and a start for each. The price moves as you choose."),
            plan is not None,
            to("plan", plan.pk) if plan else to("plan_new", farm.pk) if farm else "",
        ),
        Task(
            _("Offer it"),
            _("See to what the plan points out, then freeze and print the proposal."),
            False,
            to("plan_offer", plan.pk) if plan and plan.is_draft else "",
        ),
    ]
