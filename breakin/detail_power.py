"""Credit and heat of a judgement as JSON: blocks, stages, the verdict, what recordings say, take-off and heads.

Values are in canonical units, rounded to what they are worth; a number that is not known is null.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from breakin.calc.plan import Credit, Minutes, StageCredit
from breakin.picture.blocks import BlockPicture
from breakin.picture.heat import HeatRow, watch_line_degf
from breakin.picture.picture import Picture
from breakin.picture.recorded import engine_of
from breakin.review import LABELS
from breakin.rules.power import alternation_held

CRUISE = "cruise"
HOUR_1_NEEDED = {"75": 55.0}
HOUR_2_NEEDED = {"75": 25.0, "65": 25.0}


def short(value: float | None, places: int = 1) -> float | None:
    return None if value is None else round(value, places)


def credit_detail(picture: Picture, ahead: dict[str, Any] | None) -> dict[str, Any]:
    """The "credit" part: blocks, stages and the verdict of the first two hours."""
    power, credit = picture.power, picture.power.credit
    owed = (ahead or {}).get("owed") or {}
    every: dict[str, Any] = {
        "blocks": [_block(block, counted) for block, counted in _in_order(power.blocks, power.replaced)],
        "recordings": _recordings(picture),
        "owed": {"75": owed.get("75", 0.0), "65": owed.get("65", 0.0)},
    }
    if credit is None:
        return every | {
            "stages": [],
            "first_two": {"verdict": "not known", "reasons": [power.why_not], "flights": [], "final": False},
            "light_min": None,
            "light_share": None,
            "ground_first_two_min": None,
            "share_in_band": None,
        }
    stages = {"hour_1": credit.hour_1, "hour_2": credit.hour_2, "later": credit.later}
    return every | {
        "stages": [_stage(name, stage, credit) for name, stage in stages.items()],
        "first_two": {
            "verdict": credit.word,
            "central": credit.first_two,
            "reasons": list(credit.reasons),
            "flights": list(credit.flights),
            "final": credit.final,
            "undecided": credit.undecided,
        },
        "light_min": round(sum(stage.light_min for stage in stages.values()), 1),
        "light_share": credit.light_share,
        "ground_first_two_min": credit.ground_session_first_two_min,
        "share_in_band": credit.later_share,
        "minutes_upper": round(credit.minutes_upper, 1),
    }


def _in_order(counted: Iterable[BlockPicture], replaced: Iterable[BlockPicture]) -> list[tuple[BlockPicture, bool]]:
    """Settings that count and those that a recording replaced, in order of flying."""
    both = [*((block, True) for block in _folded(counted)), *((block, False) for block in replaced)]
    return sorted(both, key=lambda row: (row[0].placed.run.at, not row[1], row[0].order))


def _folded(blocks: Iterable[BlockPicture]) -> list[BlockPicture]:
    """Recorded moments on the way between settings put together: a climb, a descent, an approach is one row."""
    rows: list[BlockPicture] = []
    for block in blocks:
        if rows and _one_way(rows[-1], block):
            rows[-1] = _together(rows[-1], block)
        else:
            rows.append(block)
    return rows


def _one_way(before: BlockPicture, block: BlockPicture) -> bool:
    if before.placed is not block.placed:
        return False
    for one in (before, block):
        if one.source != "recording" or one.setting or one.steady or one.pct is None:
            return False
    return before.phase == block.phase or CRUISE in (before.phase, block.phase)


def _together(before: BlockPicture, block: BlockPicture) -> BlockPicture:
    minutes = before.duration_min + block.duration_min
    shares = before.duration_min / minutes, block.duration_min / minutes
    return replace(
        before,
        duration_min=minutes,
        pct=shares[0] * (before.pct or 0.0) + shares[1] * (block.pct or 0.0),
        sigma=max(before.sigma or 0.0, block.sigma or 0.0),
        label=None,
        chart_pct=None,
        fuel_pct=None,
        phase=block.phase if before.phase == CRUISE else before.phase,
    )


def _block(block: BlockPicture, counted: bool) -> dict[str, Any]:
    told = block.placed.run.recorded
    return {
        "flight_root": str(block.placed.run.root),
        "order": block.order,
        "from_h": short(block.from_h, 4),
        "duration_min": short(block.duration_min, 2),
        "pct": short(block.pct, 2),
        "sigma": short(block.sigma, 2),
        "band": block.band or None,
        "label": block.label or (block.phase if block.source == "recording" and block.phase else None),
        "source": block.source,
        "method": block.method,
        "why_unknown": block.why_unknown,
        "counted": counted,
        "steady": block.steady,
        "too_high": block.too_high,
        "phase": block.phase,
        "chart_pct": short(block.chart_pct),
        "fuel_pct": short(block.fuel_pct),
        "recording": told.recording_id if told is not None and block.source == "recording" else None,
    }


def _recordings(picture: Picture) -> list[dict[str, Any]]:
    """Each recorded flight: how power was found, and how far its two ways stand apart."""
    rows = []
    for placed in picture.clock.runs:
        told, engine = placed.run.recorded, engine_of(placed.run)
        if told is None or engine is None:
            continue
        rows.append(
            {
                "root": str(placed.run.root),
                "recording": told.recording_id,
                "confirmed": told.confirmed,
                "hours": short(placed.start_h, 3),
                "method": engine.method,
                "chart_minus_fuel_pct": short(engine.chart_minus_fuel_pct),
                "suspect": engine.suspect,
                "left_out": [{"sensor": one.sensor, "why": one.why} for one in engine.bad_sensors],
                "minutes": {
                    name: {"central": short(span.central), "least": short(span.least), "most": short(span.most)}
                    for name, span in engine.minutes.items()
                },
            }
        )
    return rows


def _minutes(minutes: Minutes) -> dict[str, float]:
    return {name: round(getattr(minutes, name), 1) for name in ("central", "least", "most", "stated", "measured")}


def _stage(name: str, stage: StageCredit, credit: Credit) -> dict[str, Any]:
    needed = {"hour_1": HOUR_1_NEEDED, "hour_2": HOUR_2_NEEDED}.get(name, {})
    met = "met" if stage.met else "not met" if stage.ended else "not known"
    held = None
    if name == "later":
        met = "not known"
        held = alternation_held(credit) if stage.airborne_min else None
    m75, m65 = stage.target_75.central, stage.target_65.central
    said = f"{m75:.0f} min at 75 %, {m65:.0f} min at 65 %, {stage.changes} changes, {stage.light_min:.0f} min light"
    if stage.too_high_min >= 0.5:
        said += f", {stage.too_high_min:.0f} min too high for credit"
    return {
        "stage": "alternating" if name == "later" else name,
        "label": LABELS["alternating" if name == "later" else name],
        "needed": needed,
        "minutes": {"75": _minutes(stage.target_75), "65": _minutes(stage.target_65)},
        "changes": stage.changes,
        "alternation_held": held,
        "airborne_min": round(stage.airborne_min, 1),
        "unknown_min": round(stage.unknown_min, 1),
        "light_min": round(stage.light_min, 1),
        "too_high_min": round(stage.too_high_min, 1),
        "met": met,
        "ended": stage.ended,
        "sentence": f"{said}.",
    }


def heat_detail(picture: Picture) -> dict[str, Any]:
    """The "heat" part: each flight's take-off and heads, and the trend of the heads since the first hour."""
    return {"flights": [_flight(picture, row) for row in picture.heat], "seating": _seating(picture)}


