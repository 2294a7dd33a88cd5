"""What passes between practice and client: the link to the client's page, questions, a yes or a no."""

from __future__ import annotations

from datetime import date
from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from consulting.append_only import Added
from consulting.followed import Editable
from plans.models.plans import Plan
from plans.models.proposals import Proposal

LONGEST_QUESTION = 4000


class ClientLink(Editable):
    """Whoever has the address sees the client's page of a plan; only a hash of its key is kept."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="client_links", editable=False)
    key_sha256 = models.CharField(max_length=64, unique=True, editable=False)
    expires_on = models.DateField(_("works until"))
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+", editable=False
    )
    made_by_name = models.CharField(max_length=200, editable=False)
    made_at = models.DateTimeField(auto_now_add=True)
    revoked_at = models.DateTimeField(null=True, editable=False)
    opened = models.PositiveIntegerField(default=0, editable=False)
    """How often, not counting people of the practice."""
    first_opened_at = models.DateTimeField(null=True, editable=False)
    last_opened_at = models.DateTimeField(null=True, editable=False)

    part_of = "plan"
    not_followed = frozenset("key_sha256 made_by made_by_name opened first_opened_at last_opened_at".split())

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["plan"], condition=Q(revoked_at__isnull=True), name="one_client_link_a_plan"
            )
        ]

    def __str__(self) -> str:
        return f"Client’s link to {self.plan}"

    def works(self, today: date) -> bool:
        return self.revoked_at is None and today <= self.expires_on


class Question(Added):
    """What a client asked, as plain text."""

    uid = models.UUIDField(default=uuid4)
    """Given with the form, so that sending it twice asks once."""
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="questions")
    link = models.ForeignKey(ClientLink, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=200, blank=True)
    text = models.TextField(max_length=LONGEST_QUESTION)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["plan", "uid"], name="question_asked_once")]

    def __str__(self) -> str:
        return self.text[:80]


class Answer(Added):
    """What the practice answered; a second thought is a second answer."""

    question = models.ForeignKey(Question, on_delete=models.PROTECT, related_name="answers")
    text = models.TextField(max_length=LONGEST_QUESTION)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+")
    by_name = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.text[:80]


class Agreement(Added):
    """The client's yes to one revision: to which bytes, by whom, when and how.

    Each seal takes in the one before.
    """

    class How(models.TextChoices):
        PAGE = "page", _("On the client’s page")
        PAPER = "paper", _("On paper")

    number = models.PositiveIntegerField()
    """Its place among the practice's agreements, from 1."""
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="agreements")
    proposal = models.OneToOneField(Proposal, on_delete=models.PROTECT, related_name="agreement")
    pdf_sha256 = models.CharField(max_length=64)
    """Of the PDF as it was stored then; the client saw it beside the box to tick."""
    inputs_sha256 = models.CharField(max_length=64)
    result_sha256 = models.CharField(max_length=64)
    """Of the result and, for a change order, of what was left before it."""
    total_usd = models.DecimalField(max_digits=12, decimal_places=2)
    how = models.CharField(max_length=5, choices=How)
    name = models.CharField(max_length=200)
    """As the client typed or signed it."""
    statement = models.TextField(max_length=2000)
    """The sentence that was agreed to, in the client's language."""
    signed_on = models.DateField()
    """The practice's own day; on paper, the date beside the signature."""
    at = models.DateTimeField()
    """When it was sent or, for paper, entered."""
    address = models.GenericIPAddressField(null=True, blank=True)
    user_agent = models.CharField(max_length=400, blank=True)
    link = models.ForeignKey(ClientLink, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    entered_by_name = models.CharField(max_length=200, blank=True)
    """Who of the practice entered a paper; empty for the page."""
    sha256 = models.CharField(max_length=64)

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["practice", "number"], name="agreement_number_once")]

    def __str__(self) -> str:
        return f"Agreement {self.number}, to {self.proposal}"


class AgreementScan(Added):
    """A page or pages that somebody signed, as an image we made ourselves or a PDF that opens."""

    KINDS = {"jpg": "image/jpeg", "pdf": "application/pdf"}

    agreement = models.ForeignKey(Agreement, on_delete=models.PROTECT, related_name="scans")
    kind = models.CharField(max_length=3, choices=[(kind, kind.upper()) for kind in KINDS])
    pages = models.PositiveSmallIntegerField()
    content = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    entered_by_name = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"Scan of agreement {self.agreement_id}"


class Refusal(Added):
    """The client's no to one revision."""

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="refusals")
    proposal = models.OneToOneField(Proposal, on_delete=models.PROTECT, related_name="refusal")
    name = models.CharField(max_length=200)
    reason = models.TextField(max_length=LONGEST_QUESTION, blank=True)
    at = models.DateTimeField(auto_now_add=True)
    address = models.GenericIPAddressField(null=True, blank=True)
    user_agent = models.CharField(max_length=400, blank=True)
    link = models.ForeignKey(ClientLink, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.proposal} declined by {self.name}"
