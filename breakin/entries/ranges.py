"""The ranges of what people type: outside the hard one it is refused, outside the usual one they are asked.

Values in canonical units. Common practice of the trade, no published source.
"""

from __future__ import annotations

from dataclasses import dataclass

from breakin.calc.said import said
from breakin.calc.units import Kind

CHECK_UNIT = said("Check the number and its unit.")


@dataclass(frozen=True)
class Range:
    """What one field accepts.

    label : the field in the trade's words.
    kind : what it measures.
    low, high : outside, it is refused [canonical unit].
    usual_low, usual_high : outside, the sender is asked [canonical unit]; None = no such limit.
    mend : what to do when it is refused.
    """

    label: str
    kind: Kind
    low: float
    high: float
    usual_low: float | None = None
    usual_high: float | None = None
    mend: str = CHECK_UNIT


def _degc(value: float) -> float:
    return value * 1.8 + 32


_T, _MIN, _H, _V = Kind.TEMPERATURE, Kind.MINUTES, Kind.HOURS, Kind.VOLUME
_HEADS = (_T, 50.0, 600.0, 250.0, 500.0)
_LARGEST_SUMP_QT = 62.0

OAT = Range(said("Outside air temperature"), _T, _degc(-60), _degc(60), _degc(-30), _degc(45))
METER = Range(said("Meter"), _H, 0, 99_999.9, mend=said("Read the meter again; 0.1 h is six minutes."))

FLIGHT: dict[str, Range] = {
    "field_elevation": Range(said("Field elevation"), Kind.ALTITUDE, -1500, 14_500, -200, 7000),
    "altimeter": Range(said("Altimeter setting"), Kind.PRESSURE_ALTIMETER, 28.0, 31.2),
    "oat_ground": OAT,
    "airborne": Range(said("Airborne time"), _MIN, 0, 840, 10, 300, said("Give it in minutes, or as h:mm.")),
    "ground_before": Range(said("Ground minutes before"), _MIN, 0, 180, 0, 10, said("Give it in minutes.")),
    "ground_after": Range(said("Ground minutes after"), _MIN, 0, 180, 0, 10, said("Give it in minutes.")),
}
ENGINE: dict[str, Range] = {
    "meter_start": METER,
    "meter_end": METER,
    "takeoff_rpm": Range(said("Take-off rpm"), Kind.SPEED_RPM, 500, 6500, 1800, 6000),
    "takeoff_map": Range(said("Take-off manifold pressure"), Kind.PRESSURE_MANIFOLD, 8, 70, 18, 46),
    "takeoff_ff": Range(said("Take-off fuel flow"), Kind.FUEL_FLOW, 0.5, 400, 3, 60),
    "cht_max": Range(said("Hottest cylinder head"), *_HEADS),
    "cht_cruise_mean": Range(said("Mean head temperature in cruise"), *_HEADS),
    "oil_temp_max": Range(said("Highest oil temperature"), _T, 0, 350, 100, 260),
    "oil_press_min": Range(said("Lowest oil pressure"), Kind.OIL_PRESSURE, 0, 200, 20, 115),
    "oil_press_idle": Range(said("Oil pressure at idle"), Kind.OIL_PRESSURE, 0, 200, 8, 115),
    "tit_max": Range(said("Highest turbine inlet temperature"), _T, 500, 2000, 1000, 1800),
}
CLIMB_CHT = Range(said("Head temperature in the climb"), _T, 100, 600, 200, 500)
BLOCK: dict[str, Range] = {
    "duration": Range(said("Length of the block"), _MIN, 1, 400, 5, 70, said("Give it in minutes.")),
    "pressure_altitude": Range(said("Pressure altitude"), Kind.ALTITUDE, -1500, 30_000, 500, 18_000),
    "oat": OAT,
    "rpm": Range(said("Rpm"), Kind.SPEED_RPM, 500, 6500, 1800, 6000),
    "map": Range(said("Manifold pressure"), Kind.PRESSURE_MANIFOLD, 8, 70, 15, 42),
    "fuel_flow": Range(said("Fuel flow"), Kind.FUEL_FLOW, 0.5, 400, 3, 60),
    "cht_max": Range(said("Hottest cylinder head"), *_HEADS),
    "cht_mean": Range(said("Mean head temperature"), *_HEADS),
}
OIL: dict[str, Range] = {
    "meter_reading": METER,
    "level": Range(
        said("Oil level"), _V, 0, _LARGEST_SUMP_QT, mend=said("Read the dipstick again and check the unit.")
    ),
    "minutes_since_shutdown": Range(said("Minutes since shutdown"), _MIN, 0, 525_600, mend=said("Give it in minutes.")),
    "amount": Range(
        said("Amount of oil"), _V, 0.01, _LARGEST_SUMP_QT, 0.1, 2.0, said("Give what went in, with its unit.")
    ),
    "drained": Range(said("Oil drained"), _V, 0, _LARGEST_SUMP_QT),
    "filled": Range(said("Oil filled"), _V, 0, _LARGEST_SUMP_QT, 1.0, None),
    "u": Range(said("Uncertainty of the reading"), _V, 0.02, 3, mend=said("Give one standard deviation.")),
}
