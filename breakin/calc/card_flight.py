"""What the next-flight card tells a pilot to look at from take-off to descent: the band of full-throttle fuel flow in
the day's air, the fuel flow to expect at a setting, the heights of the climb, and where the descent begins.
"""

from __future__ import annotations

from dataclasses import dataclass

from breakin.calc.atmosphere import checked, density_ratio
from breakin.calc.errors import OutOfRange
from breakin.calc.power_laws import corrected_fuel_flow_gph

# A descent at about 500 ft/min, ended at circuit height: common practice, no source.
DESCENT_FPM = 500.0
CIRCUIT_ABOVE_FIELD_FT = 1000.0
# Fuel for a horsepower hour near best power, lowest and highest of published cruise tables [lb/hp/h]: taken where the
# type says nothing.
BSFC_RANGE = (0.42, 0.48)
CLIMB_STEP_FT = 1000.0
CLIMB_BOXES = 4


@dataclass(frozen=True)
class Descent:
    """lose_ft : altitude to lose [ft]. minutes : [min] it takes. distance_nm : how far before the field it begins."""

    lose_ft: float
    minutes: float
    distance_nm: float


def descent(from_ft: float, field_ft: float, ground_speed_kt: float, fpm: float = DESCENT_FPM) -> Descent:
    """The descent from an altitude to 1,000 ft above the field, both above sea level by the altimeter.

    Parameters
    ----------
    from_ft : float [ft], up to 30,000 - at least 1,000 ft above the field.
    field_ft : float [ft], -1,500 to 14,500 - elevation.
    ground_speed_kt : float [kt], 20 to 400.
    fpm : float [ft/min], 100 to 2,000.

    Raises
    ------
    OutOfRange : a value outside its range, or an altitude that leaves nothing to lose.

    >>> descent(5000.0, 0.0, 120.0).distance_nm
    16.0
    """
    checked("field elevation", field_ft, -1500, 14_500, "ft", "Give it in feet.")
    checked("altitude", from_ft, -1500, 30_000, "ft", "Give it in feet.")
    checked("ground speed", ground_speed_kt, 20, 400, "kt", "Give it in knots.")
    checked("rate of descent", fpm, 100, 2000, "ft/min", "Give it in feet per minute.")
    lose = from_ft - field_ft - CIRCUIT_ABOVE_FIELD_FT
    if lose < 0:
        raise OutOfRange(
            f"{from_ft:,.0f} ft is not {CIRCUIT_ABOVE_FIELD_FT:,.0f} ft above the field.",
            where="altitude",
            mend="Give the altitude above sea level from which you come down.",
        )
    minutes = lose / fpm
    return Descent(lose, minutes, minutes / 60.0 * ground_speed_kt)


def fuel_flow_read_gph(band_gph: float, pressure_altitude_ft: float, oat_degf: float) -> float:
    """What a fuel system that follows air density shows where it would show `band_gph` at sea level.

    The rule of the take-off fuel flow the other way round: what is read here is compared as `band_gph`.

    Parameters
    ----------
    band_gph : float [US gal/h], of the type, at sea-level density.
    pressure_altitude_ft : float [ft]
    oat_degf : float [degF]

    Raises
    ------
    OutOfRange : an altitude or a temperature out of range.

    Source: as `breakin.calc.power_laws.corrected_fuel_flow_gph`.

    >>> round(fuel_flow_read_gph(24.0, 0.0, 59.0), 1)
    24.0
    """
    return band_gph / corrected_fuel_flow_gph(1.0, density_ratio(float(pressure_altitude_ft), float(oat_degf)))


def expected_fuel_flow_gph(
    pct: float, rated_hp: float, *, bsfc_lb_hp_h: float | None, fuel_lb_per_gal: float
) -> tuple[float, float]:
    """Fuel flow to expect near best-power mixture, which 100 degF rich of peak is: least and most [US gal/h].

    Parameters
    ----------
    pct : float [% of rated power]
    rated_hp : float [hp]
    bsfc_lb_hp_h : float [lb/hp/h] of the type, where both ends are the same; None = the range of published tables.
    fuel_lb_per_gal : float [lb/US gal], above 0.

    Raises
    ------
    OutOfRange : a percentage, power or weight out of range.

    >>> expected_fuel_flow_gph(75.0, 200.0, bsfc_lb_hp_h=0.44, fuel_lb_per_gal=6.0)
    (11.0, 11.0)
    """
    checked("percent power", pct, 1, 120, "%", "Give it in percent of rated power.")
    checked("rated power", rated_hp, 20, 3800, "hp", "Give it in hp.")
    checked("weight of fuel", fuel_lb_per_gal, 4, 8, "lb/gal", "Give it in pounds for a US gallon.")
    least, most = BSFC_RANGE if bsfc_lb_hp_h is None else (bsfc_lb_hp_h, bsfc_lb_hp_h)
    burnt = pct / 100.0 * rated_hp / fuel_lb_per_gal
    return burnt * least, burnt * most


def climb_heights_ft(climb_to_ft: float, field_ft: float, *, above_field: bool) -> tuple[float, ...]:
    """The altitudes above sea level at which the heads are read in the climb [ft].

    Every 1,000 ft above the field, or every full 1,000 ft above the sea that lies above the field, up to where the
    climb ends, four at most.

    Parameters
    ----------
    climb_to_ft : float [ft], above the field or above the sea.
    field_ft : float [ft], elevation.
    above_field : which of the two `climb_to_ft` means.

    >>> climb_heights_ft(4000.0, 620.0, above_field=True)
    (1620.0, 2620.0, 3620.0, 4620.0)
    >>> climb_heights_ft(4000.0, 2100.0, above_field=False)
    (3000.0, 4000.0)
    """
    if above_field:
        steps = (field_ft + CLIMB_STEP_FT * number for number in range(1, CLIMB_BOXES + 1))
        top = field_ft + climb_to_ft
    else:
        first = int(field_ft // CLIMB_STEP_FT) + 1
        steps = (CLIMB_STEP_FT * number for number in range(max(first, 1), max(first, 1) + CLIMB_BOXES))
        top = climb_to_ft
    return tuple(height for height in steps if height <= top)
