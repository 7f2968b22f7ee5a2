"""Correct, withdraw and waive: nothing is edited, and what an inspection closed follows it."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest

from breakin.assess import assess_build
from breakin.entries import parse_inspection
from breakin.models import DueItem, DueState, Finding, OilEvent
from breakin.services.inspection_corrections import correct_inspection, withdraw_inspection
from breakin.services.inspections import about_engine, complete_check, fitting_kinds
from breakin.services.waiving import waive_due
from engines.models import EngineTypeRevision, Inspection
from shop.errors import Refusal
from shop.models import AuditEvent
from tests.factories import NOW, Cast, cast, flown
from tests.inspected import GOOD, inspected

pytestmark = pytest.mark.django_db
YESTERDAY = NOW - timedelta(days=1)


@pytest.fixture
def shop() -> Cast:
    made = cast()
    flown(made.build_1, 1.2, at=NOW - timedelta(days=3), level_qt=6)
    return made


def filtered(shop: Cast, **results: Any) -> Inspection:
    found = {**GOOD["oil_filter"]["results"], **results}
    return inspected(shop.build_1, "oil_filter", by=shop.tom, at=YESTERDAY, results=found)


def corrected(shop: Cast, before: Inspection, *, reason: str = "mistyped", **changed: Any) -> Inspection:
    by = changed.pop("by", shop.tom)
    raw = {
        "client_id": str(uuid.uuid4()), "kind": before.kind, "result": "normal",
        "happened_at": before.happened_at.isoformat(), **GOOD[before.kind], **changed,
    }  # fmt: skip
    entry = parse_inspection(raw, units="us", zone="UTC", now=NOW)
    return correct_inspection(by=by, inspection=before, entry=entry, reason=reason, now=NOW)


def item(shop: Cast, kind: str, title: str = "Look") -> DueItem:
    return DueItem.objects.create(
        build=shop.build_1, rule="TEST", occurrence=kind, rule_version=1, kind=kind, title=title, text="Look.",
        state="due", opened_at=YESTERDAY,
    )  # fmt: skip


def test_a_correction_is_a_newer_version_of_the_same_inspection(shop: Cast) -> None:
    before = filtered(shop)
    newer = corrected(shop, before, results={"opened": True, "material": "flake", "longest_mm": 0.5})
    before.refresh_from_db()
    assert (newer.root, newer.corrects_id, newer.correction_reason) == (before.root, before.pk, "mistyped")
    assert before.results["material"] == "fuzz"
    assert Inspection.objects.current().get() == newer
    assert AuditEvent.objects.filter(act="correct_inspection").exists()


def test_its_oil_goes_with_it_and_is_counted_once(shop: Cast) -> None:
    before = filtered(shop)
    drain = {"drained": 6, "filled": 7.5, "oil_kind": "mineral", "filter_changed": True}
    newer = corrected(shop, before, drain_fill=drain)
    assert [event.filled_qt for event in OilEvent.objects.current().filter(kind="drain_fill")] == [7.5]
    again = corrected(shop, newer, results={"opened": True, "material": "fuzz", "oil_changed": False}, drain_fill=None)
    assert not OilEvent.objects.current().filter(kind="drain_fill").exists()
    corrected(shop, again, drain_fill=drain)
    assert [event.filled_qt for event in OilEvent.objects.current().filter(kind="drain_fill")] == [7.5]


def test_oil_that_the_first_version_forgot_is_entered_by_the_correction(shop: Cast) -> None:
    before = inspected(
        shop.build_1, "oil_filter", by=shop.tom, at=YESTERDAY, drain_fill=None,
        results={"opened": True, "material": "fuzz", "oil_changed": False},
    )  # fmt: skip
    newer = corrected(shop, before)
    drain = {"drained": 6, "filled": 6.5, "oil_kind": "mineral", "filter_changed": True}
    corrected(shop, newer, drain_fill=drain)
    assert [event.filled_qt for event in OilEvent.objects.current().filter(kind="drain_fill")] == [6.5]


def test_two_corrections_of_one_version_do_not_fork(shop: Cast) -> None:
    before = filtered(shop)
    corrected(shop, before)
    with pytest.raises(Refusal, match="Somebody corrected this entry") as caught:
        corrected(shop, before)
    assert caught.value.code == "conflict"


def test_a_disputed_entry_is_graded_so(shop: Cast) -> None:
    assert corrected(shop, filtered(shop), reason="disputed").grade == "X"


@pytest.mark.parametrize("name", ["ada", "cora"])
def test_only_a_technician_corrects_and_withdraws(shop: Cast, name: str) -> None:
    before, by = filtered(shop), getattr(shop, name)
    with pytest.raises(Refusal) as caught:
        corrected(shop, before, by=by)
    assert caught.value.code == "forbidden"
    with pytest.raises(Refusal) as caught:
        withdraw_inspection(by=by, inspection=before, reason="mistyped", now=NOW)
    assert caught.value.code == "forbidden"


def test_an_inspection_stays_of_its_kind(shop: Cast) -> None:
    entry = parse_inspection(
        {"client_id": str(uuid.uuid4()), "kind": "leak", "result": "normal"}, units="us", zone="UTC", now=NOW
    )
    with pytest.raises(Refusal, match="stays of its kind"):
        correct_inspection(by=shop.tom, inspection=filtered(shop), entry=entry, reason="mistyped", now=NOW)


def test_what_a_withdrawn_inspection_closed_is_due_again(shop: Cast) -> None:
    look = inspected(shop.build_1, "leak", by=shop.tom, at=YESTERDAY)
    assess_build(shop.build_1.pk, NOW)
    due = DueItem.objects.get(rule="N6")
    assert (due.state, due.closed_by_root) == (DueState.DONE, look.root)
    withdraw_inspection(by=shop.tom, inspection=look, reason="duplicate", now=NOW)
    assess_build(shop.build_1.pk, NOW)
    due.refresh_from_db()
    assert due.state != DueState.DONE
    assert not Inspection.objects.current().exists()


def test_withdrawing_takes_its_oil_along_and_happens_once(shop: Cast) -> None:
    look = filtered(shop)
    withdraw_inspection(by=shop.tom, inspection=look, reason="duplicate", now=NOW)
    assert not OilEvent.objects.current().filter(kind="drain_fill").exists()
    with pytest.raises(Refusal) as caught:
        withdraw_inspection(by=shop.tom, inspection=look, reason="duplicate", now=NOW)
    assert caught.value.code == "conflict"


def test_a_stop_from_a_filter_stands_when_its_entry_is_withdrawn(shop: Cast) -> None:
    found = {"opened": True, "material": "chunk"}
    look = inspected(shop.build_1, "oil_filter", by=shop.tom, at=YESTERDAY, result="stop", results=found)
    stop = Finding.objects.get(rule="I2")  # written in the transaction of the entry itself
    assert (stop.get_severity_display(), stop.state) == ("stop", "open")
    assert not Finding.objects.filter(rule="I1").exists()
    withdraw_inspection(by=shop.tom, inspection=look, reason="mistyped", now=NOW)
    stop.refresh_from_db()
    assert stop.state == "open"


def test_a_filter_that_nobody_opened_is_kept_and_closes_nothing(shop: Cast) -> None:
    due = item(shop, "oil_filter")
    raw = {
        "client_id": str(uuid.uuid4()), "kind": "oil_filter", "result": "watch", "happened_at": YESTERDAY.isoformat(),
        "results": {"opened": False}, "drain_fill": {"filled": 7, "oil_kind": "mineral", "filter_changed": True},
    }  # fmt: skip
    entry = parse_inspection(raw, units="us", zone="UTC", now=NOW)
    complete_check(by=shop.tom, engine=shop.build_1.engine, entry=entry, due_item=due, now=NOW)
    due.refresh_from_db()
    assert due.state == "due"
    assess_build(shop.build_1.pk, NOW)
    assert DueItem.objects.get(rule="I6").title == "Filter not cut open"


@pytest.mark.parametrize(
    ("kind", "fitting"),
    [
        ("look_metal", ["oil_filter", "borescope"]),
        ("look_rings", ["borescope", "compression"]),
        ("cut_filter", ["oil_filter"]),
        ("look_cooling", ["baffle", "timing", "fuel_flow"]),
        ("look_induction", ["induction", "instruments"]),
        ("leak", ["leak", "torque"]),
        ("instruments", ["instruments"]),
        ("flight", []),
        ("something else", []),
    ],
)
def test_which_inspections_close_which_item(shop: Cast, kind: str, fitting: list[str]) -> None:
    assert [str(each.value) for each in fitting_kinds(item(shop, kind[:20]))] == fitting


def test_the_recheck_list_is_the_types_own(shop: Cast) -> None:
    revision = EngineTypeRevision.objects.get(pk=shop.build_1.type_revision_id)
    rows = [{"item": "cylinder base nuts", "low": 300, "high": 360}, {"item": "exhaust clamps"}, {"no": "item"}]
    newer = EngineTypeRevision.objects.create(
        engine_type=revision.engine_type, number=99, recheck=rows,
        **{f.attname: getattr(revision, f.attname) for f in revision._meta.concrete_fields
           if f.name not in ("id", "engine_type", "number", "recheck")},
    )  # fmt: skip
    shop.build_1.type_revision = newer
    shop.build_1.save()
    told = about_engine(shop.build_1.engine).recheck
    assert [(each.item, each.low, each.unit) for each in told] == [
        ("cylinder base nuts", 300.0, "lbf·in"),
        ("exhaust clamps", None, "lbf·in"),
    ]


class TestWaiver:
    def test_a_manager_waives_with_a_reason_and_it_stays_waived(self, shop: Cast) -> None:
        assess_build(shop.build_1.pk, NOW)
        due = DueItem.objects.get(rule="N6")
        waive_due(by=shop.cora, due_item=due, reason="done at the field, paper lost", now=NOW)
        assess_build(shop.build_1.pk, NOW + timedelta(days=2))
        due.refresh_from_db()
        assert (due.state, due.waived_by, due.waived_reason) == ("waived", shop.cora, "done at the field, paper lost")

    def test_nobody_else_waives_and_nobody_without_a_reason(self, shop: Cast) -> None:
        due = item(shop, "leak")
        with pytest.raises(Refusal) as caught:
            waive_due(by=shop.tom, due_item=due, reason="so", now=NOW)
        assert caught.value.code == "forbidden"
        with pytest.raises(Refusal, match="needs a reason"):
            waive_due(by=shop.cora, due_item=due, reason="  ", now=NOW)

    def test_what_is_closed_is_not_waived(self, shop: Cast) -> None:
        due = item(shop, "leak")
        DueItem.objects.filter(pk=due.pk).update(state="done")
        with pytest.raises(Refusal) as caught:
            waive_due(by=shop.cora, due_item=due, reason="so", now=NOW)
        assert caught.value.code == "conflict"
