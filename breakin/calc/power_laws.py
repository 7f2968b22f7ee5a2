"""Power laws of a piston engine: full throttle with altitude, the two-chart procedure, mean pressure, limits.

The chart of one engine type is in :mod:`breakin.calc.chart`, percent power from it in :mod:`breakin.calc.percent`;
callers import all of it from :mod:`breakin.calc.power`.
"""

import math

import numpy as np

from breakin.calc.atmosphere import (
    OAT_DEGF,
    SIGMA_EXPONENT,
    THETA_PER_FT,
    ZERO_DEGF_IN_R,
    FloatArray,
    Num,
    checked,
    standard_temperature_degf,
)
from breakin.calc.errors import OutOfRange

# Full-throttle power falls faster than density: a share of it goes into friction, which does not fall.
# Gagg and Farrar, "Altitude Performance of Aircraft Engines Equipped with Gear-Driven Superchargers", SAE
# Transactions 29 (1934), as given in SFTE, Technical Handbook, 2013, section 10.3.
LAPSE_SLOPE = 1.1324
LAPSE_OFFSET = 0.1324
# The same law the other way round, as section 10.2 of that handbook uses it.
SIGMA_AT_NO_POWER = 0.117
SIGMA_SPAN = 0.883
# And in the form used for fuel flow: s - (1 - s) / 7.55.
LAPSE_DIVISOR = 7.55

# BMEP [psi] = 792,000 hp / (displacement [cu in] x rpm): 33,000 ft lb/min x 12 in x 2 turns per power stroke.
BMEP_CONSTANT = 792_000.0

# Oil consumption ceiling, qt/h = 0.006 x hp x 4 / 7.4: Lycoming TEO-540-A1A Installation and Operation Manual
# (October 2018), Table A-2.
OIL_LB_PER_HP_H = 0.006
QUARTS_PER_GALLON = 4.0
OIL_LB_PER_GALLON = 7.4

# A manifold pressure slightly above what full throttle gives at this altitude is instrument error or ram air;
# 0.03 of density ratio is about an inch of mercury.
SIGMA_MARGIN = 0.03


def full_throttle_fraction(density_ratio: Num) -> Num:
    """Full-throttle power as a share of full-throttle power at sea level, same rpm, no supercharger.

    Parameters
    ----------
    density_ratio : float or array [-], 0.2 to 1.4.

    Returns
    -------
    float or array [-]

    Raises
    ------
    OutOfRange : density ratio outside the range above.

    Source: Gagg and Farrar 1934, as given in SFTE, Technical Handbook, 2013, section 10.3.

    >>> round(full_throttle_fraction(0.86167), 4)
    0.8434
    """
    sigma = checked("density ratio", density_ratio, 0.2, 1.4, "", "Take it from density_ratio().")
    share = LAPSE_SLOPE * sigma - LAPSE_OFFSET
    return float(share) if share.ndim == 0 else share  # type: ignore[return-value]


