"""Figures that open by keyboard, and names that stay as they were typed."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django_scopes import scope
from playwright.sync_api import Page, expect

from consulting.models import User
from plans.models import Plan
from tests.browser.consultant import pdf_text
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field
from tests.plan_factories import (
    make_conversion,
    make_mix,
    make_offered,
    make_plan,
    make_prices,
    make_ready_plan,
)

OUTLINE = """() => {
    const look = getComputedStyle(document.activeElement);
    return look.outlineStyle === "solid" && parseFloat(look.outlineWidth) >= 2;
}"""


def number_in(text: str) -> float:
    return float(re.search(r"\d[\d,.]*", text)[0].replace(",", ""))  # type: ignore[index]


def test_a_figure_opens_to_its_working_by_keyboard(
    laptop: Page, cast: Cast, sign_in: Callable[[Page, User], None], axe: Callable[[Page], None]
) -> None:
    with scope(practice=cast.practice):
        plan = make_ready_plan(cast.practice)
    sign_in(laptop, cast.planner)
    laptop.goto(cast.url(f"plans/{plan.pk}/"))
    laptop.get_by_role("navigation", name="On this page").get_by_role("link", name="Seed").press("Enter")
    laptop.keyboard.press("Tab")
    seeds = laptop.get_by_role("table", name=re.compile("Meadow mix")).get_by_role("row", name="Big bluestem")
    figure = seeds.locator("details").first
    while figure.locator("summary").evaluate("summary => summary !== document.activeElement"):
        assert laptop.evaluate(OUTLINE), "the focus is not to be seen"
        laptop.keyboard.press("Tab")
    assert laptop.evaluate(OUTLINE)
    expect(figure.get_by_role("list")).to_be_hidden()
    laptop.keyboard.press("Enter")
    rule, result, source = figure.get_by_role("paragraph").all()
    expect(rule).to_have_text("Lb PLS per acre × seeds per lb / 43,560")
    expect(result).to_have_text("= 12 seeds/ft²")  # 30 % of 40 live seeds
    expect(source).to_contain_text("NRCS")
    pounds, count = (number_in(item.inner_text()) for item in figure.get_by_role("listitem").all())
    assert pounds * count / 43_560 == pytest.approx(12, rel=0.001)
    axe(laptop)


NAMES = {
    "client": "Zoë Ångström-Núñez & <b>Sons</b>",
    "farm": "王家农场 / 초원 농장",
    "field": "<script>alert(1)</script> “Süd” & Łąka",
    "title": "Ødemark → prairie, 100 % <i>sûr</i>",
    "mix": "Café prairie <b>&amp;",
}


def plan_with_names(cast: Cast) -> Plan:
    make_prices(cast.practice)
    farm = make_farm(make_client(cast.practice, name=NAMES["client"]), name=NAMES["farm"])
    plan = make_plan(farm, title=NAMES["title"])
    make_conversion(plan, make_field(farm, name=NAMES["field"]), make_mix(cast.practice, NAMES["mix"]))
    return plan


def test_names_stay_as_typed(
    screen: Page, cast: Cast, sign_in: Callable[[Page, User], None], axe: Callable[[Page], None]
) -> None:
    with scope(practice=cast.practice):
        plan = plan_with_names(cast)
    proposal = make_offered(plan, cast.owner)
    sign_in(screen, cast.owner)
    main = screen.get_by_role("main")

    screen.goto(cast.url(f"clients/{plan.farm.client_id}/"))
    expect(main).to_contain_text(NAMES["client"])
    screen.get_by_role("link", name=NAMES["farm"]).click()
    expect(main.get_by_role("heading", level=1)).to_have_text(NAMES["farm"])
    expect(main.get_by_role("rowheader", name=NAMES["field"])).to_be_visible()
    axe(screen)
    screen.goto(cast.url(f"proposals/{proposal.number}/"))
    for name in NAMES.values():
        expect(main).to_contain_text(name)
    axe(screen)
    printed = pdf_text(bytes(proposal.pdf))
    assert [name for name in NAMES.values() if name not in printed] == []
