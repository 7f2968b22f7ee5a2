"""One engine of a recorded flight: all that the rules ask of it, gathered into an EngineFlight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording import heads as heat
from breakin.calc.recording.ambient import ambient_inhg, standard_degf
from breakin.calc.recording.blocks import Stretch, blocks, pieces_of, stretches_of
from breakin.calc.recording.minutes import Stock, band_minutes
from breakin.calc.recording.phases import Course
from breakin.calc.recording.power import EnginePower, power_of
from breakin.calc.recording.result import Cylinders, EngineFlight, Piece, Span, TakeOff
from breakin.calc.recording.sensors import Probes, probes_of
from breakin.calc.recording.signals import Engine, Signals
from breakin.calc.recording.smooth import Floats, nanmean, nanmedian, none_if_nan, running_mean
from breakin.calc.recording.spec import EngineSpec, Plan

# Manifold pressure that should not be undercut in a descent [inHg], and the landing that is left out [s] (rule P7).
LOW_MAP_INHG = 15.0
LANDING_S = 300.0
# Hot idle: engine speed below this [rpm] with oil above that [degF].
IDLE_RPM = 1300.0
HOT_OIL_DEGF = 140.0
# Heads settle to a new power within this [s]; before that a mean would still carry the last setting.
SETTLE_S = 240.0
APART_PCT = 8.0
FULL_SHARE = 0.97


@dataclass(frozen=True)
class EngineReading:
    """What was found of one engine: the plain result, and the power behind it row by row."""

    flight: EngineFlight
    power: EnginePower


def engine_reading(signals: Signals, course: Course, side: str, spec: EngineSpec, plan: Plan) -> EngineReading:
    """Analyse one engine."""
    engine = signals.engines[side]
    running = course.running[side]
    heads, exhaust = (probes_of(signals, engine, kind, running) for kind in ("cht", "egt"))
    power = power_of(signals, engine, spec, course, exhaust, heads)
    setting = power.air_pct if power.air_pct is not None else power.pct
    leanest = [float(signals.t[one.trough_row]) for one in power.leanings]
    stretches = stretches_of(signals, course, setting, leanest)
    shift = _standard_shift(signals)
    pieces = pieces_of(signals, engine, power, stretches, heads, shift, plan)
    air = _air_rows(signals, course)
    climb = heat.climb_peaks(signals, course, heads)
    hottest = heat.hottest_line(heads)
    profile, falling = heat.climb_profile(signals, course, hottest)
    hot_max, hot_cylinder = heat.hottest(heads, slice(*course.air)) if course.air else (None, None)
    over_climb, over_level = _over_watch(signals, course, hottest, spec)
    standard, standard_pct = _cruise_standard(signals, stretches, pieces, heads, shift)
    before, after = _ground(signals, course, running, air)
    flight = EngineFlight(
        cylinders=spec.cylinders or max(heads.values.shape[1], exhaust.values.shape[1]),
        run_min=_minutes(signals, running),
        airborne_min=_minutes(signals, air),
        ground_before_min=before,
        ground_after_min=after,
        pieces=pieces,
        minutes=_band_minutes(signals, power, plan, air, running),
        changes=max(len(blocks(pieces)) - 1, 0),
        takeoff=_take_off(signals, course, engine, power),
        leanings=tuple(one.plain for one in power.leanings),
        cht_climb_peak_degf=climb.peak_degf,
        cht_turnover_s=climb.turnover_s,
        cht_drop_max_degf_min=heat.fastest_fall(signals, course, heads),
        climb_cht_degf=profile,
        cht_falling_by_3000=falling,
        cht_max_degf=hot_max,
        cht_max_cylinder=hot_cylinder,
        cht_over_watch_climb_min=over_climb,
        cht_over_watch_level_min=over_level,
        hot_cylinder=_hot_cylinder(signals, stretches, heads),
        cht_cruise_std_degf=standard,
        cht_cruise_pct=standard_pct,
        low_map_descent_min=_low_map(signals, course, engine, air),
        oil_temp_max_degf=_extreme(engine.oil_temp_degf, running, np.max),
        oil_press_min_psi=_extreme(engine.oil_press_psi, air & running, np.min),
        oil_press_idle_psi=_idle_pressure(signals, course, engine, running, air),
        tit_max_degf=_extreme(engine.tit_degf, running, np.max),
        tit_over_limit_min=_over(signals, engine.tit_degf, spec.tit_limit_degf),
        above_cap_min=_above_cap(signals, power, plan, spec, air),
        chart_minus_fuel_pct=_chart_minus_fuel(pieces)[0],
        pieces_apart=_chart_minus_fuel(pieces)[1],
        bad_sensors=(*heads.faults, *exhaust.faults),
        disagree=power.disagree,
        suspect=power.suspect,
        method=power.method,
        notes=power.notes,
    )
    return EngineReading(flight, power)


def _air_rows(signals: Signals, course: Course) -> NDArray[np.bool_]:
    rows = np.zeros(len(signals.t), dtype=bool)
    if course.air is not None:
        rows[slice(*course.air)] = True
    return rows


def _minutes(signals: Signals, mask: NDArray[np.bool_]) -> float:
    return round(float(signals.weight_s[mask].sum()) / 60.0, 3)


def _ground(
    signals: Signals, course: Course, running: NDArray[np.bool_], air: NDArray[np.bool_]
) -> tuple[float | None, float | None]:
    """Engine running on the ground before and after the flight [min]; None where the recording lacks that end."""
    if course.air is None:
        return _minutes(signals, running), None
    start, end = course.air
    before, after = running.copy(), running.copy()
    before[start:], after[:end] = False, False
    return (
        _minutes(signals, before) if start > 0 else None,
        _minutes(signals, after) if end < len(signals.t) else None,
    )


def _band_minutes(
    signals: Signals, power: EnginePower, plan: Plan, air: NDArray[np.bool_], running: NDArray[np.bool_]
) -> dict[str, Span]:
    pct = running_mean(power.pct, signals.rows(9))
    ground = _minutes(signals, running & ~air)
    spans = {"ground": Span(ground, ground, ground)}
    if air.any() and not np.isfinite(pct[air]).any():
        return spans
    stock = Stock.of(pct, signals.weight_s, air)
    for name, band in (("75", plan.upper), ("65", plan.lower), ("light", (-np.inf, plan.low))):
        if band is not None:
            spans[name] = band_minutes(stock, band[0], band[1], power.common_sigma)
    return spans


def _take_off(signals: Signals, course: Course, engine: Engine, power: EnginePower) -> TakeOff:
    """What stood on the instruments at full throttle, from the roll into the first climb."""
    static = none_if_nan(power.static_error_inhg, 2) if power.static_error_inhg is not None else None
    if "takeoff_start" not in course.events or "liftoff" not in course.events:
        return TakeOff(static_map_error_inhg=static)
    first = signals.row_at(course.events["takeoff_start"])
    end = max(signals.row_at(course.events["liftoff"] + 20.0), first + 2)
    lever = next((one for one in (engine.map_inhg, engine.rpm, engine.ff_gph) if one is not None), None)
    rows = np.arange(first, min(end, len(signals.t)))
    if lever is not None and len(rows) and np.isfinite(lever[rows]).any():
        full = lever[rows] >= FULL_SHARE * np.nanmax(lever[rows])
        if engine.rpm is not None and np.isfinite(engine.rpm[rows]).any():
            full &= engine.rpm[rows] >= FULL_SHARE * np.nanmax(engine.rpm[rows])
        rows = rows[full] if full.any() else rows
    ground = slice(max(0, first - signals.rows(60)), first + 1)
    field_ft = none_if_nan(nanmedian(signals.alt_ft[ground]), 0) if signals.alt_ft is not None else None
    oat = none_if_nan(nanmedian(signals.oat_degf[ground]), 1) if signals.oat_degf is not None else None
    ambient = None if field_ft is None else round(float(ambient_inhg(np.asarray(field_ft))), 2)

    def held(values: Floats | None, digits: int) -> float | None:
        return None if values is None else none_if_nan(nanmedian(values[rows]), digits)

    return TakeOff(
        held(engine.ff_gph, 2), held(engine.map_inhg, 2), held(engine.rpm, 0), field_ft, oat, ambient, static
    )


def _standard_shift(signals: Signals) -> Floats | None:
    """Standard temperature at the altitude less what was measured [ddegF], row by row (:mod:`breakin.calc.heat`)."""
    if signals.oat_degf is None or signals.alt_ft is None:
        return None
    return standard_degf(signals.alt_ft) - signals.oat_degf


def _level_rows(signals: Signals, stretches: Sequence[Stretch]) -> NDArray[np.int64]:
    """Rows of level cruise at one setting, without the time in which heads still settle."""
    parts = [
        np.arange(signals.row_at(float(signals.t[one.first]) + SETTLE_S), one.end)
        for one in stretches
        if one.settled and one.phase == "cruise"
    ]
    return np.concatenate([part for part in parts if len(part)] or [np.zeros(0, dtype=np.int64)])


def _hot_cylinder(signals: Signals, stretches: Sequence[Stretch], heads: Probes) -> tuple[int, float, float] | None:
    rows = _level_rows(signals, stretches)
    good = heads.good
    if len(rows) * signals.step_s < 60 or len(good) < 2:
        return None
    means = np.asarray([nanmean(heads.values[rows, index]) for index in good])
    good, means = good[np.isfinite(means)], means[np.isfinite(means)]
    if len(good) < 2:
        return None
    over = (means - means.mean()) * len(means) / (len(means) - 1)
    worst = int(np.argmax(over))
    return int(good[worst]) + 1, round(float(over[worst]), 1), round(float(means[worst]), 1)


def _cruise_standard(
    signals: Signals, stretches: Sequence[Stretch], pieces: Sequence[Piece], heads: Probes, shift: Floats | None
) -> tuple[Cylinders, float | None]:
    """Mean of each head in upper-band cruise on a standard day, and at what percent power."""
    if shift is None or not heads.values.shape[1]:
        return (), None
    chosen = [one for one, piece in zip(stretches, pieces, strict=True) if piece.band == "75"]
    rows = _level_rows(signals, chosen)
    if len(rows) * signals.step_s < 60:
        return (), None
    moved = heads.values[rows] + shift[rows, None]
    values = tuple(
        None if heads.rejected[index] else none_if_nan(nanmean(moved[:, index]), 1) for index in range(moved.shape[1])
    )
    seconds = [
        (piece.t1 - piece.t0, piece.pct or 0.0) for piece in pieces if piece.band == "75" and piece.phase == "cruise"
    ]
    total = sum(length for length, _pct in seconds)
    return values, round(sum(length * pct for length, pct in seconds) / total, 2) if total else None


def _over_watch(
    signals: Signals, course: Course, hottest: Floats, spec: EngineSpec
) -> tuple[float | None, float | None]:
    """Longest unbroken minutes with the hottest head over the watch line: in the climb, and after it."""
    if spec.cht_watch_degf is None or course.air is None or not np.isfinite(hottest).any():
        return None, None
    over = np.nan_to_num(hottest, nan=0.0) > spec.cht_watch_degf
    start, end = course.air
    top = signals.row_at(course.cruise[0]) if course.cruise is not None else end
    climb, level = over.copy(), over.copy()
    climb[:start], climb[top:] = False, False
    level[:top], level[end:] = False, False
    return round(heat.longest_minutes(signals, climb), 2), round(heat.longest_minutes(signals, level), 2)


def _low_map(signals: Signals, course: Course, engine: Engine, air: NDArray[np.bool_]) -> float | None:
    if engine.map_inhg is None or course.air is None:
        return None
    low = air & (engine.map_inhg < LOW_MAP_INHG)
    if "touchdown" in course.events:
        low &= signals.t < course.events["touchdown"] - LANDING_S
    return _minutes(signals, low)


def _extreme(values: Floats | None, where: NDArray[np.bool_], pick: object) -> float | None:
    if values is None or not where.any():
        return None
    known = values[where]
    known = known[np.isfinite(known)]
    return round(float(pick(known)), 1) if len(known) and callable(pick) else None


def _idle_pressure(
    signals: Signals, course: Course, engine: Engine, running: NDArray[np.bool_], air: NDArray[np.bool_]
) -> float | None:
    """Lowest oil pressure at hot idle on the ground."""
    if engine.oil_press_psi is None or engine.rpm is None or course.air is None or "touchdown" not in course.events:
        return None
    stop = course.events.get("shutdown", float(signals.t[-1]))
    idle = running & ~air & (engine.rpm < IDLE_RPM) & (signals.t > course.events["touchdown"]) & (signals.t < stop - 5)
    if engine.oil_temp_degf is not None:
        idle &= engine.oil_temp_degf > HOT_OIL_DEGF
    return _extreme(engine.oil_press_psi, idle, np.min)


def _over(signals: Signals, values: Floats | None, limit: float | None) -> float | None:
    if values is None or limit is None:
        return None
    return _minutes(signals, values > limit)


def _above_cap(
    signals: Signals, power: EnginePower, plan: Plan, spec: EngineSpec, air: NDArray[np.bool_]
) -> float | None:
    if spec.altitude_cap_ft is None or signals.alt_ft is None or plan.upper is None:
        return None
    pct = running_mean(power.pct, signals.rows(9))
    return _minutes(
        signals, air & (pct >= plan.upper[0]) & (pct <= plan.upper[1]) & (signals.alt_ft > spec.altitude_cap_ft)
    )


def _chart_minus_fuel(pieces: Sequence[Piece]) -> tuple[float | None, int]:
    both = [
        (one.minutes, one.chart_pct - one.fuel_pct)
        for one in blocks(pieces)
        if one.chart_pct is not None and one.fuel_pct is not None
    ]
    total = sum(minutes for minutes, _apart in both)
    if not total:
        return None, 0
    mean = sum(minutes * apart for minutes, apart in both) / total
    return round(mean, 2), sum(abs(apart) > APART_PCT for _minutes, apart in both)
