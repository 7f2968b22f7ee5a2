"""What must hold of the estimate on any log: equal answers for equal logs, sane numbers, and honest scores."""

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakin.calc.errors import BadLog
from breakin.calc.oil import estimate, estimate_many, particles, posterior
from breakin.calc.oil.estimate import NUMBERS
from breakin.calc.oil.prior import partial_prior
from tests.data.oil_generator import generated

QT_IN_L, QT_IN_IMPERIAL = 0.946352946, 1 / 1.2009499255
# From the definition of the estimate; written out again so that a slip in the code is seen.
SOUND = ("p_stabilized", "p_not_settling", "p_rising")
HOURS = ("settle_h", "settle_lo", "settle_hi")


def form(entries: list[dict], **more: Any) -> dict:
    usual = {"engine_id": "e", "capacity": 8, "unit": "qt", "meter": "tach", "cylinder": "nitrided"}
    return {**usual, "dipstick_step": 0.25, "limit_qt_h": 0.25, "entries": entries, **more}


def story(
    hours: int = 14, plateau: float = 0.08, above: float = 0.4, decay: float = 3.0, top: float = 6.0
) -> list[dict]:
    """Read every hour before flight, topped up by a quart below 5.5, exactly as the curve says but for the division."""
    level, entries = top, [{"kind": "change", "hours": 0.0, "fill": top}]
    for hour in range(1, hours + 1):
        level -= plateau + above * decay * (math.exp(-(hour - 1) / decay) - math.exp(-hour / decay))
        shown = round(level * 4) / 4
        entries.append({"kind": "reading", "hours": float(hour), "level": shown, "when": "before"})
        if shown < 4.5:
            entries.append({"kind": "add", "hours": float(hour), "amount": 1.0})
            level += 1.0
    return entries


def same(found: dict, expected: dict, hours: float = 0.0) -> None:
    for name in NUMBERS:
        shift = hours if name in HOURS else 0.0
        assert found[name] == pytest.approx(expected[name] + shift, abs=1e-6), name
    for name in ("stabilized", "not_settling", "rising", "topping_high"):
        assert found[name] == expected[name]


@pytest.mark.parametrize(("unit", "per_quart"), [("L", QT_IN_L), ("imp qt", QT_IN_IMPERIAL)])
def test_another_unit_gives_the_same_answer_with_the_spread_a_reader_told(unit, per_quart):
    entries = [{**entry, "u": 0.2} if entry["kind"] == "reading" else entry for entry in story()]

    def in_unit(entry: dict) -> dict:
        volumes = ("level", "fill", "amount", "u")
        return {key: value * per_quart if key in volumes else value for key, value in entry.items()}

    other = form([in_unit(one) for one in entries], unit=unit, capacity=8 * per_quart, dipstick_step=0.25 * per_quart)
    same(estimate(other), estimate(form(entries)))


def test_hours_counted_from_another_start_only_move_the_forecast():
    entries = story()
    later = [{**entry, "hours": entry["hours"] + 1240.0} for entry in entries]
    same(estimate(form(later)), estimate(form(entries)), 1240.0)


def test_two_readings_of_one_hour_may_change_places():
    entries = story(10)
    pair = [{"kind": "reading", "hours": 10.0, "level": level, "when": "before"} for level in (4.75, 5.0)]
    one, other = estimate(form(entries + pair)), estimate(form(entries + pair[::-1]))
    for name in NUMBERS:
        assert other[name] == pytest.approx(one[name], abs=0.02 if name not in HOURS else 0.2), name


def test_equal_hours_keep_the_order_given():
    reading = {"kind": "reading", "hours": 6.0, "level": 5.0}
    add = {"kind": "add", "hours": 6.0, "amount": 1.0}
    more = [{"kind": "reading", "hours": hour, "level": 5.75} for hour in (6.5, 7.0)]
    after = estimate(form([*story(5), reading, add, *more]))
    before = estimate(form([*story(5), add, reading, *more]))
    assert before["rate_now"] != pytest.approx(after["rate_now"], abs=0.01)


def test_a_reading_a_quart_and_a_half_off_hardly_moves_the_rate_and_is_named():
    entries = story(14)
    place = next(i for i, entry in enumerate(entries) if entry["hours"] == 9.0 and entry["kind"] == "reading")
    spoiled = [dict(entry) for entry in entries]
    spoiled[place] |= {"level": spoiled[place]["level"] - 1.5, "when": "after"}
    clean, found = estimate(form(entries)), estimate(form(spoiled))
    assert found["outliers"] == [place]
    assert found["rate_now"] == pytest.approx(clean["rate_now"], abs=0.03)


def test_an_engine_far_over_its_limit_is_not_settling_and_never_declared():
    entries = story(24, plateau=0.55, above=0.2)
    for place in range(4, len(entries) + 1):
        assert not estimate(form(entries[:place]))["stabilized"]
    assert estimate(form(entries))["not_settling"]


