"""The invented practice of the demo: people, clients, farms, fields, mixes and plans in several states."""

from __future__ import annotations

import json
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from allauth.account.models import EmailAddress
from django.db import transaction
from django_scopes import scope

from consulting.acting import acting
from consulting.models import (
    AdjuvantPrice,
    Machine,
    Membership,
    PlantPrice,
    Practice,
    Product,
    SeedPrice,
    SupplyPrice,
    User,
    WorkRate,
)
from consulting.services import client_create, machine_save, practice_found, save
from plans import services, shed
from plans.agreements import agree_on_paper
from plans.client_links import USUAL_DAYS, link_make
from plans.demo import past
from plans.facts import job_of
from plans.models import Conversion, Mix, Plan, Proposal, State, StockLot, Visit
from plans.planning.job import MixLine
from plans.planning.planner import plan_job
from plans.planning.wire import read_job_file
from plans.records import standing
from plans.reports import report_send, words_keep
from plans.rigs import usual_machines
from plans.selectors import plans_whole, prices_for
from plans.visits import visit_book
from sites.away import exclusion_create
from sites.climate import stations
from sites.ground.mending import mend
from sites.models import Farm, Field, Landmark
from sites.services import farm_create, field_create, outline_keep
from sites.walks import walk_write

SCENARIO = Path(__file__).parent / "scenario.json"
EXAMPLE = Path(__file__).parent.parent / "examples" / "job.json"
ACCEPTED_BECAUSE = "Talked through with the landowner on the walk; the dates and the strip are agreed."


def _price_list(practice: Practice, still_unchecked: list[str]) -> None:
    """The example job's prices, and of the starter list only a few rows nobody has looked at yet."""
    SeedPrice.objects.exclude(species__in=still_unchecked).delete()
    prices = read_job_file(EXAMPLE.read_bytes()).prices
    for model, rows in (
        (SeedPrice, prices.seed),
        (PlantPrice, prices.plants),
        (SupplyPrice, prices.supplies),
        (Product, prices.products),
        (AdjuvantPrice, prices.adjuvants),
        (WorkRate, prices.work),
    ):
        if model is not SeedPrice:
            model.objects.all().delete()
        for row in rows:
            values = {name: getattr(row, name) for name in row.__slots__}
            save(model(practice=practice), **values, source="invented for the demo")


def _ground(practice: Practice, clients: list[dict[str, Any]], user: User, today: date) -> None:
    for client_values in clients:
        farms = client_values.pop("farms")
        client = client_create(practice=practice, **client_values)
        for farm_values in farms:
            fields, landmarks = farm_values.pop("fields"), farm_values.pop("landmarks", ())
            farm = farm_create(client=client, station=stations()[farm_values.pop("station")], **farm_values)
            for landmark in landmarks:
                shape = {name: landmark.pop(name) for name in ("type", "coordinates")}
                save(Landmark(practice=practice, farm=farm), shape=shape, **landmark)
            for field_values in fields:
                _field(farm, field_values, user, today)


def _field(farm: Farm, values: dict[str, Any], user: User, today: date) -> None:
    ring, keeps_off = values.pop("outline", None), values.pop("keeps_off", ())
    walk = values.pop("walk", None)
    field = field_create(farm=farm, **values)
    if ring:
        outline, _ = mend([[[(west, north) for west, north in ring]]])
        walked_on = today - timedelta(days=30)
        field = outline_keep(field=field, outline=outline, source="Invented for the demo", on=walked_on)
    for kept in keeps_off:
        landmark = Landmark.objects.get(farm=farm, name=kept.pop("name"))
        exclusion_create(field=field, landmark=landmark, drawn=None, **kept)
    if walk:
        day = today - timedelta(days=walk.pop("days_ago"))
        walk_write(field=field, user=user, uid=None, on=day, **walk)


def _mixes(practice: Practice, mixes: list[dict[str, Any]]) -> None:
    for values in mixes:
        lines = [MixLine(species=name, amount=float(amount)) for name, amount in values.pop("lines").items()]
        services.mix_save(mix=Mix(practice=practice, **values), lines=lines)


def _machines(practice: Practice, machines: list[dict[str, Any]]) -> None:
    for values in machines:
        rent = {
            name: Decimal(values.pop(name)) for name in ("rent_usd_per_day", "delivery_usd") if name in values
        }
        machine_save(machine=Machine(practice=practice, **values, **rent))


def _shed(practice: Practice, lots: list[dict[str, Any]], user: User, today: date) -> None:
    """Some lots, and a little of the first on its way to the next sowing."""
    made = []
    for values in lots:
        amount, ago = Decimal(values.pop("amount")), values.pop("tested_days_ago", None)
        tested = {"tested_on": today - timedelta(days=ago)} if ago else {}
        lot = StockLot(practice=practice, **values, **tested)
        made.append(shed.lot_add(lot=lot, amount=amount, user=user, on=today))
    sowing = next(iter(shed.visits_for(made[0].kind, today)), None)
    if sowing is not None:
        lot = made[0]
        shed.stock_out(
            lot=lot, version=lot.version, user=user, amount=Decimal("6.25"), visit=sowing, on=today
        )


