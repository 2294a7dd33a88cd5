"""What an agreed plan comes to with its change orders: the price by year, and the payments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from plans.documents.manner import _, marked
from plans.models import Proposal
from plans.planning import wire
from plans.planning.figures import Figure, Term
from plans.planning.money import ZERO, total
from plans.planning.plan import Plan as Outcome
from plans.planning.plan import StageAmount
from plans.selectors import frozen_outcome

SOURCE = marked("the change order, as it was offered")


@dataclass(frozen=True, slots=True)
class Change:
    """A change order read again: what was left before it, and with it."""

    proposal: Proposal
    before: Outcome
    after: Outcome

    @property
    def by_year(self) -> dict[int, Decimal]:
        """What it adds to each year [$]."""
        return added_by_year(self.before, self.after)

    @property
    def amount(self) -> Decimal:
        return total(self.by_year.values())


def years_of(outcome: Outcome) -> dict[int, Decimal]:
    return {year.year: year.total.dollars for year in outcome.estimate.years}


def added_by_year(before: Outcome, after: Outcome) -> dict[int, Decimal]:
    """What the second is dearer than the first, by year [$]; years alike in both are left out."""
    was, becomes = years_of(before), years_of(after)
    found = {year: becomes.get(year, ZERO) - was.get(year, ZERO) for year in sorted({*was, *becomes})}
    return {year: amount for year, amount in found.items() if amount}


def summed(years: dict[int, Decimal], more: dict[int, Decimal]) -> dict[int, Decimal]:
    return {year: years.get(year, ZERO) + more.get(year, ZERO) for year in sorted({*years, *more})}


def change_of(proposal: Proposal) -> Change | None:
    """None for what is no change order, or was written by a version that wrote it differently."""
    after = frozen_outcome(proposal) if proposal.is_change_order else None
    try:
        before = wire.read_plan(proposal.before) if after else None
    except wire.BadInput:
        return None
    return Change(proposal, before, after) if before and after else None


def changes_of(chain: Sequence[Proposal]) -> list[Change]:
    return [change for proposal in chain if (change := change_of(proposal))]


def signed_years(proposal: Proposal) -> dict[int, Decimal] | None:
    """The whole price by year [$] that a revision stands for; None where it cannot be read."""
    if not proposal.is_change_order:
        outcome = frozen_outcome(proposal)
        return years_of(outcome) if outcome else None
    change, earlier = change_of(proposal), proposal.changes
    years = signed_years(earlier) if earlier else None
    return summed(years, change.by_year) if change and years is not None else None


def stages_of(chain: Sequence[Proposal]) -> tuple[StageAmount, ...] | None:
    """The payments of the agreed proposal, then one for each change order; None where it cannot be read."""
    outcome = frozen_outcome(chain[0]) if chain else None
    if outcome is None:
        return None
    return (*outcome.estimate.stages, *(stage_of(change) for change in changes_of(chain) if change.amount))


def stage_of(change: Change) -> StageAmount:
    terms = tuple(Term(str(year), amount, "$") for year, amount in change.by_year.items())
    return StageAmount(
        label=_("Change order {number}").format(number=change.proposal.number),
        share_pct=100.0,
        due=_("with the payment that falls due next"),
        amount=Figure(change.amount, "$", _("what it adds to each year, added up"), terms, _(SOURCE)),
    )
