"""The judgement of one build: rules asked, phase, lane, what is due and what is lacking. Pure: a record and a moment.

The same record at the same moment always gives the same judgement. What people decided (acknowledged, cleared, waived)
is part of the record, so that a decision holds when the build is judged again.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from breakin.calc.oil import Window
from breakin.calc.said import Said
from breakin.detail import detail_of, oil_word
from breakin.lanes import CALL, STOPPED, Standing, lane_of
from breakin.picture.heat import HeatRow, watch_line_degf
from breakin.picture.oil_estimate import governing_finish
from breakin.picture.picture import Picture
from breakin.picture.recorded import evidence_grade
from breakin.record import BuildRecord
from breakin.review import Review, next_stage, phase_of, review_of
from breakin.rules import RULES, RULES_VERSION, SAFETY, Answer, Asked, Hit, Rule
from breakin.rules.base import STOP

SHOP_KINDS = (
    *("oil_filter", "follow_up", "leak", "preservation", "instruments"),
    *("borescope", "cut_filter", "look_metal", "look_rings", "look_cooling", "look_induction"),
)
AFTER_CLOSING = "C"  # rules that look at a build after its close-out
OPEN_DUE = ("waiting", "due_soon", "due", "late")
ASKED_TODAY = OPEN_DUE[1:]


@dataclass(frozen=True)
class FoundHit:
    """A hit with the rule that found it and what a person has decided about it."""

    rule: Rule
    hit: Hit
    decision: str

    @property
    def key(self) -> tuple[str, str]:
        return self.rule.id, self.hit.key

    @property
    def standing(self) -> bool:
        return self.decision != "cleared"

    @property
    def unanswered(self) -> bool:
        return self.decision == ""


@dataclass(frozen=True)
class AskedItem:
    rule: Rule
    asked: Asked

    @property
    def key(self) -> tuple[str, str]:
        return self.rule.id, self.asked.occurrence

    @property
    def open(self) -> bool:
        return self.asked.state in OPEN_DUE


@dataclass(frozen=True)
class Judgement:
    """What the server concludes of one build at one moment. The board's columns, and `detail` for everything else."""

    phase: str
    reopened: bool
    stopped: bool
    live: bool
    lane: int
    lane_reasons: tuple[str, ...]
    call_reason: str
    findings: tuple[FoundHit, ...]
    due: tuple[AskedItem, ...]
    next_change_at: datetime | None
    data_until: datetime | None
    rules_version: str
    detail: dict[str, Any]
    board: dict[str, Any]
    review: Review
    windows: tuple[Window, ...]  # of the oil log: those that can be judged
    reopens: FoundHit | None = None


def answers(record: BuildRecord, now: datetime) -> tuple[Picture, dict[str, Answer]]:
    """Every rule's answer."""
    picture = Picture(record, now)
    return picture, {one.id: one.ask(picture) for one in RULES.values()}


def safety_hits(record: BuildRecord, now: datetime) -> tuple[FoundHit, ...]:
    """What the safety rules find: those that answer while the person who logged is still there."""
    picture = Picture(record, now)
    return tuple(FoundHit(one, hit, decided(record, one, hit)) for one in SAFETY for hit in one.ask(picture).hits)


def decided(record: BuildRecord, one: Rule, hit: Hit) -> str:
    """What a person decided about this hit. A milder finding that was acknowledged does not answer a graver one."""
    row = next((row for row in record.decisions if (row.rule, row.occurrence) == (one.id, hit.key)), None)
    if row is None or (row.state == "acknowledged" and row.severity < hit.severity):
        return ""
    return row.state


def judge(record: BuildRecord, now: datetime) -> Judgement:
    """Judge a build.

    Parameters
    ----------
    record : BuildRecord
    now : aware datetime.

    Returns
    -------
    Judgement
    """
    picture, told = answers(record, now)
    findings = tuple(
        FoundHit(RULES[name], hit, decided(record, RULES[name], hit)) for name, one in told.items() for hit in one.hits
    )
    due = tuple(AskedItem(RULES[name], _waived(record, name, item)) for name, one in told.items() for item in one.asked)
    stops = _stops(record, findings)
    review = review_of(picture, _open_words(findings), bool(stops))
    phase = phase_of(picture, review)
    standing = Standing(
        picture=picture,
        phase=phase,
        stops=stops,
        calls=tuple(one.hit.text for one in findings if one.hit.severity == 3 and one.unanswered),
        due=tuple(item.asked for item in due if item.open),
        slow=told["O11"].word == "not met",
    )
    lane, reasons = lane_of(standing)
    to_look_at = any(one.unanswered for one in findings if one.rule.id.startswith(AFTER_CLOSING))
    live = record.state == "open" or any(item.open for item in due) or bool(stops) or to_look_at
    changes = [moment for item in due if item.open for moment in item.asked.changes_at]
    changes += [moment for one in told.values() for moment in one.changes_at]
    ahead = next_stage(picture, phase)
    return Judgement(
        phase=phase,
        reopened=record.state == "open" and any(event.kind == "reopened" for event in record.events),
        stopped=bool(stops),
        live=live,
        lane=lane,
        lane_reasons=reasons,
        call_reason=whole_sentences(_call_reason(standing)),
        findings=findings,
        due=due,
        next_change_at=min((moment for moment in changes if moment > now), default=None),
        data_until=record.data_until,
        rules_version=RULES_VERSION,
        detail={**detail_of(picture, told, review, ahead), "said": _messages(due)},
        board={**_board(picture, findings, due, stops, lane), "asks": live and _asks(due, lane)},
        review=review,
        windows=tuple(one for one in picture.oil.sliding if one.assessable),
        reopens=_reopens(record, findings),
    )


