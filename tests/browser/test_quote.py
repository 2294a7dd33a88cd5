"""The whole quote, as a consultant makes it: from signing up to a proposal that no longer changes."""

from __future__ import annotations

import re
from collections.abc import Callable
from hashlib import sha256
from typing import Any

from playwright.sync_api import Page, expect

from tests.browser.consultant import BROADLEAF, MEADOW, WHY_ACCEPTED, Consultant, not_looking, pdf_text

CLIENT = "Harriet Oakes"
FIELDS = {"North eighty": "38.5", "Creek bottom": "12"}


def stay(page: Page) -> Callable[[], None]:
    """Marks the page as loaded now; the answer asserts that it is the same page, at the same address."""
    page.evaluate("window.sameLoad = true")
    address = page.url

    def stayed() -> None:
        assert page.url == address
        assert page.evaluate("window.sameLoad") is True

    return stayed


def test_the_whole_quote(screen: Page, axe: Callable[[Page], None], mailoutbox: list[Any]) -> None:
    # Every page is looked at on both screens by `make access`; here, on the narrow one.
    narrow = screen.viewport_size["width"] < 500
    page, me = screen, Consultant(screen, axe if narrow else not_looking)
    me.sign_up(mailoutbox)
    me.found_practice("Sundown Cover")
    me.say_who()
    me.confirm_prices()

    me.follow("Make a mix")
    me.follow("New mix")
    me.reach("New mix")
    stayed = stay(page)
    me.type_mix("Meadow", "40", {"little bluestem": "40"})
    expect(page.get_by_text("the shares sum to 40 %", exact=False)).to_be_visible()
    me.type_mix("Meadow", "40", MEADOW)
    on_an_acre = page.get_by_role("table", name="On an acre")
    expect(on_an_acre.get_by_role("row")).to_have_count(1 + len(MEADOW))
    stayed()
    before = on_an_acre.inner_text()
    me.fill({"Live seeds per square foot": "50"})
    expect(on_an_acre).not_to_have_text(before, use_inner_text=True)
    stayed()
    me.press(re.compile("^Save$"))
    me.reach("Mixes")
    me.home()

    me.follow("Put a client on your books")
    me.press("Save and go on")
    expect(page.get_by_role("alert")).to_contain_text("Name of the client is missing")
    axe(page)
    me.home()
    me.add_client(CLIENT)
    me.add_farm("Oakes Place", "Topeka")
    me.add_fields(FIELDS)
    me.reach("Oakes Place")
    me.start_plan("Two fields to meadow")

    me.follow("North eighty")
    me.reach("North eighty")
    me.choose("Mix", "Meadow")
    me.choose("How the seed goes in", "No-till drill in the dormant season")
    expect(page.get_by_text("too cold to sprout")).to_be_visible()
    me.press("Put it in the plan")
    me.reach("Two fields to meadow")
    me.follow("Add Creek bottom")
    me.choose("Mix", "Meadow")
    me.tick(BROADLEAF)
    me.press("Put it in the plan")
    me.reach("Two fields to meadow")

    stayed = stay(page)
    before = me.price().inner_text()
    me.choose("Seeding on Creek bottom", "Broadcast on bare ground in spring")
    expect(me.price()).not_to_have_text(before)
    before = me.price().inner_text()
    page.get_by_label("Margin or markup").fill("41")
    page.get_by_label("Margin or markup").press("Tab")
    expect(me.price()).not_to_have_text(before)
    expect(page.get_by_role("table", name=re.compile("^By year"))).to_contain_text(me.price().inner_text())
    stayed()

    axe(page)

    me.follow("Offer this plan")
    me.reach("Not yet ready to offer")
    expect(page.get_by_role("alert")).to_contain_text("2,4-D")
    me.follow("See to them")
    stop = page.get_by_role("listitem").filter(has_text=re.compile(r"^\s*Stop\."))
    expect(stop.first).to_contain_text("kill")
    stop.first.get_by_role("link", name="Change Creek bottom").click()
    page.get_by_label(BROADLEAF).uncheck()
    me.press(re.compile("^Save$"))
    me.reach("Two fields to meadow")
    expect(stop).to_have_count(0)

    page.get_by_text(re.compile("^Accept (it|all)")).first.click()
    page.get_by_label(WHY_ACCEPTED).first.press("Enter")
    expect(page.get_by_role("alert").first).to_contain_text("Why it is accepted is missing. Fill it in.")
    axe(page)
    me.accept_cautions("Seen on the walk; the dealer retests.")
    expect(page.get_by_text("Accepted by Ada Walker").first).to_contain_text("the dealer retests")

    shown_sha = me.offer()
    total, offered = me.total(), page.get_by_role("main").inner_text()
    pdf = me.download()
    assert pdf.startswith(b"%PDF")
    assert sha256(pdf).hexdigest() == shown_sha
    printed = pdf_text(pdf)
    assert CLIENT in printed and total in printed and all(field in printed for field in FIELDS)

    address = page.url
    page.get_by_role("navigation", name="Sections").get_by_role("link", name="Mixes").click()
    cost = page.get_by_role("row", name="Meadow").inner_text()
    page.get_by_role("navigation", name="Sections").get_by_role("link", name="Prices").click()
    me.follow("Indiangrass")
    me.reach("Indiangrass")
    me.fill({"Price": "99"})
    me.press(re.compile("^Save$"))
    page.get_by_role("navigation", name="Sections").get_by_role("link", name="Mixes").click()
    expect(page.get_by_role("row", name="Meadow")).not_to_have_text(cost, use_inner_text=True)
    page.goto(address)
    me.reach("Proposal 1, revision 1")
    assert page.get_by_role("main").inner_text().split("Proposal 1", 1)[1] in offered
    assert me.download() == pdf
