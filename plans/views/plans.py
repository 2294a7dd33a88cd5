"""Plans: the list, and the short forms that make and change one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.db.models import Count, Q, Sum
from django.db.models.functions import Coalesce
from django.forms import ModelForm
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import attempt, show_errors
from consulting.opened import unmoved
from consulting.policy import Right
from plans import services
from plans.forms.conversions import ConversionForm
from plans.forms.plans import LetterForm, PlanTermsForm, TitleForm
from plans.models import Conversion, Plan, Proposal, State
from plans.selectors import proposals_in_force
from plans.walked import Suggested, suggested
from sites.models import Farm, Field
from sites.walks import latest_walks

PER_PAGE = 25


@require_safe
@practice_view(Right.SEE_PRICES)
def plans(request: PracticeRequest) -> HttpResponse:
    """The practice's plans, newest change first; `state` and `page` stand in the address."""
    counts = dict(Plan.objects.order_by().values_list("state").annotate(Count("pk")))
    state = request.GET.get("state", "")
    rows = Plan.objects.select_related("farm__client")
    if state in State.values:
        rows = rows.filter(state=state)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    acres, offered = acres_of(page.object_list), latest_totals(page.object_list)
    context = {
        "page": page,
        "rows": [(plan, acres.get(plan.pk), offered.get(plan.pk)) for plan in page.object_list],
        "state": state if state in State.values else "",
        "states": [(value, label, counts[value]) for value, label in State.choices if value in counts],
        "count": sum(counts.values()),
    }
    return render(request, "plans/plans.html", context)


def acres_of(shown: Iterable[Plan]) -> dict[int, float]:
    """Acres of each plan shown, by plan."""
    rows = Conversion.objects.filter(plan__in=[plan.pk for plan in shown]).order_by()
    return dict(rows.values_list("plan").annotate(Sum("field__acres")))


def latest_totals(shown: Iterable[Plan]) -> dict[int, Proposal]:
    """The latest proposal of each plan shown, by plan."""
    rows = proposals_in_force(shown).annotate(of=Coalesce("plan__changes", "plan"))
    return {row.of: row for row in rows.only("number", "revision", "total_usd", "offered_on")}


@require_safe
@practice_view(Right.EDIT_RECORDS)
def choose_farm(request: PracticeRequest) -> HttpResponse:
    """Which farm the new plan is for."""
    search = request.GET.get("q", "").replace("\x00", "").strip()[:200]
    farms = Farm.objects.select_related("client").annotate(
        field_count=Count("fields"), acres=Sum("fields__acres")
    )
    if search:
        farms = farms.filter(Q(name__icontains=search) | Q(client__name__icontains=search))
    page = Paginator(farms.order_by("client__name", "name", "pk"), PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "plans/choose_farm.html", {"page": page, "search": search})


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def new(request: PracticeRequest, farm: int) -> HttpResponse:
    ground = get_object_or_404(Farm.objects.select_related("client"), pk=farm)
    form = TitleForm(request.POST or None)
    if form.is_valid():
        made = attempt(
            form,
            services.plan_create,
            practice=request.practice,
            farm=ground,
            today=today_for(request.practice),
        )
        if made:
            return redirect("plan", request.practice.slug, made.pk)
    context = {
        "form": form,
        "title": _("A new plan for {name}").format(name=ground.name),
        "act": _("Make the plan"),
        "back": reverse("plan_choose_farm", args=[request.practice.slug]),
    }
    return render(request, "plans/form.html", context, status=422 if form.errors else 200)


