"""The first leaf of a crew sheet: whether the machines go together, and what is loaded in the yard."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from reportlab.platypus import Flowable, KeepTogether, Table

from plans.documents.look import (
    CELL,
    CELL_BOLD,
    CELL_SMALL,
    H2,
    H3,
    INK,
    SMALL,
    STRAW_WASH,
    TEXT_WIDTH,
    WHITE,
    gap,
    p,
    plain,
    quiet,
    rich,
    strong,
    table,
)
from plans.documents.manner import _, marked
from plans.documents.told import told
from plans.documents.words import amount, by_label, day, upper_first
from plans.planning.figures import Number
from plans.planning.loading import LoadingList, LoadLine, Section
from plans.planning.loading_rig import CheckedRig
from plans.planning.plan import Plan
from plans.planning.rig_facts import Answer

RIG_WORDS: dict[Answer, str] = {
    "no": marked("NO: these machines do not go together. Do not hitch them up."),
    "unknown": marked("Go and look before anything is hitched up."),
    "yes": marked("These machines go together."),
}
ON_EACH_LEAF = frozenset({"calibration", "look"})
"""What stands elsewhere on the sheet."""
OF_MACHINES = frozenset({"adapters", "look", "tools"})
"""Sizes of pins, balls and shafts are names of parts and stay in inches."""


def load_leaf(plan: Plan, load: LoadingList) -> list[Flowable]:
    when = f", {day(load.on)}" if load.on else ""
    fields = ", ".join(task.field for task in load.tasks)
    return [
        p(_("To load"), H2),
        p(f"{told(load.label)}{when}: {fields}, {plan.job.farm.name}", SMALL),
        *(flowable for rig in load.rig.checks for flowable in rig_box(rig, len(load.rig.checks) > 1)),
        *(
            flowable
            for section in load.sections
            if section.key not in ON_EACH_LEAF
            for flowable in _section(section)
        ),
    ]


def rig_box(rig: CheckedRig, several: bool) -> Iterator[Flowable]:
    """The verdict, loud where it is no, with what speaks against it and what to look at."""
    check = rig.check
    where = " " + _("For {fields}.").format(fields=", ".join(rig.fields)) if several else ""
    bring = " " + _("Bring what stands under Adapters.") if check.bring else ""
    against = [point.why for point in check.points if point.verdict == "no"]
    rows = [
        [
            rich(
                strong(f"{_(RIG_WORDS[check.verdict])}{bring}"), plain(f" {rig.machines}.{where}"), style=CELL
            )
        ],
        *[[rich(strong(_("No:") + " "), plain(told(why, convert=False)), style=CELL)] for why in against],
        *[
            [rich(strong(_("Look:") + " "), plain(upper_first(told(look, convert=False))), style=CELL)]
            for look in check.look
        ],
    ]
    loud = check.verdict == "no"
    yield Table(
        rows,
        colWidths=[TEXT_WIDTH],
        style=[
            ("BOX", (0, 0), (-1, -1), 2.4 if loud else 0.8, INK),
            ("BACKGROUND", (0, 0), (-1, 0), STRAW_WASH if loud else WHITE),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
        ],
        hAlign="LEFT",
        spaceAfter=6,
        splitInRow=1,
    )


def _section(section: Section) -> list[Flowable]:
    """A box to tick for each line; the heading stays with the first."""
    convert = section.key not in OF_MACHINES
    shown = by_label if section.key == "products" else amount
    first = _ticked(section.lines[:1], convert, shown)
    first.spaceAfter = 0
    rest = [_ticked(section.lines[1:], convert, shown)] if section.lines[1:] else [gap(6)]
    return [KeepTogether([p(told(section.title), H3), first]), *rest]


def _ticked(lines: Sequence[LoadLine], convert: bool, shown: Callable[[Number, str], str]) -> Table:
    style: list[tuple] = []
    rows = []
    for at, line in enumerate(lines):
        about = "; ".join(told(said, convert=convert) for said in (line.where, line.note) if said)
        much = shown(line.amount.value, line.amount.unit) if line.amount else ""
        what = rich(plain(upper_first(told(line.what, convert=convert))), style=CELL)
        rows.append(["", what, p(much, CELL_BOLD), rich(quiet(about), style=CELL_SMALL)])
        style.append(("BOX", (0, at), (0, at), 0.6, INK))
        if not (much or about):
            style.append(("SPAN", (1, at), (3, at)))
    return table((), rows, (12, 190, 76, 190), tight=True, extra=style)
