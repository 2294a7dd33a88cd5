"""Lists, maps, pictures and job files that somebody brings in, whole and harmed."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
import time_machine

from plans.in_out.kinds import KINDS
from tests.fuzz import brought, jobs, parsers
from tests.fuzz.budget import SEED, run, share
from tests.fuzz.targets import Site

NOW = datetime(2026, 11, 25, 15, tzinfo=UTC)


def test_lists_and_maps_that_are_brought_in(db: None) -> None:
    with time_machine.travel(NOW):
        site = Site()
        failures = list[str]()
        world = next(one.world for one in site.addresses if one.name == "bring_in")
        cast = world.cast
        for turn, kind in enumerate(KINDS):
            base = brought.base_of(kind, site.sessions.browser(cast, "owner"), cast)

            def check(case: brought.Brought, kind: str = kind) -> None:
                path = cast.url(f"lists/{kind}/in/")
                brought.bring(case, path, cast, lambda: site.sessions.browser(cast, "owner"))

            cases = max(1, share("lists") // len(KINDS))
            run(f"list of {kind}", cases, brought.tables(base, turn * 5), check, failures)
        path = cast.url(f"farms/{world.farm.pk}/bring-in/")
        run(
            "map",
            share("maps"),
            brought.maps(3),
            lambda case: brought.bring(case, path, cast, lambda: site.sessions.browser(cast, "owner")),
            failures,
        )
    assert not failures, f"seed {SEED}\n" + "\n\n".join(failures)


@pytest.mark.parametrize("name", parsers.PARSERS)
def test_files_of_every_kind_are_read_or_refused_in_words(name: str) -> None:
    failures: list[str] = []
    for seed, data in parsers.seeds_of(name):
        cases = max(1, share("parsers") // sum(len(one.seeds) for one in parsers.PARSERS.values()))
        run(f"{name} {seed}", cases, parsers.mangled(data), lambda data: parsers.check(name, data), failures)
    assert not failures, f"seed {SEED}\n" + "\n\n".join(failures)


def test_job_files_are_planned_or_refused_in_words() -> None:
    failures: list[str] = []
    run("job file", share("jobs"), jobs.jobs(7), jobs.check, failures)
    assert not failures, f"seed {SEED}\n" + "\n\n".join(failures)
