"""Choosing what other ways of doing the job a proposal shows beside the plan."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.policy import Right
from plans import services
from plans.beside import every_option, wanted_of
from plans.forms.options import OptionsForm
from plans.option_rows import option_rows
from plans.planning.options import standing
from plans.selectors import plans_whole, prices_of, reckon


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def page(request: PracticeRequest, pk: int) -> HttpResponse:
    """Every option reckoned, to be ticked and given a line; only on a draft that can be worked out."""
    plan = get_object_or_404(plans_whole(), pk=pk)
    back = reverse("plan", args=[request.practice.slug, pk])
    prices = prices_of(plan)
    outcome = reckon(plan, prices, today_for(request.practice)).outcome if plan.is_draft else None
    if outcome is None:
        messages.error(
            request,
            _("Options are chosen once the plan can be worked out.")
            if plan.is_draft
            else services.NOT_A_DRAFT,
        )
        return redirect(back)
    kept = {one.key: one.reason for one in wanted_of(plan)}
    rows = option_rows(every_option(plan, outcome, prices))
    form = OptionsForm(request.POST or None, rows=rows, kept=kept, records=plan.options.all())
    if request.method == "POST" and form.is_valid():
        try:
            services.options_choose(plan=plan, shown=form.chosen())
            messages.success(request, _("Kept: the next proposal shows these beside the plan."))
        except services.Refused as refused:
            messages.error(request, str(refused))
        return redirect(f"{back}#options")
    context = {"plan": plan, "form": form, "own": standing(outcome), "back": back}
    return render(request, "plans/options.html", context, status=422 if form.errors else 200)
