"""Standard atmosphere, pressure altitude and density altitude (dry air, geopotential feet).

Source of the equations and constants: U.S. Standard Atmosphere 1976, as given in the Society of Flight Test
Engineers, Technical Handbook, 2013 edition, section 3. Pressure altitude is geopotential by definition, so no
geometric correction is applied. Altitudes from -2,000 to 36,089 ft (the lowest layer).

Every function takes scalars or arrays; two arrays, or an array and a scalar, broadcast. NaN means "not
observed" and comes out as NaN. None, text and infinities are refused.
"""

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from breakin.calc.errors import BadQuantity, MissingData, OutOfRange

FloatArray = NDArray[np.float64]
Num = TypeVar("Num", float, FloatArray)

# U.S. Standard Atmosphere 1976, lowest layer, in feet.
THETA_PER_FT = 6.8755856e-6
DELTA_EXPONENT = 5.255876
SIGMA_EXPONENT = 4.255876
SEA_LEVEL_PRESSURE_INHG = 29.92126
SEA_LEVEL_TEMPERATURE_R = 518.67  # 288.15 K
ZERO_DEGF_IN_R = 459.67

ALTITUDE_FT = (-2000.0, 36089.0)
ALTIMETER_INHG = (25.0, 32.5)  # wider than ever reported, narrow enough to catch hPa
OAT_DEGF = (-110.0, 160.0)


def checked(what: str, value: float | FloatArray, low: float, high: float, unit: str, mend: str) -> FloatArray:
    """The value as a float array, or a refusal that names the first element out of range.

    Parameters
    ----------
    what : str - the quantity in words.
    value : float or array [unit].
    low, high : float [unit] - both ends allowed.
    unit : str
    mend : str - what to do about it.

    Returns
    -------
    array [unit], NaN kept.

    Raises
    ------
    MissingData : value is None.
    BadQuantity : not a number, or infinite.
    OutOfRange : below low or above high.
    """
    if value is None:
        raise MissingData("not observed.", where=what, mend=mend)
    try:
        array = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError):
        raise BadQuantity(f"{value!r} is not a number.", where=what, mend=mend) from None
    # A NaN fails both comparisons and so passes through as "not observed".
    bad = (array < low) | (array > high)
    if bad.any():
        first = float(array[bad].flat[0]) if array.ndim else float(array)
        at = f" (element {int(np.flatnonzero(bad)[0])})" if array.ndim else ""
        raise OutOfRange(f"{first:,.6g} {unit}{at} is outside {low:,g} to {high:,g} {unit}.", where=what, mend=mend)
    return array


def _altitude(value: float | FloatArray, what: str = "pressure altitude") -> FloatArray:
    return checked(what, value, *ALTITUDE_FT, "ft", "Give it in feet.")


def _oat_rankine(oat_degf: float | FloatArray) -> FloatArray:
    mend = "Give the outside air temperature in degF."
    return checked("outside air temperature", oat_degf, *OAT_DEGF, "degF", mend) + ZERO_DEGF_IN_R


def _out(result: FloatArray) -> float | FloatArray:
    return float(result) if np.ndim(result) == 0 else result


def standard_temperature_degf(pressure_altitude_ft: Num) -> Num:
    """Temperature of the standard atmosphere.

    Parameters
    ----------
    pressure_altitude_ft : float or array [ft], -2,000 to 36,089.

    Returns
    -------
    float or array [degF]

    Raises
    ------
    OutOfRange : altitude outside the range above.

    Source: U.S. Standard Atmosphere 1976.

    >>> round(standard_temperature_degf(4000.0), 2)
    44.74
    """
    theta = 1.0 - THETA_PER_FT * _altitude(pressure_altitude_ft)
    return _out(SEA_LEVEL_TEMPERATURE_R * theta - ZERO_DEGF_IN_R)  # type: ignore[return-value]


def standard_pressure_inhg(pressure_altitude_ft: Num) -> Num:
    """Pressure of the standard atmosphere: by definition the pressure at that pressure altitude on any day.

    Parameters
    ----------
    pressure_altitude_ft : float or array [ft], -2,000 to 36,089.

    Returns
    -------
    float or array [inHg]

    Raises
    ------
    OutOfRange : altitude outside the range above.

    Source: U.S. Standard Atmosphere 1976.

    >>> round(standard_pressure_inhg(5000.0), 3)
    24.896
    """
    theta = 1.0 - THETA_PER_FT * _altitude(pressure_altitude_ft)
    return _out(SEA_LEVEL_PRESSURE_INHG * theta**DELTA_EXPONENT)  # type: ignore[return-value]


def pressure_altitude_ft(elevation_ft: Num, altimeter_inhg: Num) -> Num:
    """Pressure altitude at a place, from its elevation (or indicated altitude) and the altimeter setting.

    Parameters
    ----------
    elevation_ft : float or array [ft], -2,000 to 36,089.
    altimeter_inhg : float or array [inHg], 25 to 32.5.

    Returns
    -------
    float or array [ft]

    Raises
    ------
    OutOfRange : either input outside its range.

    Source: U.S. Standard Atmosphere 1976, inverted; the setting's own altitude is added to the elevation.

    >>> round(pressure_altitude_ft(5883.0, 30.10))
    5718
    """
    mend = "Give the setting in inHg; 1013.25 hPa is 29.92 inHg."
    setting = checked("altimeter setting", altimeter_inhg, *ALTIMETER_INHG, "inHg", mend)
    correction = (1.0 - (setting / SEA_LEVEL_PRESSURE_INHG) ** (1.0 / DELTA_EXPONENT)) / THETA_PER_FT
    return _out(_altitude(elevation_ft, "elevation") + correction)  # type: ignore[return-value]


def density_ratio(pressure_altitude_ft: Num, oat_degf: Num) -> Num:
    """Air density over sea-level standard density, dry air.

    Parameters
    ----------
    pressure_altitude_ft : float or array [ft], -2,000 to 36,089.
    oat_degf : float or array [degF], -110 to 160.

    Returns
    -------
    float or array [-]

    Raises
    ------
    OutOfRange : either input outside its range.

    Source: U.S. Standard Atmosphere 1976; gas law for the actual temperature.

    >>> round(density_ratio(5000.0, 41.17), 4)
    0.8617
    """
    theta = 1.0 - THETA_PER_FT * _altitude(pressure_altitude_ft)
    ratio = theta**DELTA_EXPONENT * SEA_LEVEL_TEMPERATURE_R / _oat_rankine(oat_degf)
    return _out(ratio)  # type: ignore[return-value]


def density_altitude_ft(pressure_altitude_ft: Num, oat_degf: Num) -> Num:
    """Altitude in the standard atmosphere that has the same density (exact dry-air form, not a rule of thumb).

    Parameters
    ----------
    pressure_altitude_ft : float or array [ft], -2,000 to 36,089.
    oat_degf : float or array [degF], -110 to 160.

    Returns
    -------
    float or array [ft]

    Raises
    ------
    OutOfRange : either input outside its range.

    Source: U.S. Standard Atmosphere 1976.

    >>> round(density_altitude_ft(5000.0, 86.0))
    7801
    """
    ratio = np.asarray(density_ratio(pressure_altitude_ft, oat_degf))
    return _out((1.0 - ratio ** (1.0 / SIGMA_EXPONENT)) / THETA_PER_FT)  # type: ignore[return-value]
