"""Percent of rated power from what was read in flight, and the other way round: what to set for a percentage."""

import math
from dataclasses import dataclass

import numpy as np

from breakin.calc.atmosphere import (
    DELTA_EXPONENT,
    OAT_DEGF,
    SEA_LEVEL_TEMPERATURE_R,
    SIGMA_EXPONENT,
    THETA_PER_FT,
    FloatArray,
    checked,
)
from breakin.calc.chart import Chart, on_line, within_chart
from breakin.calc.chart_power import fixed_pitch_percent, map_rpm_percent
from breakin.calc.errors import BadQuantity, MissingData, OutOfRange
from breakin.calc.power_laws import SIGMA_MARGIN, full_throttle_fraction, temperature_factor

# One sigma of a day's temperature about standard when nobody read it [ddegF]: common practice, no source.
UNKNOWN_OAT_DDEGF = 18.0
# Added to sigma, in percent, where a chart is carried beyond what it prints: own choice.
OFF_CHART_SIGMA_PCT = 1.0
# How near a setting is worked out; instruments are read to a tenth of an inch and to ten rpm.
WITHIN_INHG, WITHIN_RPM = 1e-8, 1e-4


@dataclass(frozen=True)
class PowerEstimate:
    """Percent power with its doubt.

    pct : float [% of rated power], central value.
    sigma_pct : float [% of rated power], one sigma.
    method : the way it was worked out, in words.
    assumed : what had to be assumed, each in words; empty when nothing.
    """

    pct: float
    sigma_pct: float
    method: str
    assumed: tuple[str, ...] = ()


def _number(value: float | None, where: str, mend: str) -> float:
    if value is None or (isinstance(value, float) and math.isnan(value)):
        raise MissingData("not observed.", where=where, mend=mend)
    return float(value)


def percent_power(
    chart: Chart,
    *,
    rpm: float | None,
    map_inhg: float | None,
    pressure_altitude_ft: float | None,
    oat_degf: float | None,
    sigma_pct: float = 2.0,
) -> PowerEstimate:
    """Percent of rated power at these readings.

    Parameters
    ----------
    chart : Chart
    rpm : float [rpm]
    map_inhg : float [inHg]; not used for a fixed-pitch chart.
    pressure_altitude_ft : float [ft], -2,000 to 36,089.
    oat_degf : float [degF], -110 to 160; None takes a standard day, widens sigma, and says so.
    sigma_pct : float [%] - one sigma of the readings and the chart: 2 typed by hand, 1.2 from a recorder.

    Returns
    -------
    PowerEstimate

    Raises
    ------
    MissingData : rpm, manifold pressure or pressure altitude not observed.
    OutOfRange : off the chart by more than 50 rpm or 0.5 inHg; a manifold pressure that cannot be had there.

    Source: two-chart procedure and temperature correction of SFTE, Technical Handbook, 2013, section 10.2;
    fixed pitch: percent = k x density ratio x rpm cubed between and beyond the printed rows.
    """
    mend = "Without it percent power is not known."
    speed = _number(rpm, "rpm", mend)
    altitude = _number(pressure_altitude_ft, "pressure altitude", mend)
    if chart.kind == "fixed_pitch":
        pct, method, assumed = _fixed_pitch_pct(chart, speed, altitude, oat_degf)
        exponent = 1.0
    else:
        manifold = _number(map_inhg, "manifold pressure", mend)
        pct, method, assumed = _map_rpm_pct(chart, speed, manifold, altitude, oat_degf)
        exponent = 0.5
    sigma = sigma_pct + (OFF_CHART_SIGMA_PCT if assumed else 0.0)
    if oat_degf is None:
        absolute_r = SEA_LEVEL_TEMPERATURE_R * (1 - THETA_PER_FT * altitude)
        sigma = math.hypot(sigma, exponent * UNKNOWN_OAT_DDEGF / absolute_r * pct)
        assumed = (*assumed, "outside air temperature not observed: standard day taken")
    return PowerEstimate(pct, sigma, method, assumed)


def _standard_sigma(altitude_ft: float) -> float:
    checked("pressure altitude", altitude_ft, -2000, 36089, "ft", "Give it in feet.")
    return float((1 - THETA_PER_FT * altitude_ft) ** SIGMA_EXPONENT)