def test_the_same_loss_is_settled_under_a_wide_limit_and_not_under_a_narrow_one():
    entries = story(24, plateau=0.2, above=0.3, decay=2.0)
    wide, narrow = (estimate(form(entries, limit_qt_h=limit)) for limit in (0.4, 0.12))
    assert wide["p_stabilized"] > 0.85 > 0.1 > narrow["p_stabilized"]
    assert narrow["p_not_settling"] > 0.9


def test_an_engine_that_drifts_back_up_is_said_to_rise_and_is_no_longer_declared():
    entries, level = story(12), 5.0
    for hour in range(13, 31):
        level -= 0.08 + 0.04 * (hour - 12)
        entries.append({"kind": "reading", "hours": float(hour), "level": round(level * 4) / 4, "when": "before"})
        if level < 4.0:
            entries.append({"kind": "add", "hours": float(hour), "amount": 2.0})
            level += 2.0
    declared = estimate(form([entry for entry in entries if entry["hours"] <= 12]))
    risen = estimate(form(entries))
    assert declared["stabilized"]
    assert risen["rising"]
    assert not risen["stabilized"]


def test_loss_above_the_settling_level_is_put_down_to_the_breather():
    """Topped to full each time, a quart and a quarter lost in two hours: the rings' part is well below the total."""
    entries: list[dict] = [{"kind": "change", "hours": 0.0, "fill": 8.0}]
    for hour in range(2, 22, 2):
        entries += [
            {"kind": "reading", "hours": float(hour), "level": 7.0, "when": "before"},
            {"kind": "add", "hours": float(hour), "amount": 1.0},
        ]
    found = estimate(form(entries))
    assert found["topping_high"]
    assert found["rate_lo"] < 0.25
    assert found["rate_now"] < 0.45


def test_a_switch_of_meters_compares_nothing_over_it_and_says_so():
    entries = story(12)
    switched = [{**entry, "hours": entry["hours"] - 7.0, "meter": "hobbs"} for entry in entries if entry["hours"] > 7]
    found = estimate(form([entry for entry in entries if entry["hours"] <= 7] + switched))
    whole = estimate(form(entries))
    assert any("meter" in note for note in found["notes"])
    assert found["rate_now"] == pytest.approx(whole["rate_now"], abs=0.06)
    assert found["rate_hi"] - found["rate_lo"] > whole["rate_hi"] - whole["rate_lo"]


def test_filter_and_cooler_filling_on_the_first_run_is_not_taken_for_the_rings_loss():
    """Eight tenths of a quart are missing after the first run of each of two fills (common practice, no source)."""
    entries: list[dict] = []
    for start in (0.0, 10.0):
        entries.append({"kind": "change", "hours": start, "fill": 6.5})
        for hour in range(1, 10):
            level = 6.5 - 0.8 - 0.08 * hour
            entries.append({"kind": "reading", "hours": start + hour, "level": round(level * 4) / 4, "when": "before"})
    found = estimate(form(entries, cylinder="steel"))
    assert found["rate_lo"] <= 0.08 <= found["rate_hi"]
    assert found["rate_hi"] < 0.2


def test_another_kind_of_oil_and_a_copied_reading_are_noted():
    entries = [{**entry, "oil": "mineral" if entry["hours"] < 6 else "AD"} for entry in story(10)]
    assert any("kind of oil" in note for note in estimate(form(entries))["notes"])
    flat = [{"kind": "reading", "hours": float(hour), "level": 6.0} for hour in range(5)]
    assert any("equal" in note for note in estimate(form(flat))["notes"])


def test_a_level_above_the_stick_is_left_out_named_and_counts_for_nothing():
    entries = story(10)
    with_slip = [*entries[:6], {"kind": "reading", "hours": entries[5]["hours"], "level": 55.0}, *entries[6:]]
    found = estimate(form(with_slip))
    assert found["outliers"] == [6]
    assert any("above the stick" in note for note in found["notes"])
    assert found["rate_now"] == pytest.approx(estimate(form(entries))["rate_now"], abs=1e-9)


@pytest.mark.parametrize(
    ("entry", "tells"),
    [
        ({"kind": "add", "hours": 20.0, "amount": 9.0}, "more than the sump holds"),
        ({"kind": "change", "hours": 20.0, "fill": 11.0}, "more than the sump holds"),
        ({"kind": "reading", "hours": 20.0, "level": -0.5}, "below 0"),
        ({"kind": "reading", "hours": 1.0, "level": 5.0}, "comes after"),
        ({"kind": "reading", "hours": float("inf"), "level": 5.0}, "not a number"),
        ({"kind": "reading", "hours": 20.0, "level": 5.0, "unit": "cup"}, "Use one of"),
        ("5.5", "not an entry"),
    ],
)
def test_an_impossible_entry_is_refused_with_what_to_do(entry, tells):
    with pytest.raises(BadLog, match=tells):
        estimate(form([*story(10), entry]))


def test_a_partial_job_is_judged_by_the_loss_before_it():
    entries = story(12, plateau=0.2, above=0.04)
    whole = estimate(form(entries, limit_qt_h=0.3))
    partial = estimate(form(entries, limit_qt_h=0.3), partial_prior(0.2, 1 / 6))
    assert partial["p_stabilized"] > whole["p_stabilized"]
    assert "before" in partial["prior"]


