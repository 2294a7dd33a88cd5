"""The practice's own rates from its done work, and taking them over into the price list."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.policy import Right
from plans.own_rates import RatesChanged, own_rates, rates_take, taken_lately
from plans.planning.own_rates import EXAMPLE_ACRES, EXAMPLE_USD, LEAST_VISITS
from plans.services import Refused


def rates_page(
    request: PracticeRequest,
    *,
    chosen: frozenset[str] = frozenset(),
    problems: tuple[str, ...] = (),
    status: int = 200,
) -> HttpResponse:
    context = {
        "rates": own_rates(request.practice, today_for(request.practice)),
        "taken": taken_lately(),
        "chosen": chosen,
        "problems": problems,
        "least_visits": LEAST_VISITS,
        "on_acres": _("On {acres} acres").format(acres=f"{EXAMPLE_ACRES:.0f}"),
        "on_usd": _("On {price}").format(price=f"${EXAMPLE_USD:,.0f}"),
    }
    return render(request, "plans/own_rates.html", context, status=status)


@require_safe
@practice_view(Right.SEE_PRICES)
def page(request: PracticeRequest) -> HttpResponse:
    return rates_page(request)


@require_POST
@practice_view(Right.EDIT_RECORDS)
def take(request: PracticeRequest) -> HttpResponse:
    """Take over what is ticked, as it was seen; where it is not so any more, nothing is."""
    chosen = frozenset(request.POST.getlist("take"))
    seen = {key: request.POST.get(f"seen-{key}", "") for key in sorted(chosen)}
    today = today_for(request.practice)
    try:
        taken = rates_take(practice=request.practice, user=request.user, today=today, seen=seen)
    except RatesChanged as changed:
        return rates_page(request, chosen=chosen, problems=changed.problems, status=409)
    except Refused as refused:
        return rates_page(request, chosen=chosen, problems=refused.problems, status=422)
    except ValidationError as wrong:
        return rates_page(request, chosen=chosen, problems=tuple(wrong.messages), status=422)
    count = len(taken)
    said = ngettext(
        "{count} rate taken over into the price list.",
        "{count} rates taken over into the price list.",
        count,
    )
    messages.success(request, said.format(count=count))
    return redirect("own_rates", request.practice.slug)
