"""The invented practice: as many records as the README says, in several states, on any day."""

from __future__ import annotations

from datetime import date
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django_scopes import scope
from pypdf import PdfReader

from consulting.models import Client, Machine, Membership, Practice
from plans.demo import demo_found, first_proposal
from plans.models import Mix, Plan, Proposal, State, StockLot
from plans.own_rates import own_rates
from plans.records import chain
from sites.models import Farm, Field

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("today", [date(2026, 11, 25), date(2028, 5, 2), date(2031, 1, 10)])
def test_it_is_founded_whole_on_any_day_and_only_once(today: date) -> None:
    practice = demo_found(password="a long invented one", today=today)
    assert demo_found(password="a long invented one", today=today) == practice
    with scope(practice=practice):
        counted = [
            model.objects.count() for model in (Membership, Client, Farm, Field, Mix, Machine, Plan, StockLot)
        ]
        assert counted == [3, 3, 5, 14, 6, 5, 8, 4]
        assert Field.objects.values("cover").distinct().count() >= 4
        states = set(Plan.objects.values_list("state", flat=True))
        assert states == {State.DRAFT, State.OFFERED, State.AGREED, State.DECLINED, State.UNDER_WAY}
        assert Proposal.objects.count() == 5
        assert chain().broken_at is None and chain().length > 15
        assert {rate.what for rate in own_rates(practice, today).every if rate.takes} == {"pace", "allowance"}
    assert bytes(first_proposal(practice).pdf).startswith(b"%PDF")


def test_the_command_writes_a_proposal_and_says_how_to_log_in(tmp_path: Path, settings: Any) -> None:
    settings.DEMO = True
    said = StringIO()
    call_command("demo", pdf_dir=str(tmp_path), stdout=said)
    (out,) = tmp_path.iterdir()
    assert str(out) in said.getvalue() and "owner@kestrel.example" in said.getvalue()
    assert "Marchetti" in PdfReader(out).pages[0].extract_text()


def test_it_is_kept_out_of_a_real_database(settings: Any) -> None:
    settings.DEMO = False
    with pytest.raises(CommandError, match="COVERSTEAD_DEMO"):
        call_command("demo")
    assert not Practice.objects.exists()
