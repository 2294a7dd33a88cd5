"""A form whose record moved on since it was opened: nothing is written, and both are shown."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client as Browser
from django_scopes import scope

from consulting import services
from consulting.acting import acting
from consulting.models import Client, Practice
from plans.models import Mix, Plan
from sites.models import Exclusion, Field
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field, make_machine
from tests.ground_factories import make_exclusion
from tests.plan_factories import make_conversion, make_mix, make_plan, make_ready_plan
from tests.web.forms import Form, form_on, forms_of
from tests.web.opened import NEED_NOT, must_know
from tests.web.rights import World
from tests.web.test_who_may_what import TABLE, address

HTMX = {"HX-Request": "true"}
SENT = {name: row for name, row in TABLE.items() if "POST" in row.methods}


def test_what_need_not_know_is_there() -> None:
    assert set(SENT) >= NEED_NOT


@pytest.mark.parametrize("name", [name for name in SENT if must_know(name)])
def test_every_edit_refuses_a_version_that_passed(cast: Cast, name: str) -> None:
    world, row = World(cast), TABLE[name]
    to = address(name, row, world)
    response = cast.browser(cast.owner, proven=True).post(to, row.data | {"opened": "of yesterday"})
    assert response.status_code == 409
    assert "Changed meanwhile" in response.content.decode()


def opened(browser: Browser, url: str) -> Form:
    found = form_on(browser, url, url)
    assert found
    return found


def beside_in(html: str) -> str:
    """The table of what differs."""
    return html.partition('id="sides"')[2].partition("</table>")[0]


@pytest.fixture
def client(cast: Cast) -> Client:
    return make_client(cast.practice, name="Ada Ash", phone="555 0100", notes="A gate.\r\nTwo dogs.")


def change(cast: Cast, row: Any, **values: Any) -> None:
    """Somebody else is quicker."""
    with scope(practice=cast.practice), acting(cast.planner):
        services.save(services.fresh(row), **values)


def both(cast: Cast, client: Client) -> tuple[Browser, str, Form]:
    """The page with both, of an owner who typed a name while a planner changed the phone and the name."""
    browser, url = cast.browser(cast.owner), cast.url(f"clients/{client.pk}/edit/")
    mine = opened(browser, url)
    change(cast, client, name="Ada Ash-Birch", phone="555 0199")
    page = browser.post(
        url, mine.filled(name="Ada <b>Oak</b>"), headers={"Referer": f"http://testserver{url}"}
    )
    assert page.status_code == 409
    html = page.content.decode()
    assert "Ada Ash-Birch" in html and "Ada &lt;b&gt;Oak&lt;/b&gt;" in html
    assert "changed by Perrin Planner" in html and "Two dogs" in html.partition("<form")[2]
    assert "Two dogs" not in html.partition('id="sides"')[2].partition("</table>")[0], (
        "the same on both sides"
    )
    client.refresh_from_db()
    assert client.name == "Ada Ash-Birch"
    (kept,) = [form for form in forms_of(html, url) if "name" in form.data]
    return browser, url, kept


def test_mine_can_be_kept_knowingly(cast: Cast, client: Client) -> None:
    browser, url, page = both(cast, client)
    assert browser.post(url, page.data).status_code == 302
    client.refresh_from_db()
    assert (client.name, client.phone, client.notes) == ("Ada <b>Oak</b>", "555 0100", "A gate.\r\nTwo dogs.")


def test_mine_can_be_mended_in_the_form(cast: Cast, client: Client) -> None:
    browser, url, page = both(cast, client)
    again = browser.post(url, page.filled(mend="yes"))
    assert again.status_code == 200
    (form,) = [form for form in forms_of(again.content.decode(), url) if form.action == url]
    assert form.data["name"] == ["Ada <b>Oak</b>"]
    client.refresh_from_db()
    assert client.name == "Ada Ash-Birch"
    assert browser.post(url, form.filled(phone="555 0199")).status_code == 302
    client.refresh_from_db()
    assert (client.name, client.phone) == ("Ada <b>Oak</b>", "555 0199")


def test_what_moves_on_once_more_is_shown_once_more(cast: Cast, client: Client) -> None:
    browser, url, page = both(cast, client)
    change(cast, client, name="Ada Elm")
    again = browser.post(url, page.data)
    assert again.status_code == 409 and "Ada Elm" in again.content.decode()
    assert f'href="http://testserver{url}"' in again.content.decode(), "the way back is lost"


def test_a_change_beside_what_the_form_asks_is_no_conflict(cast: Cast) -> None:
    browser, url = cast.browser(cast.owner), cast.url("practice/slopes/")
    mine = opened(browser, url)
    change(cast, cast.practice, phone="555 0177")
    assert browser.post(url, mine.filled(slope_tillage_pct="7")).status_code == 302
    kept = Practice.objects.get(pk=cast.practice.pk)
    assert (kept.slope_tillage_pct, kept.phone) == (7, "555 0177")


def test_who_typed_the_same_is_not_asked(cast: Cast, client: Client) -> None:
    browser, url = cast.browser(cast.owner), cast.url(f"clients/{client.pk}/edit/")
    mine = opened(browser, url)
    change(cast, client, phone="555 0199")
    assert browser.post(url, mine.filled(phone="555 0199")).status_code == 302


def test_a_write_between_reading_and_writing_is_seen(cast: Cast, client: Client, monkeypatch: Any) -> None:
    browser, url = cast.browser(cast.owner), cast.url(f"clients/{client.pk}/edit/")
    mine, update = opened(browser, url), services.client_update
    # Without its word the form is answered in no transaction, which would take the other's change back too.
    del mine.data["once"]

    def late(**values: Any) -> Client:
        monkeypatch.setattr(services, "client_update", update)
        change(cast, client, phone="555 0199")
        return update(**values)

    monkeypatch.setattr(services, "client_update", late)
    page = browser.post(url, mine.filled(phone="555 0111"))
    assert page.status_code == 409 and "555 0199" in page.content.decode()


def test_a_line_of_a_mix_that_changed_is_shown_beside_mine(cast: Cast) -> None:
    mix = make_mix(cast.practice)
    browser, url = cast.browser(cast.owner), cast.url(f"mixes/{mix.pk}/")
    mine = opened(browser, url)
    amounts = [name for name in mine.data if name.endswith("-amount") and mine.data[name] != [""]]
    with scope(practice=cast.practice), acting(cast.planner):
        line = Mix.objects.get(pk=mix.pk).lines.all()[0]
        services.save(line, amount=line.amount + 1)
    page = browser.post(url, mine.filled(**{amounts[-1]: "3", "save": "yes"}))
    told = beside_in(page.content.decode())
    assert page.status_code == 409 and "Species and amounts" in told and f"{line.species}: " in told


def test_choices_of_a_plan_are_told_field_by_field_also_in_a_part_of_the_page(cast: Cast) -> None:
    plan = make_plan(make_farm(make_client(cast.practice)))
    row = make_conversion(plan, make_field(plan.farm, name="Barn Hill"), make_mix(cast.practice))
    browser, url = cast.browser(cast.owner), cast.url(f"plans/{plan.pk}/choices/")
    mine = form_on(browser, cast.url(f"plans/{plan.pk}/"), url)
    assert mine
    change(cast, row, seeding="broadcast_dormant")
    page = browser.post(url, mine.filled(pricing_pct="31"), headers=HTMX)
    told = page.content.decode()
    assert page.status_code == 409 and page.headers["HX-Retarget"] == "#main"
    assert "Seeding on Barn Hill" in told and "changed by Perrin Planner" in told
    assert beside_in(told).count("as it was when you opened the form") == 1, "the price was typed"


def test_choices_kept_by_themselves_go_on_from_what_was_kept(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    browser, url = cast.browser(cast.owner), cast.url(f"plans/{plan.pk}/choices/")
    mine = form_on(browser, cast.url(f"plans/{plan.pk}/"), url)
    assert mine
    for pct in ("31", "32"):
        part = browser.post(
            url, mine.filled(pricing_pct=pct), headers={"HX-Request": "true"}
        ).content.decode()
        mine.data["opened"] = [
            part.partition('id="choices-opened"')[2].partition('value="')[2].partition('"')[0]
        ]
    # The answer to the last was overtaken by the next choice, and never read.
    assert browser.post(url, mine.filled(pricing_pct="33"), headers=HTMX).status_code == 200
    assert browser.post(url, mine.filled(pricing_pct="34"), headers=HTMX).status_code == 200
    with scope(practice=cast.practice):
        assert Plan.objects.get(pk=plan.pk).pricing_pct == 34


def test_removing_what_moved_on_shows_what_moved(cast: Cast) -> None:
    field = make_field(make_farm(make_client(cast.practice)), name="Barn Hill")
    browser, url = cast.browser(cast.owner), cast.url(f"fields/{field.pk}/remove/")
    ask = opened(browser, url)
    change(cast, field, acres=9.5)
    page = browser.post(url, ask.data)
    assert page.status_code == 409 and "9.5" in page.content.decode()
    (again,) = [form for form in forms_of(page.content.decode(), url) if form.action == url]
    assert browser.post(url, again.data).status_code == 302
    with scope(practice=cast.practice):
        assert not Field.objects.filter(pk=field.pk).exists()


def test_what_was_typed_of_a_record_that_is_gone_is_shown(cast: Cast) -> None:
    row = make_exclusion(make_field(make_farm(make_client(cast.practice))))
    browser, url = cast.browser(cast.owner), cast.url(f"away/{row.pk}/")
    mine = opened(browser, url)
    with scope(practice=cast.practice), acting(cast.planner):
        Exclusion.objects.get(pk=row.pk).delete()
    page = browser.post(url, mine.filled(reason="the neighbor's <bees>"))
    html = page.content.decode()
    assert page.status_code == 404 and "by Perrin Planner" in html and "&lt;bees&gt;" in html
    assert cast.browser(cast.stranger).post(url, mine.data).status_code == 404


def test_a_file_is_said_not_to_be_carried(cast: Cast) -> None:
    row = make_machine(cast.practice, name="Tractor")
    browser, url = cast.browser(cast.owner), cast.url(f"machines/{row.pk}/edit/")
    mine = opened(browser, url)
    change(cast, row, name="The old tractor")
    page = browser.post(url, mine.filled(name="Mine") | {"photo": SimpleUploadedFile("a.jpg", b"x")})
    assert page.status_code == 409 and "cannot be carried over" in page.content.decode()
