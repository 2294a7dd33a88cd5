"""Which version of the program plans and prints: one hash over everything that a proposal follows from."""

from __future__ import annotations

import hashlib
import sys
from functools import cache
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PARTS = ("plans/planning", "plans/documents", "static/fonts", "locale")
LIBRARIES = ("numpy", "pillow", "pydantic", "reportlab")
KINDS = frozenset({".py", ".csv", ".json", ".ttf", ".mo"})


@cache
def program_sha256() -> str:
    """Of our code, tables, fonts and catalogues, and of the libraries' and Python's versions."""
    sum_of_all = hashlib.sha256()
    versions = [f"python {sys.version_info.major}.{sys.version_info.minor}"]
    versions += [f"{library} {version(library)}" for library in LIBRARIES]
    sum_of_all.update("\n".join(versions).encode())
    for path in sorted(path for part in PARTS for path in (ROOT / part).rglob("*") if path.suffix in KINDS):
        content = hashlib.sha256(path.read_bytes()).hexdigest()
        sum_of_all.update(f"\n{path.relative_to(ROOT).as_posix()} {content}".encode())
    return sum_of_all.hexdigest()
