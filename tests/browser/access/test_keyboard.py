"""The whole quote without a mouse. WCAG 2.2: 2.1.1 keyboard, 2.4.3 focus order, 2.4.7 focus visible."""

from __future__ import annotations

import re
from typing import Any

from playwright.sync_api import Page, expect

from tests.browser.access.keyboard import KeyboardConsultant
from tests.browser.consultant import MEADOW


def test_the_whole_quote_by_keyboard(laptop: Page, mailoutbox: list[Any]) -> None:
    me = KeyboardConsultant(laptop)
    me.sign_up(mailoutbox)
    me.found_practice("Sundown Cover")
    me.say_who()
    me.confirm_prices()
    me.follow("Make a mix")
    me.follow("New mix")
    me.reach("New mix")
    me.type_mix("Meadow", "40", MEADOW)
    me.press(re.compile("^Save$"))
    me.reach("Mixes")
    me.home()
    me.add_client("Harriet Oakes")
    me.add_farm("Oakes Place", "Topeka")
    me.add_fields({"North eighty": "38.5"})
    me.reach("Oakes Place")
    me.start_plan("A field to meadow")
    me.follow("North eighty")
    me.reach("North eighty")
    me.choose("Mix", "Meadow")
    me.press("Put it in the plan")
    me.reach("A field to meadow")
    me.accept_cautions("Seen on the walk; the dealer retests.")
    me.offer()
    expect(laptop.get_by_role("main").get_by_role("link", name="Download the PDF")).to_be_visible()
