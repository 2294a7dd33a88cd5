"""How a price is made and paid: a practice's usual terms, and the copy that each plan has."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext_lazy as _

from consulting.columns import PERCENT, between, money


def default_stages() -> list[dict[str, Any]]:
    return [
        {"label": "On signing", "share_pct": 25, "due": "when the proposal is signed"},
        {"label": "At seeding", "share_pct": 50, "due": "when the seed is in the ground"},
        {"label": "After the first season", "share_pct": 25, "due": "at the end of the first growing season"},
    ]


def check_stages(stages: Any) -> None:
    """Stages are [{label, share_pct, due}] whose shares sum to 100; an empty list is none at all."""
    if not isinstance(stages, list) or len(stages) > 20:
        raise ValidationError(_("Payment stages must be a list of at most 20."))
    total = 0.0
    for number, stage in enumerate(stages, start=1):
        if not isinstance(stage, dict) or set(stage) != {"label", "share_pct", "due"}:
            raise ValidationError(
                _("Payment stage {number} needs a label, a share and when it is due.").format(number=number)
            )
        if not str(stage["label"]).strip():
            raise ValidationError(
                _("Payment stage {number} has no name. Give it one, such as “On signing”.").format(
                    number=number
                )
            )
        if max(len(str(stage["label"])), len(str(stage["due"]))) > 200:
            raise ValidationError(
                _("Payment stage {number} is too long. Keep each part under 200 characters.").format(
                    number=number
                )
            )
        share = stage["share_pct"]
        if isinstance(share, bool) or not isinstance(share, int | float) or not 0 < share <= 100:
            raise ValidationError(
                _("The share of payment stage {number} must be over 0 and at most 100 %.").format(
                    number=number
                )
            )
        total += share
    if stages and abs(total - 100) > 1e-6:
        raise ValidationError(
            _("The payment stages sum to {total} %. Make them sum to 100 %.").format(total=f"{total:g}")
        )


class TermsFields(models.Model):
    """How a price is made and paid. A practice keeps its usual terms; each plan has its own copy."""

    PRICING = [
        ("margin on price", _("Margin on price")),
        ("markup on cost", _("Markup on cost")),
    ]

    years = models.PositiveSmallIntegerField(default=5, validators=between(1, 5))
    overhead_pct = models.FloatField(_("overhead"), default=15, validators=between(0, 300))
    pricing = models.CharField(_("way of pricing"), max_length=20, choices=PRICING, default="margin on price")
    pricing_pct = models.FloatField(_("margin or markup"), default=20, validators=between(0, 300))
    contingency_pct = models.FloatField(_("contingency"), default=0, validators=PERCENT)
    discount_pct = models.FloatField(_("discount"), default=0, validators=PERCENT)
    tax_work_pct = models.FloatField(_("sales tax on work"), default=0, validators=PERCENT)
    tax_seed_pct = models.FloatField(_("sales tax on seed"), default=0, validators=PERCENT)
    tax_materials_pct = models.FloatField(_("sales tax on materials"), default=0, validators=PERCENT)
    tax_spray_pct = models.FloatField(_("sales tax on spray"), default=0, validators=PERCENT)
    tax_hauling_pct = models.FloatField(_("sales tax on hauling"), default=0, validators=PERCENT)
    cost_share_label = models.CharField(_("cost-share program"), max_length=200, blank=True)
    cost_share_usd_per_acre = money(verbose_name=_("cost-share payment"), default=Decimal("0.00"))
    stages = models.JSONField(
        _("payment stages"), default=default_stages, blank=True, validators=[check_stages]
    )
    valid_days = models.PositiveSmallIntegerField(
        _("offer stands for"), default=30, validators=between(1, 365)
    )
    carrier_gal_per_acre = models.FloatField(_("spray carrier"), default=15, validators=between(1, 100))
    tank_gal = models.FloatField(_("sprayer tank"), default=200, validators=between(1, 5000))
    terms_text = models.TextField(_("terms of business"), max_length=20_000, blank=True)

    class Meta:
        abstract = True

    def clean(self) -> None:
        super().clean()
        if self.pricing == "margin on price" and (self.pricing_pct or 0) >= 100:
            raise ValidationError(
                {
                    "pricing_pct": _(
                        "A margin on price must be under 100 %. Lower it, or choose markup on cost."
                    )
                }
            )
