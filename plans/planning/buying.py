"""The buy list across jobs: what is needed by a day, less what is in the shed, in whole bags and containers.

What is in the shed goes to the earliest need first. The rest is bought at the least cost. Where every pound
comes from and goes to is kept both ways: each lot names its uses, each use its field.
Source: pure-live-seed arithmetic as in `seed.py`; a test counts for a year, as seed laws commonly have it
(9 to 18 months by state and kind, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from dataclasses import field as preset
from datetime import date
from decimal import Decimal
from fractions import Fraction

from plans.planning.figures import Figure, Term, plain
from plans.planning.money import to_cents, total
from plans.planning.needs import (
    KINDS,
    PLS_LB,
    Kind,
    Need,
    Offer,
    PackOffer,
    SeedOffer,
    SeedStock,
    SeedTest,
    ShelfStock,
    Stock,
    measured,
    needs_of,
    offers_of,
)
from plans.planning.orders import BuyLine, BuyList, Draw, Origin, Purchase, Use
from plans.planning.seed import PLS_SOURCE
from plans.planning.splitting import Pack, cheapest_split

__all__ = [
    "BuyLine",
    "BuyList",
    "Draw",
    "Kind",
    "Need",
    "Offer",
    "PackOffer",
    "Purchase",
    "SeedOffer",
    "SeedStock",
    "SeedTest",
    "ShelfStock",
    "Stock",
    "Use",
    "buy_list",
    "needs_of",
    "offers_of",
]

TEST_DAYS = 365
SPLIT_SOURCE = "cheapest whole packs: integer covering program"
NOTHING = Fraction(0)
LOOSE_LB = Fraction(1, 16)
"""Loose seed is bought by the ounce: common practice."""


@dataclass(slots=True)
class _Lot:
    """A lot while it is shared out; amounts in the need's unit."""

    holds: Fraction
    lot: str
    supplier: str
    test: SeedTest | None
    left: Fraction
    key: str = ""
    taken: list[tuple[Need, Fraction]] = preset(default_factory=list)


def _share_out(
    wanted: Sequence[tuple[Need, Fraction]],
    lots: Sequence[_Lot],
    order: Callable[[_Lot, Need], tuple[int, float, str]],
) -> list[tuple[Need, Fraction]]:
    """Gives the lots to the needs, the earliest need first; what remains wanted."""
    still = []
    for need, amount in wanted:
        for lot in sorted(lots, key=lambda lot: order(lot, need)):
            part = min(amount, lot.left)
            if part > 0:
                lot.left -= part
                lot.taken.append((need, part))
                amount -= part
        if amount > 0:
            still.append((need, amount))
    return still


def _age_days(test: SeedTest, on: date) -> int | None:
    return None if test.tested_on is None else (on - test.tested_on).days


def _note(lot: _Lot, on: date, origin: Origin) -> str:
    if lot.test is None:
        return ""
    age = _age_days(lot.test, on)
    named = f"lot {lot.lot}" if lot.lot else "this lot"
    way_out = (
        "have it tested before it is sown" if origin == "shed" else "ask for a newer test or another lot"
    )
    if age is None:
        return f"{named} has no test date: {way_out}"
    if age > TEST_DAYS:
        return f"{named} was tested {age} days before it is sown, over a year: {way_out}"
    return ""


def _shed_order(lot: _Lot, need: Need) -> tuple[int, float, str]:
    """Sound lots first and of those the oldest, then lots without a test date, then lots past their test."""
    if lot.test is None:
        return 0, 0.0, lot.lot
    age = _age_days(lot.test, need.needed_on)
    if age is None:
        return 1, 0.0, lot.lot
    return (2, age, lot.lot) if age > TEST_DAYS else (0, -age, lot.lot)


def _figure(
    value: Fraction, unit: str, formula: str, terms: Sequence[Term], source: str = "arithmetic"
) -> Figure:
    return Figure(float(value), unit, formula, tuple(terms), source)


def _bulk(amount: Fraction, test: SeedTest | None) -> Figure | None:
    if test is None:
        return None
    return _figure(
        amount / test.pls_share,
        "lb",
        "pure live seed / (purity × (germination + dormant))",
        (Term("pure live seed", float(amount), "lb"), *test.pls.inputs),
        PLS_SOURCE,
    )


