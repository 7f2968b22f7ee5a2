"""Which column is which in this file: as it was confirmed for the aircraft, as is plain to see, or to be asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from breakin.calc import recording as calc
from breakin.models import ChannelMap, ReadState, RecordingRead
from breakin.periods import covering
from breakin.reading.dating import date_is_missing
from breakin.reading.plain import plain
from engines.models import Aircraft, Holding

if TYPE_CHECKING:
    from breakin.calc.recording import Look, Question

FLIGHT_DATE = "flight_date"
ASK_DATE: dict[str, Any] = {
    "field": FLIGHT_DATE,
    "text": "The file says no date. On which day did this recording begin, by the recorder's clock?",
    "choices": [],
}
_OF_DATE = ("date", FLIGHT_DATE)  # what the look calls it and what it is called here


@dataclass(frozen=True)
class Columns:
    """How to read the file. channel_map is None where nobody had to confirm it."""

    mapping: Mapping[str, Any]
    keep_position: bool
    channel_map: ChannelMap | None
    zones: tuple[str, ...]  # that the recorder's clock may be set to, the likeliest first


def as_kept(look: Look) -> dict[str, Any]:
    """The look at a file for the mapping page. Of columns of position only the names are kept."""
    kept: dict[str, Any] = plain(asdict(look))
    for column in kept["columns"]:
        if column["name"] in look.position:
            column |= {"samples": [], "low": None, "high": None}
    kept["sure"], kept["questions"] = is_sure(look), []
    return kept


def is_sure(look: Look) -> bool:
    """Is every column of the proposal named and valued so that nobody need be asked, beside the engine's speed?"""
    guesses = {column.name: column.guess for column in look.columns}
    chosen = [guesses.get(name) for name in _chosen(look.mapping)]
    return bool(chosen) and all(guess is not None and guess.sure for guess in chosen) and not _asked(look)


def _asked(look: Look) -> list[Question]:
    return [question for question in look.questions if question.field not in _OF_DATE]


def _chosen(mapping: Mapping[str, Any]) -> list[str]:
    """The columns that a mapping reads, time apart."""
    names: list[str] = []
    for part in (*mapping.get("engines", {}).values(), mapping.get("common", {})):
        for value in part.values():
            names += [value] if isinstance(value, str) else [name for name in value or () if name is not None]
    return names


def newest_map(aircraft_id: int, signature: str) -> ChannelMap | None:
    rows = ChannelMap.objects.filter(aircraft=aircraft_id, signature=signature)
    return rows.order_by("-confirmed_at", "-pk").first()


def columns_of(reading: RecordingRead, look: Look, path: Path) -> tuple[Columns | None, list[dict[str, Any]]]:
    """How to read the file, or None and what must be asked first.

    A map that was confirmed for an earlier file is asked about where this file contradicts it; one that was confirmed
    for this very file is not: the person has seen the question.
    """
    aircraft = reading.recording.aircraft
    confirmed = newest_map(aircraft.pk, look.signature)
    if confirmed is not None:
        keep = confirmed.keep_position and _same_holder(reading, confirmed)
        mapping = with_position(confirmed.mapping, look) if keep else confirmed.mapping
        columns = Columns(mapping, keep, confirmed, (confirmed.clock_zone,))
        if reading.channel_map_id == confirmed.pk:
            return columns, []
        questions = [plain(asdict(question)) for question in calc.doubts(path, confirmed.mapping)]
        return (None, questions) if questions else (columns, [])
    before = None if is_sure(look) else _as_before(aircraft.pk, look.signature)
    if before is not None:
        questions = [plain(asdict(question)) for question in calc.doubts(path, before)]
        if not questions:
            return Columns(before, False, None, _zones(aircraft)), []
    if not is_sure(look):
        date = [ASK_DATE] if date_is_missing(reading, look.has_date) else []
        return None, [*date, *(plain(asdict(question)) for question in _asked(look))]
    return Columns(look.mapping, False, None, _zones(aircraft)), []


def _same_holder(reading: RecordingRead, confirmed: ChannelMap) -> bool:
    """Was the aircraft held by one holder when the file came and when they wanted positions kept? Nobody decides that
    for those who held it before or hold it after.
    """
    held = Holding.objects.filter(aircraft=reading.recording.aircraft_id)
    then = held.filter(covering(reading.recording.uploaded_at)).first()
    return then == held.filter(covering(confirmed.confirmed_at)).first()


def _as_before(aircraft_id: int, signature: str) -> dict[str, Any] | None:
    """The columns of an earlier file of the same recorder that were plain to see, where this one shows too little."""
    rows = RecordingRead.objects.filter(
        recording__aircraft=aircraft_id, state=ReadState.READ, look__signature=signature, look__sure=True
    )
    row = rows.order_by("-finished_at").first()
    return row.look["mapping"] if row is not None else None


def _zones(aircraft: Aircraft) -> tuple[str, ...]:
    """Where nobody said so: the zone of another recorder of the aircraft, else UTC or that of the home field."""
    other = ChannelMap.objects.filter(aircraft=aircraft).order_by("-confirmed_at", "-pk").first()
    return (other.clock_zone,) if other is not None else tuple(dict.fromkeys(("UTC", aircraft.home.zone)))


def with_position(mapping: Mapping[str, Any], look: Look) -> dict[str, Any]:
    """The mapping with the columns of latitude and longitude that the file has."""
    found = {
        column.guess.channel: column.name
        for column in look.columns
        if column.guess is not None and column.guess.channel in ("latitude", "longitude")
    }
    return {**mapping, "position": found} if found else dict(mapping)
