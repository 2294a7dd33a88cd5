"""Our look and our words: saved when they can be read, shown beforehand, kept with what was offered."""

from __future__ import annotations

import hashlib
import re
from html import unescape
from io import BytesIO

import pytest
from django_scopes import scope
from PIL import Image

from consulting.models import Logo
from plans import own_look
from plans.documents.page_images import page_texts
from plans.look_preview import WIDE_PX
from plans.manners import look_of
from plans.models import PracticeLook
from plans.planning.own_look import OwnLook
from plans.reprints import reprinted
from tests.conftest import Cast
from tests.factories import make_member
from tests.plan_factories import make_offered, make_ready_plan, make_shown
from tests.web.test_practice import picture

pytestmark = pytest.mark.django_db
TYPED = {"main": "#1f4e8c", "accent": "#a03a1c", "beside": "", "below": "Cover & seed", "foot": ""}
SHOWN = re.compile(r'src="(/kestrel/practice/look/preview/[0-9a-f]{16}/\d+\.png)"')


def test_a_look_is_saved_and_worn(cast: Cast) -> None:
    browser = cast.browser(cast.owner)
    assert browser.post(cast.url("practice/look/save/"), TYPED).status_code == 302
    page = browser.get(cast.url("practice/look/")).content.decode()
    assert 'value="#1f4e8c"' in page and "Cover &amp; seed" in page and "8.3 to 1" in page
    sheet = browser.get(cast.url("practice/look.css"))
    assert sheet.headers["Content-Type"].startswith("text/css") and b"--green: #1f4e8c;" in sheet.content
    with scope(practice=cast.other_practice):
        assert look_of(cast.other_practice) == OwnLook()


def test_a_pale_color_is_refused_with_the_nearest_shade_that_can_be_taken(cast: Cast) -> None:
    browser, url = cast.browser(cast.owner), cast.url("practice/look/save/")
    page = browser.post(url, TYPED | {"accent": "#ffd24a"})
    said = unescape(page.content.decode())
    shade = re.search(r"nearest shade that can be read is (#[0-9a-f]{6})", said)
    assert (
        page.status_code == 422
        and shade
        and re.search(r"contrast is 1\.\d\d to 1", said)
        and 'value="#ffd24a"' in said
    )
    assert f'name="take_accent" value="{shade[1]}"' in said
    page = browser.post(url, TYPED | {"accent": "#ffd24a", "take_accent": shade[1]})
    assert page.status_code == 302
    with scope(practice=cast.practice):
        assert PracticeLook.objects.get().accent == shade[1]
    page = browser.post(url, TYPED | {"main": "url(x)", "foot": "W" * 100})
    said = unescape(page.content.decode())
    assert page.status_code == 422 and "# and six digits" in said and "too wide for the foot" in said


def test_what_is_typed_is_shown_on_paper_and_not_saved(cast: Cast) -> None:
    browser, url = cast.browser(cast.owner), cast.url("practice/look/save/")
    page = browser.post(url, TYPED | {"preview": ""})
    said = page.content.decode()
    assert page.status_code == 200 and len(SHOWN.findall(said)) == 4 and 'value="#1f4e8c"' in said
    assert "On an invented plan" in said
    for address in SHOWN.findall(said):
        shown = Image.open(BytesIO(browser.get(address).content))
        assert shown.width == WIDE_PX and len(shown.getcolors()) > 8
        assert f'width="{shown.width}" height="{shown.height}"' in said
    address = re.search(r'href="([^"]*\.pdf)"', said)
    assert address and "Cover & seed" in page_texts(browser.get(address[1]).content)[1]
    assert cast.browser(make_member(cast.practice, "owner").user).get(address[1]).status_code == 404
    with scope(practice=cast.practice):
        assert not PracticeLook.objects.exists()


