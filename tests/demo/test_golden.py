"""The demo fleet is judged as a senior technician would judge it, and judging it again changes and sends nothing.

The stories are invented; what is expected of each is written here by hand, from the story and the rules.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import pytest
from django.core import mail

from breakin import assess
from breakin.models import Assessment, DueItem, Finding, Lane, LaneCount, Message, Notice, Severity
from breakin.notices import planning, sending
from engines.models import Build
from reports.demo.load import load
from tests.demo.conftest import NOW

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
    ("QX-101", "", "E-2101"): State("review", Lane.REVIEW, "met (stated)", "flat", provisional=True),
    ("QX-102", "", "V-3102"): State("settling", Lane.RUNNING, "met (stated)", "not enough readings"),
    ("QX-103", "", "E-2103"): State(
        "alternating", Lane.CALL, "missed", "falling",
        frozenset({("P4", C, "open")}), frozenset({("oil_filter", "waiting"), ("borescope", "waiting")}),
    ),
    ("QX-105", "", "C-2105"): State(
        "alternating", Lane.CALL, "partly", "not enough readings",
        frozenset({("P4", W, "open"), ("O8", C, "open"), ("P9", C, "open")}), frozenset({("oil_filter", "waiting")}),
    ),
    ("QX-106", "left", "V-3106"): State(
        "settling", Lane.RUNNING, "met (stated)", "falling",
        frozenset({("P6", C, "acknowledged")}), frozenset({("oil_filter", "due_soon")}),
    ),
    ("QX-109", "", "V-3109"): State(
        "alternating", Lane.RUNNING, "met (stated)", "falling", due=frozenset({("oil_filter", "waiting")})
    ),
    ("QX-110", "", "G-1110"): State(
        "hour_1", Lane.STOPPED, "not known", "not enough readings",
        frozenset({("E1", S, "open"), ("E2", C, "open"), ("E3", S, "open")}),
        frozenset({("oil_filter", "waiting"), ("leak", "due")}), stopped=True, provisional=None,
    ),
    ("QX-111", "", "V-3111"): State(
        "settling", Lane.RUNNING, "met (measured)", "falling", frozenset({("P8", C, "acknowledged")}),
    ),
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
    ("QX-117", "", "V-3117"): State(
        "settling", Lane.CALL, "met (stated)", "rising",
        frozenset({("O11", C, "open"), ("O14", C, "open"), ("C3", C, "open")}), reopened=True,
    ),
    ("QX-119", "left", "V-3120"): State("settling", Lane.RUNNING, "met (stated)", "falling"),
    ("QX-119", "right", "V-3119"): State("settling", Lane.RUNNING, "met (stated)", "falling"),
    ("QX-120", "", "V-3121"): State(
        "alternating", Lane.CALL, "missed", "falling", frozenset({("P4", C, "open")}),
        frozenset({("oil_filter", "waiting"), ("borescope", "waiting")}),
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


def test_the_owner_without_email_is_to_be_phoned() -> None:
    planning.plan(NOW)
    notices = Notice.objects.filter(build__assessment__serial="E-2114", recipient__name="Jory")

    assert notices
    assert {notice.state for notice in notices} == {"phone"}
