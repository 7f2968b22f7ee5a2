"""The break-in's facts, findings and notices in the admin: to look at, not to change."""

from __future__ import annotations

from django.contrib import admin

from breakin.models import (
    Assessment,
    AssessmentDay,
    ChannelMap,
    CloseOutFile,
    CloseOutProposal,
    DeliveryHour,
    DeliveryPlan,
    DueItem,
    Finding,
    FindingVerdict,
    Flight,
    FlightEngine,
    FlightMatch,
    IssuedCard,
    LaneCount,
    MergeDecision,
    Message,
    Notice,
    OilEvent,
    PhoneCall,
    PlanStage,
    PlanTemplate,
    PowerBlock,
    PriorAdoption,
    PriorProposal,
    ProposalReturn,
    RecordedEngine,
    RecordedFlight,
    Recording,
    RecordingRead,
    RuleCount,
    RunInPlan,
    ShopNote,
    Waiver,
)
from shop.admin_base import ReadOnlyAdmin


@admin.register(PlanTemplate)
class PlanTemplateAdmin(ReadOnlyAdmin):
    """To look at: a template is copied and revised on its page, where its numbers are checked."""

    list_display = (
        "name",
        "revision",
        "variant",
        "expected_low_h",
        "expected_high_h",
        "source_revision",
    )


@admin.register(RunInPlan)
class RunInPlanAdmin(ReadOnlyAdmin):
    list_display = ("build", "revision", "variant", "issued_at", "issued_by")
    list_select_related = ("build__engine__engine_type", "issued_by")


@admin.register(PlanStage)
class PlanStageAdmin(ReadOnlyAdmin):
    list_display = ("plan", "order", "kind", "minutes", "cap_h")
    list_select_related = ("plan__build__engine__engine_type",)


@admin.register(IssuedCard)
class IssuedCardAdmin(ReadOnlyAdmin):
    list_display = ("build", "number", "stage", "issued_at", "valid_until")
    list_select_related = ("build__engine__engine_type",)


@admin.register(Flight)
class FlightAdmin(ReadOnlyAdmin):
    list_display = (
        "local_date",
        "aircraft",
        "airborne_min",
        "kind",
        "grade",
        "source",
        "withdrawn",
    )
    list_select_related = ("aircraft",)
    list_filter = ("grade", "source", "kind")
    search_fields = ("aircraft__registration", "root")


@admin.register(FlightEngine)
class FlightEngineAdmin(ReadOnlyAdmin):
    list_display = (
        "flight",
        "engine",
        "hours",
        "hours_estimated",
        "takeoff_ff_gph",
        "cht_max_degf",
    )
    list_select_related = ("flight__aircraft", "engine__engine_type")


@admin.register(PowerBlock)
class PowerBlockAdmin(ReadOnlyAdmin):
    list_display = (
        "flight_engine",
        "order",
        "duration_min",
        "rpm",
        "map_inhg",
        "stated_band",
    )
    list_select_related = (
        "flight_engine__flight__aircraft",
        "flight_engine__engine__engine_type",
    )


@admin.register(MergeDecision)
class MergeDecisionAdmin(ReadOnlyAdmin):
    list_display = ("at", "aircraft", "kept_root", "dropped_root", "by")
    list_select_related = ("aircraft", "by")


@admin.register(OilEvent)
class OilEventAdmin(ReadOnlyAdmin):
    list_display = (
        "happened_at",
        "engine",
        "kind",
        "level_qt",
        "amount_qt",
        "oil_kind",
        "grade",
        "withdrawn",
    )
    list_select_related = ("engine__engine_type",)
    list_filter = ("kind", "oil_kind", "grade")


@admin.register(Recording)
class RecordingAdmin(ReadOnlyAdmin):
    list_display = (
        "uploaded_at",
        "aircraft",
        "original_name",
        "size_bytes",
        "uploaded_by",
    )
    list_select_related = ("aircraft", "uploaded_by")


@admin.register(RecordingRead)
class RecordingReadAdmin(ReadOnlyAdmin):
    list_display = (
        "recording",
        "state",
        "step",
        "rows",
        "version",
        "attempts",
        "asked_at",
        "started_at",
        "finished_at",
    )
    list_select_related = ("recording__aircraft",)
    list_filter = ("state", "version")


@admin.register(ChannelMap)
class ChannelMapAdmin(ReadOnlyAdmin):
    list_display = ("aircraft", "signature", "clock_zone", "keep_position", "confirmed_by", "confirmed_at")
    list_select_related = ("aircraft", "confirmed_by")


@admin.register(RecordedFlight)
class RecordedFlightAdmin(ReadOnlyAdmin):
    list_display = (
        "began_at",
        "recording",
        "number",
        "kind",
        "run_min",
        "airborne_min",
        "dated_by",
        "flight_root",
        "confirmed",
    )
    list_select_related = ("recording__aircraft",)
    list_filter = ("kind", "dated_by", "confirmed")


