"""The front door: sends a member on, or lets a newcomer found a practice."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe
from django_scopes import scopes_disabled

from consulting.formkit import attempt
from consulting.forms import FoundForm
from consulting.models import Membership
from consulting.once import sent_once
from consulting.services import practice_found


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    if not request.user.is_authenticated:
        return render(request, "consulting/welcome.html")
    with scopes_disabled():
        memberships = list(Membership.objects.filter(user=request.user).select_related("practice"))
    if not memberships:
        return redirect("practice_new")
    if len(memberships) == 1:
        return redirect("overview", memberships[0].practice.slug)
    return render(request, "consulting/choose.html", {"memberships": memberships})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
@sent_once
def found(request: Any) -> HttpResponse:
    form = FoundForm(request.POST or None)
    if form.is_valid():
        practice = attempt(form, practice_found, founder=request.user)
        if practice:
            return redirect("overview", practice.slug)
    status = 422 if form.errors else 200
    return render(request, "consulting/found.html", {"form": form}, status=status)
