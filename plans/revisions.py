"""The revisions of a plan, and any two of them side by side; a draft as it stands is the last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from plans.change_offer import ChangeOffer, change_offer
from plans.contract import change_of, signed_years, summed, years_of
from plans.documents.changed import Brief, Row, YearRows, briefs, reasons, rows, year_rows
from plans.documents.manner import _
from plans.documents.words import short
from plans.models import Plan, Proposal
from plans.planning.changes import Changes, compare, compare_by_year, year_changes
from plans.planning.money import total
from plans.planning.plan import Plan as Outcome
from plans.selectors import frozen_outcome, prices_of, reckon, revisions_of

DRAFT = "draft"


@dataclass(frozen=True, slots=True)
class Revision:
    """A revision by its key: the proposal's number, or `draft`."""

    key: str
    name: str
    """`Revision 2`; `label` has the day with it."""
    label: str
    proposal: Proposal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    before: Revision
    after: Revision
    why: str
    """In the consultant's words; empty where none were written down."""
    changes: Changes
    briefs: tuple[Brief, ...]
    reasons: tuple[str, ...]
    ground: tuple[Row, ...]
    mix: tuple[Row, ...]
    steps: tuple[Row, ...]
    years: tuple[YearRows, ...]


class NotReadable(ValueError):
    """A revision that cannot be worked out or read; the message is a sentence."""


def revisions(plan: Plan) -> list[Revision]:
    """From the first to the last, with the draft, where the plan is one, behind them."""
    found = [revision(row) for row in revisions_of(plan)]
    if plan.is_draft:
        found.append(Revision(DRAFT, _("Draft"), _("Draft as it stands"), None))
    return found


def revision(proposal: Proposal) -> Revision:
    """A proposal goes by its revision, a change order by its number."""
    if proposal.is_change_order:
        name = _("Change order {number}").format(number=proposal.number)
    else:
        name = _("Revision {revision}").format(revision=proposal.revision)
    return Revision(str(proposal.number), name, f"{name}, {short(proposal.offered_on)}", proposal)


def chosen(found: Sequence[Revision], first: str, second: str) -> tuple[Revision, Revision] | None:
    """The two asked for, earlier first; the last two for what is not known. None where there are not two."""
    if len(found) < 2:
        return None
    keys = [one.key for one in found]
    if first not in keys or second not in keys or first == second:
        return found[-2], found[-1]
    one, other = sorted((keys.index(first), keys.index(second)))
    return found[one], found[other]


@dataclass(frozen=True, slots=True)
class _Side:
    outcome: Outcome
    years: dict[int, Decimal]
    left_only: bool
    """Whether it was worked out for what was left to do, as a change order is."""
    before: Outcome | None = None
    """What was left before it, of a change order; `changes` the number of what that was."""
    changes: int | None = None


def _side(plan: Plan, one: Revision, today: date) -> _Side:
    if one.proposal is None:
        return _draft_side(plan, today)
    proposal = Proposal.objects.select_related("changes", "plan").defer("pdf").get(pk=one.proposal.pk)
    outcome, years = frozen_outcome(proposal), signed_years(proposal)
    if outcome is None or years is None:
        raise NotReadable(
            _("{revision} was made by an earlier version of the site; only its PDF can be read.").format(
                revision=one.label
            )
        )
    if not proposal.is_change_order:
        return _Side(outcome, years, left_only=False)
    change = change_of(proposal)
    agreed = proposal.changes.number if proposal.changes else None
    return _Side(outcome, years, True, change.before if change else None, agreed)


def _draft_side(plan: Plan, today: date) -> _Side:
    reckoned = reckon(plan, prices_of(plan), today)
    if reckoned.outcome is None:
        raise NotReadable(" ".join(reckoned.problems) or _("There is no field in this draft yet."))
    if not plan.is_change:
        return _Side(reckoned.outcome, years_of(reckoned.outcome), left_only=False)
    offer = change_offer(plan, reckoned.outcome)
    return _Side(offer.after, years_with(offer), True, offer.before, offer.proposal.number)


def years_with(offer: ChangeOffer) -> dict[int, Decimal]:
    """The whole price by year [$] with a change that is not agreed yet."""
    was, becomes = years_of(offer.before), years_of(offer.after)
    return summed(dict(offer.years), summed({year: -amount for year, amount in was.items()}, becomes))


def compared(plan: Plan, before: Revision, after: Revision, today: date) -> Compared:
    """Two revisions side by side. Raises ValueError, a sentence, where one cannot be read or worked out.

    A change order beside what it changes is told line by line; other pairs of unlike kinds by year alone.
    """
    one, other = _side(plan, before, today), _side(plan, after, today)
    first = one.outcome
    if other.before is not None and before.proposal and before.proposal.number == other.changes:
        first = other.before
        changes = _over_the_whole(compare(first, other.outcome), one.years, other.years)
    elif one.left_only or other.left_only:
        changes = compare_by_year(first, other.outcome, one.years, other.years)
    else:
        changes = compare(first, other.outcome)
    return Compared(
        before=before,
        after=after,
        why=(after.proposal.why if after.proposal else plan.why).strip(),
        changes=changes,
        briefs=briefs(first, other.outcome, changes),
        reasons=reasons(changes),
        ground=rows(changes.ground),
        mix=rows(changes.mix),
        steps=rows(changes.steps),
        years=year_rows(changes),
    )


def _over_the_whole(found: Changes, was: dict[int, Decimal], becomes: dict[int, Decimal]) -> Changes:
    """The same lines under the whole prices that the two revisions stand for."""
    return replace(
        found, years=year_changes(was, becomes), before=total(was.values()), after=total(becomes.values())
    )
