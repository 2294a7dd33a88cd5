"""When something that should be done again and again was last done on this machine."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from django.conf import settings


def _file(what: str) -> Path:
    return Path(settings.VAR_DIR) / f"{what}.stamp"


def mark(what: str, at: datetime) -> None:
    """Write down that `what` was done."""
    file = _file(what)
    file.parent.mkdir(exist_ok=True)
    part = file.with_name(f"{file.name}.part")
    part.write_text(at.isoformat())
    part.replace(file)


def last(what: str) -> datetime | None:
    """When `what` was done last; None when never, or when nobody can tell."""
    try:
        return datetime.fromisoformat(_file(what).read_text().strip())
    except (OSError, ValueError):
        return None
