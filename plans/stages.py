"""The payments of an agreed plan: what is still to invoice, what stands open, and marking one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from consulting.models import User
from consulting.services import save
from plans.contract import stages_of
from plans.models import Plan, StageMark, State
from plans.planning.figures import Figure
from plans.planning.plan import StageAmount
from plans.planning.progress import added
from plans.selectors import chain_in_force
from plans.services import Refused

AGREED = frozenset({State.AGREED, State.UNDER_WAY, State.IN_UPKEEP, State.CLOSED, State.TAKEN_IN})
What = StageMark.What
Standing = Literal["to invoice", "open", "paid"]


def was_agreed(plan: Plan) -> bool:
    """Whether the latest proposal was signed: a plan withdrawn after that keeps its visits."""
    return plan.state in AGREED or (plan.state == State.WITHDRAWN and plan.visits.exists())


@dataclass(frozen=True, slots=True)
class StageRow:
    number: int
    stage: StageAmount
    invoiced: StageMark | None
    paid: StageMark | None

    @property
    def standing(self) -> Standing:
        if self.paid:
            return "paid"
        return "open" if self.invoiced else "to invoice"

    @property
    def stands(self) -> str:
        return {"paid": _("paid"), "open": _("open"), "to invoice": _("to invoice")}[self.standing]


@dataclass(frozen=True, slots=True)
class Payments:
    rows: tuple[StageRow, ...]
    to_invoice: Figure
    open: Figure
    paid: Figure


def payments(stages: Iterable[StageAmount], marks: Iterable[StageMark]) -> Payments:
    """Where each stage stands; what was marked counts with the amount it had then."""
    found = {(mark.stage, mark.what): mark for mark in marks}
    rows = tuple(
        StageRow(number, stage, found.get((number, What.INVOICED)), found.get((number, What.PAID)))
        for number, stage in enumerate(stages, 1)
    )
    source = _("payment stages of the signed proposal, as they are marked")

    def sum_of(standing: Standing, words: str) -> Figure:
        parts = [(row.stage.label, amount(row)) for row in rows if row.standing == standing]
        return added(words, parts, source)

    return Payments(
        rows=rows,
        to_invoice=sum_of("to invoice", _("stages neither invoiced nor paid, added up")),
        open=sum_of("open", _("stages invoiced and not paid, added up")),
        paid=sum_of("paid", _("stages paid, added up")),
    )


def amount(row: StageRow) -> Decimal:
    mark = row.paid or row.invoiced
    return mark.amount_usd if mark else row.stage.amount.dollars


@transaction.atomic
def stage_mark(*, plan: Plan, user: User, stage: int, what: str, on: date, today: date) -> StageMark:
    """Write down that a stage was invoiced or paid. Raises ValidationError; Refused if nothing is agreed."""
    plan = Plan.objects.select_for_update(of=("self",)).get(pk=plan.pk)
    chain = chain_in_force(plan)
    stages = stages_of(chain)
    if not was_agreed(plan) or plan.is_change or stages is None:
        raise Refused(
            _("Payments are marked on an agreed proposal that the site can read; this plan has none.")
        )
    if not 1 <= stage <= len(stages):
        raise ValidationError({"stage": _("The terms have no such payment. Choose one of the list.")})
    if StageMark.objects.filter(plan=plan, stage=stage, what=what).exists():
        said = _("This payment is marked as {what} already. Choose another.")
        raise ValidationError({"stage": said.format(what=What(what).label.lower())})
    if on > today:
        raise ValidationError({"on": _("That day is still to come. Enter the day on which it was.")})
    if on < chain[0].offered_on:
        raise ValidationError({"on": _("That is before the proposal was offered. Check the year.")})
    chosen = stages[stage - 1]
    return save(
        StageMark(
            practice_id=plan.practice_id,
            plan=plan,
            stage=stage,
            label=chosen.label[:200],
            what=what,
            amount_usd=chosen.amount.dollars,
            on=on,
            by=user,
            by_name=str(user),
        )
    )
