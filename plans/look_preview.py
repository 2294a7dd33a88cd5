"""A practice's look and words on the pages of a plan, before they are saved."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path

from django.core.cache import cache

from consulting.models import Membership, Practice
from consulting.services import logo_png
from plans.documents.page_images import as_png, page_images, page_sizes, page_texts
from plans.documents.proposal import proposal_pdf
from plans.facts import practice_of
from plans.manners import manner_of
from plans.models import State
from plans.planning.own_look import OwnLook
from plans.planning.own_words import program_place, seeding_place
from plans.planning.plan import Plan as Outcome
from plans.planning.planner import plan_job
from plans.planning.standards import standards
from plans.planning.wire import read_job_file
from plans.selectors import plans_whole, prices_for, reckon

EXAMPLE = Path(__file__).parent / "examples" / "job.json"
WIDE_PX = 760
STILL_READ = (State.DRAFT, State.OFFERED, State.AGREED)
MOST_TRIED = 3
"""Plans looked at, newest first, for one that can be worked out."""
FIRST_PAGES = 4
KEPT_SECONDS = 3600
MOST_PAGES = 3
"""Pages shown of those that hold the words."""

LEAST_SOUGHT = 6
"""Characters by which words are looked for on the pages."""
_NAME = re.compile(r"\{[^{}]*\}|[{}]")

HAS: dict[str, Callable[[Outcome], bool]] = {
    "mix": lambda plan: any(field.lines for field in plan.seed),
    "payments": lambda plan: bool(plan.estimate.stages),
    "cost_share": lambda plan: plan.estimate.cost_share is not None or bool(standards(plan)),
    "cautions": lambda plan: any(finding.severity != "note" for finding in plan.findings),
}
"""Whether a plan's proposal has the section of a place; the others are in every one."""


@dataclass(frozen=True, slots=True)
class Preview:
    """Some pages of a print that is kept for a while."""

    pages: tuple[tuple[int, int, int], ...]
    """Numbers from 1 with the width and height of their pictures [px]."""
    stamp: str
    """By which the print is asked for."""
    of: str
    """The plan's title."""
    invented: bool
    found: bool
    """Whether the words asked for are on these pages."""


@lru_cache(maxsize=2)
def example(today: date) -> Outcome:
    file = read_job_file(EXAMPLE.read_bytes())
    return plan_job(file.job, file.prices, today)


def _has(outcome: Outcome, place: str) -> bool:
    if ":" in place:
        programs = {program_place(one.kill_program) for one in outcome.job.conversions}
        return place in programs | {seeding_place(one.seeding) for one in outcome.job.conversions}
    return HAS.get(place, lambda plan: True)(outcome)


@dataclass(frozen=True, slots=True)
class Shown:
    """The plan that a look and words are shown on."""

    practice: Practice
    outcome: Outcome
    invented: bool
    today: date

    @property
    def until(self) -> date:
        return self.today + timedelta(days=self.outcome.job.terms.valid_days)

    def pdf(self, look: OwnLook, place: str = "") -> bytes:
        """The plan's draft in that look; it says the words even of a program that it does not have."""
        if ":" in place and not _has(self.outcome, place):
            look = replace(look, words=look.words | {"work": look.words.get(place, "")})
        job = self.outcome.job
        outcome = replace(self.outcome, job=replace(job, manner=replace(job.manner, look=look)))
        logo = logo_png(self.practice)
        return proposal_pdf(outcome, number="", revision=1, offered_on=self.today, logo=logo)

    def preview(self, look: OwnLook, member: Membership, place: str = "") -> Preview:
        """The first pages in that look, or those on which the words of `place` stand."""
        pdf = self.pdf(look, place)
        found = _pages_with(pdf, look.words.get(place, ""))
        sizes = page_sizes(pdf, wide_px=WIDE_PX)
        pages = tuple((number + 1, *sizes[number]) for number in found or range(min(FIRST_PAGES, len(sizes))))
        return Preview(pages, kept(member, pdf), self.outcome.job.title, self.invented, bool(found))


def kept(member: Membership, pdf: bytes) -> str:
    """Keeps the print for its pages to be looked at, in the place of the member's last; its stamp."""
    stamp = hashlib.sha256(pdf).hexdigest()[:16]
    cache.set(_key(member), (stamp, pdf), KEPT_SECONDS)
    return stamp


def print_of(member: Membership, stamp: str) -> bytes | None:
    """The member's last preview, if it is the one with that stamp."""
    found, pdf = cache.get(_key(member)) or ("", None)
    return pdf if found == stamp else None


def page_png(pdf: bytes, page: int) -> bytes | None:
    """A page by its number from 1, as a picture; None past the last."""
    images = page_images(pdf, [page - 1], wide_px=WIDE_PX)
    return as_png(images[0]) if images else None


def _key(member: Membership) -> str:
    return f"look-preview-{member.pk}"


def shown_on(practice: Practice, today: date, place: str = "") -> Shown:
    """The practice's newest plan that has the place, failing that an invented one."""
    prices = None
    for plan in plans_whole().filter(state__in=STILL_READ)[:MOST_TRIED]:
        prices = prices or prices_for(practice)
        outcome = reckon(plan, prices, today).outcome
        if outcome is not None and _has(outcome, place):
            return Shown(practice, outcome, False, today)
    made_up = example(today)
    job = replace(made_up.job, practice=practice_of(practice), manner=manner_of(practice))
    return Shown(practice, replace(made_up, job=job), True, today)


def _pages_with(pdf: bytes, text: str) -> list[int]:
    """Pages that say what the text says between its names; where lines end does not matter."""
    pages = [_squeezed(page) for page in page_texts(pdf)]
    sought = [
        max((_squeezed(part)[:40] for part in _NAME.split(line)), key=len) for line in text.splitlines()
    ]
    return [
        number
        for number, page in enumerate(pages)
        if any(len(part) >= LEAST_SOUGHT and part in page for part in sought)
    ][:MOST_PAGES]


def _squeezed(text: str) -> str:
    return "".join(text.split())
