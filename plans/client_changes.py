"""A change order as its client reads it, from what was frozen and from nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from plans.change_offer import agreed_of
from plans.contract import change_of
from plans.documents.change_order import (
    YearOfChange,
    choice_rows,
    standing,
    window_rows,
    years_of_change,
)
from plans.documents.changed import Row, reasons
from plans.models import Proposal
from plans.planning.changes import compare


@dataclass(frozen=True, slots=True)
class ChangeShown:
    standing: str
    why: str
    reasons: tuple[str, ...]
    choices: tuple[Row, ...]
    windows: tuple[Row, ...]
    years: tuple[YearOfChange, ...]
    agreed: Decimal
    added: Decimal
    becomes: Decimal


def change_shown(proposal: Proposal) -> ChangeShown | None:
    """None for a proposal, and for a change order that cannot be laid out any more."""
    change = change_of(proposal)
    agreed = agreed_of(proposal.changes) if change and proposal.changes else None
    if change is None or agreed is None:
        return None
    found = compare(change.before, change.after)
    return ChangeShown(
        standing=standing(agreed, found.difference, proposal.valid_until),
        why=proposal.why,
        reasons=reasons(found, steps=False),
        choices=choice_rows(found),
        windows=tuple(window_rows(found)),
        years=tuple(years_of_change(agreed.years, found)),
        agreed=agreed.price,
        added=found.difference,
        becomes=agreed.price + found.difference,
    )
