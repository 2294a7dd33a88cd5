"""Who may open what of the work: the board, a day, a visit."""

from __future__ import annotations

from datetime import date
from typing import Any

from django_scopes import scope

from consulting.images import Photo
from consulting.policy import Right
from plans.counts import count_write, photo_add
from plans.fitting import fitting_start
from plans.models import CalendarFeed, CountPhoto, DayOff, Fitting, StandCount, StockLot, Visit, WorkRecord
from plans.models.feeds import key_hash, new_key
from plans.records import record_write
from tests.factories import make
from tests.plan_factories import SPRAYED, line, make_agreed, make_ready_plan
from tests.web.rights import EVERYONE, FORM, POST, Row, World
from tests.web.rights_of_plans import kept, of_draft


def visit(world: World) -> Visit:
    def made() -> Visit:
        practice, owner = world.cast.practice, world.cast.owner
        plan = make_agreed(make_ready_plan(practice), owner)
        with scope(practice=practice):
            return Visit.objects.filter(plan=plan)[0]

    return kept(world, "visit", made)


def of_visit(world: World) -> list[Any]:
    return [visit(world).pk]


def of_lot(world: World) -> list[Any]:
    def made() -> StockLot:
        values = {"name": "big bluestem", "purity_pct": 60.0, "germination_pct": 65.0}
        return make(StockLot, values, practice=world.cast.practice, kind="seed", unit="lb")

    return [kept(world, "stock", made).pk]


def of_booked(world: World) -> list[Any]:
    """A day, and the plan and operation of a visit that is booked on it."""
    booked = visit(world)
    with scope(practice=world.cast.practice):
        Visit.objects.filter(pk=booked.pk).update(booked_on="2027-09-20")
    return ["2027-09-20", booked.plan_id, booked.operation]


def of_agreed(world: World) -> list[Any]:
    """A plan that is agreed: crew may print it for the wall."""
    return [visit(world).plan_id]


def feed_key(world: World) -> str:
    def made() -> str:
        key = new_key()
        make(CalendarFeed, {}, practice=world.cast.practice, member=None, key_sha256=key_hash(key))
        return key

    return kept(world, "feed", made)


def fitting_of(world: World) -> list[Any]:
    def made() -> Fitting:
        visit(world)
        with scope(practice=world.cast.practice):
            return fitting_start(
                practice=world.cast.practice,
                user=world.cast.owner,
                first=date(2027, 9, 1),
                last=date(2027, 11, 30),
                seconds=1,
                working_hours=9.0,
                saturdays=True,
            )

    return [kept(world, "fitting", made).pk]


def day_off_of(world: World) -> list[Any]:
    def made() -> DayOff:
        day = date(2027, 9, 1)
        return make(DayOff, {}, practice=world.cast.practice, member=world.member, first=day, last=day)

    return [kept(world, "day off", made).pk]


def record(world: World) -> list[Any]:
    def made() -> WorkRecord:
        found = visit(world)
        values = SPRAYED | {"on": found.window_opens, "acres": 1.0}
        with scope(practice=world.cast.practice):
            return record_write(visit=found, user=world.cast.crew, uid=None, values=values, lines=[line()])

    return [kept(world, "record", made).pk]


def of_count(world: World) -> list[Any]:
    visit(world)
    with scope(practice=world.cast.practice):
        return [Visit.objects.filter(operation="stand_count")[0].pk]


def count(world: World) -> StandCount:
    def made() -> StandCount:
        [pk] = of_count(world)
        usual: dict[str, Any] = {"method": "grid", "aim": "cover", "cells": 25, "frame_sqft": 1.0}
        with scope(practice=world.cast.practice):
            found = Visit.objects.get(pk=pk)
            told = {"on": found.window_opens, "throws": [5], "growth": "clean"}
            return count_write(visit=found, user=world.cast.crew, uid=None, **told, **usual)

    return kept(world, "count", made)


def count_photo(world: World) -> list[Any]:
    def made() -> CountPhoto:
        with scope(practice=world.cast.practice):
            return photo_add(count=count(world), photo=Photo(b"bytes", 4, 3), point="Gate post")

    return [kept(world, "count photo", made).pk]


def of_done_kill(world: World) -> list[Any]:
    visit(world)
    with scope(practice=world.cast.practice):
        kills = Visit.objects.filter(step="kill_spring")
        kills.update(state="done", done_on=date(2028, 4, 10))
        return [kills[0].pk]


