"""Add an oil event: a reading, an addition, a drain and fill, a loss that was seen."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import IntegrityError, transaction

from breakin.calc.errors import CalcError
from breakin.calc.oil.lines import Advice, advise, expected_settle_qt, oil_lines
from breakin.calc.said import Day, Said, Value, fixed, qt, said
from breakin.entries import OilEntry, content_hash
from breakin.entries.ranges import OIL
from breakin.models import Assessment, Finding, Flight, OilEvent, OilEventKind, When
from breakin.services.clocks import current_runs
from breakin.services.common import (
    audit,
    covering,
    current_installation,
    grade_of,
    is_technician,
    judge,
    live_builds,
    lock_engines,
    type_revision_of,
)
from engines.models import Engine, Installation
from shop.errors import ConflictingResend, Problem, Refusal
from shop.facts import Source
from shop.models import Person

USUAL_FLIGHT_H = 1.0
_STEP_H = 0.05


SENT_OTHERWISE = said(
    "This oil entry was received before, with other content. The first one stands. To change it, use “Fix this entry”; "
    "to send another one, start a new form."
)


@dataclass(frozen=True)
class LoggedOil:
    """created is False for a resend. advice is what to do at this level, for a reading."""

    event: OilEvent
    created: bool
    stops: list[Finding] = field(default_factory=list)
    calls: list[Finding] = field(default_factory=list)
    advice: Advice | None = None


def add_oil(
    *,
    by: Person,
    engine: Engine,
    entry: OilEntry,
    now: datetime,
    source: str = Source.PORTAL,
    on_behalf_of: Person | None = None,
) -> LoggedOil:
    """Keep one oil event of one engine. The same client_id with the same content is the same event.

    Raises
    ------
    Refusal : what was typed does not fit the engine or its flight.
    ConflictingResend : the client_id came before with other content.
    """
    try:
        with transaction.atomic():
            return _add(by, engine, entry, now, source, on_behalf_of)
    except IntegrityError:
        kept = resent(engine, entry)
        if kept is None:
            raise
        return LoggedOil(kept, False, advice=advice_for(kept))


def resent(engine: Engine, entry: OilEntry) -> OilEvent | None:
    """The event that this entry was kept as before.

    Raises
    ------
    ConflictingResend : it came before with other content.
    """
    kept = OilEvent.objects.filter(client_id=_id_of(entry)).first()
    if kept is not None and kept.content_hash != content_hash(entry, about=f"engine {engine.pk}"):
        raise ConflictingResend(SENT_OTHERWISE)
    return kept


def _add(
    by: Person, engine: Engine, entry: OilEntry, now: datetime, source: str, on_behalf_of: Person | None
) -> LoggedOil:
    lock_engines([engine.pk])
    kept = resent(engine, entry)
    if kept is not None:
        return LoggedOil(kept, False, advice=advice_for(kept))
    builds = live_builds([engine.pk])
    placed = place(engine, entry, now)
    event = keep_event(
        by=by, engine=engine, entry=placed, sent=entry, now=now, source=source, on_behalf_of=on_behalf_of
    )
    audit(by=by, act="add_oil", subject=event, now=now, detail={"kind": event.kind, "engine": engine.pk})
    stops, calls = judge(builds, now)
    return LoggedOil(event, True, stops, calls, advice_for(event))


def place(engine: Engine, entry: OilEntry, now: datetime, *, root: UUID | None = None) -> OilEntry:
    """The entry with the moment that its flight gives it; refused where it does not fit.

    `root` is the event's own chain while it is being corrected.
    """
    problems = check_amounts(engine, entry)
    at = entry.happened_at
    when = entry.when
    if entry.flight_root is not None:
        flight = Flight.objects.current().filter(root=entry.flight_root, engines__engine=engine).first()
        if flight is None:
            raise Refusal.of(
                "flight_root", said("There is no such flight of this engine. Choose it from the list, or none.")
            )
        when = when or When.AFTER
        began = flight.happened_at.timestamp() - flight.airborne_min * 60
        if at is None:
            at = datetime.fromtimestamp(began, flight.happened_at.tzinfo) if when == When.BEFORE else flight.happened_at
        elif (when == When.BEFORE and at > flight.happened_at) or (when == When.AFTER and at.timestamp() < began):
            problems.append(Problem("when", not_at_that_time(when)))
    at = at or now
    problems += _check_meter(engine, entry, at)
    problems += _check_known(engine, at)
    if problems:
        raise Refusal(problems)
    return replace(entry, happened_at=at, when=when)


def check_amounts(engine: Engine, entry: OilEntry) -> list[Problem]:
    """Ranges that hang on the sump of this engine."""
    revision = type_revision_of(engine)
    if revision is None:
        return []
    full = revision.sump_full_qt
    limits = (
        ("level", OIL["level"].label, entry.level_qt, full + 2, ABOVE_FULL),
        ("amount", OIL["amount"].label, entry.amount_qt, full, said("what the sump holds")),
        ("filled", OIL["filled"].label, entry.filled_qt, full + 2, ABOVE_FULL),
        ("drained", OIL["drained"].label, entry.drained_qt, full + 2, ABOVE_FULL),
    )
    return [
        Problem(
            name,
            said(
                "{label}: {typed} is more than {most}, {words} (full: {full}). Check the number and its unit.",
                label=label,
                typed=_as_typed(entry, name, value),
                most=qt(most, None),
                words=words,
                full=qt(full, None),
            ),
        )
        for name, label, value, most, words in limits
        if value is not None and value > most + 1e-6
    ]


ABOVE_FULL = said("the full mark and two quarts above it")


def not_at_that_time(when: str) -> Said:
    """Before or after a flight, and a time that says the other."""
    if when == When.BEFORE:
        return said("“Before the flight” does not fit the time given. Mend one of them.")
    return said("“After the flight” does not fit the time given. Mend one of them.")


def _as_typed(entry: OilEntry, name: str, value: float) -> Value:
    text, unit = entry.typed.get(name, ["", ""])
    if text and unit not in ("", "qt"):
        return said("“{text}” {unit} ({value})", text=text, unit=unit, value=qt(value))
    return qt(value, None)


def _check_meter(engine: Engine, entry: OilEntry, at: datetime) -> list[Problem]:
    """A meter read with the oil must fit the flights around it. It is read on the basis clock."""
    if entry.meter_reading_h is None:
        return []
    seat = Installation.objects.filter(covering(at), engine=engine).first()
    if seat is None:
        return []
    runs = current_runs(seat.aircraft_id).filter(
        installation__position=seat.position, meter_kind=seat.basis_clock, flight__happened_at__lte=at
    )
    last = runs.filter(installation=seat, meter_end_h__isnull=False).order_by("-flight__happened_at").first()
    if entry.flight_root is not None or last is None or last.meter_end_h is None:
        return []
    if entry.meter_reading_h < last.meter_end_h - _STEP_H:
        return [
            Problem(
                "meter_reading",
                said(
                    "The {meter} runs backwards: {value} h is below {last} h, the end of the flight of {day}. Check "
                    "it, or leave it out.",
                    meter=seat.get_basis_clock_display(),
                    value=fixed(entry.meter_reading_h),
                    last=fixed(last.meter_end_h),
                    day=Day(last.flight.local_date),
                ),
            )
        ]
    return []


def _check_known(engine: Engine, at: datetime) -> list[Problem]:
    """Before its first build and its first seat there is no engine to read."""
    first = [row for row in (engine.builds.order_by("opened_at").first(),) if row is not None]
    seats = Installation.objects.filter(engine=engine).order_by("since").first()
    starts = [row.opened_at for row in first] + ([seats.since] if seats else [])
    if starts and at < min(starts):
        return [
            Problem(
                "happened_at",
                said(
                    "That is before this engine was in the book ({day}). Check the date.", day=Day(min(starts).date())
                ),
            )
        ]
    return []


def keep_event(
    *,
    by: Person,
    engine: Engine,
    entry: OilEntry,
    sent: OilEntry,
    now: datetime,
    source: str,
    on_behalf_of: Person | None = None,
    flight_root: UUID | None = None,
    **version: Any,
) -> OilEvent:
    """Write the row. `sent` is the entry before it got its moment from the flight: what a resend is compared with.

    `version` carries root, corrects, correction_reason, withdrawn and grade of a correction.
    """
    at = entry.happened_at
    assert at is not None  # noqa: S101 - placed by the caller
    if entry.kind == OilEventKind.DRAIN_FILL and not is_technician(by, now):
        raise Refusal.of("kind", said("Draining and filling is entered by a technician. Call the shop."), "forbidden")
    grade = version.pop("grade", None) or grade_of(
        happened_at=at,
        written_at=entry.written_at,
        now=now,
        source=source,
        recalled=entry.recalled,
        sent_at=entry.sent_at,
    )
    return OilEvent.objects.create(
        engine=engine,
        client_id=_id_of(entry),
        root=version.pop("root", _id_of(entry)),
        content_hash=content_hash(sent, about=f"engine {engine.pk}"),
        happened_at=at,
        local_date=entry.local_date(at),
        zone=entry.zone,
        written_at=entry.written_at,
        received_at=now,
        entered_by=by,
        on_behalf_of=on_behalf_of,
        source=source,
        grade=grade,
        typed=entry.typed,
        absent=entry.absent,
        note=entry.note,
        kind=entry.kind,
        flight_root=flight_root or entry.flight_root,
        when=entry.when,
        order=entry.order,
        meter_reading_h=entry.meter_reading_h,
        level_qt=entry.level_qt,
        minutes_since_shutdown=entry.minutes_since_shutdown,
        level_ground=entry.level_ground,
        wiped_twice=entry.wiped_twice,
        recalled=entry.recalled,
        u_qt=entry.u_qt,
        belly_oil=entry.belly_oil,
        amount_qt=entry.amount_qt,
        container=entry.container,
        oil_kind=entry.oil_kind,
        brand=entry.brand,
        drained_qt=entry.drained_qt,
        filled_qt=entry.filled_qt,
        filter_changed=entry.filter_changed,
        **version,
    )


def _id_of(entry: OilEntry) -> UUID:
    assert entry.client_id is not None  # noqa: S101 - the parsers refuse an entry without one
    return entry.client_id


def advice_for(event: OilEvent) -> Advice | None:
    """What to do at the level that was read: leave it, add one, or don't depart. None where nothing can be said."""
    if event.level_qt is None:
        return None
    seat = current_installation(event.engine, event.happened_at)
    revision = type_revision_of(event.engine)
    if seat is None or revision is None:
        return None
    rate, u_rate, settle = _known_of_loss(event.engine)
    try:
        settle = settle or revision.settle_qt or expected_settle_qt(revision.sump_full_qt)
        lines = oil_lines(revision.sump_full_qt, settle, seat.min_oil_qt, usual_flight_h(event.engine), rate, u_rate)
        return advise(max(0.0, event.level_qt + seat.dipstick_offset_qt), lines)
    except CalcError:
        return None  # the type is outside the rules of the dipstick: a small dry sump


def usual_flight_h(engine: Engine) -> float:
    """Median length of the last five flights [h]."""
    seat = Installation.objects.filter(engine=engine, until__isnull=True).first()
    if seat is None:
        return USUAL_FLIGHT_H
    runs = current_runs(seat.aircraft_id).filter(engine=engine, hours__gt=0).order_by("-flight__happened_at")
    hours = sorted(runs.values_list("hours", flat=True)[:5])
    return hours[len(hours) // 2] if hours else USUAL_FLIGHT_H


def _known_of_loss(engine: Engine) -> tuple[float | None, float | None, float | None]:
    """Rate, its uncertainty and the settling level as last judged."""
    assessment = Assessment.objects.filter(engine=engine, live=True).order_by("-build_id").first()
    oil = (assessment.detail or {}).get("oil", {}) if assessment else {}
    return oil.get("rate_qt_h"), oil.get("u_qt_h"), oil.get("settle_level_qt")