def _oat_factor(altitude_ft: float, oat_degf: float | None) -> float:
    return 1.0 if oat_degf is None else float(temperature_factor(float(altitude_ft), float(oat_degf)))


def _oat(oat_degf: float | None) -> FloatArray | None:
    if oat_degf is None:
        return None
    return checked("outside air temperature", oat_degf, *OAT_DEGF, "degF", "Give it in degF.")


def _full_throttle(chart: Chart, rpm: float) -> tuple[float, float]:
    """Manifold pressure [inHg] and power [hp] at full throttle, sea level."""
    return (
        on_line(rpm, chart.full_throttle_rpm, chart.full_throttle_map_inhg),
        on_line(rpm, chart.full_throttle_rpm, chart.full_throttle_hp),
    )


def _map_rpm_pct(
    chart: Chart, rpm: float, map_inhg: float, altitude_ft: float, oat_degf: float | None
) -> tuple[float, str, tuple[str, ...]]:
    assumed = within_chart(chart, rpm, map_inhg)
    checked("pressure altitude", altitude_ft, -2000, 36089, "ft", "Give it in feet.")
    pct, beyond = map_rpm_percent(chart, np.asarray(rpm), np.asarray(map_inhg), np.asarray(altitude_ft), _oat(oat_degf))
    if chart.critical_altitude_ft is not None:
        method = "sea-level chart, held to the critical altitude, and temperature"
        if altitude_ft > chart.critical_altitude_ft:
            assumed = (*assumed, "above the critical altitude: the chart was carried on")
    else:
        method = "sea-level and altitude chart, and temperature"
        if beyond > SIGMA_MARGIN:
            raise OutOfRange(
                "this manifold pressure cannot be had at this altitude even at full throttle.",
                where="manifold pressure",
                mend="Check the manifold pressure, its unit, and the altitude.",
            )
        if beyond > 0.005:
            assumed = (*assumed, "manifold pressure above full throttle for this altitude: full throttle taken")
    return float(pct), method, assumed


def _fixed_pitch_pct(
    chart: Chart, rpm: float, altitude_ft: float, oat_degf: float | None
) -> tuple[float, str, tuple[str, ...]]:
    speeds = [point.rpm for point in chart.points]
    low, high = 0.7 * min(speeds), 1.1 * max(speeds)
    if not low <= rpm <= high:
        mend = "Check the reading; power off the table stays unknown."
        raise OutOfRange(f"{rpm:.0f} rpm is off the power table ({low:.0f} to {high:.0f}).", where="rpm", mend=mend)
    altitudes = [point.pressure_altitude_ft for point in chart.points]
    assumed: tuple[str, ...] = ()
    if not min(altitudes) - 2000 <= altitude_ft <= max(altitudes) + 2000:
        assumed = ("more than 2,000 ft outside the power table: its law was carried on",)
    checked("pressure altitude", altitude_ft, -2000, 36089, "ft", "Give it in feet.")
    pct = float(fixed_pitch_percent(chart, np.asarray(rpm), np.asarray(altitude_ft), _oat(oat_degf)))
    return pct, "fixed-pitch table, density and rpm cubed between its rows", assumed


def max_percent_power(chart: Chart, *, pressure_altitude_ft: float, oat_degf: float | None, rpm: float) -> float:
    """The most power that can be had there at this engine speed, in percent of rated power.

    Parameters
    ----------
    chart : Chart
    pressure_altitude_ft : float [ft], -2,000 to 36,089.
    oat_degf : float [degF] or None for a standard day.
    rpm : float [rpm]

    Returns
    -------
    float [%]. Fixed pitch: what the propeller takes at this rpm, or full throttle if that is less.

    Raises
    ------
    OutOfRange : rpm off the chart, altitude or temperature out of range.

    Source: full-throttle law and temperature correction as in :mod:`breakin.calc.power_laws`.
    """
    sigma = _standard_sigma(pressure_altitude_ft)
    factor = _oat_factor(pressure_altitude_ft, oat_degf)
    if chart.kind == "fixed_pitch":
        taken, _method, _assumed = _fixed_pitch_pct(chart, rpm, pressure_altitude_ft, oat_degf)
        share_of_speed = rpm / chart.rated_rpm if chart.rated_rpm else 1.0
        available = 100 * float(full_throttle_fraction(sigma)) * factor * min(share_of_speed, 1.0)
        return min(taken, available)
    top_map, top_hp = _full_throttle(chart, rpm)
    within_chart(chart, rpm, min(top_map, chart.map_inhg[-1]))
    lapse = float(full_throttle_fraction(sigma))
    if chart.critical_altitude_ft is not None:
        lapse = min(1.0, lapse / float(full_throttle_fraction(_standard_sigma(chart.critical_altitude_ft))))
    return 100 * top_hp * lapse / chart.rated_hp * factor


