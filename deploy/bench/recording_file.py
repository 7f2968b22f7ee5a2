"""A recording of 14,400 rows and 40 columns: four hours of a twin with six cylinders a side, once a second."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).resolve().parent
for _folder in (HERE.parents[1], HERE):
    if str(_folder) not in sys.path:
        sys.path.insert(0, str(_folder))

from made_cases import Case, case_of  # noqa: E402

from reports.demo.recorder import readings, simulate, write_file  # noqa: E402
from reports.demo.recorder.dialect import mapping_of  # noqa: E402

ROWS = 14_400
COLUMNS = 40
PLAIN = {"words": 0, "time_format": "hms", "time_names": ("Time",), "delimiter": ",", "decimal_comma": False,
         "encoding": "utf-8", "newline": "\n", "own": 0, "tit": True}  # fmt: skip


def large_file(folder: Path, *, seed: int = 7) -> tuple[Path, dict[str, Any], dict[str, Any], dict[str, Any]]:
    """Write the file; returns its path, mapping, spec and schedule."""
    case = _case(seed)
    flown = simulate(case.script, case.engines, seed=case.seed, splits=case.splits, rough=case.rough)
    _seconds, shown = readings(flown, replace(case.instruments, step_s=1, faults=()), seed=case.seed + 1)
    # Cruise is flown over again until the rows are enough.
    middle = flown.seconds // 2
    again = middle + np.arange(ROWS - flown.seconds) % 600
    rows = np.concatenate([np.arange(middle), again, np.arange(middle, flown.seconds)])
    shown = {name: values[rows] for name, values in shown.items()}
    dialect = case.dialect(np.random.default_rng(seed), ROWS)
    path = folder / "four-hours.csv"
    write_file(path, dialect, case.start, np.arange(ROWS), shown)
    columns = len(path.read_text().split("\n", 1)[0].split(","))
    if columns != COLUMNS:
        raise RuntimeError(f"the file came out with {columns} columns")
    return path, mapping_of(dialect, auto_units=False), case.spec, case.schedule


def _case(seed: int) -> Case:
    for number in range(1000):
        rng = np.random.default_rng([seed, number])
        case = case_of(rng, twin=True, bad=frozenset(), dirt=frozenset(), stage="later")
        if case.model == "tc6" and sum(leg.seconds for leg in case.script.legs) < ROWS:
            start = case.start.replace(hour=8, minute=0, second=0)
            return replace(case, missing=frozenset(), form=case.form | PLAIN, start=start, blank_share=0.0, gaps=())
    raise RuntimeError("no fitting flight was drawn")
