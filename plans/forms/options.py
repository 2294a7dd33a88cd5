"""Which other ways of doing the job a proposal shows, each with a line of its own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils.translation import gettext as _

from consulting.formkit import HouseForm
from plans.forms import put
from plans.models import PlanOption
from plans.option_rows import OptionRow
from plans.planning.other_ways import other_ways

MOST_LONG = PlanOption._meta.get_field("reason").max_length


@dataclass(frozen=True, slots=True)
class Choice:
    """An option with its two fields; one that is not possible here cannot be newly shown."""

    row: OptionRow
    shown: BoundField
    reason: BoundField


class OptionsForm(HouseForm, forms.Form):
    def __init__(
        self,
        data: Any = None,
        *,
        rows: Sequence[OptionRow],
        kept: Mapping[str, str],
        records: Iterable[PlanOption] = (),
    ) -> None:
        super().__init__(data)
        self.on_records(*records)
        self.rows = rows
        for row in rows:
            key, label = row.option.key, row.option.label
            shown = forms.BooleanField(
                label=_("Show “{label}” in the proposal").format(label=label), required=False
            )
            reason = forms.CharField(
                label=_("What “{label}” means, in one line").format(label=label),
                required=False,
                max_length=MOST_LONG,
                strip=True,
            )
            put(self, f"{key}-shown", shown)
            put(self, f"{key}-reason", reason)
            self.initial[f"{key}-shown"] = key in kept
            self.initial[f"{key}-reason"] = kept.get(key) or other_ways()[key].reason

    def choices(self) -> Iterator[Choice]:
        for row in self.rows:
            key = row.option.key
            yield Choice(row, self[f"{key}-shown"], self[f"{key}-reason"])

    def chosen(self) -> dict[str, str]:
        """Line by key of what is shown; empty where it is the usual one."""
        return {
            key: "" if reason == other_ways()[key].reason else reason
            for row in self.rows
            for key in [row.option.key]
            if self.cleaned_data[f"{key}-shown"]
            for reason in [self.cleaned_data[f"{key}-reason"]]
        }
