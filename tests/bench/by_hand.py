"""The sums of a one-field plan as people do them today: in a sheet, or in a few lines of plain Python.

Seed, tank mixes, hours, lines, years and totals; what grows when, and what to look out for, is left out.
Which step falls in which year is taken from the plan, as a consultant would know it.
"""

from __future__ import annotations

import csv
import math
import re
import shutil
import subprocess
import tempfile
import time
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from plans.planning import tables
from plans.planning.fields import index_prices
from plans.planning.job import Terms
from plans.planning.plan import Plan
from plans.planning.price_list import PriceList

KINDS = ("work", "seed", "spray", "hauling")
"""What a plan of one drilled field is priced in: it takes no plants and no fertilizer."""


@dataclass(frozen=True)
class Seed:
    share_pct: float
    seeds_per_lb: float
    purity_pct: float
    live_pct: float
    usd_per_lb: float
    by_pls: bool


@dataclass(frozen=True)
class Spray:
    kind: str
    """liquid, dry or adjuvant."""
    rate: float
    """lb active/acre, or amount per 100 gal of carrier."""
    strength: float
    container: float
    usd: float
    acres: float
    """Sprayed: the field, or the spots on it."""


@dataclass(frozen=True)
class Line:
    year: int
    category: int
    quantity: float
    per: float
    """Quantity is divided by this: acres per hour for work by the hour, else 1."""
    usd: float
    minimum_usd: float
    sums: tuple[int, ...] = ()
    """Numbers of the seed or spray rows whose cost it gathers, in place of quantity x usd."""


@dataclass(frozen=True)
class Sums:
    acres: float
    seeds_per_sqft: float
    terms: Terms
    seed: tuple[Seed, ...]
    spray: tuple[Spray, ...]
    lines: tuple[Line, ...]

    @property
    def taxes_pct(self) -> tuple[float, ...]:
        taxes = self.terms.taxes
        return (taxes.work_pct, taxes.seed_pct, taxes.spray_pct, taxes.hauling_pct)

    @property
    def years(self) -> list[int]:
        return sorted({line.year for line in self.lines})


def sums_of(plan: Plan, price_list: PriceList) -> Sums:
    """What a person would type in to reckon this plan by hand. For a plan of one drilled field."""
    prices = index_prices(price_list)
    (conversion,) = plan.job.conversions
    seed = []
    for amount in conversion.mix.lines:
        lot = prices.lots[amount.species]
        seed.append(
            Seed(
                amount.amount,
                lot.seeds_per_lb or tables.species()[amount.species].seeds_per_lb,
                lot.purity_pct,
                lot.germination_pct + lot.dormant_pct,
                float(lot.price_usd_per_lb),
                lot.basis == "PLS",
            )
        )
    spray: list[Spray] = []
    rows: dict[tuple[int, str], list[int]] = {}
    year_of = {task.key: task.earliest.year for task in plan.tasks}
    for tank in plan.tanks:
        for part in tank.parts:
            rows.setdefault((year_of[tank.task], part.name), []).append(len(spray))
            if part.active_ingredient:
                product = prices.products[part.active_ingredient][0]
                spray.append(
                    Spray(
                        product.form,
                        float(part.rate.inputs[0].value),
                        product.lb_active_per_gal or product.active_pct or 0,
                        product.container_size,
                        float(product.price_usd_per_container),
                        tank.acres,
                    )
                )
            else:
                bought = prices.adjuvants[part.name]
                spray.append(
                    Spray(
                        "adjuvant",
                        float(part.rate.value),
                        1,
                        bought.container_size,
                        float(bought.price_usd_per_container),
                        tank.acres,
                    )
                )
    species = [line.species for line in conversion.mix.lines]
    lines = []
    for line in plan.estimate.lines:
        category = KINDS.index(line.category)
        gathers: tuple[int, ...] = ()
        quantity, per, usd, minimum = float(line.quantity.value), 1.0, 0.0, 0.0
        if line.category == "seed":
            gathers = (species.index(line.label.removesuffix(" seed")),)
        elif line.category == "spray":
            gathers = tuple(rows[line.year, line.label])
        elif line.category == "hauling":
            usd = float(prices.hauling_usd_per_mile)
        else:
            task = next(t for t in plan.tasks if t.label == line.label and t.earliest.year == line.year)
            rate = prices.work[task.operation]
            usd, minimum = float(rate.rate_usd), float(rate.minimum_usd)
            if rate.basis == "hour" and task.hours is not None:
                quantity, per = task.acres, task.acres / float(task.hours.value)
        lines.append(Line(line.year, category, quantity, per, usd, minimum, gathers))
    return Sums(
        conversion.acres,
        conversion.mix.seeds_per_sqft or 0,
        plan.job.terms,
        tuple(seed),
        tuple(spray),
        tuple(lines),
    )


