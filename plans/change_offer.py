"""A change to an agreed plan made ready to be offered: what it is set against, its price, its print."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.utils.translation import gettext, gettext_lazy

from plans.ahead import ahead_of
from plans.contract import added_by_year, change_of, signed_years
from plans.documents.change_order import Agreed, change_order_pdf
from plans.documents.closing import AcceptedCaution
from plans.documents.manner import using
from plans.models import Plan, Proposal, State
from plans.planning.money import total
from plans.planning.plan import Plan as Outcome
from plans.selectors import latest_proposal

UNREADABLE = gettext_lazy(
    "The agreed proposal was made by an earlier version of the site, so no change to it can be worked out."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeOffer:
    proposal: Proposal
    """The agreed revision that it changes."""
    years: dict[int, Decimal]
    """What that comes to by year [$], with the change orders before it."""
    before: Outcome
    """What is left of the agreed work, as of the day on which `after` was worked out."""
    after: Outcome

    @property
    def agreed(self) -> Agreed:
        """What it changes, in the words of the manner in force."""
        return Agreed(reference=named(self.proposal), on=agreed_on(self.proposal), years=self.years)

    @property
    def difference(self) -> Decimal:
        return total(added_by_year(self.before, self.after).values())

    @property
    def price(self) -> Decimal:
        return total(self.years.values()) + self.difference

    def pdf(
        self,
        *,
        number: str,
        offered_on: date,
        why: str,
        logo: bytes | None,
        accepted_cautions: Sequence[AcceptedCaution] = (),
    ) -> bytes:
        with using(self.after.job.manner):
            return change_order_pdf(
                self.before,
                self.after,
                agreed=self.agreed,
                number=number,
                offered_on=offered_on,
                until=offered_on + timedelta(days=self.after.job.terms.valid_days),
                why=why,
                logo=logo,
                accepted_cautions=accepted_cautions,
            )


def change_offer(change: Plan, after: Outcome) -> ChangeOffer:
    """Raises ValueError, a sentence, where what is left of the agreed work cannot be worked out."""
    plan = change.changes
    proposal = latest_proposal(plan) if plan else None
    found = ahead_of(plan) if plan else None
    years = signed_years(proposal) if proposal else None
    if plan is None or proposal is None or found is None or years is None:
        raise ValueError(UNREADABLE)
    return ChangeOffer(
        proposal=proposal,
        years=years,
        before=found.left(after.today),
        after=after,
    )


def frozen_change(order: Proposal) -> ChangeOffer | None:
    """A change order as it was offered; None when it was stored by a version that wrote it differently."""
    change, earlier = change_of(order), order.changes
    years = signed_years(earlier) if earlier else None
    if change is None or earlier is None or years is None:
        return None
    return ChangeOffer(proposal=earlier, years=years, before=change.before, after=change.after)


def named(proposal: Proposal) -> str:
    """As it stands inside a sentence."""
    if proposal.is_change_order:
        return gettext("change order {number}").format(number=proposal.number)
    return gettext("proposal {number}, revision {revision}").format(
        number=proposal.number, revision=proposal.revision
    )


def agreed_on(proposal: Proposal) -> date | None:
    """The day of the yes; None where it was not kept yet."""
    plan = proposal.plan
    return plan.agreed_on or (plan.state_on if plan.state == State.AGREED else None)
