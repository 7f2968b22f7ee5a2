"""Inspections: by a technician, once, and closing only what they fit."""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest

from breakin.entries import parse_inspection
from breakin.models import DueItem, OilEvent
from breakin.services.inspections import complete_check
from engines.models import Inspection
from shop.errors import ConflictingResend, Refusal
from tests.factories import NOW, Cast, cast

pytestmark = pytest.mark.django_db
FILTER: dict[str, Any] = {
    "kind": "oil_filter", "result": "normal", "results": {"opened": True, "material": "fuzz"},
    "drain_fill": {"drained": 6.5, "filled": 7, "oil_kind": "mineral", "filter_changed": True},
}  # fmt: skip
READING = {"level": 7, "minutes_since_shutdown": 20, "level_ground": True, "wiped_twice": True, "belly_oil": 0}


@pytest.fixture
def shop() -> Cast:
    return cast()


def item(shop: Cast, kind: str = "oil_reading") -> DueItem:
    return DueItem.objects.create(
        build=shop.build_1, rule="TEST", occurrence=kind, rule_version=1, kind=kind, title="Read the oil",
        text="Read it.", state="due", opened_at=NOW - timedelta(days=1),
    )  # fmt: skip


def check(shop: Cast, due_item: DueItem | None = None, **raw: Any) -> Inspection:
    by = raw.pop("by", shop.tom)
    raw = {"client_id": str(uuid.uuid4()), "kind": "oil_check", **raw}
    if raw["kind"] == "oil_check":
        raw.setdefault("reading", READING)
    entry = parse_inspection(raw, units="us", zone="UTC", now=NOW)
    return complete_check(by=by, engine=shop.build_1.engine, entry=entry, due_item=due_item, now=NOW)


def test_an_oil_check_keeps_its_reading_and_closes_the_item(shop: Cast) -> None:
    due = item(shop)
    inspection = check(shop, due)
    due.refresh_from_db()
    assert (due.state, due.closed_by_kind, due.closed_by_root) == ("done", "inspection", inspection.root)
    event = OilEvent.objects.get()
    assert (event.level_qt, event.entered_by, event.happened_at) == (7, shop.tom, inspection.happened_at)
    assert inspection.performed_by == shop.tom


def test_an_oil_change_keeps_what_was_drained_and_filled(shop: Cast) -> None:
    inspection = check(shop, item(shop, "oil_filter"), **FILTER)
    event = OilEvent.objects.get()
    assert (event.kind, event.drained_qt, event.filled_qt, event.filter_changed) == ("drain_fill", 6.5, 7, True)
    assert inspection.results == {"opened": True, "material": "fuzz"}


def test_a_wrong_kind_of_event_closes_nothing(shop: Cast) -> None:
    due = item(shop, "oil_filter")
    with pytest.raises(Refusal, match=r"does not close .* It closes with: oil change and filter"):
        check(shop, due)
    due.refresh_from_db()
    assert due.state == "due"
    assert not Inspection.objects.exists()


def test_a_missing_flight_is_not_closed_by_any_inspection(shop: Cast) -> None:
    with pytest.raises(Refusal, match="when the next flight is logged"):
        check(shop, item(shop, "flight"))


def test_the_second_to_close_it_is_told(shop: Cast) -> None:
    due = item(shop)
    check(shop, due)
    with pytest.raises(Refusal, match="is done already") as caught:
        check(shop, due)
    assert caught.value.code == "conflict"
    assert Inspection.objects.count() == 1


def test_a_resend_is_the_same_inspection(shop: Cast) -> None:
    raw: dict[str, Any] = {"client_id": str(uuid.uuid4()), "happened_at": NOW.isoformat()}
    due = item(shop)
    assert check(shop, due, **raw) == check(shop, due, **raw)
    with pytest.raises(ConflictingResend):
        check(shop, due, **raw, note="other words")
    assert OilEvent.objects.count() == 1


def test_nobody_but_a_technician_inspects(shop: Cast) -> None:
    for by in (shop.ada, shop.cora):
        with pytest.raises(Refusal) as caught:
            check(shop, by=by)
        assert caught.value.code == "forbidden"


def test_the_performer_was_a_technician_that_day(shop: Cast) -> None:
    with pytest.raises(Refusal) as caught:
        check(shop, performed_by_id=shop.ada.pk)
    assert "performed_by_id" in caught.value.by_field()


def test_an_item_of_another_engine_is_refused(shop: Cast) -> None:
    due = item(shop)
    entry = parse_inspection(
        {"client_id": str(uuid.uuid4()), "kind": "oil_check", "reading": READING}, units="us", zone="UTC", now=NOW
    )
    with pytest.raises(Refusal, match="another engine"):
        complete_check(by=shop.tom, engine=shop.build_2.engine, entry=entry, due_item=due, now=NOW)


def test_more_than_the_sump_holds_is_refused_where_it_was_typed(shop: Cast) -> None:
    with pytest.raises(Refusal) as caught:
        check(shop, **{**FILTER, "drain_fill": {"filled": 11, "oil_kind": "mineral"}})
    assert "drain_fill.filled" in caught.value.by_field()
    assert not Inspection.objects.exists()


def test_a_new_preservation_takes_the_place_of_the_one_that_ends(shop: Cast) -> None:
    raw: dict[str, Any] = {"kind": "preservation", "result": "normal", "happened_at": NOW.isoformat()}
    check(shop, **raw, results={"expires_on": "2026-09-01", "preservative": "oil and plugs"})
    check(shop, item(shop, "preservation"), **raw, results={"expires_on": "2026-12-01"})
    rows = shop.build_1.preservations.order_by("pk").values_list("expires_on", "ended_on")
    assert list(rows) == [(date(2026, 9, 1), NOW.date()), (date(2026, 12, 1), None)]
