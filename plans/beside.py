"""What stands beside a plan in its proposal: options shown, fields as walked, what would move the price."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.db import transaction

from consulting.services import save
from plans.models import Plan, PlanOption, Proposal
from plans.planning import wire
from plans.planning.beside import NOTHING, Beside, FieldWalk, read_beside
from plans.planning.options import Option, Wanted, compare
from plans.planning.other_ways import other_ways
from plans.planning.plan import Plan as Outcome
from plans.planning.price_list import PriceList
from plans.planning.price_moves import price_moves
from plans.walked import walk_of
from sites.walks import latest_walks


def wanted_of(plan: Plan) -> tuple[Wanted, ...]:
    """The options that the plan shows, in the table's order. Asks nothing where `options` was prefetched."""
    reasons = {row.key: row.reason for row in plan.options.all()}
    return tuple(Wanted(key=key, reason=reasons[key]) for key in other_ways() if key in reasons)


def compared(plan: Plan, outcome: Outcome, prices: PriceList) -> tuple[Option, ...]:
    return compare(outcome, prices, wanted_of(plan))


def every_option(plan: Plan, outcome: Outcome, prices: PriceList) -> tuple[Option, ...]:
    """All that there is to choose from, each with the line that it has now."""
    reasons = {one.key: one.reason for one in wanted_of(plan)}
    return compare(outcome, prices, [Wanted(key=key, reason=reasons.get(key, "")) for key in other_ways()])


def _walks(plan: Plan) -> Iterable[FieldWalk]:
    """The latest walk-over of each field: one query."""
    conversions = plan.conversions.all()
    walks = latest_walks(conversion.field_id for conversion in conversions)
    for conversion in conversions:
        if walk := walks.get(conversion.field_id):
            yield FieldWalk(field=conversion.field.name, walk=walk_of(walk))


def beside_of(plan: Plan, outcome: Outcome, prices: PriceList) -> Beside:
    """All that a proposal of this plan, from `plans_whole`, prints besides the plan itself."""
    return Beside(
        walks=tuple(_walks(plan)),
        options=compared(plan, outcome, prices),
        moves=price_moves(outcome, prices),
    )


def kept_beside(proposal: Proposal | None) -> Beside:
    """What was frozen with a proposal; nothing where a version wrote it that we cannot read."""
    try:
        return read_beside(proposal.beside) if proposal else NOTHING
    except wire.BadInput:
        return NOTHING


@transaction.atomic
def options_keep(*, plan: Plan, shown: Mapping[str, str]) -> None:
    """Show these options, each with its line, and no others. `plan` is a draft, locked."""
    PlanOption.objects.filter(plan=plan).exclude(key__in=list(shown)).delete()
    known = {row.key: row for row in PlanOption.objects.filter(plan=plan)}
    for key, reason in shown.items():
        save(known.get(key) or PlanOption(practice=plan.practice, plan=plan, key=key), reason=reason)
