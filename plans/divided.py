"""What becomes of plans when a field that they use is divided or its acres change."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from plans.models import Conversion, Plan, State
from plans.models.plans import Purpose
from plans.selectors import frozen_outcome, latest_proposal
from plans.services import touch
from sites.models import Field

SIGNED = frozenset({State.OFFERED, State.AGREED, State.UNDER_WAY, State.IN_UPKEEP})
"""Their proposal, visits and records name the whole field and its acres."""
LIVE = (State.DRAFT, *SIGNED)


def plans_with(field: Field) -> QuerySet[Plan]:
    """Plans that are not over and use the field."""
    return Plan.objects.filter(conversions__field=field, state__in=LIVE)


def stands_on_the_whole(plan: Plan) -> bool:
    return plan.state in SIGNED


def signed_acres(field: Field) -> list[tuple[Plan, float | None]]:
    """Plans whose proposal is out or signed, with the acres of the field that it was made with.

    None where the proposal knows no field of this name.
    """
    found = []
    for plan in plans_with(field).filter(state__in=SIGNED).distinct():
        proposal = latest_proposal(plan)
        outcome = frozen_outcome(proposal) if proposal else None
        signed = {one.field: one.acres for one in outcome.job.conversions} if outcome else {}
        found.append((plan, signed.get(field.name)))
    return found


def follow_the_division(sender: Any, field: Field, made: Field, **kwargs: Any) -> None:
    """Drafts take in the new field with the choices of the old one, so that they plan the same ground.

    A planting of trees is so many plants, and stays with the old field. Raises ValidationError where an
    offered or agreed plan stands on the whole field.
    """
    for plan in plans_with(field).select_for_update(of=("self",)):
        if stands_on_the_whole(plan):
            said = _("“{plan}” is {state} and stands on the whole of {field}. Withdraw or close it first.")
            state = plan.get_state_display().lower()
            raise ValidationError(said.format(plan=plan.title, state=state, field=field.name))
        for conversion in Conversion.objects.filter(plan=plan, field=field).exclude(purpose=Purpose.TREES):
            conversion.pk, conversion._state.adding = None, True
            conversion.field = made
            conversion.full_clean()
            conversion.save()
        touch(plan)
