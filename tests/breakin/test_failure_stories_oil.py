"""What goes wrong with the oil of a fresh engine, and what the book says of it.

Lines are those of the invented type and plan of tests/breakin/records.py (8-qt sump, settling at 6 qt, minimum 4 qt,
accepted 0.15 qt/h) unless a story names another sump. The stories are common practice of the trade, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest

from breakin import assess
from breakin.entries import parse_oil
from breakin.record import BuildRecord, CellRunFacts
from breakin.rules.base import CALL, NOTE, STOP, WATCH
from breakin.services import installing
from engines.models import EngineTypeRevision, Installation
from reports.oil.advice import advice
from shop.errors import Refusal
from tests import factories
from tests.breakin.inspection_cases import look, sampled
from tests.breakin.oil_cases import falling, filled, levels, logged, reseated, steady
from tests.breakin.records import SEAT, added, after, checked, level, record, run, with_plan, with_type
from tests.breakin.stories import asked, judged, lacking, said, severities, words

TWELVE = {"sump_full_qt": 12.0}


def topped_to_full() -> BuildRecord:
    """A 12-qt sump filled up before each trip of 2 h, a quart down after it."""
    days = range(1, 7)
    oil = tuple(row for day in days for row in (level(day, 11.0), added(day)))
    seat = replace(SEAT, min_oil_qt=6.0)
    return with_type(record(*(run(day, 2.0) for day in days), oil=oil, installations=(seat,)), **TWELVE)


def test_01_oil_filled_to_the_top_is_over_fill_loss_and_the_lines_say_where_to_stop_adding() -> None:
    made = judged(topped_to_full())
    assert all(row["over_fill_qt"] > 0 and not row["assessable"] for row in made.detail["oil"]["windows"])
    assert "not the rings' loss" in said(topped_to_full(), "O2").text
    assert (made.detail["oil"]["word"], made.detail["oil"]["lines"]["hold"]) == ("not enough readings", 10.0)
    assert severities(made, "O4") == severities(made, "O6") == []
    page = advice(
        11.0,
        installation=Installation(min_oil_qt=6.0),
        kind=EngineTypeRevision(sump_full_qt=12.0),
        plan=None,
        assessment=None,
        units="us",
    )
    assert page.say == "Add nothing"
    assert "goes out of the breather and says nothing about the rings" in page.because[0]


@pytest.mark.parametrize(
    ("plan_oil", "poured", "severity"),
    [
        ("mineral", added(1, 1.0, oil_kind="ad"), NOTE),
        ("mineral", filled(1, 6.0, oil_kind="ad"), CALL),
        ("ad", filled(1, 6.0, oil_kind="mineral"), CALL),
    ],
    ids=["a quart", "a fill", "straight mineral where the plan asks for dispersant"],
)
def test_03_oil_of_another_kind_is_a_note_by_the_quart_and_a_call_by_the_fill(plan_oil, poured, severity) -> None:
    made = judged(with_plan(record(run(1), oil=(poured,)), oil_kind=plan_oil))
    assert severities(made, "O10") == [severity]
    assert "the plan asks for" in words(made, "O10")


def test_03_oil_is_not_added_without_saying_which() -> None:
    raw = {"client_id": str(uuid4()), "engine_id": 1, "kind": "addition", "amount": "1"}
    with pytest.raises(Refusal) as refused:
        parse_oil(raw, units="us", zone="UTC", now=factories.NOW)
    assert "oil_kind" in refused.value.by_field()


def test_04_only_readings_taken_alike_are_compared() -> None:
    hot = level(1, 5.25, minutes_since_shutdown=3.0)
    cold = level(2, 6.5, minutes_since_shutdown=720.0)
    slope = level(3, 5.25, level_ground=False)
    runs = tuple(run(day, 2.0) for day in (1, 2, 3))
    made = judged(record(*runs, oil=(hot, cold, slope)))
    assert made.detail["oil"]["windows"] == []
    assert not [rule for rule in ("O4", "O7", "O8") if severities(made, rule)]
    alike = judged(record(*runs, oil=(level(1, 5.75), level(2, 6.5), level(3, 5.25))))
    assert severities(alike, "O8") == [CALL]


@pytest.mark.django_db
def test_17_a_dipstick_that_reads_a_quart_off_is_put_right_from_the_pour_in() -> None:
    shop = factories.cast()
    one = factories.engine()
    into = factories.aircraft("QX-905", shop.ada_customer)
    build = factories.build(one, by=shop.cora)
    factories.seat(one, into, by=shop.tom, dipstick_offset_qt=-1.0)
    logged_ = factories.flown(build, 1.2, level_qt=4.5, by=shop.ada)
    assess.assess_build(build.pk, factories.NOW)
    assert factories.assessment(build).detail["oil"]["level_qt"] == 3.5
    assert [row.rule for row in logged_.calls] == ["O9"]  # 4.5 on the stick is half a quart under the minimum of 4


def leaking(*looks: object) -> BuildRecord:
    """A log that settles, then two quarts on the belly."""
    one = logged(falling(0.06, 3.0), 9)
    last = 5.5
    oil = (*one.oil, level(10, last - 2.0, belly_oil=3), added(10, 2.0), level(11, last), level(14, last - 0.25))
    runs = (*one.runs, run(10, 1.5), run(11, 1.5), run(14, 4.5))
    return replace(one, runs=runs, oil=oil, inspections=looks)  # type: ignore[arg-type]


def test_23_a_leak_is_looked_for_and_never_counts_for_or_against_settling() -> None:
    made = judged(leaking())
    assert STOP in severities(made, "O7")
    assert "Look for a leak" in words(made, "O7")
    assert made.detail["oil"]["leak_open"]
    assert "A leak is open." in made.detail["oil"]["vetoes"]
    assert not made.detail["oil"]["provisional"]
    since = [row for row in made.detail["oil"]["windows"] if row["to_h"] > 13.5]
    assert since
    assert all("a leak was open" in (row["why_not"] or "") for row in since)
    assert severities(made, "O4") == []
    fixed = judged(leaking(checked(10, "leak")))
    assert not fixed.detail["oil"]["leak_open"]
    assert any(row["from_h"] >= 15.0 - 1e-6 and row["assessable"] for row in fixed.detail["oil"]["windows"])


def test_a_leak_found_and_fixed_in_one_look_shadows_the_loss_since_the_last_dry_look() -> None:
    one = logged(steady(0.05), 9)
    oil = tuple(replace(row, belly_oil=0 if row.at < after(4) else None) for row in one.oil)
    found = replace(checked(7, "leak"), results={"spots": [{"where": "rocker cover", "grade": 2, "fixed": True}]})
    made = judged(replace(one, oil=oil, inspections=(found,)))
    told = made.detail["oil"]
    assert not told["leak_open"]
    assert told["leak"] == [[pytest.approx(4.5), pytest.approx(10.5)]]
    shadowed = [row for row in told["entries"] if row["leak_open"]]
    assert [row["hours"] for row in shadowed] == pytest.approx([6.0, 7.5, 9.0, 10.5])
    film = replace(found, results={"spots": [{"where": "rocker cover", "grade": 1, "fixed": True}]})
    assert judged(replace(one, oil=oil, inspections=(film,))).detail["oil"]["leak"] == []


def test_24_the_loss_before_and_after_an_oil_separator_is_not_compared() -> None:
    plain = logged(falling(0.06, 3.0), 12)
    assert judged(plain).detail["oil"]["provisional"]
    fitted = judged(reseated(plain, 10.5, separator=True))
    assert severities(fitted, "O18") == [NOTE]
    assert "fitted at 15.0 h" in words(fitted, "O18")
    across = [row for row in fitted.detail["oil"]["windows"] if row["from_h"] < 15.1 < row["to_h"]]
    assert across
    assert all("an oil separator was fitted or taken out in it" in row["why_not"] for row in across)
    assert not fitted.detail["oil"]["provisional"]
    assert "no loss since can be judged yet" in " ".join(fitted.detail["oil"]["vetoes"])
    long_ago = judged(reseated(plain, 4.5, separator=True))
    assert long_ago.detail["oil"]["provisional"]


@pytest.mark.django_db
def test_24_a_separator_fitted_during_the_break_in_reaches_the_judgement() -> None:
    shop = factories.cast()
    for level_qt in (6.0, 5.9, 5.8):
        factories.flown(shop.build_1, 1.5, level_qt=level_qt)
    installing.revise(
        by=shop.tom, installation=shop.build_1.engine.installations.get(), at=factories.NOW - timedelta(days=30),
        reason="fitted", separator=True, now=factories.NOW,
    )  # fmt: skip
    factories.flown(shop.build_1, 1.5, at=factories.NOW - timedelta(days=20), level_qt=5.7)
    assess.assess_build(shop.build_1.pk, factories.NOW)
    assert shop.build_1.findings.get(rule="O18").severity == NOTE


def test_25_a_level_that_rises_is_asked_about_and_confirmed_it_stops() -> None:
    asks = judged(levels(5.0, 6.0))
    assert severities(asks, "O8") == [CALL]
    assert "did someone else add?" in words(asks, "O8")
    stops = judged(levels(5.0, 6.0, 6.0))
    assert severities(stops, "O8") == [STOP]
    assert stops.stopped
    assert "Smell for fuel" in words(stops, "O8")


def test_25_a_second_rise_that_nobody_explained_stops() -> None:
    assert severities(judged(levels(5.0, 5.75, 5.0, 5.75)), "O8") == [CALL, STOP]


def test_25_a_negative_loss_is_shown_and_not_made_zero() -> None:
    (window,) = judged(levels(5.5, 5.75, hours=4.5)).detail["oil"]["windows"]
    assert window["rate_qt_h"] == pytest.approx(-0.25 / 4.5, abs=1e-4)
    assert window["assessable"]


def test_26_oil_used_in_the_test_cell_is_shown_and_left_out() -> None:
    plain = logged(falling(0.06, 3.0), 6)
    with_cell = replace(plain, cell_runs=(CellRunFacts(plain.opened_at.date(), 90.0, 0.9),))
    one, other = judged(plain), judged(with_cell)
    assert other.detail["cell"] == [{"on": "2026-06-01", "minutes": 90.0, "oil_used_qt": 0.9}]
    assert one.detail["oil"] == other.detail["oil"]
    assert one.detail["clock"]["hours"] == other.detail["clock"]["hours"]


def test_27_fuzz_in_the_first_filter_is_usual() -> None:
    cut = look(8, "oil_filter", opened=True, material="fuzz", count="many", amount="trace")
    made = judged(record(run(1, 10.0), inspections=(cut,)))
    assert severities(made, "I2") == []
    assert "filter" not in lacking(made)


def test_27_a_filter_that_nobody_cut_stays_open_and_keeps_the_build_from_close_out() -> None:
    made = judged(record(run(1, 10.0), inspections=(look(8, "oil_filter", opened=False),)))
    (item,) = asked(made, "cut_filter")
    assert item.open
    assert "was not cut open" in item.asked.text
    assert {"filters_cut", "filter"} <= lacking(made)
    assert asked(made, "oil_filter")[0].open


def test_28_high_figures_of_the_first_two_samples_are_the_baseline() -> None:
    first = (sampled(2, fe=400.0, cr=90.0), sampled(5, fe=450.0, cr=95.0))
    assert severities(judged(record(run(1, 20.0), inspections=first)), "I5") == []
    third = judged(record(run(1, 30.0), inspections=(*first, sampled(9, fe=900.0, cr=95.0))))
    assert severities(third, "I5") == [WATCH]
    assert not third.stopped


def test_29_a_loss_that_is_flat_and_high_has_not_settled() -> None:
    """A quart in 2.2 h for 21 h."""
    made = judged(logged(steady(0.45), 14))
    assert made.detail["oil"]["word"] == "flat but high"
    assert severities(made, "O6") == [CALL]
    assert not made.detail["oil"]["provisional"]
    assert "settled" in lacking(made)


def test_30_no_additions_without_readings_prove_nothing() -> None:
    runs = tuple(run(day, 1.5) for day in range(1, 9))
    oil = (level(1, 6.0), level(2, 5.75))
    none_added = tuple(replace(added(day), kind="none_added", amount_qt=None) for day in range(3, 9))
    made = judged(record(*runs, oil=(*oil, *none_added)))
    assert made.detail["oil"]["word"] == "not enough readings"
    assert not made.detail["oil"]["provisional"]
    assert made.detail["oil"]["paper"]["verdict"] == "too short"
    assert {"settled", "paper"} <= lacking(made)
    (item,) = [one for one in asked(made, "oil_reading") if one.open]
    assert item.asked.escalation == "manager"


def test_47_oil_that_line_service_poured_in_is_asked_for_first_and_closes_when_it_is_logged() -> None:
    runs = (run(1, 1.5), run(2, 1.5))
    silent = judged(record(*runs, oil=(level(1, 5.0), level(2, 5.75))))
    assert severities(silent, "O8") == [CALL]
    assert "Ask today: did someone else add?" in words(silent, "O8")
    told = judged(record(*runs, oil=(level(1, 5.0), added(1), level(2, 5.75))))
    assert severities(told, "O8") == []


def test_48_after_a_drain_the_first_reading_after_the_first_run_is_the_anchor() -> None:
    """Ten quarts in a 12-qt sump; filter and cooler take one on the first half-hour."""
    oil = (filled(1, 10.0), level(1, 10.0, order=3), level(2, 9.0), level(6, 8.75))
    one = with_type(record(run(1, 1.0), run(2, 0.5), run(6, 4.5), oil=oil), **TWELVE)
    made = judged(one)
    rows = [(row["level_from"], row["level_to"]) for row in made.detail["oil"]["windows"]]
    assert rows == [(9.0, 8.75)]
    fresh = next(row for row in made.detail["oil"]["entries"] if row["kind"] == "reading")
    assert "before the first run after the fill" in fresh["why_not"]
    assert severities(made, "O7") == []
