"""The proposal as a PDF: from the cover to the workings."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from reportlab.platypus import NextPageTemplate, PageBreak

from plans.documents.closing import AcceptedCaution, place_to_sign, the_findings, the_terms
from plans.documents.coming import the_years, what_comes
from plans.documents.cost_share import cost_share
from plans.documents.cover import the_cover
from plans.documents.ground import the_fields
from plans.documents.letter import cover_letter
from plans.documents.look import foot
from plans.documents.manner import _, in_its_manner
from plans.documents.own_words import OwnWords
from plans.documents.page import Running, build
from plans.documents.price import by_year, payments, price_by_field, what_could_change_it
from plans.documents.season import why_these_dates
from plans.documents.side_by_side import the_options
from plans.documents.soil import soil_loss
from plans.documents.sown import the_mixes
from plans.documents.steps import in_full, the_work
from plans.documents.workings import the_workings
from plans.planning.beside import NOTHING, Beside
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
    beside: Beside = NOTHING,
) -> bytes:
    """PDF of the plan in the manner of its job; the same arguments give the same bytes.

    `number` is empty for a draft. `logo` is a PNG or JPEG. Raises ValueError when it cannot be read.
    """
    job = plan.job
    draft = not number
    reference = (
        _("Draft proposal, not an offer")
        if draft
        else _("Proposal {number}, revision {revision}").format(number=number, revision=revision)
    )
    until = offered_on + timedelta(days=job.terms.valid_days)
    own = OwnWords(plan, until)
    fields, coming = the_fields(plan, beside), what_comes(plan)
    story = [
        *the_cover(plan, number=number, revision=revision, offered_on=offered_on, until=until, logo=logo),
        NextPageTemplate("first"),
        PageBreak(),
        *cover_letter(
            plan,
            reference=reference,
            offered_on=offered_on,
            until=until,
            logo=logo,
            draft=draft,
            own=own,
        ),
        PageBreak(),
        *(fields if coming else own.under("outcome", fields)),
        *own.under("outcome", coming),
        *own.under("schedule", the_years(plan)),
        *why_these_dates(plan),
        *own.under("work", the_work(plan)),
        *own.under("mix", the_mixes(plan)),
        *soil_loss(plan),
        *own.under("price", by_year(plan)),
        *price_by_field(plan),
        *own.under("payments", payments(plan)),
        *what_could_change_it(plan, beside.moves),
        *the_options(plan, beside.options),
        *own.under("cost_share", cost_share(plan)),
        *in_full(plan),
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
        bare_pages=2,
    )
    return build(story, running)
