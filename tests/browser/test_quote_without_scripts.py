"""The whole quote with scripts off: a button stands wherever htmx would have asked."""

from __future__ import annotations

import re
from hashlib import sha256
from typing import Any

from playwright.sync_api import Page, expect

from tests.browser.consultant import BROADLEAF, MEADOW, Consultant, pdf_text

CLIENT = "Harriet Oakes"


def test_the_whole_quote_without_scripts(no_script: Page, mailoutbox: list[Any]) -> None:
    page, me = no_script, Consultant(no_script)
    me.sign_up(mailoutbox)
    me.found_practice("Sundown Cover")
    me.say_who()
    me.confirm_prices()

    me.follow("Make a mix")
    me.follow("New mix")
    me.type_mix("Meadow", "40", MEADOW)
    me.press("Work out the sums")
    expect(page.get_by_role("table", name="On an acre").get_by_role("row")).to_have_count(1 + len(MEADOW))
    expect(page.get_by_label("Species 1", exact=True)).to_have_value("little bluestem")
    me.press(re.compile("^Save$"))
    me.reach("Mixes")
    me.home()

    me.add_client(CLIENT)
    me.add_farm("Oakes Place", "Topeka")
    me.add_fields({"North eighty": "38.5", "Creek bottom": "12"})
    me.reach("Oakes Place")
    me.start_plan("Two fields to meadow")
    me.follow("North eighty")
    me.choose("Mix", "Meadow")
    me.choose("How the seed goes in", "Broadcast on bare ground in spring")
    me.press("Show the steps of this choice")
    me.fill({"Seed raised when broadcast by": "1.25"})
    me.press("Put it in the plan")
    me.follow("Add Creek bottom")
    me.choose("Mix", "Meadow")
    me.tick(BROADLEAF)
    me.press("Put it in the plan")

    before = me.price().inner_text()
    me.choose("Seeding on North eighty", "No-till drill in the dormant season")
    me.press("Work it out again")
    expect(me.price()).not_to_have_text(before)

    me.follow("Offer this plan")
    me.reach("Not yet ready to offer")
    me.follow("See to them")
    me.follow("Change Creek bottom")
    page.get_by_label(BROADLEAF).uncheck()
    me.press(re.compile("^Save$"))
    me.accept_cautions("Seen on the walk.")

    shown_sha, total = me.offer(), me.total()
    pdf = me.download()
    assert sha256(pdf).hexdigest() == shown_sha
    assert CLIENT in pdf_text(pdf) and total in pdf_text(pdf)
