from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from itertools import combinations
from xml.etree import ElementTree

import pytest
from reportlab.graphics.shapes import Drawing, Group, Rect, String
from reportlab.pdfbase.pdfmetrics import stringWidth

from plans.documents import ribbon, years
from plans.documents.svg import inline_svg
from plans.planning.plan import Plan

Box = tuple[float, float, float, float]


def shapes(node: Drawing | Group, kind: type) -> list:
    found = []
    for child in node.contents:
        if isinstance(child, Group):
            found += shapes(child, kind)
        elif isinstance(child, kind):
            found.append(child)
    return found


def text_boxes(drawing: Drawing) -> list[tuple[str, Box]]:
    """Runs of one line belong together and are not told apart here: they abut, and do not overlap."""
    return [
        (s.text, (s.x, s.y, s.x + stringWidth(s.text, s.fontName, s.fontSize), s.y + 0.7 * s.fontSize))
        for s in shapes(drawing, String)
    ]


def overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] - 0.01 and b[0] < a[2] - 0.01 and a[1] < b[3] - 0.01 and b[1] < a[3] - 0.01


def crowded(plan: Plan) -> Plan:
    """Every field with dates of its own, so that nothing can share a bar."""
    tasks = [
        replace(
            task,
            field=f"Field {i}",
            key=f"{i}/{task.key}",
            earliest=task.earliest + timedelta(days=i),
            latest=task.latest + timedelta(days=i),
        )
        for task in plan.tasks
        if task.field == plan.job.conversions[0].field
        for i in range(8)
    ]
    fields = tuple(replace(plan.job.conversions[0], field=f"Field {i}") for i in range(8))
    return replace(
        plan,
        job=replace(plan.job, conversions=fields),
        tasks=tuple(sorted(tasks, key=lambda task: task.earliest)),
    )


@pytest.fixture(params=["example", "crowded"])
def any_plan(request: pytest.FixtureRequest, plan: Plan) -> Plan:
    return plan if request.param == "example" else crowded(plan)


def drawings(plan: Plan) -> list[Drawing]:
    return [
        *(ribbon.season_ribbon(plan, first) for first in (2026, 2027, 2028, 2031)),
        *years.years_ahead(plan, wide=684),
        *years.years_ahead(plan, wide=684, most_high=400),
    ]


def test_words_meet_no_words_and_no_bar_and_stay_inside(any_plan: Plan) -> None:
    for drawing in drawings(any_plan):
        texts = text_boxes(drawing)
        bars = [(r.x, r.y, r.x + r.width, r.y + r.height) for r in shapes(drawing, Rect)]
        for (one, a), (other, b) in combinations(texts, 2):
            assert not overlap(a, b), (one, other)
        for text, box in texts:
            assert not any(overlap(box, bar) for bar in bars), text
            assert box[0] >= -0.01 and box[2] <= drawing.width + 0.01, text
            assert box[1] >= -0.01 and box[3] <= drawing.height + 0.01, text


def test_ribbon_shows_freezes_curves_and_each_step_of_its_years(plan: Plan) -> None:
    drawing = ribbon.season_ribbon(plan)
    words = " ".join(text for text, _ in text_boxes(drawing))
    assert "last spring freeze" in words and "first fall freeze" in words
    assert "old sod" in words and "new grass" in words
    first = plan.tasks[0].earliest.year
    for task in plan.tasks:
        if task.earliest.year in (first, first + 1) and task.season <= 1:
            assert task.label in words


def test_years_show_every_task_and_every_field(plan: Plan) -> None:
    (drawing,) = years.years_ahead(plan, wide=684)
    words = [text for text, _ in text_boxes(drawing)]
    for task in plan.tasks:
        assert any(text.startswith(f"{task.label}, ") for text in words)
    for conversion in plan.job.conversions:
        assert words.count(conversion.field) == len({text for text in words if text.isdigit()})


def test_years_break_over_drawings_no_higher_than_allowed(plan: Plan) -> None:
    many = years.years_ahead(crowded(plan), wide=684, most_high=300)
    assert len(many) > 1
    assert all(drawing.height <= 301 for drawing in many)


def test_svg_is_sound_and_passes_a_strict_policy(plan: Plan) -> None:
    name = "A & B <field>"
    text = inline_svg(
        ribbon.season_ribbon(plan), name="ribbon", title=name, description=ribbon.describe(plan)
    )
    root = ElementTree.fromstring(text)
    for element in root.iter():
        assert "style" not in element.attrib
        assert not any(attribute.startswith("on") for attribute in element.attrib)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert root.get("role") == "img"
    assert "width" not in root.attrib and "height" not in root.attrib
    named = {element.get("id"): element.text for element in root.iter() if element.get("id")}
    assert named["ribbon-title"] == name
    assert [named[part] for part in root.get("aria-labelledby").split()] == [name, ribbon.describe(plan)]
    assert list(named) == ["ribbon-title", "ribbon-description"]
    families = {e.get("font-family") for e in root.iter() if e.get("font-family")}
    assert families == {"'Atkinson Hyperlegible Next', sans-serif", "'Source Serif 4', Georgia, serif"}


def test_svg_keeps_the_words_of_a_name(plan: Plan) -> None:
    field = "王 <b>&"
    job = replace(
        plan.job, conversions=(replace(plan.job.conversions[0], field=field), *plan.job.conversions[1:])
    )
    (drawing,) = years.years_ahead(replace(plan, job=job), wide=684)
    root = ElementTree.fromstring(inline_svg(drawing, name="years", title="t", description="d"))
    texts = "".join(e.text or "" for e in root.iter() if e.tag.endswith("text"))
    assert field in texts


def test_nothing_planned_draws_nothing(plan: Plan) -> None:
    bare = replace(plan, tasks=())
    assert years.years_ahead(bare, wide=684) == []
    assert "new grass" in [text for text, _ in text_boxes(ribbon.season_ribbon(bare))]
