"""In which language, on which paper and in which measures a practice prints, and who reads otherwise."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

LOCALES = [
    ("en_US", _("English (United States)")),
    ("en_CA", _("English (Canada)")),
    ("en_GB", _("English (United Kingdom)")),
    ("es_US", _("Spanish (United States)")),
    ("es_MX", _("Spanish (Mexico)")),
    ("es_ES", _("Spanish (Spain)")),
]
THE_PRACTICES = _("The practice’s")
PAPERS = [("letter", _("Letter, 8.5 × 11 in")), ("A4", _("A4, 210 × 297 mm"))]
MEASURES = [
    ("US customary", _("US customary: acres, pounds, gallons")),
    ("metric", _("Metric: hectares, kilograms, liters")),
]


class MannerFields(models.Model):
    """How a practice prints. An offered proposal keeps the manner it was offered in."""

    locale = models.CharField(_("language and formats"), max_length=10, choices=LOCALES, default="en_US")
    paper = models.CharField(max_length=10, choices=PAPERS, default="letter")
    measures = models.CharField(
        _("measures in print"), max_length=20, choices=MEASURES, default="US customary"
    )

    class Meta:
        abstract = True


class ReaderFields(models.Model):
    """Someone who may read in another language than the practice's."""

    own_locale = models.CharField(_("language"), max_length=10, choices=LOCALES, blank=True)
    """Empty for the practice's."""

    class Meta:
        abstract = True
