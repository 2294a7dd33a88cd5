"""Columns of numbers and money that the tables share, with their bounds."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

LARGEST_NUMBER = 1e9
LARGEST_MONEY = Decimal("10000000")


def at_least(low: float) -> list[Any]:
    return [MinValueValidator(low), MaxValueValidator(LARGEST_NUMBER)]


def between(low: float, high: float) -> list[Any]:
    return [MinValueValidator(low), MaxValueValidator(high)]


ABOVE_ZERO = at_least(0.000001)
PERCENT = between(0, 100)


def money(**kwargs: Any) -> models.DecimalField:
    """Dollars and cents, zero or more."""
    validators = [MinValueValidator(Decimal(0)), MaxValueValidator(LARGEST_MONEY)]
    return models.DecimalField(max_digits=12, decimal_places=2, validators=validators, **kwargs)
