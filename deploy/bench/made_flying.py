"""How the pilot flies: as the schedule asks, and the ways of not doing so."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from reports.demo.recorder import Engine, Script

BLOCKS = {"hour1": ([75], 60), "hour2": ([75, 65, 75, 65], 15), "later": ([75, 65, 75, 65], 30)}


def fly(
    rng: np.random.Generator, script: Script, engine: Engine, stage: str, bad: Collection[str], *, extra: str = ""
) -> None:
    """Add the legs of one file to the script."""
    if extra == "several-flights":
        for _ in range(3):
            _flight(rng, script, engine, "hour2", bad, short=True)
        script.off(40)
    elif extra == "ground-run":
        _to_the_runway(rng, script, 600)
        script.run_up(120).taxi(200).off(60)
    elif extra == "aborted":
        _to_the_runway(rng, script, 400)
        script.roll(14).landing(30).taxi(240).off(60)
    else:
        circuits = 3 if extra == "touch-and-go" or "circuits" in bad else 0
        _flight(rng, script, engine, stage, bad, short=bool(extra), circuits=circuits)
        script.off(int(rng.integers(15, 50)))


def _to_the_runway(rng: np.random.Generator, script: Script, start_s: int) -> None:
    script.off(int(rng.integers(6, 35)))
    script.start(start_s, rpm=float(rng.uniform(900, 1050)), map_inhg=float(rng.uniform(11.3, 13)))
    script.taxi(int(rng.integers(100, 400)), rpm=float(rng.uniform(1050, 1300)), ias=float(rng.choice([0, 12])))


def _flight(
    rng: np.random.Generator, script: Script, engine: Engine, stage: str, bad: Collection[str], *, short: bool = False,
    circuits: int = 0,
) -> None:  # fmt: skip
    _to_the_runway(rng, script, int(rng.uniform(900, 1500) if "long_ground" in bad else rng.uniform(60, 300)))
    script.run_up(
        int(rng.integers(42, 65)), rpm=float(rng.uniform(1650, 1950)), map_inhg=float(rng.uniform(16.5, 18.5))
    )
    script.taxi(int(rng.integers(20, 110)), rpm=1000, map_inhg=12.1)
    cruise_rpm = float(rng.choice([2350, 2400, 2450, 2500])) * min(1.0, engine.rated_rpm / 2650)
    field = script.air.field_ft
    for _ in range(circuits):
        script.roll(int(rng.integers(20, 32))).climb(field + 900, 750)
        script.step(int(rng.integers(90, 140)), float(rng.uniform(52, 62)), cruise_rpm)
        script.approach(int(rng.integers(110, 170)), 38, cruise_rpm).landing(int(rng.integers(12, 22)))
    script.roll(int(rng.integers(23, 35)))
    top = field + float(rng.uniform(1900, 4500)) if not engine.turbo else field + float(rng.uniform(4500, 10500))
    _climb(rng, script, engine, bad, top)
    parts, minutes = BLOCKS[stage]
    _cruise(rng, script, engine, bad, [float(p) for p in parts], minutes / (3 if short else 1), cruise_rpm)
    _down(rng, script, bad, cruise_rpm)
    script.landing(int(rng.integers(28, 42))).taxi(int(rng.integers(60, 350)))
    script.off(int(rng.integers(20, 60)))


def _climb(rng: np.random.Generator, script: Script, engine: Engine, bad: Collection[str], top: float) -> None:
    fpm = float(rng.uniform(550, 950))
    field = script.air.field_ft
    if "early_reduce" in bad:
        script.climb(field + float(rng.uniform(400, 900)), fpm)
        script.climb(top, fpm * 0.85, pct=float(rng.uniform(78, 85)), rpm=engine.rated_rpm * 0.95)
    elif "step_climb" in bad:
        script.climb(field + 0.6 * (top - field), fpm)
        script.step(int(rng.integers(60, 200)), float(rng.uniform(76, 82)), engine.rated_rpm * 0.945)
        script.climb(top, fpm * 0.8)
    else:
        script.climb(top, fpm)


def _cruise(
    rng: np.random.Generator, script: Script, engine: Engine, bad: Collection[str], parts: list[float], minutes: float,
    rpm: float,
) -> None:  # fmt: skip
    if "off_band" in bad:
        parts = [p - float(rng.choice([3.6, 4.4, 6.0, 7.5])) * float(rng.choice([1, 1, -1])) for p in parts]
    if "short_blocks" in bad:
        minutes *= float(rng.uniform(0.5, 0.75))
    if "power_change" in bad:
        # One change too many, large enough to be seen.
        parts = [*parts, 75 if len(parts) > 1 else parts[0] - float(rng.uniform(5, 12))]
    if "low_cruise" in bad:
        parts = [*parts, float(rng.uniform(44, 54))]
    for number, part in enumerate(parts):
        pct = part + float(rng.normal(0, 0.9))
        seconds = int(minutes * 60 * rng.uniform(0.88, 1.15) * (0.4 if part < 58 and number == len(parts) - 1 else 1))
        if number:
            script.cruise(seconds, pct, rpm, x=_mixture(script))
            continue
        script.level(int(rng.integers(40, 80)), pct, rpm)
        _lean(rng, script, engine, bad, pct, rpm)
        script.cruise(seconds, pct, rpm, x=_mixture(script))


def _mixture(script: Script) -> float | str:
    """The mixture that the last leg left: a power change does not move it."""
    return script.legs[-1].x


def _lean(
    rng: np.random.Generator, script: Script, engine: Engine, bad: Collection[str], pct: float, rpm: float
) -> None:
    script.rich(int(rng.integers(45, 180)), pct, rpm)
    if rng.random() < 0.1 and "lop" not in bad:
        return
    first = max(engine.peaks)
    speed = float(rng.uniform(0.0008, 0.0022))
    if "lop" in bad:
        script.lean(pct, rpm, to_x=float(rng.uniform(0.78, 0.84)), from_x=engine.rich_part, speed=speed, back_to=0.82)
        return
    back = float(rng.choice([1.0, 1.0, 1.02, 0.985]))
    depth = float(rng.uniform(0.012, 0.032))
    script.lean(pct, rpm, to_x=first - depth, from_x=engine.rich_part, speed=speed, back_to=back)


def _down(rng: np.random.Generator, script: Script, bad: Collection[str], rpm: float) -> None:
    field = script.air.field_ft
    last = script.legs[-1].pct or 65.0
    pattern = field + float(rng.uniform(700, 1000))
    if "chop" in bad:
        script.descend(pattern, float(rng.uniform(900, 1300)), pct=float(rng.uniform(20, 28)), rpm=rpm, faster=2,
                       map_rate=3)  # fmt: skip
    else:
        script.descend(pattern, float(rng.uniform(400, 600)), pct=last - float(rng.uniform(0, 9)), rpm=rpm)
    if "hold_low" in bad:
        script.approach(int(rng.uniform(500, 800)), float(rng.uniform(33, 42)), rpm)
    else:
        script.approach(int(rng.uniform(165, 260)), float(rng.uniform(38, 47)), rpm)
