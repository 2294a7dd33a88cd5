"""The shape of the project, held by tests: what lies where, who imports whom, what code may not do."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterable, Iterator
from dataclasses import fields, is_dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.management import call_command

from plans.planning.figures import Figure
from plans.planning.plan import Plan
from plans.planning.planner import plan_job
from plans.planning.wire import read_job_file

ROOT = Path(__file__).resolve().parent.parent
TOP = set(
    """
    .ci .env.example .gitignore DEVELOPERS.md Makefile README.md RUNNING.md consulting locale manage.py
    plans pyproject.toml requirements.txt sites static templates tests
    """.split()
)
OURS = ("consulting", "sites", "plans")
OUR_OWN_MARKUP = {
    "field.help_text|safe",
    "totp_svg|safe",
    "sheet.ribbon|safe",
    "sheet.years|safe",
    "map|safe",
    "picture|safe",
    "svg|safe",
}
"""Help texts and drawings that the code makes; the drawings escape the names they are given."""


def modules(*folders: str) -> list[Path]:
    found = (path for folder in folders for path in sorted((ROOT / folder).rglob("*.py")))
    return [path for path in found if "migrations" not in path.parts]


def nodes(path: Path) -> Iterator[ast.AST]:
    return ast.walk(ast.parse(path.read_text(encoding="utf-8")))


def at(path: Path, node: ast.AST | int, what: str = "") -> str:
    line = node if isinstance(node, int) else getattr(node, "lineno", 0)
    return f"{path.relative_to(ROOT)}:{line} {what}".rstrip()


def nothing(found: Iterable[str]) -> None:
    listed = list(found)
    assert not listed, "\n".join(listed)


def test_the_top_holds_what_was_agreed_and_nothing_else():
    ignored = {line.strip("/") for line in (ROOT / ".gitignore").read_text().split()}
    assert {path.name for path in ROOT.iterdir()} - ignored - {".git"} == TOP


def test_imports_run_one_way():
    lint = Path(sys.executable).with_name("lint-imports")
    run = subprocess.run([lint, "--no-cache"], cwd=ROOT, capture_output=True, text=True)
    assert run.returncode == 0, run.stdout + run.stderr


@pytest.mark.parametrize(
    ("folder", "libraries"),
    [
        ("plans/planning", {"numpy", "ortools", "pydantic"}),
        ("sites/ground", {"defusedxml", "numpy", "pyproj", "rasterio", "shapefile", "shapely"}),
    ],
)
def test_the_pure_packages_need_only_python_and_libraries_that_reckon(folder: str, libraries: set[str]):
    allowed = {*sys.stdlib_module_names, *libraries}
    for path in modules(folder):
        for node in nodes(path):
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [node.module or ""]
            else:
                continue
            for name in names:
                ours = name.startswith(folder.replace("/", "."))
                assert ours or name.partition(".")[0] in allowed, at(path, node, name)


def test_the_planning_service_is_told_the_day():
    clock = {"today", "now", "utcnow", "time", "localdate"}
    nothing(
        at(path, node, ast.unparse(node))
        for path in modules("plans/planning", "plans/documents", "sites/ground")
        for node in nodes(path)
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in clock
    )


def passes_on(function: ast.FunctionDef) -> bool:
    """Whether a function is one return statement, which says itself what it does."""
    return len(function.body) == 1 and isinstance(function.body[0], ast.Return)


def test_public_functions_of_the_pure_packages_say_what_they_do():
    nothing(
        at(path, node, node.name)
        for path in modules("plans/planning", "sites/ground")
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef)
        and not node.name.startswith("_")
        and not ast.get_docstring(node)
        and not passes_on(node)
    )


REFERENCE = re.compile(r"Source|Handbook|Universit|Extension|\b(19|20)\d\d\b")


def test_every_formula_names_its_unit_and_its_reference():
    nothing(
        at(path, node, node.name)
        for path in modules("plans/planning")
        if path.stem not in ("reckoner", "mix_reckoning")  # these pass on to the formulas
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
        if node.returns is not None and re.search(r"\bFigure\b", ast.unparse(node.returns))
        if "[" not in (said := ast.get_docstring(node) or "") or not REFERENCE.search(said)
    )


def is_role(node: ast.AST) -> bool:
    if isinstance(node, ast.Constant):
        return node.value in ("owner", "planner", "crew")
    if isinstance(node, ast.Attribute):
        return node.attr == "role" or (isinstance(node.value, ast.Name) and node.value.id == "Role")
    return False


def test_only_the_policy_compares_roles():
    asked_of_the_database = {"filter", "exclude", "get", "Q"}
    for path in modules(*OURS):
        if path == ROOT / "consulting/policy.py" or "planning" in path.parts:
            continue
        for node in nodes(path):
            if isinstance(node, ast.Compare):
                compared = any(map(is_role, [node.left, *node.comparators]))
            elif isinstance(node, ast.Call):
                called = getattr(node.func, "attr", getattr(node.func, "id", ""))
                compared = called in asked_of_the_database and any(
                    (keyword.arg or "").split("__")[0] == "role" for keyword in node.keywords
                )
            else:
                continue
            assert not compared, at(path, node, ast.unparse(node))
    for path in templates():
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            assert not re.search(r"\{%[^%]*\brole\s*(==|!=|in)\s*[\"']", line), at(path, number, line.strip())


def templates() -> list[Path]:
    return sorted(path for path in (ROOT / "templates").rglob("*.html"))


@pytest.mark.parametrize(
    "forbidden",
    [
        r"<style\b",
        r"<script\b(?![^>]*\bsrc=)",
        r"""<[^<>]*\sstyle\s*=""",
        r"""<[^<>]*\son[a-z]+\s*=""",
        r"\bhx-on\b|\bhx-vals\s*=\s*['\"]js:|javascript:",
        r"[\w.]+\s*\|\s*safe\b|\{%\s*autoescape\s+off",
    ],
)
def test_templates_hold_no_inline_script_or_style_and_escape_all(forbidden: str):
    nothing(
        at(path, text.count("\n", 0, match.start()) + 1, match.group())
        for path in templates()
        for text in [path.read_text(encoding="utf-8")]
        for match in re.finditer(forbidden, text, re.IGNORECASE)
        if match.group() not in OUR_OWN_MARKUP
    )


def test_no_file_grows_past_500_lines():
    nothing(
        f"{path.relative_to(ROOT)}: {lines} lines"
        for path in modules(*OURS, "tests")
        if (lines := len(path.read_text(encoding="utf-8").splitlines())) > 500
    )


def test_every_requirement_is_pinned():
    lines = [
        line for line in (ROOT / "requirements.txt").read_text().splitlines() if line[:1] not in ("", "#")
    ]
    assert lines
    nothing(
        line for line in lines if not re.fullmatch(r"[A-Za-z0-9_.-]+(\[[a-z,]+\])?==[0-9][0-9a-z.]*", line)
    )


def test_money_is_never_a_float():
    nothing(
        at(path, node, ast.unparse(node))
        for path in [ROOT / "plans/planning/money.py"]
        for node in nodes(path)
        if (isinstance(node, ast.Constant) and isinstance(node.value, float))
        or (isinstance(node, ast.Call) and getattr(node.func, "id", "") == "float")
    )


def amounts(value: object, where: str) -> Iterator[tuple[str, object]]:
    """Every dollar amount in an estimate, with the path to it."""
    if isinstance(value, Figure):
        if value.unit == "$":
            yield where, value.value
    elif isinstance(value, Decimal):
        yield where, value
    elif isinstance(value, tuple):
        for number, item in enumerate(value):
            yield from amounts(item, f"{where}[{number}]")
    elif is_dataclass(value):
        for item in fields(value):
            yield from amounts(getattr(value, item.name), f"{where}.{item.name}")


@pytest.fixture(scope="module")
def example() -> Plan:
    file = read_job_file((ROOT / "plans/examples/job.json").read_bytes())
    return plan_job(file.job, file.prices, date(2026, 11, 25))


def test_every_amount_of_an_estimate_is_whole_cents(example: Plan):
    found = list(amounts(example.estimate, "estimate"))
    assert len(found) > 50
    nothing(
        f"{where} = {value!r}"
        for where, value in found
        if not isinstance(value, Decimal) or value.as_tuple().exponent != -2
    )


@pytest.mark.django_db
def test_no_migration_is_pending():
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)
