"""What is marked for translation, gathered from code, templates and tables, and the Spanish catalogue of it.

`python -m tests.tools.catalogue` brings locale/es up to date: new texts come in empty, gone ones go out, and
the compiled file is made anew. The texts of the planning service need no marks: a sentence with values in it
is known again by its words.
"""

from __future__ import annotations

import ast
import csv
import json
import re
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from plans.documents.told import CONTEXT, PLACE, sentences
from plans.documents.words import UNIT_WORDS
from tests.tools.readers import consultants_alone
from tests.tools.spoken import (
    ALSO_SAID,
    CHOICES,
    COLUMNS,
    FORMS,
    GROUND_COLUMNS,
    MADE_OF_NAMES,
    SAYING,
    SAYING_ELSEWHERE,
    UNITS_OF_INPUTS,
    UNSAID_CALLS,
    WORKING,
)

ROOT = Path(__file__).resolve().parents[2]
PO = ROOT / "locale" / "es" / "LC_MESSAGES" / "django.po"
MO = PO.with_suffix(".mo")
SCRIPT = ROOT / "static" / "js" / "phone-words-es.js"
MADE = datetime(2026, 11, 29, tzinfo=UTC)
"""Of the file's head; the same always, so that the file changes with its texts alone."""

FOR_CONSULTANTS = "Only consultants read this; it may wait for its translation."
"""Told to a translator beside such a text."""

MARKS = {"_", "gettext", "gettext_lazy", "marked"}
PLURAL_MARKS = {"several", "ngettext", "ngettext_lazy"}


@dataclass(frozen=True, slots=True)
class Marked:
    text: str
    many: str = ""
    context: str | None = None
    where: str = ""
    of_typing: bool = False
    """Says what is wrong with something that was typed."""

    @property
    def may_wait(self) -> bool:
        """For its Spanish: nobody but consultants reads it there."""
        return self.of_typing or consultants_alone(self.where)


def _words(node: ast.AST | None) -> str:
    """The text of a literal, marked or not."""
    if isinstance(node, ast.Call) and getattr(node.func, "id", "") in MARKS and node.args:
        node = node.args[0]
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""


def in_code(path: Path) -> Iterator[Marked]:
    where = str(path.relative_to(ROOT))
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        called = getattr(node.func, "id", getattr(node.func, "attr", ""))
        texts = [_words(argument) for argument in node.args]
        if called in MARKS and texts and texts[0]:
            yield Marked(texts[0], where=where)
        elif called in PLURAL_MARKS and len(texts) > 1 and texts[0]:
            yield Marked(texts[0], texts[1], where=where)
        elif called in ("count", "measured") and len(texts) > 1 and texts[1]:
            many = texts[2] if len(texts) > 2 and texts[2] else texts[1] + "s"
            place = "{count} " if called == "count" else "{amount} "
            yield Marked(place + texts[1], place + many, where=where)


TRANSLATE = re.compile(r"""\{%\s*(?:translate|trans)\s+(?:"([^"]+)"|'([^']+)')""")
QUOTED = re.compile(r"""[:=\s]_\((?:"([^"]+)"|'([^']+)')\)""")
"""`{{ name|default:_("nobody") }}`, `{% include "x.html" with word=_("none") %}`."""
BLOCK = re.compile(r"\{%\s*blocktranslate\b([^%]*)%\}(.*?)\{%\s*endblocktranslate\s*%\}", re.S)
PLURAL = re.compile(r"\{%\s*plural\s*%\}")
VARIABLE = re.compile(r"\{\{\s*(\w+)\s*\}\}")


def in_template(path: Path) -> Iterator[Marked]:
    where, text = str(path.relative_to(ROOT)), path.read_text(encoding="utf-8")
    for pattern in (TRANSLATE, QUOTED):
        for found in pattern.finditer(text):
            yield Marked((found.group(1) or found.group(2)).replace("%", "%%"), where=where)
    for found in BLOCK.finditer(text):
        forms = [_block(form, " trimmed" in found.group(1)) for form in PLURAL.split(found.group(2))]
        yield Marked(*forms, where=where)


def _block(text: str, trimmed: bool) -> str:
    """As the web framework asks for it: places as %(name)s, and with `trimmed` lines joined."""
    if trimmed:
        text = " ".join(line.strip() for line in text.strip().splitlines())
    return VARIABLE.sub(r"%(\1)s", text.replace("%", "%%"))


