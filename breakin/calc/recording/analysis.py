"""One recorded flight, analysed: the parts of the package put in their order."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from breakin.calc.recording.blocks import blocks
from breakin.calc.recording.engine import EngineReading, engine_reading
from breakin.calc.recording.phases import Course, course_of
from breakin.calc.recording.result import EngineFlight, FlightAnalysis
from breakin.calc.recording.signals import Signals, signals_of
from breakin.calc.recording.smooth import Floats, nanmean, running_mean
from breakin.calc.recording.spec import FUEL_LB_PER_GAL, EngineSpec, Plan, Samples

# Raised when results may change: what was analysed by an earlier one is analysed again.
VERSION = 1
# Two engines more than this apart [%] is uneven (rule P6).
SPLIT_PCT = 6.0


def analyse_flight(table: Samples, specs: Mapping[str, EngineSpec], schedule: Mapping[str, Any]) -> FlightAnalysis:
    """What one recorded flight or ground run says.

    Parameters
    ----------
    table : the samples of the flight, canonical names and units (``t`` [s] rising on the repaired clock).
    specs : the engines by side, "1" and "2". A side without a spec is not analysed.
    schedule : the plan of the flight, as :func:`breakin.calc.bands.schedule` makes it.

    Returns
    -------
    FlightAnalysis. Nothing is raised for missing or odd channels: what cannot be told is None, with a note.
    """
    return _read(table, specs, Plan.from_dict(schedule))[0]


def power_series(
    table: Samples, specs: Mapping[str, EngineSpec], schedule: Mapping[str, Any]
) -> dict[str, tuple[Floats, Floats]]:
    """Percent power and one sigma of it, one value a row, by side [% of rated power]; NaN where it cannot be told."""
    _flight, _signals, readings = _read(table, specs, Plan.from_dict(schedule))
    return {side: (one.power.pct, one.power.sigma) for side, one in readings.items()}


def _read(
    table: Samples, specs: Mapping[str, EngineSpec], plan: Plan
) -> tuple[FlightAnalysis, Signals, dict[str, EngineReading]]:
    with np.errstate(all="ignore"):
        signals = signals_of(table, sorted(specs))
        course = course_of(signals)
        readings = {side: engine_reading(signals, course, side, spec, plan) for side, spec in specs.items()}
        split, over = _split(signals, course, readings)
    engines: dict[str, EngineFlight] = {side: one.flight for side, one in readings.items()}
    flight = FlightAnalysis(
        sample_s=signals.step_s,
        events={name: round(t, 1) for name, t in course.events.items()},
        phases=course.phases,
        engines=engines,
        split_pct=split,
        split_over_min=over,
        notes=_notes(signals, course),
    )
    return flight, signals, readings


def _split(
    signals: Signals, course: Course, readings: Mapping[str, EngineReading]
) -> tuple[float | None, float | None]:
    """Engine 1 minus engine 2: mean over cruise [%], and the minutes in the air more than 6 % apart."""
    if set(readings) < {"1", "2"} or course.air is None:
        return None, None
    apart = running_mean(readings["1"].power.pct - readings["2"].power.pct, signals.rows(15))
    start, end = course.air
    if course.cruise is not None:
        low, high = signals.row_at(course.cruise[0]), signals.row_at(course.cruise[1])
    else:
        low, high = start, end
    mean = nanmean(apart[low:high])
    if not np.isfinite(mean):
        return None, None
    over = np.abs(np.nan_to_num(apart[start:end])) > SPLIT_PCT
    return round(mean, 2), round(float(signals.weight_s[start:end][over].sum()) / 60.0, 2)


def _notes(signals: Signals, course: Course) -> tuple[str, ...]:
    notes = []
    if course.air is None:
        notes.append("The aeroplane did not leave the ground in this recording.")
    elif "liftoff" not in course.events:
        notes.append("The recording began in the air: what was before it is not known.")
    if course.air is not None and "touchdown" not in course.events:
        notes.append("The recording ended in the air.")
    if signals.alt_ft is None:
        notes.append("Altitude was not recorded.")
    if signals.oat_degf is None:
        notes.append("Outside air temperature was not recorded: no head temperature is brought to a standard day.")
    return tuple(notes)


def analyse(
    csv_path: str | Path, mapping: Mapping[str, Any], engine_spec: Mapping[str, Any], schedule: Mapping[str, Any]
) -> dict[str, Any]:
    """Read a recording and analyse it as one flight: files in, a plain dict out.

    Parameters
    ----------
    csv_path : the recording.
    mapping : which column is what, and in which unit.
    engine_spec : side -> the engine's plain form (see :class:`breakin.calc.recording.spec.EngineSpec`).
    schedule : the plan of the flight.

    Returns
    -------
    dict with row, events, phases, engines and split_pct.

    Raises
    ------
    Unreadable : the file cannot be read as a recording.
    """
    from breakin.calc.recording.reading import read_table

    mapped = mapping.get("engines") or engine_spec
    specs = {side: EngineSpec.from_dict(engine_spec[side]) for side in engine_spec if side in mapped}
    table = read_table(
        Path(csv_path),
        mapping,
        rated_hp={side: spec.rated_hp for side, spec in specs.items() if spec.rated_hp is not None},
        fuel_lb_per_gal=max((spec.fuel_lb_per_gal for spec in specs.values()), default=FUEL_LB_PER_GAL),
    )
    flight, _signals, readings = _read(table, specs, Plan.from_dict(schedule))
    return {
        "row": table.row.tolist(),
        "events": dict(flight.events),
        "phases": [{"phase": one.phase, "t0": one.t0, "t1": one.t1} for one in flight.phases],
        "engines": {side: plain_engine(one) for side, one in readings.items()},
        "split_pct": flight.split_pct,
    }


def plain_engine(reading: EngineReading) -> dict[str, Any]:
    """One engine in the plain shape of :func:`analyse`."""
    flight = reading.flight
    spans = {name: flight.minutes[key] for name, key in PLAIN_MINUTES.items() if key in flight.minutes}
    return {
        "power_pct": np.round(reading.power.pct, 2).tolist(),
        "minutes": {name: span.central for name, span in spans.items()},
        "minutes_range": {name: [span.least, span.most] for name, span in spans.items() if name != "ground"},
        "blocks": [
            {
                "t0": one.t0,
                "t1": one.t1,
                "pct": one.pct,
                "band": int(one.band) if one.band else None,
                "cht_std": list(one.cht_std_degf),
            }
            for one in blocks(flight.pieces)
        ],
        "power_changes": flight.changes,
        "takeoff_ff": flight.takeoff.fuel_flow_gph,
        "cht_climb_peak": list(flight.cht_climb_peak_degf),
        "cht_turnover": list(flight.cht_turnover_s),
        "cht_drop_max": list(flight.cht_drop_max_degf_min),
        "first_peaks": [{"t": one.t, "first_cyl": one.first_cylinder} for one in flight.leanings],
        "bad_sensors": [{"sensor": one.sensor} for one in flight.bad_sensors],
        "disagree": list(flight.disagree),
    }


PLAIN_MINUTES = {"75": "75", "65": "65", "low_air": "light", "ground": "ground"}
