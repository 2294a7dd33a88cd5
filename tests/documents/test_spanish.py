"""The Spanish catalogue: up to date, whole, and enough for what a client and a crew hold in their hands."""

from __future__ import annotations

import fnmatch
import re
import string
from collections.abc import Iterator
from dataclasses import replace

import pytest
from babel.messages.catalog import Catalog

from plans.documents.crew_sheet import CrewDay, crew_sheet_pdf
from plans.documents.manner import using
from plans.documents.told import told
from plans.planning.job import Manner
from plans.planning.loading import loading_list
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.wire import read_job_file
from tests.documents import prints
from tests.documents.conftest import EXAMPLE, TODAY, pages, printed
from tests.tools import catalogue
from tests.tools.readers import ONLY_CONSULTANTS, READ_BY_OTHERS_TOO

SPANISH = Manner(locale="es_MX", paper="A4", measures="metric")
LONG = 4
"""Words of a text that can stand in a document by no accident."""


def test_the_catalogue_holds_all_that_is_marked_and_nothing_else() -> None:
    """Mend it with `make words`."""
    kept = catalogue.kept()
    assert catalogue.as_po(catalogue.updated(kept)) == catalogue.PO.read_bytes()
    assert catalogue.as_mo(kept) == catalogue.MO.read_bytes()
    assert catalogue.as_script(kept) == catalogue.SCRIPT.read_bytes()


def test_nothing_that_a_client_or_a_crew_reads_lacks_its_spanish() -> None:
    needed, _ = catalogue.untranslated(catalogue.kept())
    assert not needed


def test_a_text_waits_for_its_spanish_only_where_consultants_alone_read_it() -> None:
    of_a_form, of_a_visit = "templates/plans/price_form.html", "templates/work/visit.html"
    said = [
        catalogue.Marked("Price list", where=of_a_form),
        catalogue.Marked("Field", where=of_a_form),
        catalogue.Marked("Field", where=of_a_visit),
    ]
    found = catalogue.updated(Catalog(), said)
    assert catalogue.untranslated(found) == (["Field"], ["Price list"])
    assert "Only consultants read this" in catalogue.as_po(found).decode()


def test_every_pattern_of_who_reads_what_fits_a_file() -> None:
    files = [str(path.relative_to(catalogue.ROOT)) for path in (*catalogue.modules(), *catalogue.templates())]
    assert not [one for one in (*ONLY_CONSULTANTS, *READ_BY_OTHERS_TOO) if not fnmatch.filter(files, one)]


def places(text: str) -> set[str]:
    named = {name for _, name, _, _ in string.Formatter().parse(text.replace("%%", "")) if name}
    return named | set(re.findall(r"%\((\w+)\)s", text))


def forms(told: object) -> list[str]:
    return [str(form) for form in told] if isinstance(told, list | tuple) else [str(told)]


def test_every_place_for_a_value_is_in_the_spanish_too() -> None:
    apart = [
        str(message.id)
        for message in catalogue.kept()
        if message.id
        and all(forms(message.string))
        and (
            {place for form in forms(message.string) for place in places(form)}
            - {place for form in forms(message.id) for place in places(form)}
            or not forms(message.id)[1:]
            and places(str(message.id)) != places(str(message.string))
        )
    ]
    assert not apart


def english() -> Iterator[str]:
    """Runs of words that are ours and that Spanish has otherwise."""
    for message in catalogue.kept():
        for asked, answer in zip(forms(message.id), forms(message.string), strict=False):
            for piece in re.split(r"\{\w+\}|%\(\w+\)s", asked):
                if answer and len(piece.split()) >= LONG and piece.strip() not in answer:
                    yield " ".join(piece.split())


def left_in_english(pdf: bytes) -> list[str]:
    text = " ".join(" ".join(pages(pdf)).split())
    return [piece for piece in english() if piece in text]


@pytest.fixture(scope="module")
def plan_in_spanish() -> Plan:
    file = read_job_file(EXAMPLE.read_bytes())
    return plan_job(replace(file.job, manner=SPANISH), file.prices, TODAY)


def test_a_spanish_proposal_says_nothing_of_ours_in_english(plan_in_spanish: Plan) -> None:
    assert left_in_english(printed(plan_in_spanish)) == []


@pytest.mark.parametrize("name", ["change order", "changes", "season report", "wall plan", "wall sheet"])
def test_no_other_print_for_a_client_does(name: str) -> None:
    assert left_in_english(prints.printed(name, "spanish")) == []


@pytest.mark.parametrize("operation", ["boom_spraying", "no_till_drilling", "prescribed_burn"])
def test_a_spanish_crew_sheet_says_nothing_of_ours_in_english(plan_in_spanish: Plan, operation: str) -> None:
    tasks = [task for task in plan_in_spanish.tasks if task.operation == operation]
    load = loading_list(plan_in_spanish, operation, [tasks[0].field], on=tasks[0].earliest)
    with using(SPANISH):
        pdf = crew_sheet_pdf(plan_in_spanish, load, CrewDay(crew="Cass"))
    assert left_in_english(pdf) == []
    text = " ".join(" ".join(pages(pdf)).split())
    assert "Hoja de cuadrilla" in text and "Centro de intoxicaciones" in text and " ha" in text


def test_every_sentence_of_a_plan_is_known_again(plan_in_spanish: Plan) -> None:
    """Whatever the planning service said with values in it comes back in Spanish."""
    said = [text for one in plan_in_spanish.findings for text in (one.message, one.way_out)]
    said += [
        text for task in plan_in_spanish.tasks for text in (task.label, task.why, task.conditions) if text
    ]
    with using(SPANISH):
        assert not [text for text in said if told(text) == text]


def test_a_list_of_known_names_is_told_name_by_name() -> None:
    with using(Manner(locale="es_US")):
        assert told("spray and seed") == "aplicación y semilla"
        assert told("11.2 of 12 acres are left to spray and seed: 50 ft from Mill Creek.") == (
            "Quedan 11.2 de 12 acres para aplicación y semilla: 50 pies de Mill Creek."
        )