FORMAT = re.compile(r"(?<=\w):[^{}]*(?=\})")
"""Of a place for a number, how it is written: `:.0f` of `{open_pct:.0f}`."""


def in_table(path: Path, columns: tuple[str, ...]) -> Iterator[Marked]:
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            for column in columns:
                if row[column]:
                    text = FORMAT.sub("", row[column])
                    yield Marked(text, context=CONTEXT, where=str(path.relative_to(ROOT)))


class _Said(ast.NodeVisitor):
    """Sentences of the planning service, those with values in them as templates."""

    def __init__(self, workings: bool = False) -> None:
        self.found: list[str] = []
        self.names: list[str] = []
        """Inputs of a working, of one word too."""
        self.workings = workings

    def visit_all(self, nodes: Iterable[ast.AST]) -> None:
        for node in nodes:
            self.visit(node)

    def visit_Raise(self, node: ast.Raise) -> None:
        """An error of input is for whoever typed it."""

    def visit_Expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Constant):
            self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        called = getattr(node.func, "id", getattr(node.func, "attr", ""))
        if called in UNSAID_CALLS or (called in ("Figure", "Term") and not self.workings):
            return
        if called == "Figure":
            self.visit_all(node.args[2:4])
            self.visit_all([one.value for one in node.keywords if one.arg == "formula"])
            return
        if called == "Term":
            self.names.extend(text for argument in node.args[:1] if (text := _words(argument)))
            return
        for argument in (*node.args, *(one.value for one in node.keywords if one.arg != "source")):
            self.visit(argument)

    def visit_Assign(self, node: ast.Assign) -> None:
        """Sources are told as they are printed, in the language of the publication."""
        if not any(getattr(target, "id", "").endswith("SOURCE") for target in node.targets):
            self.visit(node.value)

    def visit_Subscript(self, node: ast.Subscript) -> None:
        """Members of a literal type are keys."""
        if getattr(node.value, "id", "") != "Literal":
            self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        if isinstance(node.value, str):
            self.found.append(node.value)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        self.found.append(template_of(node))
        for part in node.values:
            if isinstance(part, ast.FormattedValue):
                self.visit(part.value)


def template_of(node: ast.JoinedStr) -> str:
    """`{name} is steep at {slope_pct} %.` of the sentence that the code puts together."""
    used: dict[str, int] = {}
    text = ""
    for part in node.values:
        if isinstance(part, ast.FormattedValue):
            name = _name(part.value).strip("_") or "value"
            used[name] = used.get(name, 0) + 1
            text += f"{{{name}{used[name] if used[name] > 1 else ''}}}"
        else:
            text += _words(part)
    return text


def _name(node: ast.AST) -> str:
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute):
        return node.attr
    if isinstance(node, ast.Call):
        return _name(node.args[0]) if node.args else _name(node.func)
    if isinstance(node, ast.Subscript):
        return _name(node.value)
    if isinstance(node, ast.BinOp):
        return _name(node.left)
    return "value"


WORD = re.compile(r"[A-Z][a-z]{3,}")
"""A heading of one word; keys are in small letters."""
NOT_SAID = re.compile(
    r"\[from memory\]|\(seen|reference/|^\W*$|^\{?\w*\}?/\{|: University|University of|Handbook|^fl oz$"
    r"|^lb PLS$|^NDSU|^0 in$"
)


def in_planning(path: Path, function: str = "") -> Iterator[Marked]:
    said = _Said(path.stem in WORKING)
    tree: ast.AST = ast.parse(path.read_text(encoding="utf-8"))
    if function:
        tree = next(one for one in ast.walk(tree) if getattr(one, "name", "") == function)
    said.visit(tree)
    for name in said.names:
        yield Marked(name, context=CONTEXT, where=str(path.relative_to(ROOT)))
    for text in said.found:
        bare = re.sub(r"\{\w+\}", "", text).strip()
        said_so = " " in text.strip() or (path.stem in SAYING and WORD.fullmatch(text))
        if said_so and re.search(r"[A-Za-z]{2}", bare) and not NOT_SAID.search(text):
            for sentence in sentences(text.strip().removeprefix(". ").removeprefix("; ")):
                if re.search(r"[A-Za-z]{2}", re.sub(r"\{\w+\}", "", sentence)):
                    yield Marked(sentence, context=CONTEXT, where=str(path.relative_to(ROOT)))


