"""The engine types: their newest numbers, mistyped points of a chart, entering and revising them with a look first."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from django.test import Client

from engines.models import EngineType, EngineTypeRevision
from shop.models import AuditEvent, User
from tests import factories
from tests.reports.acts import error_at, value_of
from tests.reports.type_forms import FIXED, GRID, a_type, keep, looked

pytestmark = pytest.mark.django_db
CHART = Path(__file__).parents[2] / "reports" / "demo" / "charts" / "TAV-4E.json"
NEW = "/shop/types/new/"


@pytest.fixture
def manager(shop: factories.Cast) -> Any:
    client = Client()
    assert shop.cora.user is not None
    client.force_login(shop.cora.user)
    return client


def chart() -> dict[str, Any]:
    read: dict[str, Any] = json.loads(CHART.read_text())
    return read


def page(client: Client) -> str:
    return client.get("/shop/types/").content.decode()


class TestList:
    def test_a_type_shows_its_newest_revision(self, manager: Any) -> None:
        factories.type_revision("TAV-9", sump_full_qt=8)
        factories.type_revision("TAV-9", sump_full_qt=11, source="bench book, second issue")
        text = page(manager)
        assert "bench book, second issue" in text
        assert '<td class="num" data-label="Sump, qt">11</td>' in text

    def test_a_type_without_numbers_says_so(self, manager: Any) -> None:
        EngineType.objects.create(maker="Tavish (invented)", designation="TAV-9")
        assert "No numbers yet" in page(manager)

    def test_a_smooth_chart_raises_no_doubt(self, manager: Any) -> None:
        factories.type_revision("TAV-9", chart=chart())
        text = page(manager)
        assert "6 engine speeds by" in text
        assert "to compare with the document" not in text

    def test_a_mistyped_point_is_named_with_its_place(self, manager: Any) -> None:
        wrong = chart()
        wrong["hp"][2][3] += 7
        revision = factories.type_revision("TAV-9", chart=wrong)
        text = page(manager)
        assert "to compare with the document" in text
        named = f"row 3: {wrong['hp'][2][3]:g} hp at {wrong['rpm'][2]:,.0f} rpm / {wrong['map_inhg'][3]:g} inHg is 7 hp"
        assert named in text
        alone = manager.get(f"/shop/types/{revision.engine_type_id}/").content.decode()
        assert alone.count('class="ring"') == 1
        assert named.capitalize()[:20] in alone

    def test_a_chart_that_cannot_be_read_says_where(self, manager: Any) -> None:
        wrong = chart()
        wrong["hp"][1][2] = 1.0
        factories.type_revision("TAV-9", chart=wrong)
        assert f"chart hp at {wrong['rpm'][1]:g} rpm" in page(manager)


class TestEntering:
    def test_it_is_looked_at_with_its_chart_before_it_is_kept(self, shop: factories.Cast, manager: Any) -> None:
        look = manager.post(NEW, a_type())
        text = look.content.decode()
        assert look.status_code == 200
        assert "Not kept yet: look at it first." in text
        assert 'class="chartpicture"' in text
        assert "was taken as full throttle" in text
        assert not EngineType.objects.filter(designation="TAV-4N").exists()

        kept = manager.post(NEW, {**a_type(), "looked": looked(look)})
        revision = EngineTypeRevision.objects.get(engine_type__designation="TAV-4N")
        assert kept.headers["location"] == f"/shop/types/{revision.engine_type_id}/"
        assert (revision.number, revision.approved_by, revision.compression_ratio) == (1, shop.cora, 8.5)
        assert revision.chart is not None
        assert revision.chart["hp"][0] == [84, 98.4, 110]
        assert revision.cht_limit_source == "Operator's manual, issue 4"
        assert AuditEvent.objects.filter(act="revise_type", actor=shop.cora).count() == 1

    def test_what_was_changed_after_the_look_is_shown_again(self, manager: Any) -> None:
        mark = looked(manager.post(NEW, a_type()))
        again = manager.post(NEW, {**a_type(rated_hp="181"), "looked": mark})
        assert again.status_code == 200
        assert "Not kept yet" in again.content.decode()
        assert not EngineType.objects.filter(designation="TAV-4N").exists()

    def test_a_mark_made_up_by_the_sender_keeps_nothing(self, manager: Any) -> None:
        manager.post(NEW, {**a_type(), "looked": "0" * 64})
        assert not EngineType.objects.filter(designation="TAV-4N").exists()

    def test_a_cell_that_is_no_number_is_named_and_what_was_pasted_stays(self, manager: Any) -> None:
        answer = manager.post(NEW, a_type(grid=GRID.replace("119", "24,x")))
        assert answer.status_code == 422
        assert "row 3, column MP 24: “24,x” is not a number" in error_at(answer, "grid")
        assert "24,x\n2450" in answer.content.decode()

    def test_a_chart_that_does_not_rise_is_refused_and_drawn_with_its_ring(self, manager: Any) -> None:
        answer = manager.post(NEW, a_type(grid=GRID.replace("113", "13")))
        text = answer.content.decode()
        assert answer.status_code == 422
        assert "row 4, column MP 22.5: 13 hp is not more than" in text
        assert 'class="ring"' in text
        assert "Row 4, column MP 22.5: 13 hp at 2,450 rpm" in text

    def test_a_doubtful_point_is_kept_only_when_it_is_confirmed_with_a_reason(self, manager: Any) -> None:
        typed = a_type(grid=GRID.replace("107", "99.5"))
        asked = manager.post(NEW, typed)
        assert asked.status_code == 422
        assert "one point leaves its neighbours" in asked.content.decode()
        confirmed = {**typed, "confirmed": ["grid"]}
        assert "Say in a few words why" in error_at(manager.post(NEW, confirmed), "unusual_reason")
        keep(manager, NEW, {**confirmed, "unusual_reason": "It stands in the document like this."})
        revision = EngineTypeRevision.objects.get(engine_type__designation="TAV-4N")
        assert revision.unusual_reason == "It stands in the document like this."
        assert "leaves its neighbours" in revision.unusual[0]

    @pytest.mark.parametrize(
        ("changed", "field", "said"),
        [
            ({"designation": " "}, "designation", "exactly as on the data plate"),
            ({"designation": "tav-4e"}, "designation", "is in the book already"),
            ({"rated_hp": "18O"}, "rated_hp", "“18O” is not a number from 20 to 3800"),
            ({"compression_ratio": "85"}, "compression_ratio", "from 5 to 13"),
            ({"cylinders": "19"}, "cylinders", "from 1 to 18"),
            ({"source": ""}, "source", "Name the document"),
            ({"source_date": "soon"}, "source_date", "“soon” is not a date"),
            ({"cht_limit_source": ""}, "cht_limit_source", "A limit without its document"),
            ({"cht_limit_source_date": ""}, "cht_limit_source_date", "the date is missing"),
            ({"cht_watch_degf": "510"}, "cht_limit_degf", "less than “Our watch line"),
            ({"takeoff_ff_low_gph": "2"}, "takeoff_ff_low_gph", "can't be for 180 hp"),
            ({"sump_full_qt": "99"}, "sump_full_qt", "outside 1 to 60 qt"),
            ({"cooling": "liquid"}, "log_only", "Mark it as log only"),
            ({"cylinder_map": "1 2\n3 3"}, "cylinder_map", "each of the numbers 1 to 4 once"),
            ({"recheck": "Magneto timing; about 25"}, "recheck", "Line 1: “about 25” is not a number"),
            ({"chart_kind": "none"}, "chart_kind", "A chart was pasted below"),
            ({"chart_revision": ""}, "chart_revision", "can't be compared"),
            ({"line_is_last": None}, "full_throttle", "line is missing"),
        ],
    )
    def test_what_cannot_be_is_refused_at_its_field_with_what_was_typed(
        self, manager: Any, changed: dict[str, Any], field: str, said: str
    ) -> None:
        typed = a_type(**changed)
        answer = keep(manager, NEW, typed)
        assert answer.status_code == 422, answer.content.decode()
        assert said in error_at(answer, field)
        assert value_of(answer, "numbering") == typed.get("numbering", "")
        assert not EngineType.objects.filter(designation="TAV-4N").exists()

    def test_an_unusual_value_is_asked_about_and_kept_with_its_reason(self, manager: Any) -> None:
        typed = a_type(compression_ratio="10.5", cylinders="5")
        asked = manager.post(NEW, typed)
        assert asked.status_code == 422
        assert "10.5 :1 is outside the usual 6.5 to 9" in asked.content.decode()
        sure = {**typed, "confirmed": ["compression_ratio", "cylinders"], "unusual_reason": "An experimental engine."}
        assert keep(manager, NEW, sure).status_code == 302
        assert len(EngineTypeRevision.objects.get(engine_type__designation="TAV-4N").unusual) == 2

    def test_values_are_read_in_the_unit_that_was_chosen(self, manager: Any) -> None:
        keep(manager, NEW, a_type(cht_limit_degf="260", cht_limit_degf_unit="degC", sump_full_qt="7,6 L"))
        revision = EngineTypeRevision.objects.get(engine_type__designation="TAV-4N")
        assert revision.cht_limit_degf == pytest.approx(500)
        assert revision.sump_full_qt == pytest.approx(8.03, abs=0.01)

    def test_a_fixed_pitch_list_and_no_chart_at_all_are_kept(self, manager: Any) -> None:
        keep(manager, NEW, a_type(grid=FIXED, chart_kind="fixed_pitch", prop_control="fixed"))
        kept = EngineTypeRevision.objects.get(engine_type__designation="TAV-4N").chart
        assert kept is not None
        assert kept["points"][1]["pct"] == 75
        keep(manager, NEW, a_type(designation="TAV-4X", grid="", chart_kind="none"))
        assert EngineTypeRevision.objects.get(engine_type__designation="TAV-4X").chart is None


class TestRevising:
    def test_a_revision_is_a_new_row_and_open_builds_keep_theirs(self, shop: factories.Cast, manager: Any) -> None:
        kind = shop.build_1.engine.engine_type
        old = kind.revisions.get()
        address = f"/shop/types/{kind.pk}/revise/"
        typed = a_type(maker=None, designation=None, sump_full_qt="9", after="1")
        look = manager.post(address, typed)
        assert "What differs from revision 1" in look.content.decode()
        assert manager.post(address, {**typed, "looked": looked(look)}).status_code == 302

        old.refresh_from_db()
        assert old.sump_full_qt == 8
        assert list(kind.revisions.order_by("number").values_list("sump_full_qt", flat=True)) == [8, 9]
        shop.build_1.refresh_from_db()
        assert shop.build_1.type_revision == old
        text = manager.get(f"/shop/types/{kind.pk}/").content.decode()
        assert "Open builds that keep it" in text
        assert shop.build_1.number in text
        assert "No build uses it." in text

    def test_the_form_begins_with_the_newest_numbers_and_its_chart(self, manager: Any) -> None:
        keep(manager, NEW, a_type(recheck="Magneto timing; 24; 26; °", cylinder_map="2 1\n4 3"))
        kind = EngineType.objects.get(designation="TAV-4N")
        begun = manager.get(f"/shop/types/{kind.pk}/revise/")
        text = begun.content.decode()
        assert value_of(begun, "rated_hp") == "180"
        assert "Magneto timing; 24; 26; °" in text
        assert "2100\t84\t98.4\t110" in text

    def test_a_second_press_makes_no_third_revision(self, manager: Any) -> None:
        keep(manager, NEW, a_type())
        kind = EngineType.objects.get(designation="TAV-4N")
        address = f"/shop/types/{kind.pk}/revise/"
        typed = a_type(maker=None, designation=None, sump_full_qt="9", after="1")
        signed = {**typed, "looked": looked(manager.post(address, typed))}
        manager.post(address, signed)
        manager.post(address, signed)
        assert kind.revisions.count() == 2


class TestWho:
    def test_a_technician_looks_and_only_the_manager_enters(self, shop: factories.Cast, as_person: Any) -> None:
        client = as_person(shop.tom)
        kind = shop.build_1.engine.engine_type
        assert client.get(f"/shop/types/{kind.pk}/").status_code == 200
        assert "Enter an engine type" not in client.get("/shop/types/").content.decode()
        assert client.get(NEW).status_code == 403
        assert client.post(f"/shop/types/{kind.pk}/revise/", a_type()).status_code == 403

    def test_the_records_take_no_chart_that_nobody_checked(self, shop: factories.Cast) -> None:
        root = Client()
        root.force_login(User.objects.create_superuser("root@example.org", "a good long password"))
        assert root.get("/admin/engines/enginetyperevision/add/").status_code == 403
        revision = shop.build_1.type_revision
        shown = root.get(f"/admin/engines/enginetyperevision/{revision.pk}/change/").content.decode()
        assert f'href="/shop/types/{revision.engine_type_id}/"' in shown
        assert root.post(f"/admin/engines/enginetyperevision/{revision.pk}/change/", {"chart": "{}"}).status_code == 403
