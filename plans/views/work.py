"""Work over all farms: the season board, a day, and one visit with what can be done to it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.beside import typed_into
from consulting.clock import today_for
from consulting.formkit import show_errors
from consulting.models import Membership
from consulting.opened import MovedOn
from consulting.policy import Right, may
from consulting.sent_later import kept_reply, refused_reply, sent_later, wrong_reply
from plans import visits as acts
from plans.again import may_have_failed, of_counts, offers_of
from plans.ahead import ahead_of
from plans.board import (
    STANDINGS,
    Asked,
    board,
    closing_by,
    farms_of_visits,
    farms_with_work,
    monday_of,
    next_working_day,
    open_visits,
    plans_without_visits,
    row_of,
    working_on,
)
from plans.counts import COUNTING, counts_of
from plans.documents.farm_map import farm_map
from plans.documents.told import told
from plans.documents.wall_sheet import sheets_for
from plans.forms.visits import (
    BookForm,
    DoForm,
    LostDaysForm,
    ReopenForm,
    SkipForm,
    VisitForm,
    WeatherForm,
)
from plans.lots_drawn import moves_of, said
from plans.manners import manner_of
from plans.models import Plan, Visit, VisitChange
from plans.planned import beginning_of
from plans.planning import tables
from plans.planning.ahead import Shift
from plans.planning.sprayday import wind_cautions
from plans.rigs import rigs_for
from plans.services import Refused
from plans.trips import calls_of, loading_of, sheet_links
from plans.views.phone import changed_reply

RECENT_DAYS = 14


@require_safe
@practice_view(Right.SEE_WORK)
def season(request: PracticeRequest) -> HttpResponse:
    today = today_for(request.practice)
    asked = Asked.of(request.GET)
    found = board(asked, today)
    context: dict[str, Any] = {
        "today": today,
        "next_day": next_working_day(today),
        "asked": asked,
        "board": found,
        "tabs": tabs(asked, found.counts),
        "ways": [(way, label, address(replace(asked, by=way, page=1))) for way, label in WAYS.items()],
        "farms": farms_of_visits(),
        "works": [(key, row.label) for key, row in tables.operations().items()],
        "people": Membership.objects.select_related("user").order_by("user__name", "pk"),
        "older": address(replace(asked, page=asked.page - 1)) if asked.page > 1 else "",
        "further": address(replace(asked, page=asked.page + 1)) if found.more else "",
        "moved": moved_lately(today),
        "bare_plans": list(plans_without_visits()) if may(request.membership, Right.EDIT_RECORDS) else [],
    }
    if asked.by == "map":
        context["map"] = farm_map(farms_with_work(today))
    return render(request, "work/board.html", context)


WAYS = {"week": gettext_lazy("By week"), "farm": gettext_lazy("By farm"), "map": gettext_lazy("On a map")}


def address(asked: Asked) -> str:
    """The query string that asks for this; what is usual is left out."""
    given = {
        "by": asked.by if asked.by != "week" else "",
        "stands": asked.stands,
        "farm": asked.farm,
        "work": asked.operation,
        "person": asked.person,
        "page": asked.page if asked.page > 1 else "",
    }
    return "?" + urlencode({name: value for name, value in given.items() if value})


def tabs(asked: Asked, counted: dict[str, int]) -> list[tuple[str, str, int, bool]]:
    """Address, label and count of each standing, and whether it is the one shown."""
    every = (
        address(replace(asked, stands="", page=1)),
        gettext("All"),
        sum(counted.values()),
        not asked.stands,
    )
    return [
        every,
        *(
            (address(replace(asked, stands=key, page=1)), label, counted[key], asked.stands == key)
            for key, label in STANDINGS.items()
        ),
    ]


def moved_lately(today: date) -> list[VisitChange]:
    """Windows that the year or the work moved of late."""
    since = datetime.combine(today - timedelta(days=RECENT_DAYS), time(), tzinfo=UTC)
    found = VisitChange.objects.filter(what=VisitChange.What.WINDOW, at__gte=since)
    return list(found.select_related("visit__field__farm")[:12])


@require_safe
@practice_view(Right.SEE_WORK)
def day(request: PracticeRequest, on: str = "") -> HttpResponse:
    """What is booked on a day, and what could be done on it."""
    today = today_for(request.practice)
    try:
        shown = date.fromisoformat(on) if on else today
    except ValueError:
        raise Http404("no such day") from None
    mine = request.GET.get("whose") == "mine"
    booked, free = working_on(shown, today, request.membership.pk if mine else None)
    context = {
        "day": shown,
        "today": today,
        "mine": mine,
        "booked": booked,
        "free": free,
        "sheets": sheet_links(request.practice, shown, booked),
        "before": shown - timedelta(days=1),
        "after": shown + timedelta(days=1),
    }
    return render(request, "work/day.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def lost_days(request: PracticeRequest) -> HttpResponse:
    """Days on which nothing could be done: what was booked on them goes off the calendar."""
    form = LostDaysForm(request.POST or None, today=today_for(request.practice))
    if request.method == "POST" and form.is_valid():
        freed = acts.days_lost(user=request.user, **form.cleaned_data)
        said = ngettext(
            "{number} visit taken off the calendar.", "{number} visits taken off the calendar.", len(freed)
        ).format(number=len(freed))
        messages.success(request, said if freed else gettext("Nothing was booked on those days."))
        return redirect("work_lost", request.practice.slug)
    context = {
        "form": form,
        "title": gettext("Days lost to weather"),
        "of": gettext("Work"),
        "back": reverse("work", args=[request.practice.slug]),
        "act": gettext("Take those days off"),
    }
    return render(request, "plans/form.html", context, status=422 if form.errors else 200)


@require_safe
@practice_view(Right.SEE_WORK)
def lost(request: PracticeRequest) -> HttpResponse:
    """What slips when nothing more can be done this week."""
    today = today_for(request.practice)
    last = monday_of(today) + timedelta(days=6)
    by_plan: dict[int, list[Any]] = {}
    for visit in closing_by(last, today):
        by_plan.setdefault(visit.plan_id, []).append(visit)
    rows = []
    for own in by_plan.values():
        ahead = ahead_of(own[0].plan)
        becomes = ahead.without(last, own) if ahead else {}
        rows += [(row_of(visit, today), becomes.get(visit.pk)) for visit in own]
    return render(request, "work/lost.html", {"today": today, "last": last, "rows": rows})


def visit_or_404(pk: int) -> Any:
    """A visit in any state, with what its page says of it."""
    found = Visit.objects.select_related("plan__farm__client", "field__farm__client")
    return get_object_or_404(found.prefetch_related("people__user", "machines"), pk=pk)


def visit_page(request: PracticeRequest, visit: Any, *, form: VisitForm | None = None) -> HttpResponse:
    today = today_for(request.practice)
    seen = open_visits().filter(pk=visit.pk).first()
    forms = {
        "do": do_form(request, visit, today) if visit.is_open and not isinstance(form, DoForm) else None,
        "skip": SkipForm(visit=visit),
        "reopen": ReopenForm(visit=visit),
        "weather": WeatherForm(visit=visit),
    }
    sent = next((name for name, kind in FORMS.items() if type(form) is kind), "")
    counts, offers = counts_of(visit.field_id), offers_of(visit, today)
    context = {
        "visit": visit,
        "today": today,
        "offers": offers,
        "count_asks": of_counts(counts, offers),
        "may_have_failed": may_have_failed(visit),
        "row": row_of(seen, today) if seen else None,
        "operation": tables.operations().get(visit.operation),
        "changes": visit.changes.all(),
        "records": visit.records.filter(corrected_by__isnull=True).order_by("on", "number"),
        "counts": counts,
        "counting": visit.operation == COUNTING,
        "near": Visit.objects.filter(plan=visit.plan_id, field=visit.field_id).order_by("order", "pk"),
        "book": may(request.membership, Right.EDIT_RECORDS),
        "record": may(request.membership, Right.RECORD_WORK),
        "loading": loading_of(visit),
        "calls": calls_of(request.practice),
        "wall_sheets": sheets_for(manner_of(request.practice).paper),
        "forms": forms | ({sent: form} if form else {}),
        "form": form,
        "left": typed_into(form) if form and visit.is_open == (sent == "reopen") else [],
    }
    return render(request, "work/visit.html", context, status=422 if form and form.errors else 200)


FORMS: dict[str, type[VisitForm]] = {
    "do": DoForm,
    "weather": WeatherForm,
    "skip": SkipForm,
    "reopen": ReopenForm,
}


@require_safe
@practice_view(Right.SEE_WORK)
def visit(request: PracticeRequest, pk: int) -> HttpResponse:
    return visit_page(request, visit_or_404(pk))


def act(
    request: PracticeRequest,
    visit: Visit,
    form: VisitForm,
    do: Callable[..., Visit],
    said: str,
    then: Callable[[PracticeRequest, Visit], None] | None = None,
) -> HttpResponse:
    """Do what a sound form asks; what is refused stands beside it, with what was typed.

    `then` tells what came of it besides.
    """
    later = sent_later(request)
    try:
        sound = form.is_valid()
    except MovedOn:
        if later:
            return changed_reply(visit)
        raise
    if not sound:
        return wrong_reply(form) if later else visit_page(request, visit, form=form)
    try:
        done = do(visit=visit, version=visit.version, user=request.user, **form.cleaned_data)
    except ValidationError as wrong:
        show_errors(form, wrong)
        return wrong_reply(form) if later else visit_page(request, visit, form=form)
    except Refused as refused:
        if later:
            return refused_reply(str(refused))
        form.add_error(None, str(refused))
        return visit_page(request, visit, form=form)
    if later:
        return kept_reply(said)
    messages.success(request, said)
    if then:
        then(request, done)
    return redirect("visit", request.practice.slug, visit.pk)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def book(request: PracticeRequest, pk: int) -> HttpResponse:
    """What a day would do first; then the booking."""
    found = visit_or_404(pk)
    form = BookForm(request.POST or None, visit=found)
    if request.method == "POST" and "look" not in request.POST and form.is_valid():
        answer = act(request, found, form, acts.visit_book, gettext("Booked."), tell_of_rigs)
        if not form.errors:
            return answer
    today = today_for(request.practice)
    effect = None
    if request.method == "POST" and form.is_valid():
        ahead = ahead_of(found.plan)
        effect = ahead.effect(found, form.cleaned_data["on"], today) if ahead else None
    context = {
        "visit": found,
        "form": form,
        "effect": effect,
        "shifts": labelled(effect.shifts) if effect else [],
        "prices": may(request.membership, Right.SEE_PRICES),
        "looked": request.method == "POST" and form.is_valid(),
    }
    return render(request, "work/book.html", context, status=422 if form.errors else 200)


def tell_of_rigs(request: PracticeRequest, booked: Visit) -> None:
    """Machines that do not go together are said at once."""
    for rig in rigs_for([booked]):
        if rig.check and rig.check.verdict == "no":
            messages.error(
                request,
                gettext("{machines} do not go together: see what to load.").format(machines=rig.names),
            )


def labelled(shifts: Iterable[Shift]) -> list[tuple[str, Shift]]:
    """Shifts with the label of their step."""
    steps = tables.steps()
    return [(steps[one.step].label if one.step in steps else one.step, one) for one in shifts]


@require_POST
@practice_view(Right.EDIT_RECORDS)
def unbook(request: PracticeRequest, pk: int) -> HttpResponse:
    found = visit_or_404(pk)
    return act(
        request, found, VisitForm(request.POST, visit=found), acts.visit_unbook, gettext("On no day now.")
    )


def do_form(request: PracticeRequest, visit: Any, today: date, data: Any = None) -> DoForm:
    beginning = beginning_of(visit, request.user, request.practice)
    return DoForm(data, visit=visit, today=today, beginning=beginning)


@require_POST
@practice_view(Right.RECORD_WORK)
def do(request: PracticeRequest, pk: int) -> HttpResponse:
    found, today = visit_or_404(pk), today_for(request.practice)
    form = do_form(request, found, today, request.POST)

    def write(**kept: Any) -> Visit:
        asked = {name: kept[name] for name in ("visit", "user", "version", "uid", "on", "acres", "note")}
        asked |= {"record": form.values(), "lines": form.lines(), "draws": form.draws()}
        return acts.visit_do(today=today, **asked)

    def tell(request: PracticeRequest, done: Visit) -> None:
        tell_of_the_shed(request, done)
        for caution in wind_cautions(form.cleaned_data.get("wind_mph"), form.cleaned_data.get("sky")):
            as_it_was = gettext("{caution} It is written down as it was.")
            messages.warning(request, as_it_was.format(caution=told(caution)))

    return act(request, found, form, write, gettext("Written down."), tell)


def tell_of_the_shed(request: PracticeRequest, done: Visit) -> None:
    """What the visit's latest record moved there."""
    for record in done.records.order_by("-number")[:1]:
        for move in moves_of(record):
            messages.info(request, said(move))


