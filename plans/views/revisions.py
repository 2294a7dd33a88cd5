"""Revisions side by side, why they differ, and the start of a change to agreed work."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.policy import Right
from plans import services
from plans.changing import change_start
from plans.documents.changes_sheet import Sides, changes_pdf, price_words
from plans.documents.words import sentence
from plans.forms.plans import WhyForm
from plans.manners import manner_of, speaking
from plans.models import Plan
from plans.revisions import Compared, Revision, chosen, compared, revisions
from plans.selectors import plans_whole
from plans.views.offers import as_file, file_stem
from plans.views.plans import short_form


def pair_of(request: PracticeRequest, plan: Plan) -> tuple[list[Revision], Compared | None, str]:
    """The revisions, the two asked for beside each other, and why they could not be."""
    found = revisions(plan)
    pair = chosen(found, request.GET.get("from", ""), request.GET.get("to", ""))
    if pair is None:
        return found, None, ""
    try:
        return found, compared(plan, *pair, today_for(request.practice)), ""
    except ValueError as unsound:
        return found, None, sentence(str(unsound))


@require_safe
@practice_view(Right.SEE_PRICES)
def changes(request: PracticeRequest, pk: int) -> HttpResponse:
    plan = get_object_or_404(plans_whole(), pk=pk)
    found, beside, problem = pair_of(request, plan)
    context = {
        "plan": plan,
        "revisions": found,
        "beside": beside,
        "problem": problem,
        "price": price_words(beside.changes.difference) if beside else "",
    }
    return render(request, "plans/changes.html", context)


@require_safe
@practice_view(Right.SEE_PRICES)
def pdf(request: PracticeRequest, pk: int) -> HttpResponse:
    plan = get_object_or_404(plans_whole(), pk=pk)
    with speaking(manner_of(request.practice, plan.farm.client)):
        _, beside, problem = pair_of(request, plan)
        content = changes_pdf(sides_of(plan, beside), on=today_for(request.practice)) if beside else b""
    if not content:
        messages.error(
            request, problem or gettext("There are no two revisions to set beside each other yet.")
        )
        return redirect("plan_changes", request.practice.slug, pk)
    return as_file(content, "application/pdf", f"changes-{file_stem(plan.title)}.pdf", inline=True)


def sides_of(plan: Plan, beside: Compared) -> Sides:
    return Sides(
        title=plan.title,
        practice=plan.practice.name,
        client=plan.farm.client.name,
        farm=plan.farm.name,
        before=beside.before,
        after=beside.after,
        difference=beside.changes.difference,
        why=beside.why,
        reasons=beside.reasons,
        briefs=beside.briefs,
        ground=beside.ground,
        mix=beside.mix,
        steps=beside.steps,
        years=beside.years,
        price_before=beside.changes.before,
        price_after=beside.changes.after,
    )


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def why(request: PracticeRequest, pk: int) -> HttpResponse:
    return short_form(request, pk, WhyForm, gettext("Why this revision"))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.OFFER)
def start(request: PracticeRequest, pk: int) -> HttpResponse:
    """Begin a change to agreed work, after asking; one that is begun already is opened."""
    plan = get_object_or_404(Plan, pk=pk)
    back = reverse("plan", args=[request.practice.slug, pk])
    if request.method == "POST":
        try:
            begun = change_start(plan=plan, today=today_for(request.practice))
        except services.Refused as refused:
            messages.error(request, str(refused))
            return redirect(back)
        messages.success(
            request, gettext("This draft begins as the agreed work stands. Change it, then offer it.")
        )
        return redirect("plan", request.practice.slug, begun.pk)
    context = {
        "title": gettext("Start a change order?"),
        "text": gettext(
            "The agreed plan and its visits stay as they are until the client says yes to the change. "
            "What was agreed keeps its price; what is new is priced from today’s list."
        ),
        "act": gettext("Start it"),
        "of": plan.title,
        "back": back,
    }
    return render(request, "confirm.html", context)
