"""Every address and every form, sent what hurts."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
import time_machine

from tests.fuzz.budget import AT_NIGHT, SEED, run, share
from tests.fuzz.judge import judge
from tests.fuzz.sending import Case, cases
from tests.fuzz.targets import Site, Target

PARTS = 4 if AT_NIGHT else 1
NOW = datetime(2026, 11, 25, 15, tzinfo=UTC)


@pytest.mark.parametrize("part", range(PARTS))
def test_no_form_or_address_breaks(db: None, part: int) -> None:
    with time_machine.travel(NOW):
        site = Site()
        failures = list[str]()
        budget = budget_of(site.targets)
        for turn, target in enumerate(site.targets):
            if turn % PARTS != part or not budget[turn]:
                continue

            def check(case: Case, target: Target = target) -> None:
                judge(case, target, site.sessions.browser(target.cast, target.actor))

            run(f"{target}", budget[turn], cases(target, turn), check, failures)
    assert not failures, f"seed {SEED}\n" + "\n\n".join(failures)


def budget_of(targets: list[Target]) -> list[int]:
    """Cases of each: most for forms, fewer for what is asked for by its address alone."""
    weights = [
        4 if one.method == "POST" else 2 if one.controls else 1 if one.args else 0.5 for one in targets
    ]
    each = share("pages") / sum(weights)
    return [round(each * weight) if not AT_NIGHT else max(1, round(each * weight)) for weight in weights]
