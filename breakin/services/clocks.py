"""Which meter reading came before, and how many hours an engine ran on its basis clock (rules H1, H3)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import QuerySet

from breakin.calc.said import Day, fixed, said, sentences
from breakin.entries import EngineEntry
from breakin.entries.engine import longer_than_meter
from breakin.models import FlightEngine, FlightKind, MergeDecision
from breakin.services.common import covering
from engines.models import Installation, Meter, MeterKind
from shop.errors import Problem

DEFAULT_TACH_PER_HOBBS = 0.85  # experience of the trade, no source: tachs run slow at low rpm
PAIRS_TO_LEARN = 5
READING_STEP_H = 0.05
UNTOLD_GROUND_H = 0.5
_ENGINE_RUN = frozenset({MeterKind.HOBBS.value, MeterKind.RECORDER.value})
_MENDS = said(
    "Check the reading. If the earlier entry is wrong, correct that one first; if the meter was changed, a technician "
    "enters the change first."
)


@dataclass(frozen=True)
class Span:
    """When a flight was, for comparing it with others. `root` is its own chain while it is being corrected."""

    began_at: datetime
    ended_at: datetime
    airborne_min: float
    ground_min: float
    kind: str
    root: UUID | None = None


@dataclass(frozen=True)
class Clock:
    """What goes into the book: main meter, hours on the basis clock, and whether those are estimated."""

    meter_kind: str
    meter_start_h: float | None
    meter_end_h: float | None
    hours: float
    estimated: bool
    problems: tuple[Problem, ...] = ()


def read_clock(installation: Installation, entry: EngineEntry, span: Span) -> Clock:
    """Fit the meter readings of one engine into what is in the book already.

    A start that was not given is the last reading of that meter, unless the meter then moved by far more than the
    flight explains: those hours ran without a log, and must not be counted to this flight.
    """
    kind = entry.meter_kind or (installation.basis_clock if installation.basis_clock in MeterKind.values else "")
    start, end = entry.meter_start_h, entry.meter_end_h
    if end is None and start is None:
        hours, estimated = run_hours(installation, entry.meters, span)
        return Clock("", None, None, hours, estimated)
    if not kind:
        problem = Problem("meter_kind", said("Which meter was read? Choose tach, Hobbs or recorder."))
        return Clock("", None, None, 0.0, True, (problem,))
    before, after = neighbours(installation, kind, span, end)
    problems = _against_neighbours(kind, start, end, before, after)
    if start is None and end is not None and before is not None and not problems:
        start = before.reading_h if _explained(end - before.reading_h, span) else None
        if start is not None:
            problems += _too_short(kind, start, end, span, before)
    deltas = dict(entry.meters)
    if start is not None and end is not None:
        deltas[kind] = (start, end)
    hours, estimated = run_hours(installation, deltas, span)
    return Clock(kind, start, end, hours, estimated, tuple(problems))


def run_hours(installation: Installation, meters: dict[str, tuple[float, float]], span: Span) -> tuple[float, bool]:
    """Hours on the basis clock, and whether they are estimated.

    Without the basis clock they come from another one by the installation's own ratio, without any meter from the
    airborne time.
    """
    basis = installation.basis_clock
    airborne_h = span.airborne_min / 60
    if basis == "airborne":
        return airborne_h, False
    deltas = {kind: end - start for kind, (start, end) in meters.items()}
    if basis in deltas:
        return deltas[basis], False
    for kind in (MeterKind.HOBBS.value, MeterKind.RECORDER.value, MeterKind.TACH.value):
        if kind in deltas:
            return _converted(deltas[kind], kind, basis, installation), True
    return airborne_h, True


def tach_per_hobbs(installation: Installation) -> tuple[float, int]:
    """The ratio of this installation, and the number of pairs behind it (0: not learned)."""
    runs = FlightEngine.objects.filter(
        engine_id=installation.engine_id,
        installation__aircraft_id=installation.aircraft_id,
        flight__corrected_by__isnull=True,
        flight__withdrawn=False,
    ).exclude(other_meters={})
    tach = hobbs = 0.0
    pairs = 0
    for run in runs.order_by("-flight__happened_at")[:50]:
        deltas = {kind: end - start for kind, (start, end) in run.other_meters.items()}
        if run.meter_start_h is not None and run.meter_end_h is not None:
            deltas[run.meter_kind] = run.meter_end_h - run.meter_start_h
        engine_run = next((deltas[kind] for kind in sorted(_ENGINE_RUN) if kind in deltas), None)
        if engine_run and MeterKind.TACH in deltas:
            pairs, tach, hobbs = pairs + 1, tach + deltas[MeterKind.TACH], hobbs + engine_run
    if pairs >= PAIRS_TO_LEARN and tach > 0:
        return tach / hobbs, pairs
    return installation.tach_per_hobbs or DEFAULT_TACH_PER_HOBBS, 0


def _converted(delta: float, kind: str, basis: str, installation: Installation) -> float:
    if (kind in _ENGINE_RUN) == (basis in _ENGINE_RUN):
        return delta
    ratio, _pairs = tach_per_hobbs(installation)
    return delta * ratio if basis == MeterKind.TACH else delta / ratio


@dataclass(frozen=True)
class Reading:
    """A reading in the book, with words for where it comes from."""

    reading_h: float
    words: str


def same_flight(one_end: datetime, one_min: float, other_end: datetime, other_min: float) -> bool:
    """Do two entries of one aircraft overlap? They do when their ends lie within the shorter one's length."""
    shorter = timedelta(minutes=max(min(one_min, other_min), 1.0))
    return abs(one_end - other_end) < shorter


