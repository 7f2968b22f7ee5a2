"""The page of one recording: each flight in it, what it shows of each engine, and which logged flight it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from breakin.models import DatedBy, Flight, FlightEngine, RecordedFlight, RecordedKind, Recording, RecordingRead
from reports.engine.tables import Table
from reports.reader import Reader
from reports.recordings import words
from reports.recordings.findings import Pinned
from reports.recordings.match import MatchLine, match_line
from reports.recordings.panels import Picture, whose
from reports.recordings.picture import Judged, clock_of, judged, list_of_flight, picture_of
from reports.recordings.plot import recording_picture
from reports.recordings.prose import said_again, said_each
from reports.recordings.still import WIDE, height_of
from shop import access, written
from shop.templatetags.words import localwhen, utc_offset


@dataclass(frozen=True)
class EnginePart:
    """What the recording shows of one engine. side : "1" or "2". whose : ", left engine"; "" for one alone."""

    side: str
    whose: str
    name: str
    href: str
    verdict: str
    minutes: Table | None
    compare: Table | None
    pieces: Table | None
    how: tuple[str, ...]


@dataclass(frozen=True)
class FlightPart:
    """One flight, ground run or broken-off take-off of the recording. `figure` is None when no lines were kept."""

    number: int
    kind: str
    heading: str
    when: str
    engines: tuple[EnginePart, ...]
    twin: str
    match: MatchLine
    figure: dict[str, Any] | None
    origin_ms: int
    label: str
    caption: str
    cylinders: tuple[int, ...]
    list_of: tuple[Pinned, ...]
    still: str
    still_high: int
    series: str

    @property
    def figure_id(self) -> str:
        return f"flight-{self.number}"


@dataclass(frozen=True)
class RecordingPage:
    """Everything about one recording that its reader may see. `own` is false for a later holder of the aircraft."""

    recording: Recording
    reading: RecordingRead | None
    own: bool
    may_act: bool
    flights: tuple[FlightPart, ...]
    notes: tuple[str, ...]

    @property
    def name(self) -> str:
        return self.recording.original_name if self.own else _("Recording of an earlier holder")


def recording_page(recording: Recording, reader: Reader) -> RecordingPage:
    """The page of a recording that comes from `access.visible_to`."""
    own = access.words_are_for(reader.user, recording)
    reading = RecordingRead.objects.filter(recording=recording).select_related("channel_map").first()
    may_act = own and reader.person is not None and access.may_now(reader.user, "upload_recording", recording.aircraft)
    rows = recorded_flights(reader, recording)
    return RecordingPage(
        recording=recording,
        reading=reading,
        own=own,
        may_act=may_act,
        flights=tuple(_flight(row, reader, may_act, own) for row in rows),
        notes=tuple(said_again(note, reader.units) for note in reading.notes) if reading else (),
    )


def recorded_flights(reader: Reader, recording: Recording) -> list[RecordedFlight]:
    """The flights of this recording that the reader may see, in the file's order."""
    rows = RecordedFlight.objects.filter(recording=recording).prefetch_related(
        "engines__engine__engine_type", "engines__installation"
    )
    return list(access.visible_to(reader.user, rows.select_related("recording__aircraft").order_by("number")))


def flight_part(row: RecordedFlight, reader: Reader) -> FlightPart:
    """One flight of it by itself, with nothing to do about its match."""
    return _flight(row, reader, may_act=False, own=access.words_are_for(reader.user, row.recording))


def _flight(row: RecordedFlight, reader: Reader, may_act: bool, own: bool) -> FlightPart:
    sides = judged(row)
    list_of = list_of_flight(row, sides, reader)
    picture = picture_of(row, sides, list_of, reader.units)
    logged = _logged(row, reader)
    place = {"recording_id": row.recording_id, "number": row.number}
    engines = {side: each.engine for side, each in sides.items()}
    split = (row.summary.get("split_pct"), row.summary.get("split_over_min"))
    return FlightPart(
        number=row.number,
        kind=row.kind,
        heading=_heading(row),
        when=_when(row),
        engines=tuple(_engine(row, side, each, len(sides) > 1, logged, reader.units) for side, each in sides.items()),
        twin=words.twin_sentence(*split) if len(sides) > 1 and row.airborne_min else "",
        match=match_line(row, logged, reader, may_act, own),
        figure=recording_picture(picture) if picture else None,
        origin_ms=picture.origin_ms if picture else 0,
        label=_label(picture) if picture else "",
        caption=words.power_caption(engines, {side: each.lines for side, each in sides.items()}),
        cylinders=tuple(sorted({line.cylinder for panel in picture.panels for line in panel.lines if line.cylinder}))
        if picture
        else (),
        list_of=list_of,
        still=reverse("recorded_picture", kwargs=place),
        still_high=round(height_of(picture) * 720 / WIDE) if picture else 0,
        series=reverse("recorded_series", kwargs=place),
    )


