"""The accessories of an engine as pages list them: each with its own clock, its interval and where that stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.urls import reverse

from breakin.models import Assessment
from engines.models import RESETTING_ACTS, Accessory, AccessoryAct, AccessoryEvent, Build, Engine
from reports.reader import Reader
from shop import access

H = "\u202fh"


@dataclass(frozen=True)
class AccessoryRow:
    """One accessory. `due` says so while its clock is worked out. `url` is where its work is entered."""

    label: str
    part: str
    interval: str
    source: str
    last: str
    done_by: str
    due: tuple[str, ...]
    left: str
    over: bool
    url: str
    id: int


@dataclass(frozen=True)
class Accessories:
    """Both clocks of the engine, each with its label, and the accessories. `url` leads to their own page."""

    clocks: tuple[tuple[str, str, str], ...]
    rows: tuple[AccessoryRow, ...]
    url: str

    @property
    def shown(self) -> bool:
        return bool(self.rows or self.url)

    @property
    def ids(self) -> frozenset[int]:
        return frozenset(row.id for row in self.rows)


def accessories_of(reader: Reader, engine: Engine, build: Build | None, assessment: Assessment | None) -> Accessories:
    """What this reader may see of them, by one query. Words and persons of another holder's time stay out."""
    may = access.may_now(reader.user, "install")
    rows = access.visible_to(reader.user, AccessoryEvent.objects.filter(accessory__engine=engine))
    rows = rows.filter(corrected_by__isnull=True, withdrawn=False).select_related("accessory").order_by("id")
    events: dict[int, list[AccessoryEvent]] = {}
    for event in rows:
        events.setdefault(event.accessory_id, []).append(event)
    found = assessment.detail.get("accessories") if assessment else None
    detail: Mapping[str, Any] = found if isinstance(found, dict) else {}
    watched = [each for each in events.values() if is_watched(each)]
    watched.sort(key=lambda each: (each[0].accessory.label.casefold(), each[0].accessory_id))
    return Accessories(
        clocks=_clocks(build, assessment, detail),
        rows=tuple(_row(reader, each, detail.get("clocks") or {}, may) for each in watched),
        url=reverse("engine_accessories", args=[engine.pk]) if may else "",
    )


def is_watched(events: list[AccessoryEvent]) -> bool:
    """Events that stand, in the order in which they were entered: does its clock run?"""
    return events[-1].act != AccessoryAct.REMOVED and any(each.act in RESETTING_ACTS for each in events)


def interval_words(hours: float | None, months: int | None) -> str:
    """ "500 h or 48 months, whichever comes first"."""
    said = [f"{hours:g}{H}"] if hours is not None else []
    said += [f"{months} months"] if months is not None else []
    return " or ".join(said) + (", whichever comes first" if len(said) > 1 else "")


def _clocks(
    build: Build | None, assessment: Assessment | None, detail: Mapping[str, Any]
) -> tuple[tuple[str, str, str], ...]:
    if build is None or assessment is None:
        return ()
    total, since = detail.get("total_time_h"), build.time_since_overhaul_h
    return (
        (
            "Engine total time",
            "not known" if total is None else f"{total:.1f}{H}",
            "never falls; accessories count on it",
        ),
        (
            "Time since overhaul",
            "not known" if since is None else f"{since + assessment.hours:.1f}{H}",
            "of the engine alone; no accessory counts on it",
        ),
    )


def _row(reader: Reader, events: list[AccessoryEvent], clocks: Mapping[str, Any], may: bool) -> AccessoryRow:
    terms = events[-1]
    last = max((each for each in events if each.act in RESETTING_ACTS), key=lambda each: (each.done_on, each.pk))
    clock = clocks.get(str(last.root)) or {}
    at = "" if last.total_time_h is None else f" at {last.total_time_h:g}{H} total time"
    had = f", with {last.own_hours_h:g}{H} behind it" if last.own_hours_h else ""
    own = access.words_are_for(reader.user, last)
    left_h = clock.get("left_h")
    return AccessoryRow(
        label=last.accessory.label,
        part=terms.part,
        interval=interval_words(terms.interval_h, terms.interval_months),
        source=terms.source,
        last=f"{last.get_act_display()} {last.done_on:%-d %b %Y}{at}{had}",
        done_by=last.done_by if own else "",
        due=_due(clock, terms),
        left=_left(left_h, terms),
        over=left_h is not None and left_h < 0,
        url=reverse("accessory_done", args=[last.accessory_id]) if may else "",
        id=last.accessory_id,
    )


def _left(left_h: float | None, terms: AccessoryEvent) -> str:
    if left_h is None:
        return "by its date alone" if terms.interval_h is None else "not known"
    return f"{abs(left_h):.1f}{H} {'left' if left_h >= 0 else 'over'}"


def _due(clock: Mapping[str, Any], terms: AccessoryEvent) -> tuple[str, ...]:
    if not clock:
        return ("being worked out",)
    said = []
    if clock.get("due_total_h") is not None:
        said.append(f"at {clock['due_total_h']:.1f}{H} total time")
    elif clock.get("due_h") is not None:
        said.append(f"at {clock['due_h']:.1f}{H} since the build")
    elif terms.interval_h is not None:
        said.append("hours not counted: the engine's total time is not in the book")
    if clock.get("due_on"):
        said.append(f"on {date.fromisoformat(clock['due_on']):%-d %b %Y}")
    return tuple(said)


@dataclass(frozen=True)
class Entered:
    """An entry of one accessory, for its own page."""

    event: AccessoryEvent
    interval: str
    url: str


def history_of(accessory: Accessory) -> tuple[Entered, ...]:
    """Every entry, newest first; what was taken back is marked by its reason. For the shop."""
    rows = accessory.events.select_related("by", "corrected_by__by").filter(withdrawn=False).order_by("-done_on", "-id")
    return tuple(
        Entered(
            row,
            interval_words(row.interval_h, row.interval_months),
            "" if hasattr(row, "corrected_by") else reverse("accessory_take_back", args=[row.pk]),
        )
        for row in rows
    )