def chart_power_hp(
    *,
    hp_sea_level: float,
    hp_full_throttle: float,
    hp_full_throttle_sea_level: float,
    pressure_altitude_ft: float,
) -> float:
    """Power on a standard day from the sea-level chart and the altitude chart (one engine speed throughout).

    The sea-level chart gives B (this manifold pressure at sea level), the altitude chart gives A (the altitude at
    which this manifold pressure is full throttle). The line between them is straight in density ratio.

    Parameters
    ----------
    hp_sea_level : float [hp], above 0 - point B.
    hp_full_throttle : float [hp], above 0 - point A.
    hp_full_throttle_sea_level : float [hp], at least hp_full_throttle - full throttle at sea level, same rpm.
    pressure_altitude_ft : float [ft], -2,000 to 36,089.

    Returns
    -------
    float [hp]

    Raises
    ------
    OutOfRange : a power that is not above 0; A above full throttle at sea level; an altitude at which this
        manifold pressure cannot be had (more than 0.03 of density ratio beyond A).

    Source: SFTE, Technical Handbook, 2013, section 10.2, with its misprints put right (the bracket multiplies
    A - B, and the full-throttle density ratio is 0.117 + 0.883 A / A0); same procedure as the Lycoming O-540
    and IO-540 Operator's Manual, section 3.

    >>> round(chart_power_hp(hp_sea_level=126, hp_full_throttle=138, hp_full_throttle_sea_level=170,
    ...                      pressure_altitude_ft=4000), 2)
    134.08
    """
    for name, hp in (
        ("power at sea level", hp_sea_level),
        ("full-throttle power", hp_full_throttle),
        ("full-throttle power at sea level", hp_full_throttle_sea_level),
    ):
        if not (hp > 0 and math.isfinite(hp)):
            raise OutOfRange(f"{hp:g} hp is not above 0.", where=name, mend="Read the chart again.")
    if hp_full_throttle > hp_full_throttle_sea_level * (1 + 1e-9):
        mend = "Full throttle gives most power at sea level; read the chart again."
        raise OutOfRange(f"{hp_full_throttle:g} hp is above it at sea level.", where="full-throttle power", mend=mend)
    altitude = checked("pressure altitude", pressure_altitude_ft, -2000, 36089, "ft", "Give it in feet.")
    sigma = float((1.0 - THETA_PER_FT * altitude) ** SIGMA_EXPONENT)
    sigma_a = SIGMA_AT_NO_POWER + SIGMA_SPAN * hp_full_throttle / hp_full_throttle_sea_level
    return line_between_charts_hp(hp_sea_level, hp_full_throttle, sigma_a, sigma)


def line_between_charts_hp(hp_b: float, hp_a: float, sigma_a: float, sigma: float) -> float:
    """Step 5 of the two-chart procedure: from B at density ratio 1 toward A at density ratio ``sigma_a``.

    Parameters
    ----------
    hp_b, hp_a : float [hp]
    sigma_a : float [-] - standard density ratio at which the manifold pressure is full throttle.
    sigma : float [-] - standard density ratio at the pressure altitude flown.

    Returns
    -------
    float [hp]

    Raises
    ------
    OutOfRange : ``sigma`` lies more than 0.03 below ``sigma_a``: the manifold pressure cannot be had there.
    """
    if sigma < sigma_a - SIGMA_MARGIN:
        raise OutOfRange(
            "this manifold pressure cannot be had at this altitude even at full throttle.",
            where="manifold pressure",
            mend="Check the manifold pressure, its unit, and the altitude.",
        )
    return float(between_charts_hp(np.asarray(hp_b), np.asarray(hp_a), np.asarray(sigma_a), np.asarray(sigma)))


def between_charts_hp(hp_b: FloatArray, hp_a: FloatArray, sigma_a: FloatArray, sigma: FloatArray) -> FloatArray:
    """The line of :func:`line_between_charts_hp` for whole columns of samples, without its refusal.

    Parameters
    ----------
    hp_b, hp_a : array [hp]
    sigma_a, sigma : array [-]

    Returns
    -------
    array [hp]. A little beyond A the throttle is wide open, and power follows the full-throttle law.
    """
    length = 1.0 - sigma_a
    # Full throttle at sea level: A and B are one point, the line has no length.
    point = length < 0.005
    line = hp_b + (hp_a - hp_b) * (1.0 - sigma) / np.where(point, 1.0, length)
    wide_open = hp_a * (LAPSE_SLOPE * sigma - LAPSE_OFFSET) / (LAPSE_SLOPE * sigma_a - LAPSE_OFFSET)
    # Beyond A also where A and B are one: a manifold pressure of sea level cannot be had aloft.
    return np.where(sigma < sigma_a, wide_open, np.where(point, hp_b, line))


