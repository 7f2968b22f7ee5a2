"""Field and air of a next-flight card: what was typed or pasted, what it means, and the boxes to show it in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext_lazy

from breakin.calc.atmosphere import checked, density_altitude_ft, pressure_altitude_ft, standard_temperature_degf
from breakin.calc.card_flight import Descent, descent
from breakin.calc.errors import CalcError
from breakin.calc.units import Kind, display_unit, parse, written
from breakin.entries.metar import WeatherReport, read_metar
from reports.pilot import card_words as words
from reports.pilot.card_content import FieldAir, Line
from reports.quantities import quantity
from shop.errors import Refusal

STANDARD_INHG = 29.92
LONGEST_BOX, LONGEST_REPORT = 20, 700
# name: kind, least, most, unit, label. Elevations as of the shop's places.
BOXES = {
    "elevation": (Kind.ALTITUDE, -1500.0, 14_500.0, "ft", gettext_lazy("Field elevation")),
    "altimeter": (Kind.PRESSURE_ALTIMETER, 25.0, 32.5, "inHg", gettext_lazy("Altimeter setting")),
    "oat": (Kind.TEMPERATURE, -60.0, 140.0, "°F", gettext_lazy("Temperature at the field")),
    "descend_from": (Kind.ALTITUDE, -1500.0, 30_000.0, "ft", gettext_lazy("Come down from (above sea level)")),
    "ground_speed": (Kind.GROUND_SPEED, 20.0, 400.0, "kt", gettext_lazy("Ground speed coming down")),
}
NAMES = (*BOXES, "metar")


@dataclass(frozen=True)
class Asked:
    """One box of the form: what stands in it, its unit, and why it was refused."""

    name: str
    label: str
    text: str
    unit: str
    error: str = ""


@dataclass(frozen=True)
class Told:
    """What was told of field and air, understood.

    elevation_ft, altimeter_inhg, pressure_altitude_ft : of the field [ft], [inHg], [ft].
    oat_degf : [degF] at the field; None = standard air is assumed.
    place : the field, where no elevation was typed: that of the delivery plan where `by_delivery_plan`, else home.
    oat_from, altimeter_from : "typed", "report" or "" for assumed.
    down : the descent, where it was asked for; down_from_ft, ground_speed_kt what it was asked with.
    """

    elevation_ft: float
    altimeter_inhg: float
    pressure_altitude_ft: float
    oat_degf: float | None
    place: str
    oat_from: str
    altimeter_from: str
    report: WeatherReport | None
    down: Descent | None
    down_from_ft: float | None
    ground_speed_kt: float | None
    by_delivery_plan: bool = False

    @property
    def temperature_degf(self) -> float:
        """Of the field [degF], standard where nothing was told."""
        return standard_temperature_degf(self.pressure_altitude_ft) if self.oat_degf is None else self.oat_degf

    @property
    def density_altitude_ft(self) -> float:
        return float(density_altitude_ft(self.pressure_altitude_ft, self.temperature_degf))


@dataclass(frozen=True)
class Field:
    """Where the next flight is flown from, where nobody types it. elevation_ft [ft] above the sea."""

    name: str
    elevation_ft: float
    by_delivery_plan: bool = False


@dataclass(frozen=True)
class AskedAir:
    """field : what an empty elevation means. boxes : of the form. metar : the box of the report. told : None while
    something is refused. typed : what was typed, each with its unit, so that it means the same to the next reader.
    """

    field: Field
    boxes: Sequence[Asked]
    metar: Asked
    told: Told | None
    typed: Mapping[str, str]


def asked_air(field: Field, units: str, typed: Mapping[str, str], now: datetime) -> AskedAir:
    """Read the boxes. What is empty is this field, the standard setting and standard air."""
    boxes, values, with_unit = _read(typed, units)
    report, text, error = _report(typed.get("metar", ""), now)
    if text:
        with_unit["metar"] = text
    faults = {box.name: box.error for box in boxes if box.error}
    if report is not None:
        faults = {**_lacking(report, values), **faults}
    if not faults.keys() & {"descend_from", "ground_speed"}:
        faults |= _half_a_descent(values)
    down = None
    elevation = field.elevation_ft if values["elevation"] is None else values["elevation"]
    if not faults and values["descend_from"] is not None and values["ground_speed"] is not None:
        try:
            down = descent(values["descend_from"], elevation, values["ground_speed"])
        except CalcError as refused:
            faults["descend_from"] = str(refused)
    boxes = [Asked(box.name, box.label, box.text, box.unit, faults.get(box.name, "")) for box in boxes]
    metar = Asked("metar", "METAR", text, "", error)
    told = None if faults or error else _told(field, values, elevation, report, down)
    return AskedAir(field, boxes, metar, told, with_unit)


def _read(typed: Mapping[str, str], units: str) -> tuple[list[Asked], dict[str, float | None], dict[str, str]]:
    """The boxes, their values in canonical units, and what was typed with its unit."""
    boxes, values, with_unit = [], dict[str, float | None](), {}
    for name, (kind, low, high, unit, label) in BOXES.items():
        text, shown, error = typed.get(name, "").strip()[:LONGEST_BOX], written(display_unit(kind, units)), ""
        values[name] = None
        if text:
            named = any(sign.isalpha() or sign in "°'\"" for sign in text)
            with_unit[name] = text if named else f"{text} {shown}"
            try:
                values[name] = parse(text, display_unit(kind, units), kind).value
                checked("", values[name] or 0.0, low, high, unit, "")
            except CalcError as refused:
                error = str(refused)
        boxes.append(Asked(name, str(label), text, shown, error))
    return boxes, values, with_unit


def _report(text: str, now: datetime) -> tuple[WeatherReport | None, str, str]:
    """The report, its text as it is shown again, and why it was refused."""
    text = " ".join(text.split())[:LONGEST_REPORT]
    if not text:
        return None, "", ""
    try:
        return read_metar(text, now), text, ""
    except Refusal as refused:
        return None, text, str(refused)


def _lacking(report: WeatherReport, values: Mapping[str, float | None]) -> dict[str, str]:
    """What the report does not give and nobody typed: it is asked for, never assumed beside a report."""
    given = {"oat": report.oat_degf, "altimeter": report.altimeter_inhg}
    return {name: words.report_lacks(name) for name, value in given.items() if value is None and values[name] is None}


def _half_a_descent(values: Mapping[str, float | None]) -> dict[str, str]:
    pair = ("descend_from", "ground_speed")
    typed = [name for name in pair if values[name] is not None]
    if len(typed) != 1:
        return {}
    missing = pair[1] if typed[0] == pair[0] else pair[0]
    return {missing: words.needed_for_descent()}


def _told(
    field: Field,
    values: Mapping[str, float | None],
    elevation_ft: float,
    report: WeatherReport | None,
    down: Descent | None,
) -> Told:
    oat, oat_from = values["oat"], "typed"
    setting, setting_from = values["altimeter"], "typed"
    if oat is None:
        oat, oat_from = (report.oat_degf, "report") if report else (None, "")
    if setting is None:
        setting, setting_from = (report.altimeter_inhg, "report") if report else (None, "")
    inches = STANDARD_INHG if setting is None else setting
    return Told(
        elevation_ft=elevation_ft,
        altimeter_inhg=inches,
        pressure_altitude_ft=float(pressure_altitude_ft(elevation_ft, inches)),
        oat_degf=oat,
        place="" if values["elevation"] is not None else field.name,
        oat_from=oat_from,
        altimeter_from=setting_from,
        report=report,
        down=down,
        down_from_ft=values["descend_from"],
        ground_speed_kt=values["ground_speed"],
        by_delivery_plan=values["elevation"] is None and field.by_delivery_plan,
    )


def field_air(told: Told, units: str, now: datetime) -> FieldAir:
    """The field and air as the card says them."""
    report = told.report
    station, time = (report.station, f"{report.at:%d %H:%M}") if report else ("", "")
    lines = [
        Line(words.elevation(), quantity(told.elevation_ft, "altitude", units)),
        Line(words.altimeter(), quantity(told.altimeter_inhg, "altimeter", units)),
        Line(words.temperature(), quantity(told.temperature_degf, "temperature", units)),
        Line(words.pressure_altitude(), quantity(told.pressure_altitude_ft, "altitude", units)),
        Line(words.density_altitude(), quantity(told.density_altitude_ft, "altitude", units)),
    ]
    return FieldAir(
        place=words.planned_field(told.place) if told.by_delivery_plan else told.place,
        lines=tuple(lines),
        source=words.air_source(oat=told.oat_from, altimeter=told.altimeter_from, station=station, time=time),
        warning=words.old_report(station, time) if report and report.is_old(now) else "",
    )
