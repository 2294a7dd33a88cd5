"""On the road to the farm: what pulls, what is pulled, brakes, lamps, width. Local law goes before it all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from plans.planning.figures import Figure, Term, plain
from plans.planning.rig_facts import (
    Answer,
    Implement,
    Part,
    RigPoint,
    Road,
    Towed,
    TowVehicle,
    Tractor,
    no,
    unknown,
    yes,
)
from plans.planning.rig_tables import inches, limits, plugs, tow_couplers

RATING_SOURCE = "ratings on the plates, as entered; the least of them holds"
COUPLER_SOURCE = "SAE J684 and trailer practice [from memory], reference/tow_couplers.csv"
LAW = "state law differs"
CHAIN_SOURCE = f"49 CFR 393 [from memory]; {LAW}"
PLUG_SOURCE = "SAE J560, SAE J2863 and ISO 1724 [from memory], reference/plugs.csv"


@dataclass(frozen=True, slots=True)
class Weight:
    """A sum of weights [lb], and what is missing from it in words."""

    figure: Figure
    missing: str

    @property
    def lb(self) -> float:
        return float(self.figure.value)

    @property
    def shown(self) -> str:
        if not self.missing:
            return self.figure.shown
        return f"{self.figure.shown} or more (not known: {self.missing})" if self.lb else "an unknown weight"

    @property
    def stamp(self) -> str:
        """What a thing that is brought must be stamped for."""
        return "the gross weight" if self.missing else f"{self.figure.shown} or more"


def gross_lb(*parts: tuple[str, float | None]) -> Weight:
    """Named weights [lb] summed, as far as they are known; a sum with gaps is a least. Source: arithmetic."""
    terms = tuple(Term(name, value, "lb") for name, value in parts if value is not None)
    total = sum(float(term.value) for term in terms)
    missing = ", ".join(name for name, value in parts if value is None)
    return Weight(Figure(total, "lb", "sum of the weights", terms), missing)


def road_points(tractor: Tractor, implement: Implement, road: Road) -> Iterator[RigPoint]:
    """Every point of the way there: tow, brakes, lights, transport width."""
    on_implement = (("implement", implement.weight_lb), ("its load", implement.load_lb))
    if road.vehicle is None:
        if implement.attaches != "three-point":
            yield from _behind_tractor(tractor, implement, gross_lb(*on_implement))
        yield from _lamps(tractor.plug, implement, "tractor")
        yield _emblem(implement)
        yield _width((("tractor", tractor.width_in), ("implement", implement.width_in)))
        return
    if implement.attaches == "three-point" and not road.trailer:
        why = "An implement that hangs on three points has no wheels of its own for the truck to pull."
        yield no("tow", why, COUPLER_SOURCE, bring="trailer that carries the implement")
        return
    towed: Towed = road.trailer or implement
    parts: list[tuple[str, float | None]] = [*on_implement]
    widths = [("implement", implement.width_in)]
    if road.trailer:
        parts += [("trailer", road.trailer.weight_lb), ("other load", road.trailer.other_load_lb)]
        widths.append(("trailer", road.trailer.width_in))
    if road.with_tractor:
        parts.append(("tractor", tractor.weight_lb))
        widths.append(("tractor", tractor.width_in))
    weight = gross_lb(*parts)
    yield _coupled(road.vehicle, towed, weight)
    yield from _ratings(road.vehicle, towed, weight)
    yield _tongue(road.vehicle, towed, weight)
    yield _chains(towed, weight)
    if not road.trailer:
        yield _pace(implement)
        if implement.road_mph is None or implement.road_mph < limits()["emblem_mph"].value:
            yield _emblem(implement)
    yield from _brakes(road, road.vehicle, towed, weight)
    yield from _lamps(road.vehicle.plug, towed, "truck")
    yield _width(tuple(widths))


def _behind_tractor(tractor: Tractor, implement: Implement, weight: Weight) -> Iterator[RigPoint]:
    if implement.attaches == "drawbar":
        has, carries = implement.drawbar_load_lb, tractor.drawbar_load_lb
        why = f"The tongue weighs {_pounds(has)} on the drawbar, which may carry {_pounds(carries)}."
        source = "the machines' manuals, as entered"
        if has is None or carries is None:
            yield unknown("tow", why, "Weigh the tongue; read the drawbar's load in the manual.", source)
        else:
            yield _within("tow", has <= carries, why, source)
    row = limits()["unbraked_share"]
    source = f"{row.source}; {LAW}"
    if implement.brakes not in (None, "none"):
        why = f"The implement has {implement.brakes} brakes."
        look = "See that the tractor works them, and try them before the road."
        yield unknown("brakes", why, look, source)
        return
    why = (
        f"Towed {weight.shown} behind a tractor of {_pounds(tractor.weight_lb)}; without brakes "
        f"{row.value:g} % of the tractor's weight is the usual most"
    )
    if tractor.weight_lb is not None and weight.lb > row.value / 100 * tractor.weight_lb:
        verdict: Answer = "no" if implement.brakes == "none" else "unknown"
    else:
        verdict = "unknown" if weight.missing or tractor.weight_lb is None else "yes"
    if verdict == "yes":
        yield yes("brakes", f"{why}. {LAW.capitalize()}.", source, figure=weight.figure)
    elif verdict == "no":
        yield no("brakes", f"{why}. {LAW.capitalize()}.", source, figure=weight.figure)
    else:
        look = "Weigh tractor and implement as they go on the road, and see whether the implement has brakes."
        yield unknown("brakes", f"{why}.", look, source, figure=weight.figure)


def _pounds(value: float | None) -> str:
    return "an unknown weight" if value is None else plain(value, "lb")


def _within(
    part: Part, holds: bool, why: str, source: str, *, bring: str = "", figure: Figure | None = None
) -> RigPoint:
    return (yes if holds else no)(part, why, source, bring=bring, figure=figure)


def _coupled(vehicle: TowVehicle, towed: Towed, weight: Weight) -> RigPoint:
    mine, its = vehicle.coupler, towed.coupler
    if mine is None or its is None:
        return unknown(
            "tow",
            f"The truck has {_coupler(mine)}, the tongue asks for {_coupler(its)}.",
            "Read the size stamped on the ball and on the coupler, and their ratings.",
            COUPLER_SOURCE,
        )
    both = f"the truck has a {_coupler(mine)}, the tongue asks for a {_coupler(its)}"
    if mine == its:
        return yes("tow", f"They match: {both}.", COUPLER_SOURCE)
    return no(
        "tow",
        f"They do not match: {both}. A smaller ball lets the coupler jump off, a larger one does not enter.",
        COUPLER_SOURCE,
        bring=f"mount with a {_coupler(its)}, stamped for {weight.stamp}",
    )


def _coupler(key: str | None) -> str:
    return "something not known" if key is None else tow_couplers()[key].label


def _ratings(vehicle: TowVehicle, towed: Towed, weight: Weight) -> Iterator[RigPoint]:
    together = gross_lb(("truck", vehicle.weight_lb), ("towed", weight.lb))
    pairs: tuple[tuple[str, float | None, Weight], ...] = (
        ("the truck's tow rating", vehicle.tow_rating_lb, weight),
        ("the least stamp on receiver, mount and ball", vehicle.hitch_rating_lb, weight),
        ("the plate of what is towed", towed.rated_gross_lb, weight),
        ("the truck's combined rating", vehicle.combined_rating_lb, together),
    )
    for name, rating, heavy in pairs:
        missing = weight.missing or heavy.missing
        if rating is not None and heavy.lb > rating:
            why = f"{heavy.figure.shown} is over {name}, {plain(rating, 'lb')}."
            yield no("tow", why, RATING_SOURCE, figure=heavy.figure)
        elif rating is None or missing:
            known = "not known" if rating is None else plain(rating, "lb")
            why = f"Towed {weight.shown}{_with(together, heavy)}; {name}: {known}."
            look = "Weigh what is towed as it goes, and read the plates of truck, hitch and trailer."
            yield unknown("tow", why, look, RATING_SOURCE, figure=heavy.figure)
        else:
            why = f"{heavy.figure.shown} is within {name}, {plain(rating, 'lb')}."
            yield yes("tow", why, RATING_SOURCE, figure=heavy.figure)


def _with(together: Weight, heavy: Weight) -> str:
    if heavy is not together:
        return ""
    return (
        ", with a truck of unknown weight" if together.missing else f", with the truck {heavy.figure.shown}"
    )


def _tongue(vehicle: TowVehicle, towed: Towed, weight: Weight) -> RigPoint:
    low, high = limits()["tongue_low"], limits()["tongue_high"]
    band = f"usual are {low.value:g} to {high.value:g} % of the gross"
    if not weight.missing:
        band += f", {weight.lb * low.value / 100:,.0f} to {weight.lb * high.value / 100:,.0f} lb"
    tongue, rating = towed.tongue_lb, vehicle.tongue_rating_lb
    why = f"Tongue {_pounds(tongue)}, rated for {_pounds(rating)}; {band}"
    if tongue is not None and rating is not None and tongue > rating:
        return no("tow", f"{why}: the tongue is over its rating.", RATING_SOURCE)
    if tongue is None or rating is None or weight.missing:
        look = "Weigh the tongue as loaded, and read the tongue rating of the hitch."
        return unknown("tow", f"{why}.", look, low.source)
    if not low.value <= 100 * tongue / weight.lb <= high.value:
        look = "Shift the load and weigh again: a light tongue sways, a heavy one lifts the truck's front."
        return unknown("tow", f"{why}: the tongue lies outside it.", look, low.source)
    return yes("tow", f"{why}.", low.source)


def _chains(towed: Towed, weight: Weight) -> RigPoint:
    if towed.chains:
        return yes("tow", "It has its two chains.", CHAIN_SOURCE)
    said = "has no chains" if towed.chains is False else "may have no chains: nobody has looked"
    return unknown(
        "tow",
        f"What is towed {said}; two are commonly required, and {LAW}.",
        "Look for two chains and for the eyes that take them at both ends.",
        CHAIN_SOURCE,
        bring=f"two chains stamped for {weight.stamp}" if towed.chains is False else "",
    )


def _pace(implement: Implement) -> RigPoint:
    source = "the owner or the manual, as entered"
    if implement.road_mph is None:
        return unknown(
            "tow",
            "How fast the implement may go on its own wheels is not known.",
            "Ask its owner or read the manual: 20 mph is a limit that lenders set for drills.",
            "Sedgwick County, Kansas, drill rental page: 20 mph at 4,500 lb (seen)",
        )
    return yes("tow", f"On its own wheels at {implement.road_mph:g} mph or less.", source)


def _brakes(road: Road, vehicle: TowVehicle, towed: Towed, weight: Weight) -> Iterator[RigPoint]:
    row = limits()["brakes_over"]
    over = row.value if road.brakes_over_lb is None else road.brakes_over_lb
    whose = "common" if road.brakes_over_lb is None else "entered"
    source = row.source if road.brakes_over_lb is None else f"the limit as entered; {LAW}"
    why = f"Gross {weight.shown}, and the {whose} limit for brakes is {plain(over, 'lb')} ({LAW})"
    look = "Weigh what is towed, see what brakes it has, and look up this state's limit."
    if towed.brakes in (None, "none"):
        if towed.brakes == "none" and weight.lb > over and road.brakes_over_lb is not None:
            yield no("brakes", f"{why}: it has none.", source, figure=weight.figure)
        elif weight.lb <= over and not weight.missing and road.brakes_over_lb is not None:
            yield yes("brakes", f"{why}: it is not above it.", source, figure=weight.figure)
        else:
            has = "it has none" if towed.brakes else "nobody has looked whether it has brakes"
            yield unknown("brakes", f"{why}: {has}.", look, source, figure=weight.figure)
        return
    yield yes("brakes", f"{why}: it has {towed.brakes} brakes.", source, figure=weight.figure)
    if towed.brakes == "electric":
        yield _controller(vehicle)
    elif towed.brakes != "surge":
        why = f"The truck must have what works {towed.brakes} brakes."
        yield unknown("brakes", why, "Compare the lines and couplings of both.", source)
    if weight.lb > over and not towed.breakaway:
        has = "has none" if towed.breakaway is False else "has not been looked at"
        why = f"A breakaway that sets the brakes is commonly required with them; this one {has}."
        yield unknown("brakes", why, "Pull the breakaway's pin and try to roll.", CHAIN_SOURCE)


def _controller(vehicle: TowVehicle) -> RigPoint:
    source = "trailer practice [from memory]"
    if vehicle.brake_controller:
        return yes("brakes", "The truck has a controller for electric brakes.", source)
    if vehicle.brake_controller is False:
        return no("brakes", "Electric brakes stay dead: the truck has no controller.", source)
    why = "Electric brakes need a controller in the truck; nobody has looked."
    return unknown("brakes", why, "Look under the dash, and try the brakes at a walk.", source)


def _lamps(mine: str | None, towed: Towed, puller: str) -> Iterator[RigPoint]:
    if towed.plug != "none":
        yield _plugs(mine, towed, puller)
    elif towed.lamps_work is not True:
        yield unknown(
            "lights",
            f"It has no plug and so no lamps of its own; {LAW} on what must be lit.",
            "See whether the lamps of what pulls it can be seen from behind.",
            PLUG_SOURCE,
            bring="clamp-on lamp bar with a cable",
        )
        return
    if towed.lamps_work:
        yield yes("lights", "Its lamps were tried and work.", f"what was seen; {LAW}")
    else:
        tried = "Its lamps do not all work" if towed.lamps_work is False else "Its lamps have not been tried"
        look = "Plug it in: tail, brake and both turn lamps, and the reflectors."
        if towed.lamps_work is False:
            yield no("lights", f"{tried}.", f"what was seen; {LAW}", bring="bulbs, fuses and a test lamp")
        else:
            yield unknown("lights", f"{tried}.", look, f"what was seen; {LAW}")


def _plugs(mine: str | None, towed: Towed, puller: str) -> RigPoint:
    if mine is None or towed.plug is None:
        return unknown(
            "lights",
            f"The {puller} has {_plug(mine)}, what is towed has {_plug(towed.plug)}.",
            "Count the pins and look at their shape: "
            + "; ".join(row.label for row in plugs().values())
            + ".",
            PLUG_SOURCE,
        )
    both = f"the {puller} has {_plug(mine)}, what is towed has {_plug(towed.plug)}"
    if mine == "none":
        return no(
            "lights", f"Nothing to plug into: {both}.", PLUG_SOURCE, bring="magnetic lamps with a battery"
        )
    if mine == towed.plug:
        return yes("lights", f"Plugs are of one kind: {both}.", PLUG_SOURCE)
    adapter = f"plug adapter, {plugs()[mine].label} to {plugs()[towed.plug].label}"
    dead = "electric brakes" not in plugs()[mine].carries
    if dead and towed.brakes is None and "electric brakes" in plugs()[towed.plug].carries:
        return unknown(
            "lights",
            f"An adapter would light the lamps and leave electric brakes dead: {both}.",
            "See whether what is towed has electric brakes.",
            PLUG_SOURCE,
            bring=adapter,
        )
    if dead and towed.brakes == "electric":
        return no(
            "lights",
            f"An adapter would light the lamps and leave the electric brakes dead: {both}.",
            PLUG_SOURCE,
        )
    why = f"An adapter goes between: {both}. Wiring differs, so try each lamp."
    return yes("lights", why, PLUG_SOURCE, bring=adapter)


def _plug(key: str | None) -> str:
    return "an unknown plug" if key is None else "no plug" if key == "none" else f"a {plugs()[key].label}"


def _emblem(implement: Implement) -> RigPoint:
    row = limits()["emblem_mph"]
    why = f"What goes under {row.value:g} mph on the road carries a slow-moving-vehicle emblem"
    if implement.emblem:
        return yes("lights", f"{why}; the implement has one.", row.source)
    if implement.emblem is False:
        bring = "slow-moving-vehicle emblem with its bracket"
        return yes("lights", f"{why}; the implement has none.", row.source, bring=bring)
    look = "Look from behind whether an emblem can be seen with the implement on."
    return unknown("lights", f"{why}; nobody has looked.", look, row.source)


def _width(parts: tuple[tuple[str, float | None], ...]) -> RigPoint:
    row = limits()["legal_width"]
    usual = f"the usual width without a posting or permit is {inches(row.value)}"
    wide = [name for name, width in parts if width is not None and width > row.value]
    missing = [name for name, width in parts if width is None]
    shown = ", ".join(f"{name} {'not known' if width is None else inches(width)}" for name, width in parts)
    if wide:
        look = "Look up this state's rules for wide loads and for farm machines, and the bridges on the way."
        why = f"Wider than usual, {shown}; {usual}. Rules vary by state."
        return unknown("transport width", why, look, row.source, bring="flags and wide-load sign")
    if missing:
        look = f"Tape the widest point of: {', '.join(missing)}, as it goes on the road."
        return unknown("transport width", f"On the road {shown}; {usual}.", look, row.source)
    why = f"On the road {shown}; {usual}. A posted bridge or lane goes before it."
    return yes("transport width", why, row.source)