def temperature_factor(pressure_altitude_ft: Num, oat_degf: Num) -> Num:
    """What the day's temperature does to power at the same manifold pressure, rpm and pressure altitude.

    Parameters
    ----------
    pressure_altitude_ft : float or array [ft], -2,000 to 36,089.
    oat_degf : float or array [degF], -110 to 160.

    Returns
    -------
    float or array [-] - square root of standard over actual absolute temperature; above 1 when colder.

    Raises
    ------
    OutOfRange : either input outside its range.

    Source: SFTE, Technical Handbook, 2013, sections 10.2 and 10.3. The chart rule "1 % for 10 degF" of the
    Lycoming O-540 and IO-540 Operator's Manual is the same near standard temperature.

    >>> round(temperature_factor(1500.0, 14.0), 4)
    1.041
    """
    standard = np.asarray(standard_temperature_degf(pressure_altitude_ft)) + ZERO_DEGF_IN_R
    actual = checked("outside air temperature", oat_degf, *OAT_DEGF, "degF", "Give it in degF.") + ZERO_DEGF_IN_R
    root: FloatArray = np.sqrt(standard / actual)
    return float(root) if root.ndim == 0 else root  # type: ignore[return-value]


def bmep_psi(hp: float, displacement_cuin: float, rpm: float) -> float:
    """Brake mean effective pressure of a four-stroke engine.

    Parameters
    ----------
    hp : float [hp], at least 0.
    displacement_cuin : float [cu in], above 0.
    rpm : float [rpm] of the crankshaft, above 0.

    Returns
    -------
    float [psi]

    Raises
    ------
    OutOfRange : a displacement or speed that is not above 0, or negative power.

    Source: definition of the horsepower and of mean pressure (33,000 ft lb/min; two turns a power stroke).

    >>> round(bmep_psi(160, 319.7, 2700), 1)
    146.8
    """
    checked("power", hp, 0, 10_000, "hp", "Give it in hp.")
    checked("displacement", displacement_cuin, 1, 10_000, "cu in", "Give it in cubic inches.")
    checked("rpm", rpm, 1, 10_000, "rpm", "Give the speed of the crankshaft.")
    return BMEP_CONSTANT * hp / (displacement_cuin * rpm)


def max_oil_consumption_qt_per_h(hp: float) -> float:
    """Ceiling of oil consumption for a horsepower: 0.006 x hp x 4 / 7.4. A ceiling, not a goal.

    The maker's own limit for the model goes before this formula. Texts differ on whether rated or actual power is
    meant; whoever stores the result stores which was used.

    Parameters
    ----------
    hp : float [hp], above 0, at most 5,000.

    Returns
    -------
    float [qt/h]

    Raises
    ------
    OutOfRange : power outside the range above.

    Source: Lycoming TEO-540-A1A Installation and Operation Manual (October 2018), Table A-2.

    >>> round(max_oil_consumption_qt_per_h(160), 3)
    0.519
    """
    checked("power", hp, 1, 5000, "hp", "Give it in hp.")
    return OIL_LB_PER_HP_H * hp * QUARTS_PER_GALLON / OIL_LB_PER_GALLON


def corrected_fuel_flow_gph(fuel_flow_gph: float, density_ratio: float) -> float:
    """Full-throttle fuel flow brought to sea-level density, for a fuel system that compensates for altitude.

    Only such a system meters less fuel as the air thins; the reading of any other is compared as it stands.

    Parameters
    ----------
    fuel_flow_gph : float [US gal/h], above 0.
    density_ratio : float [-], 0.4 to 1.3.

    Returns
    -------
    float [US gal/h]

    Raises
    ------
    OutOfRange : either input outside its range.

    Source: the full-throttle law above, taken to hold for fuel as for power: common practice, no source.

    >>> round(corrected_fuel_flow_gph(19.7, 0.824), 1)
    24.6
    """
    checked("fuel flow", fuel_flow_gph, 0.1, 500, "gal/h", "Give it in US gallons an hour.")
    checked("density ratio", density_ratio, 0.4, 1.3, "", "Take it from density_ratio().")
    return fuel_flow_gph / (density_ratio - (1 - density_ratio) / LAPSE_DIVISOR)


def density_ratio_of_pressure_ratio(pressure_ratio: float) -> float:
    """Standard density ratio at the altitude where the standard pressure ratio has this value.

    Parameters
    ----------
    pressure_ratio : float [-], above 0.

    >>> round(density_ratio_of_pressure_ratio(0.86366), 4)
    0.8881
    """
    return float(pressure_ratio ** (SIGMA_EXPONENT / (SIGMA_EXPONENT + 1.0)))
