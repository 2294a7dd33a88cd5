"""Who may open what of machines and the rig check."""

from __future__ import annotations

from typing import Any

from django_scopes import scopes_disabled

from consulting.models import Machine
from consulting.policy import Right
from tests.factories import make_machine, make_photo, make_span
from tests.web.rights import FORM, POST, Row, World
from tests.web.rights_of_plans import kept


def of_machine(world: World) -> list[Any]:
    def made() -> Any:
        machine = make_machine(world.cast.practice)
        make_photo(machine)
        return machine

    return [kept(world, "machine", made).pk]


def of_span(world: World) -> list[Any]:
    def made() -> Any:
        (machine,) = of_machine(world)
        with scopes_disabled():
            return make_span(Machine.objects.get(pk=machine))

    return [kept(world, "machine span", made).pk]


ROWS: dict[str, Row] = {
    "machines": Row(Right.SEE_WORK),
    "rig": Row(Right.SEE_WORK),
    "machine_new": Row(Right.EDIT_RECORDS, FORM, lambda w: ["tractor"]),
    "machine": Row(Right.SEE_WORK, args=of_machine),
    "machine_span_new": Row(Right.EDIT_RECORDS, FORM, of_machine),
    "machine_span_edit": Row(Right.EDIT_RECORDS, FORM, of_span),
    "machine_span_take_back": Row(Right.EDIT_RECORDS, POST, of_span),
    "machine_edit": Row(Right.EDIT_RECORDS, FORM, of_machine),
    "machine_remove": Row(Right.EDIT_RECORDS, FORM, of_machine),
    "machine_photo": Row(Right.SEE_WORK, args=of_machine),
    "machine_photo_remove": Row(Right.EDIT_RECORDS, POST, of_machine),
}
