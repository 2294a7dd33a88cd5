"""In whose language a page is: its reader's, where a client or a crew may read it, else English."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from functools import cache
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase
from django.utils import translation
from django.utils.cache import patch_vary_headers
from django.utils.module_loading import import_string
from django_scopes import scopes_disabled

from consulting.models import Membership, Practice

Manner = Callable[[Practice, Membership | None], AbstractContextManager[None]]


@cache
def reading() -> Manner:
    """What puts a page into the manner of a practice's member; without one, into plain English.

    The manner itself knows of print, which nothing here may import, so a setting names it.
    """
    return import_string(settings.READERS_MANNER)


class ReadersLanguage:
    """Pages outside a practice: in the language of whoever is signed in, or the one a browser asks for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        with translation.override(translation.get_language_from_request(request)):
            response = self.get_response(request)
        if not hasattr(request, "practice"):
            patch_vary_headers(response, ["Accept-Language"])
        return response

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: dict[str, Any]) -> None:
        if "practice" not in kwargs and (language := language_of(request)):
            translation.activate(language)


def language_of(request: HttpRequest) -> str:
    """In which whoever is signed in reads; empty for those who belong to no practice."""
    member = getattr(request, "membership", None)
    user = getattr(request, "user", None)  # which a request refused at the door has not got
    if member is None and user is not None and user.is_authenticated:
        with scopes_disabled():
            mine = Membership.objects.select_related("practice").filter(user=user.pk)
            member = mine.order_by("pk").first()
    if member is None:
        return ""
    with reading()(member.practice, member):
        return translation.get_language() or ""
