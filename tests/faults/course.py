"""All acts on one database, each killed again and again, and what stood afterwards."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from threading import Timer

from django.core.management import call_command
from django.db import connections

from tests.faults.acts import NO_BLOW, Act, Blow, Standing
from tests.faults.commands import Keeping, Mailing
from tests.faults.databases import Database
from tests.faults.kills import Kill, kills_of, sweep_of
from tests.faults.sink import Sink
from tests.faults.site import Answer, Ask, Site
from tests.faults.strike import Whom
from tests.faults.web_acts import WEB_ACTS, Importing, proposals_wrong


@dataclass
class Tally:
    """Of one act and one victim."""

    kills: int = 0
    stood: Counter[Standing] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


class Course:
    def __init__(self, database: Database, folder: Path, sink: Sink, *, seed: int, some: bool) -> None:
        self.database, self.site, self.some, self.rng = database, Site(folder), some, Random(seed)
        acts: list[Act] = [act(self.ask) for act in WEB_ACTS]
        acts += [Importing(self.ask, rows=5000, costly=True), Mailing(sink), Keeping(folder / "kept")]
        self.acts = acts

    def run(self, named: str) -> int:
        """1 when anything was half done or wrong otherwise."""
        call_command("migrate", verbosity=0)
        call_command("createcachetable", verbosity=0)
        connections.close_all()
        self.site.start()
        tallies: list[Tally] = []
        try:
            for act in self.acts:
                if named in act.name:
                    for whom, tally in self.all_of(act):
                        tallies.append(tally)
                        print(line(act.name, self.database.name, whom, tally), flush=True)
            flaws = self.database.flaws()
        finally:
            connections.close_all()
            self.site.stop()
        return self.told(tallies, flaws)

    def told(self, tallies: list[Tally], flaws: list[str]) -> int:
        stood = sum((tally.stood for tally in tallies), Counter[Standing]())
        said = ", ".join(f"{stood[standing]} {standing}" for standing in Standing)
        kills = sum(tally.kills for tally in tallies)
        print(f"{self.database.name}: {kills} kills: {said}. Its own check: {flaws or 'nothing wrong'}.")
        wrong = [said for tally in tallies for said in tally.wrong] + flaws
        for one in wrong:
            print(f"WRONG: {one}")
        return int(bool(wrong))

    def ask(self, asked: Ask, blow: Blow) -> Answer | None:
        """A request to the site, hit as the blow says."""
        if not blow.outside:
            return self.site.ask(asked, blow.strike)
        timer = Timer(blow.after_s, blow.outside)
        timer.start()
        try:
            return self.site.ask(asked)
        finally:
            timer.join()

    def all_of(self, act: Act) -> Iterator[tuple[Whom, Tally]]:
        act.settle()
        self.undisturbed(act)  # which is slower the first time, and has more to read
        steps, seconds = self.undisturbed(act)
        print(f"{act.name}: {len(steps)} steps {steps}", flush=True)
        for whom in self.database.whom:
            tally = Tally()
            sweep = sweep_of(act, self.database.name, whom, self.some)
            for kill in kills_of(act, whom, sweep, steps, seconds, self.rng, self.from_outside(act, whom)):
                self.one(act, kill, tally)
            if tally.kills:
                with act.scope():
                    tally.wrong += proposals_wrong()
                yield whom, tally

    def undisturbed(self, act: Act) -> tuple[str, float]:
        """The steps of an act that nobody disturbs, and how long it took [s]."""
        with act.scope():
            subject = act.prepare()
        began = time.monotonic()
        did = act.do(subject, NO_BLOW)
        seconds = time.monotonic() - began
        with act.scope():
            found = act.look(subject)
            if not did.promised or found.standing != Standing.WHOLE:
                raise RuntimeError(f"{act.name} does not even succeed undisturbed: {did} {found}")
            act.clear(subject)
        return did.steps, seconds

    def from_outside(self, act: Act, whom: Whom) -> Callable[[], None] | None:
        """What kills this victim from here; None for a command, which its parent kills."""
        if whom in (Whom.BACKEND, Whom.DATABASE):
            return lambda: self.database.kill(whom)
        return (lambda: self.site.kill(whom)) if act.on_site else None

    def one(self, act: Act, kill: Kill, tally: Tally) -> None:
        with act.scope():
            subject = act.prepare()
        did = act.do(subject, kill.blow)
        self.database.revive()
        self.site.revive()
        with act.scope():
            found = act.look(subject)
            wrong = list(act.wrong())
        if found.standing == Standing.HALF:
            wrong.append(f"it is half done: {found.said}")
        if did.promised and found.standing != Standing.WHOLE:
            wrong.append(f"it was said to be done and is {found.standing}")
        again = act.do(subject, NO_BLOW)
        if found.standing == Standing.NOTHING and not again.promised:
            wrong.append(f"repeated, it is not said to be done: {again.said[:300]}")
        with act.scope():
            wrong += [*act.done_again(subject, found), *act.wrong()]
            act.clear(subject)
        tally.kills += 1
        tally.stood[found.standing] += 1
        tally.wrong += [f"{act.name}, {kill.whom} killed {kill.where}: {said}" for said in wrong]


def line(act: str, database: str, whom: Whom, tally: Tally) -> str:
    counts = ", ".join(f"{tally.stood[standing]:3} {standing}" for standing in Standing)
    return f"{act:26} {database:10} {whom:22} {tally.kills:3} kills: {counts}; {len(tally.wrong)} wrong"
