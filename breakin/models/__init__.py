"""The break-in itself: plans, facts of flights and oil, and what the server concludes from them."""

from breakin.models.assessment import (
    Assessment,
    AssessmentDay,
    DueItem,
    DueState,
    Finding,
    FindingState,
    FindingVerdict,
    Lane,
    LaneCount,
    Phase,
    Severity,
    Verdict,
)
from breakin.models.flight import Chip, CowlFlaps, Flight, FlightEngine, FlightKind, MergeDecision, Mixture, PowerBlock
from breakin.models.notice import Message, MessageState, Notice, NoticeLevel, NoticeState
from breakin.models.oil import Container, OilEvent, OilEventKind, OilKind, When
from breakin.models.plan import IssuedCard, PlanStage, PlanTemplate, RunInPlan, StageKind
from breakin.models.prior import PriorAdoption, PriorProposal
from breakin.models.recording import Recording

__all__ = [
    "Assessment",
    "AssessmentDay",
    "Chip",
    "Container",
    "CowlFlaps",
    "DueItem",
    "DueState",
    "Finding",
    "FindingState",
    "FindingVerdict",
    "Flight",
    "FlightEngine",
    "FlightKind",
    "IssuedCard",
    "Lane",
    "LaneCount",
    "MergeDecision",
    "Message",
    "MessageState",
    "Mixture",
    "Notice",
    "NoticeLevel",
    "NoticeState",
    "OilEvent",
    "OilEventKind",
    "OilKind",
    "Phase",
    "PlanStage",
    "PlanTemplate",
    "PowerBlock",
    "PriorAdoption",
    "PriorProposal",
    "Recording",
    "RunInPlan",
    "Severity",
    "StageKind",
    "Verdict",
    "When",
]