def _past(practice: Practice, values: dict[str, Any], user: User, today: date) -> None:
    """An older plan, agreed and done so far."""
    agreed_on = past.agreed_on(today)
    choices = [choice | {"start_on": agreed_on.isoformat()} for choice in values["plan"].pop("conversions")]
    plan = _plan(practice, values["plan"] | {"conversions": choices}, user, agreed_on)
    past.work_done(practice, plan, values, user, today)
    past.payments_marked(plan, values, user, today)
    past.season_seen(plan, values, user, today)
    years = [record.on.year for record in standing().filter(visit__plan=plan)]
    if years:
        words_keep(plan=plan, year=max(years), words=values["words"])
        report_send(plan=plan, year=max(years), user=user, today=today)


def _plan(practice: Practice, values: dict[str, Any], user: User, today: date) -> Plan:
    states, conversions = values.pop("becomes"), values.pop("conversions")
    shown = values.pop("shows", {})
    farm = Farm.objects.get(name=values.pop("farm"))
    plan = services.plan_create(practice=practice, farm=farm, title=values.pop("title"), today=today)
    if "cost_share_usd_per_acre" in values:
        values["cost_share_usd_per_acre"] = Decimal(values["cost_share_usd_per_acre"])
    for name, value in values.items():
        setattr(plan, name, value)
    services.plan_save(plan=plan)
    for choice in conversions:
        services.conversion_save(
            conversion=Conversion(
                practice=practice,
                plan=plan,
                field=Field.objects.get(farm=farm, name=choice.pop("field")),
                mix=Mix.objects.get(name=choice.pop("mix")) if "mix" in choice else None,
                start_on=date.fromisoformat(choice.pop("start_on")),
                **choice,
            )
        )
    services.options_choose(plan=plan, shown=shown)
    if not states:
        return plan
    outcome = plan_job(job_of(plans_whole().get(pk=plan.pk)), prices_for(practice), today)
    cautions = [finding for finding in outcome.findings if finding.severity == "caution"]
    services.cautions_accept(plan=plan, findings=cautions, reason=ACCEPTED_BECAUSE, user=user)
    services.plan_offer(plan=plan, user=user, today=today)
    for state in states[1:]:
        current = Plan.objects.get(pk=plan.pk)
        if state == State.AGREED:
            name = current.farm.client.name
            agree_on_paper(plan=current, user=user, name=name, signed_on=today, paper=None, today=today)
        else:
            services.plan_move(plan=current, state=State(state), today=today)
    return Plan.objects.get(pk=plan.pk)


def _book_next(plan: Plan, user: User, today: date) -> None:
    """The next visit of work under way stands on a day, with the crew."""
    visit = Visit.objects.filter(plan=plan, window_shuts__gte=today).order_by("window_opens", "pk").first()
    if visit is not None:
        crew = Membership.objects.exclude(user=user).order_by("-pk")[:1]
        day = max(visit.window_opens, today + timedelta(days=1))
        machines = usual_machines(visit.operation, Machine.objects.all())
        asked: dict[str, Any] = {"people": crew, "machines": machines}
        visit_book(visit=visit, version=visit.version, user=user, on=day, **asked)


@transaction.atomic
def demo_found(*, password: str, today: date) -> Practice:
    """The whole scenario, or the practice as it is when it is there already."""
    scenario = json.loads(SCENARIO.read_text(encoding="utf-8"))
    details = scenario["practice"]
    found = Practice.objects.filter(slug=details["slug"]).first()
    if found:
        return found
    people: list[tuple[User, str]] = []
    for person in scenario["people"]:
        user = User.objects.create_user(person["email"], password, name=person["name"])
        EmailAddress.objects.create(user=user, email=user.email, verified=True, primary=True)
        people.append((user, person["role"]))
    owner = people[0][0]
    details["hauling_usd_per_mile"] = Decimal(details["hauling_usd_per_mile"])
    practice = practice_found(founder=owner, **details)
    with scope(practice=practice), acting(owner):
        for user, role in people[1:]:
            save(Membership(practice=practice, user=user), role=role)
        _price_list(practice, scenario["unchecked_starter_species"])
        _ground(practice, scenario["clients"], owner, today)
        _mixes(practice, scenario["mixes"])
        _machines(practice, scenario["machines"])
        for values in scenario["plans"]:
            plan = _plan(practice, values, owner, today)
            if plan.state == State.UNDER_WAY:
                _book_next(plan, owner, today)
        _past(practice, scenario["past"], owner, today)
        _shed(practice, scenario["shed"], owner, today)
    return practice


def offered_page(practice: Practice, today: date) -> str:
    """The key of a new link to the client's page of an offered plan; the demo's own keys are no secret."""
    with scope(practice=practice):
        plan = Plan.objects.filter(state=State.OFFERED).order_by("pk")[0]
        owner = plan.proposals.select_related("offered_by").latest("revision").offered_by
        _, key = link_make(plan=plan, user=owner, expires_on=today + timedelta(days=USUAL_DAYS), today=today)
    return key


def first_proposal(practice: Practice) -> Proposal:
    with scope(practice=practice):
        return Proposal.objects.order_by("number")[0]
