"""What of a plan a client may fetch from the client's page, as PDFs. A further kind is one more source."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial
from itertools import chain

from django.utils.translation import gettext as _

from plans.models import Plan, Proposal


@dataclass(frozen=True, slots=True)
class Shared:
    """A document that a client sees listed; its bytes are read when it is fetched."""

    key: str
    """Small letters, digits and hyphens: its address and the stem of its file's name."""
    title: str
    on: date
    pdf: Callable[[], bytes]


def proposals(plan: Plan) -> Iterable[Shared]:
    """Every revision that was offered, the latest first."""
    for proposal in plan.proposals.defer("inputs", "result", "pdf").order_by("-revision"):
        yield Shared(
            key=f"proposal-{proposal.number}-revision-{proposal.revision}",
            title=_("Proposal {number}, revision {revision}").format(
                number=proposal.number, revision=proposal.revision
            ),
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
