"""The instructor's page: how his engines do, what was missed on the last flight, and how they ended.

An instructor is assigned to an aircraft for a period. While it lasts he reads what its holder reads. Afterwards he
still learns how the engines ended that he flew, in words and hours, without persons, notes or the flights of others.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q
from django.utils.translation import gettext as _

from breakin.models import Assessment, DueItem, DueState, Finding, FindingState, Flight, PowerBlock, Severity
from breakin.saying import text_for, title_for
from engines.models import Build, BuildEvent, BuildEventKind, BuildState, Installation, PilotAssignment
from shop import written
from shop.models import Person

STANDING = (FindingState.OPEN, FindingState.ACKNOWLEDGED)
ASKED = (DueState.DUE_SOON, DueState.DUE, DueState.LATE)


@dataclass(frozen=True)
class EngineLine:
    """One build of an assigned aircraft. ended : how it ended, "" while it runs."""

    build: Build
    side: str
    state: str
    hours: str
    first_two: str
    oil: str
    ended: str


@dataclass(frozen=True)
class Missed:
    """The last flight in a sentence, and what was missed or found on it."""

    flight: Flight
    said: str
    points: tuple[tuple[str, str], ...]  # (severity or kind, sentence)


@dataclass(frozen=True)
class AircraftLine:
    """An aircraft he is or was assigned to."""

    assignment: PilotAssignment
    engines: tuple[EngineLine, ...]
    last: Missed | None
    owed: tuple[str, ...]


@dataclass(frozen=True)
class InstructorPage:
    now: tuple[AircraftLine, ...]
    before: tuple[AircraftLine, ...]
    closed: int
    met: int
    judged: int


def instructor_page(person: Person, at: datetime) -> InstructorPage:
    """Everything about the aircraft this person is or was assigned to; a fixed number of queries."""
    rows = list(PilotAssignment.objects.filter(person=person).select_related("aircraft").order_by("-since"))
    current = [row for row in rows if row.since <= at and (row.until is None or row.until > at)]
    past = [row for row in rows if row not in current and row.since <= at]
    builds = _builds(rows)
    everything = [build for found in builds.values() for build, _ in found]
    judged = {row.build_id: row for row in Assessment.objects.filter(build__in=everything).defer("detail")}
    ends = _ends(everything)
    last = _last_flights(current, builds, person.units)
    lines = {
        row.pk: tuple(_engine(build, seat, judged.get(build.pk), ends) for build, seat in builds[row.pk])
        for row in rows
    }
    owed = _owed((build for row in current for build, _ in builds[row.pk]), person.units)
    closed = {
        line.build.pk: line for found in lines.values() for line in found if line.build.state == BuildState.CLOSED
    }
    verdicts = [word for line in closed.values() if (word := line.first_two) and word != "not known"]
    return InstructorPage(
        now=tuple(
            AircraftLine(
                row,
                lines[row.pk],
                last.get(row.aircraft_id),
                tuple(text for build, _ in builds[row.pk] for text in owed.get(build.pk, ())),
            )
            for row in current
        ),
        before=tuple(AircraftLine(row, lines[row.pk], None, ()) for row in past),
        closed=len(closed),
        met=sum(word.startswith("met") for word in verdicts),
        judged=len(verdicts),
    )


def _builds(rows: list[PilotAssignment]) -> dict[int, list[tuple[Build, Installation]]]:
    """Assignment -> builds that were in hand in its aircraft during it, each with its seat."""
    seats = list(
        Installation.objects.filter(aircraft__in={row.aircraft_id for row in rows}).order_by("position", "since")
    )
    builds = list(
        Build.objects.filter(engine__in={seat.engine_id for seat in seats})
        .select_related("engine__engine_type")
        .order_by("opened_at")
    )
    found: dict[int, list[tuple[Build, Installation]]] = {}
    for row in rows:
        of_row: dict[int, tuple[Build, Installation]] = {}
        for seat in seats:
            if seat.aircraft_id != row.aircraft_id or not _meet(row.since, row.until, seat.since, seat.until):
                continue
            for build in builds:
                if build.engine_id == seat.engine_id and _meet(row.since, row.until, build.opened_at, build.closed_at):
                    of_row[build.pk] = (build, seat)
        found[row.pk] = list(of_row.values())
    return found


def _meet(start: datetime, end: datetime | None, other: datetime, other_end: datetime | None) -> bool:
    return (end is None or other < end) and (other_end is None or start < other_end)


def _ends(builds: list[Build]) -> dict[int, BuildEvent]:
    kinds = (
        BuildEventKind.CLOSED_OUT,
        BuildEventKind.CLOSED_INCOMPLETE,
        BuildEventKind.SUPERSEDED,
        BuildEventKind.REOPENED,
    )
    return {
        row.build_id: row for row in BuildEvent.objects.filter(build__in=builds, kind__in=kinds).order_by("at", "id")
    }


def _engine(build: Build, seat: Installation, row: Assessment | None, ends: dict[int, BuildEvent]) -> EngineLine:
    ended, event = "", ends.get(build.pk)
    if event is not None and build.state != BuildState.OPEN:
        values = {"state": build.get_state_display(), "day": written.day(event.at)}
        if event.hours:
            ended = _("%(state)s on %(day)s at %(hours)s h") % (values | {"hours": written.number(event.hours, 1)})
        else:
            ended = _("%(state)s on %(day)s") % values
    elif event is not None and event.kind == BuildEventKind.REOPENED:
        ended = _("reopened on %(day)s") % {"day": written.day(event.at)}
    side = seat.get_position_display() if seat.position in ("left", "right") else ""
    if row is None:
        return EngineLine(build, side, _("not judged yet"), "", "", "", ended)
    return EngineLine(
        build=build,
        side=side,
        state=row.get_phase_display() + (f", {_('stopped')}" if row.stopped else ""),
        hours=f"{written.number(row.hours, 1)} h",
        first_two=row.first_two_word,
        oil=row.oil_word,
        ended=ended,
    )


def _last_flights(
    rows: list[PilotAssignment], builds: dict[int, list[tuple[Build, Installation]]], units: str
) -> dict[int, Missed]:
    """Aircraft -> its last flight, with what the rules found on it."""
    planes = {row.aircraft_id for row in rows}
    newest: dict[int, Flight] = {}
    for flight in Flight.objects.current().filter(aircraft__in=planes).order_by("happened_at", "id"):
        newest[flight.aircraft_id] = flight
    ids = {build.pk for row in rows for build, _ in builds[row.pk]}
    moments = {flight.happened_at for flight in newest.values()}
    found = list(
        Finding.objects.filter(build__in=ids, happened_at__in=moments, state__in=STANDING, for_customer=True).order_by(
            "-severity", "rule"
        )
    )
    blocks: dict[int, list[PowerBlock]] = {}
    for block in PowerBlock.objects.filter(flight_engine__flight__in=newest.values()).select_related("flight_engine"):
        blocks.setdefault(block.flight_engine.flight_id, []).append(block)
    of_plane = {row.aircraft_id: {build.pk for build, _ in builds[row.pk]} for row in rows}
    return {
        plane: Missed(
            flight,
            _("%(minutes)d min in the air, %(kind)s")
            % {"minutes": round(flight.airborne_min), "kind": flight.get_kind_display()},
            tuple(
                _points(flight, blocks.get(flight.pk, []), [f for f in found if f.build_id in of_plane[plane]], units)
            ),
        )
        for plane, flight in newest.items()
    }


def _points(flight: Flight, blocks: list[PowerBlock], found: list[Finding], units: str) -> Iterable[tuple[str, str]]:
    for finding in found:
        if finding.happened_at == flight.happened_at:
            yield Severity(finding.severity).name.lower(), f"{title_for(finding, units)}. {text_for(finding, units)}"
    if flight.kind != "ground_run" and not blocks:
        yield "not logged", _("No power settings were logged, so that this flight earns no credit.")


def _owed(builds: Iterable[Build], units: str) -> dict[int, list[str]]:
    owed: dict[int, list[str]] = {}
    for item in DueItem.objects.filter(build__in={build.pk for build in builds}, state__in=ASKED).order_by(
        "due_at", "id"
    ):
        owed.setdefault(item.build_id, []).append(f"{title_for(item, units)}: {item.get_state_display()}")
    return owed


def has_engines(person: Person | None) -> bool:
    """Was this person ever assigned to an aircraft?"""
    return person is not None and PilotAssignment.objects.filter(Q(person=person)).exists()