def _reopens(record: BuildRecord, findings: tuple[FoundHit, ...]) -> FoundHit | None:
    """What takes a closed break-in up again by itself: a hit that says so and that nobody has cleared."""
    if record.state != "closed":
        return None
    return next((one for one in findings if one.hit.reopens and one.standing), None)


def _waived(record: BuildRecord, rule_id: str, item: Asked) -> Asked:
    if item.state != "done" and record.decision(rule_id, item.occurrence) == "waived":
        return replace(item, state="waived", escalation="", changes_at=())
    return item


def _stops(record: BuildRecord, findings: tuple[FoundHit, ...]) -> tuple[str, ...]:
    """The words of every Stop that no technician has cleared: found now, or standing in the book from before."""
    found = {one.key: one.hit.text for one in findings if one.hit.severity == STOP and one.standing}
    for row in record.standing_stops:
        found.setdefault((row.rule, row.occurrence), row.text)
    return tuple(found.values())


def _open_words(findings: tuple[FoundHit, ...]) -> tuple[str, ...]:
    """Stops and calls that nobody has closed: each keeps a build from review."""
    return tuple(one.hit.title or one.rule.title for one in findings if one.hit.severity >= 3 and one.unanswered)


def whole_sentences(text: str, most: int = 240) -> str:
    """The sentences at the head of a text that fit into `most` characters; a first one that is longer ends in "…"."""
    if len(text) <= most:
        return text
    ends = [found.start() + 1 for found in re.finditer(r"[.!?](?= )", text) if found.start() < most]
    return text[: ends[-1]] if ends else f"{text[: most - 1].rsplit(' ', 1)[0]}…"


def _call_reason(standing: Standing) -> str:
    """One sentence: why to phone today."""
    if standing.stops:
        return standing.stops[0]
    if standing.calls:
        return standing.calls[0]
    called = standing.called
    return called[0].text if called else ""


def _board(
    picture: Picture,
    findings: tuple[FoundHit, ...],
    due: tuple[AskedItem, ...],
    stops: tuple[str, ...],
    lane: int,
) -> dict[str, Any]:
    """The columns of a row of the fleet board."""
    record, oil, credit = picture.record, picture.oil, picture.power.credit
    seat = record.installation if record.installed_now else None
    last = picture.heat[-1] if picture.heat else None
    touch = _next_touch(due)
    counts = {level: sum(1 for one in findings if one.hit.severity == level and one.unanswered) for level in (1, 2, 3)}
    flights = picture.clock.flights
    good = sum(1 for placed in flights if evidence_grade(placed.run) in "AB")
    side = seat.position if seat and seat.position != "single" else ""
    registration = seat.registration if seat else ""
    heard = [row.received_at for rows in (record.runs, record.oil) for row in rows]
    return {
        "registration": registration,
        "side": side,
        "twin": record.twin,
        "serial": record.serial,
        "customer_name": record.customer,
        "type_name": record.type.designation,
        "build_kind": record.kind,
        "finish": governing_finish(record),
        "hours": round(picture.hours, 3),
        "expected_low_h": record.plan.expected_low_h if record.plan else None,
        "expected_high_h": record.plan.expected_high_h if record.plan else None,
        "first_two_word": credit.word if credit else "not known",
        "oil_level_qt": oil.level_now,
        "oil_rate_qt_h": _rounded(oil.rate),
        "oil_rate_u_qt_h": _rounded(oil.u_rate),
        "oil_word": oil_word(picture),
        "takeoff_ff_word": last.fuel.word if last else "not observed",
        "cht_max_degf": _last_cht(picture.heat),
        "cht_line_degf": watch_line_degf(record),
        **touch,
        "last_heard_at": max(heard, default=None),
        "stops": len(stops),
        "calls": counts[3],
        "watches": counts[2],
        "notes": counts[1],
        "evidence_share": round(good / len(flights), 3) if flights else None,
        "owner_name": record.owner,
        "place_name": seat.place_name if seat else "",
        "sort_key": f"{lane}|{registration or '~'}|{side}|{record.serial}"[:80],
    }


def _asks(due: tuple[AskedItem, ...], lane: int) -> bool:
    """Does the engine stand on the list of today: something to do soon, a Stop, or somebody to phone?"""
    return lane in (STOPPED, CALL) or any(item.asked.state in ASKED_TODAY for item in due)


def _messages(due: tuple[AskedItem, ...]) -> dict[str, Any]:
    """What of the board's columns pilots read in their own language, as messages."""
    first = _first_touch(due)
    return {"next_touch": first.title.to_dict()} if first and isinstance(first.title, Said) else {}


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _last_cht(heat: tuple[HeatRow, ...]) -> float | None:
    return heat[-1].hottest.value if heat else None


def _first_touch(due: tuple[AskedItem, ...]) -> Asked | None:
    """What the shop does next: by hours first, else by date."""
    shop = [item.asked for item in due if item.open and item.asked.kind in SHOP_KINDS]
    order = {"late": 0, "due": 1, "due_soon": 2, "waiting": 3}
    return min(shop, key=lambda item: (order[item.state], item.due_h or 0.0), default=None)


def _next_touch(due: tuple[AskedItem, ...]) -> dict[str, Any]:
    first = _first_touch(due)
    on: date | None = None
    if first is not None:
        on = first.forecast_on or (first.due_at.date() if first.due_at else None)
    return {
        "next_touch": first.title[:80] if first else "",
        "next_touch_h": first.due_h if first else None,
        "next_touch_on": on,
    }
