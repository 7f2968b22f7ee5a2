"""Reading recordings: processor time against the raw parse, size of the stored form, memory for a very large file.

    nice .venv/bin/python deploy/bench/recording_speed.py [--flights FOLDER] [--megabytes 500] [--report]

- Time: a clean file of 14,400 rows and 40 columns (two engines, four hours, 1 s). Processor time of all threads of the
  process; each figure is the best of nine, after one run that loads what is loaded once. The raw parse is
  `polars.read_csv` of the same file in the same process.
- Stored form: Parquet over CSV, in bytes, over the flights in FOLDER (NAME.csv with NAME.mapping.json, as written by
  `made_flights.py`) and over the file above. Each is read back and compared number by number.
- Memory: a file of `--megabytes` is converted in a process of its own; the system tells its greatest resident size.

With --report the table goes to recording_speed.md beside this file. Ends with 1 when a bar is missed.
"""

import argparse
import json
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

TOP = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(TOP))

from breakin.calc.recording import analyse, convert, read_parquet, read_table  # noqa: E402
from tests.calc.recording.made import File, numbers  # noqa: E402

ROWS = 14_400
LEGS = [("off", 60), ("taxi", 540), ("runup", 60), ("roll", 30), ("climb", 900), ("cruise", 11_400), ("descent", 900),
        ("final", 60), ("taxi", 390), ("off", 60)]  # fmt: skip
TIMES = 9
CHART_RPM, CHART_MAP = (1800.0, 2200.0, 2500.0, 2700.0), (15.0, 20.0, 24.0, 29.0)
SPEC = {
    "cylinders": 6, "rated_hp": 200.0, "rated_rpm": 2700.0, "compression": 8.5, "turbo": False,
    "full_throttle_map_inhg": 28.6, "bsfc_best_power_lb_hp_h": 0.5, "fuel_lb_per_gal": 6.0, "hours_before": 1.0,
    "chart_sea_level": {
        "rpm": list(CHART_RPM), "map_inhg": list(CHART_MAP),
        "hp": [[200.0 * rpm / 2700 * (pressure - 3) / 26 for pressure in CHART_MAP] for rpm in CHART_RPM],
    },
}  # fmt: skip
SCHEDULE = {"phase": "first", "bands": [75, 65], "tol": 4, "low": 50, "minutes": 120, "block_min": 10,
            "block_tol_min": 2, "cht_limit_f": 420, "cht_drop_limit_f_min": 50, "egt_tol_f": 25}  # fmt: skip


def best(what: Callable[[], object]) -> float:
    """Least processor time of all threads of this process [ms]."""
    what()
    taken = []
    for _ in range(TIMES):
        start = time.process_time()
        what()
        taken.append(time.process_time() - start)
    return 1000.0 * min(taken)


def twin_file(path: Path) -> dict[str, Any]:
    """A clean file of two engines with six cylinders each; its mapping."""
    sides = []
    for seed in (1, 2):
        one = numbers(LEGS, seed=seed)
        for extra in (5, 6):
            one |= {f"cht{extra}": one[f"cht{extra - 4}"] + 3, f"egt{extra}": one[f"egt{extra - 4}"] - 9}
        sides.append(one)
    common = ("oat", "alt", "airspeed")
    twin = {
        f"{key}_{side}": values for side, one in enumerate(sides, 1) for key, values in one.items() if key not in common
    }
    twin |= {key: sides[0][key] for key in common}
    rng = np.random.default_rng(3)
    twin |= {f"aux{place}": 14 + rng.normal(0, 0.1, ROWS) for place in (1, 2)}
    names = {key: f"E{key[-1]} {key[:-2]}" for key in twin if key[-2] == "_"}
    decimals = {key: 1 for key in twin if key.startswith(("map", "flow", "aux"))} | {f"rpm_{side}": 0 for side in "12"}
    kind = File(time="hms", names=names, decimals=decimals)
    kind.write(path, twin)
    engines = {
        side: {
            "rpm": f"E{side} rpm", "manifold_pressure": f"E{side} map", "fuel_flow": f"E{side} flow",
            "oil_temp": f"E{side} oil_temp", "oil_press": f"E{side} oil_press",
            "cht": [f"E{side} cht{n}" for n in range(1, 7)], "egt": [f"E{side} egt{n}" for n in range(1, 7)],
        }
        for side in "12"
    }  # fmt: skip
    units = {"rpm": "rpm", "map": "inHg", "flow": "gph", "oil_press": "psi"}
    mapped: dict[str, str] = {}
    for side in "12":
        for key in sides[0]:
            if key not in common:
                mapped[f"E{side} {key}"] = units.get(key, "F")
    mapped |= {kind.title("oat"): "F", kind.title("alt"): "ft", kind.title("airspeed"): "kt"}
    return {"time": "Time", "engines": engines, "common": {key: kind.title(key) for key in common}, "units": mapped}


