"""What the tractor gives the implement: turning shaft, oil and power."""

from __future__ import annotations

from collections.abc import Iterator

from plans.planning.figures import Figure, Term, plain
from plans.planning.rig_facts import Implement, RigPoint, Tractor, no, unknown, yes
from plans.planning.rig_tables import (
    PtoShaft,
    coupler_adapters,
    couplers,
    inches,
    limits,
    machines,
    pto_adapters,
    pto_shafts,
)

SHAFT_SOURCE = "ISO 500-1 / ASAE S203, reference/pto_shafts.csv"
SPEED_SOURCE = "ISO 500-1 / ASAE S203 for the speeds; never adapted: common practice [from memory]"
GUARD_SOURCE = "29 CFR 1928.57 [from memory]"
DRAWBAR_DISTANCE_IN = 0.5
"""Slack in setting the drawbar; common practice [from memory]."""
REMOTE_SOURCE = "ISO 10448: a coupler pair for each double-acting circuit (seen); the count: arithmetic"
RETURN_SOURCE = "common practice for hydraulic motors [from memory]; the motor's plate goes before"
COUPLER_SOURCE = "ISO 5675, ISO 7241, ISO 16028 and SAE J1036, reference/couplers.csv"
POWER_SOURCE = "the machines' manuals as entered; drawbar share: ASAE D497 [from memory]"


def pto_points(tractor: Tractor, implement: Implement) -> Iterator[RigPoint]:
    """Whether the shaft goes on and turns at the implement's speed. Speeds are never adapted."""
    if implement.pto_driven is False:
        return
    wanted = pto_shafts().get(implement.pto_shaft or "")
    rpm = wanted.rpm if wanted else implement.pto_rpm
    if rpm is None:
        asked = "At what speed" if implement.pto_driven else "Whether and at what speed"
        yield unknown(
            "PTO",
            f"{asked} the PTO drives the implement is not known.",
            "Look for a driveline; read the speed on its decal and count the splines of its yoke.",
            SHAFT_SOURCE,
        )
    elif tractor.pto_shafts is None:
        yield unknown(
            "PTO",
            f"The implement runs at {rpm} rpm; the tractor's shaft is not known.",
            "Count the splines of the tractor's shaft, measure it, and read its speed in the manual.",
            SHAFT_SOURCE,
        )
    else:
        yield _shaft(tractor, implement, wanted, rpm)
    yield from _guards(implement)
    if wanted and implement.attaches == "drawbar" and implement.pto_shaft in (tractor.pto_shafts or ()):
        yield from _drawbar_distance(tractor, wanted)
    yield from _run_on(tractor, implement, wanted)


def _shaft(tractor: Tractor, implement: Implement, wanted: PtoShaft | None, rpm: int) -> RigPoint:
    offered = [pto_shafts()[key] for key in tractor.pto_shafts or ()]
    has = " or ".join(row.label for row in offered)
    if not offered:
        return no("PTO", f"The implement runs at {rpm} rpm and the tractor has no PTO.", SHAFT_SOURCE)
    if wanted and wanted in offered:
        return yes("PTO", f"Both are {wanted.label}.", SHAFT_SOURCE)
    same_speed = [row for row in offered if row.rpm == rpm]
    if not same_speed:
        return no(
            "PTO",
            f"The implement runs at {rpm} rpm and the tractor's shaft is {has}: speeds are never adapted.",
            SPEED_SOURCE,
        )
    if wanted is None:
        return unknown(
            "PTO",
            f"Both run at {rpm} rpm; the tractor has {has}, and the implement's splines are not counted.",
            "Count the splines in the implement's yoke and measure across it.",
            SHAFT_SOURCE,
        )
    both = f"implement {wanted.label}; tractor {has}"
    rows = [pto_adapters().get((row.key, wanted.key)) for row in same_speed]
    known = sorted((row for row in rows if row), key=lambda row: row.verdict == "unknown")
    if not known:
        return no("PTO", f"One speed but two shafts, and no adapter is known here: {both}.", SHAFT_SOURCE)
    row = known[0]
    if row.verdict == "yes":
        return yes("PTO", f"{row.why}: {both}.", row.source, bring=row.bring)
    return unknown(
        "PTO",
        f"{row.why}: {both}.",
        "Ask the tractor's and the driveline's maker whether the shaft or the yoke may be exchanged.",
        row.source,
    )


