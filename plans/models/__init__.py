"""The work: mixes, plans with their conversions, and the proposals that were offered."""

from plans.models.feeds import CalendarFeed
from plans.models.fittings import DayOff, Fitting
from plans.models.mixes import Mix, MixLine
from plans.models.plans import Acceptance, Conversion, Plan, State
from plans.models.proposals import Proposal, ProposalCounter
from plans.models.shed import StockLot, StockMove
from plans.models.visits import Visit, VisitChange, VisitState

__all__ = [
    "Acceptance",
    "CalendarFeed",
    "Conversion",
    "DayOff",
    "Fitting",
    "Mix",
    "MixLine",
    "Plan",
    "Proposal",
    "ProposalCounter",
    "State",
    "StockLot",
    "StockMove",
    "Visit",
    "VisitChange",
    "VisitState",
]
