"""What can be done next with a plan: which act leads from which state to which, in whose words."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from consulting.models import Membership
from consulting.policy import Right, may
from plans.models import Plan, State


@dataclass(frozen=True, slots=True)
class Act:
    key: str
    to: State
    label: str | Promise
    question: str | Promise
    text: str | Promise
    done: str | Promise


ACTS = {
    act.key: act
    for act in (
        Act(
            "revise",
            State.DRAFT,
            _("Start the next revision"),
            _("Start the next revision?"),
            _(
                "The plan becomes a draft again and is worked out with today’s prices. "
                "What was offered stays on record, unchanged."
            ),
            _("This is a draft again."),
        ),
        Act(
            "decline",
            State.DECLINED,
            _("The client declines"),
            _("Has the client declined?"),
            _("The plan is kept with its proposals, and can be revised later."),
            _("Marked as declined."),
        ),
        Act(
            "withdraw",
            State.WITHDRAWN,
            _("Withdraw it"),
            _("Withdraw this plan?"),
            _(
                "Tell the client as well: this changes the record and sends nothing. "
                "The plan can be revised later."
            ),
            _("Withdrawn."),
        ),
        Act(
            "start",
            State.UNDER_WAY,
            _("Work has begun"),
            _("Has work begun on this plan?"),
            _("The plan moves from agreed to under way."),
            _("Under way."),
        ),
        Act(
            "keep",
            State.IN_UPKEEP,
            _("The stand is in upkeep"),
            _("Is the stand established and in upkeep?"),
            _("The plan moves from under way to upkeep."),
            _("In upkeep."),
        ),
        Act(
            "close",
            State.CLOSED,
            _("Close the plan"),
            _("Close this plan for good?"),
            _("A closed plan stays on record and cannot be opened again."),
            _("Closed."),
        ),
    )
}


def acts_for(plan: Plan, membership: Membership) -> list[Act]:
    """The acts that this person may do with the plan as it stands."""
    if not may(membership, Right.OFFER):
        return []
    return [act for act in ACTS.values() if plan.may_become(act.to)]
