"""Which names a view asks of what was sent to it: parameters that no form of a page shows."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from unittest.mock import patch

from django.http import QueryDict
from django.utils.datastructures import MultiValueDict


@contextmanager
def names_asked() -> Iterator[set[str]]:
    """Collects them while requests run."""
    found: set[str] = set()

    def noting(method: Any) -> Any:
        def asked(self: Any, key: Any, *args: Any, **kwargs: Any) -> Any:
            if isinstance(key, str) and isinstance(self, QueryDict):
                found.add(key)
            return method(self, key, *args, **kwargs)

        return asked

    with (
        patch.object(MultiValueDict, "__getitem__", noting(MultiValueDict.__getitem__)),
        patch.object(MultiValueDict, "_getlist", noting(MultiValueDict._getlist)),
        patch.object(MultiValueDict, "__contains__", noting(dict.__contains__)),
    ):
        yield found
