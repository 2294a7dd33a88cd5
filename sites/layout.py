"""The wider layout of a farm: acres by kind against what a purpose asks, and where the wind takes scent."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from consulting.tables import number, one_of, read_table, text
from sites import models
from sites.drawn import landmark_shape, outline_of
from sites.ground.downwind import METHOD, Downwind, clear_winds, downwind
from sites.ground.errors import GroundError
from sites.ground.found import Feature
from sites.ground.layout import Against, Asked, KindAcres, Layout, Piece, against, lay_out

REFERENCE = Path(__file__).parent / "reference"
KINDS = dict(models.Landmark.KIND)
SCENTED = ("stand", "route")
MINDED = ("bedding", "plot", "travel")
"""Kinds that scent should not reach."""
MOST_STANDS = 40
SHOWN_ACRES = 0.05
"""Less than this is printed as none."""


@dataclass(frozen=True, slots=True)
class Ask:
    """What a purpose asks of a farm's ground, one row of layouts.csv."""

    purpose: str
    asks: str
    asked: Asked
    from_fields: bool
    """Whether a conversion of a field can give it."""
    words: str
    source: str


@lru_cache(maxsize=1)
def asks() -> tuple[Ask, ...]:
    """What every purpose asks. Raises BadTable."""
    columns = {
        "purpose": text,
        "asks": text,
        "kinds": lambda cell: tuple(one_of(*KINDS)(kind) for kind in cell.split(";")),
        "from_fields": one_of("yes", "no"),
        "share_pct_low": number(0, 100),
        "share_pct_high": number(0, 100),
        "words": text,
        "source": text,
    }
    return tuple(
        Ask(
            row["purpose"],
            row["asks"],
            Asked(row["kinds"], row["share_pct_low"], row["share_pct_high"]),
            row["from_fields"] == "yes",
            row["words"],
            row["source"],
        )
        for row in read_table(REFERENCE / "layouts.csv", columns)
    )


@dataclass(frozen=True, slots=True)
class Mark:
    value: float
    unit: str
    words: str
    source: str


@lru_cache(maxsize=1)
def scent() -> dict[str, Mark]:
    """How far scent goes and how wide. Raises BadTable."""
    columns = {"key": text, "value": number(0.1, 10_000), "unit": text, "words": text, "source": text}
    rows = read_table(REFERENCE / "scent.csv", columns)
    return {row["key"]: Mark(row["value"], row["unit"], row["words"], row["source"]) for row in rows}


@dataclass(frozen=True, slots=True)
class KindRow:
    label: str
    found: KindAcres


@dataclass(frozen=True, slots=True)
class AskRow:
    ask: Ask
    found: Against
    verdict: str


@dataclass(frozen=True, slots=True)
class StandRow:
    """A stand or way under the winds of the seasons; `problem` says why it could not be reckoned."""

    name: str
    seasons: tuple[tuple[models.PrevailingWind, Downwind], ...]
    clear: tuple[str, ...]
    problem: str = ""


@dataclass(frozen=True, slots=True)
class FarmLayout:
    layout: Layout
    kinds: tuple[KindRow, ...]
    aims: tuple[str, ...]
    aim: str
    asked: tuple[AskRow, ...]
    winds: tuple[models.PrevailingWind, ...]
    stands: tuple[StandRow, ...]
    left_out: int
    """Stands beyond the most that are reckoned."""
    marks: dict[str, Mark]
    method: str = METHOD


def farm_layout(
    farm: models.Farm, fields: Sequence[models.Field], landmarks: Sequence[models.Landmark], aim: str
) -> FarmLayout:
    """The farm as it is laid out, for a purpose of layouts.csv or none: one query."""
    winds = tuple(farm.winds.all())
    layout = laid_out(fields, landmarks)
    aims = tuple(dict.fromkeys(ask.purpose for ask in asks()))
    aim = aim if aim in aims else ""
    scented = [mark for mark in landmarks if mark.kind in SCENTED]
    places = [landmark_shape(mark) for mark in landmarks if mark.kind in MINDED]
    return FarmLayout(
        layout,
        tuple(KindRow(str(KINDS[row.kind]), row) for row in layout.kinds),
        aims,
        aim,
        tuple(ask_row(ask, layout) for ask in asks() if ask.purpose == aim),
        winds,
        tuple(stand_row(landmark_shape(mark), winds, places) for mark in scented[:MOST_STANDS]),
        max(0, len(scented) - MOST_STANDS),
        scent(),
    )


def laid_out(fields: Iterable[models.Field], landmarks: Iterable[models.Landmark]) -> Layout:
    known = [(field, outline_of(field)) for field in fields]
    shapes = [(mark, landmark_shape(mark)) for mark in landmarks]
    return lay_out(
        [outline for _, outline in known if outline],
        sum(field.acres for field, outline in known if not outline),
        [Piece(mark.kind, str(mark), shape.outline) for mark, shape in shapes],
    )


def ask_row(ask: Ask, layout: Layout) -> AskRow:
    """What is asked beside what there is, in words a conversion can be placed by."""
    found = against(layout, ask.asked)
    if found.short_acres >= SHOWN_ACRES:
        verdict = f"{found.short_acres:,.1f} acres short"
        if ask.from_fields:
            can = min(found.short_acres, layout.free_acres)
            verdict += f"; a conversion could give {can:,.1f} of them" if can else ""
    elif found.over_acres >= SHOWN_ACRES:
        verdict = f"{found.over_acres:,.1f} acres more than asked"
    else:
        verdict = "within the range"
    return AskRow(ask, found, verdict)


def stand_row(stand: Feature, winds: Sequence[models.PrevailingWind], places: Sequence[Feature]) -> StandRow:
    half_angle_deg, reach_ft = scent()["half_angle"].value, scent()["reach"].value
    try:
        return StandRow(
            stand.name,
            tuple(
                (wind, downwind(stand, wind.comes_from, places, half_angle_deg, reach_ft)) for wind in winds
            ),
            clear_winds(stand, places, half_angle_deg, reach_ft),
        )
    except GroundError as error:
        return StandRow(stand.name, (), (), str(error))
