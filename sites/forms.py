"""The forms of the ground: a farm, its climate, a field."""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm, NumberInput
from sites.climate import MONTHS, Near, Station, nearest, stations
from sites.drawn import place_of
from sites.models import Farm, Field, Observation

NEAREST = "nearest"


def station_choices(
    latitude: float | None, longitude: float | None, elevation_ft: float | None = None
) -> list[tuple[str, str]]:
    """Every station; with coordinates the nearest first, each with its distance and how much higher it is."""
    if latitude is None or longitude is None:
        return [(station.key, station.place) for station in stations().values()]
    return [
        (near.station.key, f"{near.station.place}, {said_of(near)}")
        for near in nearest(latitude, longitude, elevation_ft, count=len(stations()))
    ]


def said_of(near: Near) -> str:
    """`12 miles away, 340 ft higher`."""
    said = gettext("{miles} miles away, as high")
    if near.higher_ft is None:
        said = gettext("{miles} miles away")
    elif round(near.higher_ft):
        said = (
            gettext("{miles} miles away, {height} ft higher")
            if near.higher_ft > 0
            else gettext("{miles} miles away, {height} ft lower")
        )
    return said.format(miles=f"{near.miles:.0f}", height=f"{abs(near.higher_ft or 0):,.0f}")


class FarmForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Farm
        fields = [
            "name", "place", "round_trip_miles", "latitude", "longitude", "elevation_ft", "directions",
            "nearest_hospital",
        ]  # fmt: skip
        labels = {
            "latitude": gettext_lazy("Latitude"),
            "longitude": gettext_lazy("Longitude"),
            "nearest_hospital": gettext_lazy("Nearest hospital"),
            "name": gettext_lazy("Name of the farm"),
            "place": gettext_lazy("County and state, or directions"),
        }
        help_texts = {
            "place": gettext_lazy("As it should be printed."),
            "round_trip_miles": gettext_lazy("From your yard to the farm and back, for hauling."),
            "latitude": gettext_lazy(
                "Decimal degrees, north positive. Leave both empty if you do not know them."
            ),
            "longitude": gettext_lazy("Decimal degrees, east positive, so west is negative: -94.21."),
            "elevation_ft": gettext_lazy("To be compared with that of the weather station, if you know it."),
            "directions": gettext_lazy(
                "For the crew and for who comes to help: roads, gates, where to turn in."
            ),
            "nearest_hospital": gettext_lazy("With emergency care: name, road and town, number."),
        }

    units = {
        "round_trip_miles": gettext_lazy("miles"),
        "latitude": "°",
        "longitude": "°",
        "elevation_ft": gettext_lazy("ft"),
    }
    leads = {"directions": gettext_lazy("On the crew sheet")}


