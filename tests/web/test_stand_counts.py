"""Stand counts: typed as throws, judged by the aim, read over the years of a field."""

from __future__ import annotations

import io
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django_scopes import scope
from PIL import ExifTags, Image

from consulting.append_only import Recorded
from plans.counts import counts_of
from plans.models import StandCount, Visit
from tests.conftest import Cast
from tests.plan_factories import make_agreed, make_ready_plan


@pytest.fixture
def visit(cast: Cast, monkeypatch: Any) -> Any:
    plan = make_agreed(make_ready_plan(cast.practice), cast.owner)
    with scope(practice=cast.practice):
        found = Visit.objects.get(plan=plan, step="count_2")
        monkeypatch.setattr("plans.views.counts.today_for", lambda practice: found.window_opens)
        yield found


def typed(visit: Visit, hits: list[int], **more: str) -> dict[str, str]:
    return (
        {
            "on": f"{visit.window_opens}",
            "rows": "12",
            "method": "grid",
            "aim": "cover",
            "cells": "25",
            "frame_sqft": "1",
            "growth": "clean",
        }
        | {f"throw{place}": f"{count}" for place, count in enumerate(hits)}
        | more
    )


def send(cast: Cast, visit: Visit, data: dict[str, str]) -> Any:
    return cast.browser(cast.crew).post(cast.url(f"work/{visit.pk}/count/"), data)


def test_throws_become_frequency_density_and_a_next_step(visit: Visit, cast: Cast) -> None:
    response = send(cast, visit, typed(visit, [10, 8, 0, 12]))
    assert response.status_code == 302
    row = StandCount.objects.get()
    assert row.throws == [10, 8, 0, 12] and row.season == visit.season
    (counted,) = counts_of(visit.field_id)
    assert counted.stand.frequency_pct and counted.stand.frequency_pct.value == 30
    page = cast.browser(cast.crew).get(cast.url(f"work/{visit.pk}/")).content.decode()
    assert "30 %" in page and "Enough for cover" in page and "Keep it" in page and "Wilson" in page
    near = Visit.objects.filter(field=visit.field_id).exclude(pk=visit.pk)[0]
    assert "Stand counts" in cast.browser(cast.crew).get(cast.url(f"work/{near.pk}/")).content.decode()


@pytest.mark.parametrize(
    ("hits", "more", "at"),
    [
        ([26], {}, "throw0"),
        ([], {}, "throw0"),
        ([5], {"method": "quadrat"}, "throw0"),
        ([5], {"on": "2999-01-01"}, "on"),
        ([5], {"throw3": "many"}, "throw3"),
    ],
)
def test_what_cannot_have_been_counted_is_refused(
    visit: Visit, cast: Cast, hits: list[int], more: dict[str, str], at: str
) -> None:
    response = send(cast, visit, typed(visit, hits, **more))
    page = response.content.decode()
    assert response.status_code == 422 and f'href="#count-{at}"' in page
    assert not StandCount.objects.exists()


def test_an_empty_form_is_refused_in_words(visit: Visit, cast: Cast) -> None:
    sent = send(cast, visit, {})
    assert sent.status_code == 422 and "There is something to mend" in sent.content.decode()


def test_more_rows_keep_what_was_typed(visit: Visit, cast: Cast) -> None:
    response = send(cast, visit, typed(visit, [7], more="yes"))
    page = response.content.decode()
    assert response.status_code == 200 and 'name="throw23"' in page and 'name="throw24"' not in page
    assert 'name="throw0" value="7"' in page and "something to mend" not in page
    assert not StandCount.objects.exists()


def test_a_wrong_count_is_replaced_and_never_changed(visit: Visit, cast: Cast) -> None:
    send(cast, visit, typed(visit, [1, 1]))
    first = StandCount.objects.get()
    send(cast, visit, typed(visit, [11, 12], replaces=f"{first.pk}"))
    (counted,) = counts_of(visit.field_id)
    assert counted.count.throws == [11, 12] and StandCount.objects.count() == 2
    with pytest.raises(Recorded):
        first.save()


