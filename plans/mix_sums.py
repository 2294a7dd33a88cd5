"""What a mix comes to on one acre, sown the way its rate is for: every basis, bulk to weigh and cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext, gettext_lazy

from plans.planning.fields import Prices, field_seed
from plans.planning.figures import Figure, Term
from plans.planning.job import Conversion, Mix
from plans.planning.plan import FieldSeed

GROUPS = {
    "grass": gettext_lazy("Grass"),
    "forb": gettext_lazy("Wildflowers"),
    "legume": gettext_lazy("Legumes"),
    "nurse": gettext_lazy("Nurse crop"),
}


@dataclass(frozen=True, slots=True)
class MixSum:
    seed: FieldSeed
    shares: tuple[tuple[str, float], ...]
    """Share of the seeds by plant group [%], groups that occur."""
    bulk_lb: Figure | None
    """Bulk seed to weigh out [lb/acre]; None while a species has no listed lot."""
    unpriced: tuple[str, ...]


def mix_sum(mix: Mix, prices: Prices) -> MixSum:
    """The mix on one acre. Raises ValueError for a species whose seed count is unknown."""
    acre = Conversion(
        field="one acre",
        acres=1.0,
        cover="crop stubble",
        kill_program="",
        seeding="broadcast" if mix.rate_is_for == "broadcast" else "drill",
        mix=mix,
        purpose="nesting and brood cover",
        start_on=date.min,
    )
    sown = field_seed(acre, prices)
    shares = {
        label: sum(float(line.share_of_seed_pct.value) for line in sown.lines if line.group == group)
        for group, label in GROUPS.items()
    }
    unpriced = tuple(line.species for line in sown.lines if line.cost is None)
    weighed = [(line.species, line.bulk_lb_per_acre) for line in sown.lines if line.bulk_lb_per_acre]
    return MixSum(
        seed=sown,
        shares=tuple((str(label), share) for label, share in shares.items() if share),
        bulk_lb=None if unpriced else added(weighed),
        unpriced=unpriced,
    )


def added(parts: Sequence[tuple[str, Figure]]) -> Figure:
    terms = tuple(Term(name, part.value, part.unit) for name, part in parts)
    return Figure(
        sum(float(part.value) for _, part in parts), "lb/acre", gettext("sum over the species"), terms
    )
