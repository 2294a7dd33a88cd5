"""What the work costs, each beside a floor measured in the same run: `make bench`."""

from __future__ import annotations

import os
import platform
import tempfile
from datetime import date


def main() -> None:
    with tempfile.TemporaryDirectory(prefix="coverstead-bench-") as folder:
        os.environ["DATABASE_URL"] = f"sqlite:///{folder}/bench.sqlite3"
        os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
        import django

        django.setup()
        from tests.bench import booking, ground, lists, pages, planner, prints

        print(f"{date.today()}, Python {platform.python_version()}, {os.cpu_count()} cores, SQLite")
        for part in (planner, prints, ground, pages, lists, booking):
            print()
            part.run()
        django.db.connections.close_all()


if __name__ == "__main__":
    main()