def cents(value: float) -> float:
    return float(Decimal(repr(value)).quantize(Decimal("0.01"), ROUND_HALF_UP))


def in_python(sums: Sums) -> float:
    """The total price [$], in bare floats with each line rounded to the cent."""
    terms, acres = sums.terms, sums.acres
    loaded = (1 + terms.overhead_pct / 100) / (1 - terms.pricing_pct / 100)
    seed_usd, spray_usd = [], []
    for lot in sums.seed:
        per_acre = sums.seeds_per_sqft * lot.share_pct / 100 * 43560 / lot.seeds_per_lb
        pls = per_acre * acres
        bulk = pls / (lot.purity_pct * lot.live_pct / 10000)
        seed_usd.append(cents((pls if lot.by_pls else bulk) * lot.usd_per_lb))
    tank_acres = terms.tank_gal / terms.carrier_gal_per_acre
    for part in sums.spray:
        if part.kind == "adjuvant":
            total = part.acres * terms.carrier_gal_per_acre * part.rate / 100
        else:
            ounces = part.rate / part.strength * (128 if part.kind == "liquid" else 1600)
            total = ounces * part.acres / (128 if part.kind == "liquid" else 16)
            _per_tank = tank_acres * ounces
            _last = (part.acres - math.floor(part.acres / tank_acres) * tank_acres) * ounces
        spray_usd.append(cents(total * part.usd / part.container))
    by_year = {year: [0.0, 0.0, 0.0, 0.0] for year in sums.years}
    for line in sums.lines:
        if line.sums:
            usd = sum((seed_usd if line.category == 1 else spray_usd)[row] for row in line.sums)
        else:
            usd = cents(max(line.quantity / line.per * line.usd, line.minimum_usd))
        by_year[line.year][line.category] += cents(usd * loaded)
    whole = 0.0
    for year in by_year.values():
        for amount, tax_pct in zip(year, sums.taxes_pct, strict=True):
            more = cents(amount * terms.contingency_pct / 100)
            less = cents((amount + more) * terms.discount_pct / 100)
            tax = cents((amount + more - less) * tax_pct / 100)
            whole += amount + more - less + tax
    return cents(whole)


Cell = float | str


def block(sums: Sums, top: int) -> list[list[Cell]]:
    """The rows of one job's sheet, the first being row `top`; a text that begins with = is a formula."""
    terms = sums.terms
    rows: list[list[Cell]] = [
        [
            *(sums.acres, sums.seeds_per_sqft, terms.carrier_gal_per_acre, terms.tank_gal),
            *(terms.overhead_pct, terms.pricing_pct, terms.contingency_pct, terms.discount_pct),
            *sums.taxes_pct,
        ]
    ]
    acres, density, carrier, tank = (f"{column}{top}" for column in "ABCD")
    at: dict[tuple[str, int], int] = {}
    for number, lot in enumerate(sums.seed):
        r = at["seed", number] = top + len(rows)
        rows.append(
            [
                *(lot.share_pct, lot.seeds_per_lb, lot.purity_pct, lot.live_pct, lot.usd_per_lb),
                1.0 if lot.by_pls else 0.0,
                f"={density}*A{r}/100*43560/B{r}",
                f"=G{r}*{acres}",
                f"=H{r}/(C{r}*D{r}/10000)",
                f"=G{r}*B{r}/43560",
                f"=ROUND(IF(F{r}=1;H{r};I{r})*E{r};2)",
            ]
        )
    for number, part in enumerate(sums.spray):
        r = at["spray", number] = top + len(rows)
        given: list[Cell] = [part.rate, part.strength, part.container, part.usd]
        if part.kind == "adjuvant":
            sprayed = ["=0", f"=I{r}*{carrier}*A{r}/100", "=0", "=0"]
        else:
            per, divisor = (128, 128) if part.kind == "liquid" else (1600, 16)
            sprayed = [
                f"=A{r}/B{r}*{per}",
                f"=E{r}*I{r}/{divisor}",
                f"={tank}/{carrier}*E{r}",
                f"=(I{r}-FLOOR(I{r}/({tank}/{carrier});1)*{tank}/{carrier})*E{r}",
            ]
        rows.append([*given, *sprayed, part.acres, "", f"=ROUND(F{r}*D{r}/C{r};2)"])
    first_line = top + len(rows)
    for line in sums.lines:
        r = top + len(rows)
        gathered = "+".join(f"K{at['seed' if line.category == 1 else 'spray', row]}" for row in line.sums)
        cost = f"={gathered}" if gathered else f"=ROUND(MAX(C{r}/D{r}*E{r};F{r});2)"
        price = f"=ROUND(G{r}*(1+E{top}/100)/(1-F{top}/100);2)"
        rows.append(
            [line.year, line.category, line.quantity, line.per, line.usd, line.minimum_usd, cost, price]
        )
    last_line = top + len(rows) - 1
    first_year = top + len(rows)
    for year in sums.years:
        r = top + len(rows)
        span = f"H{first_line}:H{last_line};A{first_line}:A{last_line};A{r};B{first_line}:B{last_line}"
        # Four columns each of sums, contingency, discount and tax, in the order work, seed, spray, hauling.
        amounts = [f"=SUMIFS({span};{category})" for category in range(4)]
        more = [f"=ROUND({column}{r}*G{top}/100;2)" for column in "BCDE"]
        less = [f"=ROUND(({a}{r}+{m}{r})*H{top}/100;2)" for a, m in zip("BCDE", "FGHI", strict=True)]
        tax = [
            f"=ROUND(({a}{r}+{m}{r}-{d}{r})*{rate}{top}/100;2)"
            for a, m, d, rate in zip("BCDE", "FGHI", "JKLM", "IJKL", strict=True)
        ]
        rows.append([year, *amounts, *more, *less, *tax, f"=SUM(B{r}:I{r})-SUM(J{r}:M{r})+SUM(N{r}:Q{r})"])
    rows.append(["TOTAL", f"=SUM(R{first_year}:R{top + len(rows) - 1})"])
    return rows


