"""Season reports: gathered from what was recorded, on a page and in print, frozen when they are sent."""

from __future__ import annotations

import hashlib
import io
import re
from datetime import date
from html import unescape
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client as Browser
from django.utils.html import escape
from django_scopes import scope
from PIL import Image
from pypdf import PdfReader

from consulting.append_only import Recorded
from consulting.images import Photo
from consulting.letters import Enclosure, Letter
from consulting.models import Client
from plans import client_links, reports
from plans.client_documents import shared_document
from plans.counts import count_write, photo_add
from plans.documents.season_facts import read_report, report_json
from plans.models import Plan, SentReport, StandCount, Visit
from plans.services import Refused
from plans.visits import visit_book, visit_do, visit_skip, visit_unbook
from sites.services import observation_create
from sites.walks import photo_remove, photos_add, walk_write
from tests.conftest import Cast
from tests.documents.test_spanish import english
from tests.factories import make_field
from tests.plan_factories import SPRAYED, line, make_agreed, make_plan, make_ready_plan
from tests.web import queries

FALL, LATER = date(2027, 9, 20), date(2028, 11, 20)
WORDS = "The first summer <looked> like weeds."


def picture(red: int = 120) -> Photo:
    out = io.BytesIO()
    Image.new("RGB", (900, 600), (red, 140, 90)).save(out, "JPEG")
    return Photo(out.getvalue(), 900, 600)


@pytest.fixture
def plan(cast: Cast, monkeypatch: Any) -> Any:
    """Two years of an agreed plan: a spray, two counts, a freeze seen early, a day rained out, pictures."""
    monkeypatch.setattr("plans.views.reports.today_for", lambda practice: LATER)
    monkeypatch.setattr("sites.models.farms.today_for", lambda practice: LATER)
    made = make_agreed(make_ready_plan(cast.practice, name="Ridge Field"), cast.owner)
    with scope(practice=cast.practice):
        spray = Visit.objects.get(plan=made, step="kill_fall")
        used = [line(amount=8.25, planned_amount=7.5, reason="Overlap on the short rows")]
        told: dict[str, Any] = {"acres": 10, "on": FALL, "today": FALL, "record": SPRAYED, "lines": used}
        visit_do(visit=spray, version=spray.version, user=cast.crew, **told)
        for step, on, throws in (("count_1", date(2028, 10, 2), [5, 6, 4]),):
            count = Visit.objects.get(plan=made, step=step)
            usual: dict[str, Any] = {"method": "grid", "aim": "cover", "cells": 25, "frame_sqft": 1.0}
            count_write(visit=count, user=cast.crew, uid=None, on=on, throws=throws, growth="clean", **usual)
        observation_create(farm=made.farm, by=cast.owner, moment="first_freeze", on=date(2027, 10, 14))
        yield made


def report(plan: Plan, year: int = 2027) -> Any:
    return reports.report_of(reports_plan(plan), year, LATER)


def reports_plan(plan: Plan) -> Plan:
    return Plan.objects.select_related("practice", "farm__client").get(pk=plan.pk)


def text_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(pdf)).pages)


def test_work_amounts_and_weather_come_from_the_records(plan: Plan) -> None:
    found = report(plan)
    (done,) = found.done
    assert (done.on, done.fields, done.acres) == (FALL, ("Ridge Field",), 10)
    assert done.weather == ("wind 6 mph from SW, 64 °F, 55 % humidity and clear",)
    (used,) = found.used
    assert (used.planned, used.used, round(used.apart_pct)) == (7.5, 8.25, 10)
    (seen,) = found.seen
    assert (seen.on, seen.normal, seen.days_late) == (date(2027, 10, 14), date(2027, 10, 20), -6)
    assert [one.year for one in found.years] == [2028, 2029, 2030, 2031, 2032]


def test_another_year_tells_of_that_year_alone(plan: Plan) -> None:
    found = report(plan, 2028)
    assert not found.done and not found.seen
    (counts,) = found.counts
    # 15 of 75 cells: 20 %, times 0.4 plants/m² a per cent, over 10.764 ft² a m² (Vogel and Masters 2001).
    assert counts.points[0].density == pytest.approx(0.4 * 20 / 10.764, rel=1e-3)
    assert counts.points[0].low < counts.points[0].density < counts.points[0].high
    assert not report(plan, 2027).counts


