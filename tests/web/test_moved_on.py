"""A form whose record moved on since it was opened: nothing is written, and both are shown."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.conftest import Cast
from tests.web.opened import NEED_NOT, must_know
from tests.web.rights import World
from tests.web.test_who_may_what import TABLE, address, send

SENT = {name: row for name, row in TABLE.items() if "POST" in row.methods}


def test_what_need_not_know_is_there() -> None:
    assert set(SENT) >= NEED_NOT


@pytest.mark.parametrize("name", [name for name in SENT if must_know(name)])
def test_every_edit_refuses_a_version_that_passed(cast: Cast, name: str) -> None:
    world, row = World(cast), TABLE[name]
    old = replace(row, data=row.data | {"opened": "of yesterday"})
    response = send(world, "owner", "POST", address(name, row, world), old)
    assert response.status_code == 409
    assert "Changed meanwhile" in response.content.decode()
