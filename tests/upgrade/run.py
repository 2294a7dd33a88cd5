"""Databases that earlier versions of the program filled, brought forward by this one's migrations.

`python -m tests.upgrade.run [COMMIT ...]`: for each commit, its program is taken out of the repository and
fills an empty database with its demo. This program migrates it, counts its rows, proves its records and opens
every page that its owner can reach. DATABASE_URL names the database, which must be empty; without it each
commit gets an SQLite file of its own.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
FROM = (Path(__file__).parent / "from.txt").read_text().split()
MAY_DIFFER = {"django_migrations", "django_content_type", "auth_permission", "cache", "django_session"}
COUNT = """
import json, django; django.setup()
from django.db import connection
from django_scopes import scopes_disabled
def rows(table):
    cursor.execute(f'SELECT count(*) FROM "{table}"')
    return cursor.fetchone()[0]
with scopes_disabled(), connection.cursor() as cursor:
    print(json.dumps({table: rows(table) for table in connection.introspection.table_names()}))
"""
LOOK = """
import django; django.setup()
from django.test import Client
from consulting.models import User
from tests.browser.access.every_page import reachable
visitor = Client()
visitor.force_login(User.objects.get(email="owner@kestrel.example"))
print(sum(1 for _ in reachable(visitor, "/kestrel-cover/")))
"""


def run(tree: Path, env: dict[str, str], *args: str) -> str:
    done = subprocess.run([sys.executable, *args], cwd=tree, env=env, capture_output=True, text=True)
    if done.returncode:
        raise SystemExit(f"{' '.join(args)[:60]} in {tree}: {done.stderr[-2000:]}")
    return done.stdout


def taken_out(commit: str, into: Path) -> Path:
    into.mkdir()
    archive = subprocess.run(["git", "archive", commit], cwd=ROOT, capture_output=True)
    if archive.returncode:
        raise SystemExit(f"{commit} is not in this repository: take a clone with its whole history.")
    subprocess.run(["tar", "-x", "-C", into], input=archive.stdout, check=True)
    return into


def upgraded(commit: str, home: Path, url: str) -> str:
    """One line of what was found. Raises SystemExit where anything is lost or does not open."""
    old = taken_out(commit, home / "program")
    env = {key: value for key, value in os.environ.items() if key not in ("SECRET_KEY", "EMAIL_URL")}
    env |= {"DATABASE_URL": url, "COVERSTEAD_DEMO": "true", "ALLOWED_HOSTS": "localhost,testserver"}
    env |= {"DJANGO_SETTINGS_MODULE": "consulting.settings", "VAR_DIR": str(home), "MEDIA_ROOT": str(home)}
    for command in (["migrate", "--verbosity", "0"], ["createcachetable"], ["demo"]):
        run(old, env, "manage.py", *command)
    before = json.loads(run(old, env, "-c", COUNT))
    run(ROOT, env, "manage.py", "migrate", "--verbosity", "0")
    after = json.loads(run(ROOT, env, "-c", COUNT))
    lost = {
        table: (rows, after.get(table))
        for table, rows in before.items()
        if table not in MAY_DIFFER and after.get(table) != rows
    }
    if lost:
        raise SystemExit(f"{commit}: rows before and after differ: {lost}")
    run(ROOT, env, "manage.py", "prove_records")
    pages = int(run(ROOT, env | {"DJANGO_SETTINGS_MODULE": "tests.settings"}, "-c", LOOK).split()[-1])
    if pages < 50:
        raise SystemExit(f"{commit}: only {pages} pages open")
    rows = sum(before.values())
    return f"{commit}: {rows} rows in {len(before)} tables came along, {pages} pages open"


def main() -> None:
    for commit in sys.argv[1:] or FROM:
        with tempfile.TemporaryDirectory(prefix="coverstead-upgrade-") as home:
            url = os.environ.get("DATABASE_URL") or f"sqlite:///{home}/old.sqlite3"
            print(upgraded(commit, Path(home), url), flush=True)


if __name__ == "__main__":
    main()
