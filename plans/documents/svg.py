"""A drawing as inline SVG for a page whose Content-Security-Policy forbids style attributes."""

from __future__ import annotations

from xml.etree import ElementTree

from reportlab.graphics import renderSVG
from reportlab.graphics.shapes import Drawing

from plans.documents import fonts
from plans.documents.fonts import FACES

_NAMESPACE = "{http://www.w3.org/2000/svg}"
_BEHIND = {fonts.SERIF: "Georgia, serif"}


def inline_svg(drawing: Drawing, *, name: str, title: str, description: str) -> str:
    """The drawing as one `<svg>` element that scales to its container.

    `name` makes the ids of its title and description unique on the page.
    """
    root = ElementTree.fromstring(renderSVG.drawToString(drawing))  # noqa: S314  our own drawing
    for parent in list(root.iter()):
        for child in list(parent):
            if child.tag in {f"{_NAMESPACE}{tag}" for tag in ("title", "desc", "clipPath")}:
                parent.remove(child)
    for element in root.iter():
        element.tag = element.tag.removeprefix(_NAMESPACE)
        _restyle(element)
    for attribute in ("width", "height", "version", "id"):
        root.attrib.pop(attribute, None)
    root.set("xmlns", _NAMESPACE.strip("{}"))
    root.set("class", "drawing")
    root.set("role", "img")
    root.set("aria-labelledby", f"{name}-title {name}-description")
    for at, (tag, part, text) in enumerate((("title", "title", title), ("desc", "description", description))):
        element = ElementTree.Element(tag, {"id": f"{name}-{part}"})
        element.text = fonts.clean(text)
        root.insert(at, element)
    return ElementTree.tostring(root, encoding="unicode")


def _restyle(element: ElementTree.Element) -> None:
    """Style declarations become presentation attributes; font names become what CSS calls them."""
    declarations = element.attrib.pop("style", "")
    element.attrib.pop("clip", None)
    if element.tag == "g":
        element.attrib.pop("id", None)
    for declaration in declarations.split(";"):
        key, _, value = (part.strip() for part in declaration.partition(":"))
        if not key or key == "clip-path":
            continue
        if key == "font-family":
            face = FACES[value]
            element.set("font-family", f"'{face.family}', {_BEHIND.get(face.family, 'sans-serif')}")
            if face.weight != 400:
                element.set("font-weight", str(face.weight))
            if face.style != "normal":
                element.set("font-style", face.style)
        else:
            element.set(key, "none" if value == "None" else value)
    if element.tag == "text":
        # The renderer rounds the flip about the baseline to whole units; this one is exact.
        element.set("y", f"{-float(element.get('y', '0')):g}")
        element.set("transform", "scale(1,-1)")
