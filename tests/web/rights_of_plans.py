"""Who may open what of plans, mixes and prices."""

from tests.web.rights import Row

ROWS: dict[str, Row] = {}
