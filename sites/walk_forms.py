"""The forms of a walk-over: what was found, row by row, and the photographs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField
from django.utils.text import format_lazy
from django.utils.translation import gettext, gettext_lazy

from consulting.formkit import HouseForm
from consulting.images import PHOTO_TYPES, Photo, as_jpeg
from sites.ground.stem_plots import PLOT_RADIUS_FT
from sites.models import WalkOver, WalkPhoto

COVER_ROWS, WEED_ROWS, STEM_ROWS = 10, 8, 8
SHOWN = {"cover": 3, "weed": 2, "stem": 1}
"""Rows that are open from the start; the others unfold."""
WITHIN_PCT = 10
"""Shares judged by eye come to 100 within this."""
MOST_AT_ONCE = 12


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of one kind: those shown at once and those that unfold, each a list of boxes."""

    first: list[list[BoundField]]
    more: list[list[BoundField]]
    open: bool


class WalkForm(HouseForm, forms.Form):
    uid = forms.UUIDField(widget=forms.HiddenInput, required=False)
    on = forms.DateField(label=gettext_lazy("Walked on"))
    people = forms.CharField(label=gettext_lazy("Who walked"), max_length=200)
    bare_pct = forms.FloatField(
        label=gettext_lazy("Bare ground"),
        required=False,
        min_value=0,
        max_value=100,
        help_text=gettext_lazy("Empty is none."),
    )
    plots = forms.IntegerField(
        label=gettext_lazy("Plots counted"),
        required=False,
        min_value=0,
        max_value=200,
        help_text=format_lazy(
            gettext_lazy(
                "A plot is 1/100 acre: a circle of {radius} ft radius (11 ft 9 in) about a stake. Count "
                "every woody stem that is rooted in it, in plots spread over the field."
            ),
            radius=f"{PLOT_RADIUS_FT:.2f}",
        ),
    )
    thatch_in = forms.FloatField(
        label=gettext_lazy("Thatch depth"),
        required=False,
        min_value=0,
        max_value=36,
        help_text=gettext_lazy("Dead litter, pressed flat by hand, down to the soil."),
    )
    slope_pct = forms.FloatField(
        label=gettext_lazy("Slope by eye"),
        required=False,
        min_value=0,
        max_value=200,
        help_text=gettext_lazy("Of the steepest part; rise over run."),
    )
    notes = forms.CharField(
        label=gettext_lazy("What to remember"), required=False, max_length=5000, widget=forms.Textarea
    )

    units = {"bare_pct": "%", "thatch_in": gettext_lazy("in"), "slope_pct": "%"}
    narrow = ("on", "plots")

    def __init__(self, data: Any = None, *, today: date, initial: dict[str, Any]) -> None:
        super().__init__(data, initial={"uid": uuid4(), "on": today} | initial)
        self.today = today
        for at in range(COVER_ROWS):
            row = gettext("Cover {number}").format(number=at + 1)
            self._put(f"cover{at}-what", row, gettext("What grows"), forms.CharField(max_length=100))
            share = forms.FloatField(min_value=0.1, max_value=100)
            self._put(f"cover{at}-share_pct", row, gettext("Share of the ground"), share, "%")
            height = forms.FloatField(min_value=0, max_value=1200)
            self._put(f"cover{at}-height_in", row, gettext("Height"), height, gettext("in"))
            stage = forms.ChoiceField(choices=[("", gettext("Not noted")), *WalkOver.STAGE])
            self._put(f"cover{at}-stage", row, gettext("Stage"), stage)
        for at in range(WEED_ROWS):
            row = gettext("Weed {number}").format(number=at + 1)
            self._put(f"weed{at}-what", row, gettext("What it is"), forms.CharField(max_length=100))
            much = forms.ChoiceField(choices=[("", gettext("Choose")), *WalkOver.ABUNDANCE])
            self._put(f"weed{at}-abundance", row, gettext("How much"), much)
        for at in range(STEM_ROWS):
            row = gettext("Woody plant {number}").format(number=at + 1)
            self._put(f"stem{at}-what", row, gettext("What it is"), forms.CharField(max_length=100))
            size = forms.ChoiceField(choices=[("", gettext("Choose")), *WalkOver.SIZE])
            self._put(f"stem{at}-size", row, gettext("Size"), size)
            stems = forms.IntegerField(min_value=0, max_value=100_000)
            self._put(f"stem{at}-stems", row, gettext("Stems in all plots"), stems)
        for name in ("cover", "weed", "stem"):
            for at in range(self._count(name)):
                self.fields[f"{name}{at}-what"].widget.attrs |= {
                    "list": f"known-{name}",
                    "autocomplete": "off",
                    "autocapitalize": "none",
                }

    def _put(self, name: str, row: str, words: str, field: forms.Field, unit: str = "") -> None:
        """A box of a row: `words` name it there, and with the row's name anywhere else."""
        field.required = field.widget.is_required = False
        field.label = f"{row}: {words[:1].lower()}{words[1:]}"
        self.dress(name, field, unit)
        field.words, field.row = words, row  # type: ignore[attr-defined]
        self.fields[name] = field

    @staticmethod
    def _count(kind: str) -> int:
        return {"cover": COVER_ROWS, "weed": WEED_ROWS, "stem": STEM_ROWS}[kind]

    def _rows(self, kind: str, *parts: str) -> Rows:
        rows = [[self[f"{kind}{at}-{part}"] for part in parts] for at in range(self._count(kind))]
        more = rows[SHOWN[kind] :]
        return Rows(rows[: SHOWN[kind]], more, any(box.value() or box.errors for row in more for box in row))

    @property
    def covers(self) -> Rows:
        return self._rows("cover", "what", "share_pct", "height_in", "stage")

    @property
    def weeds(self) -> Rows:
        return self._rows("weed", "what", "abundance")

    @property
    def stems(self) -> Rows:
        return self._rows("stem", "what", "size", "stems")

    def clean_on(self) -> date:
        day: date = self.cleaned_data["on"]
        if day > self.today:
            raise ValidationError(gettext("That day is still to come. Enter the day of the walk."))
        return day

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self._check_rows(
            "cover", ("share_pct",), gettext("{row}, {plant}: say how much of the ground it covers.")
        )
        self._check_rows("weed", ("abundance",), gettext("{row}, {plant}: say how much of it there is."))
        sizes = gettext("{row}, {plant}: say its size and how many stems were counted.")
        self._check_rows("stem", ("size", "stems"), sizes)
        if not self.errors:
            total = sum(row["share_pct"] for row in self._typed("cover")) + (cleaned.get("bare_pct") or 0)
            if abs(total - 100) > WITHIN_PCT:
                self.add_error(
                    "bare_pct",
                    gettext(
                        "The shares and the bare ground come to {total} %. Together they make about 100: add "
                        "what is missing, or correct a share."
                    ).format(total=f"{total:g}"),
                )
            if list(self._typed("stem")) and not cleaned.get("plots"):
                self.add_error("plots", gettext("Stems are counted, but in no plot. Say in how many plots."))
        return cleaned

    def _check_rows(self, kind: str, asked: Sequence[str], words: str) -> None:
        """A row has a name and what is asked of it, or nothing."""
        for at in range(self._count(kind)):
            row = self._row(kind, at)
            if any(f"{kind}{at}-{part}" in self.errors for part in row):
                continue
            what = row.pop("what")
            name = self.fields[f"{kind}{at}-what"].row  # type: ignore[attr-defined]
            if not what and any(value not in (None, "") for value in row.values()):
                self.add_error(
                    f"{kind}{at}-what", gettext("{row}: say what it is, or empty the row.").format(row=name)
                )
            missing = [part for part in asked if row[part] in (None, "")]
            if what and missing:
                self.add_error(f"{kind}{at}-{missing[0]}", words.format(row=name, plant=what))

    def _row(self, kind: str, at: int) -> dict[str, Any]:
        start = f"{kind}{at}-"
        return {
            name.removeprefix(start): self.cleaned_data.get(name)
            for name in self.fields
            if name.startswith(start)
        }

    def _typed(self, kind: str) -> Iterator[dict[str, Any]]:
        rows = (self._row(kind, at) for at in range(self._count(kind)))
        return (row for row in rows if row["what"])

    def values(self) -> dict[str, Any]:
        """What a walk-over is made from."""
        plain = ("on", "people", "thatch_in", "slope_pct", "notes")
        return {name: self.cleaned_data[name] for name in plain} | {
            "bare_pct": self.cleaned_data["bare_pct"] or 0,
            "plots": self.cleaned_data["plots"] or 0,
            "covers": list(self._typed("cover")),
            "weeds": list(self._typed("weed")),
            "stems": list(self._typed("stem")),
        }


