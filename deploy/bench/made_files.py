"""How a made file looks: the recorder's words for its columns, its marks and units, and the dirt."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

import numpy as np

from reports.demo.recorder import Dialect, Engine
from reports.demo.recorder.dialect import Column

DIRT = ("blanks", "midnight", "header_noise", "header_again", "clockjump", "gaps", "duplicates", "units_line",
        "truncated_last")  # fmt: skip

_WORDS: tuple[dict[str, str], ...] = (
    {"rpm": "RPM", "map": "Man press", "ff": "Fuel flow", "cht": "CHT {}", "egt": "EGT {}", "tit": "TIT",
     "oil_temp": "Oil temp", "oil_press": "Oil press", "oat": "OAT", "alt": "Press alt", "ias": "IAS"},
    {"rpm": "crank rev", "map": "intake abs", "ff": "flow", "cht": "H{}", "egt": "E{}", "tit": "turbine in",
     "oil_temp": "oil deg", "oil_press": "oil pres", "oat": "ambient", "alt": "level", "ias": "speed"},
    {"rpm": "n", "map": "map", "ff": "ff", "cht": "cht{}", "egt": "egt{}", "tit": "tit", "oil_temp": "oilt",
     "oil_press": "oilp", "oat": "oat", "alt": "alt", "ias": "ias"},
    {"rpm": "Motordrehzahl", "map": "Saugrohrdruck", "ff": "Kraftstofffluss", "cht": "Kopf {}", "egt": "Abgas {}",
     "tit": "Turbine", "oil_temp": "Oeltemp", "oil_press": "Oeldruck", "oat": "Aussenluft", "alt": "Druckhoehe",
     "ias": "Fahrt"},
    {"rpm": "regime", "map": "pression adm", "ff": "debit", "cht": "culasse {}", "egt": "gaz {}", "tit": "turbine",
     "oil_temp": "temp huile", "oil_press": "pres huile", "oat": "temp ext", "alt": "altitude", "ias": "vitesse"},
)  # fmt: skip
_TIMES = {"hms": ("Time",), "date_hms": ("Date", "Time"), "iso": ("Timestamp",), "us_ampm": ("Local time",),
          "elapsed": ("seconds",)}  # fmt: skip
_SHORT = {"F": "degF", "C": "degC", "gph": "gal/h"}


def form_of(rng: np.random.Generator, engine: Engine) -> dict[str, Any]:
    """The recorder's habits."""
    comma = bool(rng.random() < 0.25)
    kind = str(rng.choice(list(_TIMES)))
    flow = rng.random()
    return {
        "words": int(rng.integers(0, len(_WORDS))),
        "time_format": kind,
        "time_names": _TIMES[kind],
        "delimiter": ";" if comma or rng.random() < 0.15 else str(rng.choice([",", ",", ",", "\t"])),
        "decimal_comma": comma,
        "encoding": str(rng.choice(["utf-8", "utf-8", "utf-8-sig", "utf-16"])),
        "newline": str(rng.choice(["\n", "\r\n"])),
        "blank": str(rng.choice(["", "---", "NaN"])),
        "open_probe": str(rng.choice(["-40", "999", ""])),
        "metric": {"t": bool(rng.random() < 0.4), "p": bool(rng.random() < 0.3), "f": bool(flow < 0.25),
                   "fk": bool(flow > 0.93), "alt": bool(rng.random() < 0.2), "v": bool(rng.random() < 0.2)},
        "rpm_step": float(rng.choice([1, 1, 10])),
        "alt_step": float(rng.choice([1, 1, 10])),
        "own": int(rng.integers(0, 6)),
        "tit": bool(engine.turbo and rng.random() < 0.7),
    }  # fmt: skip


def build_dialect(
    rng: np.random.Generator, form: dict[str, Any], dirt: Collection[str], missing: Collection[str],
    engines: Sequence[Engine], rows: int, jump: tuple[float, int],
) -> Dialect:  # fmt: skip
    """The file's layout for so many rows."""
    columns = _columns(form, missing, engines, rng)
    own = [Column(f"aux{n}", "", "rpm", 1) for n in range(form["own"])]
    extra = {column.name: 13.8 + rng.normal(0, 0.2, rows) for column in own}
    columns = [*columns, *own]
    top = []
    if "header_noise" in dirt:
        top = ["# log of the flight", f"registration{form['delimiter']}QX-000", "tach 12.3", ""][: rng.integers(1, 5)]
    unit_line: tuple[str, ...] = ()
    if "units_line" in dirt:
        unit_line = tuple("-" for _ in [*form["time_names"], *columns])
        if rng.random() < 0.6:
            unit_line = (*("" for _ in form["time_names"]), *(_SHORT.get(c.unit, c.unit) for c in columns))
    jumps: tuple[tuple[int, int], ...] = ()
    if "clockjump" in dirt:
        jumps = ((int(jump[0] * rows), jump[1]),)
    return Dialect(
        columns=tuple(columns),
        time_names=form["time_names"],
        time_format=form["time_format"],
        delimiter=form["delimiter"],
        decimal_comma=form["decimal_comma"],
        encoding=form["encoding"],
        newline=form["newline"],
        top=tuple(top),
        unit_line=unit_line,
        blank=form["blank"],
        open_probe=form["open_probe"],
        clock_jumps=jumps,
        again=(int(rng.uniform(0.2, 0.8) * rows),) if "header_again" in dirt else (),
        twice=frozenset(rng.choice(rows, size=max(rows // 200, 1), replace=False).tolist())
        if "duplicates" in dirt
        else frozenset(),
        cut="truncated_last" in dirt,
        extra=extra,
    )


def _columns(
    form: dict[str, Any], missing: Collection[str], engines: Sequence[Engine], rng: np.random.Generator
) -> list[Column]:
    words, metric = _WORDS[form["words"]], form["metric"]
    heat = "C" if metric["t"] else "F"
    flow = "L/h" if metric["f"] else "kg/h" if metric["fk"] else "gph"
    columns = []

    def warm(name: str, channel: str) -> Column:
        return Column(name, channel, heat, int(rng.random() < 0.4) if heat == "C" else 0)

    for number, engine in enumerate(engines, start=1):
        before = f"E{number} " if len(engines) == 2 else ""
        columns.append(Column(before + words["rpm"], f"rpm_{number}", "rpm", 0, form["rpm_step"]))
        pressure = ("hPa", 0) if metric["p"] else ("inHg", 1)
        columns.append(Column(before + words["map"], f"map_{number}", *pressure))
        if "fuel_flow" not in missing and f"{number}.fuel_flow" not in missing:
            columns.append(Column(before + words["ff"], f"ff_{number}", flow, 1))
        cylinders = range(1, engine.cylinders + 1)
        columns += [warm(before + words["cht"].format(n), f"cht_{number}_{n}") for n in cylinders]
        if "egt" not in missing:
            columns += [warm(before + words["egt"].format(n), f"egt_{number}_{n}") for n in cylinders]
        if form["tit"]:
            columns.append(warm(before + words["tit"], f"tit_{number}"))
        if "oil" not in missing:
            columns.append(warm(before + words["oil_temp"], f"oil_temp_{number}"))
            columns.append(Column(before + words["oil_press"], f"oil_press_{number}", "psi"))
    if "oat" not in missing:
        columns.append(warm(words["oat"], "oat"))
    if "alt" not in missing:
        columns.append(Column(words["alt"], "alt", "m" if metric["alt"] else "ft", 0, form["alt_step"]))
    if "airspeed" not in missing:
        columns.append(Column(words["ias"], "ias", "km/h" if metric["v"] else "kt"))
    return columns
