"""How good the oil estimate is: every figure of its table, replayed after every reading from the third on.

    nice .venv/bin/python deploy/bench/oil_bars.py [--kind base|harder|limits] [--count 200] [--logs FILE.jsonl]

Definitions. Strictly wrong: declared while the truth is not settled. Materially wrong: declared while the ring rate is
more than 0.05 qt/h above the band, or the plateau above the accept limit. Late: from the settling hour to the first
declaration after it, over engines settled for at least 6 h within the log; never declared counts as infinitely late.
Bad readings, unlogged additions and "found" are judged at the end of each log, "false ever" at every reading.
"""

import argparse
import json
import math
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

TOP = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(TOP))

from breakin.calc.oil.estimate import estimate  # noqa: E402
from tests.data.oil_generator import generated  # noqa: E402

MISS_WEIGHT = 20.0
SETTLED_LONG_H = 6.0
GROSS_QT = 0.6
BAND_SHARE, BAND_QT_PER_H = 0.2, 0.05
Estimator = Callable[[dict[str, Any]], dict[str, Any]]


def replayed(record: dict[str, Any], estimator: Estimator) -> tuple[list[dict[str, Any]], list[float]]:
    """One row a reading from the third on: truth beside answer; and the CPU time of each call [s]."""
    log, truth = record["log"], record["truth"]
    entries = log["entries"]
    rows, cpu = [], []
    for number, (place, rate, settled) in enumerate(truth["at_readings"]):
        if number < 2:
            continue
        start = time.thread_time()
        answer = estimator({**log, "entries": entries[: place + 1]})
        cpu.append(time.thread_time() - start)
        rows.append({"place": place, "hours": entries[place]["hours"], "rate": rate, "settled": settled, **answer})
    return rows, cpu


def _share(values: Iterable[bool]) -> float:
    taken = list(values)
    return float(np.mean(taken)) if taken else math.nan


def _median(values: Sequence[float]) -> float:
    return float(np.median(values)) if len(values) else math.nan


def _materially(row: dict[str, Any], truth: dict[str, Any]) -> bool:
    band = max(BAND_SHARE * truth["plateau"], BAND_QT_PER_H)
    return bool(truth["never"] or row["rate"] - truth["plateau"] > band + BAND_QT_PER_H)


def figures(records: Sequence[dict[str, Any]], estimator: Estimator = estimate) -> dict[str, Any]:
    """All figures of the table; ``reliability`` and ``by_regime`` (coverage) beside them."""
    found: list[tuple[dict[str, Any], list[dict[str, Any]]]] = []
    cpu: list[float] = []
    for record in records:
        rows, times = replayed(record, estimator)
        found.append((record, rows))
        cpu += times
    flat = [(record["truth"], row) for record, rows in found for row in rows]
    answered = [(truth, row) for truth, row in flat if row.get("rate_now") is not None]
    return {
        "logs": len(records),
        "replays": len(flat),
        "answers given": len(answered) / len(flat),
        **_rate_figures(answered),
        **_declaration_figures(found, answered),
        **_level_figures(answered),
        **_forecast_figures(flat),
        **_oddities(found),
        "cpu mean ms": 1e3 * float(np.mean(cpu)),
        "cpu p95 ms": 1e3 * float(np.quantile(cpu, 0.95)),
        "by_regime": _by_regime(answered),
        "reliability": _reliability(answered),
    }


def _inside(row: dict[str, Any]) -> bool:
    return bool(row["rate_lo"] <= row["rate"] <= row["rate_hi"])


def _rate_figures(answered: list[tuple[dict[str, Any], dict[str, Any]]]) -> dict[str, float]:
    scores = [
        row["rate_hi"]
        - row["rate_lo"]
        + MISS_WEIGHT * (max(row["rate_lo"] - row["rate"], 0) + max(row["rate"] - row["rate_hi"], 0))
        for _, row in answered
    ]
    return {
        "rate coverage": _share(_inside(row) for _, row in answered),
        "interval score": float(np.mean(scores)),
        "Brier": float(np.mean([(row["p_stabilized"] - row["settled"]) ** 2 for _, row in answered])),
        "base rate": _share(row["settled"] for _, row in answered),
    }


