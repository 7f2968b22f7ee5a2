"""From what a form holds to the raw entry that the parser reads, and from its refusals back to the fields.

While an entry is built, each of its dotted paths ("engines.0.oil.1.level") is written down beside the name of the
field it came from, so that a sentence about a value lands at the value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from django import forms
from django.utils.translation import gettext as _

from breakin.calc.units import Kind
from breakin.entries.oil import BELLY_WORDS
from breakin.models import Container, OilEventKind, When
from breakin.saying import spoken
from engines.models import EngineTypeRevision
from reports.forms.engine import CLIMB_FT, BlockForm, EngineForm
from reports.forms.flight import FlightSheet
from reports.forms.typed import canonical
from shop.errors import Refusal

ENGINE_KEYS = {
    "meter_start": "meter_start",
    "meter_end": "meter_end",
    "takeoff_rpm": "takeoff_rpm",
    "takeoff_map": "takeoff_map",
    "takeoff_ff": "takeoff_ff",
    "cht_max": "cht_max",
    "cht_over_watch": "cht_over_watch",
    "cht_falling": "cht_falling",
    "cht_cruise_mean": "cht_cruise_mean",
    "oil_temp_max": "oil_temp_max",
    "oil_press_min": "oil_press_min",
    "oil_press_idle": "oil_press_idle",
    "tit_max": "tit_max",
}
FLIGHT_KEYS = (
    "airborne", "ground_before", "ground_after", "landings", "persons_aboard", "field_elevation", "altimeter",
    "oat_ground", "kind", "note", "local_date", "local_time", "clock_change", "written_at", "sent_at",
)  # fmt: skip


# A raw oil event, and the field that each of its keys came from.
Told = tuple[dict[str, Any], dict[str, str]]


class Unfit(Exception):
    """The answers do not go together. `name` is the posted name of the field, `message` says how to mend it."""

    def __init__(self, name: str, message: str) -> None:
        super().__init__(message)
        self.name, self.message = name, message


@dataclass
class Raw:
    """An entry as the parser takes it, and where each path of it came from."""

    entry: dict[str, Any] = field(default_factory=dict)
    paths: dict[str, str] = field(default_factory=dict)

    def field_of(self, path: str) -> str:
        """The posted name of the field a refused path belongs to: the path's own, or that of its nearest parent."""
        parts = path.split(".")
        while parts:
            name = self.paths.get(".".join(parts))
            if name:
                return name
            parts.pop()
        return ""


def put_problems(sheet: Any, raw: Raw, refusal: Refusal, units: str) -> None:
    """Every problem of a refusal at its field, in the reader's language and units."""
    for problem in refusal.problems:
        sheet.add_error(raw.field_of(problem.field), spoken(problem.message, units))


def put_form_problems(form: forms.Form, raw: Raw | None, refusal: Refusal, units: str) -> None:
    """The same for a form that stands by itself: a problem whose field is not shown goes to the top."""
    for problem in refusal.problems:
        name = raw.field_of(problem.field) if raw else ""
        shown = name in form.fields and not form[name].is_hidden
        form.add_error(name if shown else None, spoken(problem.message, units))


def flight_raw(sheet: FlightSheet, *, client_id: str, oil: bool = True) -> Raw:
    """The raw flight of a valid sheet.

    Raises
    ------
    Unfit : answers that contradict each other or lack their other half.
    """
    raw = Raw({"client_id": client_id}, {"client_id": "client_id"})
    typed = sheet.flight.cleaned_data
    for key in FLIGHT_KEYS:
        _put(raw, raw.entry, key, typed.get(key), "", key)
    raw.paths["ended_at"] = raw.paths["happened_at"] = "local_time"
    if typed.get("place"):
        raw.entry["place_id"] = typed["place"].pk
    raw.paths["place_id"] = "place"
    if typed.get("pilot"):
        raw.entry["pilot_id"] = int(typed["pilot"])
    raw.paths["pilot_id"] = raw.paths["pilot"] = "pilot"
    raw.entry["chips"] = list(typed.get("chips") or [])
    raw.paths["chips"] = "chips"
    took_off = sheet.took_off()
    raw.entry["engines"] = [
        _engine_raw(raw, form, sheet.blocks[form.section.key], number, took_off, oil=oil)
        for number, form in enumerate(sheet.flown())
    ]
    return raw


