"""A consultant at work: each method is one stretch of the way to a proposal, found by label and word."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from io import BytesIO
from typing import Any

from playwright.sync_api import Locator, Page, expect
from pypdf import PdfReader

MEADOW = {"little bluestem": "40", "indiangrass": "30", "black-eyed Susan": "15", "purple coneflower": "15"}
WHY_ACCEPTED = "Why it is accepted, on record with your name"
BROADLEAF = "Broadleaf spray in the second year"


def not_looking(page: Page) -> None:
    """For a page on which axe cannot run."""


@dataclass
class Consultant:
    page: Page
    look: Callable[[Page], None] = not_looking
    """Looks at a page the first time it is reached."""
    seen: set[str | re.Pattern[str]] = field(default_factory=set)

    def reach(self, heading: str | re.Pattern[str]) -> None:
        expect(self.page.get_by_role("heading", level=1, name=heading)).to_be_visible()
        # A change made before the scripts have run reaches nobody.
        self.page.wait_for_load_state("load")
        if heading not in self.seen:
            self.look(self.page)
            self.seen.add(heading)

    def follow(self, link: str | re.Pattern[str]) -> None:
        self.page.get_by_role("main").get_by_role("link", name=link).first.click()

    def press(self, button: str | re.Pattern[str]) -> None:
        self.page.get_by_role("button", name=button).first.click()

    def fill(self, texts: dict[str, str]) -> None:
        for label, text in texts.items():
            self.page.get_by_label(label).first.fill(text)

    def choose(self, label: str, option: str) -> None:
        self.page.get_by_label(label, exact=True).select_option(label=option)

    def tick(self, *labels: str) -> None:
        for label in labels:
            self.page.get_by_label(label).first.check()

    def home(self) -> None:
        self.page.get_by_role("banner").get_by_role("link").first.click()
        self.reach("To your first quote")

    def sign_up(self, mailoutbox: list[Any]) -> None:
        self.page.goto("/")
        self.reach(re.compile("tired ground"))
        self.follow("Sign up")
        self.reach("Sign up")
        self.fill(
            {"Your name": "Ada Walker", "Email": "ada@example.org", "Password": "switchgrass at sundown"}
        )
        self.press("Sign up")
        self.reach(re.compile("code", re.IGNORECASE))
        code = re.search(r"^[A-Z0-9]{4}-[A-Z0-9]{4}$", mailoutbox[0].body, re.MULTILINE)
        assert code, mailoutbox[0].body
        self.fill({"Code": code[0]})
        self.press("Confirm")

    def found_practice(self, name: str) -> None:
        self.reach("Start a practice")
        self.fill({"Name of the practice": name})
        self.press("Start the practice")
        self.reach("To your first quote")

    def say_who(self) -> None:
        self.follow("Say who you are")
        self.reach("Details of the practice")
        self.fill(
            {"Address": "1 Invented Road", "Phone": "555 0100", "license": "Category 0, number 000, nowhere"}
        )
        self.press("Save")
        self.home()

    def confirm_prices(self) -> None:
        self.follow("Look over the price list")
        self.reach("Prices")
        self.press(re.compile("^Confirm all"))
        expect(self.page.get_by_text(re.compile(r"^\d+ prices confirmed"))).to_be_visible()
        self.follow("Change or confirm")
        self.reach("Hauling")
        self.press("Save")
        expect(self.page.get_by_text("unchecked")).to_have_count(0)
        self.home()

    def type_mix(self, name: str, seeds_per_sqft: str, shares: dict[str, str]) -> None:
        self.fill({"Name": name, "Live seeds per square foot": seeds_per_sqft})
        self.tick("Share of the seeds")
        for number, (species, share) in enumerate(shares.items(), start=1):
            self.fill({f"Species {number}": species, f"Amount {number}": share})

    def add_client(self, name: str) -> None:
        self.follow("Put a client on your books")
        self.reach("New client")
        self.fill({"Name": name})
        self.press("Save and go on")
        self.reach(name)

    def add_farm(self, name: str, station: str) -> None:
        self.follow("Add a farm")
        self.reach(re.compile("^New farm"))
        self.fill({"Name of the farm": name, "Round trip": "44"})
        stations = self.page.get_by_label("Climate from the station")
        self.choose("Climate from the station", stations.locator("option", has_text=station).inner_text())
        self.press("Save and go on")
        self.reach(name)

    def add_fields(self, fields: dict[str, str]) -> None:
        """Name and acres of each; sod under light thatch."""
        self.follow("Add a field")
        for number, (name, acres) in enumerate(fields.items(), start=1):
            self.reach(re.compile("^New field"))
            self.fill({"Name of the field": name, "Acres": acres, "Slope": "4"})
            self.tick("Cool-season sod", "Light")
            self.press("Save and add another" if number < len(fields) else re.compile("^Save$"))

    def start_plan(self, title: str) -> None:
        self.follow("Plan a job here")
        self.fill({"Title of the plan": title})
        self.press("Make the plan")
        self.reach(title)

    def price(self) -> Locator:
        """The price beside the choices."""
        return self.page.get_by_role("status").filter(has_text="over").locator("strong")

    def total(self) -> str:
        """The last figure of the table of prices."""
        prices = self.page.get_by_role("table", name=re.compile("^By year"))
        return prices.get_by_role("row").last.get_by_role("cell").last.inner_text().splitlines()[-1].strip()

    def accept_cautions(self, reason: str) -> None:
        waiting = self.page.get_by_text(re.compile("^Accept (it|all)"))
        for left in range(waiting.count() - 1, -1, -1):
            if not self.page.get_by_label(WHY_ACCEPTED).first.is_visible():
                waiting.first.click()
            self.page.get_by_label(WHY_ACCEPTED).first.fill(reason)
            self.page.get_by_label(WHY_ACCEPTED).first.press("Enter")
            expect(waiting).to_have_count(left)

    def offer(self) -> str:
        """SHA-256 as the proposal's page shows it."""
        self.follow("Offer this plan")
        self.reach("Offer this plan?")
        self.press("Offer and print")
        self.reach("Proposal 1, revision 1")
        return self.page.get_by_text(re.compile("^[0-9a-f]{64}$")).inner_text()

    def download(self) -> bytes:
        with self.page.expect_download() as download:
            self.follow("Download the PDF")
        return download.value.path().read_bytes()


def pdf_text(pdf: bytes) -> str:
    """All words of the print, each run of white space as one space."""
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())
