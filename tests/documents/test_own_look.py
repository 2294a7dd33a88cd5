"""A practice's own colors, letterhead and words, in drawings and in print."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from io import BytesIO

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from plans.documents.colours import (
    HOUSE,
    READABLE,
    BadColour,
    checked_accent,
    checked_main,
    contrast,
    contrast_in_print,
    palette_of,
    parts,
)
from plans.documents.manner import using
from plans.documents.ribbon import season_ribbon
from plans.documents.svg import inline_svg
from plans.planning.beside import Beside
from plans.planning.job import Manner
from plans.planning.own_look import OwnLook
from plans.planning.own_words import SECTIONS, VARIABLES, filled, places, problems
from plans.planning.plan import Plan
from tests.documents.conftest import pages, printed

BLUE, RUST = "#1f4e8c", "#a03a1c"


def looking(plan: Plan, **look: object) -> Plan:
    manner = replace(plan.job.manner, look=OwnLook(**look))  # type: ignore[arg-type]
    return replace(plan, job=replace(plan.job, manner=manner))


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        # The ends of the scale: WCAG 2.2, "contrast ratio", runs from 1 to 21.
        ("#000000", "#ffffff", 21.0),
        ("#ffffff", "#ffffff", 1.0),
        # WebAIM, "Contrast and Color Accessibility": pure red, green and blue on white.
        ("#ff0000", "#ffffff", 4.0),
        ("#00ff00", "#ffffff", 1.4),
        ("#0000ff", "#ffffff", 8.6),
    ],
)
def test_contrast_is_that_of_the_guidelines(one: str, other: str, ratio: float) -> None:
    assert round(contrast(one, other), 1) == round(contrast(other, one), 1) == ratio


@given(*[st.integers(0, 0xFFFFFF).map(lambda number: f"#{number:06x}")] * 2)
def test_a_color_is_readable_or_its_nearest_readable_shade_is_offered(main: str, accent: str) -> None:
    try:
        accent = checked_accent(accent)
    except BadColour as bad:
        accent = checked_accent(bad.nearest)
        assert contrast_in_print(accent, accent) < READABLE + 0.1
    try:
        main = checked_main(main, accent)
    except BadColour as bad:
        main = checked_main(bad.nearest, accent)
        assert contrast_in_print(main, accent) < READABLE + 0.1
    palette = palette_of(main, accent)
    for words in (main, accent):
        assert min(contrast(words, "#ffffff"), contrast(words, palette.wash)) >= READABLE
    assert contrast(palette.fill, "#ffffff") >= 3


def test_shades_of_the_house_colors_come_out_as_they_were_mixed_by_eye() -> None:
    from_house = palette_of(HOUSE.main, "#80591b")
    for shade, ours in ((from_house.fill, HOUSE.fill), (from_house.wash, HOUSE.wash)):
        assert max(abs(a - b) for a, b in zip(parts(shade), parts(ours), strict=True)) < 0.04


def operators(pdf: bytes) -> str:
    return "\n".join(
        page.get_contents().get_data().decode("latin-1") for page in PdfReader(BytesIO(pdf)).pages
    )


def as_written(colour: str) -> str:
    return " ".join(f"{part:.6f}".rstrip("0").lstrip("0") or "0" for part in parts(colour))


def test_print_is_in_the_practices_colors_and_in_no_other(plan: Plan, beside: Beside, pdf: bytes) -> None:
    own = printed(looking(plan, main=BLUE, accent=RUST), beside=beside)
    palette = palette_of(BLUE, RUST)
    for colour in (HOUSE.main, HOUSE.accent, HOUSE.fill):
        assert as_written(colour) in operators(pdf) and as_written(colour) not in operators(own)
    for colour in (palette.main, palette.accent, palette.fill):
        assert as_written(colour) in operators(own)
    assert pages(own) == pages(pdf)


def test_a_drawing_on_a_page_follows_the_look_in_force(plan: Plan) -> None:
    drawing = season_ribbon(plan)
    house = inline_svg(drawing, name="a", title="", description="")
    with using(Manner(look=OwnLook(main=BLUE, accent=RUST))):
        own = inline_svg(drawing, name="a", title="", description="")
    colour = re.compile(r"rgb\([^)]*\)")
    assert colour.sub("", own) == colour.sub("", house)
    ours, theirs = set(colour.findall(house)), set(colour.findall(own))
    assert len(ours - theirs) == len(theirs - ours) == len(fields(HOUSE))


def test_letterhead_and_foot_are_the_practices_own(plan: Plan) -> None:
    texts = pages(
        printed(
            looking(
                plan,
                beside="Yard by the mill\n555-0199",
                below="Native cover <b>only</b>",
                foot="Ours & fine",
            )
        )
    )
    assert "Yard by the mill" in texts[1] and "Native cover <b>only</b>" in texts[1]
    assert plan.job.practice.address.split("\n")[0] not in texts[1]
    assert all("Ours & fine" in text for text in texts)


def test_own_words_stand_at_their_places_filled_in(plan: Plan) -> None:
    words = {place: f"At {place} for {{client}}: {{{{{place}}}}}." for place in places()}
    words["price"] = "{total} to {valid_until} for {acres}; seed from {first_seeding}; {nobody} & <i>"
    text = " ".join(" ".join(pages(printed(looking(plan, words=words)))).split())
    job = plan.job
    used = {f"program:{one.kill_program}" for one in job.conversions}
    used |= {f"seeding:{one.seeding}" for one in job.conversions}
    there = (set(SECTIONS) - {"price", "cautions"}) | used
    for place in words:
        said = f"At {place} for {job.client.name}: {{{place}}}."
        assert (said in text) == (place in there), place
    total = f"${plan.estimate.total.total.dollars:,.2f}"
    assert f"{total} to December 25, 2026 for 18.6 acres; seed from" in text
    assert "{nobody} & <i>" in text


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Dear {clent},", "Line 1: {clent} is not a name that can be filled in. Is {client} meant?"),
        ("fine\n{client.__class__}", "Line 2: {client.__class__} is not a name"),
        ("{total:>999999}", "{total:>999999} is not a name"),
        ("{0}", "{0} is not a name"),
        ("{}", "{} is not a name"),
        ("50 {", "a { stands there without its }. Write a name such as {client}, or {{ to print"),
        ("50 }", "a } stands there without its {. Write a name such as {client}, or }} to print"),
        ("{client\n}", "Line 1: a { stands there"),
    ],
)
def test_words_that_cannot_be_filled_in_are_refused(text: str, said: str) -> None:
    found = problems(text)
    assert any(said in problem for problem in found), found


@given(st.text(st.characters(codec="utf-8") | st.sampled_from("{}"), max_size=60))
def test_any_text_is_filled_in_or_refused_and_never_breaks(text: str) -> None:
    filled(text, dict.fromkeys(VARIABLES, "x"))
    doubled = text.replace("{", "{{").replace("}", "}}")
    assert problems(doubled) == [] and filled(doubled, {}) == text
