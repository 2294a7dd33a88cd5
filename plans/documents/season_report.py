"""The season report: what was done and seen in a year, how the stands do, what comes next and its price."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO

from reportlab.platypus import Flowable, Image, KeepTogether, Table

from plans.documents.letter import letterhead
from plans.documents.look import (
    CELL,
    CELL_BOLD,
    CELL_SMALL,
    DATES,
    H3,
    LETTER,
    LETTER_TIGHT,
    SMALL,
    SUBJECT,
    TEXT_WIDTH,
    foot,
    gap,
    p,
    paragraphs,
    part,
    plain,
    quiet,
    rich,
    section,
    strong,
    table,
    text_height,
)
from plans.documents.manner import _, several, using
from plans.documents.page import Running, build
from plans.documents.season_facts import (
    ComingPayment,
    DoneWork,
    FieldCounts,
    PhotoPoint,
    SeasonReport,
    SeenMoment,
)
from plans.documents.stand_chart import density, per_area, per_area_short, stand_chart
from plans.documents.told import told
from plans.documents.words import (
    cents,
    converted,
    day,
    listed,
    lower_first,
    number,
    quantity,
    sentence,
    short,
    unit,
    upper_first,
    usd,
    window,
)

PER_ROW = 3
BETWEEN = 12.0
MOST_NAMED = 3
"""Fields whose count the opening tells one by one."""
MOST_HIGH = 150.0
"""Of a photograph [pt]."""


def season_report_pdf(
    report: SeasonReport, pictures: Mapping[str, bytes], *, logo: bytes | None = None
) -> bytes:
    """PDF of a report in its manner; `pictures` are JPEGs by the name of their photograph.

    Those left out are not shown. The same arguments give the same bytes. Raises ValueError for a picture that
    cannot be read.
    """
    with using(report.manner):
        return _printed(report, pictures, logo)


def _printed(report: SeasonReport, pictures: Mapping[str, bytes], logo: bytes | None) -> bytes:
    heading = _("Season report {year}").format(year=report.year)
    story: list[Flowable] = [
        *letterhead(report.practice, logo),
        p(day(report.reported_on), LETTER),
        p(report.client.name, LETTER_TIGHT),
        *paragraphs(report.client.address, LETTER_TIGHT),
        gap(10),
        p(f"{heading}: {report.title}", SUBJECT),
        p(in_short(report), LETTER),
        *paragraphs(report.words, LETTER),
        *the_counts(report),
        *the_photographs(report, pictures),
        *what_was_done(report),
        *the_weather(report),
        *planned_and_used(report),
        *what_comes(report),
    ]
    running = Running(
        title=f"{heading}: {report.title}",
        author=report.practice.name,
        head_left=f"{report.client.name}, {report.farm}",
        head_right=heading,
        foot=foot(report.practice.name),
        subject=heading,
    )
    return build(story, running)


def in_short(report: SeasonReport) -> str:
    """The season in a few sentences."""
    said = []
    if report.done:
        fields = list(dict.fromkeys(field for one in report.done for field in one.fields))
        text = several(
            "In {year} we did one kind of work on {fields}.",
            "In {year} we did {count} kinds of work on {fields}.",
            len({one.work for one in report.done}),
        )
        number_of = len({one.work for one in report.done})
        said.append(text.format(year=report.year, count=number_of, fields=listed(fields)))
    else:
        said.append(_("In {year} no work was recorded.").format(year=report.year))
    said += _counted(report)
    if report.years:
        said.append(
            _("What is agreed for the years after comes to {price}.").format(price=usd(report.price_to_come))
        )
    return " ".join(said)


def _counted(report: SeasonReport) -> list[str]:
    """This year's counts against what is asked: field by field while these are few."""
    counted = [one for one in report.counts if one.points[-1].on.year == report.year]
    if len(counted) > MOST_NAMED:
        enough = sum(one.points[-1].density >= one.target for one in counted)
        text = _("Of {count} fields counted, {enough} have as many plants as their planting asks.")
        return [text.format(count=len(counted), enough=enough)]
    text = _("{field} was counted at {density} {per}; {target} is asked.")
    return [
        text.format(
            field=one.field,
            per=per_area(),
            density=density(one.points[-1].density),
            target=density(one.target),
        )
        for one in counted
    ]


# The stand


def the_counts(report: SeasonReport) -> list[Flowable]:
    if not report.counts:
        return []
    note = _(
        "Dots are counts, bars reach as far as the true density lies in 95 of 100 such counts, the broken "
        "line is what the planting asks."
    )
    story: list[Flowable] = [*section(_("How the stand does"), 220), p(note, SMALL)]
    for one in report.counts:
        story.append(KeepTogether(_field_counts(one)))
    return story