def _uses(lot: _Lot, kind: Kind, origin: Origin) -> tuple[Use, ...]:
    return tuple(
        Use(
            origin=origin,
            kind=kind,
            name=need.name,
            supplier=lot.supplier,
            lot=lot.lot,
            stock_key=lot.key,
            plan_id=need.plan_id,
            plan_title=need.plan_title,
            field=need.field,
            task=need.task,
            needed_on=need.needed_on,
            amount=_figure(
                amount,
                need.amount.unit,
                "what the field needs, as far as the lot goes",
                (
                    Term(f"needed on {need.field}", need.amount.value, need.amount.unit),
                    Term("in the lot", float(lot.holds), need.amount.unit),
                ),
            ),
            bulk_lb=_bulk(amount, lot.test),
            note=_note(lot, need.needed_on, origin),
        )
        for need, amount in lot.taken
    )


def _used(lot: _Lot, unit: str) -> Figure:
    used = sum((amount for _, amount in lot.taken), NOTHING)
    terms = [Term(need.field, float(amount), unit) for need, amount in lot.taken]
    return _figure(used, unit, "sum over the fields", terms)


def _left(lot: _Lot, unit: str, whole: str) -> Figure:
    terms = (Term(whole, float(lot.holds), unit), Term("used", float(lot.holds - lot.left), unit))
    return _figure(lot.left, unit, f"{whole} - used", terms)


def _lot_in_shed(stock: Stock) -> _Lot:
    if isinstance(stock, ShelfStock):
        amount, test = measured(stock.amount), None
    else:
        amount, test = measured(stock.bulk_lb) * stock.test.pls_share, stock.test
    if amount < 0:
        raise ValueError(f"stock of {_key(stock)[1]}: {float(amount):g} is under 0")
    return _Lot(amount, stock.lot, "", test, amount, stock.key)


def _lot_ordered(offer: Offer, holds: Fraction) -> _Lot:
    if isinstance(offer, SeedOffer):
        return _Lot(holds, offer.lot, offer.supplier, offer.test, holds)
    return _Lot(holds, "", offer.supplier, None, holds)


def _draw(stock: Stock, lot: _Lot, kind: Kind, name: str, unit: str) -> Draw:
    if isinstance(stock, SeedStock):
        terms = (Term("bulk on hand", stock.bulk_lb, "lb"), *stock.test.pls.inputs)
        formula = "bulk on hand × purity × (germination + dormant)"
        on_hand = _figure(lot.holds, unit, formula, terms, PLS_SOURCE)
    else:
        on_hand = _figure(lot.holds, unit, "as counted in the shed", ())
    return Draw(
        kind=kind,
        name=name,
        lot=lot.lot,
        on_hand=on_hand,
        used=_used(lot, unit),
        left=_left(lot, unit, "on hand"),
        left_bulk_lb=_bulk(lot.left, lot.test),
        uses=_uses(lot, kind, "shed"),
    )


def _bag(offer: SeedOffer) -> Fraction:
    """A bag, or an ounce of what is sold loose, in lb of the offer's bag_basis."""
    return LOOSE_LB if offer.bag_lb is None else measured(offer.bag_lb)


def _pack(offer: Offer) -> Pack:
    """What one bag or container holds and costs. A PLS price is put on PLS pounds and is never divided."""
    if isinstance(offer, PackOffer):
        return Pack(
            measured(offer.size), Fraction(offer.price_usd), offer.minimum_packs, offer.available_packs
        )
    bag, share = _bag(offer), offer.test.pls_share
    if bag <= 0:
        raise ValueError(f"bag_lb: {offer.bag_lb:g} is not over 0; leave it out for seed sold loose")
    holds = bag if offer.bag_basis == "PLS" else bag * share
    priced_lb = holds if offer.basis == "PLS" else holds / share
    most = None if offer.available_lb is None else math.floor(measured(offer.available_lb) / bag)
    least = math.ceil(measured(offer.minimum_lb) / bag)
    return Pack(holds, priced_lb * Fraction(offer.price_usd_per_lb), least, most)


def _order(offer: Offer, count: int) -> str:
    if isinstance(offer, PackOffer):
        return f"{count:,} × {plain(offer.size, offer.unit)}" if offer.size != 1 else plain(count, offer.unit)
    weighed = PLS_LB if offer.bag_basis == "PLS" else "lb bulk"
    if offer.bag_lb is None:
        return f"{float(count * LOOSE_LB):,.10g} {weighed}, loose"
    return f"{count:,} {'bag' if count == 1 else 'bags'} of {plain(offer.bag_lb, weighed)}"


