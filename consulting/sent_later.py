"""Answers in data to a form that waited on a device without a signal and is sent now."""

from __future__ import annotations

from django.forms import BaseForm
from django.http import HttpRequest, JsonResponse
from django.utils.translation import gettext as _


def sent_later(request: HttpRequest) -> bool:
    """Whether a device sends what waited on it: it wants to be told, not shown."""
    return request.get_preferred_type(["text/html", "application/json"]) == "application/json"


def kept_reply(said: str) -> JsonResponse:
    return JsonResponse({"said": said})


def wrong_reply(form: BaseForm) -> JsonResponse:
    """What must be mended, each with the name of its field."""
    wrong = [
        [str(form.fields[name].label or name) if name in form.fields else "", str(error)]
        for name, errors in form.errors.items()
        for error in errors
    ]
    return JsonResponse({"said": _("Something in it must be mended."), "wrong": wrong}, status=422)


def refused_reply(said: str) -> JsonResponse:
    return JsonResponse({"said": said, "wrong": []}, status=422)
