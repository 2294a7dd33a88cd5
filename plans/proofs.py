"""Whether a proposal is still what was offered and agreed to: each check apart, with what it found."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from plans.agreements import agreement_of, chain, sha256_of
from plans.documents.words import day
from plans.models import Agreement, Proposal
from plans.planning import wire
from plans.planning.planner import plan_job
from plans.program import program_sha256
from plans.reprints import reprinted


@dataclass(frozen=True, slots=True)
class Check:
    holds: bool | None
    """None where it cannot be made."""
    said: str

    @property
    def word(self) -> str:
        return {True: "holds", False: "differs", None: "cannot be made"}[self.holds]


def proof(proposal: Proposal, copy: bytes | None = None) -> list[Check]:
    """Every check of one proposal in the practice's scope; `copy` is a PDF that somebody holds."""
    return list(_checks(proposal, copy))


def sound(checks: list[Check]) -> bool:
    return all(check.holds is not False for check in checks)


def _checks(proposal: Proposal, copy: bytes | None) -> Iterator[Check]:
    agreement = agreement_of(proposal)
    stored = sha256_of(bytes(proposal.pdf))
    yield _same(
        stored == proposal.sha256,
        f"The stored PDF has the SHA-256 noted at offering, {proposal.sha256}.",
        f"The stored PDF has the SHA-256 {stored}; at offering {proposal.sha256} was noted. "
        "It was changed since.",
    )
    yield from _of_agreement(proposal, agreement, stored)
    yield _of_chain()
    if copy is not None:
        yield _of_copy(copy, agreement.pdf_sha256 if agreement else proposal.sha256)
    same_program = proposal.program_sha256 == program_sha256()
    yield _planned_again(proposal, same_program)
    yield _printed_again(proposal, same_program)


def _same(holds: bool, yes: str, no: str) -> Check:
    return Check(holds, yes if holds else no)


def _of_agreement(proposal: Proposal, agreement: Agreement | None, stored: str) -> Iterator[Check]:
    if agreement is None:
        yield Check(None, "Nobody has agreed to this revision; what is proved is the document as offered.")
        return
    who = f"{agreement.name} on {day(agreement.signed_on)}, {agreement.get_how_display().lower()}"
    yield _same(
        agreement.pdf_sha256 == stored,
        f"It is the document agreed to by {who}.",
        f"{who} agreed to a document with the SHA-256 {agreement.pdf_sha256}; the stored one is another.",
    )
    yield _same(
        agreement.inputs_sha256 == sha256_of(proposal.inputs),
        "The frozen inputs are those of the agreement.",
        "The frozen inputs were changed since the agreement.",
    )
    yield _same(
        agreement.result_sha256 == sha256_of(proposal.result + proposal.before),
        "The frozen result is that of the agreement.",
        "The frozen result was changed since the agreement.",
    )
    for scan in agreement.scans.all():
        yield _same(
            scan.sha256 == sha256_of(bytes(scan.content)),
            f"The scan entered by {scan.entered_by_name} has the SHA-256 noted then.",
            f"The scan entered by {scan.entered_by_name} was changed since.",
        )


def _of_chain() -> Check:
    found = chain()
    return _same(
        found.broken_at is None,
        f"The practice’s agreements follow on each other unbroken, {found.length} in all.",
        f"The practice’s agreements are broken at number {found.broken_at}: {found.why}.",
    )


def _of_copy(copy: bytes, agreed: str) -> Check:
    given = sha256_of(copy)
    return _same(
        given == agreed,
        "The file given is that document, byte for byte.",
        f"The file given has the SHA-256 {given} and is not that document.",
    )


OTHER_PROGRAM = "the program has changed since, and may plan or print otherwise"


def _planned_again(proposal: Proposal, same_program: bool) -> Check:
    """The frozen result against a fresh one of the frozen inputs."""
    try:
        file = wire.read_job_file(proposal.inputs)
        fresh = wire.plan_json(plan_job(file.job, file.prices, proposal.offered_on))
    except ValueError as unreadable:
        why = str(unreadable).splitlines()[0]
        return Check(False if same_program else None, f"The frozen inputs cannot be planned again: {why}.")
    if fresh == proposal.result:
        return Check(True, "The frozen inputs, planned again, give the frozen result to the last figure.")
    if same_program:
        return Check(False, "The frozen inputs, planned again by the same program, give another result.")
    return Check(None, f"The frozen inputs, planned again, give another result: {OTHER_PROGRAM}.")


def _printed_again(proposal: Proposal, same_program: bool) -> Check:
    """The stored bytes against a fresh print of the frozen result."""
    if not same_program:
        return Check(None, f"It cannot be printed again to the byte: {OTHER_PROGRAM}.")
    printed = reprinted(proposal)
    if printed is None:
        return Check(False, "The frozen result cannot be read any more, though the program is the same.")
    return _same(
        printed == bytes(proposal.pdf),
        "The frozen result, printed again, gives the stored PDF byte for byte.",
        "The frozen result, printed again by the same program, gives another PDF.",
    )
