"""How long one stays logged in: while one comes by now and then, and never for ever."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from django.conf import settings
from django.contrib.auth import logout, user_logged_in
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

LONGEST = timedelta(days=60)
BEGUN, LAST_DAY = "session_begun", "session_last_day"


@receiver(user_logged_in, dispatch_uid="session_begun")
def note_beginning(sender: object, request: HttpRequest | None, **_: object) -> None:
    if request is not None:
        now = timezone.now()
        request.session[BEGUN], request.session[LAST_DAY] = now.timestamp(), now.date().isoformat()


class SessionsAge:
    """Logs out whoever logged in longer ago than `LONGEST`. Writes once a day, not with every page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        session, now = request.session, timezone.now()
        # Whoever brings no session is not looked up: probes, client pages, calendar feeds.
        if settings.SESSION_COOKIE_NAME in request.COOKIES and request.user.is_authenticated:
            begun = session.setdefault(BEGUN, now.timestamp())
            if now.timestamp() - begun > LONGEST.total_seconds():
                logout(request)
            elif session.get(LAST_DAY) != (today := now.date().isoformat()):
                session[LAST_DAY] = today
        return self.get_response(request)
