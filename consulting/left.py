"""What somebody sent after their session ran out waits for its writer, in the session of the log-in.

Only what a form of a practice's page held, known by its word; no file and nothing secret; for an hour.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.http import HttpRequest, QueryDict
from django.utils import timezone

from consulting.beside import typed_in_words
from consulting.on_records import MEND
from consulting.once import WORD, writer_of

KEPT_AS = "left"
MOST_CHARACTERS = 60_000
FOR = timedelta(hours=1)
SECRET = re.compile("password|csrf|token|credential|secret", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Left:
    """A form as it was sent to `to` from the page `came_from`."""

    to: str
    came_from: str
    at: datetime
    fields: list[tuple[str, str]]
    had_files: bool

    @property
    def word(self) -> str:
        return dict(self.fields)[WORD]

    @property
    def typed(self) -> list[tuple[str, str]]:
        return _typed(self.fields)


def _typed(fields: list[tuple[str, str]]) -> list[tuple[str, str]]:
    data = QueryDict(mutable=True)
    for name, text in fields:
        data.appendlist(name, text)
    return typed_in_words(data)


def leave(request: HttpRequest, came_from: str) -> bool:
    """Keep what was sent, where somebody typed something into a form of ours and it is not too much."""
    fields = [
        (name, text)
        for name, texts in request.POST.lists()
        for text in texts
        if name != MEND and not SECRET.search(name)
    ]
    ours = writer_of(request.POST.get(WORD, "")) and "HX-Request" not in request.headers
    if (
        not ours
        or sum(len(name) + len(text) for name, text in fields) > MOST_CHARACTERS
        or not _typed(fields)
    ):
        return False
    at, files = timezone.now().timestamp(), bool(request.FILES)
    request.session[KEPT_AS] = [request.get_full_path(), came_from, at, fields, files]
    return True


def left_by(request: HttpRequest) -> Left | None:
    """What waits for who is signed in; of another writer, or older, it is thrown away."""
    if KEPT_AS not in request.session:
        return None
    to, came_from, at, fields, files = request.session[KEPT_AS]
    found = Left(to, came_from, datetime.fromtimestamp(at, UTC), [(one, text) for one, text in fields], files)
    if writer_of(found.word) != request.user.pk or found.at < timezone.now() - FOR:
        forget(request)
        return None
    return found


def forget(request: HttpRequest) -> None:
    request.session.pop(KEPT_AS, None)


def forget_sent(request: HttpRequest) -> None:
    """What was sent by now waits no more."""
    kept = request.session.get(KEPT_AS)
    if kept and [WORD, request.POST.get(WORD)] in [list(field) for field in kept[3]]:
        forget(request)
