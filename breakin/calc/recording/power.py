"""Percent power of a recorded engine: by the chart and by fuel flow, put together by their doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from breakin.calc.chart import MAP_MARGIN_INHG, RPM_MARGIN, Chart
from breakin.calc.chart_power import fixed_pitch_percent, map_rpm_percent
from breakin.calc.recording.ambient import air_of, static_error
from breakin.calc.recording.fuel import Disagreement, disagreement_of, fuel_for_air, mixture_of
from breakin.calc.recording.leaning import Leaned, leanings_of
from breakin.calc.recording.mixture import fuel_share_of_mixture, power_of_mixture
from breakin.calc.recording.phases import Course
from breakin.calc.recording.sensors import Probes
from breakin.calc.recording.signals import Engine, Signals
from breakin.calc.recording.smooth import Floats, nanmedian
from breakin.calc.recording.spec import EngineSpec

# One sigma of each doubt, in percent of the power. Own estimates, the project's own choice; they are printed.
ENGINE_SIGMA = 1.5  # one engine against its type's chart: cannot be seen from the cockpit
CHART_SIGMA = 0.6
FUEL_SIGMA = 2.5
BSFC_SIGMA = 1.5
LEAN_OF_PEAK_SIGMA = 2.0  # where peak lies is known to 2 % of the fuel, and power follows the fuel there
LEAN_OF_PEAK = 0.85
BLIND_SIGMA = 1.0  # mixture by the exhaust alone, or not at all
FIXED_PITCH_SIGMA = 3.0
TURBO_SIGMA = 1.1
TURBO_SIGMA_PER_1000_FT = 0.15
ALTITUDE_SIGMA_PER_1000_FT = 0.9  # what an altitude that is 1,000 ft off does
MAP_SIGMA_INHG = 0.25  # an unchecked manifold-pressure gauge
CHECKED_MAP_SIGMA_INHG = 0.1
# Static check: beyond this the gauge is wrong, not the altimeter's setting [inHg].
STATIC_WRONG_INHG = 0.75
STATIC_SHARE = 0.7


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
        air = self._air()
        fuel_air = fuel_for_air(self.engine, self.spec, air)
        span = self._flown()
        signal = fuel_air if fuel_air is not None else self.engine.ff_gph
        leanings = leanings_of(self.signals, signal, air, self.exhaust, span)
        told = mixture_of(self.signals, self.engine, self.course, (self.exhaust, self.heads), fuel_air, leanings)
        mixture = told.values
        # A fixed-pitch propeller takes what its speed says, whatever the mixture.
        chart = air if air is None or self.by_speed else air * power_of_mixture(mixture)
        fuel = self._by_fuel(mixture)
        doubted = disagreement_of(
            self.signals,
            self.course,
            self.spec,
            fuel_air,
            leanings,
            span,
            map_wrong=self.map_wrong,
            checked=self.static is not None,
        )
        self.notes += [*told.notes, *doubted.notes]
        fuel_sigma = math.hypot(FUEL_SIGMA, BSFC_SIGMA, told.sigma)
        pct, own = self._together(chart, fuel, fuel_sigma, doubted, told=told.told)
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
            doubted.instruments,
            doubted.suspect,
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
        pressure = np.maximum(np.asarray(engine.map_inhg) - self._map_correction(doubts), 1.0)
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
        self._off_chart(chart, rpm, pressure)
        return pct

    def _off_chart(self, chart: Chart, rpm: Floats, pressure: Floats) -> None:
        """Say so where much of the cruise lies off the chart: a typed reading would be refused there."""
        start, end = self._flown()
        if self.course.cruise is not None:
            start = max(start, self.signals.row_at(self.course.cruise[0]))
        outside = (rpm < chart.rpm[0] - RPM_MARGIN) | (rpm > chart.rpm[-1] + RPM_MARGIN)
        outside |= (pressure < chart.map_inhg[0] - MAP_MARGIN_INHG) | (pressure > chart.map_inhg[-1] + MAP_MARGIN_INHG)
        if end > start and np.mean(outside[start:end]) > 0.1:
            self.notes.append("Part of the cruise lay off the power chart, which was carried on in straight lines.")

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

    def _by_fuel(self, mixture: Floats) -> Floats | None:
        if self.engine.ff_gph is None or self.spec.rated_hp is None:
            return None
        pounds = self.engine.ff_gph * self.spec.fuel_lb_per_gal
        return 100.0 * pounds / (self.spec.bsfc_lb_hp_h * self.spec.rated_hp) * fuel_share_of_mixture(mixture)

    def _together(
        self, chart: Floats | None, fuel: Floats | None, fuel_sigma: float, doubted: Disagreement, *, told: bool
    ) -> tuple[Floats, float]:
        """The two powers by their doubt; and one sigma of what is left [%]."""
        if chart is None and fuel is None:
            return np.full(len(self.signals.t), np.nan), 0.0
        if chart is None or fuel is None:
            if chart is None:
                self.ways.append("power by fuel flow with a mixture factor")
                return np.asarray(fuel), fuel_sigma
            self.ways.append("fuel flow not recorded")
            # By manifold pressure alone nobody sees whether it was run lean of peak.
            return chart, self.chart_sigma if self.by_speed else math.hypot(self.chart_sigma, BLIND_SIGMA)
        if not told or doubted.instruments == ("fuel_flow",):
            self.ways.append("fuel flow left out" if doubted.instruments else "mixture by fuel flow")
            return chart, self.chart_sigma
        chart_sigma = self.chart_sigma
        if len(doubted.instruments) == 2:
            # Nobody can say which is wrong: the middle, and a doubt as wide as the two are apart.
            chart_sigma = fuel_sigma = 100 * abs(doubted.apart) / 1.4
        weight = chart_sigma**2 / (chart_sigma**2 + fuel_sigma**2)
        both = np.where(np.isfinite(fuel), chart + weight * (fuel - chart), chart)
        both = np.where(np.isfinite(both), both, fuel)
        start, end = self._flown()
        apart = nanmedian((fuel / np.maximum(chart, 5.0))[start:end]) - 1 if end > start else float("nan")
        if np.isfinite(apart):
            self.ways.append(f"fuel flow with a mixture factor agrees within {100 * abs(apart):.0f} %")
        return both, math.sqrt(1.0 / (1.0 / chart_sigma**2 + 1.0 / fuel_sigma**2))
