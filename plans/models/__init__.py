"""The work: mixes, plans, proposals that were offered, visits, and the records of what was done."""

from plans.models.feeds import CalendarFeed
from plans.models.fittings import DayOff, Fitting
from plans.models.mixes import Mix, MixLine
from plans.models.plans import Acceptance, Conversion, Plan, State
from plans.models.proposals import Proposal, ProposalCounter
from plans.models.rates import RateTaken
from plans.models.records import RecordLabels, RecordLine, StandCount, WorkRecord
from plans.models.reports import ReportWords, SentReport
from plans.models.shed import LotUse, StockLot, StockMove
from plans.models.stages import StageMark
from plans.models.visits import Visit, VisitChange, VisitState

__all__ = [
    "Acceptance",
    "CalendarFeed",
    "Conversion",
    "DayOff",
    "Fitting",
    "LotUse",
    "Mix",
    "MixLine",
    "Plan",
    "Proposal",
    "ProposalCounter",
    "RateTaken",
    "RecordLabels",
    "RecordLine",
    "ReportWords",
    "SentReport",
    "StageMark",
    "StandCount",
    "State",
    "StockLot",
    "StockMove",
    "Visit",
    "VisitChange",
    "VisitState",
    "WorkRecord",
]
