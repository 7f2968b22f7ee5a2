"""Small recordings as a generic instrument writes them, made for tests: steady powers with straight lines between."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from itertools import pairwise

STEP_S = 5
HEADS = (340.0, 352.0, 346.0, 338.0)

# (minutes since the first row, rpm, inHg, US gal/h, ft, kt, degF of the heads over or under their cruise)
Corner = tuple[float, ...]


def flight(cruise_min: float = 30, *, lead_min: float = 1, hot_degf: float = 0) -> list[Corner]:
    """Start, taxi 5 min, run-up, full-throttle climb to 5,000 ft, level cruise, descent, landing, taxi 3 min.

    The cruise is at 24 inHg and 2,400 rpm; `hot_degf` is added to the heads in the climb.
    """
    shape: list[Corner] = [
        (0, 0, 29.3, 0, 620, 0, -270),
        (0.05, 900, 12, 2.0, 620, 0, -270),
        (4, 1000, 12, 2.2, 620, 8, -150),
        (4.1, 1800, 15, 5.0, 620, 0, -140),
        (5.0, 1800, 15, 5.0, 620, 0, -130),
        (5.1, 900, 12, 2.0, 620, 0, -125),
        (6.0, 1000, 12, 2.0, 620, 5, -120),
        (6.1, 2680, 28.9, 16.0, 620, 10, -115),
        (6.6, 2690, 28.9, 16.0, 620, 70, -90),
        (6.7, 2690, 28.8, 16.0, 660, 85, -85),
        (11, 2690, 25.0, 14.2, 5000, 95, 40 + hot_degf),
        (12, 2400, 24.0, 10.8, 5000, 120, 20 + hot_degf / 2),
        (15, 2400, 24.0, 10.8, 5000, 125, 0),
        (11 + cruise_min, 2400, 24.0, 10.8, 5000, 125, 0),
        (12 + cruise_min, 2300, 19.0, 7.5, 4800, 128, -20),
        (20 + cruise_min, 2200, 16.0, 5.5, 1200, 100, -60),
        (22 + cruise_min, 1500, 13.0, 3.5, 640, 68, -80),
        (22.5 + cruise_min, 1000, 12.0, 2.2, 620, 45, -85),
        (23 + cruise_min, 1000, 12.0, 2.2, 620, 12, -90),
        (26 + cruise_min, 900, 12.0, 2.0, 620, 0, -100),
        (26.1 + cruise_min, 0, 29.3, 0, 620, 0, -102),
        (27 + cruise_min, 0, 29.3, 0, 620, 0, -105),
    ]
    return _after(lead_min, shape)


def ground_run(minutes: float = 8) -> list[Corner]:
    """The engine runs on the ground and stops."""
    return _after(
        1,
        [
            (0, 0, 29.3, 0, 620, 0, -270),
            (0.05, 900, 12, 2.0, 620, 0, -270),
            (minutes / 2, 1800, 15, 5.0, 620, 0, -120),
            (minutes / 2 + 1, 1000, 12, 2.0, 620, 0, -120),
            (minutes, 900, 12, 2.0, 620, 0, -120),
            (minutes + 0.1, 0, 29.3, 0, 620, 0, -125),
            (minutes + 1, 0, 29.3, 0, 620, 0, -130),
        ],
    )


def one_after_the_other(*runs: Sequence[Corner], apart_min: float = 30) -> list[Corner]:
    """Several runs in one file, the recorder on between them."""
    joined: list[Corner] = []
    for run in runs:
        start = joined[-1][0] + apart_min if joined else 0.0
        joined += [(start + corner[0], *corner[1:]) for corner in run]
    return joined


def _after(minutes: float, shape: Iterable[Corner]) -> list[Corner]:
    return [(0, 0, 29.3, 0, 620, 0, -270), *((at + minutes, *rest) for at, *rest in shape)]


def written(
    start: datetime,
    shape: Sequence[Corner],
    *,
    dated: bool = True,
    heads: Sequence[float] = HEADS,
    position: bool = False,
    engines: int = 1,
    names: bool = True,
    step_s: int = STEP_S,
) -> bytes:
    """The shape as a file: a line every few seconds. `names` False leaves the units out of the header."""
    head = ["Date", "Time"] if dated else ["Time"]
    for engine in range(1, engines + 1):
        mark = f"E{engine} " if engines > 1 else ""
        units = (" (inHg)", " (gph)", " (F)", " (psi)") if names else ("", "", "", "")
        head += [f"{mark}RPM", f"{mark}MAP{units[0]}", f"{mark}FF{units[1]}"]
        head += [f"{mark}CHT{number}{units[2]}" for number in range(1, len(heads) + 1)]
        head += [f"{mark}EGT{number}{units[2]}" for number in range(1, len(heads) + 1)]
        head += [f"{mark}Oil temp{units[2]}", f"{mark}Oil press{units[3]}"]
    head += ["OAT (F)", "Press alt (ft)", "IAS (kt)"]
    head += ["Latitude", "Longitude"] if position else []
    lines = [",".join(head)]
    for second in range(0, int(shape[-1][0] * 60) + 1, step_s):
        rpm, manifold, flow, alt, ias, warm = _at(shape, second / 60)
        moment = start + timedelta(seconds=second)
        row = [f"{moment:%Y-%m-%d}", f"{moment:%H:%M:%S}"] if dated else [f"{moment:%H:%M:%S}"]
        running = rpm > 0
        for engine in range(engines):
            row += [f"{rpm:.0f}", f"{manifold - 0.3 * engine:.1f}", f"{flow:.1f}"]
            row += [f"{max(each + warm + second % 3, 60):.0f}" for each in heads]
            row += [f"{1380 + 10 * place + second % 5 if running else 70:.0f}" for place in range(len(heads))]
            row += [f"{185 if alt > 700 else 120:.0f}", f"{72 if rpm > 1200 else 35 if running else 0:.0f}"]
        row += [f"{59 - 0.00357 * alt:.0f}", f"{alt:.0f}", f"{ias:.0f}"]
        row += [f"{47.5 + second / 1e5:.5f}", f"{8.5 + second / 1e5:.5f}"] if position else []
        lines.append(",".join(row))
    return ("\n".join(lines) + "\n").encode()


def _at(shape: Sequence[Corner], minute: float) -> tuple[float, ...]:
    for before, after in pairwise(shape):
        if before[0] <= minute <= after[0] and after[0] > before[0]:
            share = (minute - before[0]) / (after[0] - before[0])
            return tuple(a + share * (b - a) for a, b in zip(before[1:], after[1:], strict=True))
    return shape[-1][1:]
