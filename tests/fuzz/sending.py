"""What is sent to an address: its form as a browser would send it, then harmed."""

from __future__ import annotations

from dataclasses import dataclass, field
from urllib.parse import quote, quote_plus

from django.http import HttpResponseBase
from django.test import Client as Browser
from hypothesis import strategies as st

from tests.fuzz import hostile
from tests.fuzz.files import FILES, File
from tests.fuzz.seen import Control
from tests.fuzz.targets import Target

FORM = "application/x-www-form-urlencoded"
PARTS = "multipart/form-data; boundary=parted"
RAW: tuple[tuple[str, bytes], ...] = (
    (FORM, b"name=%ff%fe&acres=%ed%a0%80&%80=%"),
    (FORM, b"name=\xff\xfe\x00&=&&&"),
    (FORM + "; charset=utf-7", b"name=+ADw-b+AD4-"),
    (FORM + "; charset=nothing", b"name=x"),
    (FORM, b"&".join(b"f%d=1" % at for at in range(2100))),
    ("application/json", b'{"name": NaN, "deep": ' + b"[" * 5000 + b"]" * 5000 + b"}"),
    ("application/json", b'["\\ud800", 1e999]'),
    ("application/json", b"\xff"),
    ("text/plain", b"name=x"),
    ("image/png", b"\x89PNG"),
    ("", b"name=x"),
    ("multipart/form-data", b"no boundary"),
    ("multipart/form-data; boundary=" + "b" * 300, b"--b"),
    (PARTS, b"--parted\r\nContent-Disposition: form-data\r\n\r\nx\r\n--parted--"),
    (PARTS, b'--parted\r\nContent-Disposition: form-data; name="name"\r\n\r\n\xff\xfe'),
    (
        PARTS,
        b'--parted\r\nContent-Disposition: form-data; name="file"; filename="\x00"\r\n\r\nx\r\n--parted--',
    ),
    (
        PARTS,
        b"--parted\r\nContent-Transfer-Encoding: base64\r\n"
        b'Content-Disposition: form-data; name="name"\r\n\r\n=x=',
    ),
)
HEADERS: tuple[dict[str, str], ...] = (
    {},
    {"HTTP_ACCEPT": "application/json"},
    {"HTTP_HX_REQUEST": "true", "HTTP_HX_TARGET": "x"},
    {"HTTP_ACCEPT": "*/*;q=x, ;;;", "HTTP_ACCEPT_LANGUAGE": "x" * 600 + ", es;q=NaN"},
    {"HTTP_ACCEPT_LANGUAGE": "es"},
    {"HTTP_X_FORWARDED_FOR": "999.1, ::x, 'or 1=1"},
    {"HTTP_REFERER": "http://[::1", "HTTP_USER_AGENT": "x" * 5000},
    {"HTTP_IF_NONE_MATCH": '"x", *', "HTTP_IF_MODIFIED_SINCE": "Thu, 31 Feb 2027 25:61:61 GMT"},
    {"HTTP_RANGE": "bytes=9-1"},
    {"HTTP_COOKIE": "messages=x; csrftoken=\xff"},
)
HOWS = (
    "one",
    "one",
    "one",
    "few",
    "few",
    "all",
    "other",
    "drop",
    "twice",
    "address",
    "raw",
    "file",
    "header",
)