def test_words_are_checked_shown_where_they_stand_and_saved(cast: Cast) -> None:
    plan = make_ready_plan(cast.practice)
    browser, url = cast.browser(cast.owner), cast.url("practice/words/program:sod_fall_spring/save/")
    page = browser.post(url, {"text": "First {feilds}\nand {total"})
    said = unescape(page.content.decode())
    assert (
        page.status_code == 422 and "Line 1: {feilds} is not a name" in said and "Is {fields} meant?" in said
    )
    assert "Line 2: a { stands there" in said and "First {feilds}" in said
    words = {"text": "On {fields} we spray twice, {client}: {acres} & <b>no</b> more."}
    page = browser.post(url, words | {"preview": ""})
    said = unescape(page.content.decode())
    assert f"On your plan “{plan.title}”" in said and len(SHOWN.findall(said)) == 1
    assert "The words are not on it" not in said and words["text"] in said
    assert browser.post(url, words).status_code == 302
    assert "we spray twice" in browser.get(cast.url("practice/words/")).content.decode()
    proposal = make_offered(plan, cast.owner)
    text = " ".join(" ".join(page_texts(bytes(proposal.pdf))).split())
    with scope(practice=cast.practice):
        name, client = plan.farm.fields.get().name, plan.farm.client.name
    assert f"On {name} we spray twice, {client}:" in text and "& <b>no</b> more." in text
    assert browser.post(url, {"text": " "}).status_code == 302
    with scope(practice=cast.practice):
        assert PracticeLook.objects.get().words == {}
    assert browser.get(cast.url("practice/words/price.terms/")).status_code == 404


@pytest.mark.parametrize("place", ["program:bermuda_summer", "cautions"])
def test_words_for_what_no_plan_has_are_shown_on_an_invented_one(cast: Cast, place: str) -> None:
    make_ready_plan(cast.practice)
    page = cast.browser(cast.owner).post(
        cast.url(f"practice/words/{place}/save/"), {"text": "Nobody has these words.", "preview": ""}
    )
    said = page.content.decode()
    assert page.status_code == 200 and "On an invented plan" in said and SHOWN.search(said)
    assert ("The words are not on it" in said) == (place == "cautions")


def test_what_was_offered_keeps_its_look_words_and_logo(cast: Cast) -> None:
    with scope(practice=cast.practice):
        Logo.objects.create(practice=cast.practice, png=picture(), width_px=300, height_px=100)
        own_look.look_save(practice=cast.practice, main="#1f4e8c", foot="As it was")
        own_look.words_save(practice=cast.practice, place="closing", text="We thank {client}.")
    proposal = make_offered(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        own_look.look_save(practice=cast.practice, main="#7b1fa2", foot="As it is")
        own_look.words_save(practice=cast.practice, place="closing", text="")
        Logo.objects.all().delete()
        proposal.refresh_from_db()
        again = reprinted(proposal)
    assert again is not None and hashlib.sha256(again).hexdigest() == proposal.sha256
    assert "As it was" in page_texts(again)[0] and "We thank" in page_texts(again)[1]


def test_a_clients_page_wears_the_look(cast: Cast) -> None:
    _, key = make_shown(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        own_look.look_save(practice=cast.practice, main="#1f4e8c")
    browser = cast.browser()
    page = browser.get(f"/client/{key}/").content.decode()
    assert f'href="/client/{key}/look.css"' in page and "rgb(12%,30%,54%)" in page
    assert b"--green: #1f4e8c;" in browser.get(f"/client/{key}/look.css").content
    assert browser.get("/client/none/look.css").status_code == 404


def test_a_planner_sees_the_look_and_changes_nothing(cast: Cast) -> None:
    browser = cast.browser(cast.planner)
    page = browser.get(cast.url("practice/look/")).content.decode()
    assert "#22513b" in page and '<form class="form"' not in page and "practice/terms/" not in page
    assert "practice/look/" in browser.get(cast.url("plans/")).content.decode()
    assert "<textarea" not in browser.get(cast.url("practice/words/opening/")).content.decode()
