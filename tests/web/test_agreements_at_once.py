"""Several answers at the same moment: there is one. SQLite has one writer, so this asks PostgreSQL."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.db import connection, connections
from django_scopes import scope

from consulting.letters import Letter
from consulting.sender import Sender
from plans import agreements
from plans.agreements import Seen
from plans.models import Agreement, Plan, Refusal, State, Visit
from plans.services import Refused
from tests.conftest import member
from tests.factories import make_practice
from tests.plan_factories import TODAY, make_ready_plan, make_shown

pytestmark = pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("with_a_no", [False, True])
def test_two_answers_at_once_give_one(with_a_no: bool) -> None:
    practice = make_practice("Kestrel Cover Company", slug="kestrel", email="office@example.org")
    link, _ = make_shown(make_ready_plan(practice), member(practice, "owner", "Ottilie Owner").user)
    with scope(practice=practice):
        proposal = link.plan.proposals.get()
    given = {
        "link": link,
        "seen": Seen(proposal.number, proposal.sha256),
        "sender": Sender(None),
        "today": TODAY + timedelta(days=1),
    }

    def yes() -> None:
        agreements.agree_on_page(name="Lena", **given)

    def no() -> None:
        agreements.decline(name="Lena", reason="", **given)

    def at_once(act: Callable[[], None]) -> None:
        try:
            with scope(practice=practice):
                act()
        except Refused:
            pass  # told that another was first
        finally:
            connections.close_all()

    acts = [yes, no] * 3 if with_a_no else [yes] * 6
    with ThreadPoolExecutor(len(acts)) as pool:
        list(pool.map(at_once, acts))
    with scope(practice=practice):
        yeses, noes = Agreement.objects.count(), Refusal.objects.count()
        assert yeses + noes == 1 and (with_a_no or yeses)
        assert Plan.objects.get().state == (State.AGREED if yeses else State.DECLINED)
        assert Visit.objects.exists() == bool(yeses)
        assert Letter.objects.count() == 1
