"""The work: mixes, plans, proposals that were offered, visits, and the records of what was done."""

from plans.models.client_page import Agreement, AgreementScan, Answer, ClientLink, Question, Refusal
from plans.models.feeds import CalendarFeed
from plans.models.fittings import DayOff, Fitting
from plans.models.in_out import ColumnMatch, ListUpload
from plans.models.leaving import ErasedPractice, LawfulRecord
from plans.models.look import KeptLogo, PracticeLook
from plans.models.mixes import Mix, MixLine
from plans.models.notices import VisitTold
from plans.models.plans import Acceptance, Conversion, Plan, PlanOption, State
from plans.models.proposals import Proposal, ProposalCounter
from plans.models.rates import RateTaken
from plans.models.records import CountPhoto, RecordLabels, RecordLine, StandCount, WorkRecord
from plans.models.reports import ReportWords, SentReport
from plans.models.shed import LotUse, StockLot, StockMove
from plans.models.species import OwnSpecies
from plans.models.stages import StageMark
from plans.models.visits import Visit, VisitChange, VisitState

__all__ = [
    "Acceptance",
    "Agreement",
    "AgreementScan",
    "Answer",
    "CalendarFeed",
    "ColumnMatch",
    "ClientLink",
    "CountPhoto",
    "Conversion",
    "DayOff",
    "ErasedPractice",
    "Fitting",
    "LawfulRecord",
    "ListUpload",
    "KeptLogo",
    "LotUse",
    "Mix",
    "MixLine",
    "OwnSpecies",
    "Plan",
    "PlanOption",
    "PracticeLook",
    "Proposal",
    "ProposalCounter",
    "Question",
    "RateTaken",
    "RecordLabels",
    "RecordLine",
    "Refusal",
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
    "VisitTold",
    "WorkRecord",
]
