"""A spray written down in the field, with what is missing said first, and its record read."""

from __future__ import annotations

import re
from collections.abc import Callable

from django_scopes import scope
from playwright.sync_api import Page, expect

from consulting.models import Product
from plans.models import Visit
from tests.conftest import Cast
from tests.plan_factories import make_agreed, make_ready_plan

Sign = Callable[..., None]
Axe = Callable[[Page], None]


def visit(cast: Cast, step: str) -> str:
    ready = make_ready_plan(cast.practice)
    with scope(practice=cast.practice):
        Product.objects.update(registration_number="INV-0-1")
    plan = make_agreed(ready, cast.owner)
    with scope(practice=cast.practice):
        return cast.url(f"work/{Visit.objects.get(plan=plan, step=step).pk}/")


def fill(page: Page) -> None:
    for label, text in {
        "Started at": "07:40",
        "Certified applicator": "Ada Applicator",
        "Certificate number": "INV-1234",
        "Weeds or pest": "tall fescue",
        "Customer’s address": "1 Invented Road",
        "Wind speed": "12",
    }.items():
        page.get_by_label(re.compile(f"^{label}")).fill(text)


def test_a_spray_is_written_down_and_read(screen: Page, sign_in: Sign, cast: Cast, axe: Axe) -> None:
    url = visit(cast, "kill_fall")
    sign_in(screen, cast.crew)
    screen.goto(url)
    axe(screen)
    screen.get_by_role("button", name="Write it down").click()
    expect(screen.get_by_role("alert")).to_contain_text("Started at is missing")
    axe(screen)
    fill(screen)
    amount = screen.get_by_label("Amount used").first
    amount.fill(str(2 * float(amount.input_value())))
    screen.get_by_role("button", name="Write it down").click()
    expect(screen.get_by_role("alert")).to_contain_text("100 % over what was planned")
    axe(screen)
    screen.get_by_label("Why so far from the plan").fill("a second pass")
    screen.get_by_role("button", name="Write it down").click()
    expect(screen.get_by_role("status")).to_contain_text("Wind 12 mph is over 10")
    screen.get_by_role("link", name="Record 1").click()
    expect(screen.get_by_role("heading", level=1)).to_contain_text("First kill")
    expect(screen.get_by_role("main")).to_contain_text("a second pass")
    axe(screen)
    screen.goto(cast.url("work/records/"))
    axe(screen)


def test_a_stand_is_counted(screen: Page, sign_in: Sign, cast: Cast, axe: Axe) -> None:
    url = visit(cast, "count_2")
    sign_in(screen, cast.crew)
    screen.goto(url)
    screen.get_by_role("link", name="Count the stand").click()
    axe(screen)
    screen.get_by_label("Throw 1", exact=True).fill("26")
    screen.get_by_role("button", name="Keep the count").click()
    expect(screen.get_by_role("alert")).to_contain_text("26 hits in 25 cells")
    axe(screen)
    screen.get_by_label("Throw 1", exact=True).fill("9")
    screen.get_by_label("Throw 2", exact=True).fill("11")
    screen.get_by_role("button", name="Keep the count").click()
    expect(screen.get_by_role("status")).to_contain_text("Enough for cover")
    axe(screen)


def test_a_record_is_corrected_without_scripts(no_script: Page, sign_in: Sign, cast: Cast) -> None:
    url = visit(cast, "kill_fall")
    sign_in(no_script, cast.crew)
    no_script.goto(url)
    fill(no_script)
    no_script.get_by_role("button", name="Write it down").click()
    no_script.get_by_role("link", name="Record 1").click()
    no_script.get_by_role("link", name="Correct it").click()
    no_script.get_by_label("Wind speed").fill("9")
    no_script.get_by_label("Why it is corrected").fill("read the wrong meter")
    no_script.get_by_role("button", name="Add the correction").click()
    expect(no_script.get_by_role("main")).to_contain_text("read the wrong meter")
    expect(no_script.get_by_role("main")).to_contain_text("wind 9 mph")
