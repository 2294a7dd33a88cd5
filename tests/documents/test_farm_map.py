"""The map of farms with work: all are drawn, and not more are named than can be read."""

from __future__ import annotations

from types import SimpleNamespace

from plans.documents.farm_map import CROWDED, farm_map


def farms(many: int) -> list[SimpleNamespace]:
    return [
        SimpleNamespace(
            name=f"Farm {at:03}",
            latitude=38 + at % 20 / 50,
            longitude=-95 + at // 20 / 50,
            open_count=at + 1,
            due_count=at,
        )
        for at in range(many)
    ]


def test_every_farm_is_drawn_and_the_busiest_are_named() -> None:
    drawn = farm_map(farms(CROWDED + 5))
    assert drawn.count("<circle") == CROWDED + 5
    named = drawn.partition("</desc>")[2]
    assert "Farm 044" in named and 1 < named.count(">Farm 0") < CROWDED and "as far as there is room" in named
    assert "Farm 000: 0 due, 1 open." in drawn.partition("</desc>")[0]


def test_of_few_farms_all_are_named() -> None:
    assert "Named:" not in farm_map(farms(3)) and farm_map([]) == ""
