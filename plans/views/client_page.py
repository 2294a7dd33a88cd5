"""The client's page: what a private link opens without a log-in. No answer may be kept or listed."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.exceptions import ValidationError
from django.forms import Form
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe
from django_scopes import scope

from consulting.acting import CLIENT, acting
from consulting.clock import today_for
from consulting.formkit import show_errors
from consulting.limits import Limit
from consulting.models import Logo, Membership
from consulting.sender import sender_of
from plans import agreements, client_links
from plans.client_documents import shared_document
from plans.client_language import as_client_reads
from plans.client_pages import client_page
from plans.documents.manner import in_force
from plans.forms.client import Agree, Ask, Decline
from plans.models import ClientLink
from plans.own_look import look_css
from plans.selectors import latest_proposal
from plans.services import Refused
from plans.views.offers import as_file

GUESSES = Limit("client-key", most=30, seconds=600)
"""Of keys that open nothing, from one address."""
READINGS = Limit("client-page", most=240, seconds=600)
"""Of one link."""
SENDINGS = Limit("client-form", most=30, seconds=3600)
"""Of forms through one link."""


class ClientRequest(HttpRequest):
    """A request that came through a link that works."""

    link: ClientLink


View = Callable[..., HttpResponse]


def through_link(view: View) -> View:
    """Let the view run in the practice of the link whose key the address holds, in its client's language."""

    @wraps(view)
    def opened(request: ClientRequest, key: str, **kwargs: Any) -> HttpResponse:
        response = answer(request, view, key, kwargs)
        patch_cache_control(response, private=True, no_store=True)
        response["X-Robots-Tag"] = "noindex, nofollow, noarchive"
        # Tells other hosts nothing. Under no-referrer a browser would send the page's forms with the origin
        # `null` (Fetch standard, section 3.2), which the protection of forms refuses.
        is_page = response.headers["Content-Type"].startswith("text/html")
        response["Referrer-Policy"] = "same-origin" if is_page else "no-referrer"
        return response

    return opened


def answer(request: ClientRequest, view: View, key: str, kwargs: dict[str, Any]) -> HttpResponse:
    link = client_links.link_behind(key)
    if link is None:
        if not GUESSES.use(sender_of(request).address or "unknown"):
            return render(request, "client/later.html", status=429)
        return render(request, "client/unknown.html", status=404)
    with scope(practice=link.practice), as_client_reads(link.plan), acting(CLIENT):
        if not link.works(today_for(link.practice)):
            return render(request, "client/ended.html", status=410)
        if not READINGS.use(link.key_sha256):
            return render(request, "client/later.html", status=429)
        request.link = link
        return view(request, key=key, **kwargs)


def show(
    request: ClientRequest,
    key: str,
    *,
    sent: Form | None = None,
    refused: str = "",
    typed_name: str = "",
    status: int = 200,
) -> HttpResponse:
    """The page, with the form that was sent where something in it is to be mended."""
    page = client_page(request.link.plan, today_for(request.link.practice))
    if page.closed and isinstance(sent, Agree | Decline):
        sent, refused, status = None, page.closed, 409
    asked = page.asked
    context = {
        **of_house(request, key),
        "page": page,
        "agree": asked and as_sent(sent, Agree(proposal=asked, name=typed_name)),
        "decline": asked and as_sent(sent, Decline(proposal=asked, name=typed_name)),
        "ask": as_sent(sent, Ask()),
        "form": sent,
        "refused": refused,
    }
    return render(request, "client/page.html", context, status=status)


def of_house(request: ClientRequest, key: str) -> dict[str, Any]:
    """Whose page it is, as every page behind the link says at its head."""
    practice = request.link.practice
    return {
        "key": key,
        "house": practice,
        "has_logo": Logo.objects.filter(practice=practice).exists(),
        "dialled": dialled(practice.phone),
    }