def initial_of(walk: WalkOver) -> dict[str, Any]:
    """A walk-over as the form shows it, to be corrected."""
    plain = ("on", "people", "bare_pct", "plots", "thatch_in", "slope_pct", "notes")
    rows = (("cover", walk.covers), ("weed", walk.weeds), ("stem", walk.stems))
    return {name: getattr(walk, name) for name in plain} | {
        f"{kind}{at}-{part}": value
        for kind, kept in rows
        for at, row in enumerate(kept)
        for part, value in row.items()
    }


class _SeveralFiles(forms.FileInput):
    allow_multiple_selected = True


class PicturesField(forms.FileField):
    """Several pictures at once; the value is the uploads, unread."""

    widget = _SeveralFiles({"accept": PHOTO_TYPES})

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        if not data:
            raise ValidationError(self.error_messages["required"])
        if len(data) > MOST_AT_ONCE:
            many = gettext("{number} are too many at once. Send {most} at a time.")
            raise ValidationError(many.format(number=len(data), most=MOST_AT_ONCE))
        return [super(PicturesField, self).clean(one, initial) for one in data]


class PhotosForm(HouseForm, forms.Form):
    """Photographs of a walk-over. All of them are kept, or none."""

    pictures = PicturesField(
        label=gettext_lazy("Photographs"),
        help_text=format_lazy(
            gettext_lazy(
                "Up to {most} at once, each up to 12 MB. They are made smaller; what the camera wrote into "
                "them is dropped."
            ),
            most=MOST_AT_ONCE,
        ),
    )
    caption = forms.CharField(
        label=gettext_lazy("What they show"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("Can be changed for each one later."),
    )
    located = forms.BooleanField(
        label=gettext_lazy("Keep where they were taken"),
        required=False,
        help_text=gettext_lazy("Reads the place that the camera wrote. Left empty, nobody reads it."),
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        photos: list[Photo] = []
        for upload in cleaned.get("pictures") or ():
            try:
                photos.append(as_jpeg(upload, with_place=bool(cleaned.get("located"))))
            except ValidationError as wrong:
                said = gettext("“{file}”: {why} None of them was kept; choose them again.").format(
                    file=upload.name, why=" ".join(wrong.messages)
                )
                self.add_error("pictures", said)
        cleaned["photos"] = photos
        return cleaned


class CaptionForm(HouseForm, forms.ModelForm):
    class Meta:
        model = WalkPhoto
        fields = ["caption"]
        labels = {"caption": gettext_lazy("Caption")}
