"""Plants, tubes, fence, fertilizer and lime: what each step takes of them and what that costs.

An amount is priced as it is used, not by whole containers, as sprays are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from plans.planning import tables
from plans.planning.fields import PRICE_SOURCE, Prices
from plans.planning.figures import Figure, Term
from plans.planning.job import Conversion
from plans.planning.money import exact, to_cents
from plans.planning.plan import FieldPlot, FieldTrees, Material, Task, TreeCount
from plans.planning.planting import Grade, grade
from plans.planning.price_list import PlantPrice, SupplyPrice


def grades(prices: Prices) -> tuple[Grade, ...]:
    """The fertilizers on the price list. Source: the practice's price list."""
    return tuple(grade(name) for name in prices.fertilizers)


def _cost(amount: float, unit: str, price: Decimal, per: str, size: float = 1.0) -> Figure:
    container = (Term("container", size, unit),) if size != 1 else ()
    return Figure(
        to_cents(exact(amount) * price / exact(size)),
        "$",
        f"amount × price per {per}" if not container else "amount × price of a container / its size",
        (Term("amount", amount, unit), *container, Term("price", price, "$")),
        PRICE_SOURCE,
    )


def choose_plant(species: str, stock: str, prices: Prices) -> PlantPrice | None:
    """The cheapest listed plant of a species and stock, any stock where none is asked for."""
    listed = prices.plants.get(species, ())
    return next((plant for plant in listed if stock.lower() in ("", plant.stock.lower())), None)


def _plants(
    task: Task, lines: Sequence[TreeCount], stock: str, prices: Prices, again: bool
) -> Iterator[Material]:
    for line in lines:
        amount = line.replaced if again else line.plants
        if not amount.value:
            continue
        listed = choose_plant(line.species, stock, prices)
        cost = _cost(float(amount.value), "plants", listed.price_usd_each, "plant") if listed else None
        sold_as = listed.stock if listed else line.stock
        yield Material(
            task=task.key,
            field=task.field,
            name=f"{line.species}, {sold_as}",
            amount=amount,
            cost=cost,
            unchecked=bool(listed and listed.unchecked),
        )


def _supply(task: Task, name: str, amount: Figure, listed: SupplyPrice | None, per: str) -> Material:
    cost = None
    if listed is not None:
        cost = _cost(float(amount.value), amount.unit, listed.price_usd, per, listed.container_lb or 1.0)
    return Material(
        task=task.key,
        field=task.field,
        name=name,
        amount=amount,
        cost=cost,
        unchecked=bool(listed and listed.unchecked),
    )


def _over(acres: float, rate: Figure, unit: str) -> Figure:
    return Figure(
        float(rate.value) * acres,
        unit,
        "rate × acres",
        (Term("rate", rate.value, rate.unit), Term("area", acres, "acre"), *rate.inputs),
        rate.source,
    )


def of_task(
    task: Task, conversion: Conversion, trees: FieldTrees | None, plot: FieldPlot | None, prices: Prices
) -> Iterator[Material]:
    """What one task takes. Source: the planting and the plot as worked out; the practice's price list."""
    for kind in tables.steps()[task.step].materials:
        if kind in ("plants", "replacements") and trees is not None and conversion.trees is not None:
            stock = conversion.trees.stock
            yield from _plants(task, trees.lines, stock, prices, again=kind == "replacements")
        elif kind == "tubes" and trees is not None and trees.tubes.value:
            yield _supply(task, "tubes with stakes", trees.tubes, prices.supplies.get("tube"), "tube")
        elif kind == "fence" and conversion.trees is not None and conversion.trees.fence_ft:
            length = Figure(conversion.trees.fence_ft, "ft", "as entered")
            yield _supply(task, "fence, built", length, prices.supplies.get("fence"), "foot")
        elif kind == "fertilizer" and plot is not None:
            for name, rate in plot.fertilizer.items():
                amount = _over(task.acres, rate, "lb")
                yield _supply(task, f"fertilizer {name}", amount, prices.fertilizers.get(name), "pound")
        elif kind == "lime" and plot is not None and plot.lime is not None:
            yield _supply(
                task, "lime", _over(task.acres, plot.lime, "tons"), prices.supplies.get("lime"), "ton"
            )