def dialled(phone: str) -> str:
    """The number as a telephone takes it; empty where it is more than a number."""
    plain = re.fullmatch(r"\+?[\d\s().-]{5,}", phone.strip())
    return re.sub(r"[^+\d]", "", phone) if plain else ""


def as_sent(sent: Form | None, fresh: Form) -> Form:
    return sent if isinstance(sent, type(fresh)) else fresh


def of_practice(request: ClientRequest) -> bool:
    """Whether whoever looks belongs to the practice: such a look is not the client's."""
    return request.user.is_authenticated and Membership.objects.filter(user=request.user.pk).exists()


@require_safe
@through_link
def page(request: ClientRequest, key: str) -> HttpResponse:
    if request.method == "GET" and not of_practice(request):
        client_links.note_opening(request.link, timezone.now())
    return show(request, key)


@require_safe
@through_link
def logo(request: ClientRequest, key: str) -> HttpResponse:
    found = Logo.objects.filter(practice=request.link.practice).first()
    if found is None:
        raise Http404("no logo")
    return HttpResponse(bytes(found.png), content_type="image/png")


@require_safe
@through_link
def look(request: ClientRequest, key: str) -> HttpResponse:
    """The page in the practice's colors."""
    return HttpResponse(look_css(in_force().look), content_type="text/css")


@require_safe
@through_link
def document(request: ClientRequest, key: str, name: str) -> HttpResponse:
    """One of the documents that the page lists."""
    found = shared_document(request.link.plan, name)
    if found is None:
        raise Http404("no such document")
    return as_file(found.pdf(), "application/pdf", f"{found.key}.pdf")


def back(key: str, part: str) -> HttpResponse:
    return redirect(f"{reverse('client_page', args=[key])}#{part}")


def too_often(request: ClientRequest) -> str:
    """Counts one sending; what to say when there were too many, else nothing."""
    if SENDINGS.use(request.link.key_sha256):
        return ""
    return _(
        "That was sent many times in the last hour. Wait an hour, or call us; what you typed stands here."
    )


@require_http_methods(["GET", "HEAD", "POST"])
@through_link
def ask(request: ClientRequest, key: str) -> HttpResponse:
    if request.method != "POST":
        return back(key, "questions")
    form = Ask(request.POST)
    if not form.is_valid():
        return show(request, key, sent=form, status=422)
    if why := too_often(request):
        return show(request, key, sent=form, refused=why, status=429)
    try:
        client_links.question_ask(link=request.link, **form.cleaned_data)
    except Refused as refused:
        return show(request, key, sent=form, refused=str(refused), status=409)
    return back(key, "questions")


@require_http_methods(["GET", "HEAD", "POST"])
@through_link
def agree(request: ClientRequest, key: str) -> HttpResponse:
    return answered(request, key, Agree, agreements.agree_on_page, then="agreed")


@require_http_methods(["GET", "HEAD", "POST"])
@through_link
def decline(request: ClientRequest, key: str) -> HttpResponse:
    return answered(request, key, Decline, agreements.decline, then="main")


def answered(
    request: ClientRequest, key: str, kind: type[Agree | Decline], act: Callable[..., object], then: str
) -> HttpResponse:
    """Take a yes or a no, and show the page from `then` on; what is in its way stands there, as typed."""
    link = request.link
    proposal = latest_proposal(agreements.matter_of(link.plan))
    if request.method != "POST" or proposal is None:
        return back(key, "answer")
    form = kind(request.POST, proposal=proposal)
    if not form.is_valid():
        return show(request, key, sent=form, status=422)
    if why := too_often(request):
        return show(request, key, sent=form, refused=why, status=429)
    try:
        act(link=link, seen=form.seen, sender=sender_of(request), today=today_for(link.practice), **form.said)
    except ValidationError as wrong:
        show_errors(form, wrong)
        return show(request, key, sent=form, status=422)
    except Refused as refused:
        link.plan.refresh_from_db()
        return show(request, key, refused=str(refused), typed_name=form.said["name"], status=409)
    return back(key, then)
