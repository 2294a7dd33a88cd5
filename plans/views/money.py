"""Money done of an agreed plan, and its payments."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import show_errors
from consulting.policy import Right, may
from plans.forms.money import StageForm
from plans.models import Plan
from plans.money_done import money_done
from plans.services import Refused
from plans.stages import stage_mark


def plan_or_404(pk: int) -> Plan:
    return get_object_or_404(Plan.objects.select_related("farm__client"), pk=pk)


def money_page(request: PracticeRequest, plan: Plan, form: StageForm | None = None) -> HttpResponse:
    money = money_done(plan)
    edits = may(request.membership, Right.EDIT_RECORDS)
    if form is None and edits and money and money.payments.rows:
        form = StageForm(rows=money.payments.rows, today=today_for(request.practice))
    context = {"plan": plan, "money": money, "form": form}
    return render(request, "plans/money.html", context, status=422 if form and form.errors else 200)


@require_safe
@practice_view(Right.SEE_PRICES)
def page(request: PracticeRequest, pk: int) -> HttpResponse:
    return money_page(request, plan_or_404(pk))


@require_POST
@practice_view(Right.EDIT_RECORDS)
def mark(request: PracticeRequest, pk: int) -> HttpResponse:
    """Mark a payment; what is refused stands at its field, with what was typed."""
    plan, today = plan_or_404(pk), today_for(request.practice)
    money = money_done(plan)
    form = StageForm(request.POST, rows=money.payments.rows if money else (), today=today)
    if money is None:
        messages.error(request, _("Payments are marked on an agreed plan, and this is none."))
        return redirect("plan_money", request.practice.slug, pk)
    if not form.is_valid():
        return money_page(request, plan, form)
    try:
        stage_mark(plan=plan, user=request.user, today=today, **form.cleaned_data)
    except ValidationError as wrong:
        show_errors(form, wrong)
        return money_page(request, plan, form)
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, _("Marked."))
    return redirect("plan_money", request.practice.slug, pk)
