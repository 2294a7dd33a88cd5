"""Founding a practice, its details and terms, its people, and the price list it begins with."""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client as Browser
from django_scopes import scope
from PIL import Image

from consulting import images, services, starter, tables
from consulting.models import Invitation, Logo, Membership, Practice, Product, SeedPrice, WorkRate
from consulting.outbox import send_due
from consulting.services import practice_found
from tests.conftest import Cast
from tests.factories import make_client, make_member, make_practice, make_user

pytestmark = pytest.mark.django_db
ROOT = Path(__file__).parents[2]


def table(path: str) -> list[dict[str, str]]:
    with (ROOT / path).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_founding_makes_an_owner_and_leads_to_the_practice(client: Browser) -> None:
    user = make_user()
    client.force_login(user)
    typed = {"name": "Kestrel Cover Company", "slug": "", "time_zone": "America/Chicago"}
    response = client.post("/practices/new/", typed)
    assert response.headers["Location"] == "/kestrel-cover-company/"
    practice = Practice.objects.get()
    with scope(practice=practice):
        assert [(m.user, m.role) for m in Membership.objects.all()] == [(user, "owner")]


def test_the_starter_list_is_whole_unchecked_and_says_where_from() -> None:
    practice = practice_found(founder=make_user(), name="Kestrel")
    with scope(practice=practice):
        seed = list(SeedPrice.objects.all())
        assert len(seed) >= 25
        for model in starter.TABLES:
            rows = list(model.objects.all())
            assert rows and all(row.unchecked and row.source for row in rows), model
        known = {row["common_name"] for row in table("plans/planning/reference/species.csv")}
        assert {row.species for row in seed} <= known
        usual = {"big bluestem", "little bluestem", "indiangrass", "sideoats grama", "switchgrass", "oats"}
        assert usual <= {row.species for row in seed}
        known = {row["active_ingredient"] for row in table("plans/planning/reference/ingredients.csv")}
        assert {row.active_ingredient for row in Product.objects.all()} <= known
        known = {row["operation"] for row in table("plans/planning/reference/operations.csv")}
        assert {row.operation for row in WorkRate.objects.all()} == known


def test_starter_seed_prices_are_round() -> None:
    practice = practice_found(founder=make_user(), name="Kestrel")
    with scope(practice=practice):
        prices = {row.price_usd_per_lb for row in SeedPrice.objects.all()}
    assert all(price % 2 == 0 or price in (Decimal("0.50"), Decimal(3)) for price in prices)


@pytest.mark.parametrize(
    ("name", "slug"),
    [
        ("Upland & Daughters", "upland-daughters"),
        ("Accounts", "accounts-2"),
        ("Łąka", "aka"),
        ("野草地", "practice-2"),
        ("x" * 200, "x" * 50),
    ],
)
def test_an_address_is_made_from_the_name(name: str, slug: str) -> None:
    assert services.free_slug(name) == slug


def test_a_taken_address_gets_a_number() -> None:
    make_practice(slug="kestrel")
    assert services.free_slug("Kestrel") == "kestrel-2"


@pytest.mark.parametrize("slug", ["accounts", "static", "practices", "admin", "invitation"])
def test_addresses_of_the_site_are_refused(client: Browser, slug: str) -> None:
    client.force_login(make_user())
    response = client.post("/practices/new/", {"name": "K", "slug": slug, "time_zone": "America/Chicago"})
    assert response.status_code == 422
    assert "kept for pages of the site" in response.content.decode()
    assert not Practice.objects.exists()


def test_every_first_word_of_the_sites_addresses_is_kept() -> None:
    from django.urls import get_resolver

    from consulting.models import RESERVED_SLUGS

    firsts = {str(pattern.pattern).split("/")[0] for pattern in get_resolver().url_patterns}
    assert {first for first in firsts if first and "<" not in first} <= RESERVED_SLUGS


def test_a_member_of_two_practices_chooses_and_can_go_over(cast: Cast) -> None:
    make_member(cast.other_practice, "crew", user=cast.owner)
    browser = cast.browser(cast.owner)
    assert "Upland &amp; Daughters" in browser.get("/").content.decode()
    assert 'href="/upland/"' in browser.get(cast.url("clients/")).content.decode()