def test_what_weather_put_off_and_what_was_left_out_is_told(cast: Cast, plan: Plan) -> None:
    visit = Visit.objects.filter(plan=plan, state="open").order_by("window_opens")[0]
    visit = visit_book(visit=visit, version=visit.version, user=cast.owner, on=visit.window_opens)
    visit = visit_unbook(visit=visit, version=visit.version, user=cast.owner, reason="Rain all week")
    visit_skip(visit=visit, version=visit.version, user=cast.owner, reason="The sod was dead")
    year = visit.changes.filter(what="unbooked")[0].at.year
    assert [one.why for one in report(plan, year).lost] == ["Rain all week"]
    assert [one.why for one in report(plan, visit.window_shuts.year).left_out] == ["The sod was dead"]


def test_photographs_pair_by_their_point_through_the_years(cast: Cast, plan: Plan) -> None:
    field = plan.conversions.get().field
    for on, caption in (
        (date(2026, 7, 1), "From the gate"),
        (date(2027, 7, 3), "from the  GATE"),
        (date(2027, 7, 3), "A weed"),
        (date(2028, 7, 3), "From the gate"),
    ):
        walk = walk_write(field=field, user=cast.crew, uid=None, on=on, people="Cass")
        photos_add(walk=walk, photos=[picture(40 * (on.year - 2025))], caption=caption)
    first, other = report(plan, 2027).photos
    assert [shot.on.year for shot in first.shots] == [2026, 2027] and first.name == "From the gate"
    assert other.name == "A weed"
    pages = PdfReader(io.BytesIO(reports.printed(report(plan, 2028), reports_plan(plan)))).pages
    assert sum(len(page.images) for page in pages) == 3


def test_a_count_photographs_the_same_points_as_a_walk_over(cast: Cast, plan: Plan, behind: str) -> None:
    count = StandCount.objects.get()
    field = count.visit.field
    walk = walk_write(field=field, user=cast.crew, uid=None, on=date(2027, 7, 3), people="Cass")
    photos_add(walk=walk, photos=[picture(80)], caption="Gate post, looking north")
    kept = photo_add(count=count, photo=picture(200), point="gate post,  looking NORTH")
    (point,) = report(plan, 2028).photos
    assert [(shot.kind, shot.on.year) for shot in point.shots] == [("walk", 2027), ("count", 2028)]
    sent = reports.report_send(plan=reports_plan(plan), year=2028, user=cast.owner, today=LATER)
    pages = PdfReader(io.BytesIO(bytes(sent.pdf))).pages
    assert sum(len(page.images) for page in pages) == 2
    shown = Browser().get(f"{behind}reports/{sent.pk}/photos/count-{kept.pk}.jpg")
    assert shown.content == bytes(kept.jpeg)
    page = cast.browser(cast.planner).get(cast.url(f"reports/{sent.pk}/")).content.decode()
    assert cast.url(f"counts/photos/{kept.pk}.jpg") in page and "/walks/photos/" in page


def test_a_report_is_frozen_with_its_print_and_an_edition_follows(cast: Cast, plan: Plan) -> None:
    reports.words_keep(plan=plan, year=2027, words=WORDS)
    whole = reports_plan(plan)
    sent = reports.report_send(plan=whole, year=2027, user=cast.owner, today=LATER)
    assert sent.sha256 == hashlib.sha256(bytes(sent.pdf)).hexdigest()
    text = text_of(bytes(sent.pdf))
    for said in (WORDS, "Ridge Field", "8.25 gal", "+10 %", "6 days earlier", "Season report 2027"):
        assert said in text
    for year in report(plan).years:
        assert f"{year.price:,.2f}" in text
    with pytest.raises(Recorded):
        sent.save()
    reports.words_keep(plan=plan, year=2027, words="Other words.")
    again = reports.report_send(plan=whole, year=2027, user=cast.owner, today=LATER)
    assert (sent.edition, again.edition) == (1, 2)
    first = read_report(SentReport.objects.get(pk=sent.pk).content)
    assert first and first.words == WORDS and report_json(first) == sent.content
    shared = shared_document(plan, "season-report-2027-edition-1")
    assert shared and shared.pdf() == bytes(sent.pdf)


