"""What stays of an erased practice: the records of work that the law wants kept, as long as it does."""

from __future__ import annotations

from django.db import models


class ErasedPractice(models.Model):
    """No table of a practice: the practice is gone. Nothing but its name, the day and its last records."""

    name = models.CharField(max_length=200)
    slug = models.CharField(max_length=60)
    erased_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.name}, erased {self.erased_at:%Y-%m-%d}"


class LawfulRecord(models.Model):
    """A record of work as it was printed when its practice was erased."""

    erased = models.ForeignKey(ErasedPractice, on_delete=models.CASCADE, related_name="records")
    number = models.PositiveIntegerField()
    on = models.DateField()
    keep_until = models.DateField(db_index=True)
    content = models.TextField()
    """The record with its lines, as JSON; what its seal was made of stands in it."""
    sha256 = models.CharField(max_length=64)
    """The seal it had in the practice's chain."""

    class Meta:
        ordering = ["erased", "number"]

    def __str__(self) -> str:
        return f"Record {self.number}, kept until {self.keep_until}"
