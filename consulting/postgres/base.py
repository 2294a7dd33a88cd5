"""Django's back end for PostgreSQL, which tells the database in whose scope each query is asked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db.backends.postgresql import base
from django_scopes import get_scope

EVERYTHING, NOTHING = 0, -1
"""Instead of a practice's key: with scopes disabled, and outside every scope."""


def asked_for() -> int:
    """The practice whose rows may be seen now."""
    scope = get_scope()
    if not scope:
        return NOTHING
    if not scope.get("_enabled", True):
        return EVERYTHING
    return getattr(scope.get("practice"), "pk", None) or NOTHING


class DatabaseWrapper(base.DatabaseWrapper):
    """Sets `coverstead.practice` on the connection when the scope is another than the database was told."""

    told: int | None = None
    """What the database knows; None when a rollback may have taken it back."""
    everything = False
    """While tables are made and moved, which is nobody's act."""

    def init_connection_state(self) -> None:
        super().init_connection_state()
        self.told = None
        if self._tell not in self.execute_wrappers:
            self.execute_wrappers.insert(0, self._tell)

    def _tell(self, execute: Callable[..., Any], sql: Any, params: Any, many: bool, context: Any) -> Any:
        wanted = EVERYTHING if self.everything else asked_for()
        if wanted != self.told and self.connection is not None:
            self.connection.execute("SELECT set_config('coverstead.practice', %s, false)", [str(wanted)])
            self.told = wanted
        return execute(sql, params, many, context)

    def _rollback(self) -> None:
        super()._rollback()  # type: ignore[misc]
        self.told = None

    def _savepoint_rollback(self, sid: str) -> None:
        super()._savepoint_rollback(sid)  # type: ignore[misc]
        self.told = None

    def _close(self) -> None:
        super()._close()  # type: ignore[misc]
        self.told = None
