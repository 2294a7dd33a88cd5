"""Implement on tractor: pins and balls, drawbar, lift, what stays on the front axle, track on the slope."""

from __future__ import annotations

import math
from collections.abc import Iterator

from plans.planning.figures import Figure, Term, plain
from plans.planning.job import SlopeLimits
from plans.planning.rig_facts import Implement, RigPoint, Tractor, no, unknown, yes
from plans.planning.rig_tables import Hitch, hitches, inches, limits

HITCH_SOURCE = "ISO 730 / ASAE S217, reference/hitch_categories.csv"
BUSH_SOURCE = "ISO 730 / ASAE S217 for the pins; bushings: common practice [from memory]"
QUICK_SOURCE = "ASAE S278, quick-attaching couplers [from memory]"
DRAWBAR_SOURCE = "ISO 6489-3 and common practice [from memory]"
BALLAST_SOURCE = "moments about the rear axle; ASAE EP496 practice for the share [from memory]"
BANDS = SlopeLimits()
SLOPE_SOURCE = (
    "planning bands, common practice; Canadian Centre for Occupational Health and Safety on rollovers (seen)"
)


def hitch_points(tractor: Tractor, implement: Implement) -> Iterator[RigPoint]:
    """Whether the implement can be hung on or pinned to the tractor at all."""
    if implement.attaches is None:
        yield unknown(
            "hitch",
            "Nobody has looked at how the implement attaches.",
            "See whether it hangs on the three-point links or is pulled from the drawbar.",
            HITCH_SOURCE,
        )
    elif implement.attaches == "three-point":
        yield _three_point(tractor, implement)
        if tractor.hitches != ():
            yield from _quick_coupler(tractor, implement)
    else:
        yield _drawbar(tractor, implement)


def _three_point(tractor: Tractor, implement: Implement) -> RigPoint:
    if tractor.hitches == ():
        return no("hitch", "The implement hangs on three points and the tractor has none.", HITCH_SOURCE)
    if implement.hitch is None:
        return unknown(
            "hitch",
            "The implement's hitch category is not known.",
            "Measure its pins and the distance between their shoulders: "
            + "; ".join(f"category {row.category}, {row.pins}" for row in _wide())
            + ".",
            HITCH_SOURCE,
        )
    if tractor.hitches is None:
        return unknown(
            "hitch",
            f"The implement is category {implement.hitch}; the tractor's is not known{_by_power(tractor)}.",
            "Measure the holes of the lower balls and of the top link.",
            HITCH_SOURCE,
        )
    found = [_meet(hitches()[category], hitches()[implement.hitch]) for category in tractor.hitches]
    return min(found, key=lambda point: ("yes", "unknown", "no").index(point.verdict) + bool(point.bring) / 2)


def _wide() -> list[Hitch]:
    return [row for row in hitches().values() if not row.category.endswith("N")]


def _by_power(tractor: Tractor) -> str:
    if tractor.pto_hp is None:
        return ""
    usual = [
        row.category
        for row in _wide()
        if (row.power_low_hp or 0) <= tractor.pto_hp <= (row.power_high_hp or math.inf)
    ]
    return f" (at {tractor.pto_hp:g} hp usually {' or '.join(usual)})"


def _meet(ball: Hitch, pin: Hitch) -> RigPoint:
    both = f"implement category {pin.category}, {pin.pins}; tractor category {ball.category}, {ball.pins}"
    if pin.lower_pin_in > ball.lower_pin_in:
        return no(
            "hitch",
            f"A {inches(pin.lower_pin_in)} pin does not go into a {inches(ball.lower_pin_in)} ball: {both}.",
            HITCH_SOURCE,
        )
    if pin.size < ball.size - 1:
        return no(
            "hitch",
            f"More than one category apart; the links do not close from {plain(ball.spread_in, 'in')} to "
            f"{plain(pin.spread_in, 'in')}: {both}.",
            HITCH_SOURCE,
        )
    bring = "" if pin.size == ball.size else _bushings(pin, ball)
    spread = f"{plain(pin.spread_in, 'in')} between the implement's pins, {plain(ball.spread_in, 'in')} usual"
    if pin.size == ball.size and pin.spread_in != ball.spread_in:
        return unknown(
            "hitch",
            f"Pins fit, but one of the two is of a narrow category: {spread} at the tractor; {both}.",
            "Tape the implement between its pin shoulders, and the links as far as they close and open.",
            HITCH_SOURCE,
        )
    if bring:
        return yes(
            "hitch",
            f"A category down can be bushed up: {both}. Let the links in: {spread} at the tractor.",
            BUSH_SOURCE,
            bring=bring,
        )
    return yes("hitch", f"Pins and balls are of one category: {both}.", HITCH_SOURCE)