def details(**changes: str) -> dict[str, str]:
    return {
        "name": "Kestrel & Sons <b>",
        "address": "1 Mill Lane\nOld Prairie",
        "phone": "555 0100",
        "email": "office@example.org",
        "applicator_licence": "Category 1A",
        "time_zone": "America/Denver",
        "locale": "en_US",
        "paper": "letter",
        "measures": "US customary",
        **changes,
    }


def test_details_are_kept_as_typed(cast: Cast) -> None:
    browser = cast.browser(cast.owner)
    assert browser.post(cast.url("practice/"), details()).status_code == 302
    cast.practice.refresh_from_db()
    assert cast.practice.name == "Kestrel & Sons <b>"
    html = browser.get(cast.url("practice/")).content.decode()
    assert "Kestrel &amp; Sons &lt;b&gt;" in html and "Sons <b>" not in html


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"name": ""}, "Name is missing. Fill it in."),
        ({"email": "office"}, "must look like name@example.org"),
        ({"time_zone": "Mars/Olympus"}, "is not a time zone"),
        ({"phone": "5" * 201}, "201 characters long. Keep it to 200"),
        ({"address": "a\x00b"}, "Null characters"),
    ],
)
def test_bad_details_are_named_and_what_was_typed_stays(
    cast: Cast, changes: dict[str, str], said: str
) -> None:
    response = cast.browser(cast.owner).post(cast.url("practice/"), details(**changes))
    html = response.content.decode()
    assert response.status_code == 422
    assert said in html and "Category 1A" in html
    before = cast.practice.name
    cast.practice.refresh_from_db()
    assert cast.practice.name == before


def picture(kind: str = "PNG", size: tuple[int, int] = (300, 100), **save: Any) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, "green").save(out, kind, **save)
    return out.getvalue()


def upload(cast: Cast, raw: bytes, name: str = "logo.png") -> Any:
    return cast.browser(cast.owner).post(
        cast.url("practice/"), {**details(), "logo": SimpleUploadedFile(name, raw)}
    )


def test_a_logo_is_made_anew_without_its_metadata(cast: Cast) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # Orientation: turned by a quarter (Exif 2.3, tag 274)
    exif[0x010E] = "a secret description"
    assert upload(cast, picture("JPEG", exif=exif.tobytes()), "logo.jpg").status_code == 302
    response = cast.browser(cast.crew).get(cast.url("practice/logo.png"))
    assert response.headers["Content-Type"] == "image/png"
    made = Image.open(io.BytesIO(response.content))
    assert (made.format, made.size) == ("PNG", (100, 300))
    assert b"secret" not in response.content
    with scope(practice=cast.practice):
        assert services.logo_png(cast.practice) == response.content


def test_a_large_logo_is_made_smaller(cast: Cast) -> None:
    assert images.as_png(io.BytesIO(picture(size=(3000, 1500)))).width_px == images.LARGEST_SIDE_PX


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a picture we can read"),
        (b"", "empty"),
        (picture()[:60], "not a picture we can read"),
        (picture("BMP"), "not a picture we can read"),
        (picture(size=(5000, 4000)), "5000 × 4000 pixels"),
        (picture("PNG") + b"\x00" * 2_000_000, "larger than 2 MB"),
    ],
    ids=["svg", "empty", "cut short", "other format", "pixels", "bytes"],
)
def test_a_bad_logo_is_refused_in_words(cast: Cast, raw: bytes, said: str) -> None:
    response = upload(cast, raw)
    assert response.status_code == 422
    assert said in response.content.decode()
    with scope(practice=cast.practice):
        assert not Logo.objects.exists()


def test_a_logo_can_be_removed(cast: Cast) -> None:
    upload(cast, picture())
    cast.browser(cast.owner).post(cast.url("practice/logo/remove/"))
    with scope(practice=cast.practice):
        assert not Logo.objects.exists()


