"""The demo's main pages with larger text, without motion, in forced colors, and on paper."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from django.urls import reverse
from django_scopes import scope
from playwright.sync_api import Page

from consulting.models import Practice, User
from plans.demo import demo_found
from plans.models import Plan, Visit
from sites.models import Farm, Field

pytestmark = pytest.mark.django_db(transaction=True)

# Names of places that have their own scroll bar are wider than they show on purpose.
CUT_OFF = """() => [...document.querySelectorAll("main *, header *")].filter(el => {
    const style = getComputedStyle(el);
    return style.overflowX === "hidden" && el.clientWidth > 1 && el.scrollWidth > el.clientWidth + 2
        && !el.closest(".unseen") && el.innerText;
}).map(el => el.outerHTML.slice(0, 120))"""
MOVES = """() => [...document.querySelectorAll("*")].filter(el => {
    const style = getComputedStyle(el);
    return parseFloat(style.transitionDuration) > 0 || parseFloat(style.animationDuration) > 0
        || (el === document.documentElement && style.scrollBehavior === "smooth");
}).map(el => el.tagName)"""
LOST = """() => [...document.querySelectorAll("button, a, input, select, textarea, summary")].filter(el => {
    const style = getComputedStyle(el);
    return el.offsetParent && style.forcedColorAdjust === "none" && style.color === style.backgroundColor;
}).map(el => el.outerHTML.slice(0, 120))"""
TOO_WIDE = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture
def pages(live_server: Any, laptop: Page, sign_in: Callable[..., None]) -> list[str]:
    demo: Practice = demo_found(password="native grass by the mile", today=date(2026, 11, 25))
    sign_in(laptop, User.objects.get(email="owner@kestrel.example"))
    with scope(practice=demo):
        one = {
            "plan": Plan.objects.order_by("pk")[0].pk,
            "visit": Visit.objects.order_by("pk")[0].pk,
            "farm": Farm.objects.order_by("pk")[0].pk,
            "field": Field.objects.order_by("pk")[0].pk,
        }
    names = (
        "overview",
        "clients",
        "plans",
        "mixes",
        "mix_new",
        "prices",
        "work",
        "shed",
        "reckoner",
        "people",
    )
    return [reverse(name, args=[demo.slug]) for name in names] + [
        reverse(name, args=[demo.slug, pk]) for name, pk in one.items()
    ]


def test_text_twice_as_large(pages: list[str], laptop: Page) -> None:
    """WCAG 2.2, 1.4.4: 200 % without loss; of the whole page (1280 px become 640) and of the text alone."""
    wrong = []
    for path in pages:
        laptop.set_viewport_size({"width": 640, "height": 450})
        laptop.goto(path)
        wrong += [f"{path}: {laptop.evaluate(TOO_WIDE)} px too wide"] * (laptop.evaluate(TOO_WIDE) > 0)
        laptop.set_viewport_size({"width": 1280, "height": 900})
        laptop.evaluate("document.documentElement.style.fontSize = '200%'")
        wrong += [f"{path}, larger text cut off: {html}" for html in laptop.evaluate(CUT_OFF)]
    assert wrong == []


def test_nothing_moves_where_motion_is_not_wanted(pages: list[str], laptop: Page) -> None:
    laptop.emulate_media(reduced_motion="reduce")
    for path in pages:
        laptop.goto(path)
        assert laptop.evaluate(MOVES) == [], path


def test_forced_colors_lose_nothing(pages: list[str], laptop: Page, axe: Callable[[Page], None]) -> None:
    laptop.emulate_media(forced_colors="active")
    for path in pages:
        laptop.goto(path)
        assert laptop.evaluate(LOST) == [], path
        axe(laptop)


def test_on_paper_there_is_the_page_and_nothing_to_press(pages: list[str], laptop: Page) -> None:
    laptop.emulate_media(media="print")
    # Letter less half an inch at each side, in CSS pixels.
    laptop.set_viewport_size({"width": 720, "height": 960})
    for path in pages:
        laptop.goto(path)
        assert laptop.get_by_role("heading", level=1).first.is_visible(), path
        assert not laptop.get_by_role("navigation", name="Sections").is_visible(), path
        assert laptop.evaluate(TOO_WIDE) <= 0, path
