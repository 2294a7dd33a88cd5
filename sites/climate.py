"""Climate normals of weather stations, and which of them lies nearest to a farm."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from django.core.exceptions import ValidationError

from consulting.tables import number, read_table, text
from sites.ground.measuring import miles_between
from sites.models import check_month_day

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
TABLE = Path(__file__).parent / "reference" / "climate_normals.csv"


@dataclass(frozen=True, slots=True)
class Station:
    """Normals of one station: monthly means [°F], January first, and median freeze dates (MM-DD)."""

    key: str
    name: str
    state: str
    latitude: float
    longitude: float
    elevation_ft: float
    monthly_mean_f: tuple[float, ...]
    last_spring_freeze: str
    first_fall_freeze: str
    source: str
    status: str

    @property
    def place(self) -> str:
        return f"{self.name}, {self.state}"

    @property
    def provenance(self) -> str:
        return f"{self.source} ({self.status})"


def _month_day(cell: str) -> str:
    try:
        check_month_day(cell)
    except ValidationError:
        raise ValueError("is not a month and a day as MM-DD") from None
    return cell


COLUMNS = {
    "station_id": text,
    "station": text,
    "state": text,
    "latitude": number(-90, 90),
    "longitude": number(-180, 180),
    "elevation_ft": number(-300, 15_000),
    **{f"{month.lower()}_mean_f": number(-60, 120) for month in MONTHS},
    "last_spring_freeze": _month_day,
    "first_fall_freeze": _month_day,
    "source": text,
    "status": text,
}


@lru_cache(maxsize=1)
def stations() -> dict[str, Station]:
    """Every station by its key, ordered by state and name. Raises BadTable."""
    found = [
        Station(
            key=row["station_id"],
            name=row["station"],
            state=row["state"],
            latitude=row["latitude"],
            longitude=row["longitude"],
            elevation_ft=row["elevation_ft"],
            monthly_mean_f=tuple(row[f"{month.lower()}_mean_f"] for month in MONTHS),
            last_spring_freeze=row["last_spring_freeze"],
            first_fall_freeze=row["first_fall_freeze"],
            source=row["source"],
            status=row["status"],
        )
        for row in read_table(TABLE, COLUMNS)
    ]
    return {station.key: station for station in sorted(found, key=lambda s: (s.state, s.name))}


@dataclass(frozen=True, slots=True)
class Near:
    """A station as a place sees it: how far off [miles], and how much higher it stands [ft].

    Without a height of the place the latter is None.
    """

    station: Station
    miles: float
    higher_ft: float | None


def nearest(
    latitude: float, longitude: float, elevation_ft: float | None = None, count: int = 3
) -> list[Near]:
    """The nearest stations, nearest first."""
    far = [
        (miles_between((longitude, latitude), (station.longitude, station.latitude)), station)
        for station in stations().values()
    ]
    return [
        Near(station, miles, None if elevation_ft is None else station.elevation_ft - elevation_ft)
        for miles, station in sorted(far, key=lambda pair: (pair[0], pair[1].key))[:count]
    ]