def test_the_pages_keep_words_preview_and_send(cast: Cast, plan: Plan) -> None:
    browser, url = cast.browser(cast.owner), cast.url(f"plans/{plan.pk}/reports/")
    assert browser.get(url).headers["Location"] == f"{url}2027/"
    browser.post(f"{url}2027/words/", {"words": WORDS})
    page = browser.get(f"{url}2027/").content.decode()
    assert page.count("<h1") == 1 and "&lt;looked&gt;" in page and "<looked>" not in page
    wrong = browser.post(f"{url}2027/words/", {"words": "x" * 6001})
    assert wrong.status_code == 422 and "x" * 6001 in wrong.content.decode()
    assert browser.get(f"{url}2027/report.pdf").headers["Content-Type"] == "application/pdf"
    made = browser.post(f"{url}2027/send/")
    sent = browser.get(made.headers["Location"])
    assert "is on record" in sent.content.decode() or sent.status_code == 200
    row = SentReport.objects.get()
    assert browser.get(cast.url(f"reports/{row.pk}/report.pdf")).content == bytes(row.pdf)
    assert row.sha256 in sent.content.decode()
    assert browser.get(f"{url}2099/").status_code == 404


def test_many_fields_are_asked_for_no_more_often_than_one(cast: Cast, plan: Plan) -> None:
    browser, url = cast.browser(cast.owner), cast.url(f"plans/{plan.pk}/reports/2028/")
    before = queries.count(lambda: browser.get(url))
    visit = Visit.objects.get(plan=plan, step="count_1")
    usual: dict[str, Any] = {"method": "grid", "aim": "cover", "cells": 25, "frame_sqft": 1.0}
    for name in ("Creek Field", "Barn Field"):
        visit.pk, visit._state.adding, visit.field = None, True, make_field(plan.farm, name=name)
        visit.save()
        count_write(
            visit=visit, user=cast.crew, uid=None, on=date(2028, 10, 3), throws=[5], growth="clean", **usual
        )
    assert len(report(plan, 2028).counts) == 3
    assert queries.count(lambda: browser.get(url)) == before


def test_a_picture_taken_away_since_leaves_its_place(cast: Cast, plan: Plan) -> None:
    field = plan.conversions.get().field
    walk = walk_write(field=field, user=cast.crew, uid=None, on=date(2027, 7, 3), people="Cass")
    photos_add(walk=walk, photos=[picture()], caption="From the gate")
    sent = reports.report_send(plan=reports_plan(plan), year=2027, user=cast.owner, today=LATER)
    photo_remove(photo=walk.photos.get())
    page = cast.browser(cast.planner).get(cast.url(f"reports/{sent.pk}/"))
    assert page.status_code == 200 and "<img" not in page.content.decode().split("<main", 1)[1]


@pytest.fixture
def behind(cast: Cast, plan: Plan) -> str:
    """The address of the client's page of the plan."""
    until = {"expires_on": date(2029, 12, 31), "today": date(2026, 11, 25)}
    _, key = client_links.link_make(plan=reports_plan(plan), user=cast.owner, **until)
    return f"/client/{key}/"


def photographed(cast: Cast, plan: Plan) -> Any:
    """Two pictures of the plan's field, of which the report of 2027 shows the later one alone."""
    field = plan.conversions.get().field
    walk = walk_write(field=field, user=cast.crew, uid=None, on=date(2027, 7, 3), people="Cass")
    for red in (80, 120):
        photos_add(walk=walk, photos=[picture(red)], caption="From the gate")
    return list(walk.photos.all())


def test_a_client_reads_the_report_as_it_was_frozen(cast: Cast, plan: Plan, behind: str) -> None:
    reports.words_keep(plan=plan, year=2028, words=WORDS)
    Client.objects.update(own_locale="es_US")
    sent = reports.report_send(plan=reports_plan(plan), year=2028, user=cast.owner, today=LATER)
    Client.objects.update(own_locale="en_US")
    reports.words_keep(plan=plan, year=2028, words="Other words.")
    browser, url = Browser(), behind
    assert f'href="{url}reports/{sent.pk}/"' in browser.get(url).content.decode()
    answer = browser.get(f"{url}reports/{sent.pk}/")
    page = answer.content.decode()
    # As it was printed: in Spanish, with the words of that day, the chart with its points as a table too.
    assert '<html lang="es' in page and "Informe de la temporada 2028" in page and escape(WORDS) in page
    assert "<svg" in page and "<desc" in page and "2 de octubre de 2028" in page and "<script" not in page
    assert "Other words" not in page and page.count("<h1") == 1
    text = unescape(" ".join(re.sub(r"<[^>]+>", " ", page).split()))
    assert [piece for piece in english() if piece in text] == []
    assert answer.headers["Cache-Control"] == "private, no-store" and answer.headers["X-Robots-Tag"]
    pdf = browser.get(f"{url}documents/season-report-2028-edition-1.pdf")
    assert pdf.content == bytes(sent.pdf) and f'{url}documents/season-report-2028-edition-1.pdf"' in page


