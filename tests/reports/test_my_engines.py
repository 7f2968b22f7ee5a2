"""The pilot's page of his engines: what to do next, warm heads, how much longer and why, the oil picture, photos."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from PIL import Image

from breakin import assess
from breakin.models import Assessment, DueItem, Finding, OilEvent, Severity
from engines.models import Photo
from tests import factories
from tests.factories import NOW, Cast, flown
from tests.inspected import picture

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


def page_of(client: Client, address: str = "/portal/") -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def flights(shop: Cast, count: int, hours: float = 1.0) -> None:
    for number in range(count):
        flown(shop.build_1, hours, at=NOW - timedelta(days=count - number), level_qt=6.5, added_qt=0)
    assess.assess_build(shop.build_1.pk, NOW)


class TestWarmHeads:
    def test_are_expected_early_and_no_reason_to_throttle_back(self, shop: Cast, as_person) -> None:
        flights(shop, 2)
        page = page_of(as_person(shop.ada))
        assert "Heads up to 400\u202f°F to 420\u202f°F are seen early with new rings." in page
        assert "That is not the maker's limit." in page
        assert "Do not throttle back to cool them" in page
        early = page[page.index("Expected early") :]
        assert early.index("420\u202f°F") < early.index("Watch line") < early.index("500\u202f°F")

    def test_are_no_longer_called_early_after_three_hours(self, shop: Cast, as_person) -> None:
        flights(shop, 3)
        assert "Expected early" not in page_of(as_person(shop.ada))

    def test_a_watch_line_below_420_is_as_far_as_it_is_expected(self, shop: Cast, as_person) -> None:
        revision = factories.type_revision("TAV-4Q", cht_watch_degf=400, cht_limit_degf=None)
        engine = factories.engine(revision)
        build = factories.build(engine, by=shop.cora)
        into = factories.aircraft("QX-950", shop.ada_customer)
        factories.seat(engine, into, by=shop.tom)
        assess.assess_build(build.pk, NOW)
        page = page_of(as_person(shop.ada), f"/portal/aircraft/{into.pk}/")
        assert "Heads up to 400\u202f°F are seen early with new rings." in page
        assert "no limit is on file here" in page

    def test_are_read_in_the_readers_own_units(self, shop: Cast, as_person) -> None:
        assess.assess_build(shop.build_1.pk, NOW)
        shop.ada.units = "si"
        shop.ada.save()
        assert "Heads up to 204\u202f°C to 216\u202f°C are seen early" in page_of(as_person(shop.ada))


class TestWhatToDoNext:
    def test_is_the_next_flight_where_nothing_is_owed(self, shop: Cast, as_person) -> None:
        assess.assess_build(shop.build_1.pk, NOW)
        page = page_of(as_person(shop.ada))
        todo = page[page.index("What to do next") :]
        assert "<b>Next flight.</b>" in todo[: todo.index("</ol>")]
        assert "When to come in." in todo[: todo.index("</ol>")]

    def test_is_the_reading_that_is_owed_before_the_next_flight(self, shop: Cast, as_person) -> None:
        flown(shop.build_1, 1.0, at=NOW - timedelta(days=1))
        assess.assess_build(shop.build_1.pk, NOW)
        assert DueItem.objects.filter(kind="oil_reading").exists()
        page = page_of(as_person(shop.ada))
        todo = page[page.index("What to do next") :]
        todo = todo[: todo.index("</ol>")]
        assert todo.index("Oil reading missing.") < todo.index("Send the oil reading") < todo.index("Next flight.")
        assert f"/portal/engines/{shop.build_1.engine_id}/oil/" in todo

    def test_is_no_flight_while_a_stop_is_open(self, shop: Cast, as_person) -> None:
        assess.assess_build(shop.build_1.pk, NOW)
        Finding.objects.create(
            build=shop.build_1, rule="T1", occurrence="x", rule_version=1, severity=Severity.STOP, title="Low flow",
            text="14.2", why="w", source="type", happened_at=NOW, opened_at=NOW,
        )  # fmt: skip
        page = page_of(as_person(shop.ada))
        todo = page[page.index("What to do next") :]
        todo = todo[: todo.index("</ol>")]
        assert "<b>Do not fly.</b>" in todo
        assert "Next flight." not in todo


class TestHowMuchLonger:
    def test_is_a_range_by_the_oil_readings_once_they_say_one(self, shop: Cast, as_person) -> None:
        flights(shop, 4)
        row = Assessment.objects.get(build=shop.build_1)
        row.detail["oil"]["forecast_h"] = [9.2, 14.4]
        row.save()
        page = page_of(as_person(shop.ada))
        assert "By its oil readings it settles somewhere between 9 and 14 h; no promise." in page

    def test_names_the_criteria_that_are_not_met_with_what_helps(self, shop: Cast, as_person) -> None:
        flights(shop, 2)
        page = page_of(as_person(shop.ada))
        assert "criteria are not met yet" in page
        assert "Complete the first oil and filter." in page


class TestOilPicture:
    def test_stands_on_the_page_once_a_level_was_read(self, shop: Cast, as_person) -> None:
        ada = as_person(shop.ada)
        assert "oil.svg" not in page_of(ada)
        flights(shop, 2)
        address = f"/engines/{shop.build_1.engine_id}/oil.svg?build={shop.build_1.pk}"
        assert f'<img src="{address}"' in page_of(ada)
        assert ada.get(address)["Content-Type"] == "image/svg+xml"

    def test_is_not_asked_for_before_the_level_was_judged(self, shop: Cast, as_person) -> None:
        factories.oil_event(shop.build_1, "reading", at=NOW - timedelta(hours=1), level=7.0)
        Assessment.objects.filter(build=shop.build_1).update(detail={})
        assert "oil.svg" not in page_of(as_person(shop.ada))


class TestPhotosOfAReading:
    def sent(self, ada: Client, event: OilEvent) -> object:
        return ada.post(f"/oil/{event.pk}/photos/", {"camera": picture(), "photos": picture(colour=(1, 2, 3))})

    def test_are_asked_for_right_after_it_with_the_camera_of_a_phone(self, shop: Cast, as_person) -> None:
        event = factories.oil_event(shop.build_1, "reading", at=NOW - timedelta(hours=1), level=7.0).event
        page = page_of(as_person(shop.ada), f"/portal/engines/{shop.build_1.engine_id}/oil/?saved={event.pk}")
        assert f'action="/oil/{event.pk}/photos/"' in page
        assert 'accept="image/*" capture="environment"' in page

    def test_stand_beside_the_entry_whichever_field_they_came_in(self, shop: Cast, as_person) -> None:
        event = factories.oil_event(shop.build_1, "reading", at=NOW - timedelta(hours=1), level=7.0).event
        ada = as_person(shop.ada)
        self.sent(ada, event)
        photos = list(Photo.objects.filter(root=event.root))
        assert len(photos) == 2
        page = page_of(ada, f"/portal/engines/{shop.build_1.engine_id}/oil/")
        assert all(f"/photos/{photo.pk}/small/" in page for photo in photos)

    def test_carry_no_location_however_they_came(self, shop: Cast, as_person) -> None:
        event = factories.oil_event(shop.build_1, "reading", at=NOW - timedelta(hours=1), level=7.0).event
        exif = Image.Exif()
        exif.get_ifd(0x8825)[1] = "N"
        exif[0x010F] = "phone"
        as_person(shop.ada).post(f"/oil/{event.pk}/photos/", {"camera": picture(exif=exif)})
        with Photo.objects.get().file.open("rb") as kept, Image.open(kept) as image:
            assert not image.getexif()

    def test_are_the_business_of_nobody_else(self, shop: Cast, as_person) -> None:
        event = factories.oil_event(shop.build_1, "reading", at=NOW - timedelta(hours=1), level=7.0).event
        assert as_person(shop.ben).post(f"/oil/{event.pk}/photos/", {"camera": picture()}).status_code == 404
        assert not Photo.objects.exists()