def _engine_raw(
    raw: Raw, form: EngineForm, blocks: list[BlockForm], number: int, took_off: datetime | None, *, oil: bool
) -> dict[str, Any]:
    path, typed, section = f"engines.{number}", form.cleaned_data, form.section
    entry: dict[str, Any] = {"engine_id": section.engine.pk}
    raw.paths[path] = form.add_prefix("as_on_card")
    if section.has_meter:
        entry["meter_kind"] = section.installation.basis_clock
        raw.paths[f"{path}.meter_kind"] = raw.paths[f"{path}.hours"] = form.add_prefix("meter_end")
    for name, key in ENGINE_KEYS.items():
        _put(raw, entry, key, typed.get(name), path, form.add_prefix(name))
    if not entry.get("cht_over_watch") and _below(typed.get("cht_max"), section.type_revision):
        entry["cht_over_watch"] = "no"  # the highest reading answers it
    climb = {str(feet): typed[f"climb_{feet}"] for feet in CLIMB_FT if typed.get(f"climb_{feet}")}
    for feet in CLIMB_FT:
        raw.paths[f"{path}.climb_cht.{feet}"] = form.add_prefix(f"climb_{feet}")
    if climb:
        entry["climb_cht"] = climb
    _power(raw, entry, form, blocks, path, took_off)
    if oil:
        entry["oil"] = oil_events(raw, form, f"{path}.oil")
    return entry


def _power(
    raw: Raw,
    entry: dict[str, Any],
    form: EngineForm,
    blocks: list[BlockForm],
    path: str,
    took_off: datetime | None,
) -> None:
    answer, card = form.cleaned_data.get("as_on_card"), form.section.card
    if form.chooses_card and took_off is not None:
        card = form.section.card_held(took_off)
    rows = [block for block in blocks if not block.is_empty()]
    name = form.add_prefix("as_on_card")
    raw.paths[f"{path}.as_on_card"] = name
    raw.paths[f"{path}.card_id"] = form.add_prefix("card") if form.chooses_card else name
    raw.paths[f"{path}.blocks"] = blocks[0].add_prefix("duration")
    if answer == "yes":
        if rows:
            raise Unfit(name, _("You chose “as on the card” and typed blocks too. Keep one of the two."))
        entry["as_on_card"] = True
        meant = form.cleaned_data.get("card") or (card.pk if card else None)
        if meant:
            entry["card_id"] = meant
        return
    if answer == "unknown" and rows:
        raise Unfit(name, _("You typed blocks, so choose “something else”, or empty the blocks."))
    if answer == "no" and not rows:
        raise Unfit(blocks[0].add_prefix("duration"), _("Type at least the minutes and the settings of one block."))
    entry["as_on_card"] = False
    entry["blocks"] = [_block_raw(raw, block, f"{path}.blocks.{row}") for row, block in enumerate(rows)]


def _block_raw(raw: Raw, block: BlockForm, path: str) -> dict[str, Any]:
    entry: dict[str, Any] = {}
    raw.paths[path] = block.add_prefix("duration")
    for name in BlockForm.NAMES:
        if name in block.fields:
            _put(raw, entry, name, block.cleaned_data.get(name), path, block.add_prefix(name))
    return entry


def oil_events(raw: Raw, form: forms.Form, path: str) -> list[dict[str, Any]]:
    """The oil events that the oil fields of a form tell, in the order in which they happened."""
    typed = form.cleaned_data
    told: list[Told] = []
    reading, poured = _reading(form), _poured(form)
    first = typed.get("poured") == When.BEFORE
    for event in (poured, reading) if first else (reading, poured):
        if event:
            told.append(event)
    if typed.get("belly") and not reading:
        _belly_alone(form, told)
    events: list[dict[str, Any]] = []
    for number, (entry, names) in enumerate(told):
        here = f"{path}.{number}"
        raw.paths[here] = form.add_prefix("oil_level" if entry["kind"] == OilEventKind.READING else "added")
        raw.paths.update({f"{here}.{key}": form.add_prefix(name) for key, name in names.items()})
        events.append(entry)
    return events


def oil_raws(form: forms.Form, client_id: UUID, engine_id: int) -> list[Raw]:
    """The entries of a form that is about oil alone, each to be read and kept by itself.

    Raises
    ------
    Unfit : answers that contradict each other, or none at all.
    """
    gathered = Raw()
    typed = form.cleaned_data
    events = oil_events(gathered, form, "oil")
    if not events:
        raise Unfit("oil_level", _("Type what the dipstick shows, or say what was added."))
    raws = []
    for number, event in enumerate(events):
        own = f"oil.{number}."
        raw = Raw(
            event, {path.removeprefix(own): name for path, name in gathered.paths.items() if path.startswith(own)}
        )
        event |= {"client_id": str(uuid5(client_id, f"{engine_id}:{number}")), "engine_id": engine_id}
        for key in ("local_date", "local_time", "clock_change", "note", "written_at", "sent_at"):
            _put(raw, event, key, typed.get(key), "", key)
        raw.paths["happened_at"] = "local_time"
        raws.append(raw)
    return raws