def test_many_logs_at_once_are_answered_as_one_by_one_and_a_bad_one_stops_none():
    logs = [form(story(hours)) for hours in (2, 8, 14)]
    found = estimate_many([logs[0], {**logs[1], "capacity": None}, *logs[1:]])
    assert found[0] == estimate(logs[0])
    assert "capacity" in found[1]["refusal"]
    assert found[2:] == [estimate(log) for log in logs[1:]]


def level_or_amount() -> st.SearchStrategy[float]:
    return st.floats(0, 10).map(lambda value: round(value, 2))


@st.composite
def any_log(draw: st.DrawFn) -> dict:
    hours, entries = 0.0, []
    for _ in range(draw(st.integers(0, 14))):
        hours += draw(st.sampled_from([0.0, 0.0, 0.1, 0.8, 1.4, 3.0, 40.0]))
        kind = draw(st.sampled_from(["reading", "reading", "reading", "add", "change"]))
        name = {"reading": "level", "add": "amount", "change": "fill"}[kind]
        entry: dict = {"kind": kind, "hours": hours, name: draw(level_or_amount()) * (0.3 if kind == "add" else 1.0)}
        if kind == "reading":
            entry["when"] = draw(st.sampled_from(["before", "after", None]))
            entry["u"] = draw(st.sampled_from([None, 0.15, 0.6]))
        entries.append(entry)
    start = draw(st.floats(0, 20))
    spans = draw(st.sampled_from([[], [{"kind": "leak", "from": start, "to": start + 3.0}]]))
    cylinder = draw(st.sampled_from(["steel", "nitrided", "chrome", None, "unheard of"]))
    limit = draw(st.sampled_from([0.12, 0.25, 0.4]))
    return form(entries, cylinder=cylinder, limit_qt_h=limit, spans=spans)


@settings(max_examples=120, derandomize=True, deadline=None)
@given(any_log())
def test_any_log_gets_sane_numbers_or_a_refusal(log):
    found = estimate(log)
    if found["refusal"]:
        assert all(found[name] is None for name in NUMBERS)
        return
    assert all(math.isfinite(found[name]) for name in NUMBERS)
    assert all(0.0 <= found[name] <= 1.0 for name in SOUND)
    assert found["p_stabilized"] + found["p_not_settling"] <= 1.0 + 1e-9
    for low, middle, high in (
        ("rate_lo", "rate_now", "rate_hi"),
        ("settle_lo", "settle_h", "settle_hi"),
        ("level_lo", "level_settle", "level_hi"),
    ):
        assert found[low] <= found[middle] <= found[high]
    assert found["rate_lo"] >= 0.0
    assert not found["stabilized"] or found["p_stabilized"] >= 0.85
    assert all(log["entries"][place]["kind"] == "reading" for place in found["outliers"])


@pytest.mark.slow
def test_on_invented_logs_the_interval_holds_and_the_probability_is_honest():
    """Margins are wide: the full figures are measured by the bench. A sliding line reaches 55 % and 0.2 here."""
    held, square, asked, declared, wrong = 0, 0.0, 0, 0, 0
    for record in generated(40, "base", seed=5):
        entries = record["log"]["entries"]
        for place, rate, settled in record["truth"]["at_readings"][4::4]:
            found = estimate({**record["log"], "entries": entries[: place + 1]})
            asked += 1
            held += found["rate_lo"] <= rate <= found["rate_hi"]
            square += (found["p_stabilized"] - settled) ** 2
            declared += found["stabilized"]
            wrong += found["stabilized"] and not settled
    assert asked > 150
    assert held >= 0.82 * asked
    assert square <= 0.15 * asked
    assert declared >= 0.2 * asked
    assert wrong <= 0.2 * declared


@pytest.mark.slow
def test_thirty_times_as_many_engines_give_nearly_the_same_answer(monkeypatch):
    """The fixed engines are enough: what is lost to their number is small against what a dipstick leaves open."""
    logs = []
    for record in generated(8, "base", seed=31):
        place = record["truth"]["at_readings"][:13][-1][0]
        logs.append({**record["log"], "entries": record["log"]["entries"][: place + 1]})
    fast = [estimate(log) for log in logs]
    monkeypatch.setattr(particles, "POINTS", {kind: 30 * count for kind, count in particles.POINTS.items()})
    monkeypatch.setattr(posterior, "LATER_POINTS", 20_000)
    monkeypatch.setattr(posterior, "ENOUGH", 12_000.0)
    _forget_engines()
    thorough = [estimate(log) for log in logs]
    monkeypatch.undo()
    _forget_engines()
    apart = [abs(one["p_stabilized"] - other["p_stabilized"]) for one, other in zip(fast, thorough, strict=True)]
    assert max(apart) < 0.08
    assert sum(apart) / len(apart) < 0.03
    for one, other in zip(fast, thorough, strict=True):
        width = other["rate_hi"] - other["rate_lo"]
        for name in ("rate_lo", "rate_now", "rate_hi"):
            assert one[name] == pytest.approx(other[name], abs=0.2 * width)


def _forget_engines() -> None:
    particles.prior_points.cache_clear()
    posterior._CACHE.clear()
