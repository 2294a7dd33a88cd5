"""Which files only consultants read: owners and planners, whose pages are in English.

Their texts are marked for translation like all others, but the Spanish catalogue, which is for clients and
crews, leaves them out. Who reads a page is what the table of rights says of its address.
"""

from __future__ import annotations

from fnmatch import fnmatchcase
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
READ_BY_OTHERS_TOO = """
    templates/plans/_for_the_wall.html templates/plans/_data_table.html templates/plans/_farm_plan.html
    templates/plans/_field_plan.html templates/plans/_map_with_legend.html templates/plans/_plans_of_farm.html
    templates/plans/_season_report.html templates/plans/_suggest*.html
    templates/plans/overview_crew.html templates/plans/reckon*.html
    templates/consulting/choose.html templates/consulting/found.html templates/consulting/invitation.html
    templates/consulting/welcome.html
""".split()
"""In the folders below, what crews or clients read as well."""
FILES = """
    templates/consulting/*.html templates/in_out/* templates/machines/form.html templates/plans/*.html
    templates/sites/bring_in.html templates/sites/brought.html templates/sites/client_form.html
    templates/sites/climate_form.html templates/sites/divide.html templates/sites/draw.html
    templates/sites/exclusion_form.html templates/sites/farm_form.html templates/sites/field_form.html
    templates/sites/landmark_form.html templates/sites/pieces.html templates/sites/slope.html
    templates/work/_fitting.html templates/work/_shifts.html templates/work/add.html templates/work/book.html
    templates/work/failed.html templates/work/fit.html templates/work/fitting.html
    templates/work/lot_form.html templates/work/record_labels.html
""".split()


def for_consultants(path: Path) -> bool:
    """Whether only consultants read what the file says."""
    name = str(path.relative_to(ROOT))
    return _among(name, FILES) and not _among(name, READ_BY_OTHERS_TOO)


def _among(name: str, patterns: list[str]) -> bool:
    return any(fnmatchcase(name, pattern) for pattern in patterns)