def map_for_percent(
    chart: Chart, pct: float, rpm: float, pressure_altitude_ft: float, oat_degf: float | None
) -> float | None:
    """Manifold pressure that gives a percentage of rated power there.

    Parameters
    ----------
    chart : Chart of kind map_rpm.
    pct : float [%], above 0.
    rpm : float [rpm]
    pressure_altitude_ft : float [ft]
    oat_degf : float [degF] or None for a standard day.

    Returns
    -------
    float [inHg], or None: not achievable there at this rpm even at full throttle.

    Raises
    ------
    BadQuantity : the chart is of a fixed-pitch propeller, which is set by rpm.
    OutOfRange : rpm off the chart, or a percentage below the chart's lowest manifold pressure.
    """
    if chart.kind == "fixed_pitch":
        raise BadQuantity("a fixed-pitch propeller is set by rpm.", where="chart", mend="Ask for rpm_for_percent.")
    top_map = _full_throttle(chart, rpm)[0]
    if chart.critical_altitude_ft is None:
        top_map *= (1 - THETA_PER_FT * pressure_altitude_ft) ** DELTA_EXPONENT
    if pct > max_percent_power(chart, pressure_altitude_ft=pressure_altitude_ft, oat_degf=oat_degf, rpm=rpm) + 1e-9:
        return None

    def at(map_inhg: float) -> float:
        return _map_rpm_pct(chart, rpm, map_inhg, pressure_altitude_ft, oat_degf)[0]

    low, high = chart.map_inhg[0], min(top_map, chart.map_inhg[-1])
    if high <= low or pct < at(low):
        mend = "Choose a lower engine speed."
        raise OutOfRange(f"{pct:g} % at {rpm:.0f} rpm is below the power chart.", where="percent power", mend=mend)
    while high - low > WITHIN_INHG:
        middle = (low + high) / 2
        low, high = (middle, high) if at(middle) < pct else (low, middle)
    return (low + high) / 2


def rpm_for_percent(chart: Chart, pct: float, pressure_altitude_ft: float, oat_degf: float | None) -> float | None:
    """Engine speed that gives a percentage of rated power with a fixed-pitch propeller.

    Parameters
    ----------
    chart : Chart of kind fixed_pitch.
    pct : float [%], above 0.
    pressure_altitude_ft : float [ft]
    oat_degf : float [degF] or None for a standard day.

    Returns
    -------
    float [rpm], or None: not achievable there even at full throttle and rated rpm.

    Raises
    ------
    BadQuantity : the chart is not of a fixed-pitch propeller.
    OutOfRange : a percentage below the table.
    """
    if chart.kind != "fixed_pitch":
        raise BadQuantity("this propeller is set by manifold pressure.", where="chart", mend="Ask for map_for_percent.")
    speeds = [point.rpm for point in chart.points]
    low, high = 0.7 * min(speeds), chart.rated_rpm or 1.1 * max(speeds)
    if pct < _fixed_pitch_pct(chart, low, pressure_altitude_ft, oat_degf)[0]:
        raise OutOfRange(f"{pct:g} % is below the power table.", where="percent power", mend="Ask for more.")

    def reached(rpm: float) -> bool:
        best = max_percent_power(chart, pressure_altitude_ft=pressure_altitude_ft, oat_degf=oat_degf, rpm=rpm)
        return best >= pct

    if not reached(high):
        return None
    while high - low > WITHIN_RPM:
        middle = (low + high) / 2
        low, high = (low, middle) if reached(middle) else (middle, high)
    return high
