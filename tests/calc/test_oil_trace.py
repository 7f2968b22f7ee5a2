"""The estimate over the hours agrees with the estimate itself, costs the plain call nothing, and stays small."""

from __future__ import annotations

import json
from typing import Any

import pytest

from breakin.calc.oil import estimate


def log(levels: list[float], **more: Any) -> dict[str, Any]:
    """A fill of 8 qt, a reading after each flight of 1.2 h, and a quart added after the fourth."""
    entries: list[dict[str, Any]] = [{"kind": "change", "hours": 10.0, "fill": 7.0}]
    for number, quarts in enumerate(levels, 1):
        hours = round(10.0 + 1.2 * number, 2)
        entries.append({"kind": "reading", "hours": hours, "level": quarts, "when": "after", "u": 0.15})
        if number == 4:
            entries.append({"kind": "add", "hours": hours, "amount": 1.0})
    return {"capacity": 8.0, "unit": "qt", "cylinder": "steel", "limit_qt_h": 0.15, "entries": entries, **more}


LOG = log([6.25, 5.75, 5.5, 5.25, 6.25, 6.0, 6.0, 5.75, 5.75, 5.75])


def test_the_plain_answer_is_the_same_with_and_without_its_course() -> None:
    plain, traced = estimate(LOG), estimate(LOG, trace=True)
    assert "trace" not in plain
    assert {name: value for name, value in traced.items() if name != "trace"} == plain


def test_the_course_ends_where_the_estimate_stands() -> None:
    found = estimate(LOG, trace=True)
    course = found["trace"]
    assert course["settled"]["p"][-1] == pytest.approx(found["p_stabilized"], abs=1e-3)
    now = course["rate"]["hours"].index(course["now_h"])
    for name, told in (("lo", "rate_lo"), ("mid", "rate_now"), ("hi", "rate_hi")):
        assert course["rate"][name][now] == pytest.approx(found[told], abs=0.015)


def test_the_probability_after_a_reading_is_what_the_shorter_log_says() -> None:
    course = estimate(LOG, trace=True)["trace"]["settled"]
    for kept in (5, 7):
        shorter = estimate(log([6.25, 5.75, 5.5, 5.25, 6.25, 6.0, 6.0, 5.75, 5.75, 5.75][:kept]))
        assert course["p"][kept - 3] == pytest.approx(shorter["p_stabilized"], abs=0.06)


def test_bands_are_ordered_and_hours_are_those_of_the_log() -> None:
    course = estimate(LOG, trace=True)["trace"]
    assert course["level"]["hours"][0] == 10.0
    assert course["settled"]["hours"] == [round(10 + 1.2 * number, 2) for number in range(3, 11)]
    for name in ("level", "rate"):
        rows = zip(course[name]["lo"], course[name]["mid"], course[name]["hi"], strict=True)
        assert all(low <= middle <= high for low, middle, high in rows)
        assert course[name]["hours"] == sorted(course[name]["hours"])


def test_an_addition_stands_twice_at_its_hour_and_lifts_the_level_by_what_was_poured() -> None:
    level = estimate(LOG, trace=True)["trace"]["level"]
    places = [place for place, hour in enumerate(level["hours"]) if hour == 14.8]
    assert level["mid"][places[-1]] - level["mid"][places[-2]] == pytest.approx(1.0, abs=1e-6)


def test_a_bad_reading_is_told_with_the_level_that_was_expected_instead() -> None:
    wrong = log([6.25, 5.75, 5.5, 5.25, 6.25, 6.0, 4.25, 5.75, 5.75, 5.75])
    found = estimate(wrong, trace=True)
    assert found["outliers"] == [8]
    readings = found["trace"]["readings"]
    assert readings["expected"][readings["index"].index(8)] == pytest.approx(5.9, abs=0.25)


def test_litres_give_the_course_in_quarts() -> None:
    litre = 1.056688
    in_litres = {
        **LOG,
        "unit": "L",
        "capacity": LOG["capacity"] / litre,
        "entries": [
            {name: value / litre if name in ("level", "fill", "amount", "u") else value for name, value in row.items()}
            for row in LOG["entries"]
        ],
    }
    ours, theirs = (estimate(one, trace=True)["trace"]["level"]["mid"] for one in (LOG, in_litres))
    assert theirs == pytest.approx(ours, abs=0.02)


def test_the_course_of_a_long_log_stays_small() -> None:
    levels = [round((6.5 - 0.25 * (number % 4)) * 4) / 4 for number in range(60)]
    assert len(json.dumps(estimate(log(levels), trace=True)["trace"])) < 9000
