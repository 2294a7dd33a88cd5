"""The practice's own paragraphs, filled in and put where they belong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, Paragraph

from plans.documents.look import BODY, H2, H3, p, paragraphs, plain, rich, strong
from plans.documents.manner import _, in_force
from plans.documents.words import day, listed, measured, unique, usd
from plans.planning.calendar import SOWING
from plans.planning.job import Conversion
from plans.planning.own_words import filled, program_place, seeding_place
from plans.planning.plan import Plan


class OwnWords:
    """What the practice says at each place of a plan's proposal; the words are those of the look in force."""

    def __init__(self, plan: Plan, until: date):
        self.plan = plan
        self.until = until
        self.words = in_force().look.words

    def at(self, place: str, style: ParagraphStyle = BODY) -> list[Flowable]:
        """The paragraphs of a place; none where the practice has written none."""
        return paragraphs(self._said(place, self.plan.job.conversions), style)

    def text(self, place: str) -> str:
        """The same as plain text, for a page."""
        return self._said(place, self.plan.job.conversions)

    def texts_of_programs(self) -> list[tuple[str, str]]:
        """Words for each kill program and then each seeding in this plan, with the names of its fields."""
        everywhere = self.plan.job.conversions
        found = []
        for place in _places_of(everywhere):
            here = [one for one in everywhere if place in _places_of([one])]
            if text := self._said(place, here):
                found.append((listed(one.field for one in here), text))
        return found

    def under(self, place: str, section: Sequence[Flowable]) -> list[Flowable]:
        """The section with its own paragraphs below its heading; an empty section stays empty."""
        said = self.at(place)
        if place == "work":
            said += self._of_programs()
        heading = next((at for at, one in enumerate(section) if _is_heading(one)), None)
        if heading is None or not said:
            return list(section)
        return [*section[: heading + 1], *said, *section[heading + 1 :]]

    def _said(self, place: str, conversions: Sequence[Conversion]) -> str:
        text = self.words.get(place, "")
        return filled(text, values(self.plan, self.until, conversions)) if text.strip() else ""

    def _of_programs(self) -> list[Flowable]:
        """Words for each kill program and then each seeding in this plan, with the fields they are for."""
        everywhere = self.plan.job.conversions
        said: list[Flowable] = []
        for names, text in self.texts_of_programs():
            lines = [line for line in text.split("\n") if line.strip()]
            if names != listed(one.field for one in everywhere):
                named = _("{fields}: {text}").format(fields="\0", text=lines[0]).split("\0")
                said.append(rich(plain(named[0]), strong(names), plain(named[1])))
                lines = lines[1:]
            said += [p(line) for line in lines]
        return said


def _places_of(conversions: Sequence[Conversion]) -> list[str]:
    programs = [program_place(one.kill_program) for one in conversions]
    return unique(programs + [seeding_place(one.seeding) for one in conversions])


def _is_heading(flowable: Flowable) -> bool:
    return isinstance(flowable, Paragraph) and flowable.style in (H2, H3)


def values(plan: Plan, until: date, conversions: Sequence[Conversion]) -> Mapping[str, str]:
    """What is printed for each variable; fields and acres are those of the conversions given."""
    job = plan.job
    names = {one.field for one in conversions}
    here = [task for task in plan.tasks if task.field in names]
    sown = [task for task in here if task.operation in SOWING]
    priced = [year.year for year in plan.estimate.years]
    unset = _("a day still to be set")
    return {
        "client": job.client.name,
        "farm": job.farm.name,
        "practice": job.practice.name,
        "phone": job.practice.phone,
        "email": job.practice.email,
        "fields": listed(one.field for one in conversions),
        "acres": measured(sum(one.acres for one in conversions), "acre"),
        "years": _span(priced),
        "total": usd(plan.estimate.total.total.dollars),
        "valid_until": day(until),
        "first_work": day(min(task.earliest for task in here)) if here else unset,
        "first_seeding": day(min(task.earliest for task in sown)) if sown else unset,
    }


def _span(years: Sequence[int]) -> str:
    if not years:
        return _("years still to be set")
    return f"{years[0]}" if len(years) == 1 else f"{years[0]}–{years[-1]}"
