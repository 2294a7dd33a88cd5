"""Clients: the list, one client with its farms, and the form."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_safe

from consulting import services
from consulting.access import PracticeRequest, practice_view
from consulting.formkit import attempt
from consulting.forms import ClientForm
from consulting.models import Client
from consulting.policy import Right
from sites import selectors

PAGE = 50


@require_safe
@practice_view(Right.SEE_WORK)
def clients(request: PracticeRequest) -> HttpResponse:
    search = request.GET.get("q", "").replace("\x00", "").strip()[:200]
    page = Paginator(selectors.clients(search), PAGE).get_page(request.GET.get("page"))
    return render(request, "sites/clients.html", {"page": page, "search": search})


@require_safe
@practice_view(Right.SEE_WORK)
def client(request: PracticeRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Client, pk=pk)
    return render(request, "sites/client.html", {"client": found, "farms": selectors.farms_of(found)})


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def new(request: PracticeRequest) -> HttpResponse:
    form = ClientForm(request.POST or None)
    if form.is_valid():
        made = attempt(form, services.client_create, practice=request.practice)
        if made:
            messages.success(
                request, gettext("{name} is on your books. Next: a farm.").format(name=made.name)
            )
            return redirect("client", request.practice.slug, made.pk)
    return render(request, "sites/client_form.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def edit(request: PracticeRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Client, pk=pk)
    form = ClientForm(request.POST or None, instance=services.fresh(found))
    if form.is_valid() and attempt(form, services.client_update, client=found) is not None:
        messages.success(request, gettext("Saved."))
        return redirect("client", request.practice.slug, found.pk)
    context = {"form": form, "client": found}
    return render(request, "sites/client_form.html", context, status=422 if form.errors else 200)