class NewFarmForm(FarmForm):
    station = forms.ChoiceField(
        label=gettext_lazy("Climate from the station"),
        help_text=gettext_lazy(
            "Fills the monthly means and freeze dates. You can change them by hand afterwards."
        ),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        near = self._typed("latitude"), self._typed("longitude"), self._typed("elevation_ft", 15_000)
        nearest = (NEAREST, gettext("The one nearest to the coordinates above"))
        self.fields["station"].choices = [nearest, *station_choices(*near)]  # type: ignore[attr-defined]

    def _typed(self, name: str, most: float = 180) -> float | None:
        """Where it lies as far as it can be read before the form is checked."""
        try:
            value = float(self.data.get(name, ""))
        except ValueError:
            return None
        return value if abs(value) <= most else None

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        chosen = data.get("station")
        if chosen == NEAREST:
            latitude, longitude = data.get("latitude"), data.get("longitude")
            if latitude is None or longitude is None:
                if not {"latitude", "longitude"} & set(self.errors):
                    self.add_error(
                        "station", gettext("Choose a station, or give latitude and longitude above.")
                    )
            else:
                data["station"] = nearest(latitude, longitude)[0].station
        elif chosen:
            data["station"] = stations()[chosen]
        return data


class StationForm(HouseForm, forms.Form):
    """Takes the climate of another station."""

    station = forms.ChoiceField(label=gettext_lazy("Station"))

    def __init__(self, *args: Any, farm: Farm, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.on_records(farm)
        near = station_choices(*place_of(farm), farm.elevation_ft)
        self.fields["station"].choices = near  # type: ignore[attr-defined]

    def clean_station(self) -> Station:
        return stations()[self.cleaned_data["station"]]


class MonthDayField(forms.CharField):
    """A day of the year: `04-17`, `4/17` and `Apr 17` are understood; the value is MM-DD."""

    def to_python(self, value: Any) -> str:
        typed = super().to_python(value)
        if not typed:
            return ""
        match = re.fullmatch(r"(\d{1,2})\s*[-/]\s*(\d{1,2})", typed)
        try:
            if match:
                day = date(2024, int(match[1]), int(match[2]))
            else:
                day = datetime.strptime(f"2024 {typed[:3]} {typed.split()[-1]}", "%Y %b %d").date()
        except ValueError:
            raise ValidationError(
                gettext("“{typed}” is not a day of the year. Write it as 04-17 or Apr 17.").format(
                    typed=typed
                )
            ) from None
        return f"{day:%m-%d}"


class ClimateForm(HouseForm, forms.ModelForm):
    """The climate of a farm by hand: twelve means, two freeze dates, where they are from."""

    last_spring_freeze = MonthDayField(
        label=gettext_lazy("Last spring freeze"), help_text=gettext_lazy("Median day, such as 04-17.")
    )
    first_fall_freeze = MonthDayField(
        label=gettext_lazy("First fall freeze"), help_text=gettext_lazy("Median day, such as 10-17.")
    )
    narrow = ("last_spring_freeze", "first_fall_freeze")

    class Meta:
        model = Farm
        fields = ["climate_place", "last_spring_freeze", "first_fall_freeze", "climate_source"]
        labels = {"climate_place": gettext_lazy("Place")}
        help_texts = {"climate_source": gettext_lazy("Printed with the workings.")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        means = self.instance.monthly_mean_f or [None] * 12
        for number, month in enumerate(MONTHS):
            self.fields[f"mean_{number + 1}"] = forms.FloatField(
                label=gettext("{month} mean").format(month=month),
                initial=means[number],
                min_value=-60,
                max_value=120,
                widget=NumberInput,
            )
        for name, field in self.fields.items():
            if name.startswith("mean_"):
                self.dress(name, field, unit="°F")
        self.order_fields(["climate_place", *self.mean_names, "last_spring_freeze", "first_fall_freeze"])

    mean_names = [f"mean_{number}" for number in range(1, 13)]

    @property
    def means(self) -> list[forms.BoundField]:
        return [self[name] for name in self.mean_names]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        means = [data.pop(name, None) for name in self.mean_names]
        if None not in means:
            data["monthly_mean_f"] = means
        return data


class ObservationForm(HouseForm, forms.ModelForm):
    """A moment of this year as it was seen."""

    narrow = ("on",)

    class Meta:
        model = Observation
        fields = ["moment", "on"]


class FieldForm(HouseForm, forms.ModelForm):
    class Meta:
        model = Field
        fields = [
            "name",
            "acres",
            "cover",
            "thatch",
            "weeds",
            "woody_plants",
            "slope_pct",
            "slope_length_ft",
            "faces",
            "soil_texture",
            "soil_r",
            "water_within_ft",
            "sensitive_neighbours",
            "power_lines",
            "notes",
        ]
        labels = {
            "acres": gettext_lazy("Acres"),
            "soil_texture": gettext_lazy("Soil texture"),
            "thatch": gettext_lazy("Thatch"),
            "sensitive_neighbours": gettext_lazy("Sensitive neighbours"),
            "notes": gettext_lazy("Notes"),
            "name": gettext_lazy("Name of the field"),
        }
        widgets = {"cover": forms.RadioSelect, "thatch": forms.RadioSelect}
        help_texts = {
            "name": gettext_lazy("As the landowner calls it."),
            "thatch": gettext_lazy(
                "Dead litter on the ground. Heavy thatch keeps a drill and a spray off the soil."
            ),
            "weeds": gettext_lazy("The ones that will matter, such as Johnsongrass or sericea lespedeza."),
            "woody_plants": gettext_lazy("Such as red cedar, blackberry, honey locust sprouts."),
            "slope_pct": gettext_lazy(
                "Rise over run of the steepest part. Percent is not degrees: 15 % is 8.5 degrees."
            ),
            "soil_texture": gettext_lazy("With R and the slope it shows what tillage would cost in soil."),
            "soil_r": gettext_lazy(
                "The county's R of the soil loss equation, from its soil office: "
                "about 150 to 300 from Iowa to Tennessee."
            ),
            "slope_length_ft": gettext_lazy("From the top to where the water slows or gathers."),
            "water_within_ft": gettext_lazy(
                "Distance to a pond, creek or well. Leave it empty when there is none near."
            ),
            "sensitive_neighbours": gettext_lazy(
                "Gardens, vineyards, beehives, houses, organic ground; on which side."
            ),
            "notes": gettext_lazy("For yourselves: gates, wet spots, what the owner said."),
        }

    units = {
        "acres": gettext_lazy("acres"),
        "slope_pct": "%",
        "slope_length_ft": gettext_lazy("ft"),
        "water_within_ft": gettext_lazy("ft"),
    }
    leads = {
        "cover": gettext_lazy("Cover"),
        "slope_pct": gettext_lazy("How it lies"),
        "water_within_ft": gettext_lazy("What lies near"),
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cover"].choices = Field.COVER  # type: ignore[attr-defined]
        if self.instance.outline:
            # They follow from the outline; to type others, the outline goes first.
            del self.fields["acres"]
