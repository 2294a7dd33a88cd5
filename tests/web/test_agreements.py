"""Signatures on paper, what may be scanned, and the proof that what was agreed to is unchanged."""

from __future__ import annotations

import io
from datetime import timedelta
from pathlib import Path
from typing import Any
from unittest.mock import patch

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.db import transaction
from django_scopes import scope
from PIL import Image
from pypdf import PdfWriter

from consulting.append_only import Recorded
from consulting.clock import today_for
from plans import proofs
from plans.agreements import agree_on_paper, chain
from plans.models import Agreement, AgreementScan, Plan, State, Visit
from plans.services import Refused
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field, tampered_with
from tests.plan_factories import (
    TODAY,
    make_agreed,
    make_conversion,
    make_offered,
    make_plan,
    make_ready_plan,
    make_shown,
)


@pytest.fixture
def offered(cast: Cast) -> Any:
    """An offered plan whose proposal is not printed; the rest happens on some later day."""
    link, _ = make_shown(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        yield Plan.objects.get(pk=link.plan_id)


def pdf(pages: int = 1, password: str = "") -> bytes:
    writer, out = PdfWriter(), io.BytesIO()
    for _ in range(pages):
        writer.add_blank_page(612, 792)
    if password:
        writer.encrypt(password)
    writer.write(out)
    return out.getvalue()


def picture() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (1700, 2200), "white").save(out, "PNG")
    return out.getvalue()


def sign(cast: Cast, plan: Plan, paper: bytes | None = None, **values: Any) -> Any:
    data = {"name": "Lena Landowner", "signed_on": today_for(cast.practice).isoformat()} | values
    if paper is not None:
        data["paper"] = SimpleUploadedFile("signed.bin", paper)
    return cast.browser(cast.planner).post(cast.url(f"plans/{plan.pk}/signed/"), data)


@pytest.mark.parametrize(("paper", "kind"), [(pdf(2), "pdf"), (picture(), "jpg")], ids=["pdf", "picture"])
def test_a_signature_on_paper_is_entered_with_its_scan(
    offered: Plan, cast: Cast, paper: bytes, kind: str
) -> None:
    assert sign(cast, offered, paper).headers["Location"] == cast.url(f"plans/{offered.pk}/")
    made = Agreement.objects.get()
    assert (made.how, made.name, made.entered_by_name) == ("paper", "Lena Landowner", str(cast.planner))
    assert made.address is None and made.user_agent == ""
    assert Plan.objects.get().state == State.AGREED and Visit.objects.filter(plan=offered).exists()
    scan = made.scans.get()
    assert (scan.kind, scan.pages) == (kind, 2 if kind == "pdf" else 1)
    assert (bytes(scan.content) == paper) == (kind == "pdf")
    fetched = cast.browser(cast.planner).get(cast.url(f"proposals/agreements/scans/{scan.pk}/"))
    assert fetched.content == bytes(scan.content)
    assert fetched.headers["Content-Type"] == AgreementScan.KINDS[kind]
    assert fetched.headers["Content-Disposition"].startswith("attachment")
    assert fetched.headers["X-Content-Type-Options"] == "nosniff"


@pytest.mark.parametrize(
    ("paper", "said"),
    [
        (b"%PDF-1.7 and then nothing of the kind", "cannot be opened"),
        (pdf(password="secret"), "locked by a password"),
        (pdf(41), "at most 40"),
        (b"%PDF-" + bytes(8_000_000), "larger than 8 MB"),
        (b"<html><script>alert(1)</script>", "not a picture"),
        (b"", "empty"),
    ],
    ids=["broken", "locked", "long", "large", "html", "empty"],
)
def test_what_is_no_scan_is_refused_with_a_reason(offered: Plan, cast: Cast, paper: bytes, said: str) -> None:
    answer = sign(cast, offered, paper, name="Lena & Co")
    page = answer.content.decode()
    assert answer.status_code == 422 and said in page and "Lena &amp; Co" in page
    assert Plan.objects.get().state == State.OFFERED and not Agreement.objects.exists()


def test_a_day_before_the_offer_or_after_today_is_no_day_of_signing(offered: Plan, cast: Cast) -> None:
    proposal = offered.proposals.get()
    for day in (proposal.offered_on - timedelta(days=1), today_for(cast.practice) + timedelta(days=1)):
        answer = sign(cast, offered, signed_on=day.isoformat())
        assert answer.status_code == 422 and "choose a day" in answer.content.decode()
    assert sign(cast, offered, signed_on="").status_code == 422
    assert sign(cast, offered, signed_on=proposal.offered_on.isoformat()).status_code == 302


def test_a_scan_can_be_added_later_and_an_agreement_is_made_once(offered: Plan, cast: Cast) -> None:
    sign(cast, offered)
    assert sign(cast, offered).status_code == 302  # says that it is agreed to already
    made = Agreement.objects.get()
    url = cast.url(f"proposals/agreements/{made.number}/")
    planner = cast.browser(cast.planner)
    assert "No scan" in planner.get(url).content.decode()
    assert planner.post(f"{url}scans/", {}).status_code == 422
    planner.post(f"{url}scans/", {"paper": SimpleUploadedFile("later.pdf", pdf())})
    assert made.scans.get().pages == 1
    with pytest.raises(Recorded):
        made.delete()
    with pytest.raises(Recorded):
        Agreement.objects.update(name="Another")


