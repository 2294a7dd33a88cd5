"""A device without a signal: what it keeps, the page it shows then, and answers to what it sends later."""

from __future__ import annotations

import json
from dataclasses import asdict
from functools import cache
from pathlib import Path

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.navigation import KEPT_COPY
from consulting.opened import stamp
from consulting.policy import Right
from plans.models import Visit
from plans.phone import as_it_stands, kept_pages, last_change

ASSETS = (
    "favicon.svg",
    "css/*.css",
    "js/*.js",
    "vendor/htmx/*.js",
    "fonts/atkinson-*/*.ttf",
    "fonts/source-*/*.ttf",
)
WORKER, STORE = "js/phone-worker.js", "js/phone-store.js"


@require_safe
def page(request: HttpRequest) -> HttpResponse:
    """What waits on the device and what it keeps; the device fills it in."""
    return render(request, "phone/phone.html")


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The script that stands between pages and the network, told where things are."""
    root = Path(settings.STATICFILES_DIRS[0])
    site = {
        "page": reverse("phone"),
        "signOut": reverse("account_logout"),
        "static": settings.STATIC_URL,
        "store": static(STORE),
        "assets": asset_urls(),
        "keptCopy": KEPT_COPY,
    }
    script = f"const SITE = {json.dumps(site)};\n{(root / WORKER).read_text()}"
    return HttpResponse(
        script,
        content_type="text/javascript; charset=utf-8",
        headers={"Cache-Control": "no-cache", "Service-Worker-Allowed": "/"},
    )


@cache
def asset_urls() -> list[str]:
    """Addresses of what every kept page needs to be shown."""
    root = Path(settings.STATICFILES_DIRS[0])
    found = (path.relative_to(root).as_posix() for pattern in ASSETS for path in sorted(root.glob(pattern)))
    return [static(name) for name in found if name != WORKER]


@require_safe
@practice_view(Right.SEE_WORK)
def kept(request: PracticeRequest) -> HttpResponse:
    """Who is signed in, and which pages their device should keep."""
    pages = kept_pages(request.practice, today_for(request.practice), timezone.now())
    told = {
        "user": request.user.pk,
        "person": str(request.user),
        "practice": request.practice.slug,
        "csrf": get_token(request),
        "pages": [asdict(one) for one in pages],
    }
    return JsonResponse(told)


def changed_reply(now: Visit) -> JsonResponse:
    """Somebody changed the visit in between: as it stands, and what to send on top of.

    A record that waited since before forms carried `opened` is sent on top of `version`.
    """
    told = {
        "said": "Somebody changed this visit in between.",
        "now": as_it_stands(now) + last_change(now),
        "opened": stamp([now]),
        "version": now.version,
    }
    return JsonResponse(told, status=409)
