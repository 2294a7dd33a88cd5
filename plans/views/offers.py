"""Offering a plan, what follows from it, and the proposals that stay on record."""

from __future__ import annotations

from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.opened import unmoved
from consulting.policy import Right
from consulting.services import logo_png
from plans import services
from plans.acts import ACTS
from plans.agreements import agreement_of
from plans.beside import beside_of, kept_beside
from plans.change_offer import change_offer
from plans.documents.changed import difference_words
from plans.documents.proposal import proposal_pdf
from plans.documents.sheet import estimate_csv
from plans.documents.words import sentence
from plans.models import Plan, Proposal
from plans.option_rows import option_rows
from plans.pages import sheet
from plans.planning.beside import Beside
from plans.planning.plan import Plan as Outcome
from plans.selectors import (
    accepted_cautions,
    accepted_keys,
    frozen_outcome,
    latest_proposal,
    next_revision,
    plans_whole,
    prices_of,
    reckon,
    revisions_of,
)


def outcome_of(request: PracticeRequest, plan: Plan) -> Outcome:
    """The plan as its page shows it. 404 while it cannot be worked out."""
    latest = latest_proposal(plan)
    if latest is not None and not plan.is_draft:
        return there(frozen_outcome(latest))
    return there(reckon(plan, prices_of(plan), today_for(request.practice)).outcome)


def there(outcome: Outcome | None) -> Outcome:
    if outcome is None:
        raise Http404("nothing is worked out yet")
    return outcome


def printed_of(request: PracticeRequest, plan: Plan) -> tuple[Outcome, Beside]:
    """The plan as its page shows it and what is printed beside it. 404 while it cannot be worked out."""
    latest = latest_proposal(plan)
    if latest is not None and not plan.is_draft:
        return there(frozen_outcome(latest)), kept_beside(latest)
    prices = prices_of(plan)
    outcome = there(reckon(plan, prices, today_for(request.practice)).outcome)
    return outcome, beside_of(plan, outcome, prices)


XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def as_file(content: bytes, kind: str, name: str, *, inline: bool = False) -> HttpResponse:
    """A file whose name is made of plain letters only."""
    response = HttpResponse(content, content_type=kind)
    way = "inline" if inline else "attachment"
    response["Content-Disposition"] = f'{way}; filename="{name}"'
    return response


def file_stem(*parts: object) -> str:
    return slugify(" ".join(str(part) for part in parts))[:80] or "plan"


@require_safe
@practice_view(Right.SEE_PRICES)
def draft_pdf(request: PracticeRequest, pk: int) -> HttpResponse:
    """The proposal as it would print today, titled Draft."""
    plan = get_object_or_404(plans_whole(), pk=pk)
    outcome, beside = printed_of(request, plan)
    told: dict[str, Any] = {
        "number": "",
        "offered_on": today_for(request.practice),
        "logo": logo_png(request.practice),
        "accepted_cautions": accepted_cautions(plan, outcome.findings),
    }
    if plan.is_change:
        try:
            content = change_offer(plan, outcome).pdf(why=plan.why, **told)
        except ValueError as unsound:
            messages.error(request, sentence(str(unsound)))
            return redirect("plan", request.practice.slug, pk)
    else:
        content = proposal_pdf(outcome, revision=next_revision(plan), beside=beside, **told)
    return as_file(content, "application/pdf", f"draft-{file_stem(plan.title)}.pdf", inline=True)


@require_safe
@practice_view(Right.SEE_PRICES)
def estimate(request: PracticeRequest, pk: int) -> HttpResponse:
    plan = get_object_or_404(plans_whole(), pk=pk)
    content = estimate_csv(outcome_of(request, plan)).encode()
    return as_file(content, "text/csv; charset=utf-8", f"estimate-{file_stem(plan.title)}.csv")


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.OFFER)
def offer(request: PracticeRequest, pk: int) -> HttpResponse:
    plan = get_object_or_404(plans_whole(), pk=pk)
    back = reverse("plan", args=[request.practice.slug, pk])
    if not plan.is_draft:
        messages.error(request, _("Only a draft can be offered."))
        return redirect(back)
    if request.method == "POST":
        return make_offer(request, plan)
    reckoned = reckon(plan, prices_of(plan), today_for(request.practice))
    outcome = reckoned.outcome
    waiting = (
        services.in_the_way(outcome.findings, accepted_keys(plan)) if outcome else list(reckoned.problems)
    )
    change = None
    if outcome and not waiting:
        try:
            change = services.to_be_changed(plan, outcome)
        except services.Refused as refused:
            waiting = list(refused.problems)
    context = {
        "plan": plan,
        "outcome": outcome,
        "waiting": waiting,
        "revision": next_revision(plan),
        "change": change,
        "price": change.price if change else outcome.estimate.total.total.dollars if outcome else None,
        "difference": difference_words(change.difference) if change else "",
    }
    return render(request, "plans/offer.html", context)