def test_a_plan_agreed_before_gets_its_agreement_and_stays_as_it_is(cast: Cast) -> None:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        visits = Visit.objects.count()
        sign(cast, plan)
        assert Agreement.objects.get().plan_id == plan.pk
        assert Plan.objects.get().state == State.AGREED and Visit.objects.count() == visits


def test_a_draft_cannot_be_signed(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice), pytest.raises(Refused):
        agree_on_paper(plan=plan, user=cast.owner, name="Lena", signed_on=TODAY, paper=None, today=TODAY)


# The proof


@pytest.fixture
def agreed(cast: Cast) -> Any:
    """A proposal that was printed, signed on paper with a scan, and is the second agreement of three."""
    plans = [make_ready_plan(cast.practice)]
    with scope(practice=cast.practice):
        mix = plans[0].conversions.get().mix
    for _ in range(2):
        farm = make_farm(make_client(cast.practice))
        plans.append(make_plan(farm))
        make_conversion(plans[-1], make_field(farm), mix)  # type: ignore[arg-type]
    first, middle, last = plans
    make_shown(first, cast.owner)
    make_offered(middle, cast.owner)
    make_shown(last, cast.owner)
    with scope(practice=cast.practice):
        for plan in plans:
            sign(cast, plan, pdf())
        yield Agreement.objects.select_related("proposal").get(number=2)


def prove(agreement: Agreement, capsys: Any, *more: str) -> tuple[int, str, str]:
    number, slug = str(agreement.proposal.number), agreement.practice.slug
    try:
        call_command("prove_proposal", number, "--practice", slug, *more)
        code = 0
    except SystemExit as left:
        code = int(left.code or 0)
    out, err = capsys.readouterr()
    return code, out, err


def test_what_was_agreed_to_is_proved_unchanged(agreed: Agreement, capsys: Any, tmp_path: Path) -> None:
    copy = tmp_path / "copy.pdf"
    copy.write_bytes(bytes(agreed.proposal.pdf))
    code, out, _ = prove(agreed, capsys, "--file", str(copy))
    assert code == 0 and "Nothing differs." in out
    assert [line.split()[0] for line in out.splitlines()[1:-1]] == ["holds"] * 9
    assert "byte for byte" in out and "to the last figure" in out
    copy.write_bytes(copy.read_bytes() + b"\n")
    code, out, err = prove(agreed, capsys, "--file", str(copy))
    assert code == 1 and "is not that document" in out and "1 of 9 checks differ" in err


TAMPERING: list[tuple[str, dict[str, Any], str]] = [
    ("proposal", {"pdf": b"%PDF-1.7 another"}, "The stored PDF has the SHA-256"),
    ("proposal", {"inputs": "{}"}, "inputs were changed"),
    ("proposal", {"result": "{}"}, "result was changed"),
    ("agreement", {"name": "Somebody Else"}, "broken at number 2: it says something else"),
    ("agreement", {"total_usd": 1}, "broken at number 2"),
    ("scan", {"content": b"another"}, "was changed since"),
]


def test_a_change_past_the_site_comes_to_light(agreed: Agreement, capsys: Any) -> None:
    rows = {"proposal": agreed.proposal, "agreement": agreed, "scan": agreed.scans.get()}
    for what, values, said in TAMPERING:
        with transaction.atomic():
            tampered_with(rows[what], **values)
            code, out, err = prove(agreed, capsys)
            transaction.set_rollback(True)
        assert code == 1 and said in out and "not proved unchanged" in err, values
    assert prove(agreed, capsys)[0] == 0


def test_one_taken_out_of_the_chain_comes_to_light(agreed: Agreement) -> None:
    assert chain().length == 3 and chain().broken_at is None
    tampered_with(agreed, number=9)
    assert chain().broken_at == 2 and "gone" in chain().why


def test_another_program_cannot_print_the_same_and_says_so(agreed: Agreement, cast: Cast) -> None:
    with patch.object(proofs, "program_sha256", lambda: "of another"):
        checks = proofs.proof(agreed.proposal)
        assert proofs.sound(checks) and "program has changed" in checks[-1].said
    page = cast.browser(cast.owner).get(cast.url("proposals/agreements/2/?check")).content.decode()
    assert "Nothing differs." in page


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["7", "--practice", "kestrel"], "no proposal 7"),
        (["1", "--practice", "nowhere"], "no practice"),
        (["1", "--practice", "kestrel", "--file", "/no/such.pdf"], "cannot be read"),
    ],
)
def test_what_cannot_be_asked_is_said(cast: Cast, capsys: Any, asked: list[str], said: str) -> None:
    with pytest.raises(SystemExit) as left:
        call_command("prove_proposal", *asked)
    assert left.value.code == 2 and said in capsys.readouterr().err
