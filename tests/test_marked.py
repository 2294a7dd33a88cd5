"""No text of ours goes without a mark, by which it is gathered for whoever translates it."""

from __future__ import annotations

import pytest

from tests.tools import catalogue, unmarked


def test_every_template_marks_its_words() -> None:
    bare = {
        str(path.relative_to(catalogue.ROOT)): found
        for path in catalogue.templates()
        if (found := unmarked.in_template(path.read_text(encoding="utf-8"), path.suffix == ".html"))
    }
    assert not bare


def test_every_label_and_every_answer_to_what_was_done_is_marked() -> None:
    bare = {
        str(path.relative_to(catalogue.ROOT)): found
        for path in catalogue.modules()
        if (found := unmarked.in_code(path.read_text(encoding="utf-8")))
    }
    assert not bare


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("<p>Seed</p>", ["Seed"]),
        ('<p>{% translate "Seed" %}: {{ lot.name }}, 5 %</p>', []),
        ("{% blocktranslate %}Sown on{% endblocktranslate %} {{ day }} again", ["0 again"]),
        ('<img alt="Field"><a title="{{ name }} mapped" href="word">1</a>', ["Field", "0 mapped"]),
        ('<input type="submit" value="Save"><input name="on" value="typed">', ["Save"]),
        ("<script>let seed = 1;</script>{# a note #}", []),
        ('{{ name|default:"nobody" }}{{ name|default:_("nobody") }}{{ day|date:"F" }}', ["nobody"]),
        ('{% include "a.html" with word="No seed" place=name %}', ["No seed"]),
        ('<{% if url %}a href="{{ url }}"{% else %}button{% endif %}>{{ label }}</a>', []),
    ],
)
def test_words_without_a_mark_are_found_in_a_template(text: str, found: list[str]) -> None:
    assert unmarked.in_template(text) == found


@pytest.mark.parametrize(
    ("code", "found"),
    [
        ('forms.CharField(label="Seed", help_text=_("How much."))', ["Seed"]),
        ('messages.success(request, f"{name} is sown.")', ["{} is sown."]),
        ('messages.success(request, _("{name} is sown.").format(name=name))', []),
        ('messages.success(request, "{name} is sown.".format(name=name))', ["{name} is sown."]),
        ('form.add_error("day", "Too late." if late else _("Too early."))', ["Too late."]),
        ('NO = "Not now."\nraise Refused(NO)', ["Not now."]),
        ('raise ValidationError({"day": "Too late."}, code="day")', ["Too late."]),
        ('raise KeyError("day"); logger.info("Sown.")', []),
    ],
)
def test_words_without_a_mark_are_found_in_code(code: str, found: list[str]) -> None:
    assert unmarked.in_code(code) == found