def _when(form: forms.Form) -> str:
    """Before or after the flight, for what a form tells: the form of a flight is filled in after it."""
    return str(form.cleaned_data.get("when") or "") if "when" in form.fields else When.AFTER.value


def _reading(form: forms.Form) -> Told | None:
    typed = form.cleaned_data
    if not typed.get("oil_level"):
        # What the form offered as "as last time" and nobody touched says nothing of a level that was not read.
        for name in ("minutes_since", "protocol"):
            if typed.get(name) and name in form.changed_data:
                raise Unfit(form.add_prefix("oil_level"), _("Type the level too, or unset how it was read."))
        return None
    event: dict[str, Any] = {"kind": OilEventKind.READING.value, "when": _when(form), "level": typed["oil_level"]}
    if typed.get("minutes_since"):
        event["minutes_since_shutdown"] = typed["minutes_since"]
    protocol = typed.get("protocol")
    if protocol == "good":
        event |= {"level_ground": True, "wiped_twice": True}
    elif protocol == "sloping":
        event |= {"level_ground": False}
    if typed.get("belly"):
        event["belly_oil"] = typed["belly"]
    names = {
        "level": "oil_level",
        "minutes_since_shutdown": "minutes_since",
        "level_ground": "protocol",
        "wiped_twice": "protocol",
        "belly_oil": "belly",
        "when": "when",
    }
    return event, names


def _poured(form: forms.Form) -> Told | None:
    typed = form.cleaned_data
    added = typed.get("added")
    if added in ("", None):
        if typed.get("amount") or typed.get("oil_kind"):
            raise Unfit(form.add_prefix("added"), _("Say how much was added, or empty the fields about the added oil."))
        return None
    if added == "none":
        if typed.get("amount"):
            raise Unfit(form.add_prefix("added"), _("You chose “none” and typed an amount too. Keep one of the two."))
        return {"kind": OilEventKind.NONE_ADDED.value, "when": _when(form)}, {"when": "added"}
    if "poured" in form.fields and not typed.get("poured"):
        raise Unfit(
            form.add_prefix("poured"), _("Say when it was poured: what was read before or after it depends on it.")
        )
    if not typed.get("oil_kind"):
        raise Unfit(form.add_prefix("oil_kind"), _("Choose which oil was poured. It stands on the bottle."))
    when = _when(form) if "when" in form.fields else typed["poured"]
    event: dict[str, Any] = {"kind": OilEventKind.ADDITION.value, "when": when, "oil_kind": typed["oil_kind"]}
    if added == "other":
        if not typed.get("amount"):
            raise Unfit(form.add_prefix("amount"), _("Type how much was poured, with its unit."))
        event |= {"amount": typed["amount"], "container": Container.MEASURED.value}
    else:
        if typed.get("amount"):
            raise Unfit(form.add_prefix("amount"), _("Choose “another amount” to type it, or empty this field."))
        event |= {"count": int(added), "container": typed.get("container") or Container.US_QUART.value}
    if typed.get("brand"):
        event["brand"] = typed["brand"]
    names = {
        "amount": "amount" if added == "other" else "added",
        "count": "added",
        "container": "container",
        "poured_fraction": "added",
        "oil_kind": "oil_kind",
        "brand": "brand",
        "when": "poured",
    }
    return event, names


def _belly_alone(form: forms.Form, told: list[Told]) -> None:
    """What was seen on the belly without a reading of the level goes to the other oil event, or stands as a loss."""
    seen = form.cleaned_data["belly"]
    if told:
        event, names = told[-1]
        event["belly_oil"] = seen
        names["belly_oil"] = "belly"
    elif seen != BELLY_WORDS[0]:
        told.append(
            ({"kind": OilEventKind.LOSS_SEEN.value, "when": _when(form), "belly_oil": seen}, {"belly_oil": "belly"})
        )
    else:
        raise Unfit(
            form.add_prefix("oil_level"), _("Type the level on the dipstick too, or unset the answer about the belly.")
        )


def _below(cht_max: Mapping[str, str] | None, kind: EngineTypeRevision | None) -> bool:
    highest = canonical(cht_max, Kind.TEMPERATURE)
    watch = kind.cht_watch_degf if kind else None
    return highest is not None and watch is not None and highest <= watch


def _put(raw: Raw, entry: dict[str, Any], key: str, value: Any, path: str, name: str) -> None:
    raw.paths[f"{path}.{key}" if path else key] = name
    if value not in (None, "", []):
        entry[key] = value
