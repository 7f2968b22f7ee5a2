"""A close-out file against the facts as they are now: what changed, and what the file would say today."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from breakin.calc.said import Day
from breakin.picture.picture import Picture
from breakin.record import BuildRecord, InspectionFacts, OilFacts, RunFacts, SealedFacts
from breakin.rules.criteria import Criterion, criteria_of

OIL_WORDS = {
    "reading": "oil reading",
    "addition": "oil addition",
    "none_added": "note that no oil was added",
    "drain_fill": "oil change",
    "loss_seen": "oil loss seen",
}


@dataclass(frozen=True)
class Fact:
    """One fact that a close-out rests on. recording : the file that stands behind a flight, or 0."""

    kind: str
    root: str
    words: str
    at: datetime
    received_at: datetime
    recording: int = 0


@dataclass(frozen=True)
class Change:
    """A fact that is not as it was sealed. at : when that came in, or when the file was sealed for one that went."""

    kind: str
    root: str
    words: str
    at: datetime


def facts_of(record: BuildRecord) -> Iterator[Fact]:
    """Every fact of the record that people entered: flights and ground runs, oil, inspections."""
    rows: tuple[RunFacts | OilFacts | InspectionFacts, ...] = (*record.runs, *record.oil, *record.inspections)
    return (_fact(row) for row in rows)


def _fact(row: RunFacts | OilFacts | InspectionFacts) -> Fact:
    on = Day(row.at.date())
    if isinstance(row, RunFacts):
        words = f"{'flight' if row.is_flight else 'ground run'} of {on}"
        return Fact(
            "flight", str(row.root), words, row.at, row.received_at, row.recorded.recording_id if row.recorded else 0
        )
    if isinstance(row, OilFacts):
        return Fact("oil", str(row.root), f"{OIL_WORDS.get(row.kind, row.kind)} of {on}", row.at, row.received_at)
    words = f"{row.kind.replace('_', ' ')} inspection of {on}"
    return Fact("inspection", str(row.root), words, row.at, row.received_at)


def changes_since(record: BuildRecord, sealed: SealedFacts) -> tuple[Change, ...]:
    """What is not as it was sealed, in the order in which it came in."""
    sealed_roots = {root: (kind, words, recording) for root, kind, words, recording in sealed.roots}
    now = {one.root: one for one in facts_of(record)}
    found = []
    for root, one in now.items():
        before = sealed_roots.get(root)
        if before is None:
            if one.at <= sealed.at:
                found.append(Change(one.kind, root, f"{one.words} came in", max(one.received_at, sealed.at)))
        elif one.received_at > sealed.at:
            found.append(Change(one.kind, root, f"{before[1]} corrected", one.received_at))
        elif one.recording != before[2]:
            found.append(Change(one.kind, root, f"{before[1]} has another recording behind it", sealed.at))
    gone = (root for root in sealed_roots if root not in now)
    found += [
        Change(sealed_roots[root][0], root, f"{sealed_roots[root][1]} withdrawn or merged", sealed.at) for root in gone
    ]
    return tuple(sorted(found, key=lambda one: (one.at, one.root)))


def evidence_key(changed: tuple[Change, ...]) -> str:
    """A short name of exactly these changes: another one is found anew."""
    said = ",".join(f"{one.root} {one.at.isoformat()} {one.words}" for one in changed)
    return hashlib.sha256(said.encode()).hexdigest()[:16]


def as_of(record: BuildRecord, sealed: SealedFacts) -> BuildRecord:
    """The record as it would have been at the close-out, with the facts as they are now."""
    return replace(
        record,
        state="open",
        closed_at=None,
        runs=tuple(row for row in record.runs if row.at <= sealed.at),
        oil=tuple(row for row in record.oil if row.at <= sealed.at),
        inspections=tuple(row for row in record.inspections if row.at <= sealed.at),
        events=tuple(row for row in record.events if row.at < sealed.at),
        sealed=None,
        proposal=None,
    )


def fallen_criteria(record: BuildRecord, sealed: SealedFacts) -> tuple[Criterion, ...]:
    """Criteria that were met in the file and are met no more."""
    met = {key for key, was_met in sealed.criteria if was_met}
    again = criteria_of(Picture(as_of(record, sealed), sealed.at))
    return tuple(one for one in again if one.key in met and not one.met)


def what_differs(picture: Picture, sealed: SealedFacts) -> str:
    """What the file would say if it were sealed today, in sentences."""
    again = Picture(as_of(picture.record, sealed), sealed.at)
    credit = again.power.credit
    said = []
    if abs(again.hours - sealed.hours) >= 0.05:
        said.append(f"{again.hours:.1f} h instead of {sealed.hours:.1f} h")
    first_two = credit.first_two if credit else "not known"
    if first_two != sealed.first_two:
        said.append(f"first two hours {first_two} instead of {sealed.first_two or 'not known'}")
    rate, before = again.oil.rate, sealed.rate_qt_h
    if _rate(rate) != _rate(before):
        said.append(f"loss {_rate(rate)} instead of {_rate(before)}")
    was = dict(sealed.criteria)
    turned = [one for one in criteria_of(again) if one.key in was and was[one.key] != one.met]
    said += [f"“{one.what}” {'met' if one.met else 'not met'}" for one in turned]
    return f"Sealed today it would say: {', '.join(said)}." if said else "Sealed today it would judge the same."


def _rate(rate: float | None) -> str:
    return "not known" if rate is None else f"{rate:.2f} qt/h"
