"""Stand counts: typed as throws, judged by the aim, read over the years of a field."""

from __future__ import annotations

from typing import Any

import pytest
from django_scopes import scope

from consulting.append_only import Recorded
from plans.counts import counts_of
from plans.models import StandCount, Visit
from tests.conftest import Cast
from tests.plan_factories import make_agreed, make_ready_plan


@pytest.fixture
def visit(cast: Cast, monkeypatch: Any) -> Any:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        found = Visit.objects.get(plan=plan, step="count_2")
        monkeypatch.setattr("plans.views.counts.today_for", lambda practice: found.window_opens)
        yield found


def typed(visit: Visit, hits: list[int], **more: str) -> dict[str, str]:
    return (
        {
            "on": f"{visit.window_opens}",
            "rows": "12",
            "method": "grid",
            "aim": "cover",
            "cells": "25",
            "frame_sqft": "1",
            "growth": "clean",
        }
        | {f"throw{place}": f"{count}" for place, count in enumerate(hits)}
        | more
    )


def send(cast: Cast, visit: Visit, data: dict[str, str]) -> Any:
    return cast.browser(cast.crew).post(cast.url(f"work/{visit.pk}/count/"), data)


def test_throws_become_frequency_density_and_a_next_step(visit: Visit, cast: Cast) -> None:
    response = send(cast, visit, typed(visit, [10, 8, 0, 12]))
    assert response.status_code == 302
    row = StandCount.objects.get()
    assert row.throws == [10, 8, 0, 12] and row.season == visit.season
    (counted,) = counts_of(visit.field_id)
    assert counted.stand.frequency_pct and counted.stand.frequency_pct.value == 30
    page = cast.browser(cast.crew).get(cast.url(f"work/{visit.pk}/")).content.decode()
    assert "30 %" in page and "Enough for cover" in page and "Keep it" in page and "Wilson" in page
    near = Visit.objects.filter(field=visit.field_id).exclude(pk=visit.pk)[0]
    assert "Stand counts" in cast.browser(cast.crew).get(cast.url(f"work/{near.pk}/")).content.decode()


@pytest.mark.parametrize(
    ("hits", "more", "at"),
    [
        ([26], {}, "throw0"),
        ([], {}, "throw0"),
        ([5], {"method": "quadrat"}, "throw0"),
        ([5], {"on": "2999-01-01"}, "on"),
        ([5], {"throw3": "many"}, "throw3"),
    ],
)
def test_what_cannot_have_been_counted_is_refused(
    visit: Visit, cast: Cast, hits: list[int], more: dict[str, str], at: str
) -> None:
    response = send(cast, visit, typed(visit, hits, **more))
    page = response.content.decode()
    assert response.status_code == 422 and f'href="#count-{at}"' in page
    assert not StandCount.objects.exists()


def test_more_rows_keep_what_was_typed(visit: Visit, cast: Cast) -> None:
    response = send(cast, visit, typed(visit, [7], more="yes"))
    page = response.content.decode()
    assert response.status_code == 200 and 'name="throw23"' in page and 'name="throw24"' not in page
    assert 'name="throw0" value="7"' in page and "something to mend" not in page
    assert not StandCount.objects.exists()


def test_a_wrong_count_is_replaced_and_never_changed(visit: Visit, cast: Cast) -> None:
    send(cast, visit, typed(visit, [1, 1]))
    first = StandCount.objects.get()
    send(cast, visit, typed(visit, [11, 12], replaces=f"{first.pk}"))
    (counted,) = counts_of(visit.field_id)
    assert counted.count.throws == [11, 12] and StandCount.objects.count() == 2
    with pytest.raises(Recorded):
        first.save()


def test_a_count_belongs_to_a_visit_that_counts(visit: Visit, cast: Cast) -> None:
    other = Visit.objects.get(plan=visit.plan, step="drill")
    assert send(cast, other, typed(visit, [1])).status_code == 404


def test_sent_twice_it_is_kept_once(visit: Visit, cast: Cast) -> None:
    data = typed(visit, [3, 4], uid="7d0a4a57-4a0c-4a53-9a4e-3f7c5a2f0b11")
    send(cast, visit, data)
    send(cast, visit, data)
    assert StandCount.objects.count() == 1
