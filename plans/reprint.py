"""What was offered, printed again from what was kept with it."""

from __future__ import annotations

from datetime import date
from typing import Any

from plans.change_offer import ChangeOffer, agreed_on, named
from plans.contract import change_of, signed_years
from plans.documents.change_order import Agreed
from plans.documents.closing import AcceptedCaution
from plans.documents.proposal import proposal_pdf
from plans.models import Proposal
from plans.selectors import frozen_outcome


def reprinted(proposal: Proposal) -> bytes | None:
    """The bytes that were offered.

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
        offer = change_offered(proposal)
        return offer.pdf(why=proposal.why, **told) if offer else None
    outcome = frozen_outcome(proposal)
    return proposal_pdf(outcome, revision=proposal.revision, **told) if outcome else None


def change_offered(proposal: Proposal) -> ChangeOffer | None:
    """A change order as it was made ready to be offered; None where it cannot be read any more."""
    change, earlier = change_of(proposal), proposal.changes
    years = signed_years(earlier) if earlier else None
    if change is None or earlier is None or years is None:
        return None
    agreed = Agreed(reference=named(earlier), on=agreed_on(earlier), years=years)
    return ChangeOffer(proposal=earlier, agreed=agreed, before=change.before, after=change.after)