def test_a_count_belongs_to_a_visit_that_counts(visit: Visit, cast: Cast) -> None:
    other = Visit.objects.get(plan=visit.plan, step="drill")
    assert send(cast, other, typed(visit, [1])).status_code == 404


def test_sent_twice_it_is_kept_once(visit: Visit, cast: Cast) -> None:
    data = typed(visit, [3, 4], uid="7d0a4a57-4a0c-4a53-9a4e-3f7c5a2f0b11")
    send(cast, visit, data)
    send(cast, visit, data)
    assert StandCount.objects.count() == 1


# Photographs from fixed points


@pytest.fixture
def count(visit: Visit, cast: Cast) -> StandCount:
    send(cast, visit, typed(visit, [10, 8]))
    return StandCount.objects.get()


def from_a_phone(**place: Any) -> SimpleUploadedFile:
    """A JPEG whose camera wrote where it was taken: 38° 57' 0" N, 92° 20' 0" W."""
    exif = Image.Exif()
    exif[ExifTags.IFD.GPSInfo] = {1: "N", 2: (38.0, 57.0, 0.0), 3: "W", 4: (92.0, 20.0, 0.0)}
    out = io.BytesIO()
    Image.new("RGB", (1600, 1200), (90, 140, 90)).save(out, "JPEG", exif=exif)
    return SimpleUploadedFile("gate.jpg", out.getvalue(), "image/jpeg")


def photograph(cast: Cast, count: StandCount, point: str = "Gate post", **more: Any) -> Any:
    url = cast.url(f"counts/{count.pk}/photos/")
    return cast.browser(cast.crew).post(url, {"point": point, "photo": from_a_phone()} | more)


@pytest.mark.parametrize(("said", "place"), [({}, None), ({"located": "on"}, (-92.333333, 38.95))])
def test_a_point_is_photographed_and_its_place_kept_on_consent(
    cast: Cast, count: StandCount, said: dict[str, str], place: tuple[float, float] | None
) -> None:
    assert photograph(cast, count, **said).status_code == 302
    (row,) = count.photos.all()
    assert (row.longitude, row.latitude) == (place or (None, None))
    picture = Image.open(io.BytesIO(bytes(row.jpeg)))
    assert picture.size == (row.width_px, row.height_px) == (1200, 900) and not picture.getexif()
    browser = cast.browser(cast.crew)
    page = browser.get(cast.url(f"counts/{count.pk}/")).content.decode()
    assert cast.url(f"counts/photos/{row.pk}.jpg") in page and '<option value="Gate post">' in page
    assert ("38.95000" in page) == bool(place)
    answer = browser.get(cast.url(f"counts/photos/{row.pk}.jpg"))
    assert answer.content == bytes(row.jpeg)
    assert browser.post(cast.url(f"counts/photos/{row.pk}/remove/")).status_code == 302
    assert not count.photos.exists()


def test_a_count_holds_six_photographs_which_go_along_when_it_is_put_right(
    cast: Cast, visit: Visit, count: StandCount
) -> None:
    for number in range(6):
        assert photograph(cast, count, f"Post {number}").status_code == 302
    full = photograph(cast, count, "One more")
    assert full.status_code == 422 and "holds 6 photographs" in full.content.decode()
    send(cast, visit, typed(visit, [9, 8], replaces=f"{count.pk}"))
    newer = StandCount.objects.exclude(pk=count.pk).get()
    assert newer.photos.count() == 6 and not count.photos.exists()
    assert photograph(cast, count).status_code == 422, "the newer one counts"
    old = cast.browser(cast.crew).get(cast.url(f"counts/{count.pk}/")).content.decode()
    assert cast.url(f"counts/{newer.pk}/") in old and "<form class" not in old


@pytest.mark.parametrize(
    "more", [{"point": ""}, {"photo": SimpleUploadedFile("notes.txt", b"no picture")}, {"photo": ""}]
)
def test_a_photograph_that_cannot_be_taken_keeps_what_was_typed(
    cast: Cast, count: StandCount, more: dict[str, Any]
) -> None:
    answer = photograph(cast, count, **{"point": "Gate post"} | more)
    assert answer.status_code == 422 and not count.photos.exists()
    assert ('value="Gate post"' in answer.content.decode()) == ("point" not in more)