def _money(usd: Fraction) -> Decimal:
    return to_cents(Decimal(usd.numerator) / Decimal(usd.denominator))


def _dollars(value: Decimal, formula: str, terms: Sequence[Term], source: str = "arithmetic") -> Figure:
    return Figure(value, "$", formula, tuple(terms), source)


def _cost(offer: Offer, count: int, pack: Pack) -> Figure:
    cost = _money(count * pack.usd)
    if isinstance(offer, PackOffer):
        terms = (Term("containers", count), Term("price", offer.price_usd, "$"))
        return _dollars(cost, "containers × price of one", terms, SPLIT_SOURCE)
    basis = "lb PLS" if offer.basis == "PLS" else "bulk lb"
    pounds = count * pack.holds / (1 if offer.basis == "PLS" else offer.test.pls_share)
    terms = (Term(basis, float(pounds)), Term("price", offer.price_usd_per_lb, "$/lb"))
    return _dollars(cost, f"{basis} bought × price per {basis}", terms, SPLIT_SOURCE)


def _bought(offer: Offer, count: int, pack: Pack, unit: str) -> Figure:
    if isinstance(offer, PackOffer):
        terms = (Term("containers", count), Term("size", offer.size, unit))
        return _figure(count * pack.holds, unit, "containers × size", terms, SPLIT_SOURCE)
    terms = (Term("bags", count), Term("bag", float(_bag(offer)), "lb"))
    if offer.bag_lb is None:
        terms = (Term("ounces", count), Term("ounce", float(LOOSE_LB), "lb"))
    formula = " × ".join(term.name for term in terms)
    if offer.bag_basis == "PLS":
        return _figure(count * pack.holds, unit, f"{formula}, in PLS", terms, PLS_SOURCE)
    formula += " × purity × (germination + dormant)"
    return _figure(count * pack.holds, unit, formula, (*terms, *offer.test.pls.inputs), PLS_SOURCE)


def _purchase(offer: Offer, count: int, pack: Pack, lot: _Lot, first: Need) -> Purchase:
    kind, name, unit = first.key
    cost = _cost(offer, count, pack)
    left = _left(lot, unit, "bought")
    value = _money(Fraction(cost.dollars) * lot.left / lot.holds)
    terms = (Term("cost", cost.dollars, "$"), Term("left", left.value, unit))
    return Purchase(
        kind=kind,
        name=name,
        supplier=lot.supplier,
        lot=lot.lot,
        packs=count,
        order=_order(offer, count),
        bought=_bought(offer, count, pack, unit),
        bulk_lb=_bulk(lot.holds, lot.test),
        cost=cost,
        used=_used(lot, unit),
        left=left,
        left_bulk_lb=_bulk(lot.left, lot.test),
        left_value=_dollars(value, "cost × left / bought", (*terms, Term("bought", float(lot.holds), unit))),
        needed_on=min((need.needed_on for need, _ in lot.taken), default=first.needed_on),
        uses=_uses(lot, kind, "purchase"),
    )


def _key(thing: Stock | Offer) -> tuple[Kind, str, str]:
    if isinstance(thing, SeedStock | SeedOffer):
        return "seed", thing.species, PLS_LB
    return thing.kind, thing.name, thing.unit


def _offer_order(offer: Offer) -> tuple[str, str, float, str]:
    """So that the order of typing never changes an answer."""
    if isinstance(offer, SeedOffer):
        return offer.supplier, offer.lot, offer.bag_lb or 0.0, repr(offer)
    return offer.supplier, "", offer.size, repr(offer)


