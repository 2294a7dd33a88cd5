"""The gate in front of every page of a practice."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial, wraps
from typing import Any
from urllib.parse import urlsplit, urlunsplit

from allauth.account.decorators import reauthentication_required
from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.cache import patch_cache_control
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django_htmx.middleware import HtmxDetails
from django_scopes import scope, scopes_disabled

from consulting.acting import acting
from consulting.left import forget_sent, leave, left_by
from consulting.models import Membership, Practice, User
from consulting.on_records import MEND
from consulting.once import WORD, answered_once
from consulting.policy import Right, crews_may, may
from consulting.reading import reading
from consulting.sent_later import sent_later
from consulting.views.moved import unless_moved


class PracticeRequest(HttpRequest):
    """A request that passed the gate."""

    user: User
    practice: Practice
    membership: Membership
    memberships: list[Membership]
    """All that the person has, each with its practice."""
    htmx: HtmxDetails


View = Callable[..., HttpResponseBase]


class Acted(Exception):
    """What was to be shown in its form again was done instead: it has none that waits to be sent."""


def _way_back(request: HttpRequest, practice: str) -> str:
    """Where someone goes on to after logging in: of a form that was sent, what was typed, or its page."""
    if request.method == "POST" and not sent_later(request):
        messages.warning(request, _("You were signed out meanwhile, and nothing was saved yet."))
        came_from = request.headers.get("Referer", "")
        if url_has_allowed_host_and_scheme(came_from, {request.get_host()}):
            parts = urlsplit(came_from)
            page = urlunsplit(("", "", parts.path, parts.query, ""))
            return reverse("left", args=[practice]) if leave(request, page) else page
    return request.get_full_path()


def _shown_or_done(view: View, request: PracticeRequest, **kwargs: Any) -> HttpResponseBase:
    """The view's answer. Raises Acted, which undoes it, where it went on though it was to be shown."""
    response = view(request, **kwargs)
    if MEND in request.POST and WORD in request.POST and response.status_code == 302:
        raise Acted
    return response


def practice_view(right: Right, *, proven: str = "") -> Callable[[View], View]:
    """Let the view run inside the practice named in the address, for members whose role has `right`.

    Anonymous visitors are sent to log in; for anyone who is not a member the page does not exist (404),
    so that nothing is told about other practices; a member without the right is refused (403).
    The view gets `request.practice` and `request.membership`, and must render before it returns.
    A page that a crew may open is in its reader's language and measures; what only consultants open is in
    English.
    `proven` asks for the password again unless it was given just now: before a change ("POST"), or before a
    look too ("always"). What was sent is then done.
    """

    def decorate(view: View) -> View:
        def once(request: PracticeRequest, **kwargs: Any) -> HttpResponseBase:
            try:
                response = answered_once(request, partial(_shown_or_done, view, request, **kwargs))
            except Acted:
                messages.error(request, _("That cannot be shown in its form again. Nothing was done yet."))
                return redirect("left" if left_by(request) else "overview", request.practice.slug)
            if request.method == "POST" and MEND not in request.POST:
                forget_sent(request)
            return response

        answer: View = once
        if proven:
            asks = proven == "always"
            # Outside of `once`: what is done after the password was given again is sent for the first time.
            answer = reauthentication_required(once, enabled=lambda request: asks or request.method == "POST")

        @wraps(view)
        def gated(request: PracticeRequest, practice: str, **kwargs: Any) -> HttpResponseBase:
            with scopes_disabled():
                if not request.user.is_authenticated:
                    return redirect_to_login(_way_back(request, practice))
                rows = Membership.objects.filter(user=request.user).select_related("practice")
                request.memberships = list(rows)
            own = (one for one in request.memberships if one.practice.slug == practice)
            membership = next(own, None)
            if membership is None:
                raise Http404("no such practice")
            request.practice, request.membership = membership.practice, membership
            if not may(membership, right):
                raise PermissionDenied
            reader = reading()(membership.practice, membership if crews_may(right) else None)
            with scope(practice=membership.practice), acting(request.user), reader:
                response = unless_moved(request, partial(answer, request, **kwargs))
            patch_cache_control(response, private=True, no_cache=True)
            return response

        gated.right = right  # type: ignore[attr-defined]
        return gated

    return decorate
