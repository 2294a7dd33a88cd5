"""The forms of a page as a browser would send them: every field with what stands in it."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urlsplit

from django.test import Client as Browser


@dataclass
class Form:
    action: str
    method: str
    data: dict[str, list[str]] = field(default_factory=dict)

    def put(self, name: str | None, value: str | None) -> None:
        if name:
            self.data.setdefault(name, []).append(value or "")

    def filled(self, **typed: str | list[str]) -> dict[str, list[str]]:
        return self.data | {name: [text] if isinstance(text, str) else text for name, text in typed.items()}


class Forms(HTMLParser):
    def __init__(self, html: str, path: str) -> None:
        super().__init__()
        self.found: list[Form] = []
        self.path = path
        self._form: Form | None = None
        self._select: str | None = None
        self._options: list[tuple[str, bool]] = []
        self._area: str | None = None
        self._text = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        name, value = given.get("name"), given.get("value")
        if tag == "form":
            action = urlsplit(given.get("action") or self.path).path or self.path
            self._form = Form(action, given.get("method") or "get")
            self.found.append(self._form)
        if self._form is None:
            return
        if tag == "input":
            kind = given.get("type", "text")
            if kind in ("checkbox", "radio"):
                if "checked" in given:
                    self._form.put(name, value or "on")
            elif kind not in ("file", "submit", "button"):
                self._form.put(name, value)
        elif tag == "select":
            self._select, self._options = name, []
        elif tag == "option" and self._select:
            self._options.append((value or "", "selected" in given))
        elif tag == "textarea":
            self._area, self._text = name, ""

    def handle_data(self, data: str) -> None:
        if self._area:
            self._text += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None
        if self._form is None:
            return
        if tag == "select" and self._select:
            chosen = [value for value, selected in self._options if selected]
            for value in chosen or [value for value, _ in self._options[:1]]:
                self._form.put(self._select, value)
            self._select = None
        elif tag == "textarea" and self._area:
            self._form.put(self._area, self._text.removeprefix("\n"))
            self._area = None


def forms_of(html: str, path: str) -> list[Form]:
    """The forms of a page that are posted."""
    return [form for form in Forms(html, path).found if form.method.lower() == "post"]


def form_on(browser: Browser, page: str, to: str) -> Form | None:
    """The form on a page that is posted to an address."""
    html = browser.get(page).content.decode()
    return next((form for form in forms_of(html, urlsplit(page).path) if form.action == to), None)
