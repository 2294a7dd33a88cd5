"""In which language, on which paper and in which measures a practice prints, and who reads otherwise."""

from __future__ import annotations

from django.db import models

LOCALES = [
    ("en_US", "English (United States)"),
    ("en_CA", "English (Canada)"),
    ("en_GB", "English (United Kingdom)"),
    ("es_US", "Spanish (United States)"),
    ("es_MX", "Spanish (Mexico)"),
    ("es_ES", "Spanish (Spain)"),
]
THE_PRACTICES = "The practice’s"
PAPERS = [("letter", "Letter, 8.5 × 11 in"), ("A4", "A4, 210 × 297 mm")]
MEASURES = [
    ("US customary", "US customary: acres, pounds, gallons"),
    ("metric", "Metric: hectares, kilograms, liters"),
]


class MannerFields(models.Model):
    """How a practice prints. An offered proposal keeps the manner it was offered in."""

    locale = models.CharField("language and formats", max_length=10, choices=LOCALES, default="en_US")
    paper = models.CharField(max_length=10, choices=PAPERS, default="letter")
    measures = models.CharField("measures in print", max_length=20, choices=MEASURES, default="US customary")

    class Meta:
        abstract = True


class ReaderFields(models.Model):
    """Someone who may read in another language than the practice's."""

    own_locale = models.CharField("language", max_length=10, choices=LOCALES, blank=True)
    """Empty for the practice's."""

    class Meta:
        abstract = True
