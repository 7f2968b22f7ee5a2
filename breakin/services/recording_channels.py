"""Say which column of a recorder is which channel: once for each aircraft and recorder, remembered from then on."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction

from breakin import reading
from breakin.calc.recording import Unreadable
from breakin.calc.recording.scales import wanted_of
from breakin.calc.said import Day, Said, said
from breakin.models import ChannelMap, ReadState, Recording, RecordingRead
from breakin.services.common import audit, lock_aircraft
from breakin.services.recordings import queue_reading
from shop.errors import Problem, Refusal
from shop.models import ZONES, Person


def confirm_channels(
    *,
    by: Person,
    recording: Recording,
    mapping: Mapping[str, Any],
    clock_zone: str,
    keep_position: bool,
    now: datetime,
    flight_date: date | None = None,
) -> ChannelMap:
    """Keep what the columns of this recorder are, and have the recording read with it.

    Other recordings of the same recorder that were waiting for an answer are read too. The same answer again is the
    same map.

    Parameters
    ----------
    mapping : as `breakin.calc.recording` takes it: "time", "engines", "common", "units".
    clock_zone : the zone that the recorder's clock is set to.
    keep_position : keep latitude and longitude in what is read; the original file holds them in any case.
    flight_date : the day on which the recording began, by the recorder's clock; for a file without dates.

    Raises
    ------
    Refusal : fields "mapping", "clock_zone", "flight_date"; "conflict" while nobody has looked at the file yet.
    """
    look = RecordingRead.objects.get(pk=recording.pk).look
    if not look:
        raise Refusal.of("", said("The file has not been looked at yet. Try again in a minute."), "conflict")
    problems = [*_mapping_problems(mapping, look), *_clock_problems(clock_zone, flight_date, recording)]
    if problems:
        raise Refusal(problems)
    with transaction.atomic():
        lock_aircraft(recording.aircraft)
        kept = _keep(by, recording, dict(mapping), clock_zone, keep_position, look["signature"], now)
        more: dict[str, Any] = {"channel_map": kept}
        if flight_date is not None:
            more["flight_date"] = flight_date
        reading.ask(recording.pk, now, **more)
        queue_reading(recording.pk)
        waiting = RecordingRead.objects.filter(
            recording__aircraft=recording.aircraft_id, state=ReadState.ASKS, look__signature=look["signature"]
        )
        for pk in waiting.values_list("pk", flat=True):
            reading.ask(pk, now)
            queue_reading(pk)
        audit(
            by=by,
            act="confirm_channels",
            subject=kept,
            now=now,
            detail={"recording": recording.pk, "flight_date": flight_date.isoformat() if flight_date else None},
        )
    return kept


def _keep(
    by: Person,
    recording: Recording,
    mapping: dict[str, Any],
    clock_zone: str,
    keep_position: bool,
    signature: str,
    now: datetime,
) -> ChannelMap:
    rows = ChannelMap.objects.filter(aircraft=recording.aircraft_id, signature=signature)
    newest = rows.order_by("-confirmed_at", "-pk").first()
    told = (mapping, clock_zone, keep_position)
    if newest is not None and (newest.mapping, newest.clock_zone, newest.keep_position) == told:
        return newest
    return ChannelMap.objects.create(
        aircraft_id=recording.aircraft_id,
        signature=signature,
        mapping=mapping,
        clock_zone=clock_zone,
        keep_position=keep_position,
        confirmed_by=by,
        confirmed_at=now,
    )


def _mapping_problems(mapping: Mapping[str, Any], look: Mapping[str, Any]) -> list[Problem]:
    """Is it of the right shape, with columns that the file has, each chosen once, in units that fit?"""
    names = {column["name"] for column in look["columns"]}
    time = mapping.get("time")
    timing = time if isinstance(time, list) else [time]
    problems = []
    if not 1 <= len(timing) <= 2 or not all(isinstance(name, str) and name for name in timing):
        problems.append(Problem("mapping", said("Which column holds the time? Choose it, or date and time.")))
    try:
        chosen = [each.column for each in wanted_of(mapping)]
    except Unreadable as error:
        return [*problems, Problem("mapping", str(error))]
    missing = [name for name in (*timing, *chosen) if isinstance(name, str) and name not in names]
    problems += [
        Problem("mapping", said("The file has no column “{name}”. Choose another one.", name=name[:60]))
        for name in missing
    ]
    twice = [name for name in timing if name in chosen]
    problems += [
        Problem("mapping", said("“{name}” is chosen for the time and for a channel.", name=name)) for name in twice
    ]
    sides = mapping.get("engines") or {}
    problems += [
        Problem("mapping", _no_speed(str(side))) for side, channels in sorted(sides.items()) if not channels.get("rpm")
    ]
    return problems


def _no_speed(side: str) -> Said:
    return said("Engine {side} has no column for its speed. Choose it: without it nothing can be told.", side=side)


def _clock_problems(clock_zone: str, flight_date: date | None, recording: Recording) -> list[Problem]:
    problems = []
    if clock_zone not in ZONES:
        unknown = said(
            "“{zone}” is not a time zone name. Write it like UTC, Etc/GMT+6 or Europe/Zurich.", zone=clock_zone[:64]
        )
        problems.append(Problem("clock_zone", unknown))
    if flight_date is not None and flight_date > (recording.uploaded_at + timedelta(days=1)).date():
        late = said("{day} lies after the day on which the file came. Check the date.", day=Day(flight_date))
        problems.append(Problem("flight_date", late))
    return problems
