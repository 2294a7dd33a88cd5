"""What a field of a crew sheet takes: tank by load, seed by box, plants and supplies, calibration."""

from __future__ import annotations

from decimal import Decimal

from reportlab.platypus import Flowable, KeepTogether, Paragraph

from plans.documents.look import CELL, CELL_BOLD, FINE, TEXT_WIDTH, gap, p, part, plain, quiet, rich, table
from plans.documents.manner import _, in_force
from plans.documents.told import told
from plans.documents.words import (
    amount,
    area_head,
    by_label,
    cents,
    converted,
    number,
    quantity,
    sentence,
    unit,
    upper_first,
)
from plans.planning.figures import Figure
from plans.planning.loading import SMALL_UNITS, LoadingList, SeedWeight, box_words
from plans.planning.plan import TankMix

MOST_LOADS = 8
"""Of more loads than this the full ones share a row."""


def _measure(figure: Figure) -> Paragraph:
    """An amount, and below it as gallons and ounces, or pounds and ounces, where it is that much."""
    per_large, large = SMALL_UNITS.get(figure.unit, (0, ""))
    value = float(figure.value)
    shown = plain(f"{number(value, 1)} {figure.unit}")
    if in_force().metric:
        return rich(shown, quiet(f"\n{quantity(value, figure.unit, 1)}"), style=CELL)
    if per_large and value >= per_large:
        whole, rest = divmod(round(value, 1), per_large)
        small = f" {number(rest, 1)} {figure.unit}" if round(rest, 1) else ""
        shown += quiet(f"\n{number(whole)} {large}{small}")
    return rich(shown, style=CELL)


def _load_rows(tank: TankMix) -> list[tuple[str, float, float, bool]]:
    """Each load: its name, gallons, acres and whether it is a full one."""
    acres = float(tank.acres_per_tank.value)
    last = float(tank.last_load_gal.value)
    rows = []
    if tank.full_loads + bool(last) > MOST_LOADS:
        each = _("{first}–{last}, each").format(first=1, last=tank.full_loads)
        rows.append((each, tank.tank_gal, acres, True))
    else:
        rows += [(str(n), tank.tank_gal, acres, True) for n in range(1, tank.full_loads + 1)]
    if last:
        rows.append((str(tank.full_loads + 1), last, tank.last_load_acres, False))
    return rows


def tank_by_load(tank: TankMix) -> list[Flowable]:
    names = [tank_part.name for tank_part in tank.parts]
    rows: list[list[object]] = []
    for name, gallons, acres, full in _load_rows(tank):
        amounts = [_measure(one.per_full_tank if full else one.in_last_load) for one in tank.parts]
        rows.append(
            [
                p(name, CELL_BOLD),
                p(number(converted(gallons, "gal"), 1), CELL),
                p(number(converted(acres, "acre"), 2), CELL),
                *amounts,
                "",
            ]
        )
    whole = [p(by_label(one.total.value, one.total.unit), CELL_BOLD) for one in tank.parts]
    rows.append(
        [
            p(_("all"), CELL_BOLD),
            p(number(converted(float(tank.carrier_gal.value), "gal"), 1), CELL_BOLD),
            p(number(converted(tank.acres, "acre")), CELL_BOLD),
            *whole,
            "",
        ]
    )
    room = TEXT_WIDTH - 64 - 44 - 44 - 62
    widths = [64, 44, 44, *([room / max(len(names), 1)] * len(names)), 62]
    rates = "; ".join(f"{told(one.name)} {by_label(one.rate.value, one.rate.unit)}" for one in tank.parts)
    carrier = amount(tank.carrier_gal_per_acre, "gal/acre")
    fill = [p(f"{at}. {sentence(told(step))}", CELL) for at, step in enumerate(tank.order, start=1)]
    after = [p(told(said), FINE) for said in (tank.jar_test, tank.leftover) if said]
    how = _("{carrier} of spray: {rates}. The label goes before this table.")
    head = [_("Load"), _volume_head(), area_head(), *(told(name) for name in names), _("Filled at")]
    return [
        *part(_("Tank, load by load"), 150),
        p(how.format(carrier=carrier, rates=rates), CELL),
        table(head, rows, widths, totals=1, tight=len(rows) > 4),
        *([KeepTogether([p(_("How to fill"), CELL_BOLD), *fill, gap(3), *after])] if fill or after else []),
    ]


