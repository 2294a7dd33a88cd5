"""Letters that go out by e-mail: queued with what they are about, sent by a process of its own."""

from __future__ import annotations

from typing import ClassVar

from django.core.validators import MaxLengthValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from consulting.columns import between
from consulting.tenancy import PracticeManager, PracticeRecord

LONGEST_TEXT = 20_000


class LetterFields(models.Model):
    """What goes out by itself. To a client nothing does until the practice says so."""

    remind_client = models.BooleanField(_("remind a client before an offer ends"), default=False)
    remind_days = models.PositiveSmallIntegerField(
        _("so long before it ends"), default=7, validators=between(1, 60)
    )
    tell_client = models.BooleanField(_("tell a client before a visit"), default=False)
    tell_crew = models.BooleanField(_("tell whoever goes"), default=True)
    tell_days = models.PositiveSmallIntegerField(
        _("so long before a visit"), default=1, validators=between(1, 14)
    )
    letter_signature = models.TextField(_("signature under letters"), max_length=1000, blank=True)
    """Empty for name, phone and e-mail address of the practice."""

    class Meta:
        abstract = True


class LetterState(models.TextChoices):
    WAITS = "waits", _("Waits to be sent")
    SENDING = "sending", _("Being sent")
    SENT = "sent", _("Sent")
    FAILED = "failed", _("Not sent")
    UNSURE = "unsure", _("May have gone")
    """Its sending was cut off: only a person may send it again, so that nothing goes twice by itself."""
    DROPPED = "dropped", _("Taken back")


class Letter(PracticeRecord):
    """One letter to one address. Its state changes only through `consulting.outbox`."""

    once = models.CharField(max_length=200, editable=False)
    """What it is, in a word of whoever queues it; a practice has one letter for each."""
    about = models.CharField(max_length=100, blank=True, editable=False)
    """What it belongs to, such as `plan:12`; letters are found by it."""
    to = models.EmailField(_("to"), max_length=254)
    subject = models.CharField(max_length=200)
    text = models.TextField(validators=[MaxLengthValidator(LONGEST_TEXT)])
    by_name = models.CharField(max_length=200, blank=True, editable=False)
    """Who sent it off; empty when it went by itself."""
    message_id = models.CharField(max_length=200, editable=False)
    queued_at = models.DateTimeField(default=timezone.now, editable=False)
    useful_until = models.DateTimeField(null=True, blank=True, editable=False)
    """After that it is not sent any more."""
    state = models.CharField(max_length=8, choices=LetterState, default=LetterState.WAITS, editable=False)
    due_at = models.DateTimeField(default=timezone.now, editable=False)
    """When it is sent, or tried again."""
    tries = models.PositiveSmallIntegerField(default=0, editable=False)
    claim = models.UUIDField(null=True, blank=True, editable=False)
    """The sender that has it, or had it last; who does not hold it any more writes nothing on it."""
    claimed_at = models.DateTimeField(null=True, blank=True, editable=False)
    sent_at = models.DateTimeField(null=True, blank=True, editable=False)
    trouble = models.CharField(max_length=500, blank=True, editable=False)
    """Why it was not sent, in a sentence."""

    TROUBLE = (LetterState.FAILED, LetterState.UNSURE)
    """What a person has to look at."""

    objects: ClassVar[PracticeManager[Letter]] = PracticeManager()

    class Meta:
        ordering = ["-queued_at", "-pk"]
        indexes = [
            models.Index(fields=["practice", "-queued_at"], name="letters_by_day"),
            models.Index(fields=["practice", "about"], name="letters_by_matter"),
            models.Index(
                fields=["due_at"], name="letters_to_send", condition=Q(state__in=["waits", "sending"])
            ),
        ]
        constraints = [models.UniqueConstraint(fields=["practice", "once"], name="each_letter_once")]

    def __str__(self) -> str:
        return self.subject

    @property
    def may_be_sent_again(self) -> bool:
        return self.state in self.TROUBLE

    @property
    def may_be_taken_back(self) -> bool:
        return self.state in (LetterState.WAITS, *self.TROUBLE)


class Enclosure(PracticeRecord):
    """A file that goes with a letter. Its bytes are kept until it is sent, its hash for good."""

    letter = models.ForeignKey(Letter, on_delete=models.CASCADE, related_name="enclosures", editable=False)
    name = models.CharField(max_length=200)
    content_type = models.CharField(max_length=100)
    content = models.BinaryField(null=True, blank=True)
    size_bytes = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.name