def same_end(kind: str, end: float | None, run: FlightEngine) -> bool:
    """Did the meter end at the same reading? After a ground run that says nothing: the tach hardly moves."""
    if FlightKind.GROUND_RUN in (kind, run.flight.kind) or end is None or run.meter_end_h is None:
        return False
    return abs(end - run.meter_end_h) < READING_STEP_H


def current_runs(aircraft_id: int) -> QuerySet[FlightEngine]:
    """What engines did on the flights of an aircraft that count: not corrected away, withdrawn or merged."""
    dropped = MergeDecision.objects.filter(aircraft_id=aircraft_id).values("dropped_root")
    return (
        FlightEngine.objects.filter(
            flight__aircraft_id=aircraft_id, flight__corrected_by__isnull=True, flight__withdrawn=False
        )
        .exclude(flight__root__in=dropped)
        .select_related("flight")
    )


def neighbours(
    installation: Installation, kind: str, span: Span, end: float | None = None
) -> tuple[Reading | None, Reading | None]:
    """The highest reading of this meter before the flight, and the lowest end after it.

    Entries that look like the same flight written down twice (see `same_flight`, or the same meter `end`) are no
    neighbours: they are kept side by side and shown as possible duplicates.
    """
    runs = current_runs(installation.aircraft_id).filter(
        installation__position=installation.position, meter_kind=kind, meter_end_h__isnull=False
    )
    meter = Meter.objects.filter(
        covering(span.ended_at), aircraft_id=installation.aircraft_id, position=installation.position, kind=kind
    ).first()
    if meter is not None:
        runs = runs.filter(flight__happened_at__gte=meter.since)
        if meter.until is not None:
            runs = runs.filter(flight__happened_at__lt=meter.until)
    if span.root is not None:
        runs = runs.exclude(flight__root=span.root)
    near = timedelta(minutes=840)
    doubles = [
        run.pk
        for run in runs.filter(flight__happened_at__range=(span.ended_at - near, span.ended_at + near))
        if same_flight(span.ended_at, span.airborne_min, run.flight.happened_at, run.flight.airborne_min)
        or same_end(span.kind, end, run)
    ]
    runs = runs.exclude(pk__in=doubles)
    last = runs.filter(flight__happened_at__lte=span.ended_at).order_by("-meter_end_h").first()
    following = runs.filter(flight__happened_at__gt=span.ended_at).order_by("meter_end_h").first()
    before = _reading(last)
    if meter is not None and (before is None or before.reading_h < meter.reading_at_start_h):
        before = Reading(
            meter.reading_at_start_h, said("where this meter started on {day}", day=Day(meter.since.date()))
        )
    return before, _reading(following)


def _reading(run: FlightEngine | None) -> Reading | None:
    if run is None or run.meter_end_h is None:
        return None
    return Reading(run.meter_end_h, said("the flight of {day}", day=Day(run.flight.local_date)))


def _against_neighbours(
    kind: str, start: float | None, end: float | None, before: Reading | None, after: Reading | None
) -> list[Problem]:
    name = MeterKind(kind).label
    problems = []
    for field, value in (("meter_start", start), ("meter_end", end)):
        if value is None:
            continue
        if before is not None and value < before.reading_h - READING_STEP_H:
            problems.append(
                Problem(
                    field,
                    sentences(
                        said(
                            "The {meter} runs backwards: {value} h is below {last} h, the last reading ({which}).",
                            meter=str(name),
                            value=fixed(value),
                            last=fixed(before.reading_h),
                            which=before.words,
                        ),
                        _MENDS,
                    ),
                )
            )
        if after is not None and value > after.reading_h + READING_STEP_H:
            problems.append(
                Problem(
                    field,
                    sentences(
                        said(
                            "The {meter} shows {value} h, but it reached {next} h later ({which}).",
                            meter=str(name),
                            value=fixed(value),
                            next=fixed(after.reading_h),
                            which=after.words,
                        ),
                        _MENDS,
                    ),
                )
            )
    return problems


def _explained(delta: float, span: Span) -> bool:
    """Is this much meter time what a flight of this length may take, with some taxiing that nobody wrote down?"""
    expected = (span.airborne_min + span.ground_min) / 60
    return delta - expected <= max(UNTOLD_GROUND_H, 0.5 * expected)


def _too_short(kind: str, start: float, end: float, span: Span, before: Reading) -> list[Problem]:
    if span.kind == FlightKind.GROUND_RUN:
        return []
    message = longer_than_meter(kind, end - start, span.airborne_min)
    if not message:
        return []
    last = said("The last reading was {last} h ({which}).", last=fixed(before.reading_h), which=before.words)
    return [Problem("meter_end", sentences(message, last))]
