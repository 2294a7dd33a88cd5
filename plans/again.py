"""Steps that may be needed on a field of agreed work: what each would bring, and making it a visit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from consulting.models import User
from consulting.services import save
from plans import facts
from plans.ahead import AheadOf, ahead_of
from plans.counts import Counted
from plans.documents.words import day as day_words
from plans.documents.words import window as days_words
from plans.models import Conversion, State, Visit, VisitChange, VisitState
from plans.planning import ahead, tables
from plans.planning.ahead import Shift
from plans.planning.calendar import Slot
from plans.planning.contingent import price_of_step
from plans.planning.fields import field_tasks, index_prices
from plans.planning.figures import Figure
from plans.planning.programs import possible_steps
from plans.planning.tables import Step
from plans.services import Refused
from plans.visits import held, visit_of, windows_move, write_down

RUNNING = (State.AGREED, State.UNDER_WAY, State.IN_UPKEEP)
KILLING = ("boom_spraying", "spot_spraying", "discing")


@dataclass(frozen=True, slots=True)
class Added:
    """A step as it would be made a visit; the price is for this field alone."""

    step: Step
    slot: Slot
    price: Figure | None


@dataclass(frozen=True, slots=True)
class Offer:
    """A step that may be needed, with what comes with it and what moves; or why it cannot be dated."""

    step: Step
    added: tuple[Added, ...]
    shifts: tuple[Shift, ...]
    problem: str = ""

    @property
    def first(self) -> Added | None:
        return self.added[0] if self.added else None

    @property
    def further(self) -> tuple[Added, ...]:
        return self.added[1:]


def offer_of(found: AheadOf, field: str, key: str, today: date) -> Offer | None:
    """What making a step a visit today would bring; None where it is not one that may be needed."""
    conversion = found.conversion(field)
    coming = ahead.comes_with(conversion, key, found.years) if conversion else ()
    if conversion is None or not coming:
        return None
    firm = ahead.made_firm(conversion, [step.step for step in coming], found.years)
    try:
        before = found.windows(conversion)
        slots = found.slots(firm, adding={step.step: today for step in coming})
    except ValueError as unsound:
        return Offer(coming[0], (), (), str(unsound))
    done = {entry.step for entry in conversion.log}
    again = next((slot.step for name, slot in slots.items() if name in done and name not in before), None)
    if again is not None:
        return Offer(
            coming[0],
            (),
            (),
            _("too much time has passed: “{label}” would have to come first").format(label=again.label),
        )
    if coming[0].step not in slots:
        return Offer(coming[0], (), (), _("it finds no window any more"))
    added = tuple(
        Added(
            step,
            slots[step.step],
            price_of_step(step, conversion, found.file.job, found.file.prices, today.year),
        )
        for step in coming
        if step.step in slots
    )
    return Offer(coming[0], added, ahead.shifts(before, ahead.windows_of(slots)))


def offers_of(visit: Visit, today: date, *, phase: str = "") -> list[Offer]:
    """Every step that may be needed on a visit's field, or those of a phase, in working order."""
    found = ahead_of(visit.plan) if visit.plan.state in RUNNING else None
    conversion = found.conversion(visit.field.name) if found else None
    if found is None or conversion is None:
        return []
    there = {one.step for one in found.visits if one.field_id == visit.field_id}
    offers = [
        offer_of(found, visit.field.name, step.step, today)
        for step in possible_steps(conversion, found.years)
        if step.step not in there and phase in ("", step.phase)
    ]
    return [offer for offer in offers if offer]


def may_have_failed(visit: Visit) -> bool:
    """Whether this is a kill that was done, and so may not have taken."""
    done = visit.state == VisitState.DONE and visit.plan.state in RUNNING
    return done and visit.phase == "kill" and visit.operation in KILLING


def of_counts(counts: Sequence[Counted], offers: Sequence[Offer]) -> tuple[Offer, str] | None:
    """The step that the latest count asks for, where it may be needed, with the count as the reason."""
    if not counts:
        return None
    last = counts[0]
    asked = next((one for one in offers if one.step.step == last.stand.next_step.may_be), None)
    if asked is None:
        return None
    return asked, _("Count of {on}: {verdict}").format(
        on=day_words(last.count.on), verdict=last.stand.verdict
    )


@transaction.atomic
def visit_add(*, visit: Visit, version: int, user: User, step: str, reason: str, today: date) -> list[Visit]:
    """Make a step that may be needed a visit on the field of `visit`, with those that come with it.

    What follows moves, and each change is written down. Raises Refused or ChangedMeanwhile.
    """
    visit = held(visit, version)
    known = tables.steps().get(step)
    if known and Visit.objects.filter(plan=visit.plan_id, field=visit.field_id, step=step).exists():
        raise Refused(_("“{label}” is a visit on this field already.").format(label=known.label))
    found = ahead_of(visit.plan) if visit.plan.state in RUNNING else None
    conversion = found.conversion(visit.field.name) if found else None
    offer = offer_of(found, visit.field.name, step, today) if found else None
    if found is None or conversion is None or offer is None:
        raise Refused(_("That step is not one that may be needed here now."))
    if not offer.added:
        raise Refused(
            _("{label} cannot be dated: {problem}.").format(label=offer.step.label, problem=offer.problem)
        )
    made = []
    for task in field_tasks(conversion, [one.slot for one in offer.added], index_prices(found.file.prices)):
        blank = Visit(practice=visit.practice, plan=visit.plan, field=visit.field, added_on=today)
        added = save(visit_of(task, blank))
        after = days_words(added.window_opens, added.window_shuts)
        write_down(added, VisitChange.What.MADE, user, after=after, reason=reason)
        made.append(added)
    choice_keep(visit, [one.step for one in made], found.years)
    windows_move(visit.plan, because=f"{offer.step.label} was added: {reason}", fields=[visit.field_id])
    return made


def choice_keep(visit: Visit, added: Sequence[str], years: int) -> None:
    """Keep the plan's own choices true, from which its next revision goes on."""
    rows = Conversion.objects.select_for_update(of=("self",)).select_related("field", "mix")
    row = rows.get(plan=visit.plan_id, field=visit.field_id)
    firm = ahead.made_firm(facts.conversion_of(row), added, years)
    row.options, row.left_out = list(firm.options), list(firm.left_out)
    row.save(update_fields=["options", "left_out"])
