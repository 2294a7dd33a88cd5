"""What the rules look at and how a finding is made."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from plans.planning import tables
from plans.planning.calendar import SOWING, Slot
from plans.planning.fields import SPRAYING, Prices, choose_product
from plans.planning.job import Conversion
from plans.planning.plan import FieldPlot, FieldSeed, FieldTrees, Finding, Material, Severity, TankMix, Task
from plans.planning.price_list import Product
from plans.planning.programs import chemicals_for


@dataclass(frozen=True, slots=True)
class FieldPlan:
    """What has been worked out for one field, for the rules to look at."""

    conversion: Conversion
    slots: tuple[Slot, ...]
    tasks: tuple[Task, ...]
    seed: FieldSeed
    tanks: tuple[TankMix, ...]
    trees: FieldTrees | None = None
    plot: FieldPlot | None = None
    materials: tuple[Material, ...] = ()

    @property
    def seed_times(self) -> int:
        """How many times the field's seed is bought: for each sowing ahead; once where none is dated yet."""
        sowings = [task.done_on for task in self.tasks if task.operation in SOWING]
        return sowings.count(None) if sowings else 1


@dataclass(frozen=True, slots=True)
class Pass:
    """One ingredient in one spray task."""

    task: Task
    step: tables.Step
    ingredient: str
    lb_per_acre: float
    product: Product | None


def find(
    rule: str,
    field: str,
    subject: str,
    message: str,
    reason: str,
    way_out: str,
    severity: Severity | None = None,
    source: str = "",
) -> Finding:
    """A finding of a rule; severity and source are the rule's own unless given."""
    row = tables.rules()[rule]
    return Finding(
        severity=severity or row.severity,
        rule=rule,
        field=field,
        subject=subject,
        message=message,
        reason=reason,
        way_out=way_out,
        source=source or row.source,
    )


def listing(names: Iterable[str]) -> str:
    """Names in a sentence: `a, b and c`."""
    found = list(names)
    return found[0] if len(found) == 1 else f"{', '.join(found[:-1])} and {found[-1]}"


def days_in_words(days: int) -> str:
    """`1 day`, `10 days`."""
    return "1 day" if days == 1 else f"{days} days"


def is_flower(species: str) -> bool:
    """Whether a species is a forb or legume; one in no table is taken for a forb."""
    plant = tables.species().get(species)
    return plant is None or plant.group in ("forb", "legume")


def passes(field: FieldPlan, prices: Prices) -> Iterator[Pass]:
    """Every ingredient of every spray task of the field, with the product chosen for it."""
    for task in field.tasks:
        if task.operation in SPRAYING:
            step = tables.steps()[task.step]
            for name, rate in chemicals_for(step, field.conversion):
                yield Pass(task, step, name, rate, choose_product(name, field.conversion, prices))
