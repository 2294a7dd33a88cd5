"""A consultant without a mouse: everything is reached with the Tab key, and where one stands must show."""

from __future__ import annotations

import re

from playwright.sync_api import Locator, expect

from tests.browser.consultant import WHY_ACCEPTED, Consultant

MOST_STOPS = 400
SHOWS = """el => {
    const style = getComputedStyle(el), label = el.labels && el.labels[0] && getComputedStyle(el.labels[0]);
    const ring = s => s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) > 0 || s.boxShadow !== 'none';
    return ring(style) || ring(getComputedStyle(el.parentElement)) || Boolean(label && ring(label));
}"""


class KeyboardConsultant(Consultant):
    def tab_to(self, wanted: Locator) -> None:
        """Presses Tab until `wanted` has the focus, and sees that it shows."""
        for _ in range(MOST_STOPS):
            if wanted.evaluate("el => el === document.activeElement"):
                assert wanted.evaluate(SHOWS), f"nobody sees the focus on {wanted}"
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"{MOST_STOPS} times Tab do not lead to {wanted} on {self.page.url}")

    def follow(self, link: str | re.Pattern[str]) -> None:
        self.tab_to(self.page.get_by_role("main").get_by_role("link", name=link).first)
        self.page.keyboard.press("Enter")

    def press(self, button: str | re.Pattern[str]) -> None:
        self.tab_to(self.page.get_by_role("button", name=button).first)
        self.page.keyboard.press("Enter")

    def fill(self, texts: dict[str, str]) -> None:
        for label, text in texts.items():
            self.tab_to(self.page.get_by_label(label).first)
            self.page.keyboard.press("Control+A")
            self.page.keyboard.type(text)

    def choose(self, label: str, option: str) -> None:
        select = self.page.get_by_label(label, exact=True)
        self.tab_to(select)
        self.page.keyboard.type(option)
        expect(select.locator("option:checked")).to_have_text(option)

    def tick(self, *labels: str) -> None:
        for label in labels:
            box = self.page.get_by_label(label).first
            if box.is_checked():
                continue
            if box.get_attribute("type") == "checkbox":
                self.tab_to(box)
                self.page.keyboard.press("Space")
            else:
                self._turn_to(box)
            expect(box).to_be_checked()

    def _turn_to(self, radio: Locator) -> None:
        """Tab stops at the group once; arrows go from one to the next."""
        group = self.page.locator(f"input[type=radio][name='{radio.get_attribute('name')}']")
        checked = group.and_(self.page.locator(":checked"))
        self.tab_to(checked if checked.count() else group.first)
        if not radio.is_checked() and not checked.count():
            self.page.keyboard.press("Space")
        for _ in range(group.count()):
            if radio.is_checked():
                return
            self.page.keyboard.press("ArrowDown")

    def home(self) -> None:
        self.tab_to(self.page.get_by_role("banner").get_by_role("link").first)
        self.page.keyboard.press("Enter")
        self.reach("To your first quote")

    def accept_cautions(self, reason: str) -> None:
        waiting = self.page.get_by_text(re.compile("^Accept (it|all)"))
        for left in range(waiting.count() - 1, -1, -1):
            why = self.page.get_by_label(WHY_ACCEPTED).first
            if not why.is_visible():
                self.tab_to(self.page.locator("summary", has_text=re.compile("^Accept (it|all)")).first)
                self.page.keyboard.press("Enter")
            self.tab_to(why)
            self.page.keyboard.type(reason)
            self.page.keyboard.press("Enter")
            expect(waiting).to_have_count(left)