def _declaration_figures(
    found: list[tuple[dict[str, Any], list[dict[str, Any]]]], answered: list[tuple[dict[str, Any], dict[str, Any]]]
) -> dict[str, float]:
    declared = [(truth, row) for truth, row in answered if row["stabilized"]]
    late, glazed, false_not, found_not = [], [], [], []
    for record, rows in found:
        truth = record["truth"]
        if truth["never"]:
            glazed.append(any(row["stabilized"] for row in rows))
            found_not.append(bool(rows) and any(row["not_settling"] for row in rows))
            continue
        false_not.append(any(row["not_settling"] for row in rows))
        start, end = truth["settle_h"], truth["lost_h"] or math.inf
        if start is not None and min(end, truth["end_h"]) - start >= SETTLED_LONG_H:
            # A declaration already standing at the settling hour is not late.
            when = [row["hours"] for row in rows if row["stabilized"] and start <= row["hours"] < end]
            late.append(when[0] - start if when else math.inf)
    return {
        "declared": len(declared),
        "strictly wrong": _share(not row["settled"] for _, row in declared),
        "materially wrong": _share(_materially(row, truth) and not row["settled"] for truth, row in declared),
        "wrong, over accept rate": _share(row["rate"] > truth["limit"] for truth, row in declared),
        "glazed declared": _share(glazed),
        "hours late": _median(late),
        "never declared": _share(math.isinf(value) for value in late),
        "not settling false": _share(false_not),
        "not settling found": _share(found_not),
    }


def _level_figures(answered: list[tuple[dict[str, Any], dict[str, Any]]]) -> dict[str, float]:
    with_level = [(truth, row) for truth, row in answered if truth["S"] is not None and row["level_settle"] is not None]
    return {
        "level error": _median([abs(row["level_settle"] - truth["S"]) for truth, row in with_level]),
        "level coverage": _share(row["level_lo"] <= truth["S"] <= row["level_hi"] for truth, row in with_level),
    }


def _forecast_figures(flat: list[tuple[dict[str, Any], dict[str, Any]]]) -> dict[str, float]:
    before = [(truth, row) for truth, row in flat if truth["settle_h"] is not None and row["hours"] < truth["settle_h"]]
    given = [(truth, row) for truth, row in before if row.get("settle_h") is not None]
    return {
        "forecast given": len(given) / max(len(before), 1),
        "forecast coverage": _share(row["settle_lo"] <= truth["settle_h"] <= row["settle_hi"] for truth, row in given),
        "forecast error": _median([abs(row["settle_h"] - truth["settle_h"]) for truth, row in given]),
    }


def _oddities(found: list[tuple[dict[str, Any], list[dict[str, Any]]]]) -> dict[str, float]:
    bad, missed, off = [0, 0, 0], [0, 0, 0], [0, 0, 0, 0]
    rising_found, rising_false = [], []
    high: list[tuple[bool, bool]] = []
    for record, rows in found:
        if not rows:
            continue
        truth, entries, last = record["truth"], record["log"]["entries"], rows[-1]
        true_bad = {one["entry"] for one in truth["outliers"]}
        said_bad = set(last["outliers"])
        bad = _count(bad, true_bad, said_bad)
        gross = _gross(record, last["place"])
        listed = [one for one in truth["outliers"] if one["entry"] in gross]
        off = [
            off[0] + len(listed),
            off[1] + len(said_bad),
            off[2] + sum(one["entry"] in said_bad for one in listed),
            off[3] + len(said_bad & gross),
        ]
        missed = _count(missed, _first_readings(truth, entries), {round(h, 2) for h in last["missed_additions"]})
        if truth["regime"] == "drift" and truth["lost_h"] is not None and rows[-1]["hours"] >= truth["lost_h"]:
            rising_found.append(last["rising"])
        elif truth["onset_h"] is None:
            rising_false.append(any(row["rising"] for row in rows))
        if truth["S"] is not None:
            high += [(_high(truth, row, entries), row["topping_high"]) for row in rows if _additions(row, entries) >= 2]
    return {
        "bad readings recall": bad[2] / max(bad[0], 1),
        "bad readings precision": bad[2] / max(bad[1], 1),
        "recall of 0.6 qt or more": off[2] / max(off[0], 1),
        "marked and 0.6 qt off": off[3] / max(off[1], 1),
        "unlogged recall": missed[2] / max(missed[0], 1),
        "unlogged precision": missed[2] / max(missed[1], 1),
        "rising found": _share(rising_found),
        "rising false": _share(rising_false),
        "topping high found": _share(said for true, said in high if true),
        "topping high false": _share(said for true, said in high if not true),
    }