def _volume_head() -> str:
    return unit("gal") if in_force().metric else _("Gallons")


def _pounds(figure: Figure) -> str:
    return cents(Decimal(f"{converted(float(figure.value), 'lb'):.2f}"))


def _weight_row(one: SeedWeight) -> list[object]:
    bulk = _pounds(one.bulk_lb) if one.bulk_lb else _("no lot yet")
    return [p(told(one.species), CELL), p(one.lot, CELL), _pounds(one.pls_lb), bulk, ""]


def seed_by_box(load: LoadingList, field: str) -> list[Flowable]:
    boxes = [rate for rate in load.boxes if rate.field == field]
    if not boxes:
        return []
    rows: list[list[object]] = []
    heads: list[tuple] = []
    for rate in boxes:
        inside = [one for one in load.weights if (one.field, one.box) == (field, rate.box)]
        row = len(rows) + 1
        rows.append([p(upper_first(told(box_words(rate.box))), CELL_BOLD), "", "", "", ""])
        heads.append(("NOSPLIT", (0, row), (-1, row + 1)))
        rows += [_weight_row(one) for one in inside]
        if rate.bulk_lb is not None and len(inside) > 1:
            rows.append([p(_("together"), CELL), "", "", _pounds(rate.bulk_lb), ""])
        if rate.carrier_lb is not None:
            carrier = (load.rig.drill and load.rig.drill.carrier) or _("carrier")
            rows.append(
                [
                    p(_("{carrier}, mixed in").format(carrier=carrier), CELL),
                    "",
                    "",
                    _pounds(rate.carrier_lb),
                    "",
                ]
            )
    return [
        *part(_("Seed by box"), 120),
        p(_("Weigh out bulk seed; each lot has its own weight. Keep the tags."), CELL),
        table(
            [
                _("Species"),
                _("Lot"),
                _("PLS {unit}").format(unit=unit("lb")),
                _("Bulk {unit}").format(unit=unit("lb")),
                _("Weighed"),
            ],
            rows,
            [158, 100, 62, 70, 78],
            numbers=(2, 3),
            extra=heads,
            tight=True,
        ),
    ]


def supplies(load: LoadingList, field: str) -> list[Flowable]:
    rows = [
        [p(told(line.what), CELL), p(shown_amount(line.amount), CELL_BOLD), ""]
        for section in load.sections
        if section.key == "materials"
        for line in section.lines
        if line.where == field
    ]
    if not rows:
        return []
    head = [_("What"), _("How many"), _("Loaded")]
    return [*part(_("Plants and supplies"), 110), table(head, rows, [258, 120, 90])]


def shown_amount(figure: Figure | None) -> str:
    return amount(figure.value, figure.unit) if figure else ""


def calibration(load: LoadingList, field: str) -> list[Flowable]:
    lines = [line for section in load.sections if section.key == "calibration" for line in section.lines]
    here = [line for line in lines if not line.where or line.where.startswith(f"{field}, ")]
    if not here:
        return []
    rows: list[list[object]] = []
    for line in here:
        where = told(line.where.removeprefix(f"{field}, "))
        what = f"{where}: {told(line.what)}" if where else told(line.what)
        rows.append(
            [
                p(upper_first(what), CELL),
                p(shown_amount(line.amount), CELL_BOLD),
                p(told(line.note), CELL),
                "",
            ]
        )
    head = [_("Setting"), _("Should be"), "", _("Is")]
    return [*part(_("Calibration"), 110), table(head, rows, [162, 90, 160, 56], tight=True)]
