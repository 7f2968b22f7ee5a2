"""Flights with their credit, the first two hours, take-off and climb, as sections."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

from reports.closeout.drawings import power_histogram
from reports.closeout.parts import NONE, UNITS, Section, day, hours, minutes, table, told
from reports.engine.power_tables import stages

Document = dict[str, Any]
FALLING = {True: "yes", False: "no"}


def sections(document: Document) -> Iterator[Section]:
    yield _flights(document)
    yield _power(document)
    yield _heat(document)


def _flights(document: Document) -> Section:
    rows = [_row(row) for row in document["flights"]]
    heads = ("Date", "Until", "Kind, pilot", "Airborne", "75\u202f%", "65\u202f%", "Light", "Other", "Ground", "Grade")
    caption = (
        "Every flight and ground run that counts. Minutes in each band; “stated” was taken from the card as flown, "
        "“measured” stands on an instrument's file."
    )
    files = [(row["name"], day(row["uploaded_at"]), row["sha256"]) for row in document["recordings"]]
    good = sum(row["grade"] in "AB" for row in document["flights"])
    text = (f"{len(document['flights'])} flights and ground runs; {good} with evidence of grade A or B.",)
    return Section(
        "Flights and their credit",
        text,
        tables=(*table(caption, heads, rows), *table("Instruments' files", ("File", "Stored", "SHA-256"), files)),
    )


def _row(row: dict[str, Any]) -> tuple[str, ...]:
    held = dict(row["minutes"])
    in_75, in_65 = held.pop("75", None), held.pop("65", None)
    light = held.pop("light", None)
    other = sum(held.values()) or None
    ground = [each for each in (row["ground_before_min"], row["ground_after_min"]) if each is not None]
    source = "measured" if row["recording"] else "stated" if row["stated"] else ""
    who = ", ".join(part for part in (row["kind"], row["pilot"], source) if part)
    return (
        day(row["local_date"]),
        f"{hours(row['hours_after'])}{' est.' if row['hours_estimated'] else ''}",
        who,
        minutes(row["airborne_min"]),
        minutes(in_75),
        minutes(in_65),
        minutes(light),
        minutes(other),
        minutes(sum(ground)) if ground else NONE,
        row["grade"],
    )


def _power(document: Document) -> Section:
    credit = document["assessment"]["credit"]
    first = credit["first_two"]
    text = [f"First two hours: {first['verdict']}.", *(str(line) for line in first["reasons"])]
    if credit.get("light_min") is not None:
        text.append(f"Light running in all: {credit['light_min']:.0f}\u202fmin.")
    text.append(f"On the ground with the engine running: {document['clocks']['ground_min']:.0f}\u202fmin in all.")
    bins = time_at_power(credit["blocks"])
    drawn = stages(credit)
    figure = power_histogram(bins, document["plan"])
    rows = [(name, f"{value:.0f}\u202fmin") for name, value in bins]
    return Section(
        "Power and the first two hours",
        tuple(text),
        tables=(*((drawn,) if drawn else ()), *table("Minutes at each power", ("Power", "Time"), rows)),
        figures=(figure,) if figure else (),
    )


def time_at_power(blocks: list[dict[str, Any]]) -> list[tuple[str, float]]:
    """Minutes in steps of five percent of rated power, and those at a power that is not known."""
    held: dict[int, float] = defaultdict(float)
    unknown = stated = 0.0
    for row in blocks:
        if not row.get("counted", True) or not row["duration_min"]:
            continue
        if row["pct"] is not None:
            held[int(row["pct"] // 5) * 5] += row["duration_min"]
        elif row["band"]:
            stated += row["duration_min"]
        else:
            unknown += row["duration_min"]
    told_bins = [(f"{low} to {low + 5}\u202f%", held.get(low, 0.0)) for low in _steps(held)]
    extra = (("as on the card", stated), ("not known", unknown))
    return [*told_bins, *((name, value) for name, value in extra if value)]


def _steps(held: dict[int, float]) -> range:
    return range(min(held), max(held) + 5, 5) if held else range(0)


def _heat(document: Document) -> Section:
    engine = document["engine"]
    rows = [_climb(row) for row in document["flights"] if row["takeoff_ff_word"] is not None]
    heads = (
        "Date",
        "At",
        "Fuel flow",
        "Corrected",
        "Against the band",
        "Climb CHT",
        "Highest CHT",
        "Falling by 3,000\u202fft",
    )
    band = "The band of the type is not on record."
    if engine["takeoff_ff_low_gph"] is not None and engine["takeoff_ff_high_gph"] is not None:
        low, high = told(engine["takeoff_ff_low_gph"], "fuel_flow"), told(engine["takeoff_ff_high_gph"], "fuel_flow")
        band = f"Full-throttle band {low} to {high}; corrected means for the density of the air."
    watch, limit = told(engine["cht_watch_degf"], "temperature", 0), told(engine["cht_limit_degf"], "temperature", 0)
    seating = document["assessment"]["heat"].get("seating") or {}
    sign = []
    if seating.get("change_degf") is not None:
        change = told(seating["change_degf"], "difference", 0)
        sign.append(
            f"Mean head temperature at equal power against the first hour: {change}. A sign, never a criterion."
        )
    caption = f"Take-off and climb. {band} Heads: our watch line {watch}, maker's limit {limit}."
    return Section("Take-off and heads", tuple(sign), tables=table(caption, heads, rows))


def _climb(row: dict[str, Any]) -> tuple[str, ...]:
    heads = ", ".join(f"{degf:.0f}" for _, degf in row["climb_cht_degf"])
    peaks = [peak for peak in row["climb_peak_degf"] if peak is not None]
    if peaks:
        heads = f"peak {max(peaks):.0f}"
    elif heads:
        heads = f"{heads} by 1,000\u202fft"
    falling = row["cht_falling"]
    return (
        day(row["local_date"]),
        hours(row["hours_after"]),
        told(row["takeoff_ff_gph"], "fuel_flow"),
        told(row["takeoff_ff_corrected_gph"], "fuel_flow"),
        str(row["takeoff_ff_word"] or NONE),
        f"{heads}\u202f°F" if heads and UNITS == "us" else NONE,
        told(row["cht_max_degf"], "temperature", 0),
        FALLING.get(falling, str(falling or NONE)) if isinstance(falling, bool) else str(falling or NONE),
    )
