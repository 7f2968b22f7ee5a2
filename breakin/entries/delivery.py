"""A delivery plan as it was typed: the first two hours and the ferry home, or every problem at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from breakin.calc.said import fixed, said
from breakin.calc.said import number as numeral
from breakin.calc.units import Kind
from breakin.entries.ranges import FLIGHT, OAT, Range
from breakin.entries.sheet import Sheet

ALTITUDE = Range(said("Altitude"), Kind.ALTITUDE, -1500, 30_000, 500, 18_000, said("Give the altitude above the sea."))
FERRY_TIME = Range(said("Time in the air"), Kind.MINUTES, 5, 840, 10, 480, said("Give it in minutes, or as h:mm."))
DISTANCE_NM, GROUND_SPEED_KT, AFTER_H = (1.0, 5000.0), (40.0, 400.0), (0.0, 50.0)
NAME = 80
NOTE = 1000
# A time that is further than this from distance over speed is asked about: own choice.
_TIME_APART = 0.15


@dataclass(frozen=True)
class HourEntry:
    """One of the first two hours: field and its elevation [ft], expected temperature [degF] or None, altitude [ft]."""

    field: str
    elevation_ft: float
    altitude_ft: float
    oat_degf: float | None = None


@dataclass(frozen=True)
class FerryEntry:
    """The flight home: minutes in the air, altitude [ft], hours of the first two that are flown before it [h]."""

    minutes: float
    altitude_ft: float
    after_h: float
    distance_nm: float | None = None
    ground_speed_kt: float | None = None


@dataclass(frozen=True)
class DeliveryEntry:
    """home : where it goes. hours : hour 1 and hour 2. ferry : None where it is not flown home."""

    home: str
    hours: tuple[HourEntry, HourEntry]
    ferry: FerryEntry | None
    note: str
    typed: Mapping[str, list[str]]


def read_delivery(sheet: Sheet, fields: Mapping[str, float]) -> DeliveryEntry | None:
    """The plan that was typed; None where something is wrong, which the sheet then says.

    Parameters
    ----------
    sheet : with home, hour_1_field, hour_1_elevation, hour_1_oat, hour_1_altitude, the same of hour_2, ferried,
        ferry_time, ferry_distance, ferry_speed, ferry_altitude, ferry_after, note. What is empty of hour 2 is as in
        hour 1, the temperature among it.
    fields : elevation [ft] of the fields on file, by their names in small letters.
    """
    before = len(sheet.found.problems)
    home = sheet.text("home", said("Home"), NAME)
    if not home:
        sheet.problem("home", said("Where is the aircraft at home? Type the name of the field."))
    first = _hour(sheet, 1, fields, None)
    second = _hour(sheet, 2, fields, first)
    ferry = _ferry(sheet)
    note = sheet.text("note", said("Agreed with the customer"), NOTE)
    if len(sheet.found.problems) > before or first is None or second is None:
        return None
    if ferry is None and second.field.casefold() != home.casefold():
        sheet.ask(
            "ferried",
            said(
                "It is at home at {home}, the second hour is flown from {field}, and no ferry is planned. Is it right "
                "that it is not flown home?",
                home=home,
                field=second.field,
            ),
        )
    return DeliveryEntry(home, (first, second), ferry, note, sheet.confirmed_as_typed())


def _hour(sheet: Sheet, number: int, fields: Mapping[str, float], first: HourEntry | None) -> HourEntry | None:
    at = f"hour_{number}_"
    name = sheet.text(f"{at}field", said("Field of hour {number}", number=str(number)), NAME)
    elevation = sheet.quantity(f"{at}elevation", _of(FLIGHT["field_elevation"], number))
    oat = sheet.quantity(f"{at}oat", _of(OAT, number))
    altitude = sheet.quantity(f"{at}altitude", _of(ALTITUDE, number))
    if first is not None and not name:
        name = first.field
        elevation = first.elevation_ft if elevation is None else elevation
        oat = first.oat_degf if oat is None and not sheet.given(f"{at}oat") else oat
    if altitude is None and first is not None and not sheet.given(f"{at}altitude"):
        altitude = first.altitude_ft
    if not name:
        if number == 1:
            sheet.problem(f"{at}field", said("From which field is the first hour flown? Type its name."))
        return None
    if elevation is None and not sheet.given(f"{at}elevation"):
        elevation = fields.get(name.casefold())
        if elevation is None:
            sheet.problem(f"{at}elevation", said("“{name}” is not on file: type its elevation.", name=name))
    if altitude is None and not sheet.given(f"{at}altitude"):
        ask = said("At which altitude is hour {number} flown? Type it, above the sea.", number=str(number))
        sheet.problem(f"{at}altitude", ask)
    if elevation is None or altitude is None:
        return None
    if altitude <= elevation:
        sheet.problem(
            f"{at}altitude",
            said(
                "{altitude} ft is not above the field, {elevation} ft. Give the altitude above the sea.",
                altitude=numeral(altitude, ",.0f"),
                elevation=numeral(elevation, ",.0f"),
            ),
        )
        return None
    return HourEntry(name, elevation, altitude, oat)


def _ferry(sheet: Sheet) -> FerryEntry | None:
    ferried = sheet.choice("ferried", said("Ferried home"), ("yes", "no"))
    if not ferried and not sheet.given("ferried"):
        sheet.problem("ferried", said("Is it flown home after or within the first hours? Choose yes or no."))
    if ferried != "yes":
        for name in ("ferry_time", "ferry_distance", "ferry_speed", "ferry_altitude"):
            if ferried == "no" and sheet.given(name):
                sheet.problem(name, said("No ferry is planned: empty this field, or choose that it is flown home."))
        return None
    minutes = sheet.quantity("ferry_time", FERRY_TIME)
    distance = _number(sheet, "ferry_distance", said("Distance"), *DISTANCE_NM, "NM")
    speed = _number(sheet, "ferry_speed", said("Ground speed"), *GROUND_SPEED_KT, "kt")
    altitude = sheet.quantity("ferry_altitude", ALTITUDE)
    after = _number(sheet, "ferry_after", said("Hours flown before the ferry"), *AFTER_H, "h")
    by_speed = distance / speed * 60 if distance and speed else None
    if minutes is None and not sheet.given("ferry_time"):
        minutes = by_speed
        if minutes is None and not (sheet.given("ferry_distance") and sheet.given("ferry_speed")):
            sheet.problem(
                "ferry_time", said("How long is the ferry? Type the time, or the distance and the ground speed.")
            )
    elif minutes is not None and by_speed is not None and abs(minutes - by_speed) > _TIME_APART * by_speed:
        sheet.ask(
            "ferry_time",
            said(
                "Distance and ground speed give {by_speed} min, not {typed} min. Is it right?",
                by_speed=fixed(by_speed, 0),
                typed=fixed(minutes, 0),
            ),
        )
    if altitude is None and not sheet.given("ferry_altitude"):
        sheet.problem("ferry_altitude", said("At which altitude is it ferried? Type it, above the sea."))
    if after is None and not sheet.given("ferry_after"):
        sheet.problem("ferry_after", said("After how many of the first hours? 0 is before any, 2 is after both."))
    if minutes is None or altitude is None or after is None:
        return None
    return FerryEntry(minutes, altitude, after, distance, speed)


def _of(what: Range, number: int) -> Range:
    label = said("{what} of hour {number}", what=what.label, number=str(number))
    return Range(label, what.kind, what.low, what.high, what.usual_low, what.usual_high, what.mend)


def _number(sheet: Sheet, name: str, label: str, low: float, high: float, unit: str) -> float | None:
    """A number of a unit that nobody types otherwise: NM, kt, h."""
    value = sheet.get(name)
    if value is None:
        return None
    text = str(value).strip()
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = float("nan")
    if not low <= number <= high:
        wrong = said(
            "{label}: “{text}” is not a number from {low} to {high} {unit}. Type the number alone.",
            label=label,
            text=text[:40],
            low=numeral(low),
            high=numeral(high),
            unit=unit,
        )
        sheet.problem(name, wrong)
        return None
    sheet.keep(name, text, unit)
    return number