@dataclass
class Case:
    """One request as it goes out."""

    method: str
    path: str
    pairs: list[tuple[str, str]] = field(default_factory=list)
    files: list[tuple[str, File]] = field(default_factory=list)
    raw: tuple[str, bytes] | None = None
    headers: dict[str, str] = field(default_factory=dict)

    def send(self, browser: Browser) -> HttpResponseBase:
        if self.method == "GET":
            return browser.generic("GET", self.path, QUERY_STRING=encoded(self.pairs), **self.headers)
        kind, body = self.raw or self._body()
        return browser.generic("POST", self.path, body, content_type=kind, **self.headers)

    def _body(self) -> tuple[str, bytes]:
        if not self.files:
            return FORM, encoded(self.pairs).encode()
        parts = [b'name="%b"\r\n\r\n%b' % (_bytes(name), _bytes(value)) for name, value in self.pairs]
        parts += [
            b'name="%b"; filename="%b"\r\nContent-Type: %b\r\n\r\n%b'
            % (_bytes(name), _bytes(file.name), file.kind.encode(), file.data)
            for name, file in self.files
        ]
        whole = b"".join(b"--parted\r\nContent-Disposition: form-data; " + part + b"\r\n" for part in parts)
        return PARTS, whole + b"--parted--\r\n"


def _bytes(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def encoded(pairs: list[tuple[str, str]]) -> str:
    return "&".join(f"{quote_plus(_bytes(name))}={quote_plus(_bytes(value))}" for name, value in pairs)


@st.composite
def cases(draw: st.DrawFn, target: Target, turn: int) -> Case:
    """A case for the target; `turn` says which one is the plainest."""
    controls = list(target.controls)
    whole = draw(st.sampled_from([True, False]))
    button = [one for one in controls if one.kind == "button"]
    pushed = draw(st.sampled_from(button)) if button else None
    pairs = [(one.name, one.filled if whole else one.value) for one in controls if one.sent or one is pushed]
    case = Case(target.method, target.path, pairs)
    hows = [how for how in HOWS if _can(how, target)]
    how = draw(st.sampled_from(hostile.turned(hows, turn)))
    if how in ("one", "few", "all"):
        most = {"one": 1, "few": 4, "all": len(controls)}[how]
        order = hostile.turned(controls, turn)
        harmed = order if how == "all" else draw(st.lists(st.sampled_from(order), min_size=1, max_size=most))
        for one in harmed:
            _put(case, one.name, draw(_values(one, turn)))
    elif how == "other":
        for one in controls:
            if one.choices:
                _put(case, one.name, draw(st.sampled_from(one.choices)))
        one = draw(st.sampled_from(controls))
        _put(case, one.name, draw(_values(one, turn)))
    elif how == "drop":
        gone = {draw(st.sampled_from(controls)).name, draw(st.sampled_from(controls)).name}
        case.pairs = [pair for pair in case.pairs if pair[0] not in gone]
    elif how == "twice":
        one = draw(st.sampled_from(hostile.turned(controls, turn)))
        case.pairs += [(one.name, draw(_values(one, turn))), (draw(hostile.values(turn)), "x")]
    elif how == "address":
        part = draw(st.sampled_from(target.args))
        instead = quote(_bytes(draw(hostile.values(turn)))) or "0"
        case.path = "/".join(instead if bit == part else bit for bit in case.path.split("/"))
    elif how == "raw":
        case.raw = draw(st.sampled_from(hostile.turned(RAW, turn)))
    elif how == "header":
        case.headers = draw(st.sampled_from(HEADERS))
    if how == "file" or any(one.kind == "file" for one in controls):
        names = [one.name for one in controls if one.kind == "file"] or [one.name for one in controls]
        case.files = [(draw(st.sampled_from(names)), draw(st.sampled_from(hostile.turned(FILES, turn))))]
        case.headers |= draw(st.sampled_from(HEADERS[:3]))
    return case


def _can(how: str, target: Target) -> bool:
    if how == "address":
        return bool(target.args)
    if how == "raw":
        return target.method == "POST"
    if how == "file":
        return target.method == "POST" and bool(target.controls)
    return how == "header" or bool(target.controls)


def _values(one: Control, turn: int) -> st.SearchStrategy[str]:
    harmful = hostile.fitting(one.kind, turn)
    return harmful | st.sampled_from(one.choices) if one.choices else harmful


def _put(case: Case, name: str, value: str) -> None:
    case.pairs = [pair for pair in case.pairs if pair[0] != name] + [(name, value)]
