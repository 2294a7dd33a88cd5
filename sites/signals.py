"""What the ground tells those who build on it, without knowing them."""

from __future__ import annotations

from django.dispatch import Signal

year_changed = Signal()
"""Something was seen on a `farm` this year, or taken back: `by` whom, and `because` in words."""

field_divided = Signal()
"""A `field` was divided and part of it `made` another. A receiver may refuse it with a ValidationError."""