ROWS: dict[str, Row] = {
    "work": Row(Right.SEE_WORK),
    "work_today": Row(Right.SEE_WORK),
    "work_day": Row(Right.SEE_WORK, args=lambda w: ["2027-09-20"]),
    "work_lost": Row(Right.SEE_WORK),
    "day_sheet": Row(Right.SEE_WORK, args=of_booked),
    "visit_sheet": Row(Right.SEE_WORK, args=of_visit),
    "wall_plan": Row(Right.SEE_WORK, args=of_agreed),
    "large_print": Row(Right.SEE_WORK, args=of_agreed),
    "wall_sheet": Row(Right.SEE_WORK, args=lambda w: [*of_agreed(w), "17x22"]),
    "shed": Row(Right.SEE_WORK),
    "shed_new": Row(Right.EDIT_RECORDS, FORM, lambda w: ["seed"]),
    "shed_lot": Row(Right.SEE_WORK, args=of_lot),
    "shed_edit": Row(Right.EDIT_RECORDS, FORM, of_lot),
    "shed_use": Row(Right.RECORD_WORK, POST, of_lot),
    "shed_arrive": Row(Right.RECORD_WORK, POST, of_lot),
    "shed_count": Row(Right.RECORD_WORK, POST, of_lot),
    "buy": Row(Right.SEE_PRICES),
    "buy_csv": Row(Right.SEE_PRICES),
    "buy_xlsx": Row(Right.SEE_PRICES),
    "buy_pdf": Row(Right.SEE_PRICES),
    "fit": Row(Right.EDIT_RECORDS, FORM),
    "fitting": Row(Right.EDIT_RECORDS, args=fitting_of),
    "fitting_stop": Row(Right.EDIT_RECORDS, POST, fitting_of),
    "fitting_take": Row(Right.EDIT_RECORDS, POST, fitting_of),
    "day_off": Row(Right.EDIT_RECORDS, FORM),
    "day_off_remove": Row(Right.EDIT_RECORDS, POST, day_off_of),
    "work_lost_days": Row(Right.EDIT_RECORDS, FORM),
    "visit": Row(Right.SEE_WORK, args=of_visit),
    "visit_book": Row(Right.EDIT_RECORDS, FORM, of_visit),
    "visit_unbook": Row(Right.EDIT_RECORDS, POST, of_visit),
    "visit_do": Row(Right.RECORD_WORK, POST, of_visit),
    "visit_skip": Row(Right.EDIT_RECORDS, POST, of_visit),
    "visit_reopen": Row(Right.EDIT_RECORDS, POST, of_visit),
    "visit_weather": Row(Right.RECORD_WORK, POST, of_visit),
    "visit_failed": Row(Right.EDIT_RECORDS, args=of_done_kill),
    "visit_add": Row(Right.EDIT_RECORDS, FORM, lambda w: [*of_visit(w), "kill_again_sod"]),
    "calendars": Row(Right.SEE_WORK, FORM, data={"whose": "mine"}),
    "calendar_revoke": Row(Right.SEE_WORK, POST, lambda w: ["mine"]),
    "calendar_feed": Row(EVERYONE, args=lambda w: [feed_key(w)]),
    "work_kept": Row(Right.SEE_WORK),
    "phone": Row(EVERYONE),
    "phone_worker": Row(EVERYONE),
    "stand_count": Row(Right.RECORD_WORK, FORM, of_count),
    "counted": Row(Right.SEE_WORK, args=lambda w: [count(w).pk]),
    "count_photo_add": Row(Right.RECORD_WORK, POST, lambda w: [count(w).pk]),
    "count_photo": Row(Right.SEE_WORK, args=count_photo),
    "count_photo_remove": Row(Right.RECORD_WORK, POST, count_photo),
    "records": Row(Right.SEE_WORK),
    "records_csv": Row(Right.SEE_WORK),
    "records_xlsx": Row(Right.SEE_WORK),
    "records_pdf": Row(Right.SEE_WORK),
    "records_check": Row(Right.SEE_WORK),
    "record_labels": Row(Right.RUN_PRACTICE, FORM),
    "record": Row(Right.SEE_WORK, args=record),
    "record_pdf": Row(Right.SEE_WORK, args=record),
    "record_correct": Row(Right.RECORD_WORK, FORM, record),
    "visits_make": Row(Right.EDIT_RECORDS, POST, of_draft),
}
