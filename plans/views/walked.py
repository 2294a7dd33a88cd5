"""A walk-over taken into the facts of its field, when a person says so."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from consulting.access import PracticeRequest, practice_view
from consulting.opened import unmoved
from consulting.policy import Right
from plans.models.plans import Purpose
from plans.walked import suggested
from sites.services import field_update
from sites.views.walks import walk_or_404


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def take_facts(request: PracticeRequest, pk: int) -> HttpResponse:
    """Shows what would change on the field, and changes what is ticked."""
    walk = walk_or_404(pk)
    back = reverse("walk", args=[request.practice.slug, walk.pk])
    changes = suggested(walk, walk.field, walk.field.farm, Purpose.NESTING).changes
    if request.method == "POST":
        unmoved(request, walk.field)
        ticked = set(request.POST.getlist("take"))
        taken = {change.name: change.value for change in changes if change.name in ticked}
        try:
            field_update(field=walk.field, **taken)
        except ValidationError as refused:
            messages.error(request, " ".join(refused.messages))
            return redirect(back)
        if taken:
            messages.success(
                request, _("{field} says now what the walk-over found.").format(field=walk.field)
            )
        return redirect("field", request.practice.slug, walk.field_id)
    return render(request, "plans/walk_facts.html", {"walk": walk, "changes": changes, "back": back})
