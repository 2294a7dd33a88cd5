"""Values that programs stumble over, each as text that a form, a cell, an argument or a file may hold."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from hypothesis import strategies as st

T = TypeVar("T")

MARK = "zqmark"
"""Stands in every value that would be markup; found unescaped, it was taken for markup."""
MARKUP = (
    f"<b {MARK}>bold</b>",
    f"</textarea></select><script {MARK}>1</script>",
    f"\"><img src=x onerror='{MARK}'>",
    f"--><i {MARK}>",
    f"]]><u {MARK}>",
)
UNESCAPED = tuple(f"<{tag} {MARK}" for tag in ("b", "script", "i", "u")) + (f"onerror='{MARK}'",)
HEADER = "X-Injected"
LINES = (
    f"a\r\n{HEADER}: yes",
    f"a\n{HEADER}: yes",
    f"a\r\n\r\n<b {MARK}>",
    "owner@kestrel.example\r\nBcc: all@kestrel.example",
    "a%0d%0aX-Injected:%20yes",
    "a\u2028b\u2029c\x0b\x0c\x85",
)
NUMBERS = (
    *("-1", "0", "-0", "0.0000001", "1e400", "-1e400", "1e308", "-1e308", "1e-320", "1e5", "1E+2"),
    *("NaN", "-nan", "sNaN", "inf", "-Infinity", "+inf", "1,5", "1.234,56", "1,234.5", "12,34,5"),
    *("2147483648", "-2147483649", "9223372036854775808", "9" * 25, "9" * 400, "9" * 5000, "0." + "3" * 400),
    *(
        "0x10",
        "²",
        "1_000",
        "1 000",
        "1\u00a0000",
        "½",
        "١٢",
        "１２",
        "−5",
        "--1",
        "1e",
        "$12",
        "12%",
        "$",
        "%",
    ),
    *("999999999999.99", "99999999.999", "0.005", "100.0000001", "1000000", "100000000"),
)
DAYS = (
    *("0000-00-00", "0001-01-01", "9999-12-31", "10000-01-01", "2027-02-31", "2027-13-01", "-2027-01-01"),
    *("02/31/2027", "2027-1-1", "20270101", "2027-W01-1", "2027-01-01T00:00:00Z", "now", "2027-01-01 "),
    *("1600-02-29", "2100-02-29", "2999-01-01", "24:00", "25:61", "23:59:60", "00:00", "0", "2027", "02-30"),
)
TEXTS = (
    *("", " ", "\t", "\n", "\u00a0", "\u200b", "\u200b\u200d\ufeff", "a" * 201, "long words " * 1000),
    *("\x00", "a\x00b", "\x01\x1b[31m\x7f", "\ud800", "a\udfffb", "\ufffe\uffff", "\U0010ffff"),
    *("\u202egnp.exe", "\u2066\u2067\u2068x", "שלום عالم", "Z" + "\u0301" * 300, "👩\u200d🌾" * 80, "ﷺ" * 40),
    *("İıßſ", "ﬁ", "A\u030a", "\ufeffname"),
    *("=cmd|' /C calc'!A0", "+1+1", "@SUM(1)", "-2+3", "\t=1", "'=1", '=HYPERLINK("http://x","y")'),
    *("{{ 7|add:1 }}", "{% now 'Y' %}", "{% endblock %}", "{label}", "{0} {x!r}", "%s %(x)s %d %", "$name"),
    *("&#x0;&#0;&bogus;", "&amp;lt;", "<para>", "<font size=900>x", "<br/>", "<!DOCTYPE x>", "<?xml?>"),
    *(
        "../../etc/passwd",
        "..\\..\\x",
        "/etc/passwd",
        "C:\\x",
        "CON",
        ".",
        "~",
        "a/b.pdf",
        "a" * 300 + ".csv",
    ),
    *("'", '"', "\\", "';--", "' OR 1=1 --", "%", "_", "None", "null", "undefined", "true", "on", "__all__"),
    *(
        "javascript:zqmark()",
        "//evil.example/",
        "https://evil.example/\\@x",
        "http://[::1",
        "http://\u2100.x/",
    ),
    *("a@b", "a@" + "b" * 300 + ".org", '"a b"@x.org', "ａ@ｘ.org", "a@x.org,b@x.org", "@"),
    *(
        "[]",
        "{}",
        "[1]",
        '"x"',
        "[null]",
        '{"a":' * 600,
        "[" * 6000,
        '{"type":"Polygon","coordinates":[[[NaN,1]]]}',
    ),
    *('"\\ud800"', "1e999", "-", ",", ";", "1,2,3", "38.8, -92.2", "91, 181", "38.8 -92.2\n38.9 -92.2\nx"),
)
KEYS = ("1", "2", "3", "4", "5", "7", "11", "16", "40", "99999")
"""Of records; low ones belong to another practice as often as not."""
EVERYTHING: tuple[str, ...] = (*MARKUP, *NUMBERS, *TEXTS, *DAYS, *LINES, *KEYS)


def turned(values: Sequence[T], by: int) -> list[T]:
    """The same values, begun further on: the plainest case of each address is then another one."""
    at = by % len(values)
    return [*values[at:], *values[:at]]


def values(turn: int = 0) -> st.SearchStrategy[str]:
    """Mostly what is known to hurt; else any text, surrogates and all."""
    return st.sampled_from(turned(EVERYTHING, turn)) | st.text(max_size=40)


def fitting(kind: str, turn: int = 0) -> st.SearchStrategy[str]:
    """Those that hurt a field of this kind most, before the others."""
    near = {"date": DAYS, "time": DAYS, "number": NUMBERS, "hidden": (*KEYS, *TEXTS), "select": KEYS}.get(
        kind
    )
    return st.sampled_from(turned(near, turn)) | values(turn) if near else values(turn)
