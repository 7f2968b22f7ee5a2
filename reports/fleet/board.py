"""The fleet board: one row an engine in break-in, read from the assessments and computing nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db.models import FilteredRelation, OuterRef, Q, Subquery
from django.urls import reverse
from django.utils import timezone
from django.utils.text import Truncator

from breakin.models import Assessment, Lane, LaneCount, Notice, NoticeState, Phase, PhoneCall
from engines.models import BuildKind, Finish, Holding
from reports.fleet import board_query
from reports.fleet.board_query import LIVE, ORDERS, PAGE, Asked
from reports.fleet.call_page import newest_calls
from reports.freshness import Freshness, freshness
from reports.quantities import expected_hours, hours_of, level, oil_rate, quantity, share
from reports.reader import Reader
from shop.templatetags.words import ago, localwhen

MOST_CALLS = 12


@dataclass(frozen=True)
class Row:
    """One engine as the board prints it. Texts are ready; an empty one is left out."""

    id: int
    url: str
    registration: str
    side: str
    serial: str
    what: str
    customer: str
    customer_url: str
    owner: str
    phase: str
    lane: str
    reopened: bool
    reason: str
    hours: str
    expected: str
    first_two: str
    oil: str
    oil_word: str
    takeoff: str
    cht: str
    touch: str
    touch_when: str
    heard: str
    findings: str
    evidence: str


@dataclass(frozen=True)
class Tie:
    """The engines of one aircraft: one row, or the two of a twin."""

    rows: tuple[Row, ...]
    note: str = ""


@dataclass(frozen=True)
class Group:
    """The rows under one lane's heading. Without heading when the board isn't in the order of lanes."""

    label: str
    count: int | None
    ties: tuple[Tie, ...]
    empty: str = ""


@dataclass(frozen=True)
class Call:
    """Whom to phone about one aircraft today, and what to say: engines that share a sentence stand before it."""

    name: str
    phone: str
    customer: str
    lane: str
    said: tuple[tuple[tuple[tuple[str, str], ...], str], ...]  # (((address, "QX-101 LEFT"), ...), sentence)
    last_contact: str
    called: str  # the newest phone call in a sentence, "" when nobody has phoned
    log_url: str  # where a call is logged, "" for an engine that sits in no aircraft


@dataclass(frozen=True)
class Board:
    asked: Asked
    fresh: Freshness
    lanes: tuple[dict[str, Any], ...]
    groups: tuple[Group, ...]
    calls: tuple[Call, ...]
    more_calls: int
    calls_url: str
    total: int
    shown: int
    first_url: str
    next_url: str
    clear_url: str
    clear_all_url: str
    checked_words: str
    phases: tuple[tuple[str, str], ...]
    orders: tuple[tuple[str, str], ...]


def board(reader: Reader, asked: Asked, now: datetime) -> Board:
    """The page for one reader: a fixed number of queries, however many engines the shop has."""
    counts = dict(LaneCount.objects.values_list("lane", "builds"))
    fresh = freshness(now)
    page = board_query.rows(asked)
    more, page = len(page) > PAGE, page[:PAGE]
    if fresh.computed_at is None:
        # Before the first nightly run the newest judgement on this page is the best that can be said.
        newest = max((row.computed_at for row in page if row.computed_at), default=None)
        until = max((row.data_until for row in page if row.data_until), default=None)
        fresh = replace(fresh, computed_at=newest, data_until=until)
    checked = localwhen(fresh.computed_at) if fresh.computed_at else ""
    calls, more_calls = _calls(counts) if not asked.after else ((), 0)
    ties = _ties(page, asked, reader.units)
    return Board(
        asked=asked,
        fresh=fresh,
        lanes=_lanes(asked, counts),
        groups=_groups(ties, asked, counts, checked),
        calls=calls,
        more_calls=more_calls,
        calls_url=Asked(lane=Lane.CALL).url(),
        total=sum(counts.values()),
        shown=sum(len(tie.rows) for _, tie in ties),
        first_url=asked.url() if asked.after else "",
        next_url=asked.url(after=board_query.key(page[-1], asked)) if more else "",
        clear_url=Asked(lane=asked.lane).url(),
        clear_all_url=Asked().url(),
        checked_words=f"Checked {checked}." if checked else "",
        phases=tuple((value, str(label)) for value, label in Phase.choices),
        orders=tuple((name, label) for name, (label, _) in ORDERS.items()),
    )


def _lanes(asked: Asked, counts: dict[int, int]) -> tuple[dict[str, Any], ...]:
    def tab(lane: int | None, label: str, count: int) -> dict[str, Any]:
        return {"url": asked.url(lane=lane), "label": label, "count": count, "current": asked.lane == lane}

    tabs = (tab(lane.value, str(lane.label), counts.get(lane.value, 0)) for lane in Lane)
    return (tab(None, "All", sum(counts.values())), *tabs)


def _ties(page: list[Assessment], asked: Asked, units: str) -> list[tuple[int, Tie]]:
    """(lane, tie) in page order. A twin stands where the more urgent of its engines stands, once."""
    together = board_query.mates(page, asked) if any(row.twin for row in page) else {}
    ties = []
    for row in page:
        pair = together.get(row.aircraft_id, [row]) if row.twin and row.aircraft_id else [row]
        here = board_query.key(row, asked)
        if any(asked.holds(mate) and board_query.key(mate, asked) < here for mate in pair if mate.pk != row.pk):
            continue
        note = "Twin: the other engine has no break-in on this board." if row.twin and len(pair) == 1 else ""
        ties.append((row.lane, Tie(tuple(_row(each, asked, units) for each in pair), note)))
    return ties


def _groups(ties: list[tuple[int, Tie]], asked: Asked, counts: dict[int, int], checked: str) -> tuple[Group, ...]:
    if asked.order != "lane":
        return (Group("", None, tuple(tie for _, tie in ties)),) if ties else ()
    by_lane: dict[int, list[Tie]] = {}
    for lane, tie in ties:
        by_lane.setdefault(lane, []).append(tie)
    groups = [
        Group(Lane(lane).label, None if asked.narrowed else counts.get(lane), tuple(found))
        for lane, found in by_lane.items()
    ]
    # The lane of stopped engines is never left out: "none" is an answer, and says when it was found.
    if Lane.STOPPED not in by_lane and not asked.after and asked.lane is None and not asked.narrowed:
        groups.insert(0, Group(Lane.STOPPED.label, 0, (), f"none, checked {checked}" if checked else "none"))
    return tuple(groups)


def _row(row: Assessment, asked: Asked, units: str) -> Row:
    line = row.cht_line_degf
    return Row(
        id=row.pk,
        url=reverse("engine", args=[row.engine_id]) + ("" if row.live else f"?build={row.build_id}"),
        registration=row.registration,
        side=_side(row.side),
        serial=row.serial,
        what=_what(row),
        customer=row.customer_name,
        customer_url=asked.url(customer=row.customer_name, lane=None) if row.customer_name else "",
        owner=row.owner_name,
        phase=row.get_phase_display(),
        lane=row.get_lane_display(),
        reopened=row.reopened,
        reason=Truncator(row.call_reason or (str(row.lane_reasons[0]) if row.lane_reasons else "")).words(16),
        hours=hours_of(row.hours, None, None),
        expected=expected_hours(row.expected_low_h, row.expected_high_h),
        first_two=row.first_two_word,
        oil=_oil(row, units),
        oil_word=row.oil_word,
        takeoff=row.takeoff_ff_word,
        cht="" if row.cht_max_degf is None else _cht(row.cht_max_degf, line, units),
        touch=row.next_touch,
        touch_when=_touch(row),
        heard=ago(row.last_heard_at) if row.last_heard_at else "nothing yet",
        findings=_findings(row),
        evidence=f"{share(row.evidence_share)} grade A or B" if row.evidence_share is not None else "",
    )


def _side(side: str) -> str:
    return side.upper() if side in ("left", "right", "LEFT", "RIGHT") else ""


def _what(row: Assessment) -> str:
    kinds, finishes = dict(BuildKind.choices), dict(Finish.choices)
    finish = " / ".join(str(finishes.get(part.strip(), part.strip())) for part in row.finish.split("/") if part.strip())
    return ", ".join(part for part in (row.type_name, str(kinds.get(row.build_kind, row.build_kind)), finish) if part)


def _oil(row: Assessment, units: str) -> str:
    parts = []
    if row.oil_level_qt is not None:
        parts.append(level(row.oil_level_qt, None, units))
    if row.oil_rate_qt_h is not None:
        parts.append(oil_rate(row.oil_rate_qt_h, row.oil_rate_u_qt_h, units))
    return ", ".join(parts)


def _cht(value: float, line: float | None, units: str) -> str:
    hottest = quantity(value, "temperature", units)
    if line is None:
        return hottest
    word = "over" if value > line else "under"
    return f"{hottest}, {word} the line of {quantity(line, 'temperature', units)}"


def _touch(row: Assessment) -> str:
    parts = []
    if row.next_touch_h is not None:
        parts.append(f"at {row.next_touch_h:.1f}\u202fh")
    if row.next_touch_on is not None:
        parts.append(f"{row.next_touch_on.day} {row.next_touch_on:%b}")
    return ", ".join(parts)


def _findings(row: Assessment) -> str:
    counts = ((row.stops, "stop"), (row.calls, "call"), (row.watches, "watch"), (row.notes, "note"))
    return ", ".join(f"{n} {word}{_plural(n, word)}" for n, word in counts if n)


def _plural(count: int, word: str) -> str:
    return "" if count == 1 else "es" if word.endswith("ch") else "s"


def _calls(counts: dict[int, int]) -> tuple[tuple[Call, ...], int]:
    """The strip on top. Both engines of an aircraft are one call."""
    urgent = [Lane.STOPPED, Lane.CALL]
    waiting = sum(counts.get(lane, 0) for lane in urgent)
    told = Notice.objects.filter(build_id=OuterRef("build_id"), state=NoticeState.SENT).order_by("-sent_at")
    rows = list(
        Assessment.objects.filter(**LIVE, lane__in=urgent, sort_key__lt=f"{int(Lane.LATE)}")
        .defer("detail")
        .annotate(told_at=Subquery(told.values("sent_at")[:1]))
        .order_by("sort_key", "id")[:MOST_CALLS]
    )
    if not rows:
        return (), 0
    by_aircraft: dict[Any, list[Assessment]] = {}
    for row in rows:
        by_aircraft.setdefault(row.aircraft_id or f"engine {row.engine_id}", []).append(row)
    planes = [row.aircraft_id for row in rows if row.aircraft_id]
    contacts, called = _contacts(planes), newest_calls(planes)
    return tuple(_call(found, contacts, called) for found in by_aircraft.values()), max(0, waiting - len(rows))


def _call(rows: list[Assessment], contacts: dict[int, tuple[str, str]], called: Mapping[int, PhoneCall]) -> Call:
    first = rows[0]
    name, phone = contacts.get(first.aircraft_id or 0, ("", ""))
    heard = max((row.last_heard_at for row in rows if row.last_heard_at), default=None)
    sent = max((at for row in rows if (at := getattr(row, "told_at", None))), default=None)
    contact = [f"last heard from {ago(heard)}" if heard else "never heard from"]
    contact.append(f"last message {localwhen(sent)}" if sent else "no message sent yet")
    return Call(
        name=name or first.owner_name or "nobody named",
        phone=phone,
        customer=first.customer_name or "in the shop",
        lane=first.get_lane_display(),
        said=_said(rows),
        last_contact="; ".join(contact),
        called=_called(called.get(first.aircraft_id or 0)),
        log_url=reverse("aircraft_call", args=[first.aircraft_id]) if first.aircraft_id else "",
    )


def _called(call: PhoneCall | None) -> str:
    if call is None:
        return ""
    again = f"; again on {call.next_on.day} {call.next_on:%b}" if call.next_on else ""
    return (
        f"{call.by.name} phoned {ago(call.at)}, {call.get_reached_display()}: {Truncator(call.said).words(12)}{again}"
    )


def _said(rows: list[Assessment]) -> tuple[tuple[tuple[tuple[str, str], ...], str], ...]:
    by_sentence: dict[str, list[tuple[str, str]]] = {}
    for row in rows:
        by_sentence.setdefault(_sentence(row), []).append((reverse("engine", args=[row.engine_id]), _named(row)))
    return tuple((tuple(engines), sentence) for sentence, engines in by_sentence.items())


def _named(row: Assessment) -> str:
    place = " ".join(part for part in (row.registration, _side(row.side)) if part)
    return place or f"{row.type_name} {row.serial}"


def _sentence(row: Assessment) -> str:
    return row.call_reason or (str(row.lane_reasons[0]) if row.lane_reasons else "See the engine's open findings.")


def _contacts(aircraft: list[int]) -> dict[int, tuple[str, str]]:
    """(name, phone) of the person whom the shop calls, for each aircraft, by its holder of today."""
    now = timezone.now()
    first_contact = FilteredRelation(
        "customer__members",
        condition=Q(customer__members__first_contact=True)
        & (Q(customer__members__until__isnull=True) | Q(customer__members__until__gt=now)),
    )
    found = (
        Holding.objects.filter(Q(until__isnull=True) | Q(until__gt=now), aircraft_id__in=aircraft, since__lte=now)
        .annotate(first=first_contact)
        .values_list("aircraft_id", "customer__name", "customer__phone", "first__person__name", "first__person__phone")
    )
    return {
        plane: (person or customer, phone or customer_phone) for plane, customer, customer_phone, person, phone in found
    }
