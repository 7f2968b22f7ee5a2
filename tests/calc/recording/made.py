"""Small invented recordings for the tests of reading: a flight as numbers, and the same as many kinds of file."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

Numbers = dict[str, np.ndarray]

START = datetime.fromisoformat("2024-03-16 13:11:07")
LEGS: dict[str, list[tuple[str, float]]] = {
    "flight": [("off", 60), ("taxi", 240), ("roll", 25), ("climb", 480), ("cruise", 1200), ("descent", 600),
               ("final", 60), ("taxi", 180), ("off", 60)],
    "touch_and_go": [("off", 30), ("taxi", 180), ("roll", 25), ("climb", 240), ("descent", 300), ("touch", 12),
                     ("climb", 240), ("descent", 300), ("touch", 12), ("climb", 240), ("descent", 300), ("final", 60),
                     ("taxi", 120), ("off", 30)],
    "ground_run": [("off", 30), ("taxi", 300), ("runup", 60), ("taxi", 200), ("off", 30)],
    "aborted": [("off", 30), ("taxi", 200), ("roll", 12), ("stop", 20), ("taxi", 200), ("off", 30)],
}  # fmt: skip
# rpm, manifold pressure, climb [ft/min], airspeed [kt] at the end of the leg, fuel flow, CHT it tends to.
_LEG = {
    "off": (0, 0, 0, 0, 0.0, None),
    "taxi": (1000, 12, 0, 4, 2.5, 250),
    "runup": (1800, 16, 0, 0, 6.0, 300),
    "roll": (2650, 28.6, 0, 62, 17.5, 340),
    "stop": (900, 11, 0, 4, 2.0, 300),
    "climb": (2650, 27.5, 700, 90, 16.5, 400),
    "cruise": (2400, 23.0, 0, 125, 10.5, 360),
    "descent": (2200, 17.0, None, 110, 7.0, 320),
    "final": (1300, 12.0, 0, 30, 3.5, 290),
    "touch": (1500, 13.0, 0, 50, 4.0, 290),
}
FIELD_FT = 500.0


def numbers(legs: list[tuple[str, float]], step: float = 1.0, seed: int = 1) -> Numbers:
    """A flight in canonical units, one row each `step` seconds."""
    rng = np.random.default_rng(seed)
    rpm, pressure, height, speed, flow, head, names = ([] for _ in range(7))
    now_height, now_speed, now_head = FIELD_FT, 0.0, 75.0
    for leg, lasts in legs:
        n = int(lasts / step)
        want_rpm, want_map, climb, want_speed, want_flow, want_head = _LEG[leg]
        fall = (FIELD_FT - now_height) / max(n, 1) if climb is None else climb / 60.0 * step
        from_speed = now_speed
        for index in range(n):
            now_height += fall
            now_speed = from_speed + (want_speed - from_speed) * min(1.0, (index + 1) / min(n, 25.0 / step))
            now_head += ((75.0 if want_head is None else want_head) - now_head) * (step / 300.0)
            ambient = 29.92 * (1 - 6.8756e-6 * now_height) ** 5.2559
            rpm.append(want_rpm)
            pressure.append(ambient if want_rpm == 0 else min(want_map, ambient - 0.3))
            height.append(now_height)
            speed.append(now_speed)
            flow.append(want_flow)
            head.append(now_head)
            names.append(leg)
    n = len(rpm)
    running = np.array(rpm) > 0
    out = {
        "rpm": np.array(rpm) + running * rng.normal(0, 4, n).round(),
        "map": np.array(pressure) + rng.normal(0, 0.05, n),
        "flow": np.array(flow) + running * rng.normal(0, 0.05, n),
        "oil_temp": 70 + 110 * (1 - np.exp(np.cumsum(running) * step / -600.0)) + rng.normal(0, 0.3, n),
        "oil_press": running * 65.0 + rng.normal(0, 0.5, n),
        "oat": 59 - np.array(height) * 3.566e-3 + rng.normal(0, 0.3, n),
        "alt": np.array(height) + rng.normal(0, 3, n),
        "airspeed": np.clip(np.array(speed) + rng.normal(0, 0.5, n), 0, None),
    }
    for cylinder in range(1, 5):
        out[f"cht{cylinder}"] = np.array(head) + 8 * cylinder + rng.normal(0, 0.4, n)
        out[f"egt{cylinder}"] = 75 + running * (1100 + 20 * cylinder) + rng.normal(0, 4, n)
    return out


def joined(*parts: Numbers) -> Numbers:
    """Flights one after another."""
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


DECIMALS = {"rpm": 0, "map": 1, "flow": 1, "oil_temp": 0, "oil_press": 0, "oat": 0, "alt": 0, "airspeed": 0}
UNITS = {"rpm": "rpm", "map": "inHg", "flow": "gph", "oil_press": "psi", "alt": "ft", "airspeed": "kt"}
NAMES = {
    "rpm": "RPM", "map": "MAP", "flow": "Fuel Flow", "oil_temp": "Oil Temp", "oil_press": "Oil Press", "oat": "OAT",
    "alt": "Press Alt", "airspeed": "IAS",
}  # fmt: skip


def name_of(key: str) -> str:
    """The name of a channel in the made files."""
    return NAMES.get(key) or f"{key[:3].upper()} {key[3:]}"


@dataclass
class File:
    """How a flight is written down."""

    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"
    newline: str = "\n"
    time: str = "iso"
    start: datetime = START
    units: dict[str, str] = field(default_factory=dict)
    before: tuple[str, ...] = ()
    unit_line: bool = False
    times: np.ndarray | None = None
    names: dict[str, str] = field(default_factory=dict)
    decimals: dict[str, int] = field(default_factory=dict)

    def unit(self, key: str) -> str:
        return self.units.get(key[:3] if key[:3] in ("cht", "egt") else key, UNITS.get(key, "F"))

    def title(self, key: str) -> str:
        return self.names.get(key) or name_of(key)

    def in_file(self, key: str, values: np.ndarray) -> np.ndarray:
        """Canonical numbers as numbers of the file."""
        unit = self.unit(key)
        if unit == "C":
            return (values - 32) / 1.8
        by = {"hPa": 33.8638866667, "L/h": 3.785411784, "kg/h": 6.0 * 0.45359237, "m": 0.3048, "km/h": 1.852}
        return values * by.get(unit, 1.0)

    def time_names(self) -> list[str]:
        return {"date_hms": ["Date", "Time"], "us_date_hms": ["Date", "Time"]}.get(self.time, ["Time"])

    def clock(self, seconds: float) -> list[str]:
        now = self.start + timedelta(seconds=float(seconds))
        if self.time == "iso":
            return [f"{now:%Y-%m-%d %H:%M:%S}"]
        if self.time == "iso_t":
            return [f"{now:%Y-%m-%dT%H:%M:%S}.{now.microsecond // 100000}Z"]
        if self.time == "hms":
            return [f"{now:%H:%M:%S}"]
        if self.time == "us_ampm":
            return [f"{now:%m/%d/%Y %I:%M:%S %p}"]
        if self.time == "us_ampm_short":
            return [f"{now.month}/{now.day}/{now.year} {now.hour % 12 or 12}:{now:%M:%S} {now:%p}"]
        if self.time == "eu":
            return [f"{now:%d.%m.%Y %H:%M:%S}"]
        if self.time == "slashed":
            return [f"{now:%d/%m/%Y %H:%M:%S}"]
        if self.time == "date_hms":
            return [f"{now:%d.%m.%Y}", f"{now:%H:%M:%S}"]
        if self.time == "us_date_hms":
            return [f"{now:%m/%d/%y}", f"{now:%H:%M:%S}"]
        if self.time == "epoch":
            return [f"{(now - datetime.fromisoformat('1970-01-01')).total_seconds():.0f}"]
        if self.time == "elapsed":
            return [f"{seconds:.0f}"]
        if self.time == "elapsed_fine":
            return [f"{seconds:.1f}".replace(".", self.decimal)]
        raise ValueError(self.time)

    def lines(self, flight: Numbers, step: float = 1.0) -> list[str]:
        """Header and rows, without ends of lines."""
        keys = list(flight)
        columns = []
        for key in keys:
            places = self.decimals.get(key, DECIMALS.get(key, 1 if self.unit(key) == "C" else 0))
            values = self.in_file(key, flight[key])
            columns.append(["" if np.isnan(one) else f"{one:.{places}f}".replace(".", self.decimal) for one in values])
        times = self.times if self.times is not None else np.arange(len(columns[0])) * step
        out = [*self.before, self.delimiter.join([*self.time_names(), *map(self.title, keys)])]
        if self.unit_line:
            out.append(self.delimiter.join([*("" for _ in self.time_names()), *map(self.unit, keys)]))
        out += [
            self.delimiter.join([*self.clock(second), *row])
            for second, row in zip(times, zip(*columns, strict=True), strict=True)
        ]
        return out

    def text(self, lines: list[str]) -> bytes:
        return (self.newline.join(lines) + self.newline).encode(self.encoding)

    def write(self, path: Path, flight: Numbers, step: float = 1.0) -> Path:
        path.write_bytes(self.text(self.lines(flight, step)))
        return path

    def mapping(self, flight: Numbers, *, auto: bool = False) -> dict[str, Any]:
        """The mapping that fits the file."""
        names = self.time_names()
        heads = [key for key in flight if key.startswith("cht")]
        stacks = [key for key in flight if key.startswith("egt")]
        engine: dict[str, Any] = {
            channel: self.title(key)
            for channel, key in (
                ("rpm", "rpm"), ("manifold_pressure", "map"), ("fuel_flow", "flow"), ("oil_temp", "oil_temp"),
                ("oil_press", "oil_press"),
            )
            if key in flight
        }  # fmt: skip
        if heads:
            engine["cht"] = [self.title(key) for key in heads]
        if stacks:
            engine["egt"] = [self.title(key) for key in stacks]
        return {
            "time": names[0] if len(names) == 1 else names,
            "engines": {"1": engine},
            "common": {key: self.title(key) for key in ("oat", "alt", "airspeed") if key in flight},
            "units": {self.title(key): "auto" if auto else self.unit(key) for key in flight},
        }
