"""Files that are brought in, through all pages of it: sent, looked at, matched, taken."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from urllib.parse import urljoin

from django.db import transaction
from django.test import Client as Browser
from hypothesis import strategies as st

from plans.in_out.kinds import KINDS
from tests.conftest import Cast
from tests.fuzz import hostile, judge
from tests.fuzz.files import File, workbook
from tests.fuzz.parsers import mangled, seeds_of
from tests.fuzz.seen import SeenForm, forms_of
from tests.fuzz.sending import Case
from tests.fuzz.targets import Target

Table = list[list[str]]
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "cp1252")
HEADS = ("", "Name", "name", "=1+1", "Price", "\u200b", "x" * 300, "{{ x }}")


@dataclass
class Brought:
    """One file, and what is answered on the page that asks about it."""

    file: File
    answers: list[str]


def _written(table: Table, how: str) -> bytes:
    if how == "xlsx":
        return workbook([[_typed(cell) for cell in row] for row in table])
    out = io.StringIO()
    csv.writer(out, delimiter=";" if how == "cp1252" else ",").writerows(table)
    return out.getvalue().encode(how, "replace")


def _typed(cell: str) -> object:
    """As a spreadsheet holds it: a number, a day, yes or no, else text without what XML cannot hold."""
    try:
        return float(cell) if len(cell) < 20 and "_" not in cell else cell[:300]
    except ValueError:
        pass
    try:
        return date.fromisoformat(cell)
    except ValueError:
        return "".join(sign for sign in cell if sign.isprintable())[:32_000]


@st.composite
def tables(draw: st.DrawFn, base: Table, turn: int) -> Brought:
    """A list as it goes out, with some cells, heads or rows harmed, as text or as a workbook."""
    table = [list(row) for row in base]
    for _ in range(draw(st.sampled_from([1, 2, 5]))):
        row = draw(st.integers(1, len(table) - 1))
        column = draw(st.integers(0, len(table[0]) - 1))
        table[row][column] = draw(hostile.values(turn))
    harm = draw(st.sampled_from(["none", "none", "head", "drop", "twice", "ragged", "comma"]))
    if harm == "head":
        table[0][draw(st.integers(0, len(table[0]) - 1))] = draw(st.sampled_from(HEADS))
    elif harm == "drop":
        at = draw(st.integers(0, len(table[0]) - 1))
        table = [row[:at] + row[at + 1 :] for row in table]
    elif harm == "twice":
        table.append(list(table[-1]))
    elif harm == "ragged":
        table[-1].append("more")
    elif harm == "comma":
        table[1:] = [[cell.replace(".", ",") for cell in row] for row in table[1:]]
    how = draw(st.sampled_from(hostile.turned(("xlsx", *ENCODINGS), turn)))
    data = _written(table, how) if how == "xlsx" else _text(table, how)
    return Brought(File(f"list.{how}", "", data), draw(st.lists(hostile.values(turn), max_size=2)))


def _text(table: Table, how: str) -> bytes:
    clean = [[cell.encode("utf-8", "replace").decode() for cell in row] for row in table]
    return _written(clean, how)


def base_of(kind: str, browser: Browser, cast: Cast) -> Table:
    """What goes out of the practice; where it has nothing, a row of what fits."""
    answer = browser.get(cast.url(f"lists/{kind}/out.csv"))
    table = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    columns = KINDS[kind].columns(cast.practice)
    return table if len(table) > 1 else [[one.title for one in columns], ["1" for _ in columns]]


@st.composite
def maps(draw: st.DrawFn, turn: int) -> Brought:
    name, data = draw(st.sampled_from(hostile.turned(seeds_of("map"), turn)))
    if draw(st.booleans()):
        data = draw(mangled(data))
    return Brought(File(name, "", data), draw(st.lists(hostile.values(turn), max_size=2)))


def bring(case: Brought, path: str, cast: Cast, browser: Callable[[], Browser]) -> None:
    """Send the file; then all forms of the page that shows it, as they stand and with the answers in them."""
    target = Target("brought", "POST", path, (path,), cast, "owner", ())
    sent = Case("POST", path, files=[("file", case.file)])
    with transaction.atomic():
        response = sent.send(browser())
        judge.answer_ok(response, target)
        if response.status_code == 302:
            page = urljoin(path, response.headers["Location"])
            for form in _forms(page, browser, target):
                for pairs in _filled(form, case.answers):
                    judge.judge(Case(form.method, form.path.partition("?")[0], pairs), target, browser())
        elif response.status_code != 422:
            raise judge.Bad(f"a file is answered with {response.status_code}")
        transaction.set_rollback(True)


def _forms(page: str, browser: Callable[[], Browser], target: Target) -> list[SeenForm]:
    for _ in range(3):
        shown = browser().get(page)
        judge.answer_ok(shown, target)
        if shown.status_code != 302:
            break
        page = urljoin(page, shown.headers["Location"])
    text = judge.text_of(shown)
    return [form for form in forms_of(text, page) if "account" not in form.path]


def _filled(form: SeenForm, answers: list[str]) -> list[list[tuple[str, str]]]:
    controls = [one for one in form.controls if one.sent and one.name != "csrfmiddlewaretoken"]
    plain = [(one.name, one.filled) for one in controls]
    pairs = zip(controls, answers, strict=False)
    harmed = [plain[:at] + [(one.name, value)] + plain[at + 1 :] for at, (one, value) in enumerate(pairs)]
    return [plain, *harmed]