REFERENCE = re.compile(r"\b([A-R]\d+)(?::([A-R]\d+))?\b")


def cell_xml(cell: Cell) -> str:
    if isinstance(cell, str) and cell.startswith("="):
        formula = REFERENCE.sub(
            lambda found: f"[.{found[1]}:.{found[2]}]" if found[2] else f"[.{found[1]}]", cell
        )
        return f"<table:table-cell table:formula={quoteattr('of:' + formula)}/>"
    if isinstance(cell, str):
        return (
            f'<table:table-cell office:value-type="string"><text:p>{escape(cell)}</text:p></table:table-cell>'
        )
    return f'<table:table-cell office:value-type="float" office:value="{cell!r}"/>'


def write_sheet(jobs: list[Sums], path: Path) -> None:
    """A flat OpenDocument spreadsheet with one block a job and no stored results."""
    rows: list[list[Cell]] = []
    for sums in jobs:
        rows += block(sums, len(rows) + 1)
    body = "".join(f"<table:table-row>{''.join(map(cell_xml, row))}</table:table-row>" for row in rows)
    name = "urn:oasis:names:tc:opendocument:xmlns"
    path.write_text(
        f'<?xml version="1.0" encoding="UTF-8"?><office:document xmlns:office="{name}:office:1.0" '
        f'xmlns:table="{name}:table:1.0" xmlns:text="{name}:text:1.0" xmlns:of="{name}:of:1.2" '
        'office:version="1.2" office:mimetype="application/vnd.oasis.opendocument.spreadsheet"><office:body>'
        f'<office:spreadsheet><table:table table:name="jobs">{body}</table:table></office:spreadsheet>'
        "</office:body></office:document>",
        encoding="utf-8",
    )


def soffice() -> str | None:
    return shutil.which("soffice") or shutil.which("libreoffice")


def in_sheet(jobs: list[Sums], folder: Path) -> tuple[float, list[float]]:
    """Seconds that headless LibreOffice takes to open, reckon and write the sheet, and each job's total."""
    program = soffice()
    assert program
    source = folder / f"jobs-{len(jobs)}.fods"
    if not source.exists():
        write_sheet(jobs, source)
    with tempfile.TemporaryDirectory(dir=folder) as out:
        began = time.perf_counter()
        subprocess.run(
            [program, f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless", "--norestore"]
            + ["--convert-to", "csv", "--outdir", out, source],
            check=True,
            capture_output=True,
            stdin=subprocess.DEVNULL,
            timeout=600,
        )
        took = time.perf_counter() - began
        with (Path(out) / source.with_suffix(".csv").name).open(newline="") as written:
            totals = [float(row[1].replace(",", "")) for row in csv.reader(written) if row[0] == "TOTAL"]
    return took, totals
