"""I-rules of metal: the cut filter, the filter that nobody cut, the laboratory's analysis."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from breakin.calc.inspection import (
    BASELINE_SAMPLES,
    COUNT_WORDS,
    COUNTS,
    LONG_FLAKE_MM,
    LONG_SLIVER_MM,
    PIECES,
    grew,
    risen,
)
from breakin.calc.said import Day, Said, fixed, joined, number, said, sentences
from breakin.picture.picture import Picture
from breakin.record import InspectionFacts
from breakin.rules.base import STAND, STOP, WATCH, Answer, Asked, Hit, answer, oil_evidence, rule
from breakin.rules.inspect_soon import CUT_FILTER, METAL, ask_shop, evidence, hours_at, soon

SOURCE = "common practice of the trade; the maker's current instructions come first"


def opened_filters(picture: Picture) -> tuple[InspectionFacts, ...]:
    """Filters or screens that were looked into, oldest first."""
    looks = (row for row in picture.record.inspections if row.kind == "oil_filter")
    return tuple(row for row in looks if row.results.get("opened") is not False)


def metal_looks(picture: Picture) -> tuple[InspectionFacts, ...]:
    """Looks that say something of metal in the engine."""
    opened = opened_filters(picture)
    return tuple(row for row in picture.record.inspections if row in opened or row.kind == "borescope")


@rule(
    "I2",
    version=1,
    needs=("opened filter",),
    severity="watch; stop for a chunk, a long sliver, too many pieces or a growing amount",
    title=said("Metal in the filter"),
    text="Fuzz and a few flakes under 1 mm are usual with new rings. A chunk, a sliver over 2 mm, more pieces than the "
    "plan's table, or any amount that grows from one filter to the next stops the engine. Flakes and slivers of 1 to "
    "2 mm: look again soon.",
    safety=True,
    judges_log_only=True,
)
def filter_metal(picture: Picture) -> Answer:
    hits, asked = [], []
    for row, severity, why in _graded(picture):
        found = said("Filter at {hours} h: {why}.", hours=fixed(hours_at(picture, row)), why=why)
        numbers: dict[str, Any] = {
            name: row.results[name] for name in ("material", "count", "amount", "longest_mm") if name in row.results
        }
        if severity == STOP:
            title, text = said("Metal in the filter"), sentences(found, STAND)
        else:
            title = said("Metal in the filter: inspect soon")
            text = sentences(found, said("Look again soon: filter and bores."))
            due = said("Inspect soon: metal in the filter")
            asked.append(soon(picture, METAL, row, due, text, metal_looks(picture)))
        hits.append(Hit(str(row.root), severity, text, SOURCE, row.at, numbers, evidence(row, why), title))
    return answer(hits, f"{len(opened_filters(picture))} filters opened, nothing unusual in them.", asked=asked)


def _graded(picture: Picture) -> Iterator[tuple[InspectionFacts, int, str]]:
    """Each filter that shows more than is usual: the look, how grave it is, and why."""
    plan = picture.record.plan
    table = plan.filter_table if plan else {}
    before: InspectionFacts | None = None
    for row in opened_filters(picture):
        seen = row.results
        material, longest = str(seen.get("material", "")), float(seen.get("longest_mm") or 0.0)
        count, most = seen.get("count"), table.get(material)
        growth = grew(before.results, seen) if before is not None else ""
        if material == "chunk":
            yield row, STOP, said("a chunk of metal")
        elif material == "sliver" and longest > LONG_SLIVER_MM:
            why = said("a sliver of {longest} mm, over {line} mm", longest=number(longest), line=number(LONG_SLIVER_MM))
            yield row, STOP, why
        elif count in COUNTS and most in COUNTS and COUNTS.index(str(count)) > COUNTS.index(most):
            why = said(
                "{count} {pieces}, where the plan takes at most {most}",
                count=COUNT_WORDS[str(count)],
                pieces=PIECES[material],
                most=COUNT_WORDS[most],
            )
            yield row, STOP, why
        elif growth:
            yield row, STOP, said("{growth} since the filter before", growth=growth)
        elif material in ("flake", "sliver") and longest >= LONG_FLAKE_MM:
            longest_mm = number(longest)
            if material == "flake":
                yield row, WATCH, said("a flake of {longest} mm", longest=longest_mm)
            else:
                yield row, WATCH, said("a sliver of {longest} mm", longest=longest_mm)
        before = row


@rule(
    "I6",
    version=1,
    needs=("filter",),
    severity="none",
    title=said("Filter cut open"),
    text="Every filter that comes off is cut open, or its screen looked at: metal shows there first. A filter that was "
    "changed and not opened stays an open item until one has been looked into, and keeps the build from review.",
    judges_log_only=True,
)
def filter_cut(picture: Picture) -> Answer:
    opened = opened_filters(picture)
    missed = [one for one in _changes(picture) if not any(row.at == one[0] for row in opened)]
    asked: list[Asked] = []
    for at, root, shown in missed:
        text = said(
            "The filter that came off on {day} was not cut open. Cut it, or the next one, and enter what was in it.",
            day=Day(at.date()),
        )
        title = said("Filter not cut open")
        asked.append(ask_shop(picture, CUT_FILTER, root, at, title, text, (shown,), opened))
    still = [item for item in asked if item.state != "done"]
    if still:
        return Answer("not met", still[-1].text, (), tuple(asked))
    return Answer("met", "Every filter that came off was looked into, or a later one was.", (), tuple(asked))


def _changes(picture: Picture) -> list[tuple[datetime, str, dict[str, str]]]:
    """(when, root, evidence) of each filter that came off: told by an inspection or by an oil change."""
    looks = [row for row in picture.record.inspections if row.kind == "oil_filter"]
    told = [(row.at, str(row.root), evidence(row, "filter not opened")[0]) for row in looks]
    moments = {row.at for row in looks}
    changes = (row.placed.event for row in picture.oil_rows if row.placed.event.filter_changed)
    told += [
        (one.at, str(one.root), oil_evidence(one.root, "filter changed")) for one in changes if one.at not in moments
    ]
    return sorted(told, key=lambda each: each[0])


@rule(
    "I5",
    version=1,
    needs=("oil analysis",),
    severity="watch",
    title=said("Oil analysis"),
    text="Fresh engines give high figures: assembly lubricant, sealant, new rings. The first two samples are the "
    "baseline and say nothing by themselves; from the third on a clear rise above both is watched. Coarse metal counts "
    "from the first. Figures in ppm never stop an engine by themselves.",
    judges_log_only=True,
)
def oil_analysis(picture: Picture) -> Answer:
    samples = [row for row in picture.record.inspections if row.kind == "oil_analysis"]
    baseline = [(row.results.get("ppm") or {}, row.results.get("hours_on_oil")) for row in samples[:BASELINE_SAMPLES]]
    hits, asked = [], []
    for place, row in enumerate(samples, start=1):
        where = said("Oil sample {number} at {hours} h", number=fixed(place, 0), hours=fixed(hours_at(picture, row)))
        if row.results.get("coarse_metal"):
            text = said("{where}: coarse metal. Cut the filter and look into the bores soon.", where=where)
            key = f"{row.root}:coarse"
            hits.append(
                Hit(
                    key, WATCH, text, SOURCE, row.at, {}, evidence(row, "coarse metal"), said("Coarse metal in the oil")
                )
            )
            due = said("Inspect soon: coarse metal in the oil")
            asked.append(soon(picture, METAL, row, due, text, metal_looks(picture)))
        if place <= BASELINE_SAMPLES:
            continue
        up = risen(baseline, row.results.get("ppm") or {}, row.results.get("hours_on_oil"))
        if up:
            told = joined((_risen(metal, base, now) for metal, (base, now) in up.items()), ", ")
            text = said(
                "{where}: {metals}, the most of the baseline. Sample again at the next change; look into the filter.",
                where=where,
                metals=told,
            )
            numbers = {f"{metal}_ppm": now for metal, (_, now) in up.items()}
            hits.append(
                Hit(
                    str(row.root), WATCH, text, SOURCE, row.at, numbers, evidence(row, told), said("Oil analysis: rise")
                )
            )
    if len(samples) <= BASELINE_SAMPLES and not hits:
        return Answer(
            "met", f"{len(samples)} of {BASELINE_SAMPLES} samples of the baseline; nothing is judged by them."
        )
    return answer(hits, f"{len(samples)} samples; nothing rose above the baseline.", asked=asked)


def _risen(metal: str, base: float, now: float) -> Said:
    """The sign of a chemical element is the same in every language."""
    return said("{metal} {now} ppm against {base}", metal=metal.title(), now=number(now), base=fixed(base, 0))
