"""P0, P7 and P8: what a recording says beside what was typed, how the descent was flown, and heat under boost.

The shares and minutes are common practice without a published source; altitudes and limits are the plan's and the
type's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from breakin.calc.recording.result import Span
from breakin.calc.said import Said, Value, Values, degf, fixed, gph, inhg, number, said, sentences
from breakin.picture.blocks import BlockPicture, cooling_cap_ft
from breakin.picture.clock import PlacedRun
from breakin.picture.picture import Picture
from breakin.picture.recorded import Told, airborne, engine_of, hottest_head, takeoff_fuel_flow, turbine_inlet
from breakin.rules.base import (
    CALL,
    NOTE,
    Answer,
    Hit,
    answer,
    flight_evidence,
    plan_source,
    rule,
    type_source,
)

FUEL_FLOW_SHARE = 0.05
HEAD_DEGF = 15.0
AIRBORNE_MIN = 5.0
BAND_MIN = 10.0
LOW_MAP_INHG = 15.0  # as the analysis counts it
LOW_MAP_MIN = 2.0
LOW_MAP_FLIGHTS = 3
PRACTICE = "common practice, no published source"


@dataclass(frozen=True)
class Apart:
    """A figure that was typed one way and recorded another."""

    name: str
    what: Said
    told: Told
    unit: str
    measure: Callable[[float], Value]
    places: int = 0


@rule(
    "P0",
    version=2,
    needs=("blocks",),
    severity="note",
    title=said("Stated, typed and recorded"),
    text="Minutes flown as on the card are credited as stated; a recording replaces them by what it measured. What was "
    "typed stays as it is. Where the two differ by more than 5 % of full-throttle fuel flow, 15 °F of the hottest "
    "head, 5 min in the air or, beyond the doubt of power, 10 min in a band, that is noted with both figures.",
)
def stated_and_recorded(picture: Picture) -> Answer:
    by = {"recording": 0.0, "typed": 0.0, "stated": 0.0}
    for block in picture.power.blocks:
        by[block.source] += block.duration_min
    said = f"{by['recording']:.0f} min recorded, {by['typed']:.0f} min with typed settings, {by['stated']:.0f} min as "
    return Answer("met", f"{said}stated on the card.", tuple(_disagreements(picture)))


def _disagreements(picture: Picture) -> Iterator[Hit]:
    for placed in picture.clock.flights:
        run = placed.run
        for one in _apart(picture, placed):
            typed, recorded = (
                f"{value:.{one.places}f} {one.unit}" for value in (one.told.typed or 0.0, one.told.recorded or 0.0)
            )
            text = said(
                "{what}: {typed} as logged (grade {grade}), {recorded} in the recording (grade A). The recording "
                "counts; what was logged stays as it is.",
                what=one.what,
                typed=one.measure(one.told.typed or 0.0),
                grade=run.grade,
                recorded=one.measure(one.told.recorded or 0.0),
            )
            numbers = {"typed": one.told.typed, "recorded": one.told.recorded, "unit": one.unit}
            evidence = (flight_evidence(run.root, f"{one.what.lower()}: {typed} and {recorded}"),)
            title = said("Logged and recorded differ")
            yield Hit(f"{run.root}:{one.name}", NOTE, text, PRACTICE, run.at, numbers, evidence, title)


def _apart(picture: Picture, placed: PlacedRun) -> Iterator[Apart]:
    run = placed.run
    if run.recorded is None:
        return
    flow, head, air = takeoff_fuel_flow(run), hottest_head(run), airborne(run)
    if _differ(flow, FUEL_FLOW_SHARE * (flow.recorded or 0.0)):
        yield Apart("fuel flow", said("Full-throttle fuel flow"), flow, "gal/h", gph, 1)
    if _differ(head, HEAD_DEGF):
        yield Apart("hottest head", said("Hottest head"), head, "°F", degf)
    if _differ(air, AIRBORNE_MIN):
        yield Apart("airborne", said("Time in the air"), air, "min", _minutes)
    for band in ("75", "65"):
        stated, recorded = _minutes_in_band(picture, placed, band)
        told = Told(stated.central, recorded.central) if stated and recorded else Told()
        # Two powers a little either side of an edge are no disagreement, however many minutes they move.
        if stated and recorded and _differ(told, BAND_MIN) and not _overlap(stated, recorded):
            yield Apart(f"band {band}", said("Time at {band} %", band=band), told, "min", _minutes)


def _minutes(value: float) -> Said:
    return said("{minutes} min", minutes=fixed(value, 0))


def _differ(told: Told, line: float) -> bool:
    if told.typed is None or told.recorded is None:
        return False
    return round(abs(told.typed - told.recorded), 6) > line


def _overlap(one: Span, other: Span) -> bool:
    return one.least <= other.most and other.least <= one.most


def _minutes_in_band(picture: Picture, placed: PlacedRun, band: str) -> tuple[Span | None, Span | None]:
    """Minutes in a band as they were stated, and as they were recorded; None where no setting was stated."""
    root, engine = placed.run.root, engine_of(placed.run)
    stated = [block for block in picture.power.replaced if block.placed.run.root == root]
    if not stated or engine is None:
        return None, None
    edges = picture.power.bands.upper if band == "75" else picture.power.bands.lower
    held = [block for block in picture.power.blocks if block.placed.run.root == root and block.steady]
    return _span(stated, band, edges), engine.minutes.get(band) or _span(held, band, edges)


def _span(blocks: Sequence[BlockPicture], band: str, edges: tuple[float, float]) -> Span:
    """Minutes of some settings in a band: central, and under one sigma of each power."""
    central = least = most = 0.0
    for block in blocks:
        mine = block.band == band
        surely = maybe = mine
        if block.pct is not None and block.sigma:
            low, high = block.pct - block.sigma, block.pct + block.sigma
            surely, maybe = edges[0] <= low and high <= edges[1], high >= edges[0] and low <= edges[1]
        central += block.duration_min * mine
        least += block.duration_min * surely
        most += block.duration_min * maybe
    return Span(central, least, most)


@rule(
    "P7",
    version=1,
    needs=("descent",),
    severity="note; call at the third flight",
    title=said("Descent"),
    text="Come down with power on: 5 inHg at a time, about 500 ft a minute. Manifold pressure under 15 inHg for more "
    "than 2 min in the air, the last 5 min before landing apart, is noted; the third such flight asks for a call.",
)
def descent(picture: Picture) -> Answer:
    return answer(_descents(picture), "Power stayed on in the descent on every recorded flight.")


def _descents(picture: Picture) -> Iterator[Hit]:
    seen = 0
    for placed in picture.clock.flights:
        engine, run = engine_of(placed.run), placed.run
        minutes = engine.low_map_descent_min if engine else None
        if minutes is None or minutes <= LOW_MAP_MIN:
            continue
        seen += 1
        text = said(
            "{minutes} min in the air under {line}, away from the landing: rings unload, heads cool fast.",
            minutes=fixed(minutes),
            line=inhg(LOW_MAP_INHG, 0),
        )
        severity = CALL if seen >= LOW_MAP_FLIGHTS else NOTE
        if severity == CALL:
            again = said("Flight {number} of this kind: call, and talk the descent through.", number=fixed(seen, 0))
            text = sentences(text, again)
        evidence = (flight_evidence(run.root, f"{minutes:.1f} min under 15 inHg"),)
        numbers = {"minutes": minutes, "line_min": LOW_MAP_MIN, "flights": seen}
        yield Hit(str(run.root), severity, text, PRACTICE, run.at, numbers, evidence, said("Low power in the descent"))


@rule(
    "P8",
    version=1,
    needs=("flight",),
    severity="note; call over the TIT limit",
    title=said("Boosted engine: altitude and turbine"),
    text="A boosted engine makes 75 % higher up than it can be cooled: above the plan's altitude those minutes earn no "
    "credit. Turbine inlet temperature over the type's limit asks for a call.",
)
def boosted(picture: Picture) -> Answer:
    kind = picture.record.type
    if kind.induction == "natural":
        return Answer("not applicable", "The engine has no boost.")
    cap = cooling_cap_ft(picture.record)
    told = any(turbine_inlet(placed.run).value is not None for placed in picture.clock.flights)
    if cap is None and (kind.tit_limit_degf is None or not told):
        return Answer("not observed", "The plan sets no altitude, and no turbine inlet temperature was told.")
    return answer(
        [*_above_cap(picture, cap), *_turbine(picture)],
        "No minutes at 75 % above the plan's altitude, no turbine inlet temperature over its limit, as far as told.",
    )


def _above_cap(picture: Picture, cap_ft: float | None) -> Iterator[Hit]:
    for placed in picture.clock.flights:
        run = placed.run
        minutes = sum(
            block.duration_min
            for block in picture.power.blocks
            if block.placed.run.root == run.root and block.too_high and block.band == "75"
        )
        if cap_ft is None or minutes < 0.5:
            continue
        text = said(
            "{minutes} min at 75 % above {cap} ft, where cooling does not follow: they earn no credit.",
            minutes=fixed(minutes, 0),
            cap=number(cap_ft, ",.0f"),
        )
        evidence = (flight_evidence(run.root, f"{minutes:.0f} min above {cap_ft:,.0f} ft"),)
        numbers = {"minutes": round(minutes, 1), "cap_ft": cap_ft}
        yield Hit(
            f"{run.root}:altitude",
            NOTE,
            text,
            plan_source(picture),
            run.at,
            numbers,
            evidence,
            said("Too high for credit"),
        )


def _turbine(picture: Picture) -> Iterator[Hit]:
    limit = picture.record.type.tit_limit_degf
    for placed in picture.clock.flights:
        run, told = placed.run, turbine_inlet(placed.run)
        highest, engine = told.highest, engine_of(placed.run)
        if limit is None or highest is None or highest <= limit:
            continue
        over = engine.tit_over_limit_min if engine else None
        hot: Values = {"words": told.words(degf), "limit": degf(limit)}
        text = sentences(
            said("Turbine inlet temperature {words}, over the limit of {limit} for {minutes} min.",
                 minutes=fixed(over), **hot)
            if over
            else said("Turbine inlet temperature {words}, over the limit of {limit}.", **hot),
            said("Call before the next flight: mixture, power and altitude."),
        )  # fmt: skip
        evidence = (flight_evidence(run.root, f"TIT {highest:.0f} °F"),)
        numbers = {"tit_degf": highest, "limit_degf": limit, "over_min": over}
        title = said("Turbine inlet temperature over its limit")
        yield Hit(f"{run.root}:tit", CALL, text, type_source(picture), run.at, numbers, evidence, title)
