"""Which logged flight a recorded flight is, in words, and what it could be instead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from breakin.models import DatedBy, Flight, FlightMatch, RecordedFlight
from breakin.reading.matching import candidates
from breakin.saying import spoken
from reports.pilot.words import flight_said
from reports.reader import Reader
from reports.recordings.words import shift_text
from shop import access
from shop.templatetags.words import localwhen


@dataclass(frozen=True)
class Choice:
    """One flight that it could be. `value` is what the form sends."""

    value: str
    words: str
    why: str
    taken: bool


@dataclass(frozen=True)
class MatchLine:
    """said: a sentence. choices: flights that it could be, likeliest first. `confirm` is what to send to say that the
    match by time is right; "" where there is nothing to confirm.
    """

    said: str
    choices: Sequence[Choice]
    confirm: str
    may_match: bool
    may_log: bool
    logged: Flight | None


def match_line(row: RecordedFlight, logged: Flight | None, reader: Reader, may_act: bool, own: bool) -> MatchLine:
    """The line of a recorded flight. Persons are named to those who may read words."""
    last = FlightMatch.objects.filter(recorded_flight=row).select_related("by").order_by("-at", "-pk").first()
    choices = _choices(row, reader) if may_act else ()
    return MatchLine(
        said=_said(row, logged, last, own),
        choices=choices,
        confirm=f"{logged.root}_0" if may_act and logged is not None and not row.confirmed else "",
        may_match=may_act,
        may_log=may_act and may_be_logged(row) and access.may_now(reader.user, "log_flight", row.recording.aircraft),
        logged=logged,
    )


def may_be_logged(row: RecordedFlight) -> bool:
    """Belongs to no logged flight, and it is known when it was."""
    return row.flight_root is None and row.dated_by != DatedBy.UNKNOWN


def choices_of(row: RecordedFlight, reader: Reader) -> list[tuple[str, str]]:
    """What a form may send for this flight, with its words."""
    return [(choice.value, choice.words) for choice in _choices(row, reader)]


def flight_words(flight: Flight, *, own: bool) -> str:
    return f"{localwhen(flight.happened_at)}, {flight_said(flight, own=own)}"


def _said(row: RecordedFlight, logged: Flight | None, last: FlightMatch | None, own: bool) -> str:
    who = ""
    if last is not None and own:
        who = " " + _("%(name)s said so %(when)s.") % {"name": last.by.name, "when": localwhen(last.at)}
    if logged is not None:
        ended = {"when": localwhen(logged.happened_at), "flight": flight_said(logged, own=own)}
        if row.confirmed:
            return (_("It is the flight that ended %(when)s (%(flight)s).") % ended) + who
        taken = _(
            "By its time it is taken for the flight that ended %(when)s (%(flight)s). Nobody has confirmed that yet."
        )
        return taken % ended
    if row.flight_root is not None:
        return _("It belongs to a flight that you may not read, or that was withdrawn.")
    if last is not None and last.flight_root is None:
        return _("It is none of the logged flights.") + who
    if row.dated_by == DatedBy.UNKNOWN:
        return _("When this was is not known. Log the flight by hand, then say here which one it is.")
    return _("Nobody has logged this yet.")


def _choices(row: RecordedFlight, reader: Reader) -> tuple[Choice, ...]:
    found = candidates(row)
    flights = Flight.objects.filter(pk__in=[each.flight.pk for each in found])
    people = flights.select_related("entered_by", "on_behalf_of", "pilot")
    seen = {flight.pk: flight for flight in access.visible_to(reader.user, people)}
    made = []
    for each in found:
        flight = seen.get(each.flight.pk)
        if flight is None:
            continue
        moved = ""
        if each.shift_s:
            move = _("The recorder's clock would then be moved by %(shift)s.")
            moved = " " + move % {"shift": shift_text(each.shift_s)}
        made.append(
            Choice(
                value=f"{flight.root}_{each.shift_s:g}",
                words=flight_words(flight, own=access.words_are_for(reader.user, flight)),
                why=f"{spoken(each.why, reader.units)}{moved}",
                taken=flight.root == row.flight_root,
            )
        )
    return tuple(made)
