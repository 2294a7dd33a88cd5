"""Who belongs to the practice."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from consulting import invitations, services
from consulting.access import PracticeRequest, practice_view
from consulting.formkit import attempt
from consulting.forms import InviteForm, RoleForm
from consulting.manner import LOCALES, THE_PRACTICES
from consulting.models import Invitation, Membership
from consulting.once import sent_once
from consulting.opened import unmoved
from consulting.policy import Right, in_words, may


def _people(request: PracticeRequest, form: InviteForm | None = None, status: int = 200) -> HttpResponse:
    context = {
        "members": Membership.objects.select_related("user").order_by("user__name", "user__email"),
        "roles": Membership._meta.get_field("role").choices,
        "languages": [("", THE_PRACTICES), *LOCALES],
        "invitations": Invitation.objects.all(),
        "form": form or InviteForm(),
    }
    return render(request, "consulting/people.html", context, status=status)


@require_safe
@practice_view(Right.RUN_PRACTICE)
def people(request: PracticeRequest) -> HttpResponse:
    return _people(request)


@require_POST
@practice_view(Right.RUN_PRACTICE, proven="POST")
def invite(request: PracticeRequest) -> HttpResponse:
    form = InviteForm(request.POST)
    site = f"{request.scheme}://{request.get_host()}"
    asked = None
    if form.is_valid():
        asked = attempt(
            form, invitations.invite, practice=request.practice, invited_by=request.user, site=site
        )
    if asked is None:
        return _people(request, form, 422)
    messages.success(request, _("An invitation is on its way to {email}.").format(email=asked.email))
    return redirect("people", request.practice.slug)


@require_POST
@practice_view(Right.RUN_PRACTICE, proven="POST")
def role(request: PracticeRequest, pk: int) -> HttpResponse:
    member = get_object_or_404(Membership.objects.select_related("user"), pk=pk)
    form = RoleForm(request.POST, instance=services.fresh(member))
    try:
        if not form.is_valid():
            raise ValidationError(_("Choose one of the roles, and one of the languages."))
        services.member_update(member=member, **form.cleaned_data)
        said = (
            _("{name} is now {role} and reads {language}.")
            if member.own_locale
            else _("{name} is now {role}.")
        )
        told = {"role": in_words(member.role), "language": member.get_own_locale_display()}
        messages.success(request, said.format(name=member.user, **told))
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return _home_or_people(request)


@require_POST
@practice_view(Right.RUN_PRACTICE, proven="POST")
def remove(request: PracticeRequest, pk: int) -> HttpResponse:
    member = get_object_or_404(Membership.objects.select_related("user"), pk=pk)
    unmoved(request, member)
    try:
        services.member_remove(member=member)
        messages.success(request, _("{user} no longer belongs to the practice.").format(user=member.user))
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    return _home_or_people(request)


def _home_or_people(request: PracticeRequest) -> HttpResponse:
    """Someone who has just given up their own right to this page is sent home instead."""
    still = Membership.objects.filter(user=request.user).first()
    if still is None or not may(still, Right.RUN_PRACTICE):
        return redirect("home")
    return redirect("people", request.practice.slug)


@require_POST
@practice_view(Right.RUN_PRACTICE, proven="POST")
def withdraw(request: PracticeRequest, pk: int) -> HttpResponse:
    invitation = get_object_or_404(Invitation, pk=pk)
    unmoved(request, invitation)
    invitation.delete()
    messages.success(request, _("The invitation to {email} is withdrawn.").format(email=invitation.email))
    return redirect("people", request.practice.slug)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
@sent_once
def accept(request: Any, token: str) -> HttpResponse:
    """The link in the e-mail: shows who asks, and joins when the button is pressed."""
    try:
        invitation = invitations.read_token(token)
        if request.method == "POST":
            member = invitations.take_up(invitation=invitation, user=request.user)
            messages.success(request, _("You now belong to {practice}.").format(practice=member.practice))
            return redirect("overview", member.practice.slug)
    except invitations.LinkRefused as refusal:
        return render(request, "consulting/invitation.html", {"refusal": str(refusal)}, status=410)
    return render(request, "consulting/invitation.html", {"invitation": invitation})
