"""Ground kept free of a kind of work: what is left of a field for each, and what to mind about it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from plans.planning import tables
from plans.planning.calendar import SOWING
from plans.planning.findings import FieldPlan, find, listing
from plans.planning.job import Conversion, KeptAway, Work
from plans.planning.plan import Finding

VERBS: dict[Work, str] = {"spray": "spray", "drill": "seed", "burn": "burn", "mow": "mow"}
PAST: dict[Work, str] = {"spray": "sprayed", "drill": "seeded", "burn": "burned", "mow": "mowed"}


@dataclass(frozen=True, slots=True)
class Ground:
    """Kinds of work to which the same ground of a field is left."""

    field: str
    to: str
    """As verbs: `spray and seed`."""
    left_acres: float | None
    """None where the field has no outline."""
    whole_acres: float
    because: str
    """`50 ft from Mill Creek and the lane`."""

    @property
    def words(self) -> str:
        """`11.2 of 12 acres are left to spray: 50 ft from Mill Creek.`"""
        if self.left_acres is None:
            return f"How many acres are left to {self.to} is not known without an outline: {self.because}."
        left = f"{_acres(self.left_acres)} of {_acres(self.whole_acres)} acres"
        return f"{left} are left to {self.to}: {self.because}."


def ground_left(conversion: Conversion) -> tuple[Ground, ...]:
    """What is left of a field, work by work; empty where nothing is excluded. Source: the exclusions."""
    together: dict[tuple[float | None, tuple[str, ...]], list[Work]] = {}
    for kept in conversion.kept_away:
        together.setdefault((kept.left_acres, kept.because), []).append(kept.work)
    return tuple(
        Ground(
            conversion.field,
            listing(VERBS[work] for work in kinds),
            left_acres,
            conversion.acres,
            listing(because) if because else "as entered",
        )
        for (left_acres, because), kinds in together.items()
    )


def kept_away(field: FieldPlan) -> Iterator[Finding]:
    """No ground left, acres that nobody knows, and ground that is sown without being sprayed or sprayed
    without being sown."""
    asked = {tables.operations()[slot.step.operation].work for slot in field.slots if slot.done_on is None}
    for kept in field.conversion.kept_away:
        if kept.work in asked and not kept.left_acres:
            yield _unknown(field, kept) if kept.left_acres is None else _nothing(field, kept)
    yield from _unlike(field)


def _nothing(field: FieldPlan, kept: KeptAway) -> Finding:
    name = field.conversion.field
    return find(
        "nothing_left",
        name,
        kept.work,
        f"No ground of {name} is left to {VERBS[kept.work]}: {listing(kept.because)}.",
        f"The plan counts on ground that is {PAST[kept.work]}; those steps are left out and not priced.",
        "Look at the distances on the field's page, or choose a way that does without this work.",
        severity=None if kept.work in ("spray", "drill") else "caution",
    )


def _unknown(field: FieldPlan, kept: KeptAway) -> Finding:
    name, acres = field.conversion.field, _acres(field.conversion.acres)
    return find(
        "left_unknown",
        name,
        kept.work,
        f"{name} is planned to be {PAST[kept.work]} on all its {acres} acres, though this stays away: "
        f"{listing(kept.because)}.",
        "The field has no outline, so nobody can say how many acres that takes; seed, product, hours and "
        "price are those of the whole field.",
        "Draw the outline of the field, or bring one in, on the field's page.",
    )


def _unlike(field: FieldPlan) -> Iterator[Finding]:
    conversion = field.conversion
    ahead = [slot.step for slot in field.slots if slot.done_on is None]
    kills = any(step.phase == "kill" and _work(step) == "spray" for step in ahead)
    if not kills or not any(step.operation in SOWING for step in ahead):
        return
    known = {kept.work: kept for kept in conversion.kept_away if kept.left_acres is not None}
    off_spray, off_drill = (known[work].because if work in known else () for work in ("spray", "drill"))
    if off_spray == off_drill:
        return
    name, whole = conversion.field, _acres(conversion.acres)
    sprayed, sown = conversion.acres_to("spray"), conversion.acres_to("drill")
    if sprayed < sown:
        yield find(
            "sown_unsprayed",
            name,
            "unsprayed",
            f"{_acres(sown - sprayed)} of {whole} acres of {name} stay unsprayed and are seeded: "
            f"{_more(off_spray, off_drill)}.",
            "Sod that is not killed stays, and seed drilled into it is mostly lost.",
            "Plan hand work there and price it, or leave the sod: keep the drill off it too, on the field's "
            "page.",
        )
    elif sprayed > sown:
        yield find(
            "sown_unsprayed",
            name,
            "unsown",
            f"{_acres(sprayed - sown)} of {whole} acres of {name} are sprayed and not seeded: "
            f"{_more(off_drill, off_spray)}.",
            "What is killed and not sown lies bare and grows back to weeds.",
            "Keep the sprayer off it too, on the field's page, or plan to seed it by hand.",
        )
    else:
        yield find(
            "sown_unsprayed",
            name,
            "elsewhere",
            f"On {name} spraying stays away from other ground than seeding does.",
            "Sod that is not killed stays, and ground that is killed and not sown grows back to weeds.",
            "Give both the same distances on the field's page, or plan hand work where they differ.",
        )


def _more(off: tuple[str, ...], shared: tuple[str, ...]) -> str:
    return listing([name for name in off if name not in shared] or off)


def _work(step: tables.Step) -> str:
    return tables.operations()[step.operation].work


def _acres(acres: float) -> str:
    return f"{round(acres, 2):,.6g}"
