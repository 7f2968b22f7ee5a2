"""The air the engine breathed: pressure altitude and temperature, and what stands in for them where not recorded."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakin.calc.atmosphere import (
    DELTA_EXPONENT,
    SEA_LEVEL_PRESSURE_INHG,
    SEA_LEVEL_TEMPERATURE_R,
    THETA_PER_FT,
    ZERO_DEGF_IN_R,
)
from breakin.calc.recording.signals import Engine, Signals
from breakin.calc.recording.smooth import Floats, nanmedian, running_mean

# Standard lapse [ddegF/ft]: U.S. Standard Atmosphere 1976.
LAPSE_DEGF_PER_FT = 518.67 * THETA_PER_FT
# One sigma where it was not recorded: a day's temperature about standard; the exhaust of a cold engine as thermometer;
# the field where nothing tells it; height by the fall of air temperature. Own estimates.
DAY_DDEGF = 18.0
COLD_ENGINE_DDEGF = 8.0
USUAL_ALTITUDE_FT, USUAL_SIGMA_FT = 3000.0, 2000.0
BY_TEMPERATURE_SIGMA_FT = 800.0
# Exhaust probes of a cold engine stand together within this [ddegF], and under the oil or hardly over it.
COLD_SPREAD_DDEGF = 12.0
# After a stop the manifold needs a few seconds to fill [s].
SETTLE_S = 12.0


@dataclass(frozen=True)
class Air:
    """Air along the flight.

    altitude_ft, altitude_sigma_ft : pressure altitude row by row, and one sigma of it; 0 where it was recorded.
    oat_degf, oat_sigma_ddegf : the same for temperature.
    words : how temperature was found, for the method. notes : sentences on what stood in.
    """

    altitude_ft: Floats
    altitude_sigma_ft: float
    oat_degf: Floats
    oat_sigma_ddegf: float
    words: str
    notes: tuple[str, ...]


def ambient_inhg(altitude_ft: Floats) -> Floats:
    """Pressure of the standard atmosphere at a pressure altitude, unchecked, for whole columns [inHg]."""
    return SEA_LEVEL_PRESSURE_INHG * (1.0 - THETA_PER_FT * altitude_ft) ** DELTA_EXPONENT


def standard_degf(altitude_ft: Floats) -> Floats:
    """Temperature of the standard atmosphere, unchecked, for whole columns [degF]."""
    return SEA_LEVEL_TEMPERATURE_R * (1.0 - THETA_PER_FT * altitude_ft) - ZERO_DEGF_IN_R


def stopped_rows(signals: Signals, running: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Rows in which the engine stands still and its manifold has filled to the pressure of the air."""
    still = np.zeros(len(signals.t), dtype=bool)
    rows = np.flatnonzero(running)
    if not len(rows):
        return still
    still[: max(0, int(rows[0]) - (1 if signals.step_s < 3 else 0))] = True
    still |= signals.t > signals.t[rows[-1]] + SETTLE_S
    return still & ~running


def static_error(signals: Signals, engine: Engine, running: NDArray[np.bool_]) -> float | None:
    """Manifold pressure less ambient with the engine stopped [inHg]; None when that was never recorded."""
    if engine.map_inhg is None or signals.alt_ft is None:
        return None
    apart = (engine.map_inhg - ambient_inhg(signals.alt_ft))[stopped_rows(signals, running)]
    found = nanmedian(apart)
    return found if np.isfinite(found) and abs(found) < 8 else None


def _before_start(running: NDArray[np.bool_]) -> int:
    """How many rows there are before the engine first runs."""
    rows = np.flatnonzero(running)
    return int(rows[0]) if len(rows) else 0


def air_of(signals: Signals, engine: Engine, running: NDArray[np.bool_]) -> Air:
    """Altitude and temperature for the power of one engine."""
    notes: list[str] = []
    ground_degf = _cold_engine_degf(engine, running)
    altitude, altitude_sigma = signals.alt_ft, 0.0
    if altitude is None:
        altitude, altitude_sigma, words = _altitude_instead(signals, engine, running)
        notes.append(words)
    if signals.oat_degf is not None:
        return Air(altitude, altitude_sigma, signals.oat_degf, 0.0, "outside air temperature recorded", tuple(notes))
    if ground_degf is not None:
        field_ft = nanmedian(altitude[: max(1, _before_start(running))])
        oat = ground_degf - LAPSE_DEGF_PER_FT * (altitude - (field_ft if np.isfinite(field_ft) else 0.0))
        notes.append(
            f"Outside air temperature was not recorded: the cold exhaust before start showed {ground_degf:.0f} degF, "
            "and it was taken to fall with height as in the standard atmosphere."
        )
        return Air(
            altitude, altitude_sigma, oat, COLD_ENGINE_DDEGF, "air temperature from the cold engine", tuple(notes)
        )
    notes.append("Outside air temperature was not recorded: a standard day was taken for power.")
    return Air(altitude, altitude_sigma, standard_degf(altitude), DAY_DDEGF, "standard temperature taken", tuple(notes))


def _cold_engine_degf(engine: Engine, running: NDArray[np.bool_]) -> float | None:
    """What the exhaust probes show before the first start, when the engine is cold; None when it cannot be told."""
    first = _before_start(running)
    if first < 1 or not engine.egt_raw.shape[1]:
        return None
    probes = np.asarray([nanmedian(engine.egt_raw[:first, index]) for index in range(engine.egt_raw.shape[1])])
    probes = probes[np.isfinite(probes)]
    if not len(probes):
        return None
    middle = float(np.median(probes))
    if np.percentile(probes, 75) - np.percentile(probes, 25) > COLD_SPREAD_DDEGF or not -60 < middle < 125:
        return None
    if engine.oil_temp_degf is not None:
        oil = nanmedian(engine.oil_temp_degf[:first])
        if np.isfinite(oil) and middle > oil + COLD_SPREAD_DDEGF:
            return None
    return middle


def _altitude_instead(signals: Signals, engine: Engine, running: NDArray[np.bool_]) -> tuple[Floats, float, str]:
    """Without altitude: the field by the manifold of the stopped engine, height by how much colder the air became."""
    rows = len(signals.t)
    field_ft, sigma = USUAL_ALTITUDE_FT, USUAL_SIGMA_FT
    from_manifold = False
    if engine.map_inhg is not None:
        pressure = nanmedian(engine.map_inhg[stopped_rows(signals, running)])
        if np.isfinite(pressure) and 18 < pressure < 32:
            field_ft = float((1.0 - (pressure / SEA_LEVEL_PRESSURE_INHG) ** (1.0 / DELTA_EXPONENT)) / THETA_PER_FT)
            from_manifold = True
    oat = signals.oat_degf
    ground_degf = nanmedian(oat[: max(1, _before_start(running))]) if oat is not None else float("nan")
    if oat is None or not from_manifold or not np.isfinite(ground_degf):
        usual = field_ft if not from_manifold else field_ft + 2500.0
        words = f"Altitude was not recorded: {usual:,.0f} ft was taken for power, which is the less certain for it."
        return np.full(rows, usual), sigma, words
    height = (ground_degf - running_mean(oat, signals.rows(45))) / LAPSE_DEGF_PER_FT
    altitude = np.clip(field_ft + np.where(np.isfinite(height), height, 0.0), -1500.0, 30000.0)
    words = (
        f"Altitude was not recorded: the field ({field_ft:,.0f} ft) is from the manifold pressure of the stopped "
        "engine, height from how much colder the air became."
    )
    return altitude, BY_TEMPERATURE_SIGMA_FT, words