@admin.register(RecordedEngine)
class RecordedEngineAdmin(ReadOnlyAdmin):
    list_display = ("recorded_flight", "side", "engine", "installation")
    list_select_related = (
        "recorded_flight__recording__aircraft",
        "engine__engine_type",
        "installation__engine__engine_type",
        "installation__aircraft",
    )


@admin.register(FlightMatch)
class FlightMatchAdmin(ReadOnlyAdmin):
    list_display = ("at", "recorded_flight", "flight_root", "clock_shift_s", "by", "reason")
    list_select_related = ("recorded_flight__recording__aircraft", "by")


@admin.register(Waiver)
class WaiverAdmin(ReadOnlyAdmin):
    list_display = ("at", "build", "criterion", "by")
    list_select_related = ("build", "by")


@admin.register(CloseOutProposal)
class CloseOutProposalAdmin(ReadOnlyAdmin):
    list_display = ("at", "build", "by")
    list_select_related = ("build", "by")


@admin.register(ProposalReturn)
class ProposalReturnAdmin(ReadOnlyAdmin):
    list_display = ("at", "by")
    list_select_related = ("by",)


@admin.register(CloseOutFile)
class CloseOutFileAdmin(ReadOnlyAdmin):
    list_display = ("signed_at", "build", "number", "proposed_by", "signed_by", "document_sha256")
    list_select_related = ("build", "proposed_by", "signed_by")


@admin.register(DeliveryPlan)
class DeliveryPlanAdmin(ReadOnlyAdmin):
    list_display = ("aircraft", "revision", "home", "ferried", "made_at", "made_by")
    list_select_related = ("aircraft", "made_by")


@admin.register(DeliveryHour)
class DeliveryHourAdmin(ReadOnlyAdmin):
    list_display = ("plan", "number", "field", "altitude_ft", "pilot")
    list_select_related = ("plan__aircraft", "pilot")


@admin.register(PhoneCall)
class PhoneCallAdmin(ReadOnlyAdmin):
    list_display = ("at", "aircraft", "person", "reached", "said", "next_on", "by")
    list_select_related = ("aircraft", "person", "by")
    list_filter = ("reached",)
    date_hierarchy = "at"


@admin.register(ShopNote)
class ShopNoteAdmin(ReadOnlyAdmin):
    list_display = ("at", "aircraft", "customer", "text", "by")
    list_select_related = ("aircraft", "customer", "by")
    date_hierarchy = "at"


@admin.register(Assessment)
class AssessmentAdmin(ReadOnlyAdmin):
    list_display = (
        "build",
        "phase",
        "stopped",
        "lane",
        "hours",
        "computed_at",
        "dirty_at",
    )
    list_select_related = ("build__engine__engine_type",)
    list_filter = ("lane", "phase", "live")
    search_fields = ("registration", "serial", "customer_name")


@admin.register(AssessmentDay)
class AssessmentDayAdmin(ReadOnlyAdmin):
    list_display = ("day", "build", "phase", "lane", "hours", "oil_rate_qt_h")
    list_select_related = ("build__engine__engine_type",)


@admin.register(LaneCount)
class LaneCountAdmin(ReadOnlyAdmin):
    list_display = ("lane", "builds")


@admin.register(RuleCount)
class RuleCountAdmin(ReadOnlyAdmin):
    list_display = ("rule", "found", "builds", "standing", "asked", "asking", "false_alarm")


@admin.register(Finding)
class FindingAdmin(ReadOnlyAdmin):
    list_display = ("happened_at", "build", "rule", "severity", "state", "title")
    list_select_related = ("build__engine__engine_type",)
    list_filter = ("state", "severity", "rule")


@admin.register(FindingVerdict)
class FindingVerdictAdmin(ReadOnlyAdmin):
    list_display = ("at", "finding", "verdict", "by")
    list_select_related = ("finding__build__engine__engine_type", "by")
    list_filter = ("verdict",)


@admin.register(DueItem)
class DueItemAdmin(ReadOnlyAdmin):
    list_display = ("build", "rule", "title", "state", "due_h", "due_at")
    list_select_related = ("build__engine__engine_type",)
    list_filter = ("state", "rule")


@admin.register(PriorProposal)
class PriorProposalAdmin(ReadOnlyAdmin):
    list_display = ("name", "night", "engines", "made_at")


@admin.register(PriorAdoption)
class PriorAdoptionAdmin(ReadOnlyAdmin):
    list_display = ("at", "proposal", "by", "reason")
    list_select_related = ("proposal", "by")


@admin.register(Message)
class MessageAdmin(ReadOnlyAdmin):
    list_display = (
        "created_at",
        "recipient",
        "aircraft",
        "subject",
        "state",
        "attempts",
        "sent_at",
    )
    list_select_related = ("recipient", "aircraft")
    list_filter = ("state",)


@admin.register(Notice)
class NoticeAdmin(ReadOnlyAdmin):
    list_display = (
        "created_at",
        "recipient",
        "level",
        "headline",
        "state",
        "sent_at",
        "answered_at",
    )
    list_select_related = ("recipient",)
    list_filter = ("state", "level")
