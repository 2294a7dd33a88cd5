"""What to buy over all agreed plans: what their open visits need by a day, less the shed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.db.models import DateField, Min, QuerySet, Sum
from django.db.models.functions import Coalesce
from django.utils.translation import gettext

from consulting.models import Practice
from plans.added import inputs_of, with_added
from plans.documents.words import listed
from plans.models import Conversion, Plan, Proposal, State, StockLot, StockMove, Visit, VisitState
from plans.planning.buying import buy_list
from plans.planning.needs import (
    Kind,
    Need,
    Offer,
    PackOffer,
    SeedOffer,
    SeedStock,
    Stock,
    needs_of,
    offers_of,
)
from plans.planning.orders import BuyList
from plans.selectors import frozen_outcome, prices_for, proposals_in_force
from plans.shed import counted_in_needs, stock_of
from plans.trips import less, signed_names, task_of

AGREED = (State.AGREED, State.UNDER_WAY, State.IN_UPKEEP)
MOST_PLANS = 80
MOST_LOTS = 400
MOST_OFFERS = 6
"""Of one thing: the cheapest ones. More hardly lower the price, and cost the solver much."""
MOST_NAMED = 12


@dataclass(frozen=True, slots=True)
class ToBuy:
    bought: BuyList
    notes: tuple[str, ...]
    """What the list leaves out, and why; each a sentence."""


def usual_day(today: date) -> date:
    """The end of next month."""
    second = (today.replace(day=1) + timedelta(days=62)).replace(day=1)
    return second - timedelta(days=1)


def to_buy(practice: Practice, by: date, today: date) -> ToBuy:
    """The list in a fixed number of queries, however many plans and lots there are."""
    plans, beyond = _plans(by)
    needs, unread = _needs(plans, by, today)
    lots = list(StockLot.objects.filter(on_hand__gt=0).order_by("pk")[: MOST_LOTS + 1])
    stock = [stock_of(lot, lot.on_hand) for lot in lots[:MOST_LOTS]]
    offers, dearer = _cheapest(offers_of(prices_for(practice)), {need.key[:2] for need in needs})
    bought, refused = _bought(needs, stock, offers, by)
    notes = []
    if unread:
        titles = [plan.title for plan in unread]
        more = len(titles) - MOST_NAMED
        named = listed(
            [*titles[:MOST_NAMED], *([gettext("{count} more").format(count=more)] if more > 0 else [])]
        )
        said = gettext(
            "The proposals of these plans were made by an earlier version and cannot be read, so nothing "
            "they need is in the list: {plans}."
        )
        notes.append(said.format(plans=named))
    if beyond:
        said = gettext(
            "Only the {most} plans whose work begins soonest are in the list; {beyond} are left out. "
            "Choose an earlier day."
        )
        notes.append(said.format(most=MOST_PLANS, beyond=beyond))
    if len(lots) > MOST_LOTS:
        said = gettext("Only the first {most} lots of the shed are set against what is needed.")
        notes.append(said.format(most=MOST_LOTS))
    if dearer:
        said = gettext("Of each thing the {most} cheapest offers are compared; {dearer} dearer ones are not.")
        notes.append(said.format(most=MOST_OFFERS, dearer=dearer))
    return ToBuy(bought, (*notes, *refused))


def _due(by: date) -> QuerySet[Any]:
    """Open visits that are booked by the day or, on no day yet, could be done by it."""
    due = Coalesce("booked_on", "window_opens", output_field=DateField())
    return Visit.objects.filter(state=VisitState.OPEN).annotate(due=due).filter(due__lte=by)


def _plans(by: date) -> tuple[list[Plan], int]:
    """Agreed plans with open work that begins by the day, soonest first, and how many more there are."""
    open_ones = _due(by).filter(plan__state__in=AGREED)
    soonest = open_ones.order_by().values_list("plan").annotate(first=Min("due"))
    found = list(soonest.order_by("first", "plan"))
    kept = [plan for plan, _ in found[:MOST_PLANS]]
    plans = Plan.objects.in_bulk(kept)
    return [plans[pk] for pk in kept], max(0, len(found) - MOST_PLANS)


def _needs(plans: Sequence[Plan], by: date, today: date) -> tuple[list[Need], list[Plan]]:
    """What the open visits of these plans still need, and the plans that cannot be read any more."""
    visits: dict[int, list[Any]] = defaultdict(list)
    for visit in _due(by).filter(plan__in=plans).select_related("field"):
        visits[visit.plan_id].append(visit)
    conversions: dict[int, list[Conversion]] = defaultdict(list)
    for one in Conversion.objects.filter(plan__in=plans).select_related("field").order_by("pk"):
        conversions[one.plan_id].append(one)
    proposals = _latest(plans)
    taken = _taken(plans)
    inputs = inputs_of((visit for own in visits.values() for visit in own), list(proposals.values()))
    needs: list[Need] = []
    unread = []
    for plan in plans:
        proposal = proposals.get(plan.pk)
        outcome = frozen_outcome(proposal) if proposal else None
        if outcome is None:
            unread.append(plan)
            continue
        names = signed_names(outcome, conversions[plan.pk])
        outcome = with_added(outcome, visits[plan.pk], inputs.get(plan.pk), names)
        of_task = {
            task.key: (task, visit) for visit in visits[plan.pk] if (task := task_of(visit, outcome, names))
        }
        ahead = replace(outcome, tasks=tuple(task for task, _ in of_task.values()))
        for need in needs_of(ahead, str(plan.pk), plan.title):
            _, visit = of_task[need.task]
            share = visit.acres_left / visit.acres if visit.acres else 1.0
            left = less(need, share, taken.get((visit.pk, *need.key[:2]), 0.0))
            if left is not None:
                needs.append(replace(left, needed_on=max(visit.due, today)))
    return needs, unread


def _latest(plans: Sequence[Plan]) -> dict[int, Proposal]:
    """What stands of each plan, in two queries; the long texts of what it replaced are not read."""
    rows = proposals_in_force(plans).annotate(of=Coalesce("plan__changes", "plan"))
    newest = {of: pk for pk, of in rows.values_list("pk", "of")}
    found = Proposal.objects.defer("inputs", "pdf", "before").in_bulk(newest.values())
    return {of: found[pk] for of, pk in newest.items()}


def _taken(plans: Sequence[Plan]) -> dict[tuple[int, str, str], float]:
    """What went out of the shed for a visit, by kind and name, in the unit of its need."""
    moved: Iterable[Any] = (
        StockMove.objects.filter(visit__plan__in=plans)
        .order_by()
        .values_list(
            "visit", "lot__kind", "lot__name", "lot__purity_pct", "lot__germination_pct", "lot__dormant_pct"
        )
        .annotate(Sum("amount"))
    )
    found: dict[tuple[int, str, str], float] = defaultdict(float)
    for visit, kind, name, purity, germination, dormant, amount in moved:
        lot = StockLot(kind=kind, purity_pct=purity, germination_pct=germination, dormant_pct=dormant)
        found[visit, kind, name] += counted_in_needs(lot, -Decimal(amount))
    return found


def _unit_price(offer: Offer) -> Fraction:
    if isinstance(offer, PackOffer):
        return Fraction(offer.price_usd) / Fraction(offer.size)
    price = Fraction(offer.price_usd_per_lb)
    return price if offer.basis == "PLS" else price / offer.test.pls_share


def _thing(one: Offer | Stock) -> tuple[Kind, str]:
    return ("seed", one.species) if isinstance(one, SeedOffer | SeedStock) else (one.kind, one.name)


def _cheapest(offers: Iterable[Offer], needed: set[tuple[Kind, str]]) -> tuple[list[Offer], int]:
    """The cheapest offers of each thing needed, and how many dearer ones there are."""
    by_thing: dict[tuple[Kind, str], list[Offer]] = defaultdict(list)
    for offer in offers:
        if _thing(offer) in needed:
            by_thing[_thing(offer)].append(offer)
    kept = {thing: sorted(some, key=_unit_price)[:MOST_OFFERS] for thing, some in by_thing.items()}
    return [offer for some in kept.values() for offer in some], sum(
        len(by_thing[thing]) - len(some) for thing, some in kept.items()
    )


def _bought(
    needs: Sequence[Need], stock: Sequence[Stock], offers: Sequence[Offer], by: date
) -> tuple[BuyList, list[str]]:
    """The list; a thing whose offers admit no cheapest split stands in it without an order."""
    try:
        return buy_list(needs, stock, offers, by), []
    except ValueError:
        refused: dict[tuple[Kind, str], str] = {}
    for thing in sorted({_thing(offer) for offer in offers}):
        own = [need for need in needs if need.key[:2] == thing]
        have = [one for one in stock if _thing(one) == thing]
        try:
            buy_list(own, have, [offer for offer in offers if _thing(offer) == thing], by)
        except ValueError as unsound:
            refused[thing] = f"{str(unsound)[:1].upper()}{str(unsound)[1:]}."
    sound = [offer for offer in offers if _thing(offer) not in refused]
    return buy_list(needs, stock, sound, by), list(refused.values())
