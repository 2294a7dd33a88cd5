"""What was offered printed again from what was kept with it: the bytes that were offered."""

from __future__ import annotations

from datetime import date
from typing import Any

from plans.change_offer import agreed_of
from plans.contract import change_of
from plans.documents.change_order import change_order_pdf
from plans.documents.closing import AcceptedCaution
from plans.documents.proposal import proposal_pdf
from plans.models import Proposal
from plans.selectors import frozen_outcome


def reprinted(proposal: Proposal) -> bytes | None:
    """None when it was stored by a version that wrote it differently; another may print other bytes."""
    outcome = frozen_outcome(proposal)
    if outcome is None:
        return None
    told: dict[str, Any] = {
        "number": str(proposal.number),
        "offered_on": proposal.offered_on,
        "logo": bytes(proposal.logo.png) if proposal.logo else None,
        "accepted_cautions": [
            AcceptedCaution(**(one | {"on": date.fromisoformat(one["on"])}))
            for one in proposal.accepted_cautions
        ],
    }
    if proposal.changes is None:
        return proposal_pdf(outcome, revision=proposal.revision, **told)
    change, agreed = change_of(proposal), agreed_of(proposal.changes)
    if change is None or agreed is None:
        return None
    return change_order_pdf(
        change.before, outcome, agreed=agreed, until=proposal.valid_until, why=proposal.why, **told
    )
