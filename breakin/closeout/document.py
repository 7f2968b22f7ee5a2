"""The document of a close-out: facts and judgement of one build, in plain values with their units in the names."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from breakin.closeout import gaps, hardware, log, people
from breakin.closeout.canonical import HOW_TO_CHECK, canonical, plain, sha256
from breakin.judgement import Judgement, judge
from breakin.load import load
from breakin.models import CloseOutProposal
from breakin.record import BuildRecord
from breakin.review import Review
from breakin.rules import RULES
from breakin.rules.afterwards import follow_ups
from breakin.rules.criteria import Criterion
from breakin.rules.sealed import facts_of
from engines.models import Build
from shop.models import Person
from shop.version import VERSION

FORMAT = 1
STATEMENT = (
    "This file says which break-in criteria of the shop were met, were not met or are not known. It is not a "
    "maintenance release, not a return to service and no statement about airworthiness: those are acts under local "
    "law, by whoever holds the licence for them. The engine maker's current instructions, those of the cylinder's or "
    "ring's supplier, the POH/AFM and placards go before the shop's plan, and all of them before this file."
)
# Answers that are about reminders, or about the time after a close-out, and none about the break-in.
_NOT_IN_FILE = ("N", "C")


@dataclass(frozen=True)
class Draft:
    """The file as it would be sealed now, without number and signature.

    seen : SHA-256 of the draft, by which the signer's page and the seal know that they mean the same.
    """

    build: Build
    record: BuildRecord
    judgement: Judgement
    document: dict[str, Any]
    seen: str

    @property
    def review(self) -> Review:
        return self.judgement.review

    @property
    def hours(self) -> float:
        return float(self.judgement.board["hours"])

    def sealed(self) -> dict[str, Any]:
        """What later judgements compare with, as breakin.record.SealedFacts holds it."""
        oil, window = self.judgement.detail["oil"], self.judgement.detail["oil"]["paper"]["window"]
        return {
            "rate_qt_h": oil["rate_qt_h"],
            "u_qt_h": oil["u_qt_h"],
            "window": [window[name] for name in ("from_h", "to_h", "rate_qt_h", "u_qt_h")] if window else None,
            "first_two": self.judgement.detail["credit"]["first_two"].get("central", "not known"),
            "criteria": [[one.key, one.met] for one in self.review.criteria],
            "roots": [[one.root, one.kind, one.words, one.recording] for one in facts_of(self.record)],
        }


def drafted(build: Build, proposal: CloseOutProposal | None, now: datetime) -> Draft:
    """The draft of the file from the facts as they are now."""
    record = load([build.pk], now)[build.pk]
    judgement = judge(record, now)
    document = plain(_document(build, record, judgement, proposal))
    return Draft(build, record, judgement, document, sha256(canonical(document)))


def signed(draft: Draft, *, by: Person, number: int, alone: bool, now: datetime) -> dict[str, Any]:
    """The whole document, with its number and its signature."""
    words = "Proposed and signed by the only person of this shop: there was no second look by another." if alone else ""
    signature = {"by": by.name, "at": now, "alone": alone, "words": words}
    document: dict[str, Any] = plain(
        {**draft.document, "file": {**draft.document["file"], "number": number}, "signed": signature}
    )
    return document


def _document(
    build: Build, record: BuildRecord, judgement: Judgement, proposal: CloseOutProposal | None
) -> dict[str, Any]:
    detail, review = judgement.detail, judgement.review
    reservations = [
        *(proposal.reservations if proposal else []),
        *(_reservation(row.criterion) for row in review.waived),
    ]
    return {
        "format": {"name": "close-out file", "version": FORMAT, "how_to_check": HOW_TO_CHECK, "units": UNITS},
        "statement": STATEMENT,
        "file": {
            "build": build.number,
            "closed": "closed out with reservation" if reservations else "closed out",
            "reservations": reservations,
        },
        "proposed": people.proposed(proposal),
        **hardware.hardware(build, record),
        "clocks": hardware.clocks(build, record, detail["clock"]),
        "flights": log.flights(record, detail),
        "recordings": log.recordings(record),
        "oil_events": log.oil_events(record),
        "oil_windows": [
            {"from_h": one.h1, "to_h": one.h2, "rate_qt_h": one.rate, "u_qt_h": one.u_rate, "added_qt": one.added}
            for one in judgement.windows
        ],
        "inspections": log.inspections(record),
        "findings": people.findings(build),
        "criteria": [{"key": one.key, "what": one.what, "why": one.why, "met": one.met} for one in review.criteria],
        "waivers": people.waivers(review),
        "corrections": log.corrections(build, record),
        "missing": gaps.missing(record),
        "not_assessed": gaps.not_assessed(detail["rules"]),
        "follow_ups": _follow_ups(record, judgement),
        "assessment": _assessment(detail),
        "versions": {
            "rules": judgement.rules_version,
            "each_rule": {name: rule.version for name, rule in RULES.items()},
            "software": VERSION,
            "evidence": record.digest(),
        },
    }


def _reservation(criterion: Criterion) -> str:
    return f"Not met and waived: {criterion.what[0].lower()}{criterion.what[1:]}. {criterion.why}"


def _assessment(detail: dict[str, Any]) -> dict[str, Any]:
    rules = [row for row in detail["rules"] if not row["rule"].startswith(_NOT_IN_FILE)]
    return {"oil": detail["oil"], "credit": detail["credit"], "heat": detail["heat"], "rules": rules}


def _follow_ups(record: BuildRecord, judgement: Judgement) -> list[dict[str, Any]]:
    if record.plan is None:
        return []
    hours = float(judgement.board["hours"])
    asks = "oil rate, filter, compression"
    return [
        {
            "after_h": ahead,
            "at_h": hours + ahead,
            "after_days": days,
            "asks": f"{asks}; the confirming window" if place == 0 else asks,
        }
        for place, (ahead, days) in enumerate(follow_ups(record.plan))
    ]


UNITS = (
    "Units stand at the end of each name: qt is the US quart, gph is US gal/h, degf is °F, h is hours on the basis "
    "clock since the first flight after the build. Moments are in UTC. Doubts (u) are one standard deviation."
)
