"""Percent power of a recorded engine: by the chart and by fuel flow, put together by their doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from breakin.calc.chart_power import fixed_pitch_percent, map_rpm_percent
from breakin.calc.recording.ambient import air_of, static_error
from breakin.calc.recording.leaning import Leaned, leanings_of
from breakin.calc.recording.mixture import (
    DEGF_PER_MIXTURE,
    PEAK_OVER_BEST,
    TAKE_OFF_RICH,
    fuel_share_of_mixture,
    power_of_mixture,
)
from breakin.calc.recording.phases import Course
from breakin.calc.recording.sensors import Probes
from breakin.calc.recording.signals import Engine, Signals
from breakin.calc.recording.smooth import Floats, nanmean, nanmedian, running_mean
from breakin.calc.recording.spec import EngineSpec

# One sigma of each doubt, in percent of the power. Own estimates, the project's own choice; they are printed.
ENGINE_SIGMA = 1.5  # one engine against its type's chart: cannot be seen from the cockpit
CHART_SIGMA = 0.6
FUEL_SIGMA = 2.5
BSFC_SIGMA = 1.5
MIXTURE_SIGMA = 4.0  # mixture never told: fuel flow alone
LEAN_OF_PEAK_SIGMA = 2.0  # where peak lies is known to 2 % of the fuel, and power follows the fuel there
LEAN_OF_PEAK = 0.85
FIXED_PITCH_SIGMA = 3.0
TURBO_SIGMA = 1.1
TURBO_SIGMA_PER_1000_FT = 0.15
ALTITUDE_SIGMA_PER_1000_FT = 0.9  # what an altitude that is 1,000 ft off does
MAP_SIGMA_INHG = 0.25  # an unchecked manifold-pressure gauge
CHECKED_MAP_SIGMA_INHG = 0.1
# Static check: beyond this the gauge is wrong, not the altimeter's setting [inHg].
STATIC_WRONG_INHG = 0.75
STATIC_SHARE = 0.7
# Chart and fuel flow apart by so much of the power: one of the two instruments is wrong.
APART = 0.095
APART_UNLEANED = 0.12
APART_TURBO = 1.25
# How much of an odd mixture at take-off is laid to the instruments, the rest to how it was set up.
TAKE_OFF_SHARE = 0.6


@dataclass(frozen=True)
class EnginePower:
    """Power of one engine, one value a row.

    pct, sigma : percent of rated power and one sigma [%]; NaN where it cannot be told; 0 with the engine stopped.
    chart_pct, fuel_pct : the two ways by themselves; None where there is no such way.
    air_pct : by the chart at best-power mixture: what the levers were set to.
    mixture : fuel for the air over best power.
    leanings, disagree, suspect, static_error_inhg, method, notes : as in the result.
    common_sigma : one sigma of what is wrong all flight long, as a share of the power.
    """

    pct: Floats
    sigma: Floats
    chart_pct: Floats | None
    fuel_pct: Floats | None
    air_pct: Floats | None
    mixture: Floats
    leanings: tuple[Leaned, ...]
    disagree: tuple[str, ...]
    suspect: str
    static_error_inhg: float | None
    common_sigma: float
    method: str
    notes: tuple[str, ...]


def power_of(
    signals: Signals, engine: Engine, spec: EngineSpec, course: Course, exhaust: Probes, heads: Probes
) -> EnginePower:
    """Percent power, row by row, with the doubt and the words for it."""
    return _Finder(signals, engine, spec, course, exhaust, heads).found()


class _Finder:
    """The steps in order; each leaves what the next needs."""

    def __init__(
        self, signals: Signals, engine: Engine, spec: EngineSpec, course: Course, exhaust: Probes, heads: Probes
    ) -> None:
        self.signals, self.engine, self.spec, self.course = signals, engine, spec, course
        self.exhaust, self.heads = exhaust, heads
        self.running = course.running[engine.side]
        self.notes: list[str] = list(spec.assumed)
        self.ways: list[str] = []
        self.by_speed = spec.chart is not None and spec.chart.kind == "fixed_pitch"
        self.static = static_error(signals, engine, self.running)
        self.map_wrong = self.static is not None and abs(self.static - spec.map_error_inhg) > STATIC_WRONG_INHG
        self.chart_sigma = CHART_SIGMA

    def found(self) -> EnginePower:
        rows = len(self.signals.t)
        air = self._air()
        fuel_air = self._fuel_for_air(air)
        span = self._flown()
        leanings = leanings_of(self.signals, self._fuel_signal(fuel_air), air, self.exhaust, span)
        mixture, mixture_sigma, told = self._mixture(fuel_air, leanings)
        # A fixed-pitch propeller takes what its speed says, whatever the mixture.
        chart = air if air is None or self.by_speed else air * power_of_mixture(mixture)
        fuel = self._by_fuel(mixture)
        disagree, suspect = self._disagreement(fuel_air, leanings, span)
        fuel_sigma = math.hypot(FUEL_SIGMA, BSFC_SIGMA, mixture_sigma)
        pct, own = self._together(chart, fuel, fuel_sigma, told, disagree)
        if pct is None:
            pct = np.full(rows, np.nan)
        if span[1] > span[0] and nanmedian(mixture[span[0] : span[1]]) < LEAN_OF_PEAK:
            own = math.hypot(own, LEAN_OF_PEAK_SIGMA)
        common = math.hypot(ENGINE_SIGMA, own) / 100.0
        still = ~self.running
        pct = np.where(still, 0.0, np.maximum(pct, 0.0))
        method = (
            "; ".join(self.ways) if self.ways else "power cannot be told: neither a chart with its readings nor fuel"
        )
        return EnginePower(
            pct,
            np.where(still, 0.0, pct * common),
            chart,
            fuel,
            air,
            mixture,
            leanings,
            disagree,
            suspect,
            self.static,
            common,
            method,
            tuple(self.notes),
        )

    def _flown(self) -> tuple[int, int]:
        """From lift-off to the begin of the descent: where mixture is set by hand."""
        if self.course.air is None:
            return 0, 0
        start, end = self.course.air
        if self.course.cruise is not None:
            end = min(end, self.signals.row_at(self.course.cruise[1]))
        return start, end

    def _air(self) -> Floats | None:
        """Percent power by the chart at best-power mixture."""
        chart, engine = self.spec.chart, self.engine
        if chart is None or engine.rpm is None or (engine.map_inhg is None and not self.by_speed):
            return None
        air = air_of(self.signals, engine, self.running)
        self.notes += air.notes
        rpm = engine.rpm - self.spec.rpm_error
        doubts = [self.chart_sigma, ALTITUDE_SIGMA_PER_1000_FT * air.altitude_sigma_ft / 1000.0]
        # Percent of power for a degree: half of 1/T by the square root, the whole by density at a fixed pitch.
        doubts.append((100.0 if self.by_speed else 50.0) * air.oat_sigma_ddegf / 500.0)
        if self.by_speed:
            self.ways.append(f"power by chart from engine speed and density, {air.words}")
            self.chart_sigma = math.hypot(*doubts, FIXED_PITCH_SIGMA)
            return fixed_pitch_percent(chart, rpm, air.altitude_ft, air.oat_degf)
        self.ways.append(f"power by chart from manifold pressure and engine speed, {air.words}")
        pressure = np.maximum(engine.map_inhg - self._map_correction(doubts), 1.0)
        if chart.sea_level_only:
            height = max(float(np.nan_to_num(nanmedian(air.altitude_ft))) / 1000.0, 0.0)
            doubts += [TURBO_SIGMA, TURBO_SIGMA_PER_1000_FT * height]
        self.chart_sigma = math.hypot(*doubts)
        pct, beyond = map_rpm_percent(chart, rpm, pressure, air.altitude_ft, air.oat_degf)
        flown = beyond[slice(*self.course.air)] if self.course.air is not None else beyond[:0]
        if self.signals.alt_ft is not None and len(flown) and np.nanmean(flown > 0.06) > 0.2:
            self.notes.append(
                "Manifold pressure was more than full throttle gives at the recorded altitude; one of the two is wrong."
            )
        return pct

    def _map_correction(self, doubts: list[float]) -> float:
        """What to take off the manifold pressure: the known error, or what the stopped engine shows."""
        known = self.spec.map_error_inhg
        pressure = nanmedian(self.engine.map_inhg[self.running]) if self.engine.map_inhg is not None else 20.0
        usual = max(pressure, 12.0) if np.isfinite(pressure) else 20.0
        if self.static is None:
            doubts.append(100 * MAP_SIGMA_INHG / usual)
            return known
        doubts.append(100 * CHECKED_MAP_SIGMA_INHG / usual)
        apart = self.static - known
        if self.map_wrong:
            way = "high" if apart > 0 else "low"
            self.notes.append(
                f"With the engine stopped, manifold pressure read {abs(apart):.1f} inHg {way} for the recorded "
                "altitude; it was corrected by that."
            )
            return known + apart
        return known + STATIC_SHARE * apart

    def _fuel_pounds(self) -> Floats | None:
        return None if self.engine.ff_gph is None else self.engine.ff_gph * self.spec.fuel_lb_per_gal

    def _fuel_for_air(self, air: Floats | None) -> Floats | None:
        """Fuel over what the chart's power burns at best power: 1 at best power if both instruments are right."""
        pounds = self._fuel_pounds()
        if pounds is None or air is None or self.spec.rated_hp is None:
            return None
        burnt = np.maximum(air, 5.0) / 100.0 * self.spec.rated_hp * self.spec.bsfc_lb_hp_h
        return pounds / burnt

    def _fuel_signal(self, fuel_air: Floats | None) -> Floats | None:
        return fuel_air if fuel_air is not None else self.engine.ff_gph

    def _mixture(self, fuel_air: Floats | None, leanings: tuple[Leaned, ...]) -> tuple[Floats, float, bool]:
        """Mixture row by row, its doubt in percent of fuel power, and whether the leaning told it."""
        rows = len(self.signals.t)
        if fuel_air is not None:
            smooth = running_mean(fuel_air, self.signals.rows(9))
            if leanings:
                at_peak = self._at_peak(fuel_air, leanings[0])
                return np.clip(PEAK_OVER_BEST * smooth / at_peak, 0.55, 1.6), 2.0, True
            # Nobody leaned to a peak: the rich take-off tells how far the two instruments are apart by themselves.
            apart = self._rich_at_take_off(fuel_air)
            smooth = smooth / np.exp(TAKE_OFF_SHARE * (apart or 0.0))
            return np.clip(np.where(np.isfinite(smooth), smooth, 1.0), 0.7, 1.5), MIXTURE_SIGMA, False
        mixture = np.ones(rows)
        if self.course.air is not None:
            until = self.course.cruise[0] if self.course.cruise else self.signals.t[self.course.air[1] - 1]
            mixture[: self.signals.row_at(float(until))] = TAKE_OFF_RICH
        for leaned in leanings[:1]:
            self._by_exhaust(mixture, leaned)
        return mixture, MIXTURE_SIGMA if not leanings else 3.0, False

    def _rich_at_take_off(self, fuel_air: Floats) -> float | None:
        """Logarithm of the mixture at full throttle over the usual one; None without a take-off."""
        lifted = self.course.events.get("liftoff")
        if lifted is None or self.course.air is None:
            return None
        start = self.course.air[0]
        found = nanmedian(fuel_air[start : min(self.course.air[1], self.signals.row_at(lifted + 45.0))])
        return math.log(found / TAKE_OFF_RICH) if np.isfinite(found) and found > 0 else None

    def _at_peak(self, fuel_air: Floats, leaned: Leaned) -> float:
        row = self.signals.row_at(leaned.t)
        near = self.signals.rows(6)
        found = nanmedian(fuel_air[max(0, row - near) : row + near + 1])
        return found if np.isfinite(found) and found > 0 else PEAK_OVER_BEST

    def _by_exhaust(self, mixture: Floats, leaned: Leaned) -> None:
        """Without fuel for the air: from how far the exhaust is below its crest, and on which side by the heads.

        Lean of peak the heads run much cooler at the same or higher manifold pressure; rich of peak hardly.
        """
        after = self.signals.row_at(self.signals.t[leaned.trough_row] + 60.0)
        below = leaned.crest_degf - self.exhaust.values[after:]
        known = np.isfinite(below)
        if not known.any():
            return
        drop = np.where(known, below, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
        drop = np.clip(running_mean(drop, self.signals.rows(15)), 0.0, 250.0)
        side = -1.0 if self._cooler_after(leaned) else 1.0
        if side < 0:
            self.notes.append("After leaning the heads ran much cooler at the same power setting: lean of peak.")
        mixture[after:] = np.clip(PEAK_OVER_BEST + side * drop / DEGF_PER_MIXTURE, 0.65, TAKE_OFF_RICH)

    def _cooler_after(self, leaned: Leaned) -> bool:
        heads = self.heads.values
        if not heads.shape[1] or np.isnan(heads).all():
            return False
        row, later = leaned.trough_row, self.signals.row_at(self.signals.t[leaned.trough_row] + 420.0)
        if later >= len(heads):
            return False
        span = self.signals.rows(20)
        before, after = nanmean(heads[max(0, row - span) : row + 1]), nanmean(heads[later - span : later + 1])
        pressure = self.engine.map_inhg
        if (
            pressure is not None
            and nanmedian(pressure[later - span : later]) < nanmedian(pressure[row - span : row]) - 1
        ):
            return False
        return before - after > 30.0

    def _by_fuel(self, mixture: Floats) -> Floats | None:
        pounds = self._fuel_pounds()
        if pounds is None or self.spec.rated_hp is None:
            return None
        return 100.0 * pounds / (self.spec.bsfc_lb_hp_h * self.spec.rated_hp) * fuel_share_of_mixture(mixture)

    def _disagreement(
        self, fuel_air: Floats | None, leanings: tuple[Leaned, ...], span: tuple[int, int]
    ) -> tuple[tuple[str, ...], str]:
        if self.map_wrong:
            return ("manifold_pressure",), "manifold pressure: it was wrong with the engine stopped"
        if fuel_air is None or span[1] <= span[0]:
            return (), ""
        if leanings:
            apart, line = math.log(self._at_peak(fuel_air, leanings[0]) / PEAK_OVER_BEST), APART
        else:
            cruise = self.signals.row_at(self.course.cruise[0]) if self.course.cruise else span[0]
            level = nanmedian(fuel_air[cruise : span[1]])
            apart, line = (math.log(level) if np.isfinite(level) and level > 0 else 0.0), APART_UNLEANED
            rich = self._rich_at_take_off(fuel_air)
            apart = apart if rich is None else (apart + rich) / 2
        self.apart = apart
        if abs(apart) < line * (APART_TURBO if self.spec.turbo else 1.0):
            return (), ""
        way = "more" if apart > 0 else "less"
        self.notes.append(f"Fuel flow stood for {100 * abs(apart):.0f} % {way} power than the chart.")
        if self.static is not None:
            return ("fuel_flow",), "fuel flow: manifold pressure was right with the engine stopped"
        return ("fuel_flow", "manifold_pressure"), ""

    def _together(
        self, chart: Floats | None, fuel: Floats | None, fuel_sigma: float, told: bool, disagree: tuple[str, ...]
    ) -> tuple[Floats | None, float]:
        """The two powers by their doubt; and one sigma of what is left [%]."""
        if chart is None and fuel is None:
            return None, 0.0
        if chart is None:
            self.ways.append("power by fuel flow with a mixture factor")
            return fuel, fuel_sigma
        if fuel is None or not told or disagree == ("fuel_flow",):
            self.ways.append(
                "fuel flow not recorded"
                if fuel is None
                else "fuel flow left out"
                if disagree
                else "mixture by fuel flow"
            )
            return chart, self.chart_sigma
        chart_sigma = self.chart_sigma
        if len(disagree) == 2:
            # Nobody can say which is wrong: the middle, and a doubt as wide as the two are apart.
            chart_sigma = fuel_sigma = 100 * abs(self.apart) / 1.4
        weight = chart_sigma**2 / (chart_sigma**2 + fuel_sigma**2)
        both = np.where(np.isfinite(fuel), chart + weight * (fuel - chart), chart)
        both = np.where(np.isfinite(both), both, fuel)
        start, end = self._flown()
        apart = nanmedian((fuel / np.maximum(chart, 5.0))[start:end]) - 1 if end > start else float("nan")
        if np.isfinite(apart):
            self.ways.append(f"fuel flow with a mixture factor agrees within {100 * abs(apart):.0f} %")
        return both, math.sqrt(1.0 / (1.0 / chart_sigma**2 + 1.0 / fuel_sigma**2))
