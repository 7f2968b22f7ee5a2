"""A flight that was recorded and that nobody logged becomes an entry of the book, by the same way as a typed one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any
from uuid import NAMESPACE_OID, uuid5

from django.db import transaction

from breakin.calc.said import said
from breakin.entries import EngineEntry, FlightEntry, parse_flight
from breakin.models import DatedBy, FlightKind, RecordedFlight, RecordedKind
from breakin.services.common import lock_aircraft
from breakin.services.flights import LoggedFlight, log_flight
from breakin.services.recording_matching import match_flight
from shop.errors import Problem, Refusal
from shop.facts import Source
from shop.models import Person

# What the recording says of a flight: nobody types it and nobody is asked about it.
_FROM_FILE = ("ended_at", "airborne", "ground_before", "ground_after", "landings")
_ASKED = ("off_block", "takeoff", "landing", "on_block", "local_date", "local_time")


def log_from_recording(
    *,
    by: Person,
    recorded_flight: RecordedFlight,
    now: datetime,
    raw: Mapping[str, Any] | None = None,
    on_behalf_of: Person | None = None,
) -> LoggedFlight:
    """Log a recorded flight, and match it with its entry. The same again is the same flight.

    Times, minutes and landings are the recording's; the hours too where the basis clock is the recorder or airborne
    time, else they are estimated unless a meter reading is given.

    Parameters
    ----------
    raw : what a person adds, as the form of a flight sends it: "engines" with meter readings and oil, "chips", "note",
        "kind", "pilot_id", "confirmed". Engines that are not named are logged as recorded.

    Raises
    ------
    Refusal : "conflict" where it belongs to a flight already, "confirm" where something typed is unusual, else as
        `log_flight`.
    """
    with transaction.atomic():
        aircraft = lock_aircraft(recorded_flight.recording.aircraft)
        row = RecordedFlight.objects.select_related("recording__aircraft__home").get(pk=recorded_flight.pk)
        entry = _entry(row, by, dict(raw or {}), now)
        if row.flight_root not in (None, entry.client_id):
            raise Refusal.of("", said("This recorded flight belongs to a flight in the book already."), "conflict")
        logged = log_flight(
            by=by, aircraft=aircraft, entry=entry, now=now, source=Source.FILE, on_behalf_of=on_behalf_of
        )
        if logged.created:
            match_flight(
                by=by, recorded_flight=row, flight_root=logged.flight.root, now=now, reason="logged from this recording"
            )
    return logged


def _entry(row: RecordedFlight, by: Person, raw: dict[str, Any], now: datetime) -> FlightEntry:
    if row.dated_by == DatedBy.UNKNOWN:
        raise Refusal.of("", said("It is not known when this was. Put the recorder's clock right first."), "conflict")
    given = [name for name in (*_FROM_FILE, *_ASKED) if name in raw]
    if given:
        raise Refusal(
            Problem(name, said("The recording says this. To say otherwise, log the flight by hand.")) for name in given
        )
    recorded = {each.engine_id: each for each in row.engines.all()}
    if not recorded:
        raise Refusal.of("", said("By the book no engine was in this aircraft then. Enter its installation first."))
    is_flight = row.kind == RecordedKind.FLIGHT
    summaries = [each.summary for each in recorded.values()]
    typed = raw.pop("engines", None) or []
    if not isinstance(typed, list | tuple):
        raise Refusal.of("engines", "Give the engines as a list, each with its fields.")
    named = {str(each.get("engine_id")) for each in typed if isinstance(each, Mapping)}
    stands_by = raw.pop("confirmed", None) or []
    if not isinstance(stands_by, list | tuple):
        raise Refusal.of("confirmed", "Give the confirmed fields as a list of their names.")
    sent = {
        "client_id": str(uuid5(NAMESPACE_OID, f"recorded {row.recording.sha256} {row.pk}")),
        "kind": FlightKind.RUN_IN.value if is_flight else FlightKind.GROUND_RUN.value,
        **raw,
        "engines": [*typed, *({"engine_id": pk} for pk in sorted(recorded) if str(pk) not in named)],
        "ended_at": row.ended_at.isoformat(),
        "airborne": _minutes(row.airborne_min if is_flight else 0.0),
        "ground_before": _minutes(_longest(summaries, "ground_before_min") if is_flight else row.run_min),
        "landings": row.landings if is_flight else 0,
        "confirmed": [*stands_by, *_FROM_FILE],
    }
    after = _longest(summaries, "ground_after_min")
    if is_flight and after is not None:
        sent["ground_after"] = _minutes(after)
    sent = {name: value for name, value in sent.items() if value is not None}
    entry = parse_flight(sent, units=by.units, zone=row.recording.aircraft.home.zone, now=now)
    if entry.warnings:
        raise Refusal(entry.warnings, "confirm")
    engines = tuple(_with_recorder(each, recorded.get(each.engine_id or 0)) for each in entry.engines)
    own = {name: value for name, value in entry.typed.items() if name not in (*_FROM_FILE, "confirmed")}
    if stands_by:
        own["confirmed"] = [", ".join(sorted(map(str, stands_by))), ""]
    return replace(entry, engines=engines, typed=own)


def _with_recorder(entry: EngineEntry, recorded: Any) -> EngineEntry:
    """The engine's running time as a reading of the recorder, from which the hours follow where no better clock is."""
    if recorded is None or entry.meter_kind == "recorder" or "recorder" in entry.meters:
        return entry
    return replace(entry, meters={**entry.meters, "recorder": (0.0, recorded.summary["run_min"] / 60)})


def _longest(summaries: list[dict[str, Any]], name: str) -> float | None:
    return max((each[name] for each in summaries if each.get(name) is not None), default=None)


def _minutes(value: float | None) -> dict[str, Any] | None:
    return None if value is None else {"value": round(value, 2), "unit": "min"}
