"""A practice's own words: plain text with names in braces that are filled in when it is printed.

`{client}` stands for the client's name; `{{` and `}}` print one brace. There is nothing else in the form:
no attributes, no formats, no sums.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Mapping

from plans.planning import tables

SECTIONS = {
    "opening": "Opening of the letter",
    "closing": "Close of the letter",
    "outcome": "What you have and will have",
    "work": "The work",
    "mix": "What goes into the ground",
    "schedule": "When it is done",
    "price": "The price",
    "payments": "Payments",
    "cost_share": "Cost-share",
    "cautions": "Points to know",
}
"""Places in a proposal for own words."""

VARIABLES = {
    "client": "the client’s name",
    "farm": "the farm’s name",
    "practice": "your practice’s name",
    "phone": "your telephone",
    "email": "your e-mail address",
    "fields": "the fields’ names",
    "acres": "the acres of these fields, with their unit",
    "years": "the years in which there is work",
    "total": "the price of the whole job",
    "valid_until": "the day to which the price holds",
    "first_work": "the first day of work",
    "first_seeding": "the first day of seeding or planting",
}
"""What may stand in braces, and what is printed for it."""

_TOKEN = re.compile(r"\{\{|\}\}|\{([^{}\n]*)\}|[{}]")


def places() -> dict[str, str]:
    """Every place for own words with its name: sections, then kill programs, then seedings."""
    return (
        SECTIONS
        | {program_place(key): row.label for key, row in tables.programs().items()}
        | {seeding_place(key): row.label for key, row in tables.seedings().items()}
    )


def program_place(key: str) -> str:
    return f"program:{key}"


def seeding_place(key: str) -> str:
    return f"seeding:{key}"


def problems(text: str) -> list[str]:
    """What is wrong with own words: each problem names its line, what stands there and how to mend it."""
    return [
        f"Line {number}: {said}"
        for number, line in enumerate(text.splitlines(), start=1)
        for said in _wrong(line)
    ]


def _wrong(line: str) -> Iterator[str]:
    for token in _TOKEN.finditer(line):
        name = token[1]
        if name is None and token[0] in ("{", "}"):
            missing = "}" if token[0] == "{" else "{"
            yield (
                f"a {token[0]} stands there without its {missing}. Write a name such as {{client}}, "
                f"or {token[0] * 2} to print one brace."
            )
        elif name is not None and name not in VARIABLES:
            yield f"{{{name}}} is not a name that can be filled in. {_instead(name)}"


def _instead(name: str) -> str:
    near = difflib.get_close_matches(name.strip().lower(), VARIABLES, n=1, cutoff=0.6)
    there_are = ", ".join(f"{{{known}}}" for known in VARIABLES)
    return f"{f'Is {{{near[0]}}} meant? ' if near else ''}There are {there_are}."


def filled(text: str, values: Mapping[str, str]) -> str:
    """The text with each name in braces replaced; a name without a value stays as it was typed."""

    def said(token: re.Match[str]) -> str:
        if token[1] is not None:
            return values.get(token[1], token[0])
        return token[0][0]

    return _TOKEN.sub(said, text)
