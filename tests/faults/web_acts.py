"""Offering, sending off, agreeing, importing, booking and recording, each through its form."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from itertools import count
from typing import Any
from unittest.mock import patch
from uuid import UUID, uuid4

from consulting.letters import Enclosure, Letter
from consulting.models import Client
from consulting.opened import stamp
from plans import agreements, records
from plans.fitting import booking_of, fitting_start
from plans.in_out import taking
from plans.in_out.kinds import KINDS
from plans.mailing import about
from plans.models import (
    Agreement,
    ClientLink,
    Fitting,
    ListUpload,
    LotUse,
    Plan,
    Proposal,
    ProposalCounter,
    RecordLine,
    State,
    StockLot,
    StockMove,
    Visit,
    VisitChange,
    VisitState,
    WorkRecord,
)
from plans.proofs import proof
from plans.selectors import frozen_outcome
from plans.sending import PAGE
from tests.factories import make, make_machine, make_member
from tests.faults.acts import AUTUMN, OFFERING, Found, WebAct, counted
from tests.faults.site import Ask
from tests.plan_factories import UNPRINTED, accept_all, make_agreed, make_offered, make_shown
from tests.web.test_records import form_of

What = VisitChange.What


class Offering(WebAct):
    name, day = "offering a proposal", OFFERING

    def prepare(self) -> Plan:
        plan = self.plan()
        accept_all(plan, self.owner)
        self.numbers = Proposal.objects.count()
        return plan

    def ask(self, subject: Plan) -> Ask:
        return self.form(f"plans/{subject.pk}/offer/", total="")

    def look(self, subject: Plan) -> Found:
        made = list(Proposal.objects.filter(plan=subject))
        prints = [one for one in made if hashlib.sha256(bytes(one.pdf)).hexdigest() == one.sha256]
        return counted(
            {
                "proposals": (len(made), 1),
                "prints": (len(prints), 1),
                "frozen results": (sum(frozen_outcome(one) is not None for one in made), 1),
                "plans offered": (Plan.objects.filter(pk=subject.pk, state=State.OFFERED).count(), 1),
                "numbers given": (self.last_number() - self.numbers, 1),
            }
        )

    def last_number(self) -> int:
        return sum(ProposalCounter.objects.values_list("last", flat=True))

    def wrong(self) -> Iterator[str]:
        numbers = list(Proposal.objects.order_by("number").values_list("number", flat=True))
        if numbers != list(range(1, self.last_number() + 1)):
            yield f"numbers have gaps: {numbers}, and the last given is {self.last_number()}"


class SendingOff(WebAct):
    """The letter with the proposal, and the link that stands in it."""

    name, day = "sending off a proposal", OFFERING

    def prepare(self) -> tuple[Proposal, UUID]:
        with patch("plans.services.proposal_pdf", return_value=UNPRINTED):
            made = make_offered(self.plan(), self.owner)
        return made, uuid4()

    def ask(self, subject: tuple[Proposal, UUID]) -> Ask:
        made, uid = subject
        typed = {"to": "lena@example.org", "subject": "Your proposal", "text": f"It stands at {PAGE}"}
        return self.form(f"proposals/{made.number}/send/", **typed, enclose="on", page="on", uid=f"{uid}")

    def look(self, subject: tuple[Proposal, UUID]) -> Found:
        made, _ = subject
        letters = Letter.objects.filter(about=about(made.plan))
        return counted(
            {
                "letters": (letters.count(), 1),
                "enclosures": (Enclosure.objects.filter(letter__in=letters).count(), 1),
                "links": (ClientLink.objects.filter(plan=made.plan_id).count(), 1),
            }
        )


class Agreeing(WebAct):
    name, day = "a client’s yes", OFFERING

    def prepare(self) -> tuple[Proposal, str]:
        link, key = make_shown(self.plan(), self.owner)
        return Proposal.objects.select_related("plan").get(plan=link.plan), key

    def ask(self, subject: tuple[Proposal, str]) -> Ask:
        made, key = subject
        typed = {"number": f"{made.number}", "sha256": made.sha256, "name": "Lena Landowner", "terms": "on"}
        return Ask(f"/client/{key}/agree/", self.day, typed)

    def look(self, subject: tuple[Proposal, str]) -> Found:
        made, _ = subject
        outcome = frozen_outcome(made)
        assert outcome
        tasks = sum(task.done_on is None for task in outcome.tasks)
        letters = Letter.objects.filter(about=about(made.plan))
        changes = VisitChange.objects.filter(visit__plan=made.plan, what=What.MADE)
        return counted(
            {
                "agreements": (Agreement.objects.filter(proposal=made).count(), 1),
                "plans agreed": (Plan.objects.filter(pk=made.plan_id, state=State.AGREED).count(), 1),
                "visits": (Visit.objects.filter(plan=made.plan).count(), tasks),
                "notes of visits made": (changes.count(), tasks),
                "letters": (letters.count(), 2),
                "copies enclosed": (Enclosure.objects.filter(letter__in=letters).count(), 2),
            }
        )

    def wrong(self) -> Iterator[str]:
        found = agreements.chain()
        if found.broken_at is not None or found.length != Agreement.objects.count():
            yield f"the chain of agreements is broken at {found.broken_at}: {found.why}"


@dataclass
class Importing(WebAct):
    """A list of clients, looked at before and now taken."""

    day, most_gaps = OFFERING, 12
    rows: int = 500
    costly: bool = False

    @property
    def name(self) -> str:  # type: ignore[override]
        return f"importing {self.rows:,} clients"

    def prepare(self) -> tuple[str, ListUpload, str]:
        mark = uuid4().hex[:8]
        lines = (f"{mark} client {number},{number} Invented Road\n" for number in range(self.rows))
        upload = taking.upload_keep(
            practice=self.practice,
            kind=KINDS["clients"],
            by=self.owner,
            name="clients.csv",
            data=("Name,Address\n" + "".join(lines)).encode(),
        )
        *_, looked = taking.look(upload, taking.sheet_of(upload))
        assert looked.may_take, looked.counts
        return mark, upload, looked.stamp

    def ask(self, subject: tuple[str, ListUpload, str]) -> Ask:
        _, upload, stamp = subject
        return self.form(f"lists/files/{upload.pk}/take/", seen=stamp)

    def look(self, subject: tuple[str, ListUpload, str]) -> Found:
        mark, upload, _ = subject
        waits = ListUpload.objects.filter(pk=upload.pk).count()
        return counted(
            {
                "clients": (Client.objects.filter(name__startswith=mark).count(), self.rows),
                "files taken": (1 - waits, 1),
            }
        )

    def clear(self, subject: tuple[str, ListUpload, str]) -> None:
        Client.objects.filter(name__startswith=subject[0]).delete()


class OfAgreedWork(WebAct):
    day = AUTUMN

    def settle(self) -> None:
        super().settle()
        self.tractor = make_machine(self.practice, "tractor")
        self.sprayer = make_machine(self.practice, "implement", operations=["boom_spraying"])
        self.crew = make_member(self.practice, "crew", name="Cass Crew")
        self.days = (date(2027, 9, 1) + timedelta(days=days) for days in count())

    def agreed(self) -> Plan:
        return make_agreed(self.plan(), self.owner)

    def visit(self, step: str) -> Visit:
        return Visit.objects.get(plan=self.agreed(), step=step)


class Booking(OfAgreedWork):
    name = "booking a visit"

    def prepare(self) -> tuple[Visit, date]:
        return self.visit("kill_fall"), next(self.days)

    def ask(self, subject: tuple[Visit, date]) -> Ask:
        visit, on = subject
        return self.form(
            f"work/{visit.pk}/book/",
            opened=stamp([visit]),
            on=f"{on}",
            people=[f"{self.crew.pk}"],
            tractor=f"{self.tractor.pk}",
            implement=f"{self.sprayer.pk}",
        )

    def look(self, subject: tuple[Visit, date]) -> Found:
        visit, on = subject
        now = Visit.objects.get(pk=visit.pk)
        noted = VisitChange.objects.filter(visit=visit, what__in=[What.BOOKED, What.PEOPLE, What.MACHINES])
        return counted(
            {
                "days": (Visit.objects.filter(pk=visit.pk, booked_on=on).count(), 1),
                "people": (now.people.count(), 1),
                "machines": (now.machines.count(), 2),
                "notes": (noted.count(), 3),
                "versions": (now.version - visit.version, 1),
            }
        )


class BookingASeason(OfAgreedWork):
    name = "booking a season’s visits"

    def prepare(self) -> Fitting:
        for _ in range(3):
            self.agreed()
        asked: dict[str, Any] = {"working_hours": 9, "saturdays": True, "seconds": 2}
        days = {"first": date(2027, 9, 1), "last": date(2027, 12, 15)}
        return fitting_start(practice=self.practice, user=self.owner, **days, **asked)

    def ask(self, subject: Fitting) -> Ask:
        booking = booking_of(subject)
        assert booking and booking.visits
        return self.form(f"work/fit/{subject.pk}/take/", visit=[one.visit for one in booking.visits])

    def look(self, subject: Fitting) -> Found:
        booking = booking_of(subject)
        assert booking
        booked = booking.visits
        rows = Visit.objects.filter(pk__in=[int(one.visit) for one in booked])
        on_day = {one.visit: one.first for one in booked}
        noted = VisitChange.objects.filter(visit__in=rows)
        return counted(
            {
                "visits booked": (sum(row.booked_on == on_day[f"{row.pk}"] for row in rows), len(booked)),
                "people": (
                    rows.filter(people__isnull=False).values_list("people").count(),
                    sum(len(one.people) for one in booked),
                ),
                "machines": (
                    rows.filter(machines__isnull=False).values_list("machines").count(),
                    sum(len(one.machines) for one in booked),
                ),
                "notes of days": (noted.filter(what=What.BOOKED).count(), len(booked)),
                "notes of people": (
                    noted.filter(what=What.PEOPLE).count(),
                    sum(bool(one.people) for one in booked),
                ),
                "notes of machines": (
                    noted.filter(what=What.MACHINES).count(),
                    sum(bool(one.machines) for one in booked),
                ),
            }
        )

    def clear(self, subject: Fitting) -> None:
        Visit.objects.update(state=VisitState.SKIPPED)


class Recording(OfAgreedWork):
    """The record of a drilling, and what it took out of the shed."""

    name = "a record with its lots"
    FIRST = Decimal(1_000_000)

    def settle(self) -> None:
        super().settle()
        make(
            StockLot,
            {"name": "big bluestem", "lot": "A", "kind": "seed", "unit": "lb", "on_hand": self.FIRST},
            practice=self.practice,
            tested_on=date(2027, 9, 1),
            purity_pct=80.0,
            germination_pct=75.0,
        )

    def prepare(self) -> tuple[Visit, dict[str, str]]:
        visit = self.visit("drill")
        page = self.page(f"work/{visit.pk}/")
        return visit, form_of(page, f"/{self.practice.slug}/work/{visit.pk}/do/")

    def ask(self, subject: tuple[Visit, dict[str, str]]) -> Ask:
        visit, data = subject
        return self.form(f"work/{visit.pk}/do/", **data)

    def look(self, subject: tuple[Visit, dict[str, str]]) -> Found:
        visit, data = subject
        lines = sum(name.endswith("_amount") and float(value or 0) > 0 for name, value in data.items())
        made = WorkRecord.objects.filter(visit=visit)
        logged = Plan.objects.get(pk=visit.plan_id).conversions.get().log
        return counted(
            {
                "records": (made.count(), 1),
                "lines": (RecordLine.objects.filter(record__in=made).count(), lines),
                "lots used": (LotUse.objects.filter(line__record__in=made).count(), 1),
                "moves in the shed": (StockMove.objects.filter(visit=visit).count(), 1),
                "visits done": (Visit.objects.filter(pk=visit.pk, state=VisitState.DONE).count(), 1),
                "notes": (VisitChange.objects.filter(visit=visit, what=What.DONE).count(), 1),
                "entries of the plan’s log": (len(logged), 1),
            }
        )

    def wrong(self) -> Iterator[str]:
        found = records.chain()
        if found.broken_at is not None or found.length != WorkRecord.objects.count():
            yield f"the chain of records is broken at {found.broken_at}: {found.why}"
        lot = StockLot.objects.get()
        moved = sum(StockMove.objects.filter(lot=lot).values_list("amount", flat=True))
        if lot.on_hand != self.FIRST + moved:
            yield f"the shed has {lot.on_hand}, but {moved} of {self.FIRST} was moved"


WEB_ACTS = (Offering, SendingOff, Agreeing, Importing, Booking, BookingASeason, Recording)


def proposals_wrong() -> Iterator[str]:
    """Proposals of the practice in scope that `prove_proposal` would not prove unchanged."""
    for made in Proposal.objects.exclude(pdf=UNPRINTED):
        yield from (f"{made}: {check.said}" for check in proof(made) if check.holds is False)
