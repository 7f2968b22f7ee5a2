"""Acknowledging and clearing findings; merging two entries of one flight."""

from __future__ import annotations

from datetime import timedelta

import pytest

from breakin.models import Assessment, Finding, Flight, MergeDecision
from breakin.services import findings
from breakin.services.merging import merge_flights
from shop.errors import Refusal
from tests.factories import NOW, Cast, cast, flown

pytestmark = pytest.mark.django_db
AT = NOW - timedelta(days=5)
SOON = AT + timedelta(hours=2)


@pytest.fixture
def shop() -> Cast:
    return cast()


@pytest.fixture
def stop(shop: Cast) -> Finding:
    (found,) = flown(shop.build_1, 1.2, at=AT, cht_max=510).stops
    return found


def test_a_stop_is_cleared_by_a_technician_only(shop: Cast, stop: Finding) -> None:
    for by in (shop.cora, shop.ada):
        with pytest.raises(Refusal, match="technician only") as caught:
            findings.clear(by=by, finding=stop, verdict="fixed", cause="baffle", action="replaced", now=SOON)
        assert caught.value.code == "forbidden"
    findings.clear(by=shop.tom, finding=stop, verdict="fixed", cause="baffle", action="replaced", now=SOON)
    stop.refresh_from_db()
    assert (stop.state, stop.closed_at, stop.verdicts.get().by) == ("cleared", SOON, shop.tom)


def test_clearing_asks_for_cause_and_action(shop: Cast, stop: Finding) -> None:
    with pytest.raises(Refusal) as caught:
        findings.clear(by=shop.tom, finding=stop, verdict="fixed", cause=" ", action="x" * 401, now=SOON)
    assert set(caught.value.by_field()) == {"cause", "action"}
    with pytest.raises(Refusal, match="What was it"):
        findings.clear(by=shop.tom, finding=stop, verdict="fine", cause="a", action="b", now=SOON)
    stop.refresh_from_db()
    assert stop.state == "open"


def test_the_second_to_clear_is_told_who_was_first(shop: Cast, stop: Finding) -> None:
    findings.clear(by=shop.tom, finding=stop, verdict="fixed", cause="baffle", action="replaced", now=SOON)
    with pytest.raises(Refusal, match="Tom cleared this") as caught:
        findings.clear(by=shop.tom, finding=stop, verdict="agree", cause="a", action="b", now=SOON)
    assert caught.value.code == "conflict"
    assert stop.verdicts.count() == 1


def test_acknowledging_twice_is_acknowledging_once(shop: Cast, stop: Finding) -> None:
    findings.acknowledge(by=shop.cora, finding=stop, now=SOON)
    again = findings.acknowledge(by=shop.tom, finding=stop, now=SOON + timedelta(hours=1))
    assert (again.acknowledged_by, again.acknowledged_at) == (shop.cora, SOON)
    assert Assessment.objects.get(build=shop.build_1).dirty_at == SOON


def test_a_cleared_finding_is_not_acknowledged(shop: Cast, stop: Finding) -> None:
    findings.clear(by=shop.tom, finding=stop, verdict="fixed", cause="baffle", action="replaced", now=SOON)
    with pytest.raises(Refusal, match="cleared already"):
        findings.acknowledge(by=shop.cora, finding=stop, now=SOON)


@pytest.fixture
def pair(shop: Cast) -> tuple[Flight, Flight]:
    first = flown(shop.build_1, 1.2, at=AT, meter_end=101.2).flight
    second = flown(shop.build_1, 1.2, at=AT + timedelta(minutes=10), meter_end=101.2).flight
    return first, second


def test_merging_keeps_both_and_says_which_counts(shop: Cast, pair: tuple[Flight, Flight]) -> None:
    kept, dropped = pair
    decision = merge_flights(by=shop.tom, kept=kept, dropped=dropped, reason="tapped twice", now=SOON)
    again = merge_flights(by=shop.tom, kept=kept, dropped=dropped, reason="tapped twice", now=SOON)
    assert decision == again
    assert (decision.kept_root, decision.dropped_root) == (kept.root, dropped.root)
    assert Flight.objects.current().count() == 2


def test_a_merged_flight_does_not_stand_in_the_way_of_the_meter(shop: Cast, pair: tuple[Flight, Flight]) -> None:
    kept, dropped = pair
    merge_flights(by=shop.tom, kept=kept, dropped=dropped, reason="tapped twice", now=SOON)
    run = flown(shop.build_1, 1.0, at=AT + timedelta(days=1), meter_end=102.2).flight.engines.get()
    assert run.meter_start_h == 101.2


def test_impossible_merges_are_refused(shop: Cast, pair: tuple[Flight, Flight]) -> None:
    kept, dropped = pair
    elsewhere = flown(shop.build_2, 1.2, at=AT).flight
    with pytest.raises(Refusal, match="two aircraft"):
        merge_flights(by=shop.tom, kept=kept, dropped=elsewhere, reason="", now=SOON)
    with pytest.raises(Refusal, match="two versions"):
        merge_flights(by=shop.tom, kept=kept, dropped=kept, reason="", now=SOON)
    merge_flights(by=shop.tom, kept=kept, dropped=dropped, reason="", now=SOON)
    with pytest.raises(Refusal, match="merged into another one"):
        merge_flights(by=shop.tom, kept=dropped, dropped=kept, reason="", now=SOON)
    assert MergeDecision.objects.count() == 1