def make_offer(request: PracticeRequest, plan: Plan) -> HttpResponse:
    try:
        made = services.plan_offer(
            plan=plan,
            user=request.user,
            today=today_for(request.practice),
            expected_total=typed_total(request.POST.get("total", "")),
        )
    except services.Refused as refused:
        context = {"plan": plan, "outcome": None, "waiting": refused.problems, "refused": True}
        return render(request, "plans/offer.html", context, status=409)
    messages.success(
        request,
        _("{made} is on record and will not change. Print it, sign it, hand it over.").format(made=made),
    )
    return redirect("proposal", request.practice.slug, made.number)


def typed_total(text: str) -> Decimal | None:
    try:
        return Decimal(text)
    except InvalidOperation:
        return None


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.OFFER)
def move(request: PracticeRequest, pk: int, act: str) -> HttpResponse:
    """Bring a plan into its next state, after asking."""
    plan = get_object_or_404(Plan, pk=pk)
    if act not in ACTS:
        raise Http404("no such act")
    chosen = ACTS[act]
    back = reverse("plan", args=[request.practice.slug, pk])
    if request.method == "POST":
        unmoved(request, plan)
        try:
            services.plan_move(plan=plan, state=chosen.to, today=today_for(request.practice))
            messages.success(request, str(chosen.done))
        except services.Refused as refused:
            messages.error(request, str(refused))
        return redirect(back)
    if not plan.may_become(chosen.to):
        messages.error(request, services.cannot_become(plan, chosen.to))
        return redirect(back)
    context = {
        "title": chosen.question,
        "text": chosen.text,
        "act": chosen.label,
        "of": plan.title,
        "back": back,
        "records": [plan],
    }
    return render(request, "confirm.html", context)


@require_safe
@practice_view(Right.SEE_PRICES)
def proposals(request: PracticeRequest, pk: int) -> HttpResponse:
    plan = get_object_or_404(Plan.objects.select_related("farm__client"), pk=pk)
    rows = list(revisions_of(plan).reverse())
    return render(request, "plans/proposals.html", {"plan": plan, "proposals": with_standing(rows)})


def with_standing(rows: list[Proposal]) -> list[tuple[Proposal, str]]:
    """Each revision, the latest first, with what became of it."""
    seen: set[int] = set()
    found = []
    for row in rows:
        latest = row.plan_id not in seen
        seen.add(row.plan_id)
        if not latest:
            standing = _("Superseded")
        else:
            standing = _("Being revised") if row.plan.is_draft else row.plan.get_state_display()
        found.append((row, standing))
    return found


@require_safe
@practice_view(Right.SEE_PRICES)
def proposal(request: PracticeRequest, number: int) -> HttpResponse:
    """A frozen revision, read from what was stored and from nothing else."""
    rows = Proposal.objects.select_related("plan", "changes").defer("inputs", "pdf")
    found: Proposal = get_object_or_404(rows, number=number)
    latest = latest_proposal(found.plan)
    outcome = frozen_outcome(found)
    messages_by_key = {finding.key: finding.message for finding in outcome.findings} if outcome else {}
    context = {
        "proposal": found,
        "plan": found.plan,
        "superseded_by": latest if latest and latest.pk != found.pk else None,
        "outcome": outcome,
        "agreement": agreement_of(found),
        "accepted": [
            (kept, date.fromisoformat(kept["on"]), messages_by_key.get(kept["key"], ""))
            for kept in found.accepted_cautions
        ],
        "sheet": sheet(outcome) if outcome else None,
        "options": option_rows(kept_beside(found).options),
    }
    return render(request, "plans/proposal.html", context)


@require_safe
@practice_view(Right.SEE_PRICES)
def pdf(request: PracticeRequest, number: int) -> HttpResponse:
    """The very bytes that were offered."""
    found: Proposal = get_object_or_404(
        Proposal.objects.select_related("plan").defer("inputs", "result", "before"), number=number
    )
    kind = "change-order" if found.is_change_order else "proposal"
    name = f"{kind}-{found.number}-revision-{found.revision}-{file_stem(found.plan.title)}.pdf"
    return as_file(bytes(found.pdf), "application/pdf", name, inline="inline" in request.GET)
