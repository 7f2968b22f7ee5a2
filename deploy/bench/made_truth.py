"""What is true of a made flight, in the shapes in which the analysis of a recording answers."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from made_cases import Case

from reports.demo.recorder.engine import Engine, standard_degf
from reports.demo.recorder.simulate import EngineRun, Flown

_AIRBORNE = ("climb", "level", "cruise", "descent", "approach")
PEAK_AFTER_CRUISE_S = 600
DROP_OVER_S = 60
STEADY_END_S = 300


def truth_of(flown: Flown, case: Case) -> dict[str, Any]:
    """The truth of a file; with several flights in it, that of each under "flights" as well."""
    spans = _flights(flown)
    tells = [_one(flown, case, *span) for span in spans]
    kinds = [tell["kind"] for tell in tells]
    first = tells[0]
    general = {
        "model": case.model, "stage": case.schedule["phase"], "bad": sorted(case.bad), "twin": len(case.engines) == 2,
        "sensor_bias": case.sensor_bias, "step": case.instruments.step_s, "dirt": sorted(case.dirt),
        "missing": sorted(case.missing), "extra": case.extra,
        "bad_sensors": [
            {"engine": f.engine, "sensor": f.sensor, "kind": f.kind, "t": f.at} for f in case.instruments.faults
        ],
        "time_format": case.form["time_format"], "encoding": case.form["encoding"], "delim": case.form["delimiter"],
        "decimal_comma": case.form["decimal_comma"], "auto_units": case.auto_units, "metric": case.form["metric"],
    }  # fmt: skip
    pct = [np.round(run.pct, 2).tolist() for run in flown.engines]
    out = {**first, **general}
    out["engines"] = [{"pct": p, **engine} for p, engine in zip(pct, first["engines"], strict=True)]
    if case.extra:
        out["flights"] = tells
        out["kinds"] = kinds
    return out


def _flights(flown: Flown) -> list[tuple[int, int]]:
    """From one stopped engine to the next."""
    off = flown.phase == "off"
    starts = np.flatnonzero(off[:-1] & ~off[1:]) + 1
    stops = np.flatnonzero(~off[:-1] & off[1:]) + 1
    edges = [0, *[(int(a) + int(b)) // 2 for a, b in zip(stops, starts[1:], strict=False)], flown.seconds]
    return list(pairwise(edges))


def _phases(flown: Flown, first: int, end: int) -> list[dict[str, Any]]:
    phase = flown.phase[first:end]
    change = np.flatnonzero(phase[1:] != phase[:-1]) + 1
    edges = [0, *change.tolist(), end - first]
    return [{"phase": str(phase[a]), "t0": first + a, "t1": first + b} for a, b in pairwise(edges)]


def _one(flown: Flown, case: Case, first: int, end: int) -> dict[str, Any]:
    phases = _phases(flown, first, end)

    def begins(name: str) -> int | None:
        return next((p["t0"] for p in phases if p["phase"] == name), None)

    def ends(name: str) -> int | None:
        return next((p["t1"] for p in reversed(phases) if p["phase"] == name), None)

    touchdowns = [p["t0"] for p in phases if p["phase"] == "landing"]
    airborne = any(p["phase"] in _AIRBORNE for p in phases)
    events = {
        "engine_start": begins("start"), "runup_start": begins("runup"), "runup_end": ends("runup"),
        "takeoff_start": begins("takeoff"), "liftoff": begins("climb"), "cruise_start": begins("level"),
        "descent_start": begins("descent"), "touchdown": touchdowns[-1] if airborne and touchdowns else None,
        "shutdown": next((p["t0"] for p in reversed(phases) if p["phase"] == "off" and p["t0"] > first), None),
    }  # fmt: skip
    kind = "flight" if airborne else "aborted" if begins("takeoff") is not None else "ground_run"
    engines = [
        _engine(flown, case, case.engines[n], run, events, phases, first, end) for n, run in enumerate(flown.engines)
    ]
    out: dict[str, Any] = {
        "kind": kind, "first_t": first, "end_t": end, "landings": len(touchdowns) if airborne else 0,
        "events": events, "phases": phases, "engines": engines,
    }  # fmt: skip
    if len(flown.engines) == 2:
        cruise = np.isin(flown.phase[first:end], ["level", "cruise"])
        gap = (flown.engines[0].pct - flown.engines[1].pct)[first:end]
        out["split_pct"] = round(float(gap[cruise].mean()), 2) if cruise.any() else None
    return out


def _engine(
    flown: Flown, case: Case, engine: Engine, run: EngineRun, events: dict[str, Any], phases: list[dict[str, Any]],
    first: int, end: int,
) -> dict[str, Any]:  # fmt: skip
    schedule = case.schedule
    air = np.zeros(flown.seconds, bool)
    for phase in phases:
        if phase["phase"] in _AIRBORNE:
            air[phase["t0"] : phase["t1"]] = True
    running = np.zeros(flown.seconds, bool)
    running[first:end] = flown.phase[first:end] != "off"
    pct = run.pct

    def minutes(mask: Any) -> float:
        return float(np.count_nonzero(mask)) / 60

    blocks = _blocks(flown, run, schedule, first, end)
    out: dict[str, Any] = {
        "minutes": {
            "75": minutes(air & (np.abs(pct - 75) <= schedule["tol"])),
            "65": minutes(air & (np.abs(pct - 65) <= schedule["tol"])),
            "low_air": minutes(air & (pct < schedule["low"])),
            "ground": minutes(running & ~air),
        },
        "blocks": blocks,
        "power_changes_hour1": max(len(blocks) - 1, 0),
        "takeoff_ff": None, "cht_climb_peak": None, "cht_turnover": None, "cht_drop_max": None,
        # Without the exhaust gas temperatures nobody could see it.
        "first_peak": None if "egt" in case.missing else _first_peak(flown, engine, run, first, end),
        "hours0": engine.hours_before,
    }  # fmt: skip
    if events["liftoff"] is None:
        return out
    begin, cruise, touchdown = events["takeoff_start"], events["cruise_start"], events["touchdown"]
    steady = run.fuel_gph[begin + 12 : events["liftoff"] + 15]
    out["takeoff_ff"] = round(float(steady.mean()), 2)
    until = min((cruise or touchdown) + PEAK_AFTER_CRUISE_S, end)
    climb = run.cht[:, begin:until]
    out["cht_climb_peak"] = [round(float(v), 1) for v in climb.max(axis=1)]
    out["cht_turnover"] = [int(v) + begin for v in climb.argmax(axis=1)]
    flight = run.cht[:, events["liftoff"] : touchdown]
    drop = (flight[:, :-DROP_OVER_S] - flight[:, DROP_OVER_S:]).max(axis=1) * 60 / DROP_OVER_S
    out["cht_drop_max"] = [round(float(v), 2) for v in drop]
    return out


def _blocks(flown: Flown, run: EngineRun, schedule: dict[str, Any], first: int, end: int) -> list[dict[str, Any]]:
    found = []
    numbers = flown.block[first:end]
    for number in [int(n) for n in np.unique(numbers) if n >= 0]:
        inside = first + np.flatnonzero(numbers == number)
        settled = inside[flown.settled[inside]]
        if not len(settled):
            continue
        t0, t1 = int(settled[0]), int(inside[-1]) + 1
        pct = float(run.pct[t0:t1].mean())
        band = next((b for b in schedule["bands"] if abs(pct - b) <= schedule["tol"]), None)
        late = slice(max(t0, t1 - STEADY_END_S), t1)
        moved = float((standard_degf(flown.alt_ft[late]) - flown.oat_degf[late]).mean())
        heads = [round(float(v) + moved, 1) for v in run.cht[:, late].mean(axis=1)]
        found.append({"t0": t0, "t1": t1, "pct": round(pct, 2), "band": band, "cht_std": heads})
    return found


def _first_peak(flown: Flown, engine: Engine, run: EngineRun, first: int, end: int) -> dict[str, Any] | None:
    peaks = np.array(engine.peaks)
    richest = np.argsort(peaks)[::-1]
    leaning = flown.leaning[first:end]
    past = leaning & (run.x[first:end] < peaks[richest[0]])
    if not past.any():
        return None
    t = first + int(np.argmax(past))
    return {
        "t": t,
        "cyl": int(richest[0]) + 1,
        "margin": round(float(peaks[richest[0]] - peaks[richest[1]]), 4),
        "depth": round(float(peaks[richest[0]] - run.x[first:end][leaning].min()), 4),
    }
