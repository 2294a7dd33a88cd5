"""The forms of a page as a browser sees them: where they go, and what they would send."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urljoin

PLAIN = {
    "date": "2027-05-03",
    "time": "08:30",
    "number": "2",
    "email": "ada@example.org",
    "password": "wide open prairie",
    "url": "https://example.org/",
    "text": "Prairie",
}
"""What fits a field of its kind and is empty."""
Attributes = dict[str, str | None]


@dataclass
class Control:
    name: str
    kind: str
    """date, time, number, email, password, url, text, hidden, select, check, file or button."""
    value: str
    sent: bool = True
    choices: tuple[str, ...] = ()

    @property
    def filled(self) -> str:
        if self.value:
            return self.value
        return next((choice for choice in self.choices if choice), "") or PLAIN.get(self.kind, "")


@dataclass
class SeenForm:
    path: str
    method: str
    controls: list[Control] = field(default_factory=list)

    @property
    def names(self) -> frozenset[str]:
        return frozenset(control.name for control in self.controls)


def forms_of(html: str, path: str) -> list[SeenForm]:
    page = _Forms(path)
    page.feed(html)
    return page.forms


class _Forms(HTMLParser):
    def __init__(self, path: str) -> None:
        super().__init__()
        self.path = path
        self.forms: list[SeenForm] = []
        self.by_id: dict[str, SeenForm] = {}
        self.open: SeenForm | None = None
        self.select: Control | None = None
        self.area: Control | None = None
        self.first_option = True

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if asked := given.get("hx-post"):
            # What a script asks for along with the form around it.
            self._form(asked, "POST", like=self.open)
        if tag == "form":
            self.open = self._form(given.get("action") or "", (given.get("method") or "GET").upper())
            if given.get("id"):
                self.by_id[given["id"] or ""] = self.open
        elif tag in ("input", "select", "textarea", "button") and given.get("name"):
            self._control(tag, given)
        elif tag == "option" and self.select:
            value = given.get("value") or ""
            self.select.choices += (value,)
            if "selected" in given or self.first_option:
                self.select.value, self.first_option = value, False

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.open = None
        elif tag == "select":
            self.select = None
        elif tag == "textarea":
            self.area = None

    def handle_data(self, data: str) -> None:
        if self.area:
            self.area.value += data.removeprefix("\n") if not self.area.value else data

    def _form(self, action: str, method: str, like: SeenForm | None = None) -> SeenForm:
        path = urljoin(self.path, action.partition("#")[0] or self.path)
        # One list of controls for both: those that come later in the page belong to it too.
        form = SeenForm(path, method, like.controls if like else [])
        self.forms.append(form)
        return form

    def _control(self, tag: str, given: Attributes) -> None:
        form = self.by_id.get(given.get("form") or "") or self.open
        if form is None or "disabled" in given:
            return
        kind = _kind(tag, given)
        control = Control(given["name"] or "", kind, given.get("value") or "")
        if kind == "check":
            control.value, control.sent = control.value or "on", "checked" in given
            same = [one for one in form.controls if one.name == control.name]
            control.choices = (control.value,)
            if given.get("type") == "radio" and same:
                same[0].choices += control.choices
                same[0].sent = True
                return
        elif kind in ("button", "file"):
            control.sent = False
        form.controls.append(control)
        if tag == "select":
            self.select, self.first_option = control, True
        elif tag == "textarea":
            self.area = control


def _kind(tag: str, given: Attributes) -> str:
    if tag in ("select", "button"):
        return tag
    if given.get("inputmode") in ("decimal", "numeric"):
        return "number"
    kind = given.get("type") or "text"
    known = {"checkbox": "check", "radio": "check", "submit": "button", "datetime-local": "date"}
    kind = known.get(kind, kind)
    return (
        kind
        if kind in ("date", "time", "number", "email", "password", "url", "hidden", "check", "file")
        else "text"
    )
