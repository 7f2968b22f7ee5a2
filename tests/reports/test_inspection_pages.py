"""Pages of inspections: enter, look at beside the last one, correct, withdraw; what was typed is never lost."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client

from breakin.assess import assess_build
from breakin.models import DueItem, DueState, Finding, OilEvent
from engines.models import EngineTypeRevision, Inspection, InspectionKind, Photo
from reports.inspect import words
from tests import factories
from tests.factories import NOW, Cast
from tests.inspected import inspected, photographed, picture

pytestmark = pytest.mark.usefixtures("today")
AT = NOW - timedelta(days=5)


def typed(**more: str) -> dict[str, Any]:
    return {"client_id": str(uuid4()), "local_date": "2026-06-15", "local_time": "05:30", "rows": "4", **more}


def compression(**more: str) -> dict[str, Any]:
    readings = {f"readings_{number}": psi for number, psi in zip("1234", ("74", "72", "75", "70"), strict=True)}
    return typed(**{"input_psi": "80", **readings, "hot": "yes", "result": "normal", **more})


POSTED: dict[str, dict[str, str]] = {
    "oil_check": {"level": "7.25", "minutes_since_shutdown": "10-30", "level_ground": "yes", "wiped_twice": "yes"},
    "oil_filter": {
        "opened": "yes", "material": "fuzz", "amount": "trace", "filled": "7", "oil_kind": "mineral",
        "filter_changed": "yes", "result": "normal",
    },
    "leak": {"spot_1_where": "seal", "spot_1_grade": "1", "breather": "1", "torque_done": "yes", "result": "normal"},
    "compression": {k: v for k, v in compression().items() if k not in ("client_id", "local_date", "local_time")},
    "borescope": {**{f"grades_{n}": "0" for n in "1234"}, "signs_2": "hatch", "seen_2": "fine", "result": "normal"},
    "oil_analysis": {"ppm_fe": "120", "ppm_cu": "30", "hours_on_oil": "10", "viscosity_cst": "19", "result": "normal"},
    "torque": {"item_1_item": "exhaust clamps", "item_1_found": "45", "item_1_mark": "yes", "result": "normal"},
    "fuel_flow": {"full_gph": "16,2", "gauge": "G-3", "gauge_until": "2026-12-01", "result": "normal"},
    "instruments": {"rpm_error": "20", "result": "normal"},
    "preservation": {"expires_on": "2099-01-01", "result": "normal"},
    "baffle": {
        "found_seals": "gaps", "left_seals": "tight", "where": "behind no. 4", "between": "yes", "inlets_free": "yes",
        "cowl_flaps": "none_fitted", "action": "new seal", "result": "normal",
    },
    "timing": {"plate_deg": "25", "found_left": "27", "set_left": "25", "set_right": "25", "result": "normal"},
    "static_rpm": {
        "low_rpm": "2250", "high_rpm": "2400", "found_rpm": "2180", "left_rpm": "2310", "idle_rpm": "650",
        "drop_left": "80", "drop_right": "95", "into_wind": "yes", "result": "normal",
    },
    "induction": {
        "ambient": "29,2", "stopped_map": "29.2", "found_map": "26.5", "left_map": "28.7", "alternate_air": "closes",
        "leak": "mended", "where": "hose clamp no. 3", "result": "normal",
    },
}  # fmt: skip
KEPT: dict[str, dict[str, Any]] = {
    "oil_filter": {"material": "fuzz"},
    "leak": {"spots": [{"where": "seal", "grade": 1}], "breather": 1},
    "compression": {"readings": {"1": 74.0, "2": 72.0, "3": 75.0, "4": 70.0}},
    "borescope": {"signs": {"2": ["hatch"]}, "seen": {"2": "fine"}},
    "oil_analysis": {"ppm": {"fe": 120.0, "cu": 30.0}},
    "torque": {"items": [{"item": "exhaust clamps", "found": "45", "mark": True}]},
    "fuel_flow": {"full_gph": 16.2},
    "baffle": {"found_seals": "gaps", "left_seals": "tight", "between": True},
    "timing": {"plate_deg": 25.0, "found_left": 27.0, "set_left": 25.0, "set_right": 25.0},
    "static_rpm": {"found_rpm": 2180.0, "left_rpm": 2310.0, "drop_right": 95.0},
    "induction": {"ambient_inhg": 29.2, "left_map_inhg": 28.7, "leak": "mended", "where": "hose clamp no. 3"},
}


def enter(client: Client, shop: Cast, kind: str, data: dict[str, Any]) -> Any:
    return client.post(f"/engines/{shop.build_1.engine_id}/inspect/{kind}/", data)


@pytest.mark.parametrize("kind", InspectionKind.values)
def test_every_kind_has_a_form_that_enters_it(shop: Cast, as_person, kind: str) -> None:
    client = as_person(shop.tom)
    empty = client.get(f"/engines/{shop.build_1.engine_id}/inspect/{kind}/")
    answer = enter(client, shop, kind, typed(**POSTED[kind]))
    assert empty.status_code == 200
    assert answer.status_code == 302, answer.content.decode()
    made = Inspection.objects.get()
    assert (made.kind, made.performed_by) == (kind, shop.tom)
    assert {name: made.results[name] for name in KEPT.get(kind, {})} == KEPT.get(kind, {})
    page = client.get(answer.headers["location"])
    assert f'content="inspect-{shop.build_1.engine_id}-{kind}"' in page.content.decode()  # the draft is let go


@pytest.mark.parametrize("kind", [kind for kind in InspectionKind.values if kind != "preservation"])
def test_a_correction_begins_with_everything_that_was_typed(shop: Cast, as_person, kind: str) -> None:
    client = as_person(shop.tom)
    enter(client, shop, kind, typed(**POSTED[kind]))
    before = Inspection.objects.get()
    page = client.get(f"/inspections/{before.pk}/correct/").content.decode()
    begun = dict(re.findall(r'<input type="(?:text|date|time|hidden)" name="([^"]+)" value="([^"]*)"', page))
    chosen = re.findall(r'<input type="(?:radio|checkbox)" name="([^"]+)" value="([^"]*)"[^>]*\bchecked', page)
    begun |= dict(re.findall(r'<input name="([^"]+)"[^>]*value="([^"]*)"', page))
    shown = {**begun, **dict(chosen)}
    for name, value in POSTED[kind].items():
        if name != "rows":
            assert shown.get(name) == value, (name, shown)


def test_a_doubtful_value_is_kept_and_asked_for_a_reason(shop: Cast, as_person) -> None:
    client, sent = as_person(shop.tom), compression(readings_2="55")
    asked = enter(client, shop, "compression", sent)
    page = asked.content.decode()
    assert asked.status_code == 422
    assert "31 % lost" in page
    assert re.search(r'name="readings_2"[^>]*value="55"', page)
    assert 'name="readings_2_was" value="55 psi"' in page
    sure = {"readings_2_was": "55 psi", "readings_2_sure": "measured_twice"}
    assert enter(client, shop, "compression", {**sent, **sure}).status_code == 302
    made = Inspection.objects.get()
    assert made.results["readings"]["2"] == 55
    assert "readings 2 (measured twice)" in client.get(f"/inspections/{made.pk}/").content.decode()


def test_a_reason_holds_for_the_value_it_was_given_for(shop: Cast, as_person) -> None:
    sure = {"readings_2_was": "55 psi", "readings_2_sure": "measured_twice"}
    answer = enter(as_person(shop.tom), shop, "compression", compression(readings_2="45", **sure))
    assert answer.status_code == 422
    assert not Inspection.objects.exists()


def test_what_is_refused_comes_back_as_typed_in_its_field(shop: Cast, as_person) -> None:
    answer = enter(as_person(shop.tom), shop, "compression", compression(readings_3="seventy", tester="T-4"))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert re.search(r'name="readings_3"[^>]*value="seventy"', page)
    assert re.search(r'name="tester"[^>]*value="T-4"', page)
    assert re.search(r'id="id_readings_3_error"', page)


def test_a_tool_past_its_date_is_refused(shop: Cast, as_person) -> None:
    data = typed(**{**POSTED["torque"], "tool_until": "2026-06-14"})
    page = enter(as_person(shop.tom), shop, "torque", data).content.decode()
    assert "The calibration of the torque tool ended on 2026-06-14" in page
    assert not Inspection.objects.exists()


def test_more_rows_keep_what_is_typed_and_judge_nothing(shop: Cast, as_person) -> None:
    answer = enter(as_person(shop.tom), shop, "leak", typed(spot_1_where="seal", more_rows="1"))
    page = answer.content.decode()
    assert answer.status_code == 200
    assert 'name="spot_8_where"' in page
    assert re.search(r'name="spot_1_where"[^>]*value="seal"', page)


def test_a_row_left_empty_leaves_no_gap_and_its_neighbour_is_named_rightly(shop: Cast, as_person) -> None:
    places = {"spot_3_where": "seal", "spot_4_where": "hose", "spot_4_grade": "1"}
    page = enter(as_person(shop.tom), shop, "leak", typed(**places, result="normal")).content.decode()
    assert 'id="id_spot_3_grade_error"' in page
    assert 'id="id_spot_1_grade_error"' not in page


def test_an_item_of_the_list_that_was_not_looked_at_is_not_entered(shop: Cast, as_person) -> None:
    kind = EngineTypeRevision.objects.get(pk=shop.build_1.type_revision_id)
    values = {
        f.attname: getattr(kind, f.attname)
        for f in kind._meta.concrete_fields
        if f.name not in ("id", "engine_type", "number", "recheck")
    }
    rows = [{"item": "cylinder base nuts", "low": 300, "high": 360}, {"item": "exhaust clamps"}]
    shop.build_1.type_revision = EngineTypeRevision.objects.create(
        engine_type=kind.engine_type, number=9, recheck=rows, **values
    )
    shop.build_1.save()
    client = as_person(shop.tom)
    page = client.get(f"/engines/{shop.build_1.engine_id}/inspect/torque/").content.decode()
    assert "By the list 300 to 360 lbf·in." in page
    listed = {"item_1_item": "cylinder base nuts", "item_2_item": "exhaust clamps", "item_3_item": "spinner"}
    enter(client, shop, "torque", typed(**listed, item_1_found="340", result="normal"))
    assert [each["item"] for each in Inspection.objects.get().results["items"]] == ["cylinder base nuts", "spinner"]


def test_without_a_list_of_the_type_the_last_recheck_is_the_list(shop: Cast, as_person) -> None:
    inspected(shop.build_1, "torque", by=shop.tom, at=AT)
    page = as_person(shop.tom).get(f"/engines/{shop.build_1.engine_id}/inspect/torque/").content.decode()
    assert re.search(r'name="item_1_item" value="cylinder base nuts"', page)


class TestBesideTheLast:
    def test_the_form_shows_the_last_value_at_each_field(self, shop: Cast, as_person) -> None:
        inspected(shop.build_1, "compression", by=shop.tom, at=AT)
        page = as_person(shop.tom).get(f"/engines/{shop.build_1.engine_id}/inspect/compression/").content.decode()
        assert "Last time: 72\u202fpsi, 10\u202f% lost." in page

    def test_the_page_says_what_changed(self, shop: Cast, as_person) -> None:
        inspected(shop.build_1, "compression", by=shop.tom, at=AT)
        found = {"input_psi": 80, "readings": {"1": 74, "2": 68, "3": 77, "4": 70}, "hot": True}
        look = inspected(shop.build_1, "compression", by=shop.tom, at=NOW - timedelta(days=1), results=found)
        page = as_person(shop.tom).get(f"/inspections/{look.pk}/").content.decode()
        assert "4\u202fpsi less, worse" in page
        assert "2\u202fpsi more, better" in page
        assert "Against it: better and worse." in page

    def test_photos_of_both_stand_side_by_side(self, shop: Cast, as_person) -> None:
        first = inspected(shop.build_1, "oil_filter", by=shop.tom, at=AT)
        look = inspected(shop.build_1, "oil_filter", by=shop.tom, at=NOW - timedelta(days=1))
        photos = [photographed(each, by=shop.tom, at=NOW) for each in (first, look)]
        page = as_person(shop.tom).get(f"/inspections/{look.pk}/").content.decode()
        assert all(f"/photos/{photo.pk}/small/" in page for photo in photos)
        assert page.index("This time") < page.index(f"/photos/{photos[1].pk}/small/") < page.index("Last time</h3>")

    def test_a_look_is_compared_with_the_one_before_it_and_not_with_a_later_one(self, shop: Cast, as_person) -> None:
        look = inspected(shop.build_1, "borescope", by=shop.tom, at=AT)
        inspected(shop.build_1, "borescope", by=shop.tom, at=NOW - timedelta(days=1))
        assert "The first of its kind" in as_person(shop.tom).get(f"/inspections/{look.pk}/").content.decode()


@pytest.mark.parametrize(
    ("kind", "before", "now", "trend"),
    [
        ("oil_filter", {"material": "fuzz", "amount": "trace"}, {"material": "flake", "amount": "trace"}, "worse"),
        ("oil_filter", {"material": "flake"}, {"material": "fuzz"}, "better"),
        ("oil_filter", {"material": "fuzz"}, {"material": "fuzz"}, "the same"),
        ("borescope", {"grades": {"1": 0}}, {"grades": {"1": 1}}, "worse"),
        ("leak", {"spots": [{"where": "seal", "grade": 2}]}, {}, "better"),
        ("leak", {"spots": [{"where": "seal", "grade": 2}]}, {"spots": [{"where": "seal", "grade": 1}]}, "better"),
        ("oil_analysis", {"ppm": {"fe": 120.0}}, {"ppm": {"fe": 60.0}}, "changed"),
        ("torque", {"tool": "W-2"}, {}, "nothing to compare"),
    ],
)
def test_how_a_look_stands_to_the_last_one(kind: str, before: dict[str, Any], now: dict[str, Any], trend: str) -> None:
    pair = (words.said(kind, each, "us") for each in (before, now))
    assert words.trend(words.changes(*pair)) == trend


def test_a_stop_shows_on_the_page_that_answers_the_entry(shop: Cast, as_person) -> None:
    factories.flown(shop.build_1, 1.2, at=AT)
    client = as_person(shop.tom)
    data = typed(**{**POSTED["oil_filter"], "material": "sliver", "longest_mm": "2,5", "result": "stop"})
    answer = enter(client, shop, "oil_filter", data)
    page = client.get(answer.headers["location"]).content.decode()
    assert "a sliver of 2.5 mm, over 2 mm" in page
    assert "Do not fly until a technician" in page


def test_the_oil_of_a_check_is_kept_and_shown(shop: Cast, as_person) -> None:
    client = as_person(shop.tom)
    answer = enter(client, shop, "oil_check", typed(**POSTED["oil_check"]))
    assert OilEvent.objects.get().level_qt == 7.25
    assert "7.25" in client.get(answer.headers["location"]).content.decode()


class TestCorrect:
    def test_a_correction_writes_a_newer_version(self, shop: Cast, as_person) -> None:
        before = inspected(shop.build_1, "compression", by=shop.tom, at=AT)
        client = as_person(shop.tom)
        answer = client.post(f"/inspections/{before.pk}/correct/", compression(readings_4="71", reason="mistyped"))
        assert answer.status_code == 302, answer.content.decode()
        newer = Inspection.objects.current().get()
        assert (newer.corrects_id, newer.results["readings"]["4"]) == (before.pk, 71)
        old = client.get(f"/inspections/{before.pk}/").content.decode()
        assert "Corrected since" in old
        assert f"/inspections/{before.pk}/correct/" not in old
        assert client.get(f"/inspections/{before.pk}/correct/").headers["location"].endswith(f"/{newer.pk}/correct/")

    def test_without_a_reason_nothing_is_written(self, shop: Cast, as_person) -> None:
        before = inspected(shop.build_1, "compression", by=shop.tom, at=AT)
        answer = as_person(shop.tom).post(f"/inspections/{before.pk}/correct/", compression(readings_4="71"))
        assert answer.status_code == 422
        assert Inspection.objects.count() == 1

    def test_withdrawn_it_counts_no_longer_and_stays_readable(self, shop: Cast, as_person) -> None:
        look = inspected(shop.build_1, "borescope", by=shop.tom, at=AT)
        client = as_person(shop.tom)
        assert client.post(f"/inspections/{look.pk}/correct/", {"withdraw": "1"}).status_code == 422
        sent = {"withdraw": "1", "withdraw-reason": "duplicate", "withdraw-sure": "on"}
        assert client.post(f"/inspections/{look.pk}/correct/", sent).status_code == 302
        assert not Inspection.objects.current().exists()
        page = client.get(f"/engines/{shop.build_1.engine_id}/").content.decode()
        assert "Borescope: normal" in page
        assert "withdrawn: duplicate" in page.lower()


class TestEnginePage:
    def test_each_kind_stands_with_its_newest_look_and_its_trend(self, shop: Cast, as_person) -> None:
        inspected(shop.build_1, "borescope", by=shop.tom, at=AT)
        worse = {"grades": {"1": 1, "2": 0, "3": 1, "4": 0}}
        look = inspected(shop.build_1, "borescope", by=shop.tom, at=NOW - timedelta(days=1), results=worse)
        page = as_person(shop.tom).get(f"/engines/{shop.build_1.engine_id}/").content.decode()
        row = page[page.index(f'<a href="/inspections/{look.pk}/">Borescope</a>') :][:900]
        assert "2 in all" in row
        assert ">worse<" in row
        assert f"/engines/{shop.build_1.engine_id}/inspect/borescope/" in row

    def test_an_owner_sees_what_was_found_and_no_way_to_enter(self, shop: Cast, as_person) -> None:
        inspected(shop.build_1, "borescope", by=shop.tom, at=AT)
        page = as_person(shop.ada).get(f"/engines/{shop.build_1.engine_id}/").content.decode()
        assert "worst no. 3, grade 1" in page
        assert "/inspect/" not in page

    def test_a_due_item_leads_to_its_form_and_a_manager_waives_it(self, shop: Cast, as_person) -> None:
        factories.flown(shop.build_1, 1.2, at=AT)
        assess_build(shop.build_1.pk, NOW)
        item = DueItem.objects.get(rule="N6")
        assert f"/due/{item.pk}/complete/" in as_person(shop.tom).get("/today/").content.decode()
        client = as_person(shop.cora)
        assert f"/due/{item.pk}/waive/" in client.get(f"/engines/{shop.build_1.engine_id}/").content.decode()
        assert client.post(f"/due/{item.pk}/waive/", {"reason": ""}).status_code == 422
        assert client.post(f"/due/{item.pk}/waive/", {"reason": "done elsewhere"}).status_code == 302
        item.refresh_from_db()
        assert item.state == DueState.WAIVED


def test_a_due_item_that_two_kinds_close_offers_both(shop: Cast, as_person) -> None:
    item = DueItem.objects.create(
        build=shop.build_1, rule="I3", occurrence="x", rule_version=1, kind="look_rings", title="Inspect soon",
        text="Look.", state="due", opened_at=AT,
    )  # fmt: skip
    client = as_person(shop.tom)
    assert f"/due/{item.pk}/complete/?kind=compression" in client.get(f"/due/{item.pk}/complete/").content.decode()
    answer = client.post(f"/due/{item.pk}/complete/?kind=compression", compression())
    assert answer.status_code == 302
    assert Inspection.objects.get().kind == "compression"


def test_a_filter_that_was_not_opened_leaves_its_item_open_and_says_so(shop: Cast, as_person) -> None:
    item = DueItem.objects.create(
        build=shop.build_1, rule="N2", occurrence="first", rule_version=1, kind="oil_filter", title="First oil",
        text="Change it.", state="due", opened_at=AT,
    )  # fmt: skip
    shut = {k: v for k, v in POSTED["oil_filter"].items() if k not in ("material", "amount")}
    answer = as_person(shop.tom).post(f"/due/{item.pk}/complete/", typed(**{**shut, "opened": "no"}), follow=True)
    item.refresh_from_db()
    assert item.state == "due"
    assert "It stays open: a filter that was not opened" in answer.content.decode()


class TestPhotos:
    def test_they_come_with_the_form(self, shop: Cast, as_person) -> None:
        data = typed(**POSTED["oil_filter"], photos=[picture(), picture(colour=(1, 2, 3))], caption="pleats")  # type: ignore[arg-type]
        answer = enter(as_person(shop.tom), shop, "oil_filter", data)
        assert answer.status_code == 302
        assert [photo.root for photo in Photo.objects.all()] == [Inspection.objects.get().root] * 2
        assert not Photo.objects.first().for_customer  # type: ignore[union-attr]

    def test_one_that_is_no_picture_loses_nothing_else(self, shop: Cast, as_person) -> None:
        bad = picture()
        bad.name = "a.jpg"
        data = typed(**POSTED["oil_filter"], photos=[type(bad)(b"words", name="a.jpg"), picture()])  # type: ignore[arg-type]
        answer = as_person(shop.tom).post(f"/engines/{shop.build_1.engine_id}/inspect/oil_filter/", data, follow=True)
        assert Inspection.objects.exists()
        assert Photo.objects.count() == 1
        assert "is no picture that can be read" in answer.content.decode()

    def test_a_picture_is_served_as_one_and_runs_nothing(self, shop: Cast, as_person) -> None:
        look = inspected(shop.build_1, "oil_filter", by=shop.tom, at=AT)
        photo = photographed(look, by=shop.tom, at=NOW)
        answer = as_person(shop.ada).get(f"/photos/{photo.pk}/")
        assert b"".join(answer)[:3] == b"\xff\xd8\xff"
        assert answer.headers["Content-Type"] == "image/jpeg"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert "sandbox" in answer.headers["Content-Security-Policy"]
        assert "no-store" in answer.headers["Cache-Control"]

    def test_one_for_the_shop_only_is_not_the_owners(self, shop: Cast, as_person) -> None:
        look = inspected(shop.build_1, "oil_filter", by=shop.tom, at=AT)
        hidden = photographed(look, by=shop.tom, at=NOW, for_customer=False)
        client = as_person(shop.ada)
        assert client.get(f"/photos/{hidden.pk}/small/").status_code == 404
        assert f"/photos/{hidden.pk}/" not in client.get(f"/engines/{shop.build_1.engine_id}/").content.decode()
        assert f"/photos/{hidden.pk}/" not in client.get(f"/inspections/{look.pk}/").content.decode()

    def test_they_stand_in_the_timeline_until_taken_away(self, shop: Cast, as_person) -> None:
        look = inspected(shop.build_1, "oil_filter", by=shop.tom, at=AT)
        photo = photographed(look, by=shop.tom, at=NOW)
        client = as_person(shop.tom)
        assert f"/photos/{photo.pk}/small/" in client.get(f"/engines/{shop.build_1.engine_id}/").content.decode()
        assert client.post(f"/photos/{photo.pk}/withdraw/", {"reason": "a face in it"}).status_code == 302
        assert f"/photos/{photo.pk}/small/" not in client.get(f"/engines/{shop.build_1.engine_id}/").content.decode()
        assert client.get(f"/photos/{photo.pk}/").status_code == 404

    def test_an_owner_adds_one_to_the_own_oil_entry(self, shop: Cast, as_person) -> None:
        factories.flown(shop.build_1, 1.2, at=AT, level_qt=6)
        event = OilEvent.objects.get(kind="reading")
        client = as_person(shop.ada)
        assert client.post(f"/oil/{event.pk}/photos/", {"photos": [picture()]}).status_code == 302
        photo = Photo.objects.get()
        assert (photo.about, photo.root, photo.for_customer) == ("oil", event.root, True)
        assert client.post(f"/oil/{event.pk}/photos/", {"caption": "nothing"}).status_code == 422
        assert as_person(shop.ben).get(f"/oil/{event.pk}/photos/").status_code == 404

    def test_a_flight_has_photos_too(self, shop: Cast, as_person) -> None:
        flight = factories.flown(shop.build_1, 1.2, at=AT).flight
        assert as_person(shop.ada).post(f"/flights/{flight.pk}/photos/", {"photos": [picture()]}).status_code == 302
        assert Photo.objects.get().engine_id == shop.build_1.engine_id


def test_the_stop_of_a_filter_is_one_finding(shop: Cast, as_person) -> None:
    factories.flown(shop.build_1, 1.2, at=AT)
    data = typed(**{**POSTED["oil_filter"], "material": "chunk", "result": "stop"})
    enter(as_person(shop.tom), shop, "oil_filter", data)
    assess_build(shop.build_1.pk, NOW)
    assert list(Finding.objects.filter(severity=4).values_list("rule", flat=True)) == ["I2"]
