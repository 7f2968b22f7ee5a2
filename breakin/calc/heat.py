"""Cylinder temperatures brought to a common day, so that flights can be compared."""

from breakin.calc.atmosphere import OAT_DEGF, Num, checked, standard_temperature_degf

# 14 CFR 23.1043(b), 2014: hot-day ambient is 100 degF at sea level less 3.6 degF a 1,000 ft.
HOT_DAY_SEA_LEVEL_DEGF = 100.0
HOT_DAY_LAPSE_DEGF_PER_FT = 0.0036
BARREL_FACTOR = 0.7
TEMPERATURE_DEGF = (-60.0, 700.0)
HOT_DAY_ALTITUDE_FT = (-2000.0, 36089.0)


def hot_day_ambient_degf(pressure_altitude_ft: Num) -> Num:
    """Ambient temperature of the hot day of the cooling rules.

    Parameters
    ----------
    pressure_altitude_ft : float or array [ft], -2,000 to 36,089.

    Returns
    -------
    float or array [degF]

    Raises
    ------
    OutOfRange : altitude outside the range above.

    Source: 14 CFR 23.1043(b) as of 2014 (amendment 23-51).

    >>> hot_day_ambient_degf(5000.0)
    82.0
    """
    altitude = checked("pressure altitude", pressure_altitude_ft, *HOT_DAY_ALTITUDE_FT, "ft", "Give it in feet.")
    ambient = HOT_DAY_SEA_LEVEL_DEGF - HOT_DAY_LAPSE_DEGF_PER_FT * altitude
    return float(ambient) if ambient.ndim == 0 else ambient  # type: ignore[return-value]


def _moved(measured: Num, oat_degf: Num, to_ambient: Num, factor: float) -> Num:
    mend = "Give it in degF."
    hot = checked("cylinder temperature", measured, *TEMPERATURE_DEGF, "degF", mend)
    outside = checked("outside air temperature", oat_degf, *OAT_DEGF, "degF", mend)
    moved = hot + factor * (to_ambient - outside)
    return float(moved) if moved.ndim == 0 else moved  # type: ignore[return-value]


def head_hot_day_degf(cht_degf: Num, oat_degf: Num, pressure_altitude_ft: Num) -> Num:
    """Head temperature as it would be on the hot day of the cooling rules. Known to correct a little too much.

    Parameters
    ----------
    cht_degf : float or array [degF], -60 to 700 - measured.
    oat_degf : float or array [degF], -110 to 160 - when it was measured.
    pressure_altitude_ft : float or array [ft], -2,000 to 36,089.

    Returns
    -------
    float or array [degF]

    Raises
    ------
    OutOfRange : an input outside its range.

    Source: 14 CFR 23.1043(c) as of 2014, factor 1.0; as a formula in SFTE, Technical Handbook, 2013, section 10.4.

    >>> head_hot_day_degf(410.0, 35.0, 5000.0)
    457.0
    """
    return _moved(cht_degf, oat_degf, hot_day_ambient_degf(pressure_altitude_ft), 1.0)


def barrel_hot_day_degf(barrel_degf: Num, oat_degf: Num, pressure_altitude_ft: Num) -> Num:
    """Barrel temperature as it would be on the hot day of the cooling rules.

    Parameters
    ----------
    barrel_degf : float or array [degF], -60 to 700 - measured.
    oat_degf : float or array [degF], -110 to 160.
    pressure_altitude_ft : float or array [ft], -2,000 to 36,089.

    Returns
    -------
    float or array [degF]

    Raises
    ------
    OutOfRange : an input outside its range.

    Source: 14 CFR 25.1043(d) and 27.1043(d), factor 0.7; SFTE, Technical Handbook, 2013, section 10.4.

    >>> round(barrel_hot_day_degf(410.0, 35.0, 5000.0), 2)
    442.9
    """
    return _moved(barrel_degf, oat_degf, hot_day_ambient_degf(pressure_altitude_ft), BARREL_FACTOR)


def head_standard_day_degf(cht_degf: Num, oat_degf: Num, pressure_altitude_ft: Num) -> Num:
    """Head temperature brought to a standard day at the same altitude: what a trend is drawn from.

    Parameters
    ----------
    cht_degf : float or array [degF], -60 to 700 - measured.
    oat_degf : float or array [degF], -110 to 160. Without it there is no standard-day figure.
    pressure_altitude_ft : float or array [ft], -2,000 to 36,089.

    Returns
    -------
    float or array [degF]

    Raises
    ------
    OutOfRange : an input outside its range.

    Source: degree for degree, the factor of 14 CFR 23.1043(c), toward the standard day: common practice, no source.

    >>> round(head_standard_day_degf(400.0, 86.0, 4000.0), 1)
    358.7
    """
    return _moved(cht_degf, oat_degf, standard_temperature_degf(pressure_altitude_ft), 1.0)
