"""Recorded flights with their truth, made by calculation: an examination for the analysis of recordings.

    made_flights.py --count 150 --seed 1 --folder /tmp/flights [--more]

Each flight is NAME.csv with NAME.mapping.json, NAME.spec.json, NAME.schedule.json and NAME.truth.json. `--more` adds
flights of the kinds that a plain examination leaves out: several flights in one file, touch-and-go, a ground run, a
take-off broken off, two recorders of one flight, a wrong year.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np

_HERE = Path(__file__).resolve().parent
for _folder in (_HERE.parents[1], _HERE):
    if str(_folder) not in sys.path:
        sys.path.insert(0, str(_folder))

from made_cases import Case, case_of, more_cases  # noqa: E402
from made_truth import truth_of  # noqa: E402

from reports.demo.recorder import readings, simulate, write_file  # noqa: E402
from reports.demo.recorder.dialect import mapping_of  # noqa: E402


def make(count: int, seed: int, folder: Path, *, more: bool = False) -> list[str]:
    """Write `count` flights into the folder; returns their names. The same seed makes the same flights."""
    folder.mkdir(parents=True, exist_ok=True)
    names = []
    for number in range(count):
        case = case_of(np.random.default_rng([seed, number]))
        names += _write(folder, f"flight-{number:03d}", case)
    if more:
        for name, case in more_cases(np.random.default_rng([seed, 10**6])):
            names += _write(folder, name, case)
    return names


def _write(folder: Path, name: str, case: Case) -> list[str]:
    flown = simulate(case.script, case.engines, seed=case.seed, splits=case.splits, rough=case.rough)
    seconds, shown = readings(flown, case.instruments, seed=case.seed + 1)
    keep = case.kept(seconds)
    seconds, shown = seconds[keep], {key: values[keep] for key, values in shown.items()}
    rows = len(seconds)
    rng = np.random.default_rng(case.seed + 2)
    dialect = case.dialect(rng, rows)
    blanks = rng.random((rows, len(dialect.columns))) < case.blank_share if case.blank_share else None
    write_file(folder / f"{name}.csv", dialect, case.start, seconds, shown, blanks=blanks, seed=case.seed)
    row_t = seconds.tolist()
    if dialect.twice:
        row_t = [t for row, t in enumerate(row_t) for _ in range(2 if row in dialect.twice else 1)]
    mapping = mapping_of(dialect, auto_units=case.auto_units)
    truth = truth_of(flown, case) | {"row_t": row_t}
    for kind, what in (("mapping", mapping), ("spec", case.spec), ("schedule", case.schedule), ("truth", truth)):
        (folder / f"{name}.{kind}.json").write_text(json.dumps(what))
    if case.second_recorder is None:
        return [name]
    other = replace(
        case, instruments=case.second_recorder, second_recorder=None, start=case.start + timedelta(seconds=41)
    )
    return [name, *_write(folder, f"{name}-other-recorder", other)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=150)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, required=True)
    parser.add_argument("--more", action="store_true")
    given = parser.parse_args()
    began = time.monotonic()
    names = make(given.count, given.seed, given.folder, more=given.more)
    print(f"{len(names)} flights in {time.monotonic() - began:.0f} s into {given.folder}")


if __name__ == "__main__":
    main()
