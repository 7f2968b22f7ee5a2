"""The part of a judgement that pages and the API read as JSON: oil, credit, heat, clock, rules, review, next stage.

Values are in canonical units; a number that is not known is null. Keys are fixed: pages read them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from breakin.calc.oil import Window
from breakin.detail_power import credit_detail, heat_detail
from breakin.picture.accessories import clocks_of, total_time
from breakin.picture.oil import OilPicture
from breakin.picture.oil_doubts import bad_readings, left_out, paper_against_estimate, unlogged_additions
from breakin.picture.oil_rows import OilRow
from breakin.picture.picture import Picture
from breakin.review import Review
from breakin.rules import RULES, Answer
from breakin.rules.criteria import Criterion
from breakin.rules.oil import settling
from breakin.rules.oil_trend import forecast_range


def detail_of(
    picture: Picture, said: Mapping[str, Answer], review: Review, ahead: dict[str, Any] | None
) -> dict[str, Any]:
    """All of it."""
    contact = picture.record.contact
    return {
        "oil": _oil(picture),
        "credit": credit_detail(picture, ahead),
        "heat": heat_detail(picture),
        "clock": _clock(picture),
        "rules": [
            {"rule": name, "title": RULES[name].title, "answer": one.word, "text": one.text}
            for name, one in said.items()
        ],
        "review": {
            "met": list(review.met),
            "criteria": [{"key": row.key, "what": row.what, "met": row.met} for row in review.criteria],
            "lacking": [_lacking(row) for row in review.lacking],
            "waived": [
                {
                    **_lacking(row.criterion),
                    "reason": row.waiver.reason,
                    "by": row.waiver.by,
                    "at": row.waiver.at.isoformat(),
                }
                for row in review.waived
            ],
            "proposal": _proposal(picture),
        },
        "next": ahead,
        "accessories": _accessories(picture),
        "contact": {"name": contact.name, "phone": contact.phone} if contact else None,
        "cell": [
            {"on": run.run_on.isoformat(), "minutes": run.minutes, "oil_used_qt": run.oil_used_qt}
            for run in picture.record.cell_runs
        ],
    }


def _accessories(picture: Picture) -> dict[str, Any]:
    """Total time of the engine [h], and the clock of each accessory by the root of what was last done to it."""
    return {
        "total_time_h": total_time(picture.record, picture.clock),
        "clocks": {
            str(each.last.root): {
                "due_total_h": each.due_total_h,
                "due_h": each.due_h,
                "ran_h": each.ran_h,
                "left_h": each.left_h,
                "due_on": each.due_on.isoformat() if each.due_on else None,
            }
            for each in clocks_of(picture.record, picture.clock)
        },
    }


def _lacking(row: Criterion) -> dict[str, Any]:
    return {"key": row.key, "what": row.what, "why": row.why, "mend": row.mend, "waivable": row.waivable}


def _proposal(picture: Picture) -> dict[str, Any] | None:
    proposal = picture.record.proposal
    return None if proposal is None else {"by": proposal.by, "at": proposal.at.isoformat()}


def oil_word(picture: Picture) -> str:
    """The trend of the oil loss in a word or two."""
    oil = picture.oil
    if picture.record.type.log_only:
        return "log only"
    if oil.estimate is None or len(oil.readings) < 4 or oil.only_over_fill:
        return "not enough readings"
    if oil.estimate["rising"]:
        return "rising"
    if oil.estimate["stabilized"]:
        return "flat"
    if oil.estimate["not_settling"]:
        return "flat but high"
    return "falling"


def oil_sentence(picture: Picture) -> str:
    """The oil loss in a full sentence with its doubt."""
    oil = picture.oil
    if oil.estimate is None or oil.rate is None:
        return oil.refusal
    low, high = oil.estimate["rate_lo"], oil.estimate["rate_hi"]
    last = oil.last_reading
    at = f" at {last.placed.hours:.1f} h" if last else ""
    said = (
        f"Loss {oil.rate:.2f} qt/h{at}, between {low:.2f} and {high:.2f} with 90 %, from {len(oil.readings)} readings"
    )
    held = [window for window in oil.windows if window.over_fill_qt > 0]
    if held:
        said += f"; over-fill loss left out in {len(held)} {'window' if len(held) == 1 else 'windows'}"
    accept = picture.record.plan.accept_qt_h if picture.record.plan else None
    return f"{said}; accepted up to {accept:.2f} qt/h." if accept is not None else f"{said}."


def _oil(picture: Picture) -> dict[str, Any]:
    oil, plan, state = picture.oil, picture.record.plan, settling(picture)
    found = oil.estimate or {}
    last, advice = oil.last_reading, oil.advice
    bad = {one.row.placed.event.root: one.reason for one in bad_readings(oil)}
    return {
        "word": oil_word(picture),
        "sentence": oil_sentence(picture),
        "level_qt": oil.level_now,
        "level_at_h": last.placed.hours if last else None,
        "rate_qt_h": found.get("rate_now"),
        "rate_lo_qt_h": found.get("rate_lo"),
        "rate_hi_qt_h": found.get("rate_hi"),
        "u_qt_h": oil.u_rate,
        "p_stabilized": found.get("p_stabilized"),
        "stabilized": found.get("stabilized"),
        "settle_level_qt": found.get("level_settle", oil.settle_qt),
        "settle_h": [found.get("settle_lo"), found.get("settle_h"), found.get("settle_hi")],
        "not_settling": found.get("not_settling"),
        "topping_high": found.get("topping_high"),
        "settle_level": [found.get("level_lo"), found.get("level_settle"), found.get("level_hi")],
        "p_not_settling": found.get("p_not_settling"),
        "p_rising": found.get("p_rising"),
        "prior": oil.prior,
        "provisional": state.provisional,
        "vetoes": list(state.vetoes),
        "lines": _lines(oil),
        "advice": {"code": advice.code, "sentence": advice.sentence} if advice else None,
        "accept_qt_h": plan.accept_qt_h if plan else None,
        "watch_qt_h": plan.watch_qt_h if plan else None,
        "alarm_qt_h": plan.alarm_qt_h if plan else None,
        "ceiling_qt_h": oil.limits.ceiling if oil.limits else None,
        "ceiling_basis": oil.limits.basis if oil.limits else "",
        "paper": {
            "verdict": state.agrees,
            "reasons": list(oil.paper.reasons) if oil.paper else [],
            "window": _window(oil.paper.window) if oil.paper and oil.paper.window else None,
            "why": paper_against_estimate(picture, state.agrees),
        },
        "windows": [_window(window) for window in oil.windows],
        "left_out": left_out(oil),
        "entries": [_entry(row, bad.get(row.placed.event.root, "")) for row in oil.rows],
        "unnoted": [str(row.placed.event.root) for row in unlogged_additions(oil)],
        "forecast_h": forecast_range(picture),
        "before": _before(picture),
        "trace": oil.trace,
        "over_fill": [[window.h1, window.h2] for window in oil.windows if window.over_fill_qt > 0],
        "leak": [list(span) for span in oil.leak_spans],
        "leak_open": oil.leak_open,
    }


def _before(picture: Picture) -> dict[str, Any] | None:
    before = picture.rate_before
    if before is None:
        return None
    return {"rate_qt_h": _short(before.rate), "u_qt_h": _short(before.u_rate), "hours": _short(before.hours)}


def _short(value: float | None) -> float | None:
    """To four places: more are noise, and the judgement is stored for every build."""
    return None if value is None else round(value, 4)


def _lines(oil: OilPicture) -> dict[str, Any] | None:
    if oil.lines is None:
        return None
    return {
        "full": oil.lines.full,
        "hold": oil.lines.hold,
        "add": oil.lines.add,
        "no_go": oil.lines.no_go,
        "margin": oil.lines.margin,
        "planned_h": oil.planned_h,
        "notes": list(oil.lines.notes),
    }


def _window(window: Window) -> dict[str, Any]:
    return {
        "from_h": _short(window.h1),
        "to_h": _short(window.h2),
        "level_from": window.level1,
        "level_to": window.level2,
        "added_qt": _short(window.added),
        "rate_qt_h": _short(window.rate),
        "u_qt_h": _short(window.u_rate),
        "assessable": window.assessable,
        "why_not": window.why_not,
        "over_fill_qt": _short(window.over_fill_qt),
    }


def _entry(row: OilRow, bad: str) -> dict[str, Any]:
    event = row.placed.event
    return {
        "root": str(event.root),
        "kind": event.kind,
        "hours": row.placed.hours,
        "estimated": row.placed.estimated,
        "level_qt": row.level_qt,
        "amount_qt": event.amount_qt,
        "filled_qt": event.filled_qt,
        "drained_qt": event.drained_qt,
        "u_qt": row.u_qt,
        "when": event.when,
        "protocol": row.protocol,
        "minutes_since_shutdown": event.minutes_since_shutdown,
        "belly_oil": event.belly_oil,
        "anchor": row.anchor,
        "why_not": row.why_not,
        "bad": bad,
        "leak_open": row.leak_open,
        "at": event.at.isoformat(),
        "oil_kind": event.oil_kind,
        "grade": event.grade,
    }


def _clock(picture: Picture) -> dict[str, Any]:
    clock = picture.clock
    return {
        "hours": round(clock.hours, 3),
        "flights": len(clock.flights),
        "estimated_share": round(clock.estimated_share, 4),
        "cell_min": clock.cell_min,
        "ground_min": clock.ground_min,
        "unlogged": [{"from_h": span.from_h, "to_h": span.to_h, "hours": span.hours} for span in clock.unlogged],
        "basis": picture.record.installation.basis_clock if picture.record.installation else None,
    }
