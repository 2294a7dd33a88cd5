"""Whether a proposal is still what was offered and agreed to: each check apart, with what it found."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext, gettext_lazy

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
        return {True: gettext("holds"), False: gettext("differs"), None: gettext("cannot be made")}[
            self.holds
        ]


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
        gettext("The stored PDF has the SHA-256 noted at offering, {sha256}.").format(sha256=proposal.sha256),
        gettext(
            "The stored PDF has the SHA-256 {stored}; at offering {sha256} was noted. It was changed since."
        ).format(stored=stored, sha256=proposal.sha256),
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
        yield Check(
            None, gettext("Nobody has agreed to this revision; what is proved is the document as offered.")
        )
        return
    who = gettext("{name} on {day}, {how}").format(
        name=agreement.name,
        day=day(agreement.signed_on),
        how=agreement.get_how_display().lower(),
    )
    yield _same(
        agreement.pdf_sha256 == stored,
        gettext("It is the document agreed to by {who}.").format(who=who),
        gettext(
            "{who} agreed to a document with the SHA-256 {pdf_sha256}; the stored one is another."
        ).format(who=who, pdf_sha256=agreement.pdf_sha256),
    )
    yield _same(
        agreement.inputs_sha256 == sha256_of(proposal.inputs),
        gettext("The frozen inputs are those of the agreement."),
        gettext("The frozen inputs were changed since the agreement."),
    )
    yield _same(
        agreement.result_sha256 == sha256_of(proposal.result + proposal.before),
        gettext("The frozen result is that of the agreement."),
        gettext("The frozen result was changed since the agreement."),
    )
    for scan in agreement.scans.all():
        yield _same(
            scan.sha256 == sha256_of(bytes(scan.content)),
            gettext("The scan entered by {name} has the SHA-256 noted then.").format(
                name=scan.entered_by_name
            ),
            gettext("The scan entered by {name} was changed since.").format(name=scan.entered_by_name),
        )


def _of_chain() -> Check:
    found = chain()
    return _same(
        found.broken_at is None,
        gettext("The practice’s agreements follow on each other unbroken, {length} in all.").format(
            length=found.length
        ),
        gettext("The practice’s agreements are broken at number {broken_at}: {why}.").format(
            broken_at=found.broken_at, why=found.why
        ),
    )


def _of_copy(copy: bytes, agreed: str) -> Check:
    given = sha256_of(copy)
    return _same(
        given == agreed,
        gettext("The file given is that document, byte for byte."),
        gettext("The file given has the SHA-256 {given} and is not that document.").format(given=given),
    )


OTHER_PROGRAM = gettext_lazy("the program has changed since, and may plan or print otherwise")


def _planned_again(proposal: Proposal, same_program: bool) -> Check:
    """The frozen result against a fresh one of the frozen inputs."""
    try:
        file = wire.read_job_file(proposal.inputs)
        fresh = wire.plan_json(plan_job(file.job, file.prices, proposal.offered_on))
    except ValueError as unreadable:
        why = str(unreadable).splitlines()[0]
        return Check(
            False if same_program else None,
            gettext("The frozen inputs cannot be planned again: {why}.").format(why=why),
        )
    if fresh == proposal.result:
        return Check(
            True, gettext("The frozen inputs, planned again, give the frozen result to the last figure.")
        )
    if same_program:
        return Check(
            False, gettext("The frozen inputs, planned again by the same program, give another result.")
        )
    return Check(
        None,
        gettext("The frozen inputs, planned again, give another result: {why}.").format(why=OTHER_PROGRAM),
    )


def _printed_again(proposal: Proposal, same_program: bool) -> Check:
    """The stored bytes against a fresh print of the frozen result."""
    if not same_program:
        return Check(
            None,
            gettext("It cannot be printed again to the byte: {why}.").format(why=OTHER_PROGRAM),
        )
    printed = reprinted(proposal)
    if printed is None:
        return Check(
            False, gettext("The frozen result cannot be read any more, though the program is the same.")
        )
    return _same(
        printed == bytes(proposal.pdf),
        gettext("The frozen result, printed again, gives the stored PDF byte for byte."),
        gettext("The frozen result, printed again by the same program, gives another PDF."),
    )
