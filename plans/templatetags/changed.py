"""The quiet link from a record's page to what was changed on it."""

from __future__ import annotations

from typing import Any

from django import template
from django.template import Context

from consulting.followed import Followed

register = template.Library()


@register.inclusion_tag("history/_link.html", takes_context=True)
def who_changed(context: Context, row: Followed) -> dict[str, Any]:
    return {"practice": context["practice"], "kind": row._meta.model_name, "key": row.pk}