@require_POST
@practice_view(Right.EDIT_RECORDS)
def skip(request: PracticeRequest, pk: int) -> HttpResponse:
    found = visit_or_404(pk)
    return act(request, found, SkipForm(request.POST, visit=found), acts.visit_skip, gettext("Skipped."))


@require_POST
@practice_view(Right.EDIT_RECORDS)
def reopen(request: PracticeRequest, pk: int) -> HttpResponse:
    found = visit_or_404(pk)
    form = ReopenForm(request.POST, visit=found)
    return act(request, found, form, acts.visit_reopen, gettext("Open again."), tell_of_the_shed)


@require_POST
@practice_view(Right.RECORD_WORK)
def weather(request: PracticeRequest, pk: int) -> HttpResponse:
    """Let a visit wait for weather, or free it."""
    found = visit_or_404(pk)
    if "free" in request.POST:
        form: VisitForm = VisitForm(request.POST, visit=found)
        return act(request, found, form, acts.visit_free, gettext("It waits no more."))
    form = WeatherForm(request.POST, visit=found)
    return act(request, found, form, acts.visit_hold, gettext("It waits for weather."))


@require_POST
@practice_view(Right.EDIT_RECORDS)
def make(request: PracticeRequest, pk: int) -> HttpResponse:
    """Visits for a plan that was agreed before there were any."""
    plan = get_object_or_404(Plan, pk=pk)
    try:
        made = acts.visits_make(plan=plan, user=request.user)
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect(reverse("plan", args=[request.practice.slug, plan.pk]))
    messages.success(request, gettext("{number} visits made.").format(number=len(made)))
    return redirect("work", request.practice.slug)
