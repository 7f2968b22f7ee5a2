"""What happened to an engine, newest first, with every version of every fact: corrections strike, never erase."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any
from uuid import UUID

from django.urls import reverse

from breakin.models import Chip, Finding, FlightEngine, OilEvent, OilEventKind
from engines.models import BuildEvent, Inspection, Installation
from reports.inspect.photos import PhotoLine
from reports.inspect.words import in_a_sentence
from reports.quantities import level, minutes_text, quantity
from shop import access
from shop.facts import Fact
from shop.models import Person, User


@dataclass(frozen=True)
class Entry:
    """One line of the timeline. `corrected` says why this version no longer counts; older versions follow it.

    double : what an entry that looks like the same flight as another one is, until somebody decides; `merge_url` leads
    there for whoever may.
    """

    at: datetime
    kind: str
    title: str
    lines: tuple[str, ...] = ()
    who: str = ""
    grade: str = ""
    corrected: str = ""
    anchor: str = ""
    fix_url: str = ""
    photos: tuple[PhotoLine, ...] = ()
    see_url: str = ""
    recorded_url: str = ""
    double: str = ""
    merge_url: str = ""
    older: tuple[Entry, ...] = field(default=())


@dataclass(frozen=True)
class Telling:
    """How facts are told to one reader: units, whether persons may be named, where a correction starts, and where a
    flight is seen as it was recorded.
    """

    user: User
    units: str
    may_fix: bool
    photos: Mapping[UUID, tuple[PhotoLine, ...]] = field(default_factory=dict)
    recorded: Mapping[UUID, str] = field(default_factory=dict)

    def entry(self, row: Any, fact: Fact, kind: str, title: str, lines: Iterable[str], url: str = "") -> Entry:
        """`row` carries `is_own` from the access layer; `fact` is the row itself or the flight it belongs to."""
        words = access.words_are_for(self.user, row)
        told = [line for line in lines if line]
        if words and fact.note:
            told.append(f"“{fact.note}”")
        newer = getattr(fact, "corrected_by", None)
        why = "withdrawn" if fact.withdrawn else ""
        if newer is not None:
            reason = newer.get_correction_reason_display() or "corrected"
            why = f"withdrawn: {reason}" if newer.withdrawn else f"corrected: {reason}"
        return Entry(
            at=fact.happened_at,
            kind=kind,
            title=title,
            lines=tuple(told),
            who=who_entered(fact) if words else "",
            grade=fact.get_grade_display(),
            corrected=why,
            anchor=f"fact-{fact.root}",
            fix_url=url if self.may_fix and words and not why else "",
            photos=self.photos.get(fact.root, ()),
        )


def chains(entries: Iterable[tuple[Any, int, Entry]]) -> list[Entry]:
    """(root, id, entry) of all versions -> one entry a fact, the newest version, with the older ones under it."""
    by_root: dict[Any, list[tuple[int, Entry]]] = {}
    for root, number, entry in entries:
        by_root.setdefault(root, []).append((number, entry))
    told = []
    for versions in by_root.values():
        newest, *older = [entry for _, entry in sorted(versions, key=lambda pair: pair[0], reverse=True)]
        told.append(replace(newest, older=tuple(older)))
    return told


def flights(telling: Telling, rows: Sequence[FlightEngine]) -> list[Entry]:
    """Flights of the engine. Rows with `flight`, its persons and its correction already fetched."""
    told = ((row.flight, telling.entry(row, row.flight, "flight", *_flight(telling, row))) for row in rows)
    return chains(
        (flight.root, flight.pk, replace(entry, recorded_url=telling.recorded.get(flight.root, "")))
        for flight, entry in told
    )


def _flight(telling: Telling, row: FlightEngine) -> tuple[str, list[str], str]:
    flight, units = row.flight, telling.units
    run = f"{row.hours:.1f}\u202fh{' (estimated from another clock)' if row.hours_estimated else ''}"
    title = f"{flight.get_kind_display().capitalize()}, {run}"
    times = [f"airborne {minutes_text(flight.airborne_min)}"]
    if flight.ground_before_min is not None or flight.ground_after_min is not None:
        times.append(f"on the ground {minutes_text((flight.ground_before_min or 0) + (flight.ground_after_min or 0))}")
    if row.meter_end_h is not None:
        times.append(f"{row.meter_kind or 'meter'} {row.meter_end_h:.1f} at the end")
    seen = []
    if row.takeoff_ff_gph is not None:
        seen.append(f"take-off fuel flow {quantity(row.takeoff_ff_gph, 'fuel_flow', units)}")
    if row.cht_max_degf is not None:
        seen.append(f"hottest CHT {quantity(row.cht_max_degf, 'temperature', units)}")
    if row.cht_falling_by_3000:
        seen.append(f"CHT falling by 3,000\u202fft: {row.get_cht_falling_by_3000_display()}")
    if row.as_on_card_id:
        seen.append(f"flown as on card {row.as_on_card.number}" if row.as_on_card else "")
    chips = [str(Chip(chip).label) for chip in flight.chips if chip in Chip.values and chip != Chip.NONE]
    pilot = ""
    if flight.pilot is not None and access.words_are_for(telling.user, row):
        pilot = f"flown by {flight.pilot.name}"
    noticed = f"noticed: {', '.join(chips)}" if chips else ""
    lines = [_sentence(times), _sentence(seen), _sentence([noticed]), _sentence([pilot])]
    return title, lines, reverse("correct_flight", args=[flight.pk])


def oil(telling: Telling, rows: Sequence[OilEvent]) -> list[Entry]:
    """Oil events of the engine."""
    return chains((row.root, row.pk, telling.entry(row, row, "oil", *_oil(telling, row))) for row in rows)


def _oil(telling: Telling, row: OilEvent) -> tuple[str, list[str], str]:
    units = telling.units
    how: list[str] = []
    if row.kind == OilEventKind.READING:
        title = f"Oil level {level(row.level_qt, row.u_qt, units)}"
        if row.minutes_since_shutdown is not None:
            how.append(f"read {minutes_text(row.minutes_since_shutdown)} after shutdown")
        if row.level_ground is not None:
            how.append("on level ground" if row.level_ground else "on sloping ground")
        if row.wiped_twice is not None:
            how.append("stick wiped twice" if row.wiped_twice else "stick not wiped twice")
        if row.recalled:
            how.append("told from memory")
    elif row.kind == OilEventKind.ADDITION:
        title = f"Oil added: {level(row.amount_qt, None, units)} of {row.get_oil_kind_display()}"
        how.append(row.brand)
    elif row.kind == OilEventKind.DRAIN_FILL:
        title = f"Oil changed: {level(row.drained_qt, None, units)} out, {level(row.filled_qt, None, units)} in"
        how += [row.get_oil_kind_display(), "filter changed" if row.filter_changed else ""]
    elif row.kind == OilEventKind.LOSS_SEEN:
        title = f"Oil loss seen{f': about {level(row.amount_qt, None, units)}' if row.amount_qt is not None else ''}"
    else:
        title = "Stated: no oil added"
    if row.belly_oil is not None:
        how.append(f"oil on the belly: {row.get_belly_oil_display()}")
    when = row.get_when_display() if row.when else ""
    return title, [_sentence([when, *how])], reverse("correct_oil", args=[row.pk])


def inspections(telling: Telling, rows: Sequence[Inspection]) -> list[Entry]:
    """Inspections of the engine."""
    return chains((row.root, row.pk, _inspection(telling, row)) for row in rows)


def _inspection(telling: Telling, row: Inspection) -> Entry:
    title = f"{row.get_kind_display().capitalize()}: {row.get_result_display()}"
    by = f"done by {row.performed_by.name}" if access.words_are_for(telling.user, row) else ""
    lines = [in_a_sentence(row.kind, row.results, telling.units), _sentence([by])]
    fix = reverse("inspection_correct", args=[row.pk]) if access.may_now(telling.user, "inspect") else ""
    told = telling.entry(row, row, "inspection", title, lines, fix)
    return replace(told, see_url=reverse("inspection", args=[row.pk]))


def build_events(user: User, rows: Sequence[BuildEvent]) -> list[Entry]:
    """What became of the build. Reasons and persons are for whoever held the aircraft then."""
    return [
        Entry(
            at=row.at,
            kind="build",
            title=f"Build {row.build.number} {row.get_kind_display()}{_at_hours(row.hours)}",
            lines=(row.reason,) if row.reason and access.words_are_for(user, row) else (),
            who=f"by {row.by.name}" if row.by and access.words_are_for(user, row) else "",
        )
        for row in rows
    ]


def installations(rows: Sequence[Installation]) -> list[Entry]:
    """Put in and taken out. A row that only continues another with other attributes is a change, not a move."""
    told = []
    for row in rows:
        place = seat(row)
        verb = "Attributes changed on" if row.continues_id else "Installed on"
        told.append(Entry(at=row.since, kind="installation", title=f"{verb} {place}"))
        if row.until is not None and getattr(row, "continued_by", None) is None:
            told.append(Entry(at=row.until, kind="installation", title=f"Taken out of {place}"))
    return told


def seat(row: Installation) -> str:
    """Where an installation puts the engine: "QX-106 LEFT"."""
    side = f" {row.get_position_display()}" if row.position != "single" else ""
    return f"{row.aircraft.registration}{side}"


def with_doubles(entries: Iterable[Entry], findings: Iterable[Finding], merge_url: str) -> tuple[Entry, ...]:
    """The entries, those of each possible duplicate among these findings marked; `merge_url` is "" for who may not."""
    marks: dict[str, tuple[str, str]] = {}
    for finding in findings:
        roots = [str(each["root"]) for each in finding.evidence]
        url = f"{merge_url}?pair={'~'.join(roots)}" if merge_url else ""
        said = ("Possible duplicate: this entry counts until it is decided.", "Possible duplicate: left out.")
        marks |= {f"fact-{root}": (words, url) for root, words in zip(roots, said, strict=False)}
    return tuple(
        replace(entry, double=marks[entry.anchor][0], merge_url=marks[entry.anchor][1])
        if entry.anchor in marks and not entry.corrected
        else entry
        for entry in entries
    )


def newest_first(*parts: Iterable[Entry]) -> list[Entry]:
    """All parts as one list."""
    return sorted((entry for part in parts for entry in part), key=lambda entry: entry.at, reverse=True)


def _at_hours(hours: float | None) -> str:
    return "" if hours is None else f" at {hours:.1f}\u202fh"


def who_entered(fact: Fact) -> str:
    """Who entered it, for whom, and how it came."""
    person: Person = fact.entered_by
    behalf = f" on behalf of {fact.on_behalf_of.name}" if fact.on_behalf_of else ""
    return f"entered by {person.name}{behalf}, {fact.get_source_display()}"


def _sentence(parts: Iterable[str]) -> str:
    said = ", ".join(part for part in parts if part)
    return said[:1].upper() + said[1:] + "." if said else ""
