"""What a person is to a practice, in words."""

from __future__ import annotations

from django import template

from consulting.models import Invitation, Membership
from consulting.policy import in_words

register = template.Library()


@register.filter
def role(whose: Membership | Invitation) -> str:
    return in_words(whose.role)
