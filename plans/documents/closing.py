"""What was found and accepted, the terms, and the place to sign."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from reportlab.platypus import Flowable, KeepTogether, Table

from plans.documents.fonts import SANS
from plans.documents.look import (
    CELL,
    CELL_BOLD,
    H2,
    INK,
    SMALL,
    TEXT_WIDTH,
    gap,
    p,
    paragraphs,
    part,
    plain,
    quiet,
    rich,
    section,
    strong,
    table,
)
from plans.documents.manner import _
from plans.documents.told import told
from plans.documents.words import day, sentence, source, usd
from plans.planning.plan import Finding, Plan

TERM = CELL.clone("term", spaceAfter=4)


@dataclass(frozen=True, slots=True, kw_only=True)
class AcceptedCaution:
    """Who accepted which caution and why; `key` is that of the finding."""

    key: str
    accepted_by: str
    reason: str
    on: date


def _finding(finding: Finding, accepted: AcceptedCaution | None) -> str:
    said = [
        strong(sentence(told(finding.message))),
        plain(f" {sentence(told(finding.reason))} {sentence(told(finding.way_out))}".rstrip()),
    ]
    if finding.source.strip():
        cited = source(finding.source).rstrip(".")
        said.append(quiet(" " + _("Source: {source}.").format(source=cited)))
    if accepted:
        settled = _("Accepted by {name} on {day}: {reason}").format(
            name=accepted.accepted_by, day=day(accepted.on), reason=sentence(accepted.reason)
        )
        said.append(plain(f"\n{settled}"))
    elif finding.severity == "stop":
        said.append(plain("\n" + _("This must be settled before the proposal can be offered.")))
    elif finding.severity == "caution":
        said.append(plain("\n" + _("Not yet accepted.")))
    return "".join(said)


def the_findings(
    plan: Plan, accepted: Sequence[AcceptedCaution], findings: Sequence[Finding] | None = None
) -> list[Flowable]:
    """Stops and cautions, of the plan or those given; notes are for the consultant's own screen."""
    every = plan.findings if findings is None else findings
    found = [finding for finding in every if finding.severity != "note"]
    if not found:
        return []
    by_key = {caution.key: caution for caution in accepted}
    rows = [
        [
            p(told(finding.severity.capitalize()), CELL_BOLD),
            rich(_finding(finding, by_key.get(finding.key)), style=CELL),
        ]
        for finding in found
    ]
    return [
        *section(_("Points to know"), 160),
        p(
            _(
                "The plan was checked against the ground, the mix, the products and the season. These points "
                "came up."
            )
        ),
        table([], rows, [58, 410], tight=True),
    ]


def usual_terms(until: date, *, draft: bool = False) -> tuple[str, ...]:
    """What stands with every proposal, a paragraph each."""
    standing = (
        _("This is a draft for talking over. It is not an offer, and it is not to be signed.")
        if draft
        else _(
            "This is a proposal for the work listed in it, at the price printed, on the acres and "
            "conditions described. It is open until {day} and becomes an agreement when both have signed "
            "it, or when you agree to it on the private page that we keep for you."
        ).format(day=day(until))
    )
    return (
        standing + " " + _("Work that is not listed is priced and agreed in writing first."),
        _(
            "Dates are windows in a normal year. Weather, soil and equipment move them; when a step is "
            "missed that cannot be made good the same season, the steps after it move with it and we tell "
            "you what that changes."
        ),
        _(
            "No particular stand, number of plants, wildlife, yield or payment from a program is promised. "
            "Seedlings depend on rain and on what is already in the soil."
        ),
        _(
            "The label of each product governs how, where and by whom it is used; where this proposal and a "
            "label differ, the label holds. Burning, clearing, work near water and work under lines follow "
            "local codes and the advice of those licensed for it, whatever is printed here. Nothing in this "
            "proposal is a permit."
        ),
        _(
            "Please tell us before work starts of anything we cannot see: buried lines and tile, wells, "
            "old dumps, stock, hives and gardens nearby, and what was sprayed on this ground in the last "
            "two years."
        ),
    )


def the_terms(plan: Plan, until: date, *, draft: bool) -> list[Flowable]:
    story = section(_("Terms"), 100)
    story += paragraphs(plan.job.terms.text, TERM)
    if plan.job.terms.text.strip():
        story += part(_("With every proposal"), 60)
    return [*story, *(p(text, TERM) for text in usual_terms(until, draft=draft))]


def place_to_sign(plan: Plan, reference: str, statement: str = "") -> list[Flowable]:
    """Two lines to sign on, under what is agreed to: a proposal's own sentence unless one is given."""
    job = plan.job
    half = TEXT_WIDTH / 2 - 15

    bare = [
        ("FONT", (0, 0), (-1, -1), SANS),
        *[(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP")],
    ]

    def column(name: str, role: str) -> list[Flowable]:
        lines = Table(
            [["", "", ""], [p(_("Signature"), SMALL), "", p(_("Date"), SMALL)]],
            colWidths=[half - 84, 14, 70],
            rowHeights=[36, None],
            hAlign="LEFT",
            style=[*bare, ("LINEBELOW", (0, 0), (0, 0), 0.7, INK), ("LINEBELOW", (2, 0), (2, 0), 0.7, INK)],
        )
        return [p(name, CELL_BOLD), p(role, SMALL), lines]

    signs = Table(
        [[column(job.client.name, _("Landowner")), "", column(job.practice.name, _("For the practice"))]],
        colWidths=[half, 30, half],
        style=[*bare, ("VALIGN", (0, 0), (-1, -1), "TOP")],
    )
    price = usd(plan.estimate.total.total.dollars)
    return [
        KeepTogether(
            [
                p(_("Agreed"), H2),
                p(
                    statement
                    or _(
                        "We have read this proposal, {reference}, for {price} in all, with its windows, "
                        "cautions and terms, and agree to it."
                    ).format(reference=reference, price=price)
                ),
                gap(8),
                signs,
            ]
        )
    ]
