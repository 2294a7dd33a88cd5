"""Writes to the business: every change to a practice, its people and its clients goes through here."""

from __future__ import annotations

from itertools import groupby
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django_scopes import scope

from consulting.acting import acting
from consulting.images import Photo, Picture
from consulting.models import (
    RESERVED_SLUGS,
    Client,
    Logo,
    Machine,
    MachinePhoto,
    MachineSpan,
    Membership,
    Practice,
    User,
)
from consulting.policy import Role, owns
from consulting.starter import starter_rows

Row = TypeVar("Row", bound=models.Model)


def save(row: Row, **values: Any) -> Row:
    """Set `values`, check the whole row, save it. Raises ValidationError and leaves the row as it was."""
    before = dict(vars(row))
    try:
        for name, value in values.items():
            setattr(row, name, value)
        row.full_clean()
    except ValidationError:
        for name, value in before.items():
            setattr(row, name, value)
        raise
    row.save()
    return row


def free_slug(name: str) -> str:
    """A web address made from a name: plain letters, not kept for the site, not taken."""
    stem = slugify(name)[:50].strip("-") or "practice"
    slug, number = stem, 1
    while slug in RESERVED_SLUGS or Practice.objects.filter(slug=slug).exists():
        number += 1
        slug = f"{stem}-{number}"
    return slug


@transaction.atomic
def practice_found(*, founder: User, name: str, slug: str = "", **values: Any) -> Practice:
    """A new practice with its founder as owner and a starter price list, every row of it unchecked."""
    practice = save(Practice(), name=name, slug=slug or free_slug(name), **values)
    with scope(practice=practice), acting(founder):
        save(Membership(practice=practice, user=founder), role=Role.OWNER.value)
        rows = list(starter_rows(practice))
        for row in rows:
            row.full_clean(validate_unique=False, validate_constraints=False)
        for model, alike in groupby(rows, key=lambda row: row._meta.model):
            model._default_manager.bulk_create(alike)
    return practice


@transaction.atomic
def practice_update(*, practice: Practice, **values: Any) -> Practice:
    """Change details or default terms. Offered proposals hold their own copy and stay as they are."""
    return save(practice, **values)


@transaction.atomic
def practice_update_details(*, practice: Practice, logo: Picture | None = None, **values: Any) -> Practice:
    """Change details and, when one is given, the logo."""
    if logo:
        Logo.objects.update_or_create(
            practice=practice,
            defaults={"png": logo.png, "width_px": logo.width_px, "height_px": logo.height_px},
        )
    return save(practice, **values)


def logo_png(practice: Practice) -> bytes | None:
    """The logo for print, or None."""
    logo = Logo.objects.filter(practice=practice).first()
    return bytes(logo.png) if logo else None


def fresh(row: Row) -> Row:
    """The same row read anew: a form writes on its instance before it is known to be right."""
    return type(row)._base_manager.get(pk=row.pk)


def logo_remove(*, practice: Practice) -> None:
    Logo.objects.filter(practice=practice).delete()


def client_create(*, practice: Practice, **values: Any) -> Client:
    return save(Client(practice=practice), **values)


def client_update(*, client: Client, **values: Any) -> Client:
    return save(client, **values)


@transaction.atomic
def machine_save(*, machine: Machine, photo: Photo | None = None) -> Machine:
    """Save a machine and, when one is given, its photograph."""
    save(machine)
    if photo:
        MachinePhoto.objects.update_or_create(
            machine=machine,
            defaults={
                "practice": machine.practice,
                "jpeg": photo.jpeg,
                "width_px": photo.width_px,
                "height_px": photo.height_px,
            },
        )
    return machine


def machine_remove(*, machine: Machine) -> None:
    machine.delete()


@transaction.atomic
def machine_span_save(*, span: MachineSpan, user: User) -> MachineSpan:
    """Days on which a machine can or cannot be had, with who says so. Bookings of it wait for the answer."""
    Machine.objects.select_for_update().get(pk=span.machine_id)
    return save(span, by=user, by_name=str(user), taken_back=False)


def machine_span_take_back(*, span: MachineSpan, user: User) -> MachineSpan:
    return save(span, by=user, by_name=str(user), taken_back=True)


def machine_photo_remove(*, machine: Machine) -> None:
    MachinePhoto.objects.filter(machine=machine).delete()


@transaction.atomic
def member_update(*, member: Membership, role: str, own_locale: str) -> Membership:
    """Raises ValidationError when it would leave the practice without an owner."""
    keep_an_owner(member, role)
    return save(member, role=role, own_locale=own_locale)


@transaction.atomic
def member_remove(*, member: Membership) -> None:
    """Raises ValidationError when it would leave the practice without an owner."""
    keep_an_owner(member, None)
    member.delete()


def keep_an_owner(member: Membership, role: str | None) -> None:
    """The practice's memberships are locked, so two owners cannot step down at once."""
    owners = {
        row.pk for row in Membership.objects.select_for_update(of=("self",)).order_by("pk") if owns(row.role)
    }
    if not owns(role) and owners == {member.pk}:
        raise ValidationError(
            _(
                "{user} is the only owner. Make someone else an owner first, so that the practice keeps one."
            ).format(user=member.user)
        )
