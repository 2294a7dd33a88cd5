"""Which kills an act is to stand: at gaps between its steps, inside a commit, and at any moment."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from random import Random

from tests.faults.acts import Act, Blow
from tests.faults.strike import COMMIT, WRITE, Strike, Whom

COMMIT_MS = 4.0
"""A commit takes less."""


@dataclass(frozen=True, slots=True)
class Kill:
    whom: Whom
    blow: Blow
    where: str
    """In words."""


@dataclass(frozen=True, slots=True)
class Sweep:
    """How many kills of one kind an act stands. None for every gap."""

    gaps: int | None
    commits: int
    moments: int


def first_write(steps: str) -> int:
    """The step at which something is changed for the first time."""
    return steps.index(WRITE) if WRITE in steps else 0


def gaps(steps: str, most: int | None, rng: Random) -> list[int]:
    """After how many steps to strike: all gaps from the first write on and a few before, or `most`.

    Of `most`, both sides of the last commit are two.
    """
    if most == 0:
        return []
    begin, end = first_write(steps), len(steps)
    writing, reading = list(range(begin, end + 1)), list(range(begin))
    if most is None:
        return sorted(rng.sample(reading, min(3, len(reading)))) + writing
    last = steps.rindex(COMMIT) if COMMIT in steps else end - 1
    sides = {last, last + 1} if most >= 2 else {last}
    others = [gap for gap in writing if gap not in sides]
    return sorted(sides | set(rng.sample(others, min(most - len(sides), len(others)))))


def kills_of(
    act: Act,
    whom: Whom,
    sweep: Sweep,
    steps: str,
    seconds: float,
    rng: Random,
    outside: Callable[[], None] | None,
) -> Iterator[Kill]:
    """Those of one victim, in an act of these steps that takes so long. `outside` kills it from elsewhere."""
    for after in gaps(steps, sweep.gaps, rng):
        yield Kill(whom, Blow(Strike(whom, after)), f"after step {after} of {len(steps)}")
    commits = [at for at, kind in enumerate(steps) if kind == COMMIT]
    for number in range(sweep.commits if commits else 0):
        at, late = commits[-1 - number % len(commits)], rng.uniform(0, COMMIT_MS)
        yield Kill(whom, Blow(Strike(whom, at, late)), f"{late:.2f} ms into the commit at step {at + 1}")
    for part in range(sweep.moments):
        share = (part + rng.random()) / sweep.moments
        blow = Blow(outside=outside, after_s=share * seconds)
        yield Kill(whom, blow, f"at {100 * share:.0f} % of its time")
    for point in act.talks_at if sweep.moments else ():
        yield Kill(whom, Blow(outside=outside, letter_at=point), f"at the mail server’s “{point}”")


ALL_GAPS = None
SWEEPS = {
    ("SQLite", Whom.PROCESS): Sweep(gaps=ALL_GAPS, commits=4, moments=4),
    ("SQLite", Whom.SITE): Sweep(gaps=2, commits=1, moments=1),
    ("PostgreSQL", Whom.PROCESS): Sweep(gaps=6, commits=2, moments=3),
    ("PostgreSQL", Whom.SITE): Sweep(gaps=1, commits=0, moments=1),
    ("PostgreSQL", Whom.BACKEND): Sweep(gaps=5, commits=2, moments=3),
    ("PostgreSQL", Whom.DATABASE): Sweep(gaps=4, commits=2, moments=3),
}
NONE = Sweep(gaps=0, commits=0, moments=0)


def sweep_of(act: Act, database: str, whom: Whom, some: bool) -> Sweep:
    """As many kills as an act can stand in a night, or about a fifth of them."""
    if whom == Whom.SITE and not act.on_site:
        return NONE
    whole = SWEEPS[database, whom]
    most = act.most_gaps if whole.gaps is None else whole.gaps
    if not (some or act.costly):
        return Sweep(most, whole.commits, whole.moments)
    return Sweep(2 if whom != Whom.SITE else 0, whole.commits // 4, whole.moments // 3)
