"""How often a page asks the database."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db import connection
from django.test.utils import CaptureQueriesContext


def count(action: Callable[[], Any]) -> int:
    with CaptureQueriesContext(connection) as asked:
        action()
    return len(asked)