def terms(**changes: Any) -> dict[str, Any]:
    return {
        "years": "4", "overhead_pct": "12.5", "pricing": "markup on cost", "pricing_pct": "30",
        "contingency_pct": "5", "discount_pct": "0", "tax_work_pct": "0", "tax_seed_pct": "7.25",
        "tax_materials_pct": "6", "tax_spray_pct": "7.25", "tax_hauling_pct": "0", "cost_share_label": "",
        "cost_share_usd_per_acre": "1,250",
        "stages_share_pct": ["40", "60", ""], "stages_label": ["Signing", "Seeding", ""],
        "stages_due": ["on signing", "", ""], "valid_days": "45", "carrier_gal_per_acre": "15",
        "tank_gal": "200", "terms_text": "As typed.", **changes,
    }  # fmt: skip


def test_terms_are_kept(cast: Cast) -> None:
    assert cast.browser(cast.owner).post(cast.url("practice/terms/"), terms()).status_code == 302
    cast.practice.refresh_from_db()
    assert (cast.practice.years, cast.practice.tax_seed_pct) == (4, 7.25)
    assert cast.practice.cost_share_usd_per_acre == Decimal("1250.00")
    assert cast.practice.stages == [
        {"label": "Signing", "share_pct": 40, "due": "on signing"},
        {"label": "Seeding", "share_pct": 60, "due": ""},
    ]


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"stages_share_pct": ["40", "50", ""]}, "The payment stages sum to 90 %. Make them sum to 100 %."),
        ({"stages_share_pct": ["40", "sixty", ""]}, "share of payment stage 2 must be a number"),
        ({"stages_share_pct": ["40", "nan", ""]}, "share of payment stage 2 must be over 0"),
        ({"stages_label": ["Signing", "", ""]}, "Payment stage 2 has no name"),
        ({"pricing": "margin on price", "pricing_pct": "100"}, "A margin on price must be under 100 %"),
        ({"years": "6"}, "Years must be 5 or less."),
        ({"years": "4.5"}, "Years must be a whole number"),
        ({"overhead_pct": "-1"}, "Overhead must be 0 or more."),
        ({"tank_gal": "inf"}, "Sprayer tank must be a number"),
        ({"pricing": "guess"}, "Select a valid choice"),
    ],
)
def test_bad_terms_are_named(cast: Cast, changes: dict[str, Any], said: str) -> None:
    response = cast.browser(cast.owner).post(cast.url("practice/terms/"), terms(**changes))
    html = response.content.decode()
    assert response.status_code == 422 and said in html
    assert "As typed." in html and 'value="on signing"' in html
    cast.practice.refresh_from_db()
    assert cast.practice.years == 5


def invite(cast: Cast, email: str = "New@Example.org", role: str = "crew") -> Any:
    return cast.browser(cast.owner, proven=True).post(
        cast.url("practice/people/invite/"), {"email": email, "role": role}
    )


def link_in(mail: Any) -> str:
    return re.search(r"http://testserver(/invitation/\S+)", mail.body)[1]  # type: ignore[index]


def test_an_invitation_is_taken_up_by_whom_it_was_for(cast: Cast, mailoutbox: list[Any]) -> None:
    assert invite(cast, role="planner").status_code == 302
    assert send_due() == {"sent": 1}
    assert mailoutbox[0].to == ["new@example.org"]
    link = link_in(mailoutbox[0])
    assert Browser().get(link).headers["Location"].startswith("/accounts/login/?next=/invitation/")
    wrong = cast.browser(cast.stranger).post(link)
    assert wrong.status_code == 410 and "This invitation is for new@example.org" in wrong.content.decode()
    new = make_user("new@example.org")
    browser = cast.browser(new)
    assert "asks you to join as planner" in browser.get(link).content.decode()
    assert browser.post(link).headers["Location"] == cast.url()
    with scope(practice=cast.practice):
        assert Membership.objects.get(user=new).role == "planner"
        assert not Invitation.objects.exists()
    assert "taken up or withdrawn" in browser.get(link).content.decode()