def _guards(implement: Implement) -> Iterator[RigPoint]:
    if implement.pto_guarded:
        yield yes("PTO", "The driveline's shields are in place and turn free.", GUARD_SOURCE)
    elif implement.pto_guarded is False:
        yield no("PTO", "Driveline shields are missing or stuck: mend them first.", GUARD_SOURCE)
    elif implement.pto_driven or implement.pto_shaft or implement.pto_rpm:
        yield unknown(
            "PTO",
            "Nobody has looked at the driveline's shields.",
            "Turn the tube by hand, engine off: shields on tractor, driveline and gearbox, all of them free.",
            GUARD_SOURCE,
        )


def _drawbar_distance(tractor: Tractor, shaft: PtoShaft) -> Iterator[RigPoint]:
    if shaft.drawbar_in is None:
        return
    has = tractor.pto_to_drawbar_pin_in
    wants = f"{inches(shaft.drawbar_in)} from shaft end to drawbar pin for {shaft.label}"
    if has is not None and abs(has - shaft.drawbar_in) <= DRAWBAR_DISTANCE_IN:
        yield yes("PTO", f"The drawbar stands at {inches(has)}; {wants}.", shaft.source)
    else:
        stands = "is not measured" if has is None else f"stands at {inches(has)}"
        yield unknown(
            "PTO",
            f"The drawbar {stands}; {wants}.",
            "Set the drawbar to its hole for that shaft, and see in a turn that the driveline neither "
            "bottoms nor parts.",
            shaft.source,
        )


def _run_on(tractor: Tractor, implement: Implement, wanted: PtoShaft | None) -> Iterator[RigPoint]:
    row = machines().get(implement.machine or "")
    if row is None or row.coasts == "no" or implement.overrunning_coupler:
        return
    why = f"The rotor of a {row.machine} runs on and pushes a tractor whose PTO does not overrun"
    source = "common practice [from memory]"
    if tractor.pto_overruns:
        yield yes("PTO", f"{why}; this one's does.", source)
    elif tractor.pto_overruns is False:
        size = f", {wanted.splines} splines, {inches(wanted.shaft_in)}" if wanted else ""
        yield yes(
            "PTO",
            f"{why}, as this one's: an overrunning coupler goes between. It adds length, so measure the "
            "driveline raised and lowered.",
            source,
            bring=f"overrunning coupler{size}",
        )
    else:
        yield unknown(
            "PTO",
            f"{why}; of this one it is not known.",
            "Read in the manual whether the PTO is independent or has an overrunning clutch.",
            source,
        )


def remotes_needed(double_acting: int, single_acting: int = 0, motors: int = 0) -> Figure:
    """Remotes [remotes]: pairs of couplers with a lever, one to each circuit moved by itself.

    Two hoses to one double-acting cylinder are one remote; lift and tilt are two. Source: ISO 10448.
    """
    terms = (
        Term("double-acting circuits", double_acting),
        Term("single-acting", single_acting),
        Term("motors", motors),
    )
    return Figure(
        float(double_acting + single_acting + motors),
        "remotes",
        "one for each double-acting circuit, single-acting circuit and motor",
        terms,
        REMOTE_SOURCE,
    )


def hydraulic_points(tractor: Tractor, implement: Implement) -> Iterator[RigPoint]:
    """Remotes, flow, return and couplers, where the implement has hoses."""
    circuits = (implement.double_acting, implement.single_acting, implement.motors)
    if all(count == 0 for count in circuits) or (implement.hoses == 0 and not any(circuits)):
        return
    if None in circuits and implement.hoses is None:
        yield unknown(
            "hydraulics",
            "What on the implement is moved by oil is not known.",
            "Count its hoses and follow each: to a cylinder with two, a cylinder with one, or a motor.",
            REMOTE_SOURCE,
        )
        return
    yield _remotes(tractor, implement)
    if implement.single_acting:
        yield from _float(tractor)
    if implement.motors is None:
        yield unknown(
            "hydraulics",
            "Whether a hose feeds a motor is not known; a motor needs a return without pressure.",
            "Follow each hose to its end.",
            RETURN_SOURCE,
        )
    elif implement.motors:
        yield from _motor(tractor, implement)
    if tractor.remotes != 0:
        yield _couplers(tractor, implement)


