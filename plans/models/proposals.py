"""What was offered, frozen: inputs, result, the printed bytes and their hash. A row never changes again."""

from __future__ import annotations

from typing import Any, ClassVar, NoReturn

from django.conf import settings
from django.db import models
from django.utils.translation import gettext as _

from consulting.models import Practice
from consulting.tenancy import PracticeManager, PracticeRecord
from plans.models.look import KeptLogo
from plans.models.plans import Plan


class Frozen(Exception):
    """An offered proposal is a record; it is neither changed nor deleted."""

    def __init__(self) -> None:
        super().__init__("an offered proposal is a record: offer the next revision instead of changing it")


class FrozenQuerySet(models.QuerySet["Proposal"]):
    def update(self, **kwargs: Any) -> NoReturn:
        raise Frozen

    def delete(self) -> NoReturn:
        raise Frozen

    def bulk_update(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise Frozen


class FrozenManager(PracticeManager["Proposal"]):
    _queryset_class = FrozenQuerySet


class ProposalCounter(PracticeRecord):
    """The last proposal number a practice has given out; its row is locked while the next is taken."""

    practice = models.OneToOneField(Practice, on_delete=models.CASCADE, related_name="+")
    last = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return str(self.last)


class Proposal(PracticeRecord):
    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="+")
    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="proposals")
    number = models.PositiveIntegerField()
    revision = models.PositiveIntegerField()
    total_usd = models.DecimalField(max_digits=12, decimal_places=2)
    inputs = models.TextField()
    """The job and the price list, as plans.planning.wire writes them."""
    result = models.TextField()
    """The plan worked out from them."""
    beside = models.TextField(default="", blank=True)
    """What stood beside it in print, as plans.planning.beside writes it; empty for older proposals."""
    logo = models.ForeignKey(KeptLogo, on_delete=models.PROTECT, null=True, related_name="+")
    pdf = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    program_sha256 = models.CharField(max_length=64, blank=True)
    """Of the program that wrote it, by `plans.program`; empty before that was noted."""
    offered_on = models.DateField()
    valid_until = models.DateField()
    offered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    offered_by_name = models.CharField(max_length=200)
    why = models.TextField(blank=True)
    """Why it differs from the revision before, in the consultant's words."""
    changes = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="changed_by"
    )
    """The agreed revision that a change order changes; none for a proposal."""
    before = models.TextField(blank=True)
    """Of a change order: what was left of the agreed work, worked out the same day as `result`."""
    accepted_cautions = models.JSONField(default=list)
    """[{"key", "message", "reason", "accepted_by", "on"}]"""

    objects: ClassVar[FrozenManager] = FrozenManager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["practice", "number"], name="proposal_number_once"),
            models.UniqueConstraint(fields=["plan", "revision"], name="proposal_revision_once"),
        ]

    def __str__(self) -> str:
        if self.is_change_order:
            return _("Change order {number}, revision {revision}").format(
                number=self.number, revision=self.revision
            )
        return _("Proposal {number}, revision {revision}").format(number=self.number, revision=self.revision)

    @property
    def is_change_order(self) -> bool:
        return self.changes_id is not None

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise Frozen
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise Frozen
