"""One plan on a page: what to look at first, the choices, and all that follows from them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe
from django_htmx.http import retarget

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.policy import Right, may
from plans import services
from plans.acts import acts_for
from plans.beside import compared, kept_beside
from plans.change_offer import ChangeOffer, change_offer
from plans.changing import RUNNING, open_change
from plans.client_links import unanswered
from plans.documents.wall_sheet import sheets_for
from plans.forms.plans import ChoicesForm, ReasonForm
from plans.manners import manner_of
from plans.models import Plan
from plans.option_rows import option_rows
from plans.pages import FindingGroup, finding_groups, sheet
from plans.planning.options import Option
from plans.planning.plan import Finding
from plans.planning.plan import Plan as Outcome
from plans.planning.slips import Slip, slips
from plans.selectors import (
    Reckoned,
    frozen_outcome,
    latest_proposal,
    plans_whole,
    prices_of,
    reckon,
    revisions_of,
    unaccepted,
)
from sites.models import Field


@require_safe
@practice_view(Right.SEE_PRICES)
def page(request: PracticeRequest, pk: int) -> HttpResponse:
    return plan_page(request, get_object_or_404(plans_whole(), pk=pk))


def plan_page(
    request: PracticeRequest,
    plan: Plan,
    *,
    choices: ChoicesForm | None = None,
    reason: ReasonForm | None = None,
) -> HttpResponse:
    context = page_context(request, plan)
    editable = context["editable"]
    in_plan = {conversion.field_id for conversion in plan.conversions.all()}
    context |= {
        "choices": choices or (ChoicesForm(plan=plan) if editable and in_plan else None),
        "reason": reason,
        "refused_at": group_of(reason, context["findings"]) if reason and reason.errors else "",
        "spare_fields": Field.objects.filter(farm=plan.farm_id).exclude(pk__in=in_plan) if editable else [],
        "acts": acts_for(plan, request.membership),
        "unanswered": unanswered(plan),
        "has_visits": not plan.is_draft and plan.visits.exists(),
        "change": open_change(plan) if plan.state in RUNNING else None,
        "may_change": plan.state in RUNNING and may(request.membership, Right.OFFER),
        "revision_count": revisions_of(plan).count() + plan.is_draft,
        "form": choices or reason,
    }
    failed = (choices and choices.errors) or (reason and reason.errors)
    return render(request, "plans/plan.html", context, status=422 if failed else 200)


def group_of(reason: ReasonForm, groups: list[FindingGroup]) -> str:
    """The id of the group that a reason was typed for; empty when that caution is gone."""
    key = reason["key"].value()
    return next((group.id for group in groups if any(finding.key == key for finding in group.findings)), "")


def page_context(request: PracticeRequest, plan: Plan) -> dict[str, Any]:
    """What the findings and the worked-out part of the page need."""
    latest = latest_proposal(plan)
    reckoned, missed, options = worked_out(request, plan, latest)
    accepted = {acceptance.finding_key: acceptance for acceptance in plan.acceptances.all()}
    outcome = reckoned.outcome
    return {
        "plan": plan,
        "latest": latest,
        "editable": plan.is_draft and may(request.membership, Right.EDIT_RECORDS),
        "problems": reckoned.problems,
        "outcome": outcome,
        "findings": with_links(request, plan, finding_groups(outcome.findings, accepted)) if outcome else [],
        "sheet": sheet(outcome) if outcome else None,
        "slips": missed,
        "options": option_rows(options),
        "wall_sheets": sheets_for(manner_of(request.practice).paper),
        "blocked": in_the_way_in_short(outcome.findings, set(accepted)) if outcome else "",
        "changing": set_against(plan, outcome),
    }


def set_against(plan: Plan, outcome: Outcome | None) -> ChangeOffer | None:
    """What a draft of a change does to the agreed price; None for other plans, or where that is not known."""
    if not (plan.is_change and plan.is_draft and outcome):
        return None
    try:
        return change_offer(plan, outcome)
    except ValueError:
        return None


def in_the_way_in_short(findings: Iterable[Finding], accepted: set[str]) -> str:
    """`2 stops and 1 caution first`; empty when the plan can be offered."""
    findings = list(findings)
    stops = sum(finding.severity == "stop" for finding in findings)
    cautions = len(unaccepted(findings, accepted))
    said = [f"{n} {word}{'s' if n > 1 else ''}" for n, word in ((stops, "stop"), (cautions, "caution")) if n]
    return f"{' and '.join(said)} first" if said else ""


PRICE_RULES = frozenset(
    "no_price unchecked_price old_test future_test no_test_date label_rate_high label_rate_low "
    "season_max".split()
)


def with_links(request: PracticeRequest, plan: Plan, groups: list[FindingGroup]) -> list[FindingGroup]:
    """The findings with the pages where each can be mended."""
    slug = request.practice.slug
    fields = {conversion.field.name: conversion.field_id for conversion in plan.conversions.all()}

    def links(group: FindingGroup) -> Iterator[tuple[str, str]]:
        if group.rule in PRICE_RULES:
            yield _("Open the price list"), reverse("prices", args=[slug])
        elif group.rule == "restricted_no_licence" and may(request.membership, Right.RUN_PRACTICE):
            yield _("Enter your license"), reverse("practice_details", args=[slug])
        for name in dict.fromkeys(finding.field for finding in group.findings):
            if name in fields:
                yield (
                    _("Change {name}").format(name=name),
                    reverse("conversion", args=[slug, plan.pk, fields[name]]),
                )

    return [replace(group, links=tuple(links(group))) for group in groups]


def worked_out(
    request: PracticeRequest, plan: Plan, latest: Any
) -> tuple[Reckoned, tuple[Slip, ...], tuple[Option, ...]]:
    """A draft is reckoned as of today, with what missing a window would cost and the options that it shows.

    An offer is shown as frozen.
    """
    if latest is not None and not plan.is_draft:
        return Reckoned(outcome=frozen_outcome(latest)), (), kept_beside(latest).options
    prices, today = prices_of(plan), today_for(request.practice)
    reckoned = reckon(plan, prices, today)
    if reckoned.outcome is None:
        return reckoned, (), ()
    missed = slips(reckoned.outcome.job, prices, today)
    return reckoned, missed, compared(plan, reckoned.outcome, prices)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def choices(request: PracticeRequest, pk: int) -> HttpResponse:
    """Keep changed choices and show what follows: a part of the page for htmx, else the page again."""
    plan = get_object_or_404(plans_whole(), pk=pk)
    form = ChoicesForm(request.POST, plan=plan)
    if not form.is_valid():
        if not request.htmx:
            return plan_page(request, plan, choices=form)
        return retarget(
            render(request, "plans/_choice_errors.html", {"choices": form}, status=422), "#choice-errors"
        )
    try:
        services.choices_save(plan=plan, conversions=form.changed(), **form.pricing())
    except services.Refused as refused:
        messages.error(request, str(refused))
        return redirect("plan", request.practice.slug, pk)
    if not request.htmx:
        return redirect(reverse("plan", args=[request.practice.slug, pk]) + "#choices")
    return render(request, "plans/_after_choices.html", page_context(request, plan))


@require_POST
@practice_view(Right.EDIT_RECORDS)
def accept(request: PracticeRequest, pk: int) -> HttpResponse:
    """Accept the cautions named by `key`, for one reason."""
    plan = get_object_or_404(plans_whole(), pk=pk)
    form = ReasonForm(request.POST)
    if not form.is_valid():
        return plan_page(request, plan, reason=form)
    reckoned = reckon(plan, prices_of(plan), today_for(request.practice))
    keys = set(request.POST.getlist("key"))
    found = (
        [finding for finding in reckoned.outcome.findings if finding.key in keys] if reckoned.outcome else []
    )
    try:
        services.cautions_accept(
            plan=plan, findings=found, reason=form.cleaned_data["reason"], user=request.user
        )
        messages.success(
            request, _("Accepted, with your name and reason.") if found else _("That caution is gone.")
        )
    except services.Refused as refused:
        messages.error(request, str(refused))
    return redirect(reverse("plan", args=[request.practice.slug, pk]) + "#findings")


@require_POST
@practice_view(Right.EDIT_RECORDS)
def unaccept(request: PracticeRequest, pk: int) -> HttpResponse:
    plan = get_object_or_404(Plan, pk=pk)
    try:
        services.cautions_unaccept(plan=plan, finding_keys=request.POST.getlist("key"))
        messages.success(request, _("The acceptance is taken back."))
    except services.Refused as refused:
        messages.error(request, str(refused))
    return redirect(reverse("plan", args=[request.practice.slug, pk]) + "#findings")
