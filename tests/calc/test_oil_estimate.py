"""The estimate's shape, its refusals and its plain sense; how well it does is measured in the bench."""

import json
import math
from pathlib import Path

import pytest

from breakin.calc.errors import BadLog
from breakin.calc.oil import estimate
from breakin.calc.oil.estimate import NUMBERS

LOGS = Path(__file__).resolve().parents[1] / "data" / "oil_logs_forty.jsonl"
QT_IN_L, QT_IN_IMPERIAL = 0.946352946, 1 / 1.2009499255


def log(entries: list[dict], **more: object) -> dict:
    form = {"engine_id": "e", "capacity": 8, "unit": "qt", "meter": "tach", "cylinder": "steel", "dipstick_step": 0.25}
    return {**form, "limit_qt_h": 0.15, "entries": entries, **more}


def quiet(rate: float = 0.05, hours: int = 14, top: float = 6.0, every: float = 1.0) -> list[dict]:
    entries: list[dict] = [{"kind": "change", "hours": 0.0, "fill": top}]
    steps = int(hours / every)
    for step in range(1, steps + 1):
        entries.append({"kind": "reading", "hours": step * every, "level": top - rate * step * every, "when": "before"})
    return entries


@pytest.mark.parametrize("count", [0, 1, 2])
def test_fewer_than_three_readings_is_an_answer_without_numbers(count):
    result = estimate(log(quiet()[: count + 1]))
    assert f"{count} of 3" in result["refusal"]
    assert all(result[name] is None for name in NUMBERS)
    assert result["stabilized"] is False


def test_three_readings_give_every_number_and_it_is_finite():
    result = estimate(log(quiet()[:4]))
    assert result["refusal"] is None
    assert all(math.isfinite(result[name]) for name in NUMBERS)
    assert result["rate_lo"] <= result["rate_now"] <= result["rate_hi"]
    assert not result["stabilized"]


def test_readings_minutes_apart_are_no_running_time():
    entries = [{"kind": "reading", "hours": 5.0, "level": level} for level in (6.0, 6.25, 6.0)]
    assert "No running time" in estimate(log(entries))["refusal"]


def test_a_steady_low_loss_is_declared_and_a_steady_high_one_is_not():
    low, high = estimate(log(quiet(0.04, 20))), estimate(log(quiet(0.30, 20, top=6.4)))
    assert low["stabilized"]
    assert low["rate_lo"] <= 0.04 <= low["rate_hi"]
    assert not high["stabilized"]
    assert high["rate_lo"] <= 0.30 <= high["rate_hi"]
    assert high["p_not_settling"] > 0.8 > low["p_not_settling"]


def test_a_falling_loss_is_not_yet_stabilized():
    level, entries = 6.4, [{"kind": "change", "hours": 0.0, "fill": 6.4}]
    for step in range(1, 7):
        level -= 0.07 + 0.45 * math.exp(-step / 8)
        entries.append({"kind": "reading", "hours": float(step), "level": level})
    result = estimate(log(entries, cylinder="nitrided"))
    assert not result["stabilized"]
    assert result["settle_hi"] > 6


def test_same_log_same_answer():
    assert estimate(log(quiet())) == estimate(log(quiet()))


@pytest.mark.parametrize(("unit", "per_quart"), [("L", QT_IN_L), ("imp qt", QT_IN_IMPERIAL)])
def test_litres_and_imperial_quarts_give_the_same_quarts(unit, per_quart):
    def in_unit(entry: dict) -> dict:
        return {key: value * per_quart if key in ("level", "fill", "amount") else value for key, value in entry.items()}

    other = log(
        [in_unit(entry) for entry in quiet()], unit=unit, capacity=8 * per_quart, dipstick_step=0.25 * per_quart
    )
    expected, found = estimate(log(quiet())), estimate(other)
    for name in NUMBERS:
        assert found[name] == pytest.approx(expected[name], abs=1e-6)


