"""The practice's side of the client's page: the link, questions and answers, and what was agreed."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import attempt, show_errors
from consulting.policy import Right, may
from plans import agreements, client_links
from plans.agreements import agreement_of
from plans.client_pages import questions_of
from plans.documents.words import day
from plans.forms.client import AnswerForm, LinkForm, ScanForm, SignedForm
from plans.manners import speaking, spoken_to
from plans.models import Agreement, AgreementScan, ClientLink, Plan, Question, Refusal
from plans.proofs import proof, sound
from plans.selectors import latest_proposal
from plans.services import Refused
from plans.stages import was_agreed
from plans.views.offers import as_file


def plan_or_404(pk: int) -> Plan:
    return get_object_or_404(Plan.objects.select_related("practice", "farm__client"), pk=pk)


def _message(plan: Plan, link: ClientLink, address: str) -> str:
    """Words to send along with the link, as its client reads them."""
    client = plan.farm.client
    with speaking(spoken_to(plan.practice, client)):
        said = {"client": client.name, "plan": plan.title, "until": day(link.expires_on), "address": address}
        return render_to_string("plans/_link_message.txt", said | {"practice": plan.practice.name})


def side(
    request: PracticeRequest,
    plan: Plan,
    *,
    link_form: LinkForm | None = None,
    answer_form: AnswerForm | None = None,
    answering: int = 0,
    address: str = "",
) -> HttpResponse:
    today = today_for(request.practice)
    link = client_links.link_of(plan)
    matter = agreements.matter_of(plan)
    edits, offers = may(request.membership, Right.EDIT_RECORDS), may(request.membership, Right.OFFER)
    asked = [
        (
            question,
            answer_form if answering == question.pk else (AnswerForm(pk=question.pk) if edits else None),
        )
        for question in questions_of(plan)
    ]
    until = today + timedelta(days=client_links.USUAL_DAYS)
    wrong = link_form if link_form and link_form.errors else answer_form
    context = {
        "plan": plan,
        "link": link,
        "works": link is not None and link.works(today),
        "link_form": link_form or (LinkForm(until=until) if offers else None),
        "address": address,
        "message": _message(plan, link, address) if link and address else "",
        "asked": asked,
        "agreements": agreements.agreements_of(plan),
        "refusals": Refusal.objects.filter(Q(plan=plan) | Q(plan__changes=plan)).select_related("proposal"),
        "to_sign": matter if offers and may_be_signed(matter) else None,
        "form": wrong,
    }
    with timezone.override(ZoneInfo(request.practice.time_zone)):
        return render(
            request, "plans/client_side.html", context, status=422 if wrong and wrong.errors else 200
        )


def may_be_signed(plan: Plan) -> bool:
    """Whether a signature on paper can be entered for the latest revision."""
    proposal = latest_proposal(plan)
    if proposal is None or agreement_of(proposal):
        return False
    return plan.may_become(agreements.yes_of(plan)) or was_agreed(plan)


@require_safe
@practice_view(Right.SEE_PRICES)
def page(request: PracticeRequest, pk: int) -> HttpResponse:
    """A change to agreed work has no page of its own: it is answered on that of the plan that it changes."""
    plan = plan_or_404(pk)
    if plan.changes_id is not None:
        return redirect("client_side", request.practice.slug, plan.changes_id)
    return side(request, plan)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.OFFER)
def link(request: PracticeRequest, pk: int) -> HttpResponse:
    """Make a link; its address is shown this once. One that there was stops working."""
    plan = plan_or_404(pk)
    if request.method != "POST" or plan.changes_id is not None:
        return redirect("client_side", request.practice.slug, pk)
    today = today_for(request.practice)
    form = LinkForm(request.POST, until=today)
    made = (
        attempt(form, client_links.link_make, plan=plan, user=request.user, today=today)
        if form.is_valid()
        else None
    )
    if made is None:
        return side(request, plan, link_form=form)
    _, key = made
    address = request.build_absolute_uri(reverse("client_page", args=[key]))
    return side(request, plan, address=address)


@require_POST
@practice_view(Right.OFFER)
def revoke(request: PracticeRequest, pk: int) -> HttpResponse:
    client_links.link_revoke(plan=plan_or_404(pk))
    messages.success(request, gettext("That link opens nothing any more."))
    return redirect("client_side", request.practice.slug, pk)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def answer(request: PracticeRequest, pk: int) -> HttpResponse:
    question: Question = get_object_or_404(Question.objects.select_related("plan__farm__client"), pk=pk)
    form = AnswerForm(request.POST, pk=pk)
    given = (
        attempt(form, client_links.question_answer, question=question, user=request.user)
        if form.is_valid()
        else None
    )
    if given is None:
        return side(request, plan_or_404(question.plan_id), answer_form=form, answering=pk)
    messages.success(request, gettext("Answered. It stands on the client’s page."))
    return redirect(
        reverse("client_side", args=[request.practice.slug, question.plan_id]) + f"#question-{pk}"
    )


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.OFFER)
def signed(request: PracticeRequest, pk: int) -> HttpResponse:
    """The client has signed on paper: enter who, when, and a scan of it."""
    plan = plan_or_404(pk)
    back = reverse("plan", args=[request.practice.slug, pk])
    if not may_be_signed(plan):
        messages.error(
            request, gettext("Only a revision that stands offered, and was not agreed to yet, can be signed.")
        )
        return redirect(back)
    today = today_for(request.practice)
    initial = {"name": plan.farm.client.name, "signed_on": today}
    form = SignedForm(request.POST or None, request.FILES or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            attempted = attempt(form, agreements.agree_on_paper, plan=plan, user=request.user, today=today)
        except Refused as refused:
            messages.error(request, str(refused))
            return redirect(back)
        if attempted:
            messages.success(request, gettext("Agreed. Good work."))
            return redirect(back)
    context: dict[str, Any] = {"plan": plan, "proposal": latest_proposal(plan), "form": form}
    return render(request, "plans/signed.html", context, status=422 if form.errors else 200)


@require_safe
@practice_view(Right.SEE_PRICES)
def agreement(request: PracticeRequest, number: int) -> HttpResponse:
    return agreement_page(request, agreement_or_404(number))


def agreement_or_404(number: int) -> Agreement:
    rows = Agreement.objects.select_related("plan", "proposal", "proposal__practice")
    return get_object_or_404(rows, number=number)


def agreement_page(request: PracticeRequest, found: Agreement, form: ScanForm | None = None) -> HttpResponse:
    checks = proof(found.proposal) if "check" in request.GET else []
    offers = may(request.membership, Right.OFFER)
    context = {
        "agreement": found,
        "checks": checks,
        "sound": sound(checks),
        "scans": found.scans.defer("content"),
        "form": form or (ScanForm() if offers and found.how == Agreement.How.PAPER else None),
    }
    with timezone.override(ZoneInfo(request.practice.time_zone)):
        return render(request, "plans/agreement.html", context, status=422 if form and form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.OFFER)
def scans(request: PracticeRequest, number: int) -> HttpResponse:
    """Add a scan to an agreement on paper."""
    found = agreement_or_404(number)
    if request.method != "POST":
        return redirect("agreement", request.practice.slug, number)
    form = ScanForm(request.POST, request.FILES)
    if not form.is_valid():
        return agreement_page(request, found, form)
    try:
        agreements.scan_add(agreement=found, user=request.user, paper=form.cleaned_data["paper"])
    except ValidationError as wrong:
        show_errors(form, wrong)
        return agreement_page(request, found, form)
    messages.success(request, gettext("Kept with the agreement."))
    return redirect("agreement", request.practice.slug, number)


@require_safe
@practice_view(Right.SEE_PRICES)
def scan(request: PracticeRequest, pk: int) -> HttpResponse:
    """What was scanned, to be saved and never shown as a page of this site."""
    found: AgreementScan = get_object_or_404(AgreementScan.objects.select_related("agreement"), pk=pk)
    name = f"agreement-{found.agreement.number}-scan-{found.pk}.{found.kind}"
    return as_file(bytes(found.content), AgreementScan.KINDS[found.kind], name)
