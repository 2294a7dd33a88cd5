"""Calendar feeds: a private address for a person or the practice, made anew or revoked at will."""

from __future__ import annotations

from datetime import timedelta

from django.contrib import messages
from django.db import transaction
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_scopes import scope, scopes_disabled

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.policy import Right, may
from plans.calendar_feed import visits_calendar
from plans.models import CalendarFeed, Visit
from plans.models.feeds import key_hash, new_key

PAST_DAYS, AHEAD_DAYS = 60, 500


@require_safe
def feed(request: HttpRequest, key: str) -> HttpResponse:
    """The visits behind a private address. 404 for one that is unknown or revoked."""
    with scopes_disabled():
        found = (
            CalendarFeed.objects.select_related("practice", "member").filter(key_sha256=key_hash(key)).first()
        )
    if found is None:
        raise Http404("no such calendar")
    with scope(practice=found.practice):
        today = today_for(found.practice)
        visits = Visit.objects.filter(
            booked_on__range=(today - timedelta(days=PAST_DAYS), today + timedelta(days=AHEAD_DAYS))
        ).exclude(state="skipped")
        if found.member is not None:
            visits = visits.filter(people=found.member)
        ordered = (
            visits.select_related("field__farm").prefetch_related("people__user").order_by("booked_on", "pk")
        )
        content = visits_calendar(
            ordered, name=f"{found.practice.name}: visits", host=request.get_host(), now=timezone.now()
        )
    response = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    patch_cache_control(response, private=True, no_cache=True)
    return response


def feeds_of(request: PracticeRequest) -> dict[str, QuerySet[CalendarFeed]]:
    """The feeds that this person may make: their own, and the practice's where they keep its records."""
    own = {"mine": CalendarFeed.objects.filter(member=request.membership)}
    if may(request.membership, Right.EDIT_RECORDS):
        own["everybody"] = CalendarFeed.objects.filter(member__isnull=True)
    return own


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.SEE_WORK, proven="POST")
def calendars(request: PracticeRequest) -> HttpResponse:
    """Make an address, shown this once. One that there was stops working."""
    addresses: dict[str, str] = {}
    if request.method == "POST":
        whose = request.POST.get("whose", "")
        if whose not in feeds_of(request):
            raise Http404("no such calendar")
        key = new_key()
        with transaction.atomic():
            feeds_of(request)[whose].delete()
            CalendarFeed.objects.create(
                practice=request.practice,
                member=request.membership if whose == "mine" else None,
                key_sha256=key_hash(key),
                made_by=request.user,
            )
        addresses[whose] = request.build_absolute_uri(reverse("calendar_feed", args=[key]))
    rows = [(whose, found.first(), addresses.get(whose, "")) for whose, found in feeds_of(request).items()]
    return render(request, "work/calendars.html", {"rows": rows})


@require_POST
@practice_view(Right.SEE_WORK, proven="POST")
def revoke(request: PracticeRequest, whose: str) -> HttpResponse:
    """The address answers no more."""
    found = feeds_of(request).get(whose)
    if found is None:
        raise Http404("no such calendar")
    found.delete()
    messages.success(request, gettext("That address answers no more."))
    return redirect("calendars", request.practice.slug)
