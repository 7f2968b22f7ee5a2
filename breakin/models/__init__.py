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
from breakin.models.call import PhoneCall, Reached
from breakin.models.closing import CloseOutFile, CloseOutProposal, ProposalReturn, Waiver
from breakin.models.counts import RuleCount
from breakin.models.delivery import DeliveryHour, DeliveryPlan
from breakin.models.flight import Chip, CowlFlaps, Flight, FlightEngine, FlightKind, MergeDecision, Mixture, PowerBlock
from breakin.models.notice import Message, MessageState, Notice, NoticeLevel, NoticeState
from breakin.models.oil import Container, OilEvent, OilEventKind, OilKind, When
from breakin.models.plan import IssuedCard, PlanStage, PlanTemplate, RunInPlan, StageKind
from breakin.models.prior import PriorAdoption, PriorProposal
from breakin.models.recording import (
    ChannelMap,
    DatedBy,
    FlightMatch,
    ReadState,
    RecordedEngine,
    RecordedFlight,
    RecordedKind,
    Recording,
    RecordingRead,
)

__all__ = [
    "Assessment",
    "AssessmentDay",
    "ChannelMap",
    "Chip",
    "CloseOutFile",
    "CloseOutProposal",
    "Container",
    "CowlFlaps",
    "DatedBy",
    "DeliveryHour",
    "DeliveryPlan",
    "DueItem",
    "DueState",
    "Finding",
    "FindingState",
    "FindingVerdict",
    "Flight",
    "FlightEngine",
    "FlightKind",
    "FlightMatch",
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
    "PhoneCall",
    "PlanStage",
    "PlanTemplate",
    "PowerBlock",
    "PriorAdoption",
    "PriorProposal",
    "ProposalReturn",
    "Reached",
    "ReadState",
    "RecordedEngine",
    "RecordedFlight",
    "RecordedKind",
    "Recording",
    "RecordingRead",
    "RuleCount",
    "RunInPlan",
    "Severity",
    "StageKind",
    "Verdict",
    "Waiver",
    "When",
]
