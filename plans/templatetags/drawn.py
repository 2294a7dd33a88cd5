"""The field plan and the farm plan, for pages of the ground, which know nothing of what is printed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import template

from plans.documents import farm_plan as of_farm
from plans.documents import field_plan as of_field
from plans.documents.manner import _
from plans.documents.map_sheet import Line
from plans.documents.svg import inline_svg
from plans.facts import left_of_works
from plans.field_plans import drawn_of, farm_drawn
from plans.planning.drawn import DrawnField
from sites.models import Farm, Field, Landmark

register = template.Library()

WIDE, HIGH = 360.0, 300.0
"""Of a map on a page: narrow, so that its words can be read on a phone."""
SIGNS = {"corner": "□", "gate": "▲", "fall": "→"}


@register.inclusion_tag("plans/_field_plan.html")
def field_plan(field: Field) -> dict[str, Any]:
    """The field for work that keeps away from most, then for other work; nothing without an outline."""
    drawn = drawn_of(field, left_of_works(field), field.farm.landmarks.all())
    shown = drawn if len(drawn) == 1 else drawn[:-1]
    return {"plans": [_field(plan, f"field-plan-{number}") for number, plan in enumerate(shown, start=1)]}


@register.inclusion_tag("plans/_map_with_legend.html")
def drawn_field(plan: DrawnField, number: int) -> dict[str, Any]:
    """A field as a proposal keeps it; `number` tells it from the page's other drawings."""
    return _field(plan, f"field-drawn-{number}")


def _field(plan: DrawnField, name: str) -> dict[str, Any]:
    drawing = of_field.field_plan(plan, wide=WIDE, high=HIGH)
    said = of_field.describe(plan)
    svg = inline_svg(
        drawing, name=name, title=_("Field plan of {field}").format(field=plan.name), description=said
    )
    return {
        "svg": svg,
        "lines": _lines(of_field.legend(plan)),
        "table": of_field.data_table(plan),
        "to": of_field.left_to(plan) if plan.works else "",
    }


@register.inclusion_tag("plans/_farm_plan.html", takes_context=True)
def farm_plan(
    context: template.Context, farm: Farm, fields: Sequence[Field], landmarks: Sequence[Landmark]
) -> dict[str, Any]:
    """All fields and landmarks of a farm; nothing where no field has an outline."""
    drawn = farm_drawn(farm, fields, landmarks)
    if drawn is None:
        return {"farm": farm}
    drawing = of_farm.farm_plan(drawn, wide=WIDE, high=HIGH)
    title = _("Farm plan of {farm}").format(farm=farm.name)
    svg = inline_svg(drawing, name="farm-plan", title=title, description=of_farm.describe(drawn))
    lines = _lines(of_farm.legend(drawn))
    return {"farm": farm, "svg": svg, "lines": lines, "practice": context["practice"]}


def _lines(lines: Sequence[Line]) -> list[tuple[str, Line]]:
    return [(SIGNS.get(str(line.mark), str(line.mark)), line) for line in lines]