CHECKING_TABLES = {"cells", "plants", "tables", "wire"}
"""Modules whose refusals speak of the files that they read, to whoever wrote them."""
TELLING_WHAT_IS_WRONG = "own_words"
"""A module that gives back what is wrong, with the names of the places for a practice's words."""


def in_refusals(path: Path) -> Iterator[Marked]:
    """What the planning service and the ground refuse, sentence by sentence."""
    if path.stem in CHECKING_TABLES:
        return
    said, tree = _Said(), ast.parse(path.read_text(encoding="utf-8"))
    if path.stem == TELLING_WHAT_IS_WRONG:
        said.visit(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call):
            said.visit_all(node.exc.args)
    for text in said.found:
        for sentence in sentences(text.strip()):
            if " " in sentence and len(re.findall(r"[A-Za-z]{2,}", PLACE.sub("", sentence))) > 1:
                where = str(path.relative_to(ROOT))
                yield Marked(sentence, context=CONTEXT, where=where, of_typing=True)


def in_choices(path: Path, names: tuple[str, ...]) -> Iterator[Marked]:
    """Labels of choices, members of a literal type, texts of a table or of what a function returns."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        targets = getattr(node, "targets", None) or [getattr(node, "target", node)]
        named = {getattr(target, "id", getattr(target, "name", "")) for target in targets}
        if named & set(names):
            for text in (text for part in ast.walk(node) for text in _choices(part)):
                yield Marked(text, context=CONTEXT, where=str(path.relative_to(ROOT)))


def _choices(node: ast.AST) -> list[str]:
    """What is read of one literal: the second of a pair, and of a dictionary the texts that it leads to."""
    if isinstance(node, ast.Dict):
        told = list(filter(None, map(_words, node.values)))
        return told or list(filter(None, map(_words, node.keys)))
    if isinstance(node, ast.Tuple):
        return list(filter(None, map(_words, node.elts[1:] if len(node.elts) == 2 else node.elts)))
    return []


SAY = re.compile(r"""\bsay\(\s*"([^"]+)\"""")
SCRIPTS = ("phone.js", "phone-worker.js")


def in_scripts() -> Iterator[Marked]:
    """What scripts say on a page that a crew reads."""
    for name in SCRIPTS:
        path = ROOT / "static" / "js" / name
        for found in SAY.finditer(path.read_text(encoding="utf-8")):
            yield Marked(found.group(1), where=str(path.relative_to(ROOT)))


def as_script(catalogue: Catalog) -> bytes:
    """The Spanish of the scripts, for a page to load before them."""
    said = {one.text: str(message.string) for one in in_scripts() if (message := catalogue.get(one.text))}
    return f"self.phoneWords = {json.dumps(said, ensure_ascii=False, indent=2)};\n".encode()


def each_once(said: Iterable[Marked]) -> Iterable[Marked]:
    """Each text once: where it needs its Spanish, if it does anywhere."""
    found: dict[tuple[str | None, str], Marked] = {}
    for one in said:
        known = found.setdefault((one.context, one.text), one)
        if known.may_wait and not one.may_wait:
            found[one.context, one.text] = one
    return found.values()


def in_form(path: Path, names: tuple[str, ...]) -> Iterator[Marked]:
    """What a form of the house style asks for in the language in force."""
    where = str(path.relative_to(ROOT))
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.keyword) and node.arg in ("label", "help_text", "empty_label"):
            for part in ast.walk(node.value):
                if text := _words(part):
                    yield Marked(text, where=where)
    for one in in_choices(path, names):
        if one.text[:1].isupper() or " " in one.text:
            yield Marked(one.text, where=where)


def modules() -> Iterator[Path]:
    """Ours, but for the planning service, which needs no marks."""
    for folder in ("consulting", "sites", "plans"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            if not {"planning", "migrations"} & set(path.parts):
                yield path


def templates() -> Iterator[Path]:
    for path in sorted((ROOT / "templates").rglob("*.*")):
        if path.suffix in (".html", ".txt"):
            yield path


def everything() -> Iterator[Marked]:
    """All that is marked, a text as often as it stands somewhere."""
    for path in modules():
        yield from in_code(path)
    for path in templates():
        yield from in_template(path)
    yield from in_scripts()
    reference = ROOT / "plans" / "planning" / "reference"
    for name, columns in COLUMNS.items():
        yield from in_table(reference / name, columns)
    for name, columns in GROUND_COLUMNS.items():
        yield from in_table(ROOT / "sites" / "reference" / name, columns)
    for name in dict.fromkeys((*SAYING, *WORKING)):
        yield from in_planning(ROOT / "plans" / "planning" / f"{name}.py")
    for folder in ("plans/planning", "sites/ground"):
        for path in sorted((ROOT / folder).glob("*.py")):
            yield from in_refusals(path)
            if folder == "sites/ground" and path.stem != "picture":
                yield from in_planning(path)
    for place, names in FORMS.items():
        yield from in_form(ROOT / place, names)
    for place, functions in SAYING_ELSEWHERE.items():
        for function in functions:
            yield from in_planning(ROOT / place, function)
    for place, names in CHOICES.items():
        yield from in_choices(ROOT / place, names)
    for text in (*MADE_OF_NAMES.split(";"), *UNITS_OF_INPUTS.split(";")):
        yield Marked(text.strip(), where="plans/reckonings.py")
    for text in ALSO_SAID:
        yield Marked(text, context=CONTEXT, where="plans/planning")
    for one, many in UNIT_WORDS:
        yield Marked("{amount} " + one, "{amount} " + many, where="plans/documents/words.py")


def kept() -> Catalog:
    if not PO.is_file():
        return Catalog(locale="es", domain="django", project="Coverstead", fuzzy=False)
    with PO.open("rb") as file:
        return read_po(file, locale="es", domain="django")


def updated(catalogue: Catalog, said: Iterable[Marked] | None = None) -> Catalog:
    """The catalogue of what is said, all that is marked now, with the translations that the kept one has."""
    fresh = Catalog(
        locale="es",
        domain="django",
        project="Coverstead",
        fuzzy=False,
        header_comment="# Spanish for what clients and crews read.",
        creation_date=MADE,
        revision_date=MADE,
        last_translator="Coverstead",
        language_team="Coverstead",
    )
    # One and many; the form that Spanish has for whole millions reads as the other.
    fresh.mime_headers = [("Plural-Forms", "nplurals=2; plural=(n != 1);")]
    for one in each_once(everything() if said is None else said):
        known = catalogue.get(one.text, one.context)
        forms = (one.text, one.many) if one.many else one.text
        string = ("", "") if one.many else ""
        if known and isinstance(known.string, tuple | list) == bool(one.many):
            string = known.string
        fresh.add(
            forms,
            string,
            locations=[(one.where, None)],  # type: ignore[list-item]
            auto_comments=[FOR_CONSULTANTS] if one.may_wait else [],
            context=one.context,
        )
    return fresh


def as_po(catalogue: Catalog) -> bytes:
    buffer = BytesIO()
    write_po(buffer, catalogue, width=110, include_lineno=False, omit_header=False)
    return buffer.getvalue()


def as_mo(catalogue: Catalog) -> bytes:
    buffer = BytesIO()
    write_mo(buffer, catalogue)
    return buffer.getvalue()


def untranslated(catalogue: Catalog) -> tuple[list[str], list[str]]:
    """Texts without Spanish: those that need it, and those that may wait since only consultants read them."""
    needed: list[str] = []
    waiting: list[str] = []
    for message in catalogue:
        string = message.string if isinstance(message.string, tuple | list) else [message.string]
        if message.id and not all(string):
            text = message.id if isinstance(message.id, str) else message.id[0]
            (waiting if FOR_CONSULTANTS in message.auto_comments else needed).append(text)
    return needed, waiting


def main() -> None:
    catalogue = updated(kept())
    PO.parent.mkdir(parents=True, exist_ok=True)
    PO.write_bytes(as_po(catalogue))
    MO.write_bytes(as_mo(kept()))
    SCRIPT.write_bytes(as_script(kept()))
    needed, waiting = untranslated(catalogue)
    print(f"{len(catalogue)} texts; {len(waiting)} that only consultants read wait for their Spanish")
    print(f"{len(needed)} that a client or a crew reads lack it")
    for text in needed:
        print(f"  {text}")
    sys.exit(1 if needed else 0)


if __name__ == "__main__":
    main()
