"""The practice's own pages: details, logo, default terms."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consulting import services
from consulting.access import PracticeRequest, practice_view
from consulting.formkit import attempt
from consulting.forms import DetailsForm, LettersForm, SlopesForm, TermsForm
from consulting.models import Logo
from consulting.opened import unmoved
from consulting.policy import Right


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.RUN_PRACTICE)
def details(request: PracticeRequest) -> HttpResponse:
    shown = services.fresh(request.practice)
    form = DetailsForm(request.POST or None, request.FILES or None, instance=shown)
    if (
        form.is_valid()
        and attempt(form, services.practice_update_details, practice=request.practice) is not None
    ):
        messages.success(request, _("The practice’s details are saved."))
        return redirect("practice_details", request.practice.slug)
    logo = Logo.objects.filter(practice=request.practice).defer("png").first()
    context = {"form": form, "logo": logo}
    return render(request, "consulting/practice.html", context, status=422 if form.errors else 200)


@require_safe
@practice_view(Right.SEE_WORK)
def logo(request: PracticeRequest) -> HttpResponse:
    found = Logo.objects.filter(practice=request.practice).first()
    if found is None:
        raise Http404("no logo")
    return HttpResponse(bytes(found.png), content_type="image/png")


@require_POST
@practice_view(Right.RUN_PRACTICE)
def logo_remove(request: PracticeRequest) -> HttpResponse:
    unmoved(request, Logo.objects.filter(practice=request.practice).defer("png").first())
    services.logo_remove(practice=request.practice)
    messages.success(request, _("The logo is removed."))
    return redirect("practice_details", request.practice.slug)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.RUN_PRACTICE)
def terms(request: PracticeRequest) -> HttpResponse:
    form = TermsForm(request.POST or None, instance=services.fresh(request.practice))
    if form.is_valid() and attempt(form, services.practice_update, practice=request.practice) is not None:
        messages.success(request, _("The usual terms are saved. New plans begin with them."))
        return redirect("practice_terms", request.practice.slug)
    return render(request, "consulting/terms.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.RUN_PRACTICE)
def slopes(request: PracticeRequest) -> HttpResponse:
    form = SlopesForm(request.POST or None, instance=services.fresh(request.practice))
    if form.is_valid() and attempt(form, services.practice_update, practice=request.practice) is not None:
        messages.success(request, _("The limits are saved. Plans not yet offered follow them."))
        return redirect("practice_slopes", request.practice.slug)
    return render(request, "consulting/slopes.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.RUN_PRACTICE)
def letters(request: PracticeRequest) -> HttpResponse:
    form = LettersForm(request.POST or None, instance=services.fresh(request.practice))
    if form.is_valid() and attempt(form, services.practice_update, practice=request.practice) is not None:
        messages.success(request, _("Saved. Letters that wait already stay as they are."))
        return redirect("practice_letters", request.practice.slug)
    return render(request, "consulting/own_letters.html", {"form": form}, status=422 if form.errors else 200)
