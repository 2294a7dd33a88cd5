"""The buy list for the office: as rows of a spreadsheet file, and as one printed table. It carries prices."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from reportlab.platypus import Flowable

from plans.documents.look import (
    CELL,
    CELL_BOLD,
    FINE,
    H2,
    SMALL,
    WHITE,
    YEAR,
    p,
    plain,
    quiet,
    rich,
    strong,
    table,
)
from plans.documents.page import Running, build
from plans.documents.rows import Column, Row, Value, as_csv, as_workbook
from plans.documents.words import cents, day, number, sentence, short, upper_first, usd
from plans.planning.figures import Figure
from plans.planning.money import total
from plans.planning.needs import Kind
from plans.planning.orders import BuyLine, BuyList, Use

COLUMNS = (
    Column("Row", 8),
    Column("Kind", 9),
    Column("What", 30),
    Column("Supplier", 20),
    Column("Lot", 16),
    Column("Order", 24),
    Column("Amount", 12, "amount"),
    Column("Unit", 9),
    Column("Bulk lb", 12, "amount"),
    Column("Job", 34),
    Column("Field", 24),
    Column("Needed by", 12, "day"),
    Column("Cost $", 12, "money"),
    Column("Value left $", 12, "money"),
    Column("Note", 46),
)
TITLE = "To buy for work up to"
COVERS = (
    "What is needed by then, less what is in the shed, in whole bags and containers. Seed is needed "
    "in pounds of pure live seed (PLS) and weighed in bulk."
)
KIND_WORDS: dict[Kind, str] = {
    "seed": "Seed",
    "product": "Herbicides and adjuvants",
    "supply": "Plants and supplies",
}


def buy_list_rows(bought: BuyList, notes: Sequence[str] = ()) -> list[Row]:
    """Every line with what to buy, what the shed gives, what is left over, and each lot's use on each field.

    `Row` says what a row is: needed, shed, buy, use, left, short, total or note; only `buy` rows carry a
    cost, and `total` is their sum. `notes` say what is left out.
    """
    rows: list[Row] = []

    def row(kind: str, line: BuyLine, amount: Figure, **more: Value) -> None:
        named = {name.replace("_", " "): value for name, value in more.items()}
        said = {"Row": kind, "Kind": line.kind, "What": line.name}
        rows.append(said | {"Amount": _plain(amount), "Unit": amount.unit} | named)

    def uses(line: BuyLine, found: Sequence[Use]) -> None:
        for use in found:
            row(
                "use",
                line,
                use.amount,
                Supplier=use.supplier,
                Lot=use.lot,
                Bulk_lb=_plain(use.bulk_lb),
                Job=use.plan_title,
                Field=use.field,
                Needed_by=use.needed_on,
                Note=use.note,
            )

    for line in bought.lines:
        row("needed", line, line.needed, Needed_by=line.needed_on)
        for draw in line.draws:
            row("shed", line, draw.used, Lot=draw.lot)
            uses(line, draw.uses)
        for one in line.purchases:
            origin: dict[str, Value] = {"Supplier": one.supplier, "Lot": one.lot}
            row(
                "buy",
                line,
                one.bought,
                Order=one.order,
                Bulk_lb=_plain(one.bulk_lb),
                Needed_by=one.needed_on,
                **{"Cost $": one.cost.dollars},
                **origin,
            )
            uses(line, one.uses)
            if one.left.value:
                left: dict[str, Value] = {"Value left $": one.left_value.dollars}
                row("left", line, one.left, Bulk_lb=_plain(one.left_bulk_lb), **origin, **left)
        if line.short is not None:
            row("short", line, line.short, Note="no offer")
    rows.append({"Row": "total", "Cost $": bought.cost.dollars, "Value left $": bought.left_value.dollars})
    return [*rows, *({"Row": "note", "Note": note} for note in notes)]


def buy_list_csv(bought: BuyList, notes: Sequence[str] = ()) -> str:
    """The rows as CSV: UTF-8 with a byte-order mark once encoded."""
    return as_csv(COLUMNS, buy_list_rows(bought, notes))


def buy_list_xlsx(bought: BuyList, *, practice: str, on: date, notes: Sequence[str] = ()) -> bytes:
    """The same rows as a workbook of that day."""
    return as_workbook(
        COLUMNS,
        buy_list_rows(bought, notes),
        title=f"{TITLE} {day(bought.by)}",
        about=(practice, f"Made on {day(on)}.", COVERS),
        on=on,
        strong=("buy", "total"),
        name="Buy list",
    )


def _plain(figure: Figure | None) -> float | None:
    return None if figure is None else float(f"{float(figure.value):.10g}")


def buy_list_pdf(bought: BuyList, *, practice: str, notes: Sequence[str] = ()) -> bytes:
    """PDF with one table: what to order, what for, what is left over.

    `notes` say what is left out.

    The same arguments give the same bytes.
    """
    title = f"{TITLE} {day(bought.by)}"
    story: list[Flowable] = [
        p(title, H2),
        p(COVERS, SMALL),
        *(p(note, CELL_BOLD) for note in notes),
    ]
    if bought.lines:
        story.append(_table(bought))
    else:
        story.append(p("Nothing is needed by then."))
    running = Running(
        title=title, author=practice, head_left=practice, head_right=title, foot=practice, subject="Buy list"
    )
    return build(story, running)


def _amount(figure: Figure) -> str:
    unit = "" if figure.unit in ("", "$") else f" {figure.unit}"
    return f"{number(float(figure.value))}{unit}"


def _for(line: BuyLine, jobs: int) -> Flowable:
    fields = []
    for need in line.needs:
        job = f", {need.plan_title}" if jobs > 1 else ""
        said = plain(f"{need.field} {_amount(need.amount)}")
        fields.append(said + quiet(f"\nby {short(need.needed_on)}{job}"))
    return rich("<br/>".join(fields), style=CELL)


def _what(line: BuyLine) -> Flowable:
    shed = quiet(f"\n{_amount(line.from_shed)} from the shed") if line.from_shed.value else ""
    said = strong(upper_first(line.name)) + quiet(f"\n{_amount(line.needed)} needed") + shed
    return rich(said, style=CELL)


def _orders(line: BuyLine) -> Flowable:
    if not line.purchases and not line.short:
        return rich(quiet("nothing: the shed has it"), style=CELL)
    parts = []
    for one in line.purchases:
        origin = ", ".join(word for word in (one.supplier, f"lot {one.lot}" if one.lot else "") if word)
        bulk = (
            f" ({number(float(one.bulk_lb.value))} lb bulk)"
            if one.bulk_lb and "bulk" not in one.order
            else ""
        )
        parts.append(strong(one.order + bulk) + (quiet(f"\n{origin}") if origin else ""))
    if line.short:
        parts.append(strong(f"{_amount(line.short)}: no offer yet"))
    return rich("<br/>".join(parts), style=CELL)


def _table(bought: BuyList) -> Flowable:
    rows: list[list[object]] = []
    heads: list[tuple] = []
    last: Kind | None = None
    jobs = len({need.plan_id for line in bought.lines for need in line.needs})
    for line in bought.lines:
        if line.kind != last:
            last = line.kind
            at = len(rows) + 1
            rows.append([p(KIND_WORDS[last], YEAR), "", "", "", ""])
            heads += [
                ("SPAN", (0, at), (-1, at)),
                ("TOPPADDING", (0, at), (-1, at), 9),
                ("NOSPLIT", (0, at), (-1, at + 1)),
            ]
        value = total(one.left_value.dollars for one in line.purchases)
        left = plain(_amount(line.left_over)) + quiet(f"\n{usd(value)}") if line.left_over.value else "–"
        rows.append(
            [
                _what(line),
                _orders(line),
                _for(line, jobs),
                rich(left, style=CELL),
                cents(line.cost.dollars),
            ]
        )
        if line.notes:
            at = len(rows) + 1
            rows.append([p(" ".join(sentence(note) for note in line.notes), FINE), "", "", "", ""])
            heads += [
                ("SPAN", (0, at), (-1, at)),
                ("NOSPLIT", (0, at - 1), (-1, at)),
                ("LINEBELOW", (0, at - 1), (-1, at - 1), 0, WHITE),
                ("TOPPADDING", (0, at), (-1, at), 0),
            ]
    value_left = usd(bought.left_value.dollars)
    whole = p(f"All of it; {value_left} of it is left over", CELL_BOLD)
    at = len(rows) + 1
    rows.append([whole, "", "", "", cents(bought.cost.dollars)])
    heads.append(("SPAN", (0, at), (3, at)))
    return table(
        ["What", "Order", "For", "Left over", "Cost $"],
        rows,
        [104, 120, 124, 66, 54],
        numbers=(4,),
        totals=1,
        extra=heads,
    )
