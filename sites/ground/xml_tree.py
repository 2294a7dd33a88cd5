"""XML as it comes from outside: no document type, no entities, no depth without end."""

from __future__ import annotations

import io
from collections.abc import Iterator
from xml.etree.ElementTree import Element

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import ParseError, iterparse

from sites.ground.errors import GroundError
from sites.ground.found import MOST_CORNERS

DEEPEST = 64
MOST_ELEMENTS = 8 * MOST_CORNERS


def read_xml(data: bytes) -> Element:
    """The root element. Raises GroundError for anything unsound."""
    root: Element | None = None
    depth = count = 0
    try:
        for event, element in iterparse(io.BytesIO(data), events=("start", "end"), forbid_dtd=True):
            if event == "end":
                depth -= 1
                continue
            root = element if root is None else root
            depth, count = depth + 1, count + 1
            if depth > DEEPEST:
                raise GroundError("Its elements are nested too deep. Export it again.")
            if count > MOST_ELEMENTS:
                raise GroundError(f"It holds more than {MOST_ELEMENTS:,} elements. Export only the farm's.")
    except GroundError:
        raise
    except DefusedXmlException:
        raise GroundError(
            "It declares a document type or entities, which are refused. Export it again, without them."
        ) from None
    except ParseError as error:
        line, column = error.position
        raise GroundError(
            "It is no sound XML; it may be cut off. Export it again.",
            f"line {line}, column {column + 1}",
        ) from None
    except (ValueError, LookupError):
        raise GroundError("It has an encoding that is not read here. Save it as UTF-8.") from None
    if root is None:
        raise GroundError("It is empty XML. Export it again.")
    return root


def local(element: Element) -> str:
    """The name of an element without its namespace."""
    return str(element.tag).rpartition("}")[2]


def children(element: Element, name: str) -> Iterator[Element]:
    return (child for child in element if local(child) == name)


def text_of(element: Element, name: str) -> str:
    """The text of the first child of that name, without space about it; empty where there is none."""
    return next(((child.text or "").strip() for child in children(element, name)), "")


def number(text: str, place: str) -> float:
    """Raises GroundError naming what is no number."""
    try:
        if "_" in text:
            raise ValueError
        return float(text)
    except ValueError:
        raise GroundError(f"“{text[:40]}” is no number. Export it again.", place) from None
