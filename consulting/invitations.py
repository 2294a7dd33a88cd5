"""Asking people into a practice: a signed link by e-mail, taken up by whoever owns the address."""

from __future__ import annotations

from django.core import signing
from django.core.exceptions import ValidationError
from django.db import transaction
from django.template.loader import render_to_string
from django.utils.translation import gettext
from django_scopes import scope, scopes_disabled

from consulting.acting import acting
from consulting.models import Invitation, Membership, Practice, User
from consulting.outbox import put
from consulting.services import save

SALT = "consulting.invitation"
DAYS = 14


class LinkRefused(Exception):
    """The link is forged, too old, or no longer wanted; the message says which."""


def token(invitation: Invitation) -> str:
    return signing.dumps({"invitation": invitation.pk, "email": invitation.email}, salt=SALT)


def read_token(text: str) -> Invitation:
    """The invitation a link stands for. Raises LinkRefused."""
    try:
        said = signing.loads(text, salt=SALT, max_age=DAYS * 86_400)
    except signing.SignatureExpired:
        raise LinkRefused(
            gettext("This invitation is more than {days} days old. Ask for a new one.").format(days=DAYS)
        ) from None
    except signing.BadSignature:
        raise LinkRefused(
            gettext(
                "This link is not complete. Open it again from the e-mail, or copy all of it into the "
                "address line."
            )
        ) from None
    with scopes_disabled():
        invitation = (
            Invitation.objects.select_related("practice", "invited_by")
            .filter(pk=said["invitation"], email=said["email"])
            .first()
        )
    if invitation is None:
        raise LinkRefused(
            gettext("This invitation has been taken up or withdrawn. Ask for a new one if you need it.")
        )
    return invitation


@transaction.atomic
def invite(*, practice: Practice, invited_by: User, site: str, email: str, role: str) -> Invitation:
    """Keep an invitation and queue the letter with its link. `site` is the address up to the path.

    Raises ValidationError when the address belongs to a member or has an open invitation.
    """
    email = email.strip().lower()
    if Membership.objects.filter(user__email=email).exists():
        raise ValidationError(
            {"email": gettext("{email} belongs to the practice already.").format(email=email)}
        )
    invitation = save(Invitation(practice=practice, invited_by=invited_by), email=email, role=role)
    context = {"invitation": invitation, "link": f"{site}/invitation/{token(invitation)}/", "days": DAYS}
    body = render_to_string("consulting/mail/invitation.txt", context)
    put(
        practice=practice,
        once=f"invitation:{invitation.pk}",
        to=email,
        subject=f"An invitation to {practice.name}",
        text=body,
        by=invited_by,
    )
    return invitation


@transaction.atomic
def take_up(*, invitation: Invitation, user: User) -> Membership:
    """Make `user` a member. Raises LinkRefused when the invitation is for another address."""
    if user.email.lower() != invitation.email:
        raise LinkRefused(
            gettext(
                "This invitation is for {theirs}, and you are signed in as {yours}. Sign out, then open the "
                "link again."
            ).format(theirs=invitation.email, yours=user.email)
        )
    with scope(practice=invitation.practice), acting(user):
        member = Membership.objects.filter(user=user).first()
        if member is None:
            member = save(Membership(practice=invitation.practice, user=user), role=invitation.role)
        invitation.delete()
    return member