def _field_counts(one: FieldCounts) -> list[Flowable]:
    rows = [
        [
            short(point.on),
            str(point.season),
            str(point.frames),
            density(point.density),
            f"{density(point.low)} – {density(point.high)}",
            p(
                told(point.verdict)
                if point.sure
                else _("{verdict}, not sure yet").format(verdict=told(point.verdict)),
                CELL,
            ),
        ]
        for point in one.points
    ]
    head = [_("Counted"), _("Season"), _("Frames"), per_area_short(), _("In 95 of 100"), _("Verdict")]
    words = (upper_first(told(one.because)), told(one.next_words))
    step = " ".join(sentence(text) for text in words if text)
    return [
        p(one.field, CELL_BOLD),
        gap(3),
        stand_chart(one, wide=TEXT_WIDTH),
        table(head, rows, [74, 62, 54, 62, 86, 130], numbers={1, 2, 3, 4}, tight=True),
        rich(strong(f"{told(one.next_label)}: "), plain(step), style=CELL),
        gap(8),
    ]


# Photographs


def the_photographs(report: SeasonReport, pictures: Mapping[str, bytes]) -> list[Flowable]:
    """Each point in a row, the years from left to right."""
    rows = [row for point in report.photos if (row := _row(point, pictures))]
    if not rows:
        return []
    return [
        *section(_("From the same point"), 80 + rows[0][1].wrap(TEXT_WIDTH, text_height())[1]),
        *(
            KeepTogether([p(f"{point.field}: {point.name}", CELL_BOLD), gap(3), row, gap(8)])
            for point, row in rows
        ),
    ]


def _row(point: PhotoPoint, pictures: Mapping[str, bytes]) -> tuple[PhotoPoint, Table] | None:
    shots = [shot for shot in point.shots if shot.name in pictures][-PER_ROW:]
    if not shots:
        return None
    wide = (TEXT_WIDTH - (PER_ROW - 1) * BETWEEN) / PER_ROW
    cells = []
    for shot in shots:
        scale = min(wide / shot.width_px, MOST_HIGH / shot.height_px)
        picture = Image(
            BytesIO(pictures[shot.name]),
            width=shot.width_px * scale,
            height=shot.height_px * scale,
            hAlign="LEFT",
        )
        cells.append([picture, gap(3), p(day(shot.on), CELL_SMALL)])
    cells += [[] for _empty in range(PER_ROW - len(cells))]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        *[(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "TOP", "BOTTOM")],
        ("RIGHTPADDING", (0, 0), (-1, -1), BETWEEN),
    ]
    return point, Table([cells], colWidths=[wide + BETWEEN] * PER_ROW, style=style, hAlign="LEFT")


# Work and weather


def what_was_done(report: SeasonReport) -> list[Flowable]:
    story = section(_("What was done"), 140)
    if not report.done:
        story.append(p(_("No work was recorded in {year}.").format(year=report.year)))
    else:
        rows = [
            [
                p(short(one.on), DATES),
                [
                    rich(strong(told(one.work)), plain(f", {where(one.fields, report)}"), style=CELL),
                    *_told(one),
                ],
                number(converted(one.acres, "acres")),
            ]
            for one in report.done
        ]
        story.append(
            table([_("Day"), _("Work"), upper_first(unit("acres"))], rows, [76, 336, 56], numbers={2})
        )
        text = _("Each line stands in the record of work, with lot and label numbers; ask us for a copy.")
        story.append(p(text, SMALL))
    if report.left_out:
        story += part(_("Left out"))
        story += [p(f"{told(one.work)}, {one.field}: {sentence(one.why)}") for one in report.left_out]
    return story


def _told(one: DoneWork) -> list[Flowable]:
    used = [used_words(line.name, line.amount, line.unit, line.lot) for line in one.used]
    told = [upper_first("; ".join(used))] if used else []
    told += [*one.weather, *one.notes]
    return [p(sentence(text), CELL_SMALL) for text in told]


def where(fields: Sequence[str], report: SeasonReport) -> str:
    """The fields by name, or that it is all of them."""
    if len(report.fields) > 1 and {*fields} == {*report.fields}:
        return _("both fields") if len(report.fields) == 2 else _("all fields")
    return listed(fields)


def used_words(name: str, amount: float, unit: str, lot: str) -> str:
    """`little bluestem 12.4 lb (lot LB-114)`."""
    name = told(name)
    if lot:
        return _("{name} {amount} (lot {lot})").format(name=name, amount=quantity(amount, unit), lot=lot)
    return _("{name} {amount}").format(name=name, amount=quantity(amount, unit))


