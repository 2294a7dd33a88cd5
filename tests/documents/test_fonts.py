from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.platypus import Paragraph

from plans.documents import fonts
from plans.documents.look import BODY


def joined(text: str) -> str:
    return "".join(piece for _, piece in fonts.runs(text))


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Cafe\u0301", "Café"),
        ("a\x00b\x1bc\u202ed", "abcd"),
        ("a\tb\r\nc", "a b\nc"),
        ("wheat 🌾", "wheat □"),
        ("odd\u1680and thin\u2009spaces", "odd and thin spaces"),
        ("\ud800", "□"),
        ("漢字 한국 さくら", "漢字 한국 さくら"),
    ],
)
def test_text_is_composed_cleaned_and_never_lost_in_silence(text: str, shown: str) -> None:
    assert joined(text) == shown


def test_each_script_has_a_font_that_has_it() -> None:
    used = dict.fromkeys(name for name, _ in fonts.runs("Zoë Αθήνα 王 김"))
    assert list(used) == [fonts.SANS, fonts.SERIF, fonts.CHINESE, fonts.KOREAN]


@given(st.text(max_size=60))
def test_every_character_has_a_glyph_and_no_text_is_markup(text: str) -> None:
    for name, piece in fonts.runs(text):
        assert {ord(c) for c in piece if c != "\n"} <= fonts.glyphs(name)
    shown = Paragraph(fonts.markup(text), BODY).getPlainText(identify=True)
    assert "".join(shown.split()) == "".join(joined(text).split())


@given(st.text(max_size=40), st.floats(min_value=8, max_value=200))
def test_fit_is_no_wider_than_its_room(text: str, room: float) -> None:
    shown = fonts.fit(text, fonts.SANS, 8, room)
    assert fonts.width(shown, fonts.SANS, 8) <= room or shown == "…"


def test_the_large_fonts_wait_until_they_are_needed() -> None:
    code = (
        "from plans.documents import fonts, proposal\n"
        "from reportlab.pdfbase.pdfmetrics import getRegisteredFontNames\n"
        "assert fonts.markup('Zoë & 3 ft²')\n"
        "assert 'Noto Sans SC' not in getRegisteredFontNames()\n"
        "assert fonts.markup('王')\n"
        "assert 'Noto Sans SC' in getRegisteredFontNames()\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=fonts.FOLDER.parents[1])
