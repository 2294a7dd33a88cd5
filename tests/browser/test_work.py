"""From an agreed plan to work done, on a laptop and on a phone."""

from __future__ import annotations

from collections.abc import Callable

from django_scopes import scope
from playwright.sync_api import Page, expect

from plans.models import Visit
from tests.conftest import Cast
from tests.plan_factories import make_agreed, make_ready_plan


def test_work_is_booked_done_in_part_and_kept_on_record(
    screen: Page, sign_in: Callable[..., None], cast: Cast, axe: Callable[[Page], None]
) -> None:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        kill = Visit.objects.get(plan=plan, step="kill_fall")
        clip = Visit.objects.get(plan=plan, step="clip_1")
    sign_in(screen, cast.owner)
    screen.goto(f"/{cast.practice.slug}/work/")
    axe(screen)
    screen.get_by_role("link", name=kill.label).first.click()
    axe(screen)
    screen.get_by_role("link", name="Book it").click()
    screen.get_by_label("Day").fill("2027-09-20")
    screen.get_by_role("button", name="What would that move?").click()
    expect(screen.get_by_role("status")).to_contain_text("Nothing that follows")
    axe(screen)
    screen.get_by_role("button", name="Book it").click()
    expect(screen.get_by_text("Monday, September 20, 2027")).to_be_visible()

    screen.goto(f"/{cast.practice.slug}/work/{clip.pk}/")
    screen.get_by_label("Acres done").fill("99")
    screen.get_by_role("button", name="Write it down").click()
    expect(screen.get_by_role("alert")).to_contain_text("10 acres are left to do")
    axe(screen)
    screen.get_by_label("Acres done").fill("4")
    screen.get_by_role("button", name="Write it down").click()
    expect(screen.get_by_text("4 of 10 acres are done")).to_be_visible()
    expect(screen.locator(".record")).to_contain_text("Done in part")

    screen.goto(f"/{cast.practice.slug}/work/day/2027-09-20/")
    expect(screen.get_by_role("link", name=kill.label)).to_be_visible()
    axe(screen)
    screen.goto(f"/{cast.practice.slug}/work/calendars/")
    screen.get_by_role("button", name="Make an address").first.click()
    screen.get_by_label("Password").fill("wide open prairie")
    screen.screenshot(path="/tmp/me/reauth.png")
    screen.get_by_role("button", name="Confirm").click()
    expect(screen.locator("code.address")).to_contain_text(".ics")
    axe(screen)
