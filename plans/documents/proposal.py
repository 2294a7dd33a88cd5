"""The proposal as a PDF: from the cover letter to the workings."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from reportlab.platypus import PageBreak

from plans.documents.closing import AcceptedCaution, place_to_sign, the_findings, the_terms
from plans.documents.ground import the_fields, the_mixes, what_we_do
from plans.documents.letter import cover_letter
from plans.documents.look import foot
from plans.documents.manner import in_its_manner
from plans.documents.own_words import OwnWords
from plans.documents.page import Running, build, wide_pages
from plans.documents.price import by_year, cost_share, payments, the_lines, what_may_come
from plans.documents.schedule import the_schedule, the_years_ahead, why_these_dates
from plans.documents.soil import soil_loss
from plans.documents.workings import the_workings
from plans.planning.plan import Plan

__all__ = ["AcceptedCaution", "proposal_pdf"]


@in_its_manner
def proposal_pdf(
    plan: Plan,
    *,
    number: str,
    revision: int,
    offered_on: date,
    logo: bytes | None = None,
    accepted_cautions: Sequence[AcceptedCaution] = (),
) -> bytes:
    """PDF of the plan in the manner of its job; the same arguments give the same bytes.

    `number` is empty for a draft. `logo` is a PNG or JPEG. Raises ValueError when it cannot be read.
    """
    job = plan.job
    draft = not number
    reference = "Draft proposal, not an offer" if draft else f"Proposal {number}, revision {revision}"
    until = offered_on + timedelta(days=job.terms.valid_days)
    years = the_years_ahead(plan)
    own = OwnWords(plan, until)
    story = [
        *cover_letter(
            plan,
            reference=reference,
            offered_on=offered_on,
            until=until,
            logo=logo,
            draft=draft,
            own=own,
        ),
        *(wide_pages(years) if years else [PageBreak()]),
        *own.under("outcome", the_fields(plan)),
        *own.under("work", what_we_do(plan)),
        *own.under("mix", the_mixes(plan)),
        *why_these_dates(plan),
        *soil_loss(plan),
        *own.under("schedule", the_schedule(plan)),
        *own.under("price", by_year(plan)),
        *what_may_come(plan),
        *own.under("payments", payments(plan)),
        *own.under("cost_share", cost_share(plan)),
        *the_lines(plan),
        *own.under("cautions", the_findings(plan, accepted_cautions)),
        *the_terms(plan, until, draft=draft),
        *([] if draft else place_to_sign(plan, reference)),
        *the_workings(plan),
    ]
    running = Running(
        title=f"{reference}: {job.title}",
        author=job.practice.name,
        head_left=f"{job.client.name}, {job.farm.name}",
        head_right=reference,
        foot=foot(job.practice.name),
    )
    return build(story, running)
