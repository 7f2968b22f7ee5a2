"""What the analysis must know beforehand: the engine, and the plan of the flight. Every constant is the type's own."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from breakin.calc.chart import Chart, on_line
from breakin.calc.errors import CalcError

# Recommended-lean fuel flow of a common engine near best power (0.42 to 0.48 in published cruise tables) and avgas by
# weight (FAA, AMT Handbook - General): taken only when the type says nothing, and said so.
BSFC_LB_HP_H = 0.46
FUEL_LB_PER_GAL = 6.0
FULL_THROTTLE_INHG = 28.5
HIGHEST_CYLINDER = 12


class Samples(Protocol):
    """The samples of one flight, as :class:`breakin.calc.recording.table.Table` holds them."""

    @property
    def columns(self) -> Mapping[str, NDArray[np.float64]]: ...

    @property
    def t(self) -> NDArray[np.float64]: ...

    @property
    def sample_s(self) -> float: ...


@dataclass(frozen=True)
class EngineSpec:
    """One engine as its type sheet has it.

    cylinders : number of cylinders; 0 takes as many as there are head probes.
    rated_hp [hp], rated_rpm [rpm] : None when not known.
    turbo : turbocharged.
    full_throttle_map_inhg : [inHg] at sea level.
    bsfc_lb_hp_h : [lb/hp/h] at best power. fuel_lb_per_gal : [lb/US gal].
    chart : the power chart, or None: then power is told from fuel flow alone.
    altitude_cap_ft, tit_limit_degf, cht_watch_degf, oil_press_idle_min_psi : the plan's and the type's lines, or None.
    rpm_error [rpm], map_error_inhg [inHg] : what the instruments are known to read too high.
    assumed : sentences on what was missing and taken.
    """

    cylinders: int = 0
    rated_hp: float | None = None
    rated_rpm: float | None = None
    turbo: bool = False
    full_throttle_map_inhg: float = FULL_THROTTLE_INHG
    bsfc_lb_hp_h: float = BSFC_LB_HP_H
    fuel_lb_per_gal: float = FUEL_LB_PER_GAL
    chart: Chart | None = None
    altitude_cap_ft: float | None = None
    tit_limit_degf: float | None = None
    cht_watch_degf: float | None = None
    oil_press_idle_min_psi: float | None = None
    rpm_error: float = 0.0
    map_error_inhg: float = 0.0
    assumed: tuple[str, ...] = ()

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> EngineSpec:
        """Read the plain form (keys as in the recording's engine_spec). What is missing is taken, and said so.

        Raises
        ------
        BadChart : a chart is there and contradicts itself.
        """
        assumed = []
        hp, bsfc = _number(data, "rated_hp"), _number(data, "bsfc_best_power_lb_hp_h")
        fuel, top = _number(data, "fuel_lb_per_gal"), _number(data, "full_throttle_map_inhg")
        if bsfc is None:
            assumed.append(f"Fuel for each horsepower at best power was taken as {BSFC_LB_HP_H:g} lb/hp/h.")
        if fuel is None:
            assumed.append(f"Fuel was taken to weigh {FUEL_LB_PER_GAL:g} lb/gal.")
        turbo = bool(data.get("turbo"))
        top = top or FULL_THROTTLE_INHG
        return cls(
            cylinders=int(_number(data, "cylinders") or 0),
            rated_hp=hp,
            rated_rpm=_number(data, "rated_rpm"),
            turbo=turbo,
            full_throttle_map_inhg=top,
            bsfc_lb_hp_h=bsfc or BSFC_LB_HP_H,
            fuel_lb_per_gal=fuel or FUEL_LB_PER_GAL,
            chart=None if hp is None else _chart(data, hp, top, turbo),
            altitude_cap_ft=_number(data, "altitude_cap_ft"),
            tit_limit_degf=_number(data, "tit_limit_f"),
            cht_watch_degf=_number(data, "cht_watch_f"),
            oil_press_idle_min_psi=_number(data, "oil_press_idle_min_psi"),
            rpm_error=_number(data, "rpm_error", any_sign=True) or 0.0,
            map_error_inhg=_number(data, "map_error_inhg", any_sign=True) or 0.0,
            assumed=tuple(assumed),
        )


def _number(data: Mapping[str, Any], name: str, *, any_sign: bool = False) -> float | None:
    value = data.get(name)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value) if any_sign or value > 0 else None


def _chart(data: Mapping[str, Any], hp: float, top_map: float, turbo: bool) -> Chart | None:
    words = {"source": "the type's power chart", "revision": "as entered"}
    fixed, grid = data.get("fixed_pitch"), data.get("chart_sea_level")
    if isinstance(fixed, Mapping):
        form = {"kind": "fixed_pitch", "rated_rpm": data.get("rated_rpm"), **words, **fixed}
        return Chart.from_dict({**form, "kind": "fixed_pitch"}, rated_hp=hp)
    if not isinstance(grid, Mapping):
        return None
    critical = _number(data, "critical_altitude_ft")
    line = data.get("full_throttle")
    if not isinstance(line, Mapping):
        # Straight lines carried to the full-throttle pressure: charts are straight in manifold pressure.
        rows = [on_line(top_map, grid["map_inhg"], row) for row in grid["hp"]]
        line = {"rpm": grid["rpm"], "map_inhg": [top_map] * len(rows), "hp": rows}
    form = {**words, **grid, "kind": "map_rpm", "full_throttle": line, "critical_altitude_ft": critical}
    chart = Chart.from_dict(form, rated_hp=hp)
    return replace(chart, sea_level_only=turbo and critical is None)


@dataclass(frozen=True)
class Plan:
    """The plan of the flight: which powers count, and where the lines are.

    upper, lower : (least, most) [%], None where the plan has no such band. low : [%] - light running below it.
    cht_limit_degf : [degF] or None.
    """

    upper: tuple[float, float] | None = (72.0, 85.0)
    lower: tuple[float, float] | None = (62.0, 68.0)
    low: float = 60.0
    cht_limit_degf: float | None = None

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Plan:
        """Exact bands from ``credit`` where given, else the targets with ``tol`` on both sides.

        Both targets are always counted, also when the flight was to hold one only: minutes are what was flown.
        """
        credit = data.get("credit")
        tol = float(data.get("tol") or 3.0)
        bands: dict[str, tuple[float, float] | None] = {}
        for name in ("75", "65"):
            pair = credit.get(name) if isinstance(credit, Mapping) else None
            if pair is None:
                pair = (float(name) - tol, float(name) + tol)
            bands[name] = (float(pair[0]), float(pair[1]))
        return cls(bands["75"], bands["65"], float(data.get("low") or 60.0), _number(data, "cht_limit_f"))

    def band_of(self, pct: float) -> str:
        """ "75", "65" or "", where a percentage lies."""
        for name, band in (("75", self.upper), ("65", self.lower)):
            if band is not None and band[0] <= pct <= band[1]:
                return name
        return ""

    def edge_distance(self, pct: float) -> float:
        """How far a percentage is from the nearest edge of a band [%]."""
        edges = [edge for band in (self.upper, self.lower) if band for edge in band]
        return min((abs(pct - edge) for edge in edges), default=math.inf)


__all__ = ["BSFC_LB_HP_H", "CalcError", "EngineSpec", "Plan", "Samples"]