def _line(
    key: tuple[Kind, str, str], needs: Sequence[Need], stock: Sequence[Stock], offers: Sequence[Offer]
) -> BuyLine:
    kind, name, unit = key
    wanted = [(need, measured(float(need.amount.value))) for need in needs]
    shed = [_lot_in_shed(one) for one in stock]
    still = _share_out(wanted, shed, _shed_order)
    needed = sum((amount for _, amount in wanted), NOTHING)
    to_buy = sum((amount for _, amount in still), NOTHING)
    try:
        packs = [_pack(offer) for offer in offers]
        counts = cheapest_split(to_buy, packs)
    except ValueError as refused:
        raise ValueError(f"offers of {name}: {refused}") from None
    ordered = [
        (offer, count, pack, _lot_ordered(offer, count * pack.holds))
        for offer, pack, count in zip(offers, packs, counts, strict=True)
        if count
    ]
    rank = {id(lot): float(place) for place, (*_, lot) in enumerate(ordered)}
    missing = _share_out(still, [lot for *_, lot in ordered], lambda lot, _: (0, rank[id(lot)], ""))
    draws = tuple(_draw(one, lot, kind, name, unit) for one, lot in zip(stock, shed, strict=True))
    purchases = tuple(_purchase(*made, needs[0]) for made in ordered)
    short = sum((amount for _, amount in missing), NOTHING)
    bought = sum((lot.holds for *_, lot in ordered), NOTHING)
    uses = [use for draw in draws for use in draw.uses] + [use for one in purchases for use in one.uses]
    notes = [use.note for use in uses if use.note]
    if short:
        notes.append(f"no offer for {plain(float(short), unit)} of {name}: ask for a price")
    return BuyLine(
        kind=kind,
        name=name,
        needed=_figure(
            needed, unit, "sum over the fields", [Term(need.field, need.amount.value, unit) for need in needs]
        ),
        from_shed=_figure(
            needed - to_buy,
            unit,
            "what the shed's lots give, earliest need first",
            [Term(draw.lot or "in the shed", draw.used.value, unit) for draw in draws],
        ),
        to_buy=_figure(
            to_buy,
            unit,
            "needed - from the shed",
            (Term("needed", float(needed), unit), Term("from the shed", float(needed - to_buy), unit)),
        ),
        bought=_figure(
            bought,
            unit,
            "sum of the orders",
            [Term(one.supplier or "supplier", one.bought.value, unit) for one in purchases],
        ),
        left_over=_figure(
            bought - to_buy + short,
            unit,
            "bought - what the fields take of it",
            (Term("bought", float(bought), unit), Term("taken", float(to_buy - short), unit)),
        ),
        cost=_sum("cost", [purchase.cost for purchase in purchases]),
        short=_figure(
            short,
            unit,
            "to buy - bought",
            (Term("to buy", float(to_buy), unit), Term("bought", float(bought), unit)),
        )
        if short
        else None,
        needed_on=needs[0].needed_on,
        needs=tuple(needs),
        draws=draws,
        purchases=purchases,
        notes=tuple(dict.fromkeys(notes)),
    )


def _sum(name: str, figures: Sequence[Figure]) -> Figure:
    terms = [Term(f"{name} {place}", figure.dollars, "$") for place, figure in enumerate(figures, start=1)]
    return _dollars(total(figure.dollars for figure in figures), "sum of the printed amounts", terms)


def _grouped(needs: Sequence[Need], by: date) -> Iterator[tuple[tuple[Kind, str, str], list[Need]]]:
    due: dict[tuple[Kind, str, str], list[Need]] = {}
    for need in needs:
        if need.needed_on <= by and measured(float(need.amount.value)) > 0:
            due.setdefault(need.key, []).append(need)
    for key in sorted(due, key=lambda key: (KINDS.index(key[0]), key[1].casefold(), key)):
        yield key, sorted(due[key], key=lambda need: (need.needed_on, need.plan_id, need.field, need.task))


def buy_list(needs: Sequence[Need], stock: Sequence[Stock], offers: Sequence[Offer], by: date) -> BuyList:
    """What to order so that every need up to and including the day `by` is met, and where all of it goes.

    Needs in lb PLS (seed), gal or lb (products), or pieces; seed on hand and bags in bulk lb by each lot's
    own test. Amounts count to a millionth. Deterministic, whatever the order of the arguments. Costs [$] are
    rounded once a line. Raises ValueError naming the thing for stock under 0, a bag or container that holds
    nothing, or offers too alike for a cheapest split.
    """
    shed = sorted(stock, key=lambda one: (one.lot, repr(one)))
    sold = sorted(offers, key=_offer_order)
    lines = tuple(
        _line(key, due, [one for one in shed if _key(one) == key], [one for one in sold if _key(one) == key])
        for key, due in _grouped(needs, by)
    )
    return BuyList(
        by=by,
        lines=lines,
        cost=_sum("line", [line.cost for line in lines]),
        left_value=_sum("left", [one.left_value for line in lines for one in line.purchases]),
    )
