"""What was offered, printed again from what was kept with it."""

from __future__ import annotations

from datetime import date
from typing import Any

from plans.change_offer import frozen_change
from plans.documents.closing import AcceptedCaution
from plans.documents.proposal import proposal_pdf
from plans.models import Proposal
from plans.planning.beside import read_beside
from plans.planning.wire import BadInput
from plans.selectors import frozen_outcome


def reprinted(proposal: Proposal) -> bytes | None:
    """The bytes of the proposal or change order that was offered.

    None when it was stored by a version that wrote it differently; another version may print other bytes.
    """
    told: dict[str, Any] = {
        "number": str(proposal.number),
        "offered_on": proposal.offered_on,
        "logo": bytes(proposal.logo.png) if proposal.logo else None,
        "accepted_cautions": [
            AcceptedCaution(**(one | {"on": date.fromisoformat(one["on"])}))
            for one in proposal.accepted_cautions
        ],
    }
    if proposal.is_change_order:
        change = frozen_change(proposal)
        return change.pdf(why=proposal.why, **told) if change else None
    outcome = frozen_outcome(proposal)
    try:
        beside = read_beside(proposal.beside)
    except BadInput:
        return None
    return proposal_pdf(outcome, revision=proposal.revision, beside=beside, **told) if outcome else None
