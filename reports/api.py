"""The read side of the programming interface: the board, one engine, what is due."""

from __future__ import annotations

from typing import Any

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from breakin.api import whole_number
from breakin.models import Assessment, DueItem, DueState, Finding, FindingState, Lane
from engines.models import Build, Engine
from reports.fleet.board_query import LIVE
from shop import access
from shop.errors import Refusal

PAGE = 100
OPEN_DUE = (DueState.WAITING, DueState.DUE_SOON, DueState.DUE, DueState.LATE)


class BoardRow(serializers.ModelSerializer[Assessment]):
    """One engine in break-in as the fleet board shows it. Units: h, US qt, qt/h, degF."""

    lane = serializers.CharField(source="get_lane_display")
    phase = serializers.CharField(source="get_phase_display")
    build_id = serializers.IntegerField()
    engine_id = serializers.IntegerField()

    class Meta:
        model = Assessment
        fields = (
            "build_id", "engine_id", "registration", "side", "serial", "customer_name", "type_name", "build_kind",
            "finish", "phase", "reopened", "stopped", "lane", "lane_reasons", "hours", "expected_low_h",
            "expected_high_h", "first_two_word", "oil_level_qt", "oil_rate_qt_h", "oil_rate_u_qt_h", "oil_word",
            "takeoff_ff_word", "cht_max_degf", "cht_line_degf", "next_touch", "next_touch_h", "next_touch_on",
            "last_heard_at", "stops", "calls", "watches", "notes", "evidence_share", "computed_at", "data_until",
        )  # fmt: skip


class BoardPage(serializers.Serializer[Any]):
    rows = BoardRow(many=True)
    next_after = serializers.CharField(allow_null=True, help_text="give it as `after` for the next page")


class FindingRow(serializers.ModelSerializer[Finding]):
    severity = serializers.CharField(source="get_severity_display")

    class Meta:
        model = Finding
        fields = ("id", "rule", "severity", "state", "title", "text", "why", "source", "numbers", "happened_at")


class DueRow(serializers.ModelSerializer[DueItem]):
    registration = serializers.CharField(source="build.assessment.registration")
    side = serializers.CharField(source="build.assessment.side")
    serial = serializers.CharField(source="build.assessment.serial")
    engine_id = serializers.IntegerField(source="build.engine_id")

    class Meta:
        model = DueItem
        fields = (
            "id", "engine_id", "registration", "side", "serial", "rule", "kind", "title", "text", "state", "from_h",
            "due_h", "late_h", "due_at", "forecast_on", "escalation",
        )  # fmt: skip


class DuePage(serializers.Serializer[Any]):
    rows = DueRow(many=True)
    next_after = serializers.IntegerField(allow_null=True, help_text="give it as `after` for the next page")


class EngineAnswer(serializers.Serializer[Any]):
    engine_id = serializers.IntegerField()
    serial = serializers.CharField()
    type_name = serializers.CharField()
    current = BoardRow(allow_null=True, help_text="empty for an engine that has no break-in here")
    detail = serializers.JSONField(
        help_text="oil, credit, heat, clock, rules, review and next step, with their numbers"
    )
    findings = FindingRow(many=True)
    due = DueRow(many=True)


class BoardView(APIView):
    """The fleet board, in its own order, a hundred engines at a time. For the shop."""

    @extend_schema(
        responses=BoardPage,
        operation_id="board",
        parameters=[
            OpenApiParameter("after", str, description="`next_after` of the page before"),
            OpenApiParameter("lane", int, enum=[lane.value for lane in Lane]),
            OpenApiParameter("q", str, description="start of a registration, serial or customer"),
        ],
    )
    def get(self, request: Request) -> Response:
        access.require(request.user, "see_board")
        rows = access.visible_to(request.user, Assessment.objects.filter(**LIVE)).order_by("sort_key", "id")
        rows = _narrowed(rows, request)
        page = list(rows[: PAGE + 1])
        more = f"{page[PAGE - 1].sort_key}#{page[PAGE - 1].pk}" if len(page) > PAGE else None
        return Response(BoardPage({"rows": page[:PAGE], "next_after": more}).data)


class EngineView(APIView):
    """One engine as it stands: its judgement, open findings and due items."""

    @extend_schema(responses=EngineAnswer, operation_id="engine")
    def get(self, request: Request, engine_id: int) -> Response:
        engines = access.visible_to(request.user, Engine.objects.select_related("engine_type"))
        engine = get_object_or_404(engines, pk=engine_id)
        current = _current(request, engine)
        findings = access.visible_to(request.user, Finding.objects.filter(build__engine=engine))
        due = access.visible_to(request.user, _due_rows().filter(build__engine=engine))
        answer = {
            "engine_id": engine.pk,
            "serial": engine.serial,
            "type_name": engine.engine_type.designation,
            "current": current,
            "detail": current.detail if current else {},
            "findings": findings.exclude(state__in=(FindingState.CLEARED, FindingState.GONE))[:PAGE],
            "due": due[:PAGE],
        }
        return Response(EngineAnswer(answer).data)


class DueView(APIView):
    """What is due, a hundred items at a time: the whole shop's for the shop, one's own aircraft's for a customer."""

    @extend_schema(
        responses=DuePage,
        operation_id="due_items",
        parameters=[OpenApiParameter("after", int, description="`next_after` of the page before")],
    )
    def get(self, request: Request) -> Response:
        rows = access.visible_to(request.user, _due_rows().filter(build__assessment__live=True)).order_by("pk")
        if not access.is_staff_member(request.user):
            # He sees no item of a build that he does not see; few builds are found faster than all that is open.
            rows = rows.filter(build__in=access.visible_to(request.user, Build.objects.all()).values("pk"))
        if (after := request.query_params.get("after")) is not None:
            rows = rows.filter(pk__gt=whole_number("after", after))
        page = list(rows[: PAGE + 1])
        more = page[PAGE - 1].pk if len(page) > PAGE else None
        return Response(DuePage({"rows": page[:PAGE], "next_after": more}).data)


def _due_rows() -> QuerySet[DueItem]:
    return DueItem.objects.filter(state__in=OPEN_DUE).select_related("build__assessment")


def _current(request: Request, engine: Engine) -> Assessment | None:
    rows = access.visible_to(request.user, Assessment.objects.filter(engine=engine))
    return rows.order_by("-build__opened_at").first()


def _narrowed(rows: QuerySet[Assessment], request: Request) -> QuerySet[Assessment]:
    if (lane := request.query_params.get("lane")) is not None:
        rows = rows.filter(lane=_lane(lane))
    if words := _plain("q", request).strip():
        rows = rows.filter(
            Q(registration__istartswith=words) | Q(serial__istartswith=words) | Q(customer_name__istartswith=words)
        )
    if after := _plain("after", request):
        key, _, pk = after.rpartition("#")
        rows = rows.filter(Q(sort_key__gt=key) | Q(sort_key=key, pk__gt=whole_number("after", pk)))
    return rows


def _plain(name: str, request: Request) -> str:
    text: str = request.query_params.get(name, "")
    if "\x00" in text:
        raise Refusal.of(name, "This holds a character that no name has. Type it again.")
    return text


def _lane(text: str) -> int:
    number = whole_number("lane", text)
    if number not in Lane.values:
        known = ", ".join(f"{lane.value} ({lane.label})" for lane in Lane)
        raise Refusal.of("lane", f"“{number}” is not a lane. Choose one of {known}.")
    return number
