"""Calibration: the next setting of a drill, and what cannot be reckoned."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plans.planning import calibration


@given(st.floats(1, 50), st.floats(0.5, 20), st.floats(1, 400))
def test_a_drill_that_answers_in_a_line_is_set_in_one_step(start: float, per: float, wanted: float) -> None:
    found = calibration.next_drill_setting(start, start * per, start + 5, (start + 5) * per, wanted)
    assert float(found.value) * per == pytest.approx(wanted, rel=1e-6)


@pytest.mark.parametrize(
    ("given_", "named"),
    [
        ((20, 100, 20, 160, 130), "setting_last"),
        ((20, 100, 30, 100, 130), "catch_last"),
        ((20, 100, 30, 110, 10), "wanted"),
    ],
)
def test_what_leads_to_no_setting(given_: tuple[float, ...], named: str) -> None:
    with pytest.raises(ValueError, match=named):
        calibration.next_drill_setting(*given_)


@pytest.mark.parametrize("ounces", [[20.0], [0.0, 0.0]])
def test_nozzles_need_a_catch(ounces: list[float]) -> None:
    with pytest.raises(ValueError, match="ounces"):
        calibration.nozzle_wear(ounces)
