"""`python -m tests.fuzz NAME RUNS FOLDER`: atheris on one of the parsers, led by what code it reached.

FOLDER keeps the files that led somewhere new, from night to night, and whatever broke something as `crash-…`.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import atheris
import django

OURS = [
    "sites.ground",
    "plans.in_out",
    "plans.planning.wire",
    "plans.planning.job",
    "consulting.images",
    "consulting.scans",
    "shapefile",
]
MOST_SECONDS = 600


def main(name: str, runs: str, folder: Path) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    # Django imports most of what is to be watched, and what was imported before is not.
    with atheris.instrument_imports(include=OURS):
        django.setup()
        from tests.fuzz.parsers import PARSERS, check

    if name not in PARSERS:
        sys.exit(f"{name} is not one of: {', '.join(PARSERS)}")
    folder.mkdir(parents=True, exist_ok=True)
    for seed, data in PARSERS[name].seeds:
        (folder / seed).write_bytes(data)
    bounds = [f"-runs={runs}", f"-max_total_time={MOST_SECONDS}", "-max_len=40000", "-rss_limit_mb=3000"]
    arguments = [sys.argv[0], *bounds, "-timeout=60", f"-artifact_prefix={folder}/crash-", str(folder)]
    atheris.Setup(arguments, lambda data: check(name, data))
    atheris.Fuzz()


if __name__ == "__main__":
    if len(sys.argv) != 4 or not sys.argv[2].isdecimal():
        sys.exit("Give a parser, how many runs and a folder: python -m tests.fuzz map 20000 var/fuzz/map")
    main(sys.argv[1], sys.argv[2], Path(sys.argv[3]))
