"""Texts of ours that no mark gives to a translator, found in templates and in code."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from html.parser import HTMLParser

from django.template.base import Lexer, Token, TokenType

WORD = re.compile(r"[^\W\d_]{2,}")
NO_WORDS = {"Coverstead", "CSV", "XLSX", "PDF", "GeoJSON", "KML", "GPX", "PLS", "NRCS"}
"""Names, and abbreviations that every language has as they are."""
READ = {"title", "alt", "aria-label", "placeholder", "data-label"}
"""Attributes that a person reads or hears; a phone shows `data-label` before a cell."""
WORDED = re.compile(r"\|(?:default|default_if_none|yesno|pluralize|join|add):(?:\"([^\"]*)\"|'([^']*)')")
GIVEN = re.compile(r"\w+=(?:\"([^\"]*)\"|'([^']*)')")
"""What a block gives to another template, or names for itself."""


def words_in(text: str) -> bool:
    return bool(set(WORD.findall(text)) - NO_WORDS)


class _Page(HTMLParser):
    """Words between tags, and in attributes that are read."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.silent += tag in ("script", "style")
        named = dict(attrs)
        button = tag == "button" or named.get("type") in ("submit", "button", "reset")
        for name, value in attrs:
            if name in READ or (name == "value" and button and tag == "input"):
                self.handle_data(value or "")

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in ("script", "style")

    def handle_data(self, data: str) -> None:
        if not self.silent and words_in(data):
            self.found.append(" ".join(data.split()))


def in_template(text: str, markup: bool = True) -> list[str]:
    """Words outside `translate` and `blocktranslate`."""
    found: list[str] = []
    bare = ""
    inside = False
    for token in Lexer(text).tokenize():
        if token.token_type == TokenType.BLOCK:
            tag = token.contents.split(None, 1)[0]
            inside = tag in ("blocktranslate", "blocktrans") or (
                inside and tag not in ("endblocktranslate", "endblocktrans")
            )
        if token.token_type == TokenType.TEXT and not inside:
            bare += token.contents
        else:
            found += _in_token(token)
            # A value stands in its place; what a block brings, if anything, is none.
            bare += "0" if token.token_type == TokenType.VAR else ""
    if not markup:
        return found + [line.strip() for line in bare.splitlines() if words_in(line)]
    page = _Page()
    page.feed(bare)
    page.close()
    return found + page.found


def _in_token(token: Token) -> list[str]:
    """Words that a tag or a filter is given."""
    texts = [one for pair in WORDED.findall(token.contents) for one in pair]
    if token.token_type == TokenType.BLOCK and token.contents.split(None, 1)[0] in ("include", "with"):
        texts += [
            one for pair in GIVEN.findall(token.contents) for one in pair if " " in one or one.istitle()
        ]
    return [text for text in texts if words_in(text)]


LABELS = {"label", "help_text", "empty_label"}
MESSAGES = {"success", "error", "info", "warning"}
REFUSALS = set(
    """
    ValidationError Refused Changed Corrected RatesChanged LinkRefused NotTaken Settled Unreadable
    NotReadable BadFacts BadColour
    """.split()
)
"""Errors that are told, as they speak, to a person who did something."""


def in_code(source: str) -> list[str]:
    """Labels, helps, messages and refusals that no mark gives away, said there or under a name."""
    tree = ast.parse(source)
    named: dict[str, list[ast.expr]] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            named.setdefault(node.targets[0].id, []).append(node.value)
    found: list[str] = []
    for node in ast.walk(tree):
        for said in _said(node):
            found += _bare(said, named)
    return [text for text in dict.fromkeys(found) if words_in(text)]


def _said(node: ast.AST) -> list[ast.expr]:
    """What a person reads of a call or one of its arguments."""
    if isinstance(node, ast.keyword):
        return [node.value] if node.arg in LABELS else []
    if not isinstance(node, ast.Call):
        return []
    called = getattr(node.func, "id", getattr(node.func, "attr", ""))
    owner = getattr(getattr(node.func, "value", None), "id", "")
    if called in REFUSALS:
        return node.args
    told_of = called == "add_error" or (owner == "messages" and called in MESSAGES)
    return node.args[1:] if told_of else []


def _bare(node: ast.AST, named: dict[str, list[ast.expr]]) -> Iterator[str]:
    """Texts that are said as they stand."""
    parts: list[ast.expr] = []
    match node:
        case ast.Constant(value=str(text)):
            yield text
        case ast.JoinedStr(values=pieces):
            yield "".join(str(one.value) if isinstance(one, ast.Constant) else "{}" for one in pieces)
        case ast.Name(id=name):
            for value in named.get(name, []):
                yield from _bare(value, {})
        case ast.BinOp(left=left, right=right):
            parts = [left, right]
        case ast.IfExp(body=body, orelse=other):
            parts = [body, other]
        case ast.BoolOp(values=parts) | ast.List(elts=parts) | ast.Tuple(elts=parts) | ast.Dict(values=parts):
            pass
        case ast.Call(func=ast.Attribute(value=text, attr="format")):
            parts = [text]
        case ast.Call(func=ast.Name(id="sentence"), args=parts):
            pass
    for part in parts:
        yield from _bare(part, named)
