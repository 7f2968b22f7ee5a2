"""Fuel for the air: how rich the engine ran, and whether fuel flow and manifold pressure can both be right."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from breakin.calc.recording.leaning import Leaned
from breakin.calc.recording.mixture import DEGF_PER_MIXTURE, PEAK_OVER_BEST, TAKE_OFF_RICH
from breakin.calc.recording.phases import Course
from breakin.calc.recording.sensors import Probes
from breakin.calc.recording.signals import Engine, Signals
from breakin.calc.recording.smooth import Floats, nanmean, nanmedian, running_mean
from breakin.calc.recording.spec import EngineSpec
from breakin.calc.said import msgid

# One sigma of the fuel's power from not knowing the mixture [%]: leaned to a peak, by the exhaust alone, never told.
LEANED_SIGMA = 2.0
EXHAUST_SIGMA = 3.0
NOT_TOLD_SIGMA = 4.0
# How much of an odd mixture at take-off is laid to the instruments, the rest to how it was set up.
TAKE_OFF_SHARE = 0.6
# Chart and fuel flow apart by so much of the power: one of the two instruments is wrong. Own choice.
APART = 0.095
APART_UNLEANED = 0.12
APART_TURBO = 1.25
# Heads cooler by so much some minutes after leaning, at no less manifold pressure: lean of peak [ddegF].
COOLER_DDEGF = 30.0
COOLER_AFTER_S = 420.0


@dataclass(frozen=True)
class Mixture:
    """Fuel for the air over that of best power.

    values : row by row. sigma : one sigma of the fuel's power from it [%]. told : by a leaning to the first peak.
    notes : sentences on how.
    """

    values: Floats
    sigma: float
    told: bool
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Disagreement:
    """Which instruments cannot be believed beside each other; the one that is wrong, in words, or ""; by how much fuel
    flow stands above the chart, as a logarithm; sentences."""

    instruments: tuple[str, ...] = ()
    suspect: str = ""
    apart: float = 0.0
    notes: tuple[str, ...] = ()


def fuel_for_air(engine: Engine, spec: EngineSpec, air_pct: Floats | None) -> Floats | None:
    """Fuel over what the chart's power burns at best power: 1 at best power if both instruments are right."""
    if engine.ff_gph is None or air_pct is None or spec.rated_hp is None:
        return None
    burnt = np.maximum(air_pct, 5.0) / 100.0 * spec.rated_hp * spec.bsfc_lb_hp_h
    return engine.ff_gph * spec.fuel_lb_per_gal / burnt


def mixture_of(
    signals: Signals,
    engine: Engine,
    course: Course,
    probes: tuple[Probes, Probes],
    fuel_air: Floats | None,
    leanings: tuple[Leaned, ...],
) -> Mixture:
    """How rich the engine ran, by the best that was recorded.

    Parameters
    ----------
    probes : exhaust and head probes.
    fuel_air : as :func:`fuel_for_air` gives it, or None.
    leanings : leanings to the first peak; the first of them calibrates fuel for the air.
    """
    if fuel_air is not None:
        smooth = running_mean(fuel_air, signals.rows(9))
        if leanings:
            at_peak = _at_peak(signals, fuel_air, leanings[0])
            return Mixture(np.clip(PEAK_OVER_BEST * smooth / at_peak, 0.55, 1.6), LEANED_SIGMA, told=True)
        # Nobody leaned to a peak: the rich take-off tells how far the two instruments are apart by themselves.
        smooth = smooth / math.exp(TAKE_OFF_SHARE * (_rich_at_take_off(signals, course, fuel_air) or 0.0))
        return Mixture(np.clip(np.where(np.isfinite(smooth), smooth, 1.0), 0.7, 1.5), NOT_TOLD_SIGMA, told=False)
    values = np.ones(len(signals.t))
    if course.air is not None:
        until = course.cruise[0] if course.cruise else float(signals.t[course.air[1] - 1])
        values[: signals.row_at(until)] = TAKE_OFF_RICH
    if not leanings:
        return Mixture(values, NOT_TOLD_SIGMA, told=False)
    notes = _by_exhaust(signals, engine, probes, leanings[0], values)
    return Mixture(values, EXHAUST_SIGMA, told=False, notes=notes)


