"""Plain make_* functions for the work: mixes, plans, prices, an offered proposal. Values invented."""

from __future__ import annotations

from datetime import date, time
from decimal import Decimal
from typing import Any
from unittest.mock import patch

from django_scopes import scope

from consulting.models import Practice, User
from plans import services
from plans.client_links import link_make
from plans.models import ClientLink, Conversion, Mix, MixLine, OwnSpecies, Plan, Proposal
from plans.planning.beside import NOTHING
from plans.selectors import plans_whole, prices_for, reckon
from plans.visits import plan_agree
from sites.models import Farm, Field
from tests.factories import (
    make,
    make_adjuvant,
    make_client,
    make_farm,
    make_field,
    make_product,
    make_seed_price,
    make_work_rate,
)

TODAY = date(2026, 11, 25)
SPECIES = {"big bluestem": 30.0, "indiangrass": 30.0, "black-eyed Susan": 40.0}
UNPRINTED = b"%PDF-1.7 in the place of a print that nobody looks at"
WORK = ("rotary_mowing", "boom_spraying", "no_till_drilling", "spot_spraying", "stand_count")


def make_prices(practice: Practice) -> None:
    """All that a conversion of sod by `SPECIES` asks for, confirmed and tested of late."""
    for species in SPECIES:
        make_seed_price(practice, species=species, tested_on=date(2026, 9, 1), lot=f"INV-{species[:3]}")
    make_product(practice)
    make_adjuvant(practice)
    for operation in WORK:
        make_work_rate(practice, operation=operation)
    services.hauling_save(practice=practice, usd_per_mile=Decimal("3.00"))


def make_own_species(practice: Practice, **values: Any) -> OwnSpecies:
    """A grass that the table lacks."""
    made = {
        "common_name": "plains lovegrass",
        "scientific_name": "Eragrostis intermedia",
        "group": "grass",
        "family": "Poaceae",
        "season": "warm",
        "native_range": "southern plains",
        "seeds_per_lb": 1_000_000,
        "seeds_per_lb_low": 900_000,
        "seeds_per_lb_high": 1_200_000,
        "box": "small",
        "full_stand_lb_pls_per_acre_low": 1,
        "full_stand_lb_pls_per_acre_high": 2,
        "height_in": 36,
        "gives": "nesting cover in dry ground",
        "source": "invented for this test",
    }
    return make(OwnSpecies, made | values, practice=practice)


def make_mix(
    practice: Practice, name: str = "Meadow mix", species: dict[str, float] | None = None, **values: Any
) -> Mix:
    mix = make(Mix, values, practice=practice, name=name, basis="share of seed", seeds_per_sqft=40.0)
    for order, (plant, amount) in enumerate((species or SPECIES).items()):
        make(MixLine, {}, practice=practice, mix=mix, species=plant, amount=amount, order=order)
    return mix


def make_plan(farm: Farm, title: str = "A field to cover", **values: Any) -> Plan:
    with scope(practice=farm.practice):
        plan = services.plan_create(practice=farm.practice, farm=farm, title=title, today=TODAY)
        for name, value in values.items():
            setattr(plan, name, value)
        plan.save()
    return plan


def make_conversion(plan: Plan, field: Field, mix: Mix, **values: Any) -> Conversion:
    return make(
        Conversion,
        values,
        practice=plan.practice,
        plan=plan,
        field=field,
        mix=mix,
        kill_program="sod_fall_spring",
        seeding="drill",
        purpose="nesting and brood cover",
        start_on=date(2027, 7, 1),
    )


def make_ready_plan(practice: Practice, **field_values: Any) -> Plan:
    """A draft with one field and everything priced."""
    make_prices(practice)
    farm = make_farm(make_client(practice))
    plan = make_plan(farm)
    make_conversion(plan, make_field(farm, **field_values), make_mix(practice))
    return plan


def accept_all(plan: Plan, user: User, reason: str = "Looked at on the walk.") -> None:
    """Accept every caution that the plan has now. Inside the practice's scope."""
    whole = plans_whole().get(pk=plan.pk)
    outcome = reckon(whole, prices_for(plan.practice), TODAY).outcome
    assert outcome is not None
    cautions = [finding for finding in outcome.findings if finding.severity == "caution"]
    services.cautions_accept(plan=plan, findings=cautions, reason=reason, user=user)


def make_offered(plan: Plan, user: User) -> Proposal:
    with scope(practice=plan.practice):
        accept_all(plan, user)
        return services.plan_offer(plan=plan, user=user, today=TODAY)


def make_agreed(plan: Plan, user: User) -> Plan:
    """The plan offered, agreed, and its visits made. Its proposal is not printed, which takes long."""
    unprinted = patch("plans.services.proposal_pdf", return_value=UNPRINTED)
    with unprinted, patch("plans.services.beside_of", return_value=NOTHING):
        make_offered(plan, user)
    with scope(practice=plan.practice):
        plan_agree(plan=Plan.objects.get(pk=plan.pk), user=user, today=TODAY)
        return Plan.objects.get(pk=plan.pk)


def make_shown(plan: Plan, user: User) -> tuple[ClientLink, str]:
    """The plan offered, with a link to its client's page and the link's key. Its proposal is not printed."""
    with patch("plans.services.proposal_pdf", return_value=UNPRINTED):
        make_offered(plan, user)
    with scope(practice=plan.practice):
        shown = Plan.objects.get(pk=plan.pk)
        return link_make(plan=shown, user=user, expires_on=date(2029, 12, 31), today=date(2026, 11, 25))


SPRAYED: dict[str, Any] = {
    "start_time": time(7, 40),
    "end_time": time(9, 10),
    "applicator": "Ada Applicator",
    "certificate": "INV-1234",
    "place": "Invented County",
    "site": "Cool-season sod",
    "target": "tall fescue",
    "customer_name": "Lena Landowner",
    "customer_address": "1 Invented Road",
    "wind_mph": 6.0,
    "wind_from": "SW",
    "temp_f": 64.0,
    "humidity_pct": 55.0,
    "sky": "clear",
}


def line(order: int = 0, **values: Any) -> dict[str, Any]:
    """A product as the record's service takes it."""
    return {
        "order": order,
        "what": "product",
        "name": "glyphosate, 3 lb/gal",
        "ingredient": "glyphosate",
        "registration_number": "INV-0-1",
        "restricted_use": False,
        "lot": "",
        "amount": 7.5,
        "unit": "gal",
        "planned_amount": 7.5,
        "reason": "",
    } | values


def price(text: str) -> Decimal:
    """`$1,234.50` as a number."""
    return Decimal(text.replace("$", "").replace(",", "").replace("−", "-"))


def make_agreed_plans(practice: Practice, user: User, count: int) -> list[Plan]:
    """As many agreed plans, each on a farm of its own, of one mix and one list of prices."""
    make_prices(practice)
    mix = make_mix(practice)
    plans = []
    for _ in range(count):
        farm = make_farm(make_client(practice))
        plan = make_plan(farm)
        make_conversion(plan, make_field(farm), mix)
        plans.append(make_agreed(plan, user))
    return plans