def test_a_forged_or_old_link_is_refused(cast: Cast, mailoutbox: list[Any], time_machine: Any) -> None:
    time_machine.move_to("2026-03-01", tick=False)
    invite(cast)
    send_due()
    link = link_in(mailoutbox[0])
    browser = cast.browser(make_user("new@example.org"))
    assert "not complete" in browser.get(f"{link[:-2]}x/").content.decode()
    time_machine.move_to("2026-03-16", tick=False)
    browser = cast.browser(make_user("late@example.org"))
    assert "more than 14 days old" in browser.get(link).content.decode()


@pytest.mark.parametrize(
    ("email", "said"),
    [
        ("crew@kestrel.example.org", "belongs to the practice already"),
        ("old@example.org", "has been invited already"),
    ],
)
def test_nobody_is_asked_twice(cast: Cast, email: str, said: str) -> None:
    invite(cast, "old@example.org")
    response = invite(cast, email)
    assert response.status_code == 422 and said in response.content.decode()


def test_the_last_owner_stays(cast: Cast) -> None:
    browser = cast.browser(cast.owner, proven=True)
    with scope(practice=cast.practice):
        owner = Membership.objects.get(user=cast.owner)
        crew = Membership.objects.get(user=cast.crew)
    for path, data in (("role", {"role": "crew"}), ("remove", {})):
        page = browser.post(cast.url(f"practice/people/{owner.pk}/{path}/"), data, follow=True)
        assert "is the only owner" in page.content.decode()
    browser.post(cast.url(f"practice/people/{crew.pk}/role/"), {"role": "owner"})
    assert browser.post(cast.url(f"practice/people/{owner.pk}/remove/")).headers["Location"] == "/"
    with scope(practice=cast.practice):
        assert [m.user for m in Membership.objects.filter(role="owner")] == [cast.crew]
    assert browser.get(cast.url("clients/")).status_code == 404


def test_an_unknown_role_is_refused(cast: Cast) -> None:
    with scope(practice=cast.practice):
        crew = Membership.objects.get(user=cast.crew)
    cast.browser(cast.owner, proven=True).post(
        cast.url(f"practice/people/{crew.pk}/role/"), {"role": "emperor"}
    )
    crew.refresh_from_db()
    assert crew.role == "crew"


def test_a_link_to_another_practices_row_is_refused(cast: Cast) -> None:
    from sites.models import Farm

    theirs = make_client(cast.other_practice)
    with scope(practice=cast.practice), pytest.raises(ValidationError, match="belongs to another practice"):
        services.save(Farm(practice=cast.practice, client=theirs), name="Stolen")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("oats,cheap,bulk,98,90,0,x", "row 2, column price_usd_per_lb: 'cheap'"),
        ("oats,1.005,bulk,98,90,0,x", "row 2, column price_usd_per_lb: '1.005' must be dollars and cents"),
        ("oats,1.00,sack,98,90,0,x", "row 2, column basis: 'sack' is not one of: PLS, bulk"),
        ("oats,1.00,bulk,980,90,0,x", "row 2, column purity_pct: '980' must be from 1 to 100"),
        ("oats,1.00,bulk,nan,90,0,x", "row 2, column purity_pct: 'nan' must be from 1 to 100"),
        (",1.00,bulk,98,90,0,x", "row 2, column species: '' is empty"),
        ("oats,1.00,bulk", "row 2: has not as many cells"),
        ("oats,1.00,bulk,98,90,0,x,more", "row 2: has not as many cells"),
    ],
)
def test_a_bad_row_of_a_table_is_named(tmp_path: Path, line: str, said: str) -> None:
    columns = starter.TABLES[SeedPrice][1]
    file = tmp_path / "seed.csv"
    file.write_text(f"{','.join(columns)}\n{line}\n")
    with pytest.raises(tables.BadTable, match=re.escape(f"seed.csv, {said}")):
        tables.read_table(file, columns)


def test_a_table_with_other_columns_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "seed.csv"
    file.write_text("species,price\noats,1\n")
    with pytest.raises(tables.BadTable, match="row 1: the columns must be"):
        tables.read_table(file, starter.TABLES[SeedPrice][1])
