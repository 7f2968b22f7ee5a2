"""What the picture of a recorded flight is made from: its engines, their types and plans, and what stands out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from breakin.calc.bands import Bands
from breakin.calc.errors import CalcError
from breakin.calc.recording.result import EngineFlight, engine_flight_of
from breakin.models import DatedBy, Finding, RecordedEngine, RecordedFlight
from breakin.reading.series import moments_of, ranges_of
from breakin.reading.spec import build_at, plan_of, type_at
from engines.models import Build, EngineTypeRevision
from reports.reader import Reader
from reports.recordings import words
from reports.recordings.findings import Pinned, pinned, pins
from reports.recordings.panels import Drawing, Lines, Picture
from shop import access, written
from shop.templatetags.words import utc_offset


@dataclass(frozen=True)
class Judged:
    """One engine of a recorded flight with what its type and plan say."""

    row: RecordedEngine
    engine: EngineFlight
    build: Build | None
    revision: EngineTypeRevision | None
    lines: Lines


def judged(row: RecordedFlight) -> dict[str, Judged]:
    """Its engines by side, each with the lines of its type and the bands of its plan."""
    return {each.side: _judged(each, row.began_at) for each in sorted(row.engines.all(), key=lambda one: one.side)}


def picture_of(
    row: RecordedFlight, sides: Mapping[str, Judged], list_of: Sequence[Pinned], units: str
) -> Picture | None:
    """What is to be drawn; None when no lines were kept."""
    ranges = ranges_of(row)
    engines = {side: each.engine for side, each in sides.items()}
    panels = Drawing(engines, {side: each.lines for side, each in sides.items()}, ranges, units).panels()
    if not panels:
        return None
    events: Mapping[str, float] = row.summary.get("events") or {}
    origin_ms, clock = _clock_of(row)
    seconds = float(row.summary.get("seconds") or 0.0)
    return Picture(
        panels=panels,
        events=tuple((float(events[name]), str(told)) for name, told in words.EVENT_WORDS.items() if name in events),
        seconds=seconds,
        origin_ms=origin_ms,
        clock=clock,
        pins=pins(list_of, [panel.key for panel in panels], seconds),
    )


def list_of_flight(row: RecordedFlight, sides: Mapping[str, Judged], reader: Reader) -> tuple[Pinned, ...]:
    """What stands out in this flight, numbered as in its picture."""
    return pinned(
        {side: each.engine for side, each in sides.items()},
        {side: each.lines for side, each in sides.items()},
        moments_of(row),
        row.summary.get("events") or {},
        _found(row, sides, reader),
        clock_of(row),
        reader.units,
    )


def clock_of(row: RecordedFlight) -> Callable[[float], str]:
    """Seconds of this flight as a time of day, in the active zone; counted from its start where it has no date."""
    if row.dated_by == DatedBy.UNKNOWN:
        return lambda seconds: f"{int(seconds) // 3600}:{int(seconds) % 3600 // 60:02d}"
    first = first_row_at(row)
    return lambda seconds: f"{timezone.localtime(first + timedelta(seconds=seconds)):%H:%M}"


def first_row_at(row: RecordedFlight) -> datetime:
    """When the first row was written: a recorder may be on long before the engine turns, at which the flight began."""
    return row.began_at - timedelta(seconds=float(row.summary.get("began_t", 0)) - float(row.summary.get("t0", 0)))


def _clock_of(row: RecordedFlight) -> tuple[int, str]:
    """The clock of the picture at 0 s in ms, as if the local time were UTC, and what kind of clock it is."""
    if row.dated_by == DatedBy.UNKNOWN:
        return 0, "hours and minutes since the recording of this flight began"
    local = timezone.localtime(first_row_at(row))
    shown = local + (local.utcoffset() or timedelta(0))
    return round(shown.timestamp() * 1000), _("clock time on %(day)s, %(zone)s") % {
        "day": written.long_day(local),
        "zone": utc_offset(local),
    }


def _judged(row: RecordedEngine, at: datetime) -> Judged:
    build = build_at(row.engine_id, at)
    revision, plan = type_at(row.installation, build), plan_of(build)
    bands = None
    if plan is not None:
        try:
            bands = Bands.from_plan({"credit": plan.credit, "low": plan.low})
        except CalcError:
            bands = None  # the engine's page says what is wrong with its plan
    return Judged(row, engine_flight_of(row.summary), build, revision, _lines(revision, bands))


def _lines(revision: EngineTypeRevision | None, bands: Bands | None) -> Lines:
    low, high = (revision.takeoff_ff_low_gph, revision.takeoff_ff_high_gph) if revision else (None, None)
    return Lines(
        watch_degf=revision.cht_watch_degf if revision else None,
        limit_degf=revision.cht_limit_degf if revision else None,
        tit_limit_degf=revision.tit_limit_degf if revision else None,
        takeoff_ff_gph=(low, high) if low is not None and high is not None else None,
        bands={"75": bands.upper, "65": bands.lower} if bands else {},
        low_pct=bands.low if bands else None,
    )


def _found(row: RecordedFlight, sides: Mapping[str, Judged], reader: Reader) -> list[tuple[Finding, str, str]]:
    """The shop's findings that point to the logged flight this is, by engine."""
    if row.flight_root is None:
        return []
    found = []
    for side, each in sides.items():
        if each.build is None:
            continue
        rows = access.visible_to(
            reader.user, Finding.objects.filter(build=each.build, evidence__icontains=str(row.flight_root))
        )
        href = reverse("engine", args=[each.row.engine_id]) + "#findings"
        found += [(finding, side, href) for finding in rows]
    return found
