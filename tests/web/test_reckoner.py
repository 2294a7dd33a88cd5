"""The reckoner's pages: every calculation opens, answers with its working, and names what is wrong."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

import pytest
from django.http import HttpResponse

from plans import reckonings
from plans.planning.reckoner import RECKONINGS
from tests.conftest import Cast

NESTED = {"mix", "least_cost_mix", "rig_check"}
TYPED = {
    "pls_pct": {"purity_pct": "95", "germination_pct": "80"},
    "growing_degree_days": {"max_f": "70, 90", "min_f": "50, 40", "base_f": "50", "cap_f": "86"},
    "nozzle_wear": {"ounces": "20, 20, 20, 23"},
    "tank": {"acres": "37", "gal_per_acre": "15", "tank_gal": "300", "rate_per_acre": "2"},
    "fertilizer": {"n": "40", "p2o5": "30", "k2o": "30", "grades": "18-46-0, 0-0-60"},
    "frequency_grid": {"hits": "70", "cells": "100"},
    "freeze_probability": {"side": "spring", "median": "04-09", "p90": "03-27", "day": "04-20"},
    "walk_to_count": {
        "plant": "switchgrass",
        "emerged": "05-25",
        "leaves": "5",
        "monthly_mean_f": "31, 36, 46, 56, 66, 75, 78, 77, 69, 57, 45, 35",
    },
    "spray_day": {"temp_f": "75", "humidity_pct": "50", "wind_mph": "2", "cloud": "clear", "hour": "7"},
}


def ask(cast: Cast, name: str, **typed: Any) -> HttpResponse:
    query = f"?{urlencode(typed)}" if typed else ""
    return cast.browser(cast.crew).get(f"/{cast.practice.slug}/reckoner/{name}/{query}")


def test_every_reckoning_but_the_nested_ones_has_its_page() -> None:
    assert set(reckonings.TITLES) | NESTED == set(RECKONINGS)
    assert not set(reckonings.TITLES) & NESTED


@pytest.mark.parametrize("name", reckonings.TITLES)
def test_a_form_asks_for_every_input(cast: Cast, name: str) -> None:
    page = ask(cast, name).content.decode()
    assert page.count("<h1>") == 1
    for field in reckonings.ReckoningForm(name).fields:
        assert f'name="{field}"' in page


@pytest.mark.parametrize("name", TYPED)
def test_an_answer_shows_value_working_and_source(cast: Cast, name: str) -> None:
    response = ask(cast, name, **TYPED[name])
    assert response.status_code == 200
    assert response.context["answers"]
    figures = [answer for answer in response.context["answers"] if answer.working]
    assert all(answer.source and answer.shown for answer in figures)
    page = response.content.decode()
    assert all(figure.shown in page for figure in figures)


def test_a_source_is_told_in_plain_words(cast: Cast) -> None:
    page = ask(cast, "spray_day", **TYPED["spray_day"]).content.decode()
    assert "(from memory of the trade)" in page
    assert "[from memory]" not in page and "seen)" not in page


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        (
            "pls_pct",
            {"purity_pct": "101", "germination_pct": "80"},
            "Purity must be less than or equal to 100.",
        ),
        ("pls_pct", {"purity_pct": "much", "germination_pct": "80"}, "Purity must be a number"),
        ("pls_pct", {"germination_pct": "80"}, "Purity is missing"),
        ("pls_pct", {"purity_pct": "nan", "germination_pct": "80"}, "Purity must be a number"),
        (
            "freeze_dates",
            {"side": "spring", "median": "April 9", "p90": "03-27"},
            "Median date must be a month",
        ),
        ("freeze_dates", {"side": "spring", "median": "04-09", "p90": "04-20"}, "must lie before the spring"),
        ("frequency_grid", {"hits": "9", "cells": "4"}, "9 is more than the 4 cells looked at"),
        ("nozzle_wear", {"ounces": "20, <b>"}, "“&lt;b&gt;” is no number"),
        ("growing_degree_days", {"max_f": "70,71", "min_f": "50", "base_f": "50"}, "Daily lows has 1 values"),
        ("spray_day", {**TYPED["spray_day"], "cloud": "green"}, "green"),
        ("pls_pct", {"purity_pct": "\x00", "germination_pct": "9" * 5000}, "Purity"),
    ],
)
def test_what_is_wrong_is_named_beside_its_field(cast: Cast, name: str, typed: Any, said: str) -> None:
    response = ask(cast, name, **typed)
    assert response.status_code == 422
    assert said in response.content.decode().replace("&#x27;", "'")
    assert response.context["answers"] == []


def test_what_was_typed_stays(cast: Cast) -> None:
    assert 'value="much"' in ask(cast, "pls_pct", purity_pct="much").content.decode()


@pytest.mark.parametrize("name", ["mix", "least_cost_mix", "luck"])
def test_no_page_for_what_is_no_single_sum(cast: Cast, name: str) -> None:
    assert ask(cast, name).status_code == 404