def the_weather(report: SeasonReport) -> list[Flowable]:
    """What was seen beside the normal day, and what weather cost; empty where nothing was entered."""
    if not report.seen and not report.lost:
        return []
    story = section(_("The weather"), 120)
    if report.seen:
        rows = [
            [
                p(upper_first(told(one.label)), CELL),
                short(one.on),
                short(one.normal, year=False),
                p(late(one), CELL),
            ]
            for one in report.seen
        ]
        story.append(
            table(
                [_("What was seen"), _("Day"), _("Usual day"), _("Beside the usual")],
                rows,
                [210, 84, 74, 100],
            )
        )
        story.append(
            p(_("Usual days are those of a normal year at {place}.").format(place=report.place), SMALL)
        )
    if report.lost:
        story += part(_("Put off"))
        story += [
            rich(
                strong(short(one.on, year=False)),
                plain(f" {lower_first(told(one.work))}, {one.field}: "),
                quiet(sentence(one.why)),
                style=CELL,
            )
            for one in report.lost
        ]
    return story


def late(one: SeenMoment) -> str:
    """`6 days later`, `on its day`."""
    days = one.days_late
    if days == 0:
        return _("on its day")
    text = (
        several("{days} day later", "{days} days later", days)
        if days > 0
        else several("{days} day earlier", "{days} days earlier", -days)
    )
    return text.format(days=abs(days))


def planned_and_used(report: SeasonReport) -> list[Flowable]:
    if not report.used:
        return []
    rows = [
        [
            p(upper_first(told(one.name)), CELL),
            "–" if one.planned is None else quantity(one.planned, one.unit),
            quantity(one.used, one.unit),
            apart(one.apart_pct),
        ]
        for one in report.used
    ]
    return [
        *section(_("Planned and used"), 130),
        table(
            [_("What"), _("Planned"), _("Used"), _("Beside the plan")],
            rows,
            [216, 84, 84, 84],
            numbers={1, 2, 3},
            tight=True,
        ),
    ]


def apart(pct: float | None) -> str:
    """+4 %, −12 %; a dash for what was not planned."""
    if pct is None:
        return "–"
    rounded = round(pct)
    if rounded == 0:
        return _("as planned")
    return f"{'+' if rounded > 0 else '−'}{abs(rounded)} %"


# What comes next


def what_comes(report: SeasonReport) -> list[Flowable]:
    if not (report.coming or report.years or report.payments):
        return []
    story = section(_("What comes next"), 140)
    if report.coming:
        rows = [
            [
                p(window(one.opens, one.shuts), DATES),
                [
                    rich(strong(told(one.label)), plain(f", {where(one.fields, report)}"), style=CELL),
                    p(told(one.why), CELL_SMALL),
                ],
            ]
            for one in report.coming
        ]
        story.append(table([], rows, [138, 330]))
    story += _price_to_come(report)
    return story


def stands(one: ComingPayment) -> str:
    return _("Invoiced") if one.stands == "open" else _("To be invoiced")


YEARS_WIDE, BETWEEN, MOST_BESIDE = (70.0, 76.0), 24.0, 8
"""Columns of the price by year and the room beside it [pt]; more rows than this stand below each other."""


def _price_to_come(report: SeasonReport) -> list[Flowable]:
    """What is still to come in money; a short price by year beside the payments."""
    wide = TEXT_WIDTH - sum(YEARS_WIDE) - BETWEEN
    most = max(len(report.years), len(report.payments))
    if not report.years or not report.payments or most > MOST_BESIDE:
        years = _years(report, (120.0, 100.0)) if report.years else []
        paid = _payments(report, TEXT_WIDTH) if report.payments else []
        return [KeepTogether(block) for block in (years, paid) if block]
    bare = [(f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM")]
    columns = Table(
        [[_years(report, YEARS_WIDE), "", _payments(report, wide)]],
        colWidths=[sum(YEARS_WIDE), BETWEEN, wide],
        style=[*bare, ("VALIGN", (0, 0), (-1, -1), "TOP")],
        hAlign="LEFT",
    )
    return [KeepTogether([columns])]


def _years(report: SeasonReport, widths: Sequence[float]) -> list[Flowable]:
    body: list[list[object]] = [[str(year.year), cents(year.price)] for year in report.years]
    body.append([p(_("All years to come"), CELL_BOLD), cents(report.price_to_come)])
    return [
        p(_("Its price, as agreed"), H3),
        table([_("Year"), _("US dollars")], body, widths, numbers={1}, totals=1),
    ]


def _payments(report: SeasonReport, wide: float) -> list[Flowable]:
    rows: Sequence[Sequence[object]] = [
        [p(told(one.label), CELL), p(told(one.due), CELL), p(stands(one), CELL), cents(one.amount)]
        for one in report.payments
    ]
    widths = [share * wide for share in (0.3, 0.32, 0.19, 0.19)]
    heads = [_("Payment"), _("Due"), _("Stands"), _("US dollars")]
    return [p(_("Payments still open"), H3), table(heads, rows, widths, numbers={3})]
