"""What a walk-over suggests, for the pages of the ground, which know nothing of plans."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.html import format_html_join

from plans.models.plans import Purpose
from plans.planning.walked import growing
from plans.walked import suggested
from sites.models import WalkOver

register = template.Library()

LISTS = ("cover", "weed", "stem")


@register.simple_tag
def known_plants() -> str:
    """The names to choose from, as one list for each kind of row."""
    return format_html_join(
        "",
        '<datalist id="known-{}">{}</datalist>',
        (
            (
                name,
                format_html_join(
                    "",
                    '<option value="{}"></option>',
                    ((row.name,) for row in growing().values() if name in row.lists),
                ),
            )
            for name in LISTS
        ),
    )


@register.inclusion_tag("plans/_suggested_by_walk.html", takes_context=True)
def suggested_by(context: template.Context, walk: WalkOver) -> dict[str, Any]:
    """The suggestion with its reasons. A cover that is sown stands for every purpose but plots and trees."""
    return {
        "suggested": suggested(walk, walk.field, walk.field.farm, Purpose.NESTING),
        "walk": walk,
        "practice": context["practice"],
        "rights": context["rights"],
    }


@register.inclusion_tag("plans/_suggested_in_short.html", takes_context=True)
def suggested_in_short(context: template.Context, walk: WalkOver) -> dict[str, Any]:
    field = context["field"]
    found = suggested(walk, field, field.farm, Purpose.NESTING)
    return {"suggested": found, "practice": context["practice"]}
