"""What of a plan a client may fetch from the client's page, as PDFs. A further kind is one more source."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial
from itertools import chain

from django.utils.translation import gettext as _

from plans.models import Plan, Proposal
from plans.selectors import revisions_of


@dataclass(frozen=True, slots=True)
class Shared:
    """A document that a client sees listed; its bytes are read when it is fetched."""

    key: str
    """Small letters, digits and hyphens: its address and the stem of its file's name."""
    title: str
    on: date
    pdf: Callable[[], bytes]


def title_of(proposal: Proposal) -> str:
    if proposal.is_change_order:
        return _("Change order {number}").format(number=proposal.number)
    return _("Proposal {number}, revision {revision}").format(
        number=proposal.number, revision=proposal.revision
    )


def key_of(proposal: Proposal) -> str:
    if proposal.is_change_order:
        return f"change-order-{proposal.number}"
    return f"proposal-{proposal.number}-revision-{proposal.revision}"


def proposals(plan: Plan) -> Iterable[Shared]:
    """All that was offered, the latest first: every revision, and the change orders."""
    for proposal in revisions_of(plan).order_by("-number"):
        yield Shared(
            key=key_of(proposal),
            title=title_of(proposal),
            on=proposal.offered_on,
            pdf=partial(stored, proposal.pk),
        )


def stored(pk: int) -> bytes:
    return bytes(Proposal.objects.only("pdf").get(pk=pk).pdf)


SOURCES: tuple[Callable[[Plan], Iterable[Shared]], ...] = (proposals,)


def shared_with_client(plan: Plan) -> list[Shared]:
    return list(chain.from_iterable(source(plan) for source in SOURCES))


def shared_document(plan: Plan, key: str) -> Shared | None:
    return next((one for one in shared_with_client(plan) if one.key == key), None)
