"""A plan's letters: reading one over and sending it, and what went to the client."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.formkit import show_errors
from consulting.letters import Letter
from consulting.outbox import Enclosed
from consulting.policy import Right
from plans.client_documents import key_of_report
from plans.documents.words import lower_first
from plans.forms.mailing import SendForm
from plans.mailing import Draft, about
from plans.models import Plan, Proposal, SentReport, State
from plans.selectors import latest_proposal
from plans.sending import offer_letter, report_letter, send_off


@require_safe
@practice_view(Right.SEE_PRICES)
def letters(request: PracticeRequest, pk: int) -> HttpResponse:
    plan = get_object_or_404(Plan.objects.select_related("farm__client"), pk=pk)
    rows = Letter.objects.filter(about__in=[about(plan), about(plan.farm)]).defer("text")
    return render(request, "plans/letters.html", {"plan": plan, "letters": rows})


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.OFFER)
def offer(request: PracticeRequest, number: int) -> HttpResponse:
    """Send a proposal that stands open."""
    rows = Proposal.objects.select_related("plan__farm__client", "plan__practice").defer("inputs", "result")
    found: Proposal = get_object_or_404(rows, number=number)
    latest = latest_proposal(found.plan)
    if found.plan.state != State.OFFERED or latest is None or latest.pk != found.pk:
        messages.error(request, _("Only a proposal that stands open is sent. This one does not any more."))
        return redirect("proposal", request.practice.slug, number)
    name = f"proposal-{found.number}-revision-{found.revision}.pdf"
    return send_page(
        request,
        plan=found.plan,
        what=f"offer:{found.number}",
        title=_("Send proposal {number} by e-mail").format(number=found.number),
        draft=offer_letter(found),
        enclosed=Enclosed(name, bytes(found.pdf)),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.OFFER)
def report(request: PracticeRequest, pk: int) -> HttpResponse:
    """Send a season report, the very bytes that were frozen."""
    rows = SentReport.objects.select_related("plan__farm__client", "plan__practice").defer("content")
    sent: SentReport = get_object_or_404(rows, pk=pk)
    return send_page(
        request,
        plan=sent.plan,
        what=f"report:{sent.pk}",
        title=_("Send the {report} by e-mail").format(report=lower_first(str(sent))),
        draft=report_letter(sent),
        enclosed=Enclosed(f"{key_of_report(sent)}.pdf", bytes(sent.pdf)),
    )


def send_page(
    request: PracticeRequest, *, plan: Plan, what: str, title: str, draft: Draft, enclosed: Enclosed
) -> HttpResponse:
    """A letter to the client to be read over, changed and sent; `what` names its kind among the letters."""

    def page_at(key: str) -> str:
        return request.build_absolute_uri(reverse("client_page", args=[key]))

    form = SendForm(request.POST if request.method == "POST" else None, draft=draft, enclosed=enclosed)
    if form.is_valid():
        typed = form.cleaned_data
        try:
            send_off(
                plan=plan,
                what=what,
                uid=typed["uid"],
                user=request.user,
                draft=form.draft(),
                enclosed=(enclosed,) if typed["enclose"] else (),
                page_at=page_at if typed["page"] else None,
            )
        except ValidationError as refused:
            show_errors(form, refused)
        else:
            messages.success(
                request, _("The letter to {address} waits to be sent.").format(address=typed["to"])
            )
            return redirect("plan_letters", request.practice.slug, plan.pk)
    context = {
        "form": form,
        "title": title,
        "plan": plan,
        "client_url": reverse("client_edit", args=[request.practice.slug, plan.farm.client_id]),
    }
    return render(request, "plans/send.html", context, status=422 if form.errors else 200)
