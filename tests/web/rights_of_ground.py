"""Who may open what of the map of a farm: drawing, landmarks, files brought in and sent out."""

from __future__ import annotations

from typing import Any

from consulting.policy import Right
from tests.drawn_factories import make_landmark, make_upload, outlined
from tests.web.rights import FORM, POST, Row, World
from tests.web.rights_of_plans import kept


def of_field(world: World) -> list[Any]:
    return [outlined(world.field).pk]


def of_farm(world: World) -> list[Any]:
    outlined(world.field)
    return [world.farm.pk]


def of_landmark(world: World) -> list[Any]:
    return [kept(world, "landmark", lambda: make_landmark(world.farm)).pk]


def of_upload(world: World) -> list[Any]:
    return [kept(world, "upload", lambda: make_upload(world.farm, world.cast.owner)).pk]


ROWS: dict[str, Row] = {
    "field_draw": Row(Right.EDIT_RECORDS, FORM, of_field),
    "field_acres": Row(Right.EDIT_RECORDS, POST, of_field),
    "field_divide": Row(Right.EDIT_RECORDS, FORM, of_field),
    "field_send_out": Row(Right.SEE_WORK, args=lambda w: [*of_field(w), "kml"]),
    "field_draw_new": Row(Right.EDIT_RECORDS, FORM, of_farm),
    "farm_reckon": Row(Right.EDIT_RECORDS, POST, of_farm),
    "farm_map": Row(Right.SEE_WORK, args=of_farm),
    "farm_send_out": Row(Right.SEE_WORK, args=lambda w: [*of_farm(w), "geojson"]),
    "farm_plan_pdf": Row(Right.SEE_WORK, args=of_farm),
    "landmark_new": Row(Right.EDIT_RECORDS, FORM, of_farm),
    "landmark": Row(Right.EDIT_RECORDS, FORM, of_landmark),
    "landmark_remove": Row(Right.EDIT_RECORDS, FORM, of_landmark),
    "bring_in": Row(Right.EDIT_RECORDS, FORM, of_farm),
    "brought": Row(Right.EDIT_RECORDS, FORM, of_upload),
    "brought_drop": Row(Right.EDIT_RECORDS, POST, of_upload),
}
