"""Whom to phone about an aircraft, what to say, what was said before; and the calls that were promised for today."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Exists, OuterRef, Q

from breakin.models import (
    Assessment,
    Finding,
    FindingState,
    Flight,
    Message,
    MessageState,
    OilEvent,
    PhoneCall,
    Severity,
)
from engines.models import Aircraft, Holding, PilotAssignment
from shop.models import CustomerMember, Person

HISTORY = 30


@dataclass(frozen=True)
class Callee:
    person: Person
    what: str


@dataclass(frozen=True)
class Engine:
    """One engine of the aircraft with its open findings, the most severe first."""

    name: str
    engine_id: int
    state: str
    reason: str
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class CallPage:
    customer: str
    customer_phone: str
    people: tuple[Callee, ...]
    engines: tuple[Engine, ...]
    findings: tuple[Finding, ...]
    last_flight: Flight | None
    last_reading: OilEvent | None
    last_message: Message | None
    calls: tuple[PhoneCall, ...]


def shop_day(now: datetime) -> date:
    return now.astimezone(ZoneInfo(settings.SHOP_TIME_ZONE)).date()


def call_page(aircraft: Aircraft, now: datetime) -> CallPage:
    rows = list(
        Assessment.objects.filter(aircraft=aircraft, live=True)
        .select_related("build__engine__engine_type")
        .order_by("side")
    )
    standing = Finding.objects.filter(
        build__in=[row.build_id for row in rows], state=FindingState.OPEN, severity__gte=Severity.WATCH
    ).order_by("-severity", "-happened_at")
    of_build: dict[int, list[Finding]] = {}
    for finding in standing:
        of_build.setdefault(finding.build_id, []).append(finding)
    held = Holding.objects.filter(aircraft=aircraft, until__isnull=True).select_related("customer").first()
    engines = [row.build.engine_id for row in rows]
    return CallPage(
        customer=held.customer.name if held else "",
        customer_phone=held.customer.phone if held else "",
        people=_people(aircraft, held, now),
        engines=tuple(
            Engine(
                name=f"{row.build.engine}" + (f", {row.side.upper()}" if row.side in ("left", "right") else ""),
                engine_id=row.build.engine_id,
                state=f"{row.get_phase_display()}, {row.hours:.1f} h",
                reason=_not_among(row.call_reason, of_build.get(row.build_id, [])),
                findings=tuple(of_build.get(row.build_id, ())),
            )
            for row in rows
        ),
        findings=tuple(finding for found in of_build.values() for finding in found),
        last_flight=Flight.objects.current().filter(aircraft=aircraft).order_by("-happened_at").first(),
        last_reading=OilEvent.objects.current()
        .filter(engine__in=engines, level_qt__isnull=False)
        .order_by("-happened_at")
        .first(),
        last_message=Message.objects.filter(aircraft=aircraft, state=MessageState.SENT)
        .select_related("recipient")
        .order_by("-sent_at")
        .first(),
        calls=tuple(PhoneCall.objects.filter(aircraft=aircraft).select_related("person", "by")[:HISTORY]),
    )


def _not_among(reason: str, findings: list[Finding]) -> str:
    """The reason of the board's row, unless a finding says it in full: the row has room for its beginning only."""
    return "" if any(finding.text.startswith(reason) for finding in findings) else reason


def _people(aircraft: Aircraft, held: Holding | None, now: datetime) -> tuple[Callee, ...]:
    """The first contact first, then who else belongs to the holder, then who is assigned."""
    holds = Q(until__isnull=True) | Q(until__gt=now)
    found: dict[int, Callee] = {}
    if held is not None:
        members = CustomerMember.objects.filter(holds, customer=held.customer).select_related("person")
        for member in members.order_by("-first_contact", "person__name"):
            first = ", first contact" if member.first_contact else ""
            found.setdefault(member.person_id, Callee(member.person, f"{member.get_role_display()}{first}"))
    for row in PilotAssignment.objects.filter(holds, aircraft=aircraft).select_related("person"):
        found.setdefault(row.person_id, Callee(row.person, "break-in pilot"))
    return tuple(found.values())


def newest_calls(aircraft_ids: list[int]) -> Mapping[int, PhoneCall]:
    """The newest call about each of these aircraft, in one query."""
    later = PhoneCall.objects.filter(aircraft=OuterRef("aircraft")).filter(
        Q(at__gt=OuterRef("at")) | Q(at=OuterRef("at"), pk__gt=OuterRef("pk"))
    )
    rows = PhoneCall.objects.filter(~Exists(later), aircraft__in=aircraft_ids).select_related("by", "person")
    return {row.aircraft_id: row for row in rows}


def promised(now: datetime, most: int = 60) -> list[PhoneCall]:
    """Calls that were promised for today or earlier and were not made since, the oldest promise first."""
    later = PhoneCall.objects.filter(aircraft=OuterRef("aircraft")).filter(
        Q(at__gt=OuterRef("at")) | Q(at=OuterRef("at"), pk__gt=OuterRef("pk"))
    )
    rows = PhoneCall.objects.filter(~Exists(later), next_on__lte=shop_day(now)).select_related(
        "aircraft", "person", "by"
    )
    return list(rows.order_by("next_on", "id")[:most])
