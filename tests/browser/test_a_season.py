"""A year on two farms, played through in a browser: booked, rained on, sprayed, drilled, counted, paid."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

from django_scopes import scope
from playwright.sync_api import Page, expect

from consulting.models import Product, User
from plans import fitting
from plans.models import Plan, Visit
from tests.browser.conftest import PHONE, NewPage
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field, make_machine
from tests.plan_factories import make_conversion, make_mix, make_offered, make_plan, make_prices, price

Sign = Callable[[Page, User], None]

SPRAY = {
    "Started at": "07:40",
    "Certified applicator": "Ada Applicator",
    "Certificate number": "INV-1234",
    "Weeds or pest": "tall fescue",
    "Customer’s address": "1 Invented Road",
    "Wind speed": "6",
}
STAGES = [
    {"label": "At signing", "share_pct": 40, "due": "on signing"},
    {"label": "After seeding", "share_pct": 60, "due": "when seed is in"},
]


class Year:
    """The office on a laptop, the crew on a phone, and a calendar that the test turns."""

    def __init__(self, cast: Cast, new_page: NewPage, sign_in: Sign, clock: Any) -> None:
        self.cast, self.sign_in, self.clock = cast, sign_in, clock
        self.office = new_page()
        self.crew = new_page(PHONE, is_mobile=True, has_touch=True)

    def turn_to(self, day: date) -> None:
        self.clock.move_to(f"{day} 15:00:00", tick=True)
        self.sign_in(self.office, self.cast.owner)
        self.sign_in(self.crew, self.cast.crew)

    def go(self, page: Page, path: str) -> None:
        page.goto(self.cast.url(path))
        page.wait_for_load_state("load")

    def visit(self, plan: Plan, step: str) -> Visit:
        with scope(practice=self.cast.practice):
            return Visit.objects.get(plan=plan, step=step)

    def agree(self, plan: Plan) -> None:
        self.go(self.office, f"plans/{plan.pk}/")
        self.office.get_by_role("link", name="The client agrees").click()
        self.office.get_by_role("button", name="The client agrees").click()
        expect(self.office.get_by_role("status")).to_contain_text("Agreed")

    def fit(self, first: str, last: str) -> None:
        self.go(self.office, "work/fit/")
        self.office.get_by_label("First day").fill(first)
        self.office.get_by_label("Last day").fill(last)
        self.office.get_by_label("Look for at most").fill("5")
        self.office.get_by_role("button", name="Fit it").click()
        expect(self.office.get_by_role("status").first).to_contain_text("Nothing late")
        self.office.get_by_role("button", name="Book what is ticked").click()
        expect(self.office.get_by_role("status")).to_contain_text("booked")

    def book(self, visit: Visit, day: date) -> None:
        self.go(self.office, f"work/{visit.pk}/book/")
        self.office.get_by_label("Day").fill(f"{day}")
        self.office.get_by_role("button", name=re.compile("^Book it|^Move it")).click()
        expect(self.office.get_by_text(f"{day:%A}, {day:%B} {day.day}, {day.year}")).to_be_visible()

    def do(self, visit: Visit, typed: dict[str, str]) -> None:
        self.go(self.crew, "work/day/")
        self.crew.get_by_role("link", name=visit.label).first.click()
        self.write_down(visit, typed)

    def write_down(self, visit: Visit, typed: dict[str, str]) -> None:
        self.go(self.crew, f"work/{visit.pk}/")
        for label, text in typed.items():
            self.crew.get_by_label(re.compile(f"^{label}")).first.fill(text)
        self.crew.get_by_role("button", name="Write it down").click()
        expect(self.crew.get_by_role("status").last).to_contain_text("Written down")


def costs(page: Page) -> list[list[Decimal]]:
    """Dollars of each year, and of all: signed, done, left and skipped."""
    rows = page.locator("#cost table").first.locator("tbody tr, tfoot tr")
    return [
        [price(amount) for amount in row.locator("summary.fig").all_inner_texts() if "$" in amount]
        for row in rows.all()
    ]


def test_a_season_is_played_through(
    cast: Cast, new_page: NewPage, sign_in: Sign, time_machine: Any, monkeypatch: Any
) -> None:
    monkeypatch.setattr("plans.fitting.launch", lambda made: fitting.run(made, workers=1))
    year = Year(cast, new_page, sign_in, time_machine)
    make_prices(cast.practice)
    with scope(practice=cast.practice):
        Product.objects.update(registration_number="INV-0-1")
    make_machine(cast.practice, operations=[])
    make_machine(cast.practice, "implement", operations=["boom_spraying"])
    mix = make_mix(cast.practice)
    plans = []
    for name in ("North place", "South place"):
        farm = make_farm(make_client(cast.practice), name=name)
        plan = make_plan(farm, title=f"{name} to cover", stages=STAGES)
        make_conversion(plan, make_field(farm), mix)
        make_offered(plan, cast.owner)
        plans.append(plan)
    north, south = plans

    year.turn_to(date(2026, 12, 1))
    year.agree(north)
    year.agree(south)

    year.turn_to(date(2027, 8, 25))
    year.fit("2027-09-01", "2027-11-10")
    days = {plan.pk: year.visit(plan, "kill_fall").booked_on for plan in plans}
    assert all(days.values())

    # Rain takes the first day; what was booked goes off the calendar and is booked anew.
    lost = days[north.pk] or date.max
    year.turn_to(lost)
    year.go(year.office, "work/lost-days/")
    year.office.get_by_label("First day").fill(f"{lost}")
    year.office.get_by_label("Last day").fill(f"{lost}")
    year.office.get_by_role("button", name="Take those days off").click()
    expect(year.office.get_by_role("status")).to_contain_text("taken off the calendar")
    for plan in plans:
        year.book(year.visit(plan, "kill_fall"), date(2027, 10, 6))
    year.turn_to(date(2027, 10, 6))
    for plan in plans:
        year.write_down(year.visit(plan, "kill_fall"), SPRAY)
    year.go(year.office, "work/?stands=late")
    expect(year.office.get_by_text("Nothing open fits")).to_be_visible()

    # A late green-up, entered once, moves the windows of that farm alone, and the board shows what moved.
    before = {plan.pk: year.visit(plan, "kill_spring").window_opens for plan in plans}
    year.turn_to(date(2028, 3, 30))
    year.go(year.office, f"farms/{north.farm_id}/")
    year.office.get_by_label("What was seen").select_option("sod_wakes")
    year.office.get_by_label("Seen on").fill("2028-03-30")
    year.office.get_by_role("button", name="Note it").click()
    expect(year.office.get_by_role("status")).to_contain_text("Noted")
    assert year.visit(north, "kill_spring").window_opens != before[north.pk]
    assert year.visit(south, "kill_spring").window_opens == before[south.pk]
    year.go(year.office, "work/")
    expect(year.office.locator(".moved")).to_contain_text("North place")

    year.turn_to(date(2028, 5, 8))
    for plan in plans:
        year.book(year.visit(plan, "kill_spring"), date(2028, 5, 8))
    year.do(year.visit(north, "kill_spring"), SPRAY)
    year.do(year.visit(south, "kill_spring"), SPRAY | {"Acres done": "4"})
    expect(year.crew.get_by_text("4 of 10 acres are done")).to_be_visible()
    year.turn_to(date(2028, 5, 9))
    year.write_down(year.visit(south, "kill_spring"), SPRAY)

    year.turn_to(date(2028, 5, 25))
    for plan in plans:
        drill = year.visit(plan, "drill")
        year.book(drill, date(2028, 5, 25))
        year.do(drill, {})
    year.turn_to(date(2028, 6, 28))
    year.write_down(year.visit(north, "clip_1"), {})
    year.write_down(year.visit(south, "clip_1"), {})
    for plan in plans:
        year.go(year.office, f"work/{year.visit(plan, 'clip_2').pk}/")
        year.office.get_by_text("Leave it undone for good").click()
        skip = year.office.locator("form", has=year.office.get_by_role("button", name="Skip it"))
        skip.get_by_label("Why").fill("no weed stands over the seedlings")
        year.office.get_by_role("button", name="Skip it").click()
        expect(year.office.get_by_role("status")).to_contain_text("Skipped")

    year.turn_to(date(2028, 10, 2))
    for plan, hits in ((north, ("9", "11")), (south, ("1", "0"))):
        count = year.visit(plan, "count_1")
        year.go(year.crew, f"work/{count.pk}/count/")
        for throw, hit in enumerate(hits, 1):
            year.crew.get_by_label(f"Throw {throw}", exact=True).fill(hit)
        year.crew.get_by_role("button", name="Keep the count").click()
        expect(year.crew.get_by_role("status").last).to_contain_text("Counted")
        year.write_down(count, {})

    # The season is over: nothing of it is open, the records are whole, and the money adds up.
    year.turn_to(date(2028, 12, 1))
    with scope(practice=cast.practice):
        assert not Visit.objects.filter(state="open", season__lte=1).exists()
    year.go(year.office, "work/?stands=late")
    expect(year.office.get_by_text("Nothing open fits")).to_be_visible()
    year.go(year.office, "work/records/check/")
    expect(year.office.get_by_role("heading", level=1)).to_have_text("The chain is whole")
    expect(year.office.get_by_text("All 11 records")).to_be_visible()
    year.go(year.office, f"plans/{north.pk}/money/")
    expect(year.office.locator("#invoice")).to_contain_text("After seeding")
    *years, total = costs(year.office)
    assert len(years) > 1 and total[1] > 0
    assert [sum(column) for column in zip(*years, strict=True)] == total
    year.office.get_by_text("Mark a payment").click()
    year.office.get_by_role("button", name="Mark it").click()
    expect(year.office.get_by_role("status")).to_contain_text("Marked")
