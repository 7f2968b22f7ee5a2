"""Ten thousand damaged recordings: each must be read, or refused with a reason and how to mend it.

    nice .venv/bin/python deploy/bench/recording_fuzz.py [--count 10000] [--first 0] [--report]

Case N is made from its number alone (`tests/calc/recording/damage.py`): one to four kinds of damage to one of five
made files - bytes flipped, cut out, inserted, fields and columns replaced, lines shuffled or doubled, other encodings,
archives, quotation marks, NUL bytes - and every tenth time to the mapping of columns too. A case is looked at, its
units doubted, and read with the mapping and with its own proposal. Refused means that all three ways were refused.
With --report the table goes to recording_fuzz.md beside this file. Ends with 1 when a case neither reads nor refuses.
"""

import argparse
import sys
import time
import traceback
import warnings
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

TOP = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(TOP))

from breakin.calc.recording import Unreadable, read_table  # noqa: E402
from tests.calc.recording.damage import case, originals  # noqa: E402

SLOW_S = 5.0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--report", action="store_true")
    options = parser.parse_args()
    warnings.simplefilter("error")  # a warning in the log of a worker is a fault too
    files = originals()
    outcomes: Counter[str] = Counter()
    reasons: Counter[str] = Counter()
    faults: list[str] = []
    slowest = 0.0
    start = time.process_time()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "recording.csv"
        for number in range(options.first, options.first + options.count):
            began = time.process_time()
            try:
                outcome = case(number, files, path)
            except Exception:  # the table counts them, the end of the run shows them
                outcome = "fault"
                faults.append(f"case {number}\n{traceback.format_exc()}")
            slowest = max(slowest, time.process_time() - began)
            outcomes[outcome] += 1
            if outcome == "refused":
                reasons[_reason(path, files[0][1])] += 1
    seconds = time.process_time() - start
    text = _table(options.count, outcomes, reasons, seconds, slowest)
    print(text)
    print("\n".join(faults[:5]), file=sys.stderr)
    if options.report:
        Path(__file__).with_suffix(".md").write_text(text, encoding="utf-8")
    sys.exit(bool(faults) or slowest > SLOW_S)


def _reason(path: Path, mapping: dict[str, object]) -> str:
    """What stands in the refusal, without its numbers."""
    try:
        read_table(path, mapping)
    except Unreadable as refusal:
        return "".join("N" if one.isdigit() else one for one in refusal.what.split("(")[0]).replace("NN", "N")[:70]
    return "the mapping does not fit the file"


def _table(count: int, outcomes: Counter[str], reasons: Counter[str], seconds: float, slowest: float) -> str:
    def met(good: bool) -> str:
        return "met" if good else "MISSED"

    grouped: Counter[str] = Counter()
    for reason, times in reasons.items():
        while "NN" in reason:
            reason = reason.replace("NN", "N")
        grouped[reason.replace("N,N", "N").strip()] += times
    rows = [
        "# Damaged recordings",
        "",
        "Made by `recording_fuzz.py --report`; what a case is stands at the top of that file.",
        "",
        "| what | measured | bar | |",
        "|---|---|---|---|",
        f"| cases | {count:,} |  |  |",
        f"| read | {outcomes['read']:,} |  |  |",
        f"| refused with a reason and how to mend it | {outcomes['refused']:,} |  |  |",
        f"| neither | {outcomes['fault']:,} | 0 | {met(not outcomes['fault'])} |",
        f"| processor time, all; slowest case | {seconds:.0f} s; {slowest:.2f} s | slowest <= {SLOW_S:.0f} s "
        f"| {met(slowest <= SLOW_S)} |",
        "",
        "| reasons of refusal | cases |",
        "|---|---|",
        *(f"| {reason} | {times:,} |" for reason, times in grouped.most_common(25)),
        "",
    ]
    return "\n".join(rows)


if __name__ == "__main__":
    main()
