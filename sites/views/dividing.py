"""Dividing a field in two: a line first, then which piece is which."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from consulting.access import PracticeRequest, practice_view
from consulting.clock import today_for
from consulting.formkit import show_errors
from consulting.policy import Right
from sites import mapping
from sites.drawing import map_data, stamp_of_field
from sites.ground.errors import GroundError
from sites.ground.measuring import measure
from sites.ground_forms import LineForm, PiecesForm
from sites.pictures import pieces_picture
from sites.views.drawing import place_on, with_map
from sites.views.fields import field_or_404


@require_http_methods(["GET", "HEAD", "POST"])
@practice_view(Right.EDIT_RECORDS)
def divide(request: PracticeRequest, pk: int) -> HttpResponse:
    """Asks for the line, shows the pieces it makes, and divides once they are told apart."""
    field = field_or_404(pk)
    if field.outline is None:
        messages.error(request, _("{name} has no outline to divide. Draw it first.").format(name=field.name))
        return redirect("field_draw", request.practice.slug, pk)
    line = LineForm(
        request.POST or None, expected=place_on(field.farm), initial={"seen": stamp_of_field(field)}
    )
    context = {"field": field, "farm": field.farm, "client": field.farm.client, "line_form": line}
    if line.is_valid():
        try:
            pieces = mapping.pieces_of(field, line.cleaned_data["line"])
        except GroundError as error:
            line.add_error("corners", str(error))
        else:
            return _pieces(request, context, line, pieces)
    context |= {"form": line, "map": map_data(request.practice, field.farm, draws="line", divides=field)}
    return with_map(request, "sites/divide.html", context, bool(line.errors))


def _pieces(request: PracticeRequest, context: dict, line: LineForm, pieces: tuple) -> HttpResponse:
    """The second step: which pieces become the new field, and what it is called."""
    field = context["field"]
    sizes = [measure(piece).acres for piece in pieces]
    smallest = sizes.index(min(sizes))
    piece = _("Piece {number}: {acres} acres")
    choices = [
        (number, piece.format(number=number + 1, acres=f"{acres:,.2f}")) for number, acres in enumerate(sizes)
    ]
    told = "name" in request.POST
    form = PiecesForm(request.POST if told else None, choices=choices, initial={"new": [smallest]})
    if form.is_valid():
        try:
            made = mapping.field_divide(
                field=field,
                pieces=pieces,
                on=today_for(request.practice),
                seen=line.cleaned_data["seen"],
                **form.cleaned_data,
            )[1]
            said = _("{field} is divided. {new} has {acres} acres.")
            messages.success(request, said.format(field=field.name, new=made.name, acres=f"{made.acres:g}"))
            return redirect("farm", request.practice.slug, field.farm_id)
        except mapping.Changed:
            messages.error(
                request, _("Someone changed {name} meanwhile. Draw the line anew.").format(name=field.name)
            )
            return redirect("field_divide", request.practice.slug, field.pk)
        except ValidationError as refused:
            show_errors(form, refused)
    context |= {"form": form, "picture": pieces_picture(field, pieces), "acres": sum(sizes)}
    return render(request, "sites/pieces.html", context, status=422 if form.errors else 200)