def disagreement_of(
    signals: Signals,
    course: Course,
    spec: EngineSpec,
    fuel_air: Floats | None,
    leanings: tuple[Leaned, ...],
    span: tuple[int, int],
    *,
    map_wrong: bool,
    checked: bool,
) -> Disagreement:
    """Whether fuel flow and manifold pressure can both be right, and which of them is wrong.

    Parameters
    ----------
    span : rows in which the mixture is set by hand.
    map_wrong : the static check found manifold pressure wrong. checked : there was a static check.
    """
    if map_wrong:
        return Disagreement(("manifold_pressure",), msgid("manifold pressure: it was wrong with the engine stopped"))
    if fuel_air is None or span[1] <= span[0]:
        return Disagreement()
    if leanings:
        apart, line = math.log(_at_peak(signals, fuel_air, leanings[0]) / PEAK_OVER_BEST), APART
    else:
        cruise = signals.row_at(course.cruise[0]) if course.cruise else span[0]
        level = nanmedian(fuel_air[cruise : span[1]])
        apart, line = (math.log(level) if np.isfinite(level) and level > 0 else 0.0), APART_UNLEANED
        rich = _rich_at_take_off(signals, course, fuel_air)
        apart = apart if rich is None else (apart + rich) / 2
    if abs(apart) < line * (APART_TURBO if spec.turbo else 1.0):
        return Disagreement(apart=apart)
    note = f"Fuel flow stood for {100 * abs(apart):.0f} % {'more' if apart > 0 else 'less'} power than the chart."
    if checked:
        suspect = msgid("fuel flow: manifold pressure was right with the engine stopped")
        return Disagreement(("fuel_flow",), suspect, apart, (note,))
    return Disagreement(("fuel_flow", "manifold_pressure"), "", apart, (note,))


def _rich_at_take_off(signals: Signals, course: Course, fuel_air: Floats) -> float | None:
    """Logarithm of the mixture at full throttle over the usual one; None without a take-off."""
    lifted = course.events.get("liftoff")
    if lifted is None or course.air is None:
        return None
    start, end = course.air
    found = nanmedian(fuel_air[start : min(end, signals.row_at(lifted + 45.0))])
    return math.log(found / TAKE_OFF_RICH) if np.isfinite(found) and found > 0 else None


def _at_peak(signals: Signals, fuel_air: Floats, leaned: Leaned) -> float:
    row, near = signals.row_at(leaned.t), signals.rows(6)
    found = nanmedian(fuel_air[max(0, row - near) : row + near + 1])
    return found if np.isfinite(found) and found > 0 else PEAK_OVER_BEST


def _by_exhaust(
    signals: Signals, engine: Engine, probes: tuple[Probes, Probes], leaned: Leaned, values: Floats
) -> tuple[str, ...]:
    """Without fuel for the air: from how far the exhaust is below its crest, and on which side by the heads."""
    exhaust, heads = probes
    after = signals.row_at(float(signals.t[leaned.trough_row]) + 60.0)
    below = leaned.crest_degf - exhaust.values[after:]
    known = np.isfinite(below)
    if not known.any():
        return ()
    drop = np.where(known, below, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
    drop = np.clip(running_mean(drop, signals.rows(15)), 0.0, 250.0)
    lean = _cooler_after(signals, engine, heads, leaned)
    side = -1.0 if lean else 1.0
    values[after:] = np.clip(PEAK_OVER_BEST + side * drop / DEGF_PER_MIXTURE, 0.65, TAKE_OFF_RICH)
    return ("After leaning the heads ran much cooler at the same power setting: lean of peak.",) if lean else ()


def _cooler_after(signals: Signals, engine: Engine, heads: Probes, leaned: Leaned) -> bool:
    """Lean of peak the heads run much cooler at the same or higher manifold pressure; rich of peak hardly."""
    row = leaned.trough_row
    later, span = signals.row_at(float(signals.t[row]) + COOLER_AFTER_S), signals.rows(20)
    if not heads.values.shape[1] or later >= len(heads.values):
        return False
    before, after = (slice(max(0, at - span), at + 1) for at in (row, later))
    pressure = engine.map_inhg
    if pressure is not None and nanmedian(pressure[after]) < nanmedian(pressure[before]) - 1:
        return False
    return nanmean(heads.values[before]) - nanmean(heads.values[after]) > COOLER_DDEGF
