"""Pages on the paper in force: head, foot, page n of m, outline, title, language; same input, same bytes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from io import BytesIO
from typing import Any, Literal

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    ActionFlowable,
    BaseDocTemplate,
    Flowable,
    Frame,
    PageTemplate,
    Paragraph,
)

from plans.documents import fonts
from plans.documents.look import FOOT_ROOM, GREEN, H2, QUIET, RULE, TEXT_WIDTH, text_height
from plans.documents.manner import _, in_force, sheet

LARGE = 14.0
"""From this size on a running head stands upright [pt]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Running:
    """What every page carries; `head_left` and `head_right` from the first page after the bare ones on."""

    title: str
    author: str
    head_left: str
    head_right: str
    foot: str
    subject: str = "Habitat conversion proposal"
    bare_pages: int = 1
    type_size: float = 8.0
    """Of the foot [pt]; the head is a point larger where the foot is small."""


class _Canvas(Canvas):
    """Holds the pages back until their number is known, then adds head, foot and outline to each."""

    def __init__(self, *args: Any, running: Running, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.running = running
        self.held: list[dict[str, Any]] = []
        self.sections: list[tuple[int, str]] = []

    def showPage(self) -> None:
        self.held.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        held, sections = self.held, self.sections
        for number, state in enumerate(held, start=1):
            self.__dict__.update(state)
            for i, (page, title) in enumerate(sections):
                if page == number:
                    self.bookmarkPage(f"section-{i}")
                    self.addOutlineEntry(title, f"section-{i}")
            self._edges(number, len(held))
            super().showPage()
        self.setViewerPreference("DisplayDocTitle", "true")
        super().save()

    def _edges(self, number: int, pages: int) -> None:
        width, height = self._pagesize
        side, foot = (width - TEXT_WIDTH) / 2, 46.0
        left, right, room = side, width - side, width - 2 * side
        size = self.running.type_size
        page_room, head_size = 10 * size, max(size, 9.0)
        head_font = fonts.SANS if size >= LARGE else fonts.SERIF_ITALIC
        self.setFillColor(QUIET)
        self.setStrokeColor(RULE)
        self.setLineWidth(0.5)
        self.line(left, foot + 1.5 * size, right, foot + 1.5 * size)
        self._text(left, foot, self.running.foot, fonts.SANS, size, room=room - page_room - 10)
        page = _("Page {page} of {pages}").format(page=number, pages=pages)
        self._text(right, foot, page, fonts.SANS, size, room=page_room, right=True)
        if number > self.running.bare_pages:
            head = height - 50
            beside = fonts.fit(self.running.head_right, head_font, head_size, room / 2)
            self._text(right, head, beside, head_font, head_size, room=room, right=True)
            room -= fonts.width(beside, head_font, head_size) + 20
            self._text(left, head, self.running.head_left, head_font, head_size, room=room)
            self.setStrokeColor(GREEN)
            self.line(left, head - 7, right, head - 7)

    def _text(
        self, x: float, y: float, text: str, font: str, size: float, *, room: float, right: bool = False
    ) -> None:
        """One line of plain text, cut to `room` [pt]; with `right` it ends at x."""
        text = fonts.fit(text, font, size, room)
        if right:
            x -= fonts.width(text, font, size)
        for name, piece in fonts.runs(text, font):
            self.setFont(name, size)
            self.drawString(x, y, piece)
            x += self.stringWidth(piece, name, size)


class _Document(BaseDocTemplate):
    def __init__(self, buffer: BytesIO, running: Running):
        wide, high = sheet()
        super().__init__(
            buffer,
            pagesize=(wide, high),
            invariant=1,
            lang=in_force().locale.replace("_", "-"),
            title=fonts.clean(running.title),
            author=fonts.clean(running.author),
            creator="Coverstead",
            subject=fonts.clean(running.subject),
            initialFontName=fonts.SANS,
        )
        tight = {"leftPadding": 0, "rightPadding": 0, "topPadding": 0, "bottomPadding": 0}
        side = (wide - TEXT_WIDTH) / 2
        first = Frame(side, FOOT_ROOM, TEXT_WIDTH, high - FOOT_ROOM - 50, **tight)
        later = Frame(side, FOOT_ROOM, TEXT_WIDTH, text_height(), **tight)
        self.addPageTemplates(
            [
                PageTemplate("first", [first], pagesize=(wide, high), autoNextPageTemplate="later"),
                PageTemplate("later", [later], pagesize=(wide, high)),
            ]
        )

    def afterFlowable(self, flowable: Flowable) -> None:
        if isinstance(flowable, Paragraph) and flowable.style.name == H2.name:
            self.canv.sections.append((self.page, flowable.getPlainText()))


class NextSide(ActionFlowable):
    """Goes on overleaf: to the back where the front is being printed, or to the front of a fresh leaf."""

    def __init__(self, side: Literal["back", "front"]):
        super().__init__()
        self.side = side

    def apply(self, doc: BaseDocTemplate) -> None:
        on_front = doc.page % 2 == 1
        if self.side == "front" or on_front:
            doc.handle_pageBreak()
        if self.side == "front" and on_front:
            doc.clean_hanging()
            doc.handle_pageBreak()


def build(story: Sequence[Flowable], running: Running) -> bytes:
    """The finished PDF."""
    buffer = BytesIO()
    _Document(buffer, running).build(list(story), canvasmaker=partial(_Canvas, running=running))
    return buffer.getvalue()
