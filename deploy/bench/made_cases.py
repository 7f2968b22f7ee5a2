"""Chance made into cases: which engine, how it is flown, what the recorder shows and how its file looks.

The constants are drawn from wider ranges than any one engine has; nothing that reads recordings may know them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from made_engines import made_engine, spec_of
from made_files import DIRT, build_dialect, form_of
from made_flying import fly

from reports.demo.recorder import Air, Dialect, Engine, Instruments, Script
from reports.demo.recorder.instruments import Fault

BAD = ("off_band", "low_cruise", "chop", "lop", "power_change", "short_blocks", "step_climb", "early_reduce",
       "long_ground", "hold_low", "circuits")  # fmt: skip
STAGES: dict[str, dict[str, Any]] = {
    "hour1": {"bands": [75], "constant": True, "minutes": 60},
    "hour2": {"bands": [75, 65], "block_min": 15, "block_tol_min": 3, "minutes": 60},
    "later": {"bands": [75, 65], "block_min": 30, "block_tol_min": 5, "minutes": 120},
}


@dataclass(frozen=True)
class Case:
    """Everything that one file comes from."""

    model: str
    engines: tuple[Engine, ...]
    splits: tuple[float, ...]
    script: Script
    instruments: Instruments
    schedule: dict[str, Any]
    spec: dict[str, Any]
    start: datetime
    seed: int
    form: dict[str, Any]
    rough: float = 1.0
    bad: frozenset[str] = frozenset()
    dirt: frozenset[str] = frozenset()
    missing: frozenset[str] = frozenset()
    sensor_bias: dict[str, Any] | None = None
    auto_units: bool = False
    blank_share: float = 0.0
    gaps: tuple[tuple[int, int], ...] = ()
    extra: str = ""
    second_recorder: Instruments | None = None
    jump: tuple[float, int] = field(default=(0.5, 0))

    def kept(self, seconds: Any) -> Any:
        """Rows outside the gaps."""
        keep = np.ones(len(seconds), bool)
        for begin, end in self.gaps:
            keep &= ~((seconds > begin) & (seconds < end))
        return keep

    def dialect(self, rng: np.random.Generator, rows: int) -> Dialect:
        return build_dialect(rng, self.form, self.dirt, self.missing, self.engines, rows, self.jump)


def case_of(rng: np.random.Generator, **fixed: Any) -> Case:
    """One flight. `fixed` overrides a draw: extra, twin, bad, dirt, stage."""
    stage = fixed.get("stage") or str(rng.choice(list(STAGES), p=[0.4, 0.3, 0.3]))
    model, engine, nominal = made_engine(rng, stage)
    twin = fixed.get("twin", rng.random() < 0.22)
    engines, splits = [engine], [0.0]
    if twin:
        _, other, _ = made_engine(rng, stage, like=(model, nominal), older=rng.random() < 0.5)
        engines.append(other)
        splits.append(float(rng.normal(0, 0.7) if rng.random() < 0.6 else rng.uniform(4, 9) * rng.choice([-1, 1])))
    bad = fixed.get("bad", _some(rng, BAD, (0.35, 0.3, 0.25, 0.1)))
    if "circuits" in bad and rng.random() < 0.6:
        bad -= {"circuits"}
    field_ft = float(rng.uniform(0, 2600))
    air = Air(field_ft, 59 - 0.00357 * field_ft + float(rng.uniform(-38, 32)), float(rng.uniform(-4.2, -3.0)))
    fast = engine.turbo or engine.cylinders == 6
    cruise_ias = float(rng.uniform(135, 170) if fast else rng.uniform(98, 125))
    script = Script(air, engine.rated_rpm, float(rng.uniform(78, 122) if fast else rng.uniform(72, 92)), cruise_ias)
    engines = [replace(e, cooling_kt=cruise_ias) for e in engines]
    fly(rng, script, engine, stage, bad, extra=fixed.get("extra", ""))
    seconds = sum(leg.seconds for leg in script.legs)
    dirt = fixed.get("dirt", _some(rng, DIRT, (0.3, 0.35, 0.25, 0.1)))
    missing = _missing(rng, twin)
    bias, map_bias, fuel_factor = _bias(rng, twin, missing)
    form = form_of(rng, engine)
    auto_units = bool(rng.random() < 0.15)
    if form["time_format"] == "elapsed":
        dirt -= {"clockjump", "midnight"}
    if auto_units and form["metric"]["fk"]:
        # Litres and kilograms an hour look alike: without a unit nobody could tell.
        form["metric"] |= {"f": True, "fk": False}
    instruments = Instruments(
        step_s=int(rng.choice([1, 1, 1, 1, 2, 3, 6])),
        rpm=float(rng.uniform(2, 7)),
        map_inhg=float(rng.uniform(0.04, 0.09)),
        fuel_gph=float(rng.uniform(0.05, 0.11)),
        cht_degf=float(rng.uniform(0.3, 0.8)),
        egt_degf=float(rng.uniform(1.5, 3.0)),
        map_bias=map_bias,
        fuel_factor=fuel_factor,
        oat_bias=float(rng.normal(0, 1.8)),
        alt_bias=float(rng.normal(0, 40)),
        faults=_faults(rng, engines, seconds, missing),
    )
    start = datetime(2024, 3, 1, tzinfo=UTC) + timedelta(
        days=int(rng.integers(0, 100)), seconds=int(rng.integers(6, 20) * 3600)
    )
    if "midnight" in dirt:
        start = start.replace(hour=23, minute=int(rng.integers(0, 59)), second=int(rng.integers(0, 59)))
    schedule = {"phase": stage, **STAGES[stage], "tol": float(rng.choice([3.0, 4.0, 4.0])),
                "low": float(rng.choice([60.0, 61.0])), "cht_limit_f": 460, "cht_drop_limit_f_min": 50,
                "egt_tol_f": 50}  # fmt: skip
    return Case(
        model=model, engines=tuple(engines), splits=tuple(splits), script=script, instruments=instruments,
        schedule=schedule, spec={str(n): spec_of(nominal, e) for n, e in enumerate(engines, 1)}, start=start,
        seed=int(rng.integers(0, 2**31)), form=form, rough=float(rng.uniform(0.8, 2.0)), bad=bad, dirt=dirt,
        missing=missing, sensor_bias=bias, auto_units=auto_units,
        blank_share=float(rng.uniform(0.004, 0.015)) if "blanks" in dirt else 0.0,
        gaps=_gaps(rng, seconds) if "gaps" in dirt else (), extra=fixed.get("extra", ""),
        jump=(float(rng.uniform(0.1, 0.9)), int(rng.choice([3600, 7200, -3600, -1800, 43200]))),
    )  # fmt: skip


def _some(rng: np.random.Generator, names: tuple[str, ...], shares: tuple[float, ...]) -> frozenset[str]:
    """None, one, two or three of the names with these chances."""
    size = int(rng.choice(len(shares), p=shares))
    return frozenset(str(name) for name in rng.choice(names, size=size, replace=False))


def _missing(rng: np.random.Generator, twin: bool) -> frozenset[str]:
    names = ["oat", "alt", "airspeed", "fuel_flow", "egt", "oil"]
    chosen = {str(name) for name in names if rng.random() < 0.07}
    if "fuel_flow" in chosen:
        chosen.discard("fuel_flow")
        chosen.add("1.fuel_flow" if twin and rng.random() < 0.5 else "fuel_flow")
    return frozenset(chosen)


def _bias(
    rng: np.random.Generator, twin: bool, missing: frozenset[str]
) -> tuple[dict[str, Any] | None, tuple[float, float], tuple[float, float]]:
    map_bias = [float(v) for v in rng.normal(0, 0.12, 2)]
    fuel = [float(v) for v in 1 + rng.normal(0, 0.008, 2)]
    if rng.random() > 0.12:
        return None, (map_bias[0], map_bias[1]), (fuel[0], fuel[1])
    side = int(rng.integers(0, 2)) if twin else 0
    kind = "manifold_pressure" if rng.random() < 0.55 or "fuel_flow" in missing else "fuel_flow"
    sign = float(rng.choice([-1, 1]))
    if kind == "manifold_pressure":
        map_bias[side] = sign * float(rng.uniform(1.6, 3.2))
    else:
        fuel[side] = 1 + sign * float(rng.uniform(0.13, 0.25))
    return {"engine": side + 1, "kind": kind}, (map_bias[0], map_bias[1]), (fuel[0], fuel[1])


def _faults(
    rng: np.random.Generator, engines: list[Engine], seconds: int, missing: frozenset[str]
) -> tuple[Fault, ...]:
    if rng.random() > 0.35:
        return ()
    found: dict[tuple[int, str], Fault] = {}
    for _ in range(int(rng.integers(1, 3))):
        side = int(rng.integers(1, len(engines) + 1))
        kinds = ["cht"] if "egt" in missing else ["cht", "egt"]
        sensor = f"{rng.choice(kinds)}{int(rng.integers(1, engines[0].cylinders + 1))}"
        kind = str(rng.choice(["stuck", "spikes", "jump", "open"]))
        found[side, sensor] = Fault(side, sensor, kind, int(rng.uniform(0.15, 0.5) * seconds))
    return tuple(found.values())


def _gaps(rng: np.random.Generator, seconds: int) -> tuple[tuple[int, int], ...]:
    begins = rng.uniform(0.1, 0.95, int(rng.integers(1, 4))) * seconds
    return tuple((int(b), int(b + rng.uniform(15, 120))) for b in begins)


def more_cases(rng: np.random.Generator) -> Iterator[tuple[str, Case]]:
    """One or two of each kind that a plain examination leaves out."""
    plain: dict[str, Any] = {"bad": frozenset(), "dirt": frozenset(), "twin": False}
    kinds: tuple[tuple[str, Callable[[Case], Case]], ...] = (
        ("several-flights", lambda case: case),
        ("touch-and-go", lambda case: case),
        ("ground-run", lambda case: case),
        ("aborted", lambda case: case),
        ("two-recorders", lambda case: replace(case, second_recorder=Instruments(step_s=5))),
        ("wrong-year", lambda case: replace(case, start=case.start.replace(year=2000, day=1, month=1))),
    )
    for kind, change in kinds:
        for number in range(2):
            case = case_of(rng, extra=kind, **plain)
            whole = replace(case.instruments, faults=())
            dated = case.form | {"time_format": "iso", "time_names": ("Timestamp",)}
            yield f"{kind}-{number}", change(replace(case, instruments=whole, form=dated, missing=frozenset()))