def _label(picture: Picture) -> str:
    return _("%(panels)s, over the clock") % {"panels": ", ".join(panel.title for panel in picture.panels)}


def _heading(row: RecordedFlight) -> str:
    headings = {
        RecordedKind.FLIGHT: _("Flight %(number)d"),
        RecordedKind.GROUND_RUN: _("Ground run %(number)d"),
        RecordedKind.ABORTED: _("Take-off broken off %(number)d"),
    }
    return headings[RecordedKind(row.kind)] % {"number": row.number}


def _when(row: RecordedFlight) -> str:
    if row.dated_by == DatedBy.UNKNOWN:
        return _("not dated; the recorder's clock said %(when)s") % {"when": localwhen(row.began_at)}
    start, end = timezone.localtime(row.began_at), timezone.localtime(row.ended_at)
    times = {"day": written.long_day(start), "start": f"{start:%H:%M}", "end": f"{end:%H:%M}", "zone": utc_offset(end)}
    return _("%(day)s, %(start)s to %(end)s %(zone)s") % times


def _logged(row: RecordedFlight, reader: Reader) -> Flight | None:
    """The flight it belongs to, as it stands now."""
    if row.flight_root is None:
        return None
    flights = Flight.objects.current().filter(root=row.flight_root)
    return access.visible_to(reader.user, flights.select_related("entered_by")).first()


def _engine(row: RecordedFlight, side: str, each: Judged, twin: bool, logged: Flight | None, units: str) -> EnginePart:
    typed = FlightEngine.objects.filter(flight=logged, engine=each.row.engine_id).first() if logged else None
    return EnginePart(
        side=side,
        whose=whose(side, twin),
        name=str(each.row.engine),
        href=reverse("engine", args=[each.row.engine_id]),
        verdict=words.verdict(row.kind, each.engine),
        minutes=words.minutes_table(each.engine),
        compare=words.compare_table(logged, typed, each.engine, units) if logged and typed else None,
        pieces=words.pieces_table(each.engine, clock_of(row), units),
        how=_how(row, each, units),
    )


def _how(row: RecordedFlight, each: Judged, units: str) -> tuple[str, ...]:
    """How the figures of this engine were worked out, from what, and what was left out."""
    engine, said = each.engine, []
    if engine.method:
        said.append((_("Power %(method)s.") % {"method": said_each(engine.method, units)}).replace("..", "."))
    if engine.chart_minus_fuel_pct is not None:
        apart = {"apart": f"{written.signed(engine.chart_minus_fuel_pct, 1)}{words.PERCENT}"}
        if engine.pieces_apart:
            far = _(
                "Chart less fuel flow, on average over steady pieces: %(apart)s of rated power; %(count)d of them "
                "stood far apart."
            )
            said.append(far % {**apart, "count": engine.pieces_apart})
        else:
            said.append(_("Chart less fuel flow, on average over steady pieces: %(apart)s of rated power.") % apart)
    if each.revision is not None:
        chart = {"type": each.revision, "source": each.revision.source}
        said.append(_("Chart and limits: %(type)s; %(source)s.") % chart)
    else:
        said.append(_("No type sheet is on record for this engine: its power is not by any chart."))
    said += [
        _("Left out: %(sensor)s, %(why)s.")
        % {"sensor": fault.sensor.replace("_", " "), "why": said_again(fault.why, units)}
        for fault in engine.bad_sensors
    ]
    if engine.suspect:
        said.append(
            _("Manifold pressure and fuel flow disagree: %(suspect)s.") % {"suspect": said_again(engine.suspect, units)}
        )
    elif engine.disagree:
        said.append(_("Manifold pressure and fuel flow disagree, and nothing says which of them is wrong."))
    notes = [said_again(note, units) for note in (*engine.notes, *(row.summary.get("notes") or ()))]
    version = _("Reading and analysis version %(version)s.") % {"version": row.version}
    said += [*notes, words.dated(row), version]
    return tuple(dict.fromkeys(said))
