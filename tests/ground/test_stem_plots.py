"""Stems an acre from circles of 1/100 acre."""

from __future__ import annotations

import pytest

from sites.ground.errors import GroundError
from sites.ground.stem_plots import PLOT_RADIUS_FT, stems_per_acre


def test_the_circle_of_a_hundredth_of_an_acre() -> None:
    """The radius that forestry handbooks give [from memory]."""
    assert round(PLOT_RADIUS_FT, 2) == 11.78


@pytest.mark.parametrize(("stems", "plots", "per_acre"), [(6, 3, 200), (1, 1, 100), (0, 5, 0)])
def test_each_stem_stands_for_one_over_the_plots(stems: int, plots: int, per_acre: int) -> None:
    found = stems_per_acre(stems, plots)
    assert found.per_acre == pytest.approx(per_acre)
    assert found.working.endswith(f"= {per_acre} stems an acre")


def test_no_plot_is_no_count() -> None:
    with pytest.raises(GroundError, match="at least one plot"):
        stems_per_acre(4, 0)
