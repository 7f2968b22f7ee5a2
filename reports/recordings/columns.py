"""The columns of a recorder as a person is shown them: what was found, what is proposed and why, what is asked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from breakin.calc.recording.scales import GROUPS
from breakin.models import ChannelMap, Recording, RecordingRead
from breakin.reading.columns import newest_map
from breakin.reading.spec import nearest_seats, seats_at
from breakin.saying import tongue
from reports.recordings.prose import said_again

CHANNELS: dict[str, Promise] = {
    "time": gettext_lazy("time"),
    "date": gettext_lazy("date"),
    "rpm": gettext_lazy("engine speed"),
    "manifold_pressure": gettext_lazy("manifold pressure"),
    "fuel_flow": gettext_lazy("fuel flow"),
    "cht": gettext_lazy("cylinder head temperature"),
    "egt": gettext_lazy("exhaust gas temperature"),
    "tit": gettext_lazy("turbine inlet temperature"),
    "oil_temp": gettext_lazy("oil temperature"),
    "oil_press": gettext_lazy("oil pressure"),
    "oat": gettext_lazy("outside air temperature"),
    "alt": gettext_lazy("altitude"),
    "airspeed": gettext_lazy("airspeed"),
}
COMMON = frozenset({"oat", "alt", "airspeed"})
PER_CYLINDER = frozenset({"cht", "egt"})
CLOCK = frozenset({"time", "date"})
UNIT_WORDS = {"F": "°F", "C": "°C", "gph": "US gal/h", "lb/h": "lb/h", "imp gal/h": "imp. gal/h"}
DATE_FIELDS = frozenset({"date", "flight_date"})
ORDERS = {"dmy": gettext_lazy("day, month, year"), "mdy": gettext_lazy("month, day, year")}


@dataclass(frozen=True)
class ColumnLine:
    """One column of the file. `channel`, `side`, `cylinder` and `unit` are what stands in the form at first."""

    place: int
    name: str
    unit_text: str
    samples: str
    reach: str
    why: str
    channel: str = ""
    side: str = "1"
    cylinder: int | None = None
    unit: str = ""


@dataclass(frozen=True)
class Asked:
    """A question in a full sentence. `kind` is "unit", "date", "order", "column" or "" for one the table answers."""

    field: str
    text: str
    kind: str
    choices: tuple[tuple[str, str], ...] = ()
    group: str = ""


@dataclass(frozen=True)
class ColumnsPage:
    """What the page of the columns shows. `before` is the map that holds for this recorder so far."""

    recording: Recording
    columns: tuple[ColumnLine, ...]
    questions: tuple[Asked, ...]
    position: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    before: ChannelMap | None
    twin: bool
    has_date: bool


def columns_page(recording: Recording, reading: RecordingRead) -> ColumnsPage:
    """The page for a file that was looked at; `reading.look` is not empty."""
    look: Mapping[str, Any] = reading.look
    before = newest_map(recording.aircraft_id, str(look["signature"]))
    mapping: Mapping[str, Any] = before.mapping if before is not None else look.get("mapping") or {}
    position = tuple(str(name) for name in look.get("position") or ())
    placed = _placed(mapping)
    shown = [column for column in look["columns"] if column["name"] not in position]
    now = recording.uploaded_at
    seats = seats_at(recording.aircraft_id, now) or nearest_seats(recording.aircraft_id, now)
    return ColumnsPage(
        recording=recording,
        columns=tuple(_line(place, column, placed, mapping) for place, column in enumerate(shown)),
        questions=tuple(_asked(each) for each in look.get("questions") or ()),
        position=position,
        facts=_facts(look),
        before=before,
        twin=len(seats) > 1 or "2" in (mapping.get("engines") or {}),
        has_date=bool(look.get("has_date")),
    )


def unit_words(unit: str) -> str:
    return UNIT_WORDS.get(unit, unit)


def mapping_of(chosen: Sequence[ColumnLine], answers: Mapping[str, str]) -> dict[str, Any]:
    """The mapping in the shape that the reader takes, from what was chosen for each column.

    answers : of the questions about units, by group; such an answer holds for all columns of its group.
    """
    engines: dict[str, dict[str, Any]] = {}
    common: dict[str, str] = {}
    units: dict[str, str] = {}
    clock: dict[str, str] = {}
    for line in chosen:
        if line.channel in CLOCK:
            clock[line.channel] = line.name
            continue
        if line.channel in COMMON:
            common[line.channel] = line.name
        elif line.channel in PER_CYLINDER:
            heads = engines.setdefault(line.side, {}).setdefault(line.channel, [])
            heads += [None] * ((line.cylinder or 1) - len(heads))
            heads[(line.cylinder or 1) - 1] = line.name
        else:
            engines.setdefault(line.side, {})[line.channel] = line.name
        only = GROUPS[line.channel][0] if len(GROUPS[line.channel]) == 1 else "auto"
        units[line.name] = answers.get(line.channel) or line.unit or only
    mapping: dict[str, Any] = {"engines": engines, "common": common, "units": units}
    if "date" in clock:
        mapping["time"] = [clock["date"], clock.get("time", "")] if "time" in clock else clock["date"]
    elif "time" in clock:
        mapping["time"] = clock["time"]
    return mapping


def _placed(mapping: Mapping[str, Any]) -> dict[str, tuple[str, str, int | None]]:
    """Column name -> channel, side, cylinder of a mapping."""
    placed: dict[str, tuple[str, str, int | None]] = {}
    time = mapping.get("time")
    if isinstance(time, list) and len(time) == 2:
        placed |= {time[0]: ("date", "1", None), time[1]: ("time", "1", None)}
    elif time:
        placed[time[0] if isinstance(time, list) else str(time)] = ("time", "1", None)
    for side, channels in (mapping.get("engines") or {}).items():
        for channel, named in channels.items():
            if isinstance(named, str):
                placed[named] = (channel, side, None)
            else:
                placed |= {name: (channel, side, number) for number, name in enumerate(named, 1) if name}
    placed |= {name: (channel, "1", None) for channel, name in (mapping.get("common") or {}).items()}
    return placed


def _line(
    place: int, column: Mapping[str, Any], placed: Mapping[str, tuple[str, str, int | None]], mapping: Mapping[str, Any]
) -> ColumnLine:
    name = str(column["name"])
    channel, side, cylinder = placed.get(name, ("", "1", None))
    guess: Mapping[str, Any] = column.get("guess") or {}
    unit = str((mapping.get("units") or {}).get(name) or "")
    return ColumnLine(
        place=place,
        name=name,
        unit_text=str(column.get("unit_text") or ""),
        samples=", ".join(str(each) for each in column.get("samples") or ()),
        reach=_reach(column),
        why=_why(guess, channel),
        channel=channel,
        side=side,
        cylinder=cylinder,
        unit="" if unit == "auto" else unit,
    )


def _reach(column: Mapping[str, Any]) -> str:
    low, high, blank = column.get("low"), column.get("high"), float(column.get("blank_share") or 0)
    said = _("no numbers")
    if low is not None and high is not None:
        said = _("%(low)s to %(high)s") % {"low": _bare(low), "high": _bare(high)}
    share = {"said": said, "share": f"{blank * 100:.0f}\u202f%"}
    return _("%(said)s; %(share)s blank") % share if blank >= 0.005 else said


def _bare(value: float) -> str:
    return tongue().number(f"{value:,.6g}").replace("-", "\u2212")


def _why(guess: Mapping[str, Any], channel: str) -> str:
    if not guess:
        return "" if channel else _("Not recognised: left out unless you say otherwise.")
    why = said_again(guess.get("why"))
    return f"{why[:1].upper()}{why[1:]}."


def _asked(question: Mapping[str, Any]) -> Asked:
    field, text = str(question["field"]), said_again(question["text"])
    choices = tuple(str(each) for each in question.get("choices") or ())
    if field in DATE_FIELDS:
        return Asked("flight_date", text, "date")
    if field == "date_order":
        return Asked(field, text, "order", tuple((each, str(ORDERS.get(each, each))) for each in choices))
    if field.startswith("units.") and choices:
        group = field.removeprefix("units.")
        return Asked(field, text, "unit", tuple((each, unit_words(each)) for each in choices), group)
    if field in CHANNELS and choices:
        return Asked(field, text, "column", tuple((each, each) for each in choices))
    return Asked(field, text, "")


def _facts(look: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """How the file is written, as far as it was found out."""
    marks = {",": _("commas"), ";": _("semicolons"), "\t": _("tabs"), "|": _("bars"), " ": _("blanks")}
    delimiter, decimal = str(look.get("delimiter") or ""), str(look.get("decimal") or "")
    return (
        (_("Columns parted by"), marks.get(delimiter, delimiter)),
        (_("Decimals after a"), _("comma") if decimal == "," else _("point")),
        (_("Names of the columns in row"), str(look.get("header_line") or "")),
        (_("Time written as"), said_again(look.get("time_format"))),
        (_("Letters"), str(look.get("encoding") or "")),
    )


def units_of(channel: str) -> tuple[str, ...]:
    """The units that a channel may be in."""
    return GROUPS.get(channel, ())