def test_the_link_opens_photographs_of_its_report_and_no_others(cast: Cast, plan: Plan, behind: str) -> None:
    other, shown = photographed(cast, plan)
    sent = reports.report_send(plan=reports_plan(plan), year=2027, user=cast.owner, today=LATER)
    browser, page = Browser(), f"{behind}reports/{sent.pk}/"
    address = f"{page}photos/walk-{shown.pk}.jpg"
    assert f'src="{address}"' in browser.get(page).content.decode()
    answer = browser.get(address)
    assert answer.content == bytes(shown.jpeg) and answer.headers["Content-Type"] == "image/jpeg"
    assert answer.headers["Cache-Control"] == "private, no-store"
    assert browser.get(f"{page}photos/walk-{other.pk}.jpg").status_code == 404
    photo_remove(photo=shown)
    assert browser.get(address).status_code == 404
    assert "<img" not in browser.get(page).content.decode().split("<main", 1)[1]


def test_a_link_opens_reports_of_its_own_plan_while_it_works(cast: Cast, plan: Plan, behind: str) -> None:
    sent = reports.report_send(plan=reports_plan(plan), year=2027, user=cast.owner, today=LATER)
    told = {
        "year": 2027,
        "edition": 1,
        "content": sent.content,
        "sha256": "0" * 64,
        "sent_by_name": "Ottilie",
    }
    another = make_plan(plan.farm, title="Another field")
    foreign = SentReport.objects.create(
        practice=cast.practice, plan=another, pdf=b"%PDF", sent_on=LATER, **told
    )
    browser, url = Browser(), behind
    assert browser.get(f"{url}reports/{sent.pk}/").status_code == 200
    assert browser.get(f"{url}reports/{foreign.pk}/").status_code == 404
    assert browser.get(f"/client/no-such-key/reports/{sent.pk}/").status_code == 404
    client_links.link_revoke(plan=plan)
    assert browser.get(f"{url}reports/{sent.pk}/").status_code == 410


def test_a_report_goes_out_by_mail_once_with_its_frozen_print(cast: Cast, plan: Plan) -> None:
    Client.objects.update(email="lena@example.org", own_locale="es_US")
    sent = reports.report_send(plan=reports_plan(plan), year=2027, user=cast.owner, today=LATER)
    reports.words_keep(plan=plan, year=2027, words=WORDS)
    browser, url = cast.browser(cast.planner), cast.url(f"reports/{sent.pk}/send/")
    assert f'href="{url}"' in browser.get(cast.url(f"reports/{sent.pk}/")).content.decode()
    draft = browser.get(url).context["form"]
    assert draft["subject"].initial == f"{plan.farm.name}: nuestro informe de 2027"
    assert "{page}" in draft["text"].initial and not Letter.objects.exists()
    typed = {"to": "lena@example.org", "subject": "Ridge Field", "text": "Dear Lena,\n{page}", "uid": uuid4()}
    assert browser.post(url, typed).status_code == 422, "a page that is named is to be made"
    for _ in range(2):
        assert browser.post(url, typed | {"enclose": "on", "page": "on"}).status_code == 302
    letter = Letter.objects.get()
    assert (letter.to, letter.about) == ("lena@example.org", f"plan:{plan.pk}")
    enclosed = Enclosure.objects.get(letter=letter)
    assert (bytes(enclosed.content), enclosed.name) == (bytes(sent.pdf), "season-report-2027-edition-1.pdf")
    address = letter.text.removeprefix("Dear Lena,\nhttp://testserver").strip()
    assert Browser().get(f"{address}reports/{sent.pk}/").status_code == 200
    assert "{page}" not in browser.get(url).context["form"]["text"].initial, "the link made works"


def test_an_unreadable_report_has_its_pdf(cast: Cast, plan: Plan) -> None:
    told = {"year": 2027, "edition": 1, "content": "{}", "sha256": "0" * 64, "sent_by_name": "Ottilie"}
    row = SentReport.objects.create(practice=cast.practice, plan=plan, pdf=b"%PDF", sent_on=LATER, **told)
    page = cast.browser(cast.planner).get(cast.url(f"reports/{row.pk}/"))
    assert "cannot be laid out on a page any more" in page.content.decode()


def test_a_plan_that_nobody_agreed_to_has_no_report(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    with scope(practice=cast.practice), pytest.raises(Refused):
        report(plan)


def test_crew_see_no_prices(cast: Cast, plan: Plan) -> None:
    found = cast.browser(cast.crew).get(cast.url(f"plans/{plan.pk}/reports/2027/"))
    assert found.status_code == 403
