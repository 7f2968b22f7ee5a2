"""Percent power by the chart for whole columns of samples: the one place where a chart becomes a percentage.

What a pilot typed goes through here one reading at a time (:mod:`breakin.calc.percent`, which refuses what is off the
chart), a recording goes through a column at a time. NaN in, NaN out; nothing is refused or limited here.
"""

import numpy as np

from breakin.calc.atmosphere import (
    DELTA_EXPONENT,
    SEA_LEVEL_TEMPERATURE_R,
    SIGMA_EXPONENT,
    THETA_PER_FT,
    ZERO_DEGF_IN_R,
    FloatArray,
)
from breakin.calc.chart import Chart, FixedPitchPoint, on_line, sea_level_hp
from breakin.calc.power_laws import LAPSE_OFFSET, LAPSE_SLOPE, between_charts_hp


def map_rpm_percent(
    chart: Chart, rpm: FloatArray, map_inhg: FloatArray, altitude_ft: FloatArray, oat_degf: FloatArray | None
) -> tuple[FloatArray, FloatArray]:
    """Percent of rated power at best-power mixture, from manifold pressure and engine speed.

    Parameters
    ----------
    chart : Chart of kind map_rpm.
    rpm : array [rpm]
    map_inhg : array [inHg], above 0.
    altitude_ft : array [ft] - pressure altitude, below 36,089.
    oat_degf : array [degF], or None for a standard day.

    Returns
    -------
    percent : array [% of rated power]
    beyond : array [-] - by how much of density ratio the manifold pressure is more than full throttle gives at that
        altitude; negative or 0 where it can be had. Zero for a turbocharged engine.

    Source: two-chart procedure and square root of absolute temperature as in SFTE, Technical Handbook, 2013, section
    10.2. A turbocharged chart with a critical altitude holds on a standard day up to it. Where only the sea-level
    chart of a turbocharged engine is known, its air is that of 59 degF, and colder air aloft is the denser at the
    same manifold pressure (gas law; falling back pressure and the warmth of the compressor are left to the doubt).
    """
    theta = 1.0 - THETA_PER_FT * altitude_ft
    hp = sea_level_hp(chart, rpm, map_inhg)
    beyond = np.zeros_like(hp)
    if chart.critical_altitude_ft is None and not chart.sea_level_only:
        top_map = on_line(rpm, chart.full_throttle_rpm, chart.full_throttle_map_inhg)
        top_hp = on_line(rpm, chart.full_throttle_rpm, chart.full_throttle_hp)
        sigma = theta**SIGMA_EXPONENT
        sigma_a = (map_inhg / top_map) ** (SIGMA_EXPONENT / DELTA_EXPONENT)
        hp = between_charts_hp(hp, top_hp * (LAPSE_SLOPE * sigma_a - LAPSE_OFFSET), sigma_a, sigma)
        beyond = sigma_a - sigma
    reference = SEA_LEVEL_TEMPERATURE_R * (1.0 if chart.sea_level_only else theta)
    actual = SEA_LEVEL_TEMPERATURE_R * theta if oat_degf is None else oat_degf + ZERO_DEGF_IN_R
    return 100.0 * hp / chart.rated_hp * np.sqrt(reference / actual), beyond


def fixed_pitch_percent(
    chart: Chart, rpm: FloatArray, altitude_ft: FloatArray, oat_degf: FloatArray | None
) -> FloatArray:
    """Percent of rated power from engine speed with a fixed-pitch propeller.

    Parameters
    ----------
    chart : Chart of kind fixed_pitch.
    rpm : array [rpm]
    altitude_ft : array [ft] - pressure altitude.
    oat_degf : array [degF], or None for a standard day.

    Returns
    -------
    array [% of rated power]: k x density ratio x rpm cubed, k exact at every printed row and straight between rows;
    beyond the rows the last k holds.
    """
    theta = 1.0 - THETA_PER_FT * altitude_ft
    standard = SEA_LEVEL_TEMPERATURE_R * theta
    density = theta**SIGMA_EXPONENT * (1.0 if oat_degf is None else standard / (oat_degf + ZERO_DEGF_IN_R))
    rows = rows_by_altitude(chart)
    at_altitudes = []
    for altitude, points in rows.items():
        density_there = (1.0 - THETA_PER_FT * altitude) ** SIGMA_EXPONENT
        constants = [point.pct / (density_there * point.rpm**3) for point in points]
        at_altitudes.append(np.interp(rpm, [point.rpm for point in points], constants))
    known, stacked = np.asarray(list(rows)), np.stack(at_altitudes)
    if len(known) == 1:
        constant = stacked[0]
    else:
        low = np.clip(np.searchsorted(known, altitude_ft, side="right") - 1, 0, len(known) - 2)
        share = np.clip((altitude_ft - known[low]) / (known[low + 1] - known[low]), 0.0, 1.0)
        below, above = (np.take_along_axis(stacked, (low + one)[None], axis=0)[0] for one in (0, 1))
        constant = below + share * (above - below)
    percent: FloatArray = constant * density * rpm**3
    return percent


def rows_by_altitude(chart: Chart) -> dict[float, list[FixedPitchPoint]]:
    """The printed rows of a fixed-pitch table under their pressure altitude [ft], rising."""
    rows: dict[float, list[FixedPitchPoint]] = {}
    for point in chart.points:
        rows.setdefault(point.pressure_altitude_ft, []).append(point)
    return rows