def test_an_entrys_own_unit_overrules_that_of_the_log():
    mixed = [dict(entry) for entry in quiet()]
    mixed[5] = {**mixed[5], "level": mixed[5]["level"] * QT_IN_L, "unit": "L"}
    assert estimate(log(mixed))["rate_now"] == pytest.approx(estimate(log(quiet()))["rate_now"], abs=1e-9)


def test_one_reading_a_quart_low_is_named_and_does_not_bend_the_rate():
    spoiled = [dict(entry) for entry in quiet()]
    spoiled[7]["level"] -= 1.0
    result = estimate(log(spoiled))
    assert result["outliers"] == [7]
    assert result["rate_now"] == pytest.approx(estimate(log(quiet()))["rate_now"], abs=0.02)


def test_an_addition_that_nobody_logged_is_named_by_its_hour():
    stepped = [dict(entry) for entry in quiet()]
    for entry in stepped[8:]:
        entry["level"] += 1.0
    result = estimate(log(stepped))
    assert result["missed_additions"] == [8.0]
    assert result["rate_hi"] > 0.04


def test_topping_to_full_each_time_is_seen():
    entries: list[dict] = [{"kind": "change", "hours": 0.0, "fill": 8}]
    for step in range(1, 5):
        entries += [
            {"kind": "reading", "hours": 2.0 * step, "level": 7.0},
            {"kind": "add", "hours": 2.0 * step, "amount": 1.0},
        ]
    assert estimate(log(entries))["topping_high"]
    assert not estimate(log(quiet()))["topping_high"]


def test_loss_while_a_leak_was_open_is_left_out():
    leaking = [dict(entry) for entry in quiet(0.05)]
    for entry in leaking[5:9]:
        entry["level"] -= 0.5 * (entry["hours"] - 4)
    for entry in leaking[9:]:
        entry["level"] -= 2.0
    open_leak = estimate(log(leaking, spans=[{"kind": "leak", "from": 4.0, "to": 8.0}]))
    assert open_leak["rate_now"] < estimate(log(leaking))["rate_now"]
    assert open_leak["rate_now"] == pytest.approx(0.05, abs=0.03)
    assert "leak" in open_leak["notes"][0]


@pytest.mark.parametrize(
    ("changed", "tells"),
    [
        ({"entries": [{"kind": "top", "hours": 1}]}, "oil entry 1"),
        ({"entries": [{"kind": "reading", "hours": 1, "level": "full"}]}, "oil entry 1, level"),
        ({"entries": [{"kind": "reading", "hours": 1, "level": float("nan")}]}, "not a number"),
        (
            {"entries": [{"kind": "reading", "hours": 2, "level": 6}, {"kind": "reading", "hours": 1, "level": 6}]},
            "entry 2",
        ),
        ({"entries": [{"kind": "add", "hours": 1, "amount": -1}]}, "below 0"),
        ({"capacity": None}, "capacity"),
        ({"unit": "pint"}, "Use one of"),
    ],
)
def test_a_log_that_cannot_be_read_is_refused_by_entry(changed, tells):
    with pytest.raises(BadLog, match=tells):
        estimate({**log(quiet()), **changed})


def test_forty_invented_logs_are_answered_at_every_reading_and_mostly_hold_the_rate():
    held, answered, asked = 0, 0, 0
    for line in LOGS.read_text(encoding="utf-8").splitlines():
        record = json.loads(line)
        form = record["log"]
        places = [place for place, entry in enumerate(form["entries"]) if entry["kind"] == "reading"][2::4]
        for place in places:
            asked += 1
            result = estimate({**form, "entries": form["entries"][: place + 1]})
            if result["refusal"] is None:
                answered += 1
                assert all(math.isfinite(result[name]) for name in NUMBERS)
                truth = {at[0]: at[1] for at in record.get("truth", {}).get("at_readings", [])}.get(place)
                held += truth is None or result["rate_lo"] <= truth <= result["rate_hi"]
    assert answered >= 0.95 * asked
    assert held >= 0.8 * answered