def stored_share(path: Path, mapping: dict[str, Any], folder: Path) -> float:
    """Bytes of the stored form over those of the file; it is compared with what was read."""
    convert(path, mapping, folder / "kept.parquet")
    table, kept = read_table(path, mapping), read_parquet(folder / "kept.parquet")
    assert np.array_equal(table.t, kept.t)
    assert np.array_equal(table.row, kept.row)
    for name, values in table.columns.items():
        assert np.array_equal(values, kept.columns[name], equal_nan=True), (path.name, name)
    return (folder / "kept.parquet").stat().st_size / path.stat().st_size


def converted_in_one_process(folder: Path) -> None:
    """Convert the very large file; prints seconds and greatest resident size [MB]."""
    mapping = json.loads((folder / "mapping.json").read_text())
    start = time.process_time()
    facts = convert(folder / "large.csv", mapping, folder / "large.parquet")
    size = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps([facts.rows, time.process_time() - start, size]))


def large_file(folder: Path, small: Path, mapping: dict[str, Any], megabytes: int) -> None:
    """Days on end of the same flight, with a date."""
    head, _newline, body = small.read_text().partition("\n")
    rows = [line[8:] for line in body.splitlines()]
    times = [f"{second // 3600:02}:{second // 60 % 60:02}:{second % 60:02}" for second in range(len(rows))]
    day = 0
    with (folder / "large.csv").open("w") as file:
        file.write("Date," + head + "\n")
        while file.tell() < megabytes * 1_000_000:
            date = f"{2020 + day // 336}-{day // 28 % 12 + 1:02}-{day % 28 + 1:02}"
            file.writelines(f"{date},{clock}{row}\n" for clock, row in zip(times, rows, strict=True))
            day += 1
    (folder / "mapping.json").write_text(json.dumps({**mapping, "time": ["Date", "Time"]}))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--flights", type=Path)
    parser.add_argument("--megabytes", type=int, default=500)
    parser.add_argument("--report", action="store_true")
    parser.add_argument("--large", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.large:
        converted_in_one_process(options.large)
        return
    import polars as pl

    rows: list[str] = []
    missed = False

    def add(what: str, measured: str, bar: str = "", met: bool | None = None) -> None:
        nonlocal missed
        missed = missed or met is False
        rows.append(f"| {what} | {measured} | {bar} | {'' if met is None else 'met' if met else 'MISSED'} |")
        print(rows[-1], flush=True)

    with TemporaryDirectory() as name:
        folder = Path(name)
        path = folder / "twin.csv"
        mapping = twin_file(path)
        raw = best(lambda: pl.read_csv(path))
        read = best(lambda: read_table(path, mapping))
        whole = best(lambda: analyse(path, mapping, {"1": SPEC, "2": SPEC}, SCHEDULE))
        kept = folder / "kept.parquet"
        convert(path, mapping, kept)
        back = best(lambda: read_parquet(kept))
        add("raw parse, 14,400 rows and 40 columns", f"{raw:.1f} ms")
        add("reading the table", f"{read:.1f} ms, {read / raw:.2f} times the raw parse", "<= 1.6", read / raw <= 1.6)
        add(
            "reading and analysis",
            f"{whole:.1f} ms, {whole / raw:.2f} times the raw parse",
            "<= 3.5",
            whole / raw <= 3.5,
        )
        add("the table out of the stored form", f"{back:.1f} ms, {back / raw:.2f} times the raw parse")
        share = stored_share(path, mapping, folder)
        add("stored form of that file", f"{share:.1%} of the CSV", "<= 13 %", share <= 0.13)
        if options.flights:
            files = sorted(options.flights.glob("*.csv"))
            shares = [
                stored_share(one, json.loads(one.with_suffix(".mapping.json").read_text()), folder) for one in files
            ]
            over = sum(one > 0.13 for one in shares)
            worst = files[int(np.argmax(shares))].stat().st_size // 1000
            told = f"mean {np.mean(shares):.1%}, worst {max(shares):.1%} (a file of {worst} kB); {over} over 13 %"
            mean = float(np.mean(shares))
            add(f"stored form of {len(files)} flights, every number compared", told, "mean <= 13 %", mean <= 0.13)
        if options.megabytes:
            large_file(folder, path, mapping, options.megabytes)
            command = [sys.executable, __file__, "--large", name]
            done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True)
            count, seconds, size = json.loads(done.stdout)
            told = f"{size:.0f} MB at most; {count:,} rows in {seconds:.0f} s of one core"
            add(f"memory for a file of {options.megabytes} MB", told, "< 400 MB", size < 400)
    if options.report:
        head = [
            "# Reading recordings: speed, size, memory",
            "",
            "Made by `recording_speed.py --report`; definitions stand there. Shared machine, ratios matter.",
            "",
            "| what | measured | bar | |",
            "|---|---|---|---|",
        ]
        Path(__file__).with_suffix(".md").write_text("\n".join([*head, *rows, ""]), encoding="utf-8")
    sys.exit(missed)


if __name__ == "__main__":
    main()
