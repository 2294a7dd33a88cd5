"""The small map: one scale, text as text, and nothing that a policy forbids."""

from __future__ import annotations

from xml.etree import ElementTree

from sites.ground.found import Feature
from sites.ground.picture import Drawn, picture
from sites.ground.typed import outline_of_rings

SVG = "{http://www.w3.org/2000/svg}"
SHAPE = ((-92.33, 38.95), (-92.326, 38.95), (-92.326, 38.953), (-92.33, 38.953))
HOLE = ((-92.329, 38.951), (-92.328, 38.951), (-92.328, 38.952), (-92.329, 38.952))


def drawn(*drawn: Drawn) -> ElementTree.Element:
    return ElementTree.fromstring(picture(drawn, name="x", title="<b>A map</b>", description="two things"))


def field(label: str = "Barn Hill") -> Drawn:
    return Drawn(Feature("", "polygon", outline_of_rings([SHAPE, HOLE])[0]), "field", label)


def test_names_are_text_and_the_picture_says_in_words_what_it_shows() -> None:
    root = drawn(field("</text><script>alert(1)</script>"))
    assert root.find(f".//{SVG}script") is None
    assert root.findtext(f"{SVG}title") == "<b>A map</b>" and root.findtext(f"{SVG}desc") == "two things"
    assert all("style" not in element.attrib for element in root.iter())


def test_an_outline_a_line_and_a_point_lie_to_one_scale() -> None:
    line = Drawn(Feature("", "line", points=((-92.33, 38.95), (-92.326, 38.95))), "power")
    point = Drawn(Feature("", "point", points=((-92.326, 38.953),)), "well")
    root = drawn(field(), line, point)
    paths = {path.get("class"): path.get("d", "") for path in root.iter(f"{SVG}path")}
    assert paths["field"].count("M") == 2, "the outer ring and the hole"
    circle = root.find(f"{SVG}circle")
    assert circle is not None
    corners = [
        float(number) for number in paths["field"].replace("M", "L").split("Z")[0].split("L")[1].split()
    ]
    west, east = (float(pair.split()[0]) for pair in paths["line power"].lstrip("M").split("L"))
    assert corners[0] in (west, east) and float(circle.get("cx", "")) == east


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    root = drawn(field(""))
    bar = next(path.get("d", "") for path in root.iter(f"{SVG}path") if path.get("class") == "scale")
    left, right = float(bar[1:].split()[0]), float(bar.split("H")[1].split("V")[0])
    ring = next(path.get("d", "") for path in root.iter(f"{SVG}path") if path.get("class") == "field")
    across = [float(pair.split()[0]) for pair in ring.split("Z")[0][1:].split("L")]
    said = next(text.text or "" for text in root.iter(f"{SVG}text") if (text.text or "").endswith("ft"))
    feet = float(said.removesuffix(" ft").replace(",", ""))
    wide_ft = 0.004 * 86_700 / 0.3048  # a degree of longitude at 38.95° N is 86.7 km
    assert abs((right - left) / (max(across) - min(across)) - feet / wide_ft) < 0.01


def test_a_single_point_has_a_picture_and_what_lies_a_continent_apart_has_none() -> None:
    here = Drawn(Feature("", "point", points=((-92.3, 38.9),)), "well", "Well")
    there = Drawn(Feature("", "point", points=((-72.3, 38.9),)), "well")
    assert drawn(here).find(f"{SVG}circle") is not None
    assert picture([here, there], name="x", title="", description="") == ""
    assert picture([], name="x", title="", description="") == ""
