"""The plans on a farm and of a field, for pages of the ground, which knows nothing of plans."""

from __future__ import annotations

from typing import Any

from django import template

from plans.divided import plans_with, signed_acres, stands_on_the_whole
from plans.models import Plan
from sites.models import Farm, Field

register = template.Library()


@register.inclusion_tag("plans/_plans_of_farm.html", takes_context=True)
def plans_of_farm(context: template.Context, farm: Farm) -> dict[str, Any]:
    return {"plans": Plan.objects.filter(farm=farm), "practice": context["practice"]}


@register.inclusion_tag("plans/_plans_of_field.html", takes_context=True)
def plans_of_field(context: template.Context, field: Field) -> dict[str, Any]:
    """The plans that use a field which is to be divided, and what becomes of each."""
    plans = [(plan, stands_on_the_whole(plan)) for plan in plans_with(field)]
    return {"plans": plans, "practice": context["practice"], "field": field}


@register.inclusion_tag("plans/_signed_acres.html", takes_context=True)
def signed_acres_of_field(context: template.Context, field: Field) -> dict[str, Any]:
    """The plans whose frozen proposal keeps its own acres when those of the field change."""
    return {"plans": signed_acres(field), "practice": context["practice"], "field": field}
