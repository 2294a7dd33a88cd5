"""The steep part that a grid of heights shows is seen, told apart and split off, on two screens."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django_scopes import scope
from playwright.sync_api import Page

from consulting.models import User
from sites.models import Field
from tests.factories import make_client, make_farm, make_member, make_practice, make_user
from tests.ground_factories import make_drawn_field
from tests.web.test_steep import half_steep

pytestmark = pytest.mark.django_db(transaction=True)


def test_the_steep_part_is_split_off(
    live_server: Any, screen: Page, sign_in: Callable[[Page, User], None], axe: Callable[[Page], None]
) -> None:
    practice = make_practice("Kestrel Cover Company", slug="kestrel")
    user = make_member(practice, "planner", user=make_user(name="Perrin Planner")).user
    field = make_drawn_field(make_farm(make_client(practice)), name="Barn Hill")
    sign_in(screen, user)
    screen.goto(f"/kestrel/fields/{field.pk}/slope/")
    grid = {"name": "heights.tif", "mimeType": "image/tiff", "buffer": half_steep()}
    screen.locator("#id_grid-file").set_input_files(grid)
    screen.get_by_role("button", name="Read the grid").click()
    screen.get_by_role("radio", name="steeper than 15 %").check()
    axe(screen)
    screen.get_by_label("Name of the new field").fill("Barn Hill, steep")
    screen.get_by_role("button", name="Split it off").click()
    screen.get_by_text("Barn Hill, steep is split off with").wait_for()
    axe(screen)
    with scope(practice=practice):
        assert Field.objects.count() == 2
