"""Cost-share as the client's own matter: what practice standards ask, and what of it this plan meets."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from plans.documents.look import BODY, CELL, CELL_SMALL, FINE, p, plain, quiet, rich, section, strong, table
from plans.documents.manner import _, marked
from plans.documents.price import about_cost_share
from plans.documents.told import told
from plans.documents.words import listed, lower_first, source, unique
from plans.planning.plan import Plan
from plans.planning.standards import LACKS, MEETS, UNTOLD, Judged, Standard, standards

VERDICTS = {MEETS: marked("Meets"), LACKS: marked("Does not meet"), UNTOLD: marked("Cannot be told from it")}


def _asked(one: Judged) -> str:
    if not one.because:
        return told(one.asks)
    steps = listed(lower_first(told(step)) for step in one.because)
    return _("{asks} ({steps})").format(asks=told(one.asks), steps=steps)


def verdicts(found: Standard) -> list[tuple[str, str]]:
    """What of a standard the plan meets, does not meet, or does not tell; with those heads."""
    return [
        (_(head), f"{'; '.join(_asked(one) for one in judged)}.")
        for verdict, head in VERDICTS.items()
        if (judged := found.of(verdict))
    ]


def _stands(found: Standard) -> str:
    return "<br/>".join(strong(f"{head}: ") + plain(text) for head, text in verdicts(found))


def about_standards() -> str:
    return _(
        "Programs pay by conservation practice standard of the Natural Resources Conservation "
        "Service (NRCS), under a contract made with you before work begins. This is what each asks, "
        "held against this plan. It promises nothing: the local office decides, by its state’s "
        "edition of each standard."
    )


def _named(found: Standard, everywhere: int) -> str:
    name = strong(found.number) + plain(f" {found.title}")
    return name if len(found.fields) == everywhere else name + quiet(f"\n{listed(found.fields)}")


def _sources(found: Sequence[Standard]) -> list[Flowable]:
    """What was read is cited; what is from memory says so by its number."""
    read = unique(source(one.source) for row in found for one in row.judged if "memory" not in one.source)
    remembered = [row.number for row in found if any("memory" in one.source for one in row.judged)]
    said = [_("Read: {sources}.").format(sources="; ".join(read))] if read else []
    if remembered:
        said.append(
            _("What these ask is in part or whole from memory of the trade: {numbers}.").format(
                numbers=listed(remembered)
            )
        )
    return [p(" ".join(said), CELL_SMALL)]


def cost_share(plan: Plan) -> list[Flowable]:
    """What a program may pay, and the standards that the work may fall under; empty without either."""
    found = standards(plan)
    paid = about_cost_share(plan)
    if not found and not paid:
        return []
    rows: list[list[object]] = [
        [
            rich(_named(one, len(plan.job.conversions)), style=CELL),
            rich(_stands(one), style=FINE),
        ]
        for one in found
    ]
    return [
        *section(_("Cost-share, a matter of your own"), 140),
        p(about_standards(), BODY),
        *([p(paid, BODY)] if paid else []),
        *(
            [table([_("Standard"), _("What it asks, and this plan")], rows, [138, 330], tight=True)]
            if rows
            else []
        ),
        *(_sources(found) if found else []),
    ]
