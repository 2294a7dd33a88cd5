"""Sending mail and keeping an archive: commands, each in a process of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

from django.utils import timezone

from consulting import keeping, outbox
from consulting.letters import Letter, LetterState
from consulting.outbox import Enclosed
from tests.faults.acts import NO_BLOW, OFFERING, Act, Blow, Did, Found, Standing
from tests.faults.forked import command, in_child
from tests.faults.sink import POINTS, Sink
from tests.plan_factories import UNPRINTED


@dataclass
class Mailing(Act):
    """A letter that waits, with its enclosure, and a sender that takes it."""

    name, day, talks_at = "sending queued mail", OFFERING, POINTS
    sink: Sink

    def prepare(self) -> Letter:
        return outbox.put(
            practice=self.practice,
            once=f"{uuid4()}",
            to="lena@example.org",
            subject="Your plan",
            text="Here it is.",
            attachments=[Enclosed("plan.pdf", UNPRINTED)],
        )

    def do(self, subject: Letter, blow: Blow) -> Did:
        return in_child(lambda: command("send_mail"), blow, self.sink)

    def look(self, subject: Letter) -> Found:
        now = Letter.objects.get(pk=subject.pk)
        came = self.sink.taken[now.message_id]
        kept = now.enclosures.filter(content__isnull=False).count()
        said = f"{now.state}, came {came} times, {kept} enclosures kept"
        stands = {
            (LetterState.WAITS, 0, 1): Standing.NOTHING,
            (LetterState.SENT, 1, 0): Standing.WHOLE,
            (LetterState.SENDING, 0, 1): Standing.ASKED,
            (LetterState.SENDING, 1, 1): Standing.ASKED,
            (LetterState.UNSURE, 0, 1): Standing.ASKED,
            (LetterState.UNSURE, 1, 1): Standing.ASKED,
        }
        return Found(stands.get((LetterState(now.state), came, kept), Standing.HALF), said)

    def done_again(self, subject: Letter, found: Found) -> Iterator[str]:
        """A letter whose sender died is shown to a person after a while, and never goes by itself."""
        if found.standing != Standing.ASKED:
            yield from super().done_again(subject, found)
            return
        long_ago = timezone.now() - outbox.LOST_AFTER - timedelta(minutes=1)
        Letter.objects.filter(pk=subject.pk, claimed_at__isnull=False).update(claimed_at=long_ago)
        came = self.sink.taken[subject.message_id]
        for _ in range(2):
            self.do(subject, NO_BLOW)
        now = Letter.objects.get(pk=subject.pk)
        if (now.state, self.sink.taken[subject.message_id]) != (LetterState.UNSURE, came):
            times = self.sink.taken[now.message_id]
            yield f"a letter that may have gone is {now.state} and came {times} times"
        if not now.may_be_sent_again:
            yield "nobody can send it again"


@dataclass
class Keeping(Act):
    """An archive of everything."""

    name, day, most_gaps = "keeping an archive", OFFERING, 8
    folder: Path

    def settle(self) -> None:
        super().settle()
        self.folder.mkdir()

    def prepare(self) -> Path:
        return self.folder / f"{uuid4().hex}.zip"

    def do(self, subject: Path, blow: Blow) -> Did:
        return in_child(lambda: command("keep", str(subject)), blow)

    def look(self, subject: Path) -> Found:
        if not subject.exists():
            return Found(Standing.NOTHING)
        try:
            keeping.check(subject)
        except keeping.KeepError as error:
            return Found(Standing.HALF, str(error))
        return Found(Standing.WHOLE)

    def done_again(self, subject: Path, found: Found) -> Iterator[str]:
        yield from super().done_again(subject, found)
        if left := [path.name for path in self.folder.iterdir() if path != subject]:
            yield f"left behind: {', '.join(left)}"

    def clear(self, subject: Path) -> None:
        subject.unlink()