def _bushings(pin: Hitch, ball: Hitch) -> str:
    def sizes(inner: float, outer: float) -> str:
        return f"{inches(inner)} to {inches(outer)}"

    lower = f"2 lower hitch bushings {sizes(pin.lower_pin_in, ball.lower_pin_in)}"
    return f"{lower}, 1 top link bushing {sizes(pin.upper_pin_in, ball.upper_pin_in)}"


def _quick_coupler(tractor: Tractor, implement: Implement) -> Iterator[RigPoint]:
    frame, pin = tractor.quick_coupler, implement.hitch
    if frame is None:
        yield unknown(
            "hitch",
            "Nobody has looked whether a quick coupler stands on the links.",
            "Look for a frame with three hooks on the tractor's links, and for its category.",
            QUICK_SOURCE,
        )
    elif frame != "none" and pin is not None:
        both = f"quick coupler category {frame}, implement category {pin}"
        if frame != pin:
            yield no(
                "hitch",
                f"A quick coupler holds the pins at one spread and takes its own category only: {both}. Take "
                "the coupler off and pin to the links, or use another implement.",
                QUICK_SOURCE,
            )
        elif implement.quick_coupler_ready is None:
            yield unknown(
                "hitch",
                f"One category: {both}; but not every implement stands as a coupler wants it.",
                "Try the implement's top pin against the coupler's upper hook, and see whether its pins "
                "carry bushings.",
                QUICK_SOURCE,
            )
        elif implement.quick_coupler_ready:
            yield yes(
                "hitch",
                f"One category, and the implement's mast suits: {both}.",
                QUICK_SOURCE,
                bring=f"quick-coupler bushings of category {frame} for the implement's pins",
            )
        else:
            yield no(
                "hitch",
                f"One category, but the implement's mast or pins do not suit a quick coupler: {both}. Take "
                "the coupler off and pin to the links.",
                QUICK_SOURCE,
            )


def _drawbar(tractor: Tractor, implement: Implement) -> RigPoint:
    hole, pin = tractor.drawbar_pin_in, implement.drawbar_pin_in
    if hole is None or pin is None:
        return unknown(
            "hitch",
            f"Drawbar hole {_known(hole)}, pin of the implement's tongue {_known(pin)}.",
            "Measure the hole in the drawbar and the holes in the implement's tongue.",
            DRAWBAR_SOURCE,
        )
    both = f"the tongue takes a {inches(pin)} pin, the drawbar has a {inches(hole)} hole"
    if pin > hole:
        return no("hitch", f"The pin does not go into the drawbar: {both}.", DRAWBAR_SOURCE)
    locked = f"{inches(pin)} drawbar pin with its lock"
    if pin < hole:
        bring = f"drawbar bushing {inches(pin)} to {inches(hole)}, {locked}"
        return yes("hitch", f"A smaller pin can be bushed: {both}.", DRAWBAR_SOURCE, bring=bring)
    return yes("hitch", f"Pin and hole are of one size: {both}.", DRAWBAR_SOURCE, bring=locked)


def _known(length_in: float | None) -> str:
    return "not known" if length_in is None else inches(length_in)


def lifted_lb(implement: Implement) -> Figure:
    """Weight [lb] that the links lift: the implement and what it carries, as far as they are known.

    Source: arithmetic.
    """
    parts = (Term("implement", implement.weight_lb or 0, "lb"), Term("load", implement.load_lb or 0, "lb"))
    return Figure(sum(float(part.value) for part in parts), "lb", "implement + load", parts)