def _gross(record: dict[str, Any], last: int) -> set[int]:
    """Readings that are truly off by 0.6 qt or more, whether or not the generator calls them bad."""
    entries = record["log"]["entries"]
    per_unit = {"qt": 1.0, "L": 1.0566882}
    return {
        place
        for place, level in record["truth"]["levels"]
        if place <= last and abs(entries[place]["level"] * per_unit[entries[place]["unit"]] - level) >= GROSS_QT
    }


def _count(counts: list[int], true: set[Any], said: set[Any]) -> list[int]:
    return [counts[0] + len(true), counts[1] + len(said), counts[2] + len(true & said)]


def _first_readings(truth: dict[str, Any], entries: list[dict[str, Any]]) -> set[float]:
    """Hours of the first reading that can show each addition nobody logged."""
    shown = set()
    for one in truth["missed"]:
        place = one.get("after_entry", 0)
        for entry in entries[place + 1 :]:
            if entry["kind"] == "change":
                break
            if entry["kind"] == "reading":
                shown.add(round(entry["hours"], 2))
                break
    return shown


def _additions(row: dict[str, Any], entries: list[dict[str, Any]]) -> int:
    return sum(1 for entry in entries[: row["place"] + 1] if entry["kind"] == "add")


def _high(truth: dict[str, Any], row: dict[str, Any], entries: list[dict[str, Any]]) -> bool:
    logged = [one for one in truth["adds"] if not one[3]][: _additions(row, entries)]
    return sum(1 for one in logged[-3:] if one[1] > truth["S"] + 0.5) >= 2


def _by_regime(answered: list[tuple[dict[str, Any], dict[str, Any]]]) -> dict[str, dict[str, float]]:
    names = sorted({truth["regime"] for truth, _ in answered})
    result = {}
    for name in names:
        part = [(truth, row) for truth, row in answered if truth["regime"] == name]
        declared = [row for _, row in part if row["stabilized"]]
        result[name] = {
            "n": len(part),
            "coverage": _share(_inside(row) for _, row in part),
            "Brier": float(np.mean([(row["p_stabilized"] - row["settled"]) ** 2 for _, row in part])),
            "declared": len(declared),
            "wrong": sum(not row["settled"] for row in declared),
        }
    return result


def _reliability(answered: list[tuple[dict[str, Any], dict[str, Any]]]) -> list[dict[str, float]]:
    result = []
    for low in np.arange(0, 1, 0.1):
        part = [row for _, row in answered if low <= row["p_stabilized"] < low + 0.1 + 1e-9 * (low > 0.85)]
        if part:
            result.append(
                {
                    "n": len(part),
                    "said": float(np.mean([row["p_stabilized"] for row in part])),
                    "was": _share(row["settled"] for row in part),
                }
            )
    return result


def read_logs(path: Path) -> list[dict[str, Any]]:
    """Logs with truth from a file, one JSON object a line."""
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def main() -> None:
    """Print the table of one kind."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kind", default="base", choices=["base", "harder", "limits"])
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--every", type=int, default=1, help="take every n-th log of a file")
    parser.add_argument("--logs", type=Path)
    parser.add_argument("--save", type=Path)
    options = parser.parse_args()
    if options.logs:
        records = read_logs(options.logs)[:: options.every][: options.count]
    else:
        records = generated(options.count, options.kind, options.seed)
    result = figures(records)
    if options.save:
        options.save.write_text(json.dumps(result, indent=1), encoding="utf-8")
    for name, value in result.items():
        if isinstance(value, float | int):
            print(f"{name:24s} {value:.4g}")
    for name, row in result["by_regime"].items():
        print(f"  {name:10s}", "  ".join(f"{key} {value:.3g}" for key, value in row.items()))
    for row in result["reliability"]:
        print("  said {said:.2f} was {was:.2f} n {n}".format(**row))


if __name__ == "__main__":
    main()