def short_form(request: PracticeRequest, pk: int, form_class: type[ModelForm], title: str) -> HttpResponse:
    """A form for some of a draft's own fields."""
    plan = get_object_or_404(Plan.objects.select_related("farm__client"), pk=pk)
    back = reverse("plan", args=[request.practice.slug, plan.pk])
    if not plan.is_draft:
        messages.error(request, services.NOT_A_DRAFT)
        return redirect(back)
    heading = plan.title
    form = form_class(request.POST or None, instance=plan)
    if form.is_valid():
        try:
            services.plan_save(plan=form.instance)
        except ValidationError as refused:
            show_errors(form, refused)
        else:
            messages.success(request, _("Saved."))
            return redirect(back)
    context = {"form": form, "title": title, "of": heading, "back": back, "act": _("Save")}
    return render(request, "plans/form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def title(request: PracticeRequest, pk: int) -> HttpResponse:
    return short_form(request, pk, TitleForm, _("Title"))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def terms(request: PracticeRequest, pk: int) -> HttpResponse:
    return short_form(request, pk, PlanTermsForm, _("Terms of this plan"))


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def letter(request: PracticeRequest, pk: int) -> HttpResponse:
    return short_form(request, pk, LetterForm, _("Cover letter"))


def conversion_of(request: PracticeRequest, pk: int, field: int) -> Conversion:
    """The plan's conversion of a field, or a new one. 404 for a field of another farm."""
    plan = get_object_or_404(Plan.objects.select_related("practice", "farm__client"), pk=pk)
    ground = get_object_or_404(Field, pk=field, farm=plan.farm_id)
    found = Conversion.objects.select_related("mix").filter(plan=plan, field=ground).first()
    row = found or Conversion(practice=request.practice, start_on=today_for(request.practice))
    row.plan, row.field = plan, ground
    return row


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def conversion(request: PracticeRequest, pk: int, field: int) -> HttpResponse:
    row = conversion_of(request, pk, field)
    back = reverse("plan", args=[request.practice.slug, row.plan_id])
    if not row.plan.is_draft:
        messages.error(request, services.NOT_A_DRAFT)
        return redirect(back)
    known = row.pk is not None
    posted = request.POST if request.method == "POST" else None
    form = ConversionForm(posted, instance=row)
    if posted and "suggest" in posted:
        form = with_suggestion(form, row)
    elif posted and "show" in posted:
        form = unchecked(form, row)
    elif form.is_valid():
        try:
            services.conversion_save(conversion=form.instance)
        except ValidationError as refused:
            show_errors(form, refused)
        else:
            messages.success(request, _("{name} saved.").format(name=row.field))
            return redirect(back)
    context = {"form": form, "conversion": row, "known": known, "back": back}
    context["suggested"] = suggestion_on(form, row)
    return render(request, "plans/conversion_form.html", context, status=422 if form.errors else 200)


def suggestion_on(form: ConversionForm, row: Conversion) -> Suggested | None:
    """What the field's latest walk-over suggests for the purpose that the form shows."""
    walk = latest_walks([row.field_id]).get(row.field_id)
    return suggested(walk, row.field, row.plan.farm, form.aim) if walk else None


def with_suggestion(typed: ConversionForm, row: Conversion) -> ConversionForm:
    """The form as typed, with what the walk-over suggests filled in; not judged and not saved."""
    found = suggestion_on(typed, row)
    filled = dict(found.answer.choices) if found else {}
    if filled:
        ticked = typed["options"].value() or []
        filled["options"] = [*ticked, *(key for key in filled["options"] if key not in ticked)]
    return unchecked(typed, row, filled)


def unchecked(
    typed: ConversionForm, row: Conversion, filled: Mapping[str, Any] | None = None
) -> ConversionForm:
    """The form with the steps of the program chosen and everything as typed or `filled`, not yet judged."""
    values = {name: typed[name].value() for name in typed.fields} | dict(filled or {})
    # What was not asked before this choice begins with the usual, not empty.
    return ConversionForm(
        instance=row, initial={name: value for name, value in values.items() if value is not None}
    )


@require_POST
@practice_view(Right.EDIT_RECORDS)
def steps(request: PracticeRequest, pk: int, field: int) -> HttpResponse:
    """The steps of what is chosen in the form; saves nothing."""
    row = conversion_of(request, pk, field)
    form = unchecked(ConversionForm(request.POST, instance=row), row)
    context = {"form": form, "steps_url": request.path, "suggested": suggestion_on(form, row)}
    return render(request, "plans/_steps.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def remove_conversion(request: PracticeRequest, pk: int, field: int) -> HttpResponse:
    row = get_object_or_404(Conversion.objects.select_related("plan", "field"), plan=pk, field=field)
    back = reverse("plan", args=[request.practice.slug, pk])
    if request.method == "POST":
        unmoved(request, row)
        try:
            services.conversion_remove(conversion=row)
            messages.success(request, _("{field} is out of the plan.").format(field=row.field))
        except services.Refused as refused:
            messages.error(request, str(refused))
        return redirect(back)
    context = {
        "title": _("Take {field} out of this plan?").format(field=row.field),
        "text": _(
            "Its choices of mix, program and steps are forgotten. The field itself stays with the farm."
        ),
        "act": _("Take it out"),
        "back": back,
        "records": [row],
    }
    return render(request, "confirm.html", context)
