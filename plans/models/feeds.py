"""Private addresses under which a calendar program reads booked visits."""

from __future__ import annotations

import hashlib
import secrets

from django.conf import settings
from django.db import models
from django.db.models import Q

from consulting.followed import Editable
from consulting.models import Membership


def new_key() -> str:
    """A key that nobody guesses: 32 random bytes."""
    return secrets.token_urlsafe(32)


def key_hash(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()


class CalendarFeed(Editable):
    """Whoever has the address sees the visits; only its hash is kept. Revoking it deletes the row."""

    member = models.ForeignKey(Membership, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    """Whose visits it shows; None for all of the practice."""
    key_sha256 = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    made_at = models.DateTimeField(auto_now_add=True)

    not_followed = frozenset({"key_sha256", "member", "made_by"})

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["practice", "member"], name="one_feed_a_person"),
            models.UniqueConstraint(
                fields=["practice"], condition=Q(member__isnull=True), name="one_feed_of_everybody"
            ),
        ]

    def __str__(self) -> str:
        return f"Calendar of {self.member or 'everybody'}"

    @property
    def about(self) -> str:
        return f"membership:{self.member_id}" if self.member_id else f"practice:{self.practice_id}"

    @property
    def within(self) -> str:
        return str(self.member.user) if self.member else str(self.practice)