def _flight(picture: Picture, row: HeatRow) -> dict[str, Any]:
    kind, run = picture.record.type, row.placed.run
    engine, fuel = engine_of(run), row.fuel
    peaks = list(row.climb_peak_degf)
    return {
        "root": str(run.root),
        "at": run.at.isoformat(),
        "hours": row.placed.end_h,
        "cht_max_degf": row.hottest.value,
        "cht_typed_degf": row.hottest.typed,
        "cht_recorded_degf": row.hottest.recorded,
        "cht_cylinder": engine.cht_max_cylinder if engine and row.hottest.recorded is not None else None,
        "cht_mean_degf": run.cht_cruise_mean_degf,
        "climb_peak_degf": [short(peak) for peak in peaks],
        "watch_degf": watch_line_degf(picture.record),
        "limit_degf": kind.cht_limit_degf,
        "ff_gph": fuel.raw,
        "ff_typed_gph": fuel.told.typed,
        "ff_recorded_gph": fuel.told.recorded,
        "ff_corrected_gph": fuel.compared if fuel.corrected else None,
        "ff_low": kind.takeoff_ff_low_gph,
        "ff_high": kind.takeoff_ff_high_gph,
        "ff_word": fuel.word,
        "ff_how": fuel.how,
        "falling": row.falling,
        "recording": run.recorded.recording_id if run.recorded else None,
    }


def _seating(picture: Picture) -> dict[str, Any]:
    seen = picture.seating
    return {
        "sign": seen.sign,
        "why_not": seen.why_not,
        "change_degf": short(seen.change_degf),
        "sigma_degf": short(seen.sigma_degf),
        "reference_pct": short(seen.reference_pct),
        "cylinders": list(seen.cylinders),
        "rows": [
            {
                "root": row.key,
                "hours": short(row.hours, 3),
                "pct": short(row.pct),
                "mean_degf": short(row.mean_degf),
                "change_degf": short(row.change_degf),
                "sigma_degf": short(row.sigma_degf),
            }
            for row in seen.rows
        ],
    }