def _remotes(tractor: Tractor, implement: Implement) -> RigPoint:
    double, single, motors = implement.double_acting, implement.single_acting, implement.motors
    if double is None or single is None or motors is None:
        hoses = implement.hoses or 0
        if hoses % 2:
            return unknown(
                "hydraulics",
                f"{hoses} hoses: two to each double-acting cylinder leave one over.",
                "Follow the odd hose: a single-acting cylinder needs a lever of its own, a case drain a "
                "return without pressure.",
                REMOTE_SOURCE,
            )
        needs = remotes_needed(hoses // 2)
        count = f"{hoses} hoses, two to a remote, need {_count(needs)}"
    else:
        needs = remotes_needed(double, single, motors)
        count = (
            f"{double} double-acting and {single} single-acting circuits and {motors} motors need "
            f"{_count(needs)}"
        )
    if tractor.remotes is None:
        return unknown(
            "hydraulics",
            f"{count}; the tractor's are not counted.",
            "Count the pairs of couplers behind the seat, and the levers that work them.",
            REMOTE_SOURCE,
            figure=needs,
        )
    if tractor.remotes < float(needs.value):
        way_out = (
            "A diverter fitted beforehand, or another tractor."
            if tractor.remotes
            else "A kit fitted beforehand, or an implement lifted by its own wheels."
        )
        why = f"{count}; the tractor has {tractor.remotes}. {way_out}"
        return no("hydraulics", why, REMOTE_SOURCE, figure=needs)
    return yes("hydraulics", f"{count}; the tractor has {tractor.remotes}.", REMOTE_SOURCE, figure=needs)


def _count(remotes: Figure) -> str:
    return "1 remote" if remotes.value == 1 else remotes.shown


def _float(tractor: Tractor) -> Iterator[RigPoint]:
    source = "common practice [from memory]"
    if tractor.remote_floats:
        yield yes("hydraulics", "The single-acting cylinder goes down in the lever's float.", source)
    elif tractor.remote_floats is False:
        why = "A single-acting cylinder goes down only in float, and the tractor's levers have none."
        yield no("hydraulics", why, source)
    else:
        yield unknown(
            "hydraulics",
            "A single-acting cylinder goes down only in float; whether a lever has one is not known.",
            "Try the lever past lower: float stays there by itself.",
            source,
        )


def _motor(tractor: Tractor, implement: Implement) -> Iterator[RigPoint]:
    if tractor.free_return:
        yield yes("hydraulics", "The motor's case drain goes to the return without pressure.", RETURN_SOURCE)
    elif tractor.free_return is False:
        yield no(
            "hydraulics",
            "A motor needs a case drain or a return without pressure, and the tractor has none: its seals "
            "burst against a closed lever.",
            RETURN_SOURCE,
        )
    else:
        yield unknown(
            "hydraulics",
            "A motor needs a case drain or a return without pressure; of the tractor it is not known.",
            "Look for a return coupler to the tank beside the remotes, and read the motor's plate.",
            RETURN_SOURCE,
        )
    needs, gives = implement.motor_gpm, tractor.remote_gpm
    why = f"The motor asks for {_flow(needs)}; the tractor gives {_flow(gives)}."
    if needs is None or gives is None:
        look = "Read gal/min on the motor's plate and in the tractor's manual."
        yield unknown("hydraulics", why, look, RETURN_SOURCE)
    else:
        yield (no if needs > gives else yes)("hydraulics", why, RETURN_SOURCE)


def _flow(value: float | None) -> str:
    return "an unknown flow" if value is None else plain(value, "gal/min")


def _couplers(tractor: Tractor, implement: Implement) -> RigPoint:
    series, hose = tractor.coupler, implement.hose_coupler
    if series is None or hose is None:
        ends = (("tractor", series), ("implement", hose))
        missing = " and ".join(name for name, known in ends if known is None)
        return unknown(
            "hydraulics",
            f"The series of the couplers is not known at the {missing}.",
            "Compare the ends: "
            + "; ".join(f"{row.label}: {row.known_by}" for row in couplers().values())
            + ".",
            COUPLER_SOURCE,
        )
    sizes = (tractor.coupler_size_in, implement.hose_coupler_size_in)
    both = f"tractor {_coupler(series, sizes[0])}; hoses {_coupler(hose, sizes[1])}"
    row = coupler_adapters().get((series, hose))
    if series != hose and row is None:
        return no(
            "hydraulics",
            f"Two series do not latch and no adapter is known here: {both}. Fit the tractor's tips.",
            COUPLER_SOURCE,
        )
    if sizes[0] is None or sizes[1] is None:
        return unknown(
            "hydraulics",
            f"Sizes are not known at both ends: {both}.",
            "Measure both ends, or read the size stamped on them.",
            COUPLER_SOURCE,
        )
    if row is None and sizes[0] == sizes[1]:
        return yes("hydraulics", f"Couplers are of one series and size: {both}.", COUPLER_SOURCE)
    by_circuit = 2 * ((implement.double_acting or 0) + (implement.motors or 0)) + (
        implement.single_acting or 0
    )
    bring = (
        f"{implement.hoses or by_circuit} coupler adapters: tip {_coupler(series, sizes[0])} at the "
        f"tractor's end, socket {_coupler(hose, sizes[1])} at the hose's end"
    )
    kinds = "series" if row else "sizes"
    mind = f" {row.mind}" if row and row.mind else ""
    narrow = "" if sizes[0] == sizes[1] else " The smaller of the two sets the flow."
    why = f"Two {kinds} do not latch, and an adapter stands between: {both}.{narrow}{mind}"
    return yes("hydraulics", why, row.source if row else COUPLER_SOURCE, bring=bring)


def _coupler(series: str, size_in: float | None) -> str:
    size = "of unknown size" if size_in is None else inches(size_in)
    return f"{couplers()[series].label} {size}"


def pto_power_needed(pto_hp: float, drawbar_hp: float, drawbar_share_pct: float) -> Figure:
    """Power [hp] that the tractor must have at its PTO to turn one load and pull another at once.

    `drawbar_share_pct` is its drawbar power as a share of its PTO power. Source: ASAE D497 for the share.
    """
    return Figure(
        pto_hp + 100 * drawbar_hp / drawbar_share_pct,
        "hp",
        "at the PTO + at the drawbar / share",
        (
            Term("at the PTO", pto_hp, "hp"),
            Term("at the drawbar", drawbar_hp, "hp"),
            Term("share", drawbar_share_pct, "%"),
        ),
        POWER_SOURCE,
    )


def power_points(tractor: Tractor, implement: Implement) -> Iterator[RigPoint]:
    """The implement's need at PTO and drawbar against the tractor's power; both at once are summed."""
    pto, pulled = implement.pto_hp, implement.drawbar_hp
    if pto is None and pulled is None:
        yield _usual_power(tractor, implement)
        return
    if pulled and not pto and tractor.drawbar_hp is not None:
        yield _power(pulled, tractor.drawbar_hp, "at the drawbar", None)
        return
    share = limits()["drawbar_share"].value
    if tractor.pto_hp and tractor.drawbar_hp:
        share = 100 * tractor.drawbar_hp / tractor.pto_hp
    needs = pto_power_needed(pto or 0, pulled or 0, share)
    where = (
        "at the PTO" if not pulled else "at the PTO, pulling and turning together" if pto else "at the PTO"
    )
    if tractor.pto_hp is None:
        yield unknown(
            "power",
            f"The implement needs {needs.shown} {where}; the tractor's power is not known.",
            "Read PTO power in the tractor's manual or test report; engine power is more than that.",
            POWER_SOURCE,
            figure=needs,
        )
    else:
        yield _power(float(needs.value), tractor.pto_hp, where, needs if pulled else None)


def _power(needs: float, has: float, where: str, figure: Figure | None) -> RigPoint:
    why = f"The implement needs {plain(needs, 'hp')} {where}; the tractor has {plain(has, 'hp')}."
    return (no if needs > has else yes)("power", why, POWER_SOURCE, figure=figure)


def _usual_power(tractor: Tractor, implement: Implement) -> RigPoint:
    row = machines().get(implement.machine or "")
    usual = (
        f" A {row.machine} usually asks for {row.pto_hp_low:g} to {row.pto_hp_high:g} hp at the PTO."
        if row
        else ""
    )
    has = "is not known" if tractor.pto_hp is None else f"is {tractor.pto_hp:g} hp at the PTO"
    return unknown(
        "power",
        f"What power the implement needs is not known; the tractor's {has}.{usual}",
        "Read the least tractor power in the implement's manual or on its plate.",
        row.source if row else POWER_SOURCE,
    )
