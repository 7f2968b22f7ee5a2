"""An inspection as a technician typed it: what was looked at, what was measured, and the verdict."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from breakin.entries.inspection_reading import About
from breakin.entries.inspection_results import READERS, least_result
from breakin.entries.moments import check_past, local, moment, zone_of
from breakin.entries.oil import OilEntry, confirmed, read_oil
from breakin.entries.ranges import METER
from breakin.entries.sheet import Sheet
from breakin.models.oil import OilEventKind
from engines.models import InspectionKind, InspectionResult
from shop.errors import Problem

# Why an unusual value is right: the reason that is kept with it.
SURE = ("measured_twice", "as_found", "other_tool", "maker_allows")
_RANK = {InspectionResult.NORMAL.value: 0, InspectionResult.WATCH.value: 1, InspectionResult.STOP.value: 2}


@dataclass(frozen=True)
class InspectionEntry:
    """One inspection, understood. `results` has the keys of its kind; `oil` is what it did with the oil."""

    client_id: UUID
    kind: str
    happened_at: datetime
    zone: str
    written_at: datetime | None
    performed_by_id: int | None
    inspector_id: int | None
    hours: float | None
    result: str
    results: dict[str, Any]
    oil: tuple[OilEntry, ...]
    note: str
    typed: dict[str, list[str]] = field(default_factory=dict)
    absent: dict[str, str] = field(default_factory=dict)
    warnings: tuple[Problem, ...] = ()

    def local_date(self) -> date:
        return self.happened_at.astimezone(ZoneInfo(self.zone)).date()


def parse_inspection(
    raw: Mapping[str, Any], *, units: str, zone: str, now: datetime, about: About | None = None
) -> InspectionEntry:
    """Read an inspection.

    Parameters
    ----------
    raw : JSON-like: client_id, kind, happened_at (or local_date and local_time; default now), performed_by_id,
        inspector_id, hours, result, note, `results` (the keys of its kind, see `inspection_results`), and for an oil
        check `reading`, for an oil change `drain_fill`: oil events without kind and engine. A filter that is cut open
        later is told without oil: `oil_changed` no. `confirmed` names the unusual values that are right, and
        `confirmed_why` gives the reason for each, one of SURE.
    units, zone, now : as in `parse_flight`.
    about : what is known of the engine, for the questions about unusual values.

    Raises
    ------
    Refusal : with every problem found.
    """
    sheet = Sheet(raw, units=units)
    sheet.found.confirmed = confirmed(sheet)
    zone = zone_of(sheet, zone)
    client_id = sheet.uuid("client_id", "Identifier")
    if client_id is None:
        sheet.problem("client_id", "The form carries no identifier, so a resend would count twice. Open the form anew.")
    sheet.need("kind", "The kind of inspection", f"Choose one of {', '.join(InspectionKind.values)}.")
    kind = sheet.choice("kind", "Kind of inspection", InspectionKind.values)
    at = local(sheet, "local_date", "local_time", "When it was done", zone) or moment(
        sheet, "happened_at", "When it was done", zone
    )
    sheet.used |= {"local_date", "local_time", "clock_change", "happened_at"}
    if at is not None:
        check_past(sheet, "happened_at", "When it was done", at, zone, now)
    results = _read_results(sheet, kind, at or now, about or About())
    result = sheet.choice("result", "Verdict", InspectionResult.values)
    result = _check_result(sheet, kind, result, results)
    entry_oil = _read_oil(sheet, kind, client_id, zone, now, results)
    why = _why_sure(sheet)
    read = {
        "performed_by_id": sheet.whole("performed_by_id", "Performed by", 1, 2**62),
        "inspector_id": sheet.whole("inspector_id", "Inspector", 1, 2**62),
        "hours": sheet.quantity("hours", METER),
        "note": sheet.text("note", "Note", 4000),
        "written_at": moment(sheet, "written_at", "Written on the device", zone),
    }
    sheet.only("zone", "confirmed")
    sheet.refuse_if_wrong()
    assert client_id is not None  # noqa: S101 - refused above otherwise
    return InspectionEntry(
        client_id=client_id,
        kind=kind,
        happened_at=at or now,
        zone=zone,
        result=result,
        results=results,
        oil=entry_oil,
        typed={**sheet.confirmed_as_typed(), **why},
        absent=dict(sheet.absent),
        warnings=tuple(sheet.found.warnings),
        **read,  # type: ignore[arg-type]
    )


def _why_sure(sheet: Sheet) -> dict[str, list[str]]:
    """The reason given for each value that was confirmed."""
    given = sheet.get("confirmed_why")
    if given is None:
        return {}
    if not isinstance(given, Mapping):
        sheet.problem("confirmed_why", "This is not a set of named fields.")
        return {}
    for _path, word in given.items():
        if word not in SURE:
            sheet.problem("confirmed_why", f"“{str(word)[:40]}” is not one of {', '.join(SURE)}. Choose one of these.")
    return {f"sure.{path}": [str(word), ""] for path, word in given.items() if path in sheet.found.confirmed}


def _read_results(sheet: Sheet, kind: str, at: datetime, about: About) -> dict[str, Any]:
    child = sheet.child("results", sheet.get("results") or {})
    if kind not in READERS:
        return {}
    results = READERS[kind](child, at.date(), about)
    child.only()
    return {name: value for name, value in results.items() if value not in (None, "", [], {})}


def _check_result(sheet: Sheet, kind: str, result: str, results: dict[str, Any]) -> str:
    """The technician decides, but not below what the findings themselves call for."""
    least, why = least_result(kind, results)
    if not result:
        if kind not in (InspectionKind.OIL_CHECK, ""):
            sheet.problem("result", "What is the verdict? Choose normal, watch or stop.")
        return least
    if _RANK[result] < _RANK[least]:
        sheet.problem(
            "result", f"{why} The verdict can't be “{result}”: choose “{least}” or worse, or mend the finding."
        )
    return result


def _read_oil(
    sheet: Sheet, kind: str, client_id: UUID | None, zone: str, now: datetime, results: Mapping[str, Any]
) -> tuple[OilEntry, ...]:
    wanted = {
        InspectionKind.OIL_CHECK.value: ("reading", OilEventKind.READING),
        InspectionKind.OIL_FILTER.value: ("drain_fill", OilEventKind.DRAIN_FILL),
    }.get(kind)
    if wanted is None:
        return ()
    name, event_kind = wanted
    raw = sheet.get(name)
    if raw is None and results.get("oil_changed") is False:
        return ()  # the filter of an earlier change, cut open later
    if raw is None:
        what = "the dipstick reading" if name == "reading" else "what was drained and filled"
        sheet.problem(name, f"This closes only with {what}. Enter it.")
        return ()
    fields = dict(raw) if isinstance(raw, Mapping) else {}
    fields.setdefault("client_id", str(uuid5(client_id, name)) if client_id else None)
    child = sheet.child(name, {**fields, "kind": event_kind.value}, own_typed=True)
    return (read_oil(child, zone=zone, now=now, order=0),)