def lift_points(tractor: Tractor, implement: Implement) -> Iterator[RigPoint]:
    """Whether the links lift the implement, 24 in behind the ball ends, where lift is rated."""
    if implement.attaches != "three-point" or tractor.hitches == ():
        return
    rated = limits()["lift_behind"]
    weight = lifted_lb(implement)
    behind, at_24, at_ends = implement.balance_in, tractor.lift_lb_at_24_in, tractor.lift_lb_at_ball_ends
    over = [
        f"{plain(capacity, 'lb')} {where}"
        for capacity, where, counts in (
            (at_ends, "at the ball ends", True),
            (at_24, f"{rated.value:g} in behind them", behind is not None and behind >= rated.value),
        )
        if capacity is not None and counts and float(weight.value) > capacity
    ]
    if over:
        yield no(
            "lift",
            f"{weight.shown} to lift, and the tractor lifts {over[-1]}.",
            rated.source,
            figure=weight,
        )
        return
    missing = _missing(
        (implement.weight_lb, "the implement's weight"),
        (implement.load_lb, "what it carries"),
        (behind, "how far behind the ball ends it balances"),
        (at_24, f"the lift {rated.value:g} in behind the ball ends by the tractor's manual"),
    )
    if missing:
        look = f"Find out {missing}."
    elif behind is not None and behind > rated.value:
        look = f"Read the lift at {behind:g} in in the tractor's manual: it falls beyond {rated.value:g} in."
    elif float(weight.value) > (at_24 or 0):
        look = "Read the lift at the ball ends and between: it balances nearer than where lift is rated."
    else:
        yield yes(
            "lift",
            f"{weight.shown} to lift, balanced {behind:g} in behind the ball ends; the tractor lifts "
            f"{plain(at_24 or 0, 'lb')} at {rated.value:g} in.",
            rated.source,
            figure=weight,
        )
        return
    known = (
        "Of what is to be lifted nothing is known" if not weight.value else f"{weight.shown} known to lift"
    )
    why = f"{known}; lift at {rated.value:g} in {_pounds(at_24)}."
    yield unknown("lift", why, look, rated.source, figure=weight)


def _pounds(value: float | None) -> str:
    return "not known" if value is None else plain(value, "lb")


def _missing(*facts: tuple[object, str]) -> str:
    return ", ".join(name for value, name in facts if value is None)


def front_axle_pct(
    front_axle_lb: float, implement_lb: float, reach_in: float, wheelbase_in: float, tractor_lb: float
) -> Figure:
    """Share [%] of the tractor's weight left on the front axle with an implement [lb] raised.

    `reach_in` is from the rear axle back to where the implement balances; weights on the front count in
    `front_axle_lb`. Negative: the front lifts. Source: moments about the rear axle.
    """
    left = front_axle_lb - implement_lb * reach_in / wheelbase_in
    return Figure(
        100 * left / tractor_lb,
        "%",
        "100 × (front axle - implement × reach / wheelbase) / tractor",
        (
            Term("front axle", front_axle_lb, "lb"),
            Term("implement", implement_lb, "lb"),
            Term("reach", reach_in, "in"),
            Term("wheelbase", wheelbase_in, "in"),
            Term("tractor", tractor_lb, "lb"),
        ),
        BALLAST_SOURCE,
    )


