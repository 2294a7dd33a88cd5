"""What may be done to a practice's look and own words, each a transaction; the look as a stylesheet."""

from __future__ import annotations

import hashlib

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from consulting.models import Practice
from consulting.services import logo_png, save
from plans.documents.colours import darker, palette_of
from plans.models import KeptLogo, PracticeLook
from plans.planning.own_look import OwnLook
from plans.planning.own_words import places


def look_for(practice: Practice) -> PracticeLook:
    """The practice's look as it is kept; a new one in the house's colours where there is none."""
    return PracticeLook.objects.filter(practice=practice).first() or PracticeLook(practice_id=practice.pk)


def held(practice: Practice) -> PracticeLook:
    """The same, held until the transaction ends."""
    PracticeLook.objects.get_or_create(practice=practice)
    return PracticeLook.objects.select_for_update(of=("self",)).get(practice=practice)


@transaction.atomic
def look_save(*, practice: Practice, **values: str) -> PracticeLook:
    """Colors and letterhead. What was offered keeps the look that it was printed in."""
    return save(held(practice), **values)


@transaction.atomic
def words_save(*, practice: Practice, place: str, text: str) -> PracticeLook:
    """Own words at a place; empty ones take them out. Raises ValidationError for what cannot be filled in."""
    if place not in places():
        raise ValidationError(_("There is no such place for own words."))
    look = held(practice)
    kept = {where: said for where, said in look.words.items() if where != place}
    return save(look, words=kept | ({place: text} if text.strip() else {}))


def logo_kept(practice: Practice) -> KeptLogo | None:
    """The practice's logo of today, kept for what is printed with it."""
    png = logo_png(practice)
    if png is None:
        return None
    sha256 = hashlib.sha256(png).hexdigest()
    return KeptLogo.objects.get_or_create(practice=practice, sha256=sha256, defaults={"png": png})[0]


def look_css(look: OwnLook) -> str:
    """A stylesheet to load after coverstead.css: it puts the site's colors in the look's stead."""
    palette = palette_of(look.main, look.accent)
    return (
        f":root {{ --green: {palette.main}; --green-pressed: {darker(palette.main)}; "
        f"--straw: {palette.fill}; --straw-wash: {palette.wash} }}\n"
    )
