"""The samples of one flight made ready: blanks bridged, single wild values taken out, one matrix a probe group."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from breakin.calc.recording.smooth import Floats, filled, median3
from breakin.calc.recording.spec import HIGHEST_CYLINDER, Samples

# A blank of a quick signal is bridged this long, of a slow one that long [s]: own choice.
BRIDGED_S = 15.0
SLOW_BRIDGED_S = 60.0
# What a channel may read at all; the rest is an open probe or a wild value and counts as blank.
RPM = (0.0, 6000.0)
MAP_INHG = (1.0, 80.0)
FUEL_GPH = (0.0, 200.0)
HEAD_DEGF = (-38.0, 700.0)
EXHAUST_DEGF = (-38.0, 2200.0)
OAT_DEGF = (-90.0, 140.0)
ALTITUDE_FT = (-1900.0, 36000.0)
AIRSPEED_KT = (0.0, 500.0)
OIL_DEGF = (-60.0, 350.0)
OIL_PSI = (0.0, 200.0)


@dataclass(frozen=True)
class Engine:
    """The signals of one engine, one value a row; None where the channel is not in the file or always blank.

    rpm [rpm], map_inhg [inHg], ff_gph [US gal/h], oil_temp_degf, tit_degf [degF], oil_press_psi [psi].
    cht_raw, egt_raw : rows x cylinders [degF] as they stand in the file, NaN where blank; no columns without probes.
    """

    side: str
    rpm: Floats | None
    map_inhg: Floats | None
    ff_gph: Floats | None
    oil_temp_degf: Floats | None
    oil_press_psi: Floats | None
    tit_degf: Floats | None
    cht_raw: Floats
    egt_raw: Floats

    @property
    def any_signal(self) -> bool:
        return any(one is not None for one in (self.rpm, self.map_inhg, self.ff_gph)) or self.cht_raw.shape[1] > 0


@dataclass(frozen=True)
class Signals:
    """All signals of a flight.

    t : [s], rising. weight_s : [s] that each row stands for. step_s : usual time between rows [s].
    """

    t: NDArray[np.float64]
    weight_s: NDArray[np.float64]
    step_s: float
    alt_ft: Floats | None
    ias_kt: Floats | None
    oat_degf: Floats | None
    engines: dict[str, Engine]

    def rows(self, seconds: float) -> int:
        """How many rows a time takes, at least one."""
        return max(1, round(seconds / self.step_s))

    def row_at(self, t: float) -> int:
        """The first row at or after a time, or the number of rows."""
        return int(np.searchsorted(self.t, t - 1e-6))


def signals_of(table: Samples, sides: Sequence[str]) -> Signals:
    """Make the samples ready.

    Parameters
    ----------
    table : the samples of one flight, canonical column names and units; time rises.
    sides : the engines asked for, "1" and "2".
    """
    t = np.asarray(table.t, dtype=np.float64) - (float(table.t[0]) if len(table.t) else 0.0)
    columns = table.columns
    steps = np.diff(t)
    step = float(np.median(steps)) if len(steps) else float(table.sample_s or 1.0)
    step = step if np.isfinite(step) and step > 0 else 1.0
    quick, slow = max(1, round(BRIDGED_S / step)), max(1, round(SLOW_BRIDGED_S / step))

    def one(name: str, span: tuple[float, float], longest: int = quick, *, smooth: bool = False) -> Floats | None:
        values = columns.get(name)
        if values is None:
            return None
        inside = (values >= span[0]) & (values <= span[1])
        if not inside.all():
            if not inside.any():
                return None
            values = filled(np.where(inside, values, np.nan), longest)
        made = values
        return median3(made) if smooth else made

    def group(prefix: str, side: str, span: tuple[float, float]) -> Floats:
        names = [f"{prefix}_{side}_{number}_degf" for number in range(1, HIGHEST_CYLINDER + 1)]
        last = max((index for index, name in enumerate(names) if name in columns), default=-1)
        matrix = np.full((len(t), last + 1), np.nan, dtype=np.float32, order="F")
        for index, name in enumerate(names[: last + 1]):
            if name in columns:
                matrix[:, index] = columns[name]
        with np.errstate(invalid="ignore"):
            outside = ~((matrix > span[0]) & (matrix < span[1]))
        if outside.any():
            matrix[outside] = np.nan
        return matrix

    engines = {
        side: Engine(
            side,
            one(f"rpm_{side}", RPM),
            one(f"map_{side}_inhg", MAP_INHG),
            one(f"ff_{side}_gph", FUEL_GPH),
            one(f"oil_temp_{side}_degf", OIL_DEGF, slow),
            one(f"oil_press_{side}_psi", OIL_PSI),
            one(f"tit_{side}_degf", EXHAUST_DEGF, slow),
            group("cht", side, HEAD_DEGF),
            group("egt", side, EXHAUST_DEGF),
        )
        for side in sides
    }
    weight = np.full(len(t), step)
    if len(steps):
        weight[0], weight[-1] = steps[0] / 2, steps[-1] / 2
        weight[1:-1] = (t[2:] - t[:-2]) / 2
    return Signals(
        t,
        weight,
        step,
        one("alt_ft", ALTITUDE_FT, slow, smooth=True),
        one("ias_kt", AIRSPEED_KT, smooth=True),
        one("oat_degf", OAT_DEGF, slow, smooth=True),
        engines,
    )
