"""Measure the oil estimate on all kinds of logs; write ``oil_bars.md`` and ``oil_reliability.svg`` beside this file.

nice .venv/bin/python deploy/bench/oil_report.py --count 400 [--logs FILE.jsonl]
"""

import argparse
import sys
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from deploy.bench.oil_bars import figures, read_logs
from tests.data.oil_generator import generated

BARS: dict[str, tuple[str, str]] = {
    "rate coverage": ("0.88-0.95", ">= 0.87"),
    "interval score": ("<= 0.28", "<= 0.34"),
    "Brier": ("<= 0.110", "<= 0.130"),
    "strictly wrong": ("<= 0.09", "<= 0.14"),
    "wrong, over accept rate": ("<= 0.015", "<= 0.03"),
    "glazed declared": ("<= 0.01", "<= 0.03"),
    "hours late": ("<= 6.5", "<= 7"),
    "never declared": ("<= 0.15", "<= 0.16"),
    "not settling false": ("<= 0.01", "<= 0.02"),
    "not settling found": (">= 0.90", ">= 0.80"),
    "level error": ("<= 0.22", "<= 0.32"),
    "level coverage": ("0.86-0.94", ""),
    "forecast coverage": (">= 0.88", ">= 0.85"),
    "forecast error": ("<= 4", "<= 5"),
    "forecast given": (">= 0.90", ""),
    "bad readings recall": (">= 0.80", ">= 0.68"),
    "bad readings precision": (">= 0.80", ">= 0.78"),
    "unlogged recall": (">= 0.65", ">= 0.60"),
    "unlogged precision": (">= 0.70", ">= 0.62"),
    "rising found": (">= 0.80", ""),
    "rising false": ("<= 0.01", ""),
    "topping high found": (">= 0.78", ""),
    "topping high false": ("<= 0.12", ""),
    "answers given": (">= 0.99", ""),
    "cpu mean ms": ("<= 10", ""),
    "cpu p95 ms": ("<= 25", ""),
}
GROUP_HEAD = "| group | replays | coverage | Brier | declared | wrong |\n|---|---|---|---|---|---|\n"
HEAD = """# Oil estimate: measured

Replayed after every reading from the third on, over invented logs with truth; nothing below was measured on a real
engine. Definitions stand at the top of `oil_bars.py`. Made by `oil_report.py`; CPU times are of a shared
machine.

"""


def table(by_name: dict[str, dict[str, Any]]) -> str:
    """The figures side by side as a table, with the bars of the base and of the harder kind."""
    names = list(by_name)
    lines = [f"| figure | {' | '.join(names)} | bar, base | bar, harder |", "|---" * (len(names) + 3) + "|"]
    first = next(iter(by_name.values()))
    for figure, value in first.items():
        if not isinstance(value, float | int):
            continue
        cells = " | ".join(f"{by_name[name][figure]:.4g}" for name in names)
        bars = " | ".join(BARS.get(figure, ("", "")))
        lines.append(f"| {figure} | {cells} | {bars} |")
    return "\n".join(lines) + "\n"


def diagram(by_name: dict[str, dict[str, Any]]) -> str:
    """Reliability: how often it was so against how likely it was said to be, as a drawing. One line style a kind."""
    size, left = 360, 50
    styles = ["", "6 3", "2 3", "8 3 2 3"]

    def at(said: float, was: float) -> tuple[float, float]:
        return left + said * size, 20 + (1 - was) * size

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {left + size + 20} {size + 110}" role="img" '
        'font-family="sans-serif" font-size="12"><title>Said and true: probability of having stabilized</title>',
        f'<rect x="{left}" y="20" width="{size}" height="{size}" fill="none" stroke="#222"/>',
        f'<line x1="{left}" y1="{20 + size}" x2="{left + size}" y2="20" stroke="#999"/>',
    ]
    for tick in range(0, 11, 2):
        x, y = at(tick / 10, tick / 10)
        parts.append(f'<text x="{x}" y="{size + 36}" text-anchor="middle">{tick / 10:g}</text>')
        parts.append(f'<text x="{left - 8}" y="{y + 4}" text-anchor="end">{tick / 10:g}</text>')
    for number, (name, result) in enumerate(by_name.items()):
        points = " ".join("{:.1f},{:.1f}".format(*at(row["said"], row["was"])) for row in result["reliability"])
        dash = f'stroke-dasharray="{styles[number % 4]}"'
        parts.append(f'<polyline points="{points}" fill="none" stroke="#1d4f7a" stroke-width="1.5" {dash}/>')
        y = size + 76
        x = left + 95 * number
        parts.append(f'<line x1="{x}" y1="{y - 4}" x2="{x + 28}" y2="{y - 4}" stroke="#1d4f7a" {dash}/>')
        parts.append(f'<text x="{x + 33}" y="{y}">{name}</text>')
    parts.append(f'<text x="{left + size / 2}" y="{size + 54}" text-anchor="middle">probability that was said</text>')
    parts.append(
        f'<text x="14" y="{20 + size / 2}" transform="rotate(-90 14 {20 + size / 2})" text-anchor="middle">'
        "share that was stabilized</text></svg>\n"
    )
    return "\n".join(parts)


def write_report(count: int, seed: int, logs: Path | None) -> None:
    """Measure all kinds, and write ``oil_bars.md`` and ``oil_reliability.svg`` beside this file."""
    by_name = {kind: figures(generated(count, kind, seed)) for kind in ("base", "harder", "limits")}
    if logs:
        by_name["samples"] = figures(read_logs(logs))
    here = Path(__file__).resolve().parent
    picture = "\n![Said against true](oil_reliability.svg)\n\n"
    groups = ""
    for name, result in by_name.items():
        groups += f"\nBy group, {name}:\n\n{GROUP_HEAD}"
        for regime, row in result["by_regime"].items():
            groups += "| {} | {n} | {coverage:.3f} | {Brier:.3f} | {declared} | {wrong} |\n".format(regime, **row)
    (here / "oil_bars.md").write_text(HEAD + table(by_name) + picture + groups.lstrip("\n"), encoding="utf-8")
    (here / "oil_reliability.svg").write_text(diagram(by_name), encoding="utf-8")
    print(table(by_name))


def main() -> None:
    """Read the options, measure, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--seed", type=int, default=77)
    parser.add_argument("--logs", type=Path, help="logs with truth in a file, measured beside")
    options = parser.parse_args()
    write_report(options.count, options.seed, options.logs)


if __name__ == "__main__":
    main()
