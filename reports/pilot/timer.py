"""The flight timer: the minute table of the next flight as a countdown, for the person who is not flying."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from breakin.models import Assessment, Finding, Severity, StageKind
from engines.models import Aircraft
from reports.pilot import words
from reports.pilot.aircraft_page import OPEN, Warned, stage_and_table, warned
from reports.pilot.card_issue import hand_out
from reports.pilot.log_flight_page import EngineSection, sections_of
from reports.pilot.timer_words import timer_words
from reports.reader import Reader
from shop import access
from shop.models import Shop

REPEATING = (StageKind.ALTERNATING, StageKind.SETTLE)  # the plan's word: again and again until landing


@dataclass(frozen=True)
class TimerTable:
    """The minutes that one engine flies next, or both of them where they are the same.

    side : "LEFT", "RIGHT" or "" for a single engine and for both.
    shown : rows (from and to, power, what counts), as on the pilot's page.
    steps : (minutes [min], what to set), for the countdown.
    repeats : begins again after its last row, until landing.
    """

    side: str
    label: str
    shown: Sequence[tuple[str, str, str]]
    steps: Sequence[tuple[float, str]]
    repeats: bool

    @property
    def schedule(self) -> str:
        """What the script reads: JSON of label, steps and repeats."""
        label = _("%(side)s engine: %(label)s") % {"side": self.side, "label": self.label} if self.side else self.label
        return json.dumps({"label": label, "steps": self.steps, "repeats": self.repeats})


@dataclass(frozen=True)
class TimerPage:
    """`chosen` is what the countdown starts; None while engines differ and none is named, or with a Stop open."""

    aircraft: Aircraft
    held: bool
    tables: Sequence[TimerTable]
    chosen: TimerTable | None
    stops: Sequence[tuple[str, Warned]]
    shop_name: str
    phone: str

    @property
    def words(self) -> dict[str, str]:
        """What the script says."""
        return timer_words()


def timer_page(aircraft: Aircraft, reader: Reader, now: datetime, side: str = "") -> TimerPage:
    """The timer of an aircraft that the reader may see; `side` is the engine to go by where the engines differ."""
    held = reader.staff or access.holds_now(reader.user, aircraft)
    sections = [row for row in sections_of(aircraft, now) if row.build] if held else []
    tables = _as_one([table for row in sections if (table := _table(row, reader, now))])
    named = [table for table in tables if table.side.lower() == side.lower()]
    stops = [(row.side, stop) for row in sections for stop in _stops(row, reader)]
    chosen = tables[0] if len(tables) == 1 else named[0] if named else None
    shop = Shop.objects.first()
    return TimerPage(
        aircraft=aircraft,
        held=held,
        tables=tables,
        chosen=None if stops else chosen,
        stops=stops,
        shop_name=shop.name if shop else _("the shop"),
        phone=shop.phone if shop else "",
    )


def _table(section: EngineSection, reader: Reader, now: datetime) -> TimerTable | None:
    assessment = Assessment.objects.filter(build=section.build).first()
    stage, table = stage_and_table(assessment, section.plan, hand_out(section, reader, now))
    steps = _steps(table)
    if not steps:
        return None
    return TimerTable(
        side=section.side,
        label=stage.get_kind_display() if stage else _("Next flight"),
        shown=words.minute_rows(table, section.plan.credit if section.plan else {}),
        steps=steps,
        repeats=stage is not None and stage.kind in REPEATING,
    )


def _steps(table: Any) -> list[tuple[float, str]]:
    """The rows of a minute table that can be timed."""
    rows = [row for row in table if isinstance(row, list | tuple) and len(row) == 2] if isinstance(table, list) else []
    return [
        (float(row[0]), _("%(band)s %% power") % {"band": row[1]})
        for row in rows
        if isinstance(row[0], int | float) and row[0] > 0
    ]


def _as_one(tables: list[TimerTable]) -> list[TimerTable]:
    """One table where all engines fly the same minutes in the same stage."""
    same = len({(table.label, tuple(table.shown), tuple(table.steps)) for table in tables}) == 1
    return [replace(tables[0], side="")] if same and len(tables) > 1 else tables


def _stops(section: EngineSection, reader: Reader) -> list[Warned]:
    found = Finding.objects.filter(build=section.build, state__in=OPEN, severity=Severity.STOP)
    return [warned(row, reader) for row in access.visible_to(reader.user, found)]
