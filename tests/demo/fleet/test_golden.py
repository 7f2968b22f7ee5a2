"""The demo fleet is judged as a senior technician would judge it, and judging it again changes and sends nothing.

The stories are invented; what is expected of each is written here by hand, from the story and the rules.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import pytest
from django.core import mail

from breakin import assess
from breakin.batches import alarms, lot_counts
from breakin.load_batches import batch_rows
from breakin.models import Assessment, DueItem, Finding, Flight, Lane, LaneCount, Message, Notice, OilEvent, Severity
from breakin.notices import planning, sending
from engines.models import Build, Holding
from reports.demo.load import load
from tests.demo.fleet.conftest import NOW

pytestmark = pytest.mark.usefixtures("fleet", "db")

S, C, W = "stop", "call", "watch"


@dataclass(frozen=True)
class State:
    """How one engine stands. `findings` are (rule, severity, state) from watch upwards; `due` the open items."""

    phase: str
    lane: Lane
    first_two: str
    oil: str
    findings: frozenset[tuple[str, str, str]] = frozenset()
    due: frozenset[tuple[str, str]] = frozenset()
    stopped: bool = False
    reopened: bool = False
    provisional: bool | None = False


GOLDEN: dict[tuple[str, str, str], State] = {
    ("QX-101", "", "E-2101"): State(
        "review", Lane.REVIEW, "met (stated)", "flat", due=frozenset({("accessory", "waiting")}), provisional=True
    ),
    ("QX-102", "", "V-3102"): State(
        "settling", Lane.RUNNING, "met (stated)", "not enough readings",
        due=frozenset({("accessory", "waiting"), ("accessory", "due_soon")}),
    ),
    ("QX-103", "", "E-2103"): State(
        "alternating", Lane.CALL, "missed", "falling",
        frozenset({("P4", C, "open")}), frozenset({("oil_filter", "waiting"), ("borescope", "waiting")}),
    ),
    ("QX-104", "", "C-2104"): State(
        "settling", Lane.LATE, "met (stated)", "falling", frozenset({("H4", W, "open")}),
        frozenset({("answer", "due"), ("oil_reading", "late")}),
    ),
    ("QX-105", "", "C-2105"): State(
        "alternating", Lane.CALL, "partly", "not enough readings",
        frozenset({("P4", W, "open"), ("O8", C, "open"), ("P9", C, "open")}), frozenset({("oil_filter", "waiting")}),
    ),
    ("QX-106", "left", "V-3106"): State(
        "settling", Lane.RUNNING, "met (stated)", "falling",
        frozenset({("P6", C, "acknowledged")}), frozenset({("oil_filter", "due_soon")}),
    ),
    ("QX-107", "left", "V-3107"): State("provisional", Lane.RUNNING, "met (stated)", "flat", provisional=True),
    ("QX-107", "right", "V-3108"): State("provisional", Lane.RUNNING, "met (stated)", "flat", provisional=True),
    ("QX-108", "left", "V-3208"): State("settling", Lane.RUNNING, "met (stated)", "falling"),
    ("QX-108", "right", "V-3209"): State(
        "follow_up", Lane.FOLLOW_UP, "met (stated)", "flat", due=frozenset({("follow_up", "waiting")}), provisional=True
    ),
    ("QX-109", "", "V-3109"): State(
        "alternating", Lane.RUNNING, "met (stated)", "falling", due=frozenset({("oil_filter", "waiting")})
    ),
    ("QX-110", "", "G-1110"): State(
        "hour_1", Lane.STOPPED, "not known", "not enough readings",
        frozenset({("E1", S, "open"), ("E2", C, "open"), ("E3", S, "open")}),
        frozenset({("oil_filter", "waiting"), ("leak", "due"), ("look_cooling", "due")}),
        stopped=True, provisional=None,
    ),
    ("QX-111", "", "V-3111"): State(
        "settling", Lane.RUNNING, "met (measured)", "falling", frozenset({("P8", C, "acknowledged")}),
    ),
    ("QX-112", "", "B-2112"): State(
        "provisional", Lane.RUNNING, "met (stated)", "flat", due=frozenset({("oil_filter", "due_soon")}),
        provisional=True,
    ),
    ("QX-113", "", "B-2113"): State("settling", Lane.RUNNING, "met (stated)", "falling"),
    ("QX-114", "", "E-2114"): State(
        "hour_2", Lane.CALL, "not known", "not enough readings",
        due=frozenset({("oil_filter", "waiting"), ("flight", "late")}), provisional=None,
    ),
    ("QX-115", "left", "G-1115"): State(
        "settling", Lane.RUNNING, "undecided", "falling", due=frozenset({("oil_filter", "due_soon")}),
    ),
    ("QX-115", "right", "G-1116"): State(
        "settling", Lane.RUNNING, "met (measured)", "falling", due=frozenset({("oil_filter", "due_soon")}),
    ),
    ("QX-116", "", "R-7116"): State("log_only", Lane.RUNNING, "not known", "log only", provisional=None),
    ("QX-117", "", "V-3117"): State(
        "settling", Lane.CALL, "met (stated)", "rising",
        frozenset({("O11", C, "open"), ("O14", C, "open"), ("C3", C, "open")}), reopened=True,
    ),
    ("QX-118", "", "E-2118"): State(
        "settling", Lane.CALL, "met (stated)", "falling", frozenset({("O10", C, "open")}),
    ),
    ("QX-119", "left", "V-3120"): State("settling", Lane.RUNNING, "met (stated)", "falling"),
    ("QX-119", "right", "V-3119"): State("settling", Lane.RUNNING, "met (stated)", "falling"),
    ("QX-120", "", "V-3121"): State(
        "alternating", Lane.CALL, "missed", "falling", frozenset({("P4", C, "open")}),
        frozenset({("oil_filter", "waiting"), ("borescope", "waiting")}),
    ),
    ("QX-121", "", "L-4121"): State("log_only", Lane.RUNNING, "not known", "log only", provisional=None),
    ("QX-122", "", "V-3122"): State(
        "follow_up", Lane.FOLLOW_UP, "met (stated)", "flat",
        due=frozenset({("follow_up", "due_soon"), ("follow_up", "waiting")}), provisional=True,
    ),
    ("QX-123", "left", "G-1123"): State(
        "awaiting", Lane.CALL, "not known", "not enough readings",
        frozenset({("E7", C, "open")}), frozenset({("oil_filter", "waiting")}), provisional=None,
    ),
    ("QX-123", "right", "G-1124"): State(
        "awaiting", Lane.CALL, "not known", "not enough readings",
        frozenset({("E7", C, "open")}), frozenset({("oil_filter", "waiting")}), provisional=None,
    ),
    ("QX-124", "", "V-3124"): State(
        "alternating", Lane.RUNNING, "not achievable", "falling", frozenset({("P4", W, "open")}),
        frozenset({("oil_filter", "waiting")}),
    ),
    ("", "", "E-2031"): State(
        "preserved", Lane.NOT_FLYING, "not known", "not enough readings",
        due=frozenset({("preservation", "due_soon")}), provisional=None,
    ),
    ("", "", "G-1033"): State("awaiting", Lane.NOT_FLYING, "not known", "not enough readings", provisional=None),
}  # fmt: skip


_CLOSED = ("done", "waived", "gone")


def _state(row: Assessment) -> State:
    findings = row.build.findings.filter(severity__gte=Severity.WATCH)
    due = row.build.due_items.exclude(state__in=_CLOSED)
    return State(
        row.phase,
        Lane(row.lane),
        row.first_two_word,
        row.oil_word,
        frozenset((f.rule, f.get_severity_display(), f.state) for f in findings),
        frozenset((d.kind, d.state) for d in due if d.state != "waiting" or d.kind != "flight"),
        row.stopped,
        row.reopened,
        row.detail["oil"].get("provisional") if row.oil_rate_qt_h is not None else None,
    )


def _fleet() -> dict[tuple[str, str, str], State]:
    rows = Assessment.objects.select_related("build")
    return {(row.registration, row.side, row.serial): _state(row) for row in rows}


def test_every_engine_of_the_demo_stands_where_its_story_puts_it() -> None:
    found = _fleet()

    assert found.keys() == GOLDEN.keys()
    for name, expected in GOLDEN.items():
        assert found[name] == expected, name


def test_the_second_loading_and_judging_changes_nothing_and_sends_nothing() -> None:
    later = NOW + timedelta(minutes=5)
    planning.plan(later)
    sending.send_due(later)
    before = (_fleet(), _rows(), len(mail.outbox))

    load(NOW + timedelta(minutes=10))
    outcome = assess.assess_many(list(Build.objects.values_list("pk", flat=True)), NOW + timedelta(minutes=10))
    planning.plan(NOW + timedelta(minutes=10))
    sending.send_due(NOW + timedelta(minutes=10))

    assert (outcome.changed, list(outcome.failed)) == (0, [])
    assert (_fleet(), _rows(), len(mail.outbox)) == before
    assert before[2] > 0


def _rows() -> dict[str, int]:
    return {model.__name__: model.objects.count() for model in (Finding, DueItem, Notice, Message)}


def test_the_lanes_are_counted_as_they_stand() -> None:
    lanes = [row.lane for row in Assessment.objects.filter(live=True)]

    assert {row.lane: row.builds for row in LaneCount.objects.filter(builds__gt=0)} == {
        lane: lanes.count(lane) for lane in set(lanes)
    }


def test_what_the_test_cell_used_enters_no_rate() -> None:
    row = Assessment.objects.get(serial="G-1033")

    assert row.oil_rate_qt_h is None
    assert row.detail["clock"]["cell_min"] == 90


def test_after_the_swap_the_readings_follow_the_serials() -> None:
    right = Assessment.objects.get(serial="V-3119")
    levels = [entry["level_qt"] for entry in right.detail["oil"]["entries"] if entry["kind"] == "reading"]

    assert right.side == "right"
    assert levels == [9.5, 8.75, 8.25, 9.0, 8.5, 9.25, 8.75, 9.5]


def test_the_hot_day_on_the_high_field_reads_not_achievable_and_not_as_a_fault() -> None:
    notes = Finding.objects.filter(build__assessment__serial="V-3109", rule="P5")

    assert [note.get_severity_display() for note in notes] == ["note"]
    assert "not achievable" in notes[0].text


def test_the_follow_up_of_a_quiet_engine_is_foretold_an_hour_and_a_half_before_it_is_due() -> None:
    row = Assessment.objects.get(serial="V-3122")
    due = row.build.due_items.get(kind="follow_up", state="due_soon")

    assert due.due_h is not None
    assert due.due_h - row.detail["clock"]["hours"] == pytest.approx(1.5)


def test_oil_told_in_gallons_is_kept_as_told_and_shown_but_not_judged() -> None:
    row = Assessment.objects.get(serial="R-7116")
    poured = OilEvent.objects.filter(engine=row.build.engine, kind="addition").order_by("happened_at")

    assert [(one.amount_qt, one.typed["amount"]) for one in poured] == [(4.0, ["1", "gal"])] * 2
    assert row.oil_rate_qt_h is None
    assert not row.build.findings.filter(severity__gte=Severity.WATCH)


def test_nine_flights_written_down_in_one_evening_are_told_from_memory() -> None:
    flights = Flight.objects.filter(aircraft__registration="QX-118").order_by("happened_at")

    assert "".join(flight.grade for flight in flights) == "BBBB" + "DDDDDDDDD" + "BB"
    assert len({flight.received_at.date() for flight in flights if flight.grade == "D"}) == 1


def test_an_aircraft_that_was_sold_is_the_buyers_from_then_on_and_its_flights_stay_with_the_seller_until_then() -> None:
    seller, buyer = Holding.objects.filter(aircraft__registration="QX-118").order_by("since")

    assert (seller.customer.name, buyer.customer.name) == ("Tarn Survey", "Quentin")
    assert seller.until == buyer.since == NOW.replace(hour=18, minute=0) - timedelta(days=48)


def test_what_ran_out_at_the_rocker_cover_is_kept_apart_from_what_the_rings_let_past() -> None:
    left, right = (Assessment.objects.get(serial=serial) for serial in ("V-3107", "V-3108"))

    assert [[round(hour, 1) for hour in span] for span in right.detail["oil"]["leak"]] == [[6.2, 7.4]]
    assert left.detail["oil"]["leak"] == []


def test_a_replaced_cylinder_is_compared_with_the_loss_before_the_job() -> None:
    row = Assessment.objects.get(serial="B-2112")

    assert row.detail["oil"]["before"]["rate_qt_h"] == pytest.approx(0.11, abs=0.02)
    assert row.oil_rate_qt_h == pytest.approx(0.13, abs=0.02)


def test_one_slow_engine_of_three_with_a_ring_lot_raises_no_alarm_of_the_lot() -> None:
    with_lot = Build.objects.filter(positions__ring_lot="R7").exclude(engine__installations=None).distinct()

    assert {"V-3117", "V-3107", "V-3122"} == set(with_lot.values_list("engine__serial", flat=True))
    rows = batch_rows()
    (count,) = (count for count in lot_counts(rows) if count.lot.name == "R7")
    slow = Build.objects.filter(pk__in=count.slow).values_list("engine__serial", flat=True)
    assert list(slow) == ["V-3117"]
    assert alarms(rows) == ()


def test_the_owner_without_email_is_to_be_phoned() -> None:
    planning.plan(NOW)
    notices = Notice.objects.filter(build__assessment__serial="E-2114", recipient__name="Jory")

    assert notices
    assert {notice.state for notice in notices} == {"phone"}
