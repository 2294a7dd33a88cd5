"""The plans on a farm, for the farm's own page, which knows nothing of plans."""

from __future__ import annotations

from typing import Any

from django import template

from plans.models import Plan
from sites.models import Farm

register = template.Library()


@register.inclusion_tag("plans/_plans_of_farm.html", takes_context=True)
def plans_of_farm(context: template.Context, farm: Farm) -> dict[str, Any]:
    return {"plans": Plan.objects.filter(farm=farm), "practice": context["practice"]}
