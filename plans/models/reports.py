"""Season reports: the consultant's own words while one is written, and the reports as they were sent."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext as _

from consulting.append_only import Added
from consulting.followed import Editable
from plans.models.plans import Plan

MOST_WORDS = 6000


class ReportWords(Editable):
    """What the consultant adds to the report of a year, before it is sent."""

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="+", editable=False)
    year = models.PositiveSmallIntegerField(editable=False)
    words = models.TextField(blank=True, max_length=MOST_WORDS)

    part_of = "plan"

    class Meta:
        constraints = [models.UniqueConstraint(fields=["plan", "year"], name="report_words_once")]

    def __str__(self) -> str:
        return self.words[:80]


class SentReport(Added):
    """A season report as it was sent: what it says, its printed bytes and their hash."""

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="season_reports")
    year = models.PositiveSmallIntegerField()
    edition = models.PositiveSmallIntegerField()
    """From 1 for each year; a report that is mended is sent again as the next."""
    content = models.TextField()
    """As plans.documents.season_facts writes it, without the pictures."""
    pdf = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    sent_on = models.DateField()
    sent_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    sent_by_name = models.CharField(max_length=200)
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-year", "-edition"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "year", "edition"], name="report_edition_once")
        ]

    def __str__(self) -> str:
        said = _("Season report {year}, edition {edition}") if self.edition > 1 else _("Season report {year}")
        return said.format(year=self.year, edition=self.edition)
