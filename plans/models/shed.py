"""What lies in the shed, lot by lot, and every pound that came in or went out."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext, gettext_lazy

from consulting.append_only import Added
from consulting.followed import Editable, OwnChange
from plans.documents.told import told
from plans.models.records import RecordLine, WorkRecord
from plans.models.visits import Visit

MOST = Decimal("10000000")


def exactly(amount: Decimal) -> str:
    """Every digit that counts and no other: `1,200.0625`, `12`."""
    text = f"{amount:,f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def percent(low: float) -> list[Any]:
    return [MinValueValidator(low), MaxValueValidator(100)]


class StockLot(Editable):
    """One lot of one thing. What is on hand changes only through a StockMove."""

    class Kind(models.TextChoices):
        SEED = "seed", "Seed"
        PRODUCT = "product", "Herbicides and adjuvants"
        SUPPLY = "supply", "Plants and supplies"

    kind = models.CharField(max_length=8, choices=Kind, editable=False)
    name = models.CharField(max_length=300)
    """A species, or a product or supply as a plan prints it."""
    unit = models.CharField(max_length=20, editable=False)
    """Seed is counted in bulk lb."""
    lot = models.CharField(max_length=200, blank=True)
    on_hand = models.DecimalField(
        max_digits=12,
        decimal_places=4,
        default=Decimal(0),
        editable=False,
        validators=[MinValueValidator(Decimal(0)), MaxValueValidator(MOST)],
    )
    purity_pct = models.FloatField("purity", null=True, blank=True, validators=percent(0.000001))
    germination_pct = models.FloatField("germination", null=True, blank=True, validators=percent(0))
    dormant_pct = models.FloatField("dormant or hard seed", null=True, blank=True, validators=percent(0))
    tested_on = models.DateField("tested on", null=True, blank=True)
    notes = models.TextField(max_length=2000, blank=True)

    not_followed = frozenset({"on_hand"})
    """Told by each StockMove."""

    class Meta:
        ordering = ["name", "lot", "pk"]
        indexes = [models.Index(fields=["practice", "kind", "name"], name="shed_by_kind")]
        constraints = [
            models.CheckConstraint(condition=Q(on_hand__gte=0), name="shed_holds_nothing_negative"),
            models.CheckConstraint(
                condition=~Q(kind="seed") | Q(purity_pct__gt=0, germination_pct__isnull=False),
                name="shed_seed_has_a_test",
            ),
        ]

    def __str__(self) -> str:
        name = told(self.name)
        return gettext("{name}, lot {lot}").format(name=name, lot=self.lot) if self.lot else name

    def clean(self) -> None:
        super().clean()
        if self.kind != self.Kind.SEED:
            return
        missing = {
            name: gettext("A seed lot needs its test. Copy it from the tag.")
            for name in ("purity_pct", "germination_pct")
            if getattr(self, name) is None
        }
        if missing:
            raise ValidationError(missing)
        if not 0 < (self.germination_pct or 0) + (self.dormant_pct or 0) <= 100:
            raise ValidationError(
                {
                    "germination_pct": gettext(
                        "Germination and dormant seed together must be over 0 and at most 100 %."
                    )
                }
            )

    @property
    def measure(self) -> str:
        return gettext("lb bulk") if self.kind == self.Kind.SEED else gettext(self.unit)

    @property
    def holds(self) -> str:
        """What is on hand, in words."""
        return f"{exactly(self.on_hand)} {self.measure}"

    def own_changes(self, since: int) -> list[OwnChange]:
        moves = self.moves.filter(version__gt=since).select_related("visit__field")
        return [
            OwnChange(one.at, one.sentence, (one.note,) if one.note else (), one.by_name, {}) for one in moves
        ]

    @property
    def alive_pct(self) -> float:
        return (self.germination_pct or 0) + (self.dormant_pct or 0)


class StockMove(Added):
    """What came in, went out to a field, or was counted anew. Rows are only ever added."""

    class What(models.TextChoices):
        IN = "in", "Came in"
        OUT = "out", "Went out"
        COUNTED = "counted", "Counted anew"

    lot = models.ForeignKey(StockLot, on_delete=models.PROTECT, related_name="moves")
    version = models.PositiveIntegerField(null=True, editable=False)
    """Of the lot after it; none of moves from before it was kept."""
    what = models.CharField(max_length=8, choices=What)
    amount = models.DecimalField(max_digits=12, decimal_places=4)
    """By how much the lot changed, in its unit; under 0 for what went out."""
    after = models.DecimalField(max_digits=12, decimal_places=4)
    """On hand after it."""
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="stock_moves"
    )
    """Where it went, or came back from."""
    record = models.ForeignKey(
        WorkRecord, on_delete=models.PROTECT, null=True, blank=True, related_name="stock_moves"
    )
    """The record of work that it follows from; none for what somebody took or brought by hand."""
    on = models.DateField()
    note = models.CharField(max_length=1000, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+")
    by_name = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["practice", "visit"], name="shed_moves_of_a_visit")]
        constraints = [
            models.CheckConstraint(
                condition=~Q(what="out") | Q(visit__isnull=False, amount__lt=0), name="shed_out_has_a_visit"
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_what_display()}: {self.amount:+f}"

    @property
    def size(self) -> str:
        return exactly(abs(self.amount))

    @property
    def left(self) -> str:
        return exactly(self.after)

    @property
    def sentence(self) -> str:
        """Asks for the lot and `visit__field`."""
        pattern = MOVED[StockMove.What(self.what)]
        if self.visit:
            pattern = TO_FIELD if self.amount < 0 else FROM_FIELD
        return str(pattern).format(
            who=self.by_name,
            amount=f"{self.size} {self.lot.measure}",
            left=f"{self.left} {self.lot.measure}",
            field=self.visit.field.name if self.visit else "",
        )


MOVED = {
    StockMove.What.IN: gettext_lazy("{who} put {amount} in: {left} then on hand."),
    StockMove.What.OUT: gettext_lazy("{who} took {amount} out: {left} then on hand."),
    StockMove.What.COUNTED: gettext_lazy("{who} counted it anew: {left} then on hand."),
}
TO_FIELD = gettext_lazy("{who} took {amount} to {field}: {left} then on hand.")
FROM_FIELD = gettext_lazy("{who} brought {amount} back from {field}: {left} then on hand.")


class LotUse(Added):
    """The lot that a line of a record came from, and how much of it, in the lot's unit.

    A record that was corrected or taken back keeps its rows; they count no more.
    """

    line = models.OneToOneField(RecordLine, on_delete=models.PROTECT, related_name="lot_use")
    lot = models.ForeignKey(StockLot, on_delete=models.PROTECT, related_name="uses")
    amount = models.DecimalField(max_digits=12, decimal_places=4, validators=[MinValueValidator(Decimal(0))])

    def __str__(self) -> str:
        return f"{self.lot}: {exactly(self.amount)} {self.lot.measure}"
