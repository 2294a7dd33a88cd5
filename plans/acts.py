"""What can be done next with a plan: which act leads from which state to which, in whose words."""

from __future__ import annotations

from dataclasses import dataclass

from consulting.models import Membership
from consulting.policy import Right, may
from plans.models import Plan, State


@dataclass(frozen=True, slots=True)
class Act:
    key: str
    to: State
    label: str
    question: str
    text: str
    done: str


ACTS = {
    act.key: act
    for act in (
        Act(
            "revise",
            State.DRAFT,
            "Start the next revision",
            "Start the next revision?",
            "The plan becomes a draft again and is worked out with today’s prices. "
            "What was offered stays on record, unchanged.",
            "This is a draft again.",
        ),
        Act(
            "decline",
            State.DECLINED,
            "The client declines",
            "Has the client declined?",
            "The plan is kept with its proposals, and can be revised later.",
            "Marked as declined.",
        ),
        Act(
            "withdraw",
            State.WITHDRAWN,
            "Withdraw it",
            "Withdraw this plan?",
            "Tell the client as well: this changes the record and sends nothing. "
            "The plan can be revised later.",
            "Withdrawn.",
        ),
        Act(
            "start",
            State.UNDER_WAY,
            "Work has begun",
            "Has work begun on this plan?",
            "The plan moves from agreed to under way.",
            "Under way.",
        ),
        Act(
            "keep",
            State.IN_UPKEEP,
            "The stand is in upkeep",
            "Is the stand established and in upkeep?",
            "The plan moves from under way to upkeep.",
            "In upkeep.",
        ),
        Act(
            "close",
            State.CLOSED,
            "Close the plan",
            "Close this plan for good?",
            "A closed plan stays on record and cannot be opened again.",
            "Closed.",
        ),
    )
}


def acts_for(plan: Plan, membership: Membership) -> list[Act]:
    """The acts that this person may do with the plan as it stands."""
    if not may(membership, Right.OFFER):
        return []
    return [act for act in ACTS.values() if plan.may_become(act.to)]