def ballast_points(tractor: Tractor, implement: Implement) -> Iterator[RigPoint]:
    """Whether the front axle keeps its share of the tractor's weight with the implement raised."""
    if implement.attaches != "three-point" or tractor.hitches == ():
        return
    least = limits()["front_axle"]
    front, base, own = tractor.front_axle_lb, tractor.wheelbase_in, tractor.weight_lb
    ends, behind = tractor.ball_ends_behind_axle_in, implement.balance_in
    if (
        front is None
        or base is None
        or own is None
        or ends is None
        or behind is None
        or implement.weight_lb is None
        or implement.load_lb is None
    ):
        missing = _missing(
            (own, "the tractor's weight"),
            (front, "the weight on its front axle"),
            (base, "its wheelbase"),
            (ends, "how far the ball ends stand behind its rear axle"),
            (implement.weight_lb, "the implement's weight"),
            (implement.load_lb, "what it carries"),
            (behind, "how far behind the ball ends it balances"),
        )
        yield unknown(
            "ballast",
            f"What stays on the front axle cannot be reckoned; it should be {least.value:g} % or more.",
            f"Weigh, tape or read in the manuals {missing}.",
            least.source,
        )
        return
    share = front_axle_pct(front, float(lifted_lb(implement).value), ends + behind, base, own)
    said = f"With the implement raised {share.value:.1f} % of the tractor's weight is on the front axle"
    if share.value <= 0:
        said = f"With the implement raised the front axle lifts off the ground ({share.value:.1f} %)"
    if share.value >= least.value:
        yield yes("ballast", f"{said}; {least.value:g} % is the least.", BALLAST_SOURCE, figure=share)
        return
    short = math.ceil((least.value - float(share.value)) * own / (100 - least.value))
    yield no(
        "ballast",
        f"{said}, and {least.value:g} % is the least: {short:,} lb are wanting over the front axle. Weigh "
        "again with the weights on; the manual says how much front axle and tires may carry.",
        BALLAST_SOURCE,
        bring=f"front weights of {short:,} lb, counted over the front axle",
        figure=share,
    )


def slope_points(tractor: Tractor, implement: Implement, slope_pct: float | None) -> Iterator[RigPoint]:
    """What the steepest part of the ground asks of track and width. The machines' manuals decide."""
    if slope_pct is None:
        yield unknown(
            "width",
            "The slope of the ground is not known.",
            "Measure the steepest part of the field, not its mean.",
            SLOPE_SOURCE,
        )
        return
    slope = f"{slope_pct:g} % ({math.degrees(math.atan(slope_pct / 100)):.1f} degrees)"
    stated = {"tractor": tractor.slope_limit_pct, "implement": implement.slope_limit_pct}
    over = [f"{limit:g} % for the {name}" for name, limit in stated.items() if _under(limit, slope_pct)]
    if over:
        why = f"The ground has {slope}, and the manual gives {' and '.join(over)}."
        yield no("width", why, "the machine's own manual, as entered")
        return
    changes = _band(slope_pct)
    if slope_pct <= BANDS.tillage_pct:
        yield yes("width", f"The ground has {slope}. {changes}", SLOPE_SOURCE)
        return
    looks = [
        f"Read the steepest slope in the {name}'s manual." for name, limit in stated.items() if limit is None
    ]
    track, widest = tractor.track_in, tractor.track_max_in
    if slope_pct > BANDS.machines_pct and (track is None or widest is None or track < widest):
        looks.append(
            f"Rear track {_known(track)}, widest {_known(widest)}: set the widest that fits the work."
        )
    if slope_pct > BANDS.across_pct:
        looks.append("Walk it with the one who will drive: a person decides there, not a sheet.")
    if looks:
        yield unknown("width", f"The ground has {slope}. {changes}", " ".join(looks), SLOPE_SOURCE)
    else:
        yield yes("width", f"The ground has {slope}, within both manuals. {changes}", SLOPE_SOURCE)


def _under(limit: float | None, slope_pct: float) -> bool:
    return limit is not None and limit < slope_pct


def _band(slope_pct: float) -> str:
    if slope_pct <= BANDS.tillage_pct:
        return (
            f"To {BANDS.tillage_pct:g} % nothing is planned otherwise; there is no slope without overturns."
        )
    if slope_pct <= BANDS.machines_pct:
        return (
            f"From {BANDS.tillage_pct:g} to {BANDS.machines_pct:g} % work goes on the contour and slowly; no "
            "sharp turns downhill, belt on, roll bar up."
        )
    if slope_pct <= BANDS.across_pct:
        return (
            f"From {BANDS.machines_pct:g} to {BANDS.across_pct:g} % the track is set wide and the load low; "
            "short passes up and down on dry ground, belt on, roll bar up."
        )
    return (
        f"Over {BANDS.across_pct:g} % no tractor work is planned across; up and down only where both manuals "
        "give that slope, heavy end uphill."
    )
