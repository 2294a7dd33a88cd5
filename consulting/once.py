"""A form that is sent twice is answered once: a double press, or another try after a lost answer.

Every form holds a word of its own (`templatetags/held.py`). A form of that word and the same content is the
same sending: what the first one made and its `Sending` are kept in one transaction, so that there are both
or neither, and the second is led to where the first one led.
"""

from __future__ import annotations

import json
import re
import secrets
from collections.abc import Callable
from datetime import timedelta
from functools import wraps
from hashlib import sha256
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.db import models, transaction
from django.http import HttpRequest, HttpResponseBase, HttpResponseRedirect
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac
from django.utils.translation import gettext as _

from consulting.sent_later import sent_later

WORD = "once"
"""The name under which a form holds its word."""
OURS = re.compile(r"[A-Za-z0-9_-]{1,64}")
"""Another word is none of ours, and would not go into a cookie."""
KEPT = "kept"
"""A cookie with the word of the form that was answered last: its draft on the device can go."""
NOT_CONTENT = frozenset({"csrfmiddlewaretoken", WORD})
REMEMBERED = timedelta(days=2)


def new_word(writer: int | None = None) -> str:
    """A word of its own, which tells whose page the form stood on where that is a member's."""
    random = secrets.token_hex(12)
    return f"{random}-{writer}-{_mark(random, writer)}" if writer else random


def writer_of(word: str) -> int | None:
    """The key of the user whose page held the form; None where that is not told, or not by us."""
    random, _dash, rest = word.partition("-")
    writer, _dash, mark = rest.partition("-")
    if not (OURS.fullmatch(word) and writer.isdecimal()):
        return None
    ours = constant_time_compare(mark, _mark(random, int(writer)))
    return int(writer) if ours else None


def _mark(random: str, writer: int) -> str:
    return salted_hmac(WORD, f"{random}-{writer}", algorithm="sha256").hexdigest()[:24]


class Sending(models.Model):
    """A form that was sent and answered with an address to go on to."""

    key = models.CharField(max_length=64, unique=True, editable=False)
    """SHA-256 of who sent what to where."""
    led_to = models.TextField(editable=False)
    at = models.DateTimeField(auto_now_add=True, db_index=True)

    def __str__(self) -> str:
        return f"led to {self.led_to}"


def key_of(request: HttpRequest) -> str:
    """The same for the same word and content from the same person to the same address."""
    fields = sorted((name, values) for name, values in request.POST.lists() if name not in NOT_CONTENT)
    files = sorted((name, file.name, _digest(file)) for name, some in request.FILES.lists() for file in some)
    told = [request.user.pk, request.get_full_path(), request.POST.get(WORD, ""), fields, files]
    return sha256(json.dumps(told).encode()).hexdigest()


def _digest(file: Any) -> str:
    found = sha256()
    for chunk in file.chunks():
        found.update(chunk)
    file.seek(0)
    return found.hexdigest()


def answered_once(request: HttpRequest, answer: Callable[[], HttpResponseBase]) -> HttpResponseBase:
    """The answer to a form; to one that was answered with an address already, that address again.

    What htmx sends and what a device sends later have their own ways of being sent twice.
    """
    word = request.POST.get(WORD, "") if request.method == "POST" else ""
    if not OURS.fullmatch(word) or "HX-Request" in request.headers or sent_later(request):
        return answer()
    with transaction.atomic():
        sending, first = Sending.objects.get_or_create(key=key_of(request))
        if not first:
            messages.info(request, _("That was sent already. It is done, and was not done a second time."))
            return _kept(HttpResponseRedirect(sending.led_to), word)
        response = answer()
        if response.status_code != 302:
            # Shown again to be mended: it may be sent again.
            sending.delete()
            return response
        sending.led_to = response.headers["Location"]
        sending.save(update_fields=["led_to"])
    return _kept(response, word)


def _kept(response: HttpResponseBase, word: str) -> HttpResponseBase:
    response.set_cookie(
        KEPT,
        word,
        max_age=600,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=False,
        samesite="Lax",
    )
    return response


def sent_once(view: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """For a view outside `practice_view`, which sees to it by itself."""

    @wraps(view)
    def once(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        return answered_once(request, lambda: view(request, *args, **kwargs))

    return once


def sendings_forget() -> int:
    """Forget what was sent so long ago that nobody sends it again. How many."""
    gone, _rows = Sending.objects.filter(at__lt=timezone.now() - REMEMBERED).delete()
    return gone
