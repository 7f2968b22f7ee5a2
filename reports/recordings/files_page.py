"""The list of an aircraft's recordings: how far each has come, what was found in it, and what is to be done."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Prefetch
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, ngettext_lazy

from breakin.models import (
    Flight,
    ReadState,
    RecordedFlight,
    RecordedKind,
    Recording,
    RecordingRead,
)
from engines.models import Aircraft
from reports.pilot.words import flight_said
from reports.reader import Reader
from reports.recordings.prose import said_again
from shop import access, written
from shop.templatetags.words import localwhen

SHOWN = 50
FLIGHTS_OFFERED = 15
ENDED = frozenset({ReadState.ASKS, ReadState.READ, ReadState.REFUSED})
_KINDS = {
    RecordedKind.FLIGHT: ngettext_lazy("%(count)d flight", "%(count)d flights", "count"),
    RecordedKind.GROUND_RUN: ngettext_lazy("%(count)d ground run", "%(count)d ground runs", "count"),
    RecordedKind.ABORTED: ngettext_lazy("%(count)d broken-off take-off", "%(count)d broken-off take-offs", "count"),
}

_SHAPES = {
    "Waiting": "waiting",
    "Being read": "running",
    "Asks": "not-known",
    "Read": "received",
    "Could not be read": "failed",
}


@dataclass(frozen=True)
class FileLine:
    """One file in the list.

    word : its state in words. said : what that means, in a sentence. running : it goes on by itself, look again.
    percent : how far it has come, None where that can't be told. asks, open : addresses, "" where there is none.
    mend : how to mend a file that was refused.
    """

    recording: Recording
    own: bool
    word: str
    said: str
    mend: str = ""
    running: bool = False
    percent: int | None = None
    asks: str = ""
    open: str = ""

    @property
    def shape(self) -> str:
        """The drawing that repeats the word."""
        return _SHAPES.get(self.word, "")

    @property
    def name(self) -> str:
        return self.recording.original_name if self.own else _("Recording of an earlier holder")


def file_lines(reader: Reader, aircraft: Aircraft) -> list[FileLine]:
    """The newest files of the aircraft, in a fixed number of queries."""
    rows = list(_files(reader, Recording.objects.filter(aircraft=aircraft))[:SHOWN])
    may_act = reader.person is not None and access.may_now(reader.user, "upload_recording", aircraft)
    logged = _logged([flight for row in rows for flight in row.flights.all()])
    return [_line(row, logged, may_act, access.words_are_for(reader.user, row)) for row in rows]


def file_line(reader: Reader, recording_id: int) -> FileLine | None:
    """One file; None where the reader may not see it."""
    row = _files(reader, Recording.objects.filter(pk=recording_id)).first()
    if row is None:
        return None
    may_act = reader.person is not None and access.may_now(reader.user, "upload_recording", row.aircraft)
    return _line(row, _logged(list(row.flights.all())), may_act, access.words_are_for(reader.user, row))


def flights_to_choose(reader: Reader, aircraft: Aircraft) -> list[tuple[str, str]]:
    """The last flights of the aircraft, as a form offers them."""
    rows = access.visible_to(reader.user, Flight.objects.current().filter(aircraft=aircraft)).select_related(
        "entered_by", "on_behalf_of", "pilot"
    )
    return [
        (str(row.root), f"{localwhen(row.happened_at)}, {flight_said(row, own=access.words_are_for(reader.user, row))}")
        for row in rows.order_by("-happened_at", "-id")[:FLIGHTS_OFFERED]
    ]


def problem_words(problem: Mapping[str, Any]) -> tuple[str, str]:
    """A refusal as a sentence that says where, and how to mend it."""
    where = [_("row %(row)s") % {"row": f"{problem['row']:,}"}] if problem.get("row") else []
    where += [_("column “%(name)s”") % {"name": problem["column"]}] if problem.get("column") else []
    what = said_again(problem.get("what")) or _("It could not be read")
    said = f"{', '.join(where)}: {what}" if where else what
    said = f"{said[:1].upper()}{said[1:]}".rstrip(".") + "."
    return said, said_again(problem.get("mend"))


def found_words(flights: Sequence[RecordedFlight], logged: Mapping[Any, Flight]) -> str:
    """What was found: "2 flights, 1 ground run; matched with the flights of 3 May, 4 May."."""
    if not flights:
        return _("The engine did not run in it.")
    counted = Counter(row.kind for row in flights)
    parts = [", ".join(words % {"count": counted[kind]} for kind, words in _KINDS.items() if counted[kind])]
    days = [_day(logged[row.flight_root]) for row in flights if row.flight_root in logged]
    if days:
        matched = ngettext("matched with the flight of %(days)s", "matched with the flights of %(days)s", len(days))
        parts.append(matched % {"days": ", ".join(days)})
    open_ones = sum(1 for row in flights if row.flight_root is None and row.kind == RecordedKind.FLIGHT)
    if open_ones:
        lacking = ngettext("%(count)d flight is not in the log", "%(count)d flights are not in the log", open_ones)
        parts.append(lacking % {"count": open_ones})
    return f"{'; '.join(parts)}."


def _files(reader: Reader, rows: Any) -> Any:
    flights = Prefetch("flights", RecordedFlight.objects.order_by("number"))
    seen = access.visible_to(reader.user, rows.select_related("uploaded_by", "aircraft", "reading"))
    return seen.prefetch_related(flights)


def _logged(flights: Sequence[RecordedFlight]) -> dict[Any, Flight]:
    roots = {row.flight_root for row in flights if row.flight_root is not None}
    return {row.root: row for row in Flight.objects.current().filter(root__in=roots)} if roots else {}


def _line(row: Recording, logged: Mapping[Any, Flight], may_act: bool, own: bool) -> FileLine:
    reading: RecordingRead | None = getattr(row, "reading", None)
    if reading is None:
        return FileLine(row, own, "Kept", _("It is kept as it came and was never read."))
    flights = list(row.flights.all())
    page = reverse("recording", args=[row.pk]) if flights else ""
    columns = reverse("recording_columns", args=[row.pk]) if may_act and own and reading.look else ""
    if reading.state == ReadState.WAITING:
        return FileLine(row, own, "Waiting", _("It waits to be read."), running=True, open=page)
    if reading.state == ReadState.READING:
        percent = min(100, round(100 * reading.done / reading.total)) if reading.total else None
        step = said_again(reading.step) or _("being read")
        said = f"{step[:1].upper()}{step[1:]}" + (f", {percent}\u202f%." if percent is not None else ".")
        return FileLine(row, own, "Being read", said, running=True, percent=percent, open=page)
    if reading.state == ReadState.ASKS:
        said = _("It has questions about its columns: answer them once, and they are remembered for this aircraft.")
        return FileLine(row, own, "Asks", said, asks=columns, open=page)
    problem, mend = problem_words(reading.problem) if reading.problem else ("", "")
    if reading.state == ReadState.REFUSED:
        return FileLine(row, own, "Could not be read", problem, mend, asks=columns, open=page)
    said = found_words(flights, logged)
    if problem:
        failed = _("What it says is from an earlier reading; the newest one failed: %(problem)s")
        said = f"{said} {failed % {'problem': problem}}"
    return FileLine(row, own, "Read", said, mend, asks=columns, open=page)


def _day(flight: Flight) -> str:
    local = timezone.localtime(flight.happened_at)
    return written.day(local, year=local.year != timezone.localtime().year)
