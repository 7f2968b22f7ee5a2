"""The build sheet: cylinders in their places, what the pairing of finish and rings comes to, the run in the cell."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from breakin.services.builds import PositionEntry, record_cell_run
from engines.models import Build, BuildEvent, CylinderPosition
from reports.engine.position_picture import position_picture
from tests import factories
from tests.factories import NOW, Cast

pytestmark = pytest.mark.django_db
FOUR = [[2, 1], [4, 3]]


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().replace("\u202f", " ").split())


def sheet_of(as_person: Any, shop: Cast, build: Build) -> str:
    answer = as_person(shop.tom).get(reverse("build_sheet", args=[build.pk]))
    assert answer.status_code == 200
    return text(answer)


def built(shop: Cast, positions: list[PositionEntry], **more: Any) -> Build:
    engine = factories.engine(factories.type_revision("TAV-4M", cylinder_map=FOUR))
    return factories.build(engine, by=shop.cora, positions=positions, **more)


def four(**by_number: dict[str, Any]) -> list[PositionEntry]:
    usual = {"finish": "nitrided", "ring_facing": "cast iron"}
    return [PositionEntry(number=n, **{**usual, **by_number.get(f"n{n}", {})}) for n in range(1, 5)]


class TestPicture:
    def test_cylinders_stand_where_the_map_of_the_type_puts_them(self, shop: Cast) -> None:
        build = built(shop, four())
        picture = position_picture(build.type_revision, list(build.positions.all()))
        at = {box.number: (box.x, box.y) for box in picture.boxes}

        assert picture.mapped
        assert at[2][0] < at[1][0]
        assert at[2][1] == at[1][1]
        assert at[1][0] == at[3][0]
        assert at[1][1] < at[3][1]

    def test_without_a_map_it_says_that_places_are_not_known(self, shop: Cast, as_person: Any) -> None:
        page = sheet_of(as_person, shop, shop.build_1)

        assert "The places of the cylinders are not on record" in page
        assert "seen from the pilot" not in page.lower()

    def test_a_disturbed_cylinder_has_the_hatch_and_the_word_and_another_has_neither(
        self, shop: Cast, as_person: Any
    ) -> None:
        build = built(shop, [PositionEntry(number=3, finish="nitrided")], kind="cylinder")
        page = sheet_of(as_person, shop, build)

        assert page.count('fill="url(#hatch)"') == 1
        assert "no. 1 left as it was; " in page
        assert "no. 3 disturbed" in page

    @pytest.mark.parametrize("wrong", [[[1, 2], [3, 3]], [[1, 2], [3]], [[1, 2, 3]], "1 2", [["1", 2], [3, 4]]])
    def test_a_map_that_leaves_a_cylinder_out_is_refused_and_never_drawn(self, shop: Cast, wrong: Any) -> None:
        revision = factories.type_revision("TAV-4W", cylinder_map=wrong)

        assert revision.mapped_rows == ()
        with pytest.raises(ValidationError, match="each of the cylinders 1 to 4 once"):
            revision.clean()


class TestPairing:
    def test_rings_that_fit_are_said_to_fit(self, shop: Cast, as_person: Any) -> None:
        page = sheet_of(as_person, shop, built(shop, four()))

        assert "No chrome-faced ring is on record in a chrome bore." in page
        assert "Nitrided steel: usually 15 to 30 h." in page
        assert "Mixed finishes" not in page

    def test_an_inspectors_reason_is_shown_with_the_cylinder(self, shop: Cast, as_person: Any) -> None:
        wrong = {"finish": "chrome", "ring_facing": "chrome"}
        build = built(shop, four(n2=wrong), inspector=shop.tom, inspector_override="Supplier's letter 12")
        page = sheet_of(as_person, shop, build)

        assert "Chrome-faced rings in a chrome bore: no. 2." in page
        assert "The inspector (Tom) lets them stay: “Supplier&#x27;s letter 12”" in page

    def test_a_wrong_ring_without_a_reason_is_refused_on_the_sheet(self, shop: Cast, as_person: Any) -> None:
        wrong = {"finish": "chrome", "ring_facing": "chrome"}
        build = built(shop, four(n2=wrong), inspector_override="x")
        assert BuildEvent.objects.get(build=build).detail
        entered = factories.build(factories.engine(), by=shop.cora)
        CylinderPosition.objects.filter(build=entered, number=1).update(**wrong)

        assert "no reason of an inspector is on record" in sheet_of(as_person, shop, entered)

    def test_mixed_finishes_name_the_slowest_and_leave_the_oil_to_a_person(self, shop: Cast, as_person: Any) -> None:
        page = sheet_of(as_person, shop, built(shop, four(n4={"finish": "chrome"})))

        assert "channel chrome in no. 4; nitrided steel in no. 1, 2, 3." in page
        assert "The slowest governs the hours: channel chrome, usually 25 to 50 h." in page
        assert "Oil: a person decides" in page

    def test_what_was_not_written_down_is_not_said_to_fit(self, shop: Cast, as_person: Any) -> None:
        page = sheet_of(as_person, shop, shop.build_1)

        assert "The facing of the rings is not on record for no. 1, 2, 3, 4." in page
        assert "No chrome-faced ring is on record" not in page


def test_the_cell_run_shows_its_steps_and_counts_in_no_rate(shop: Cast, as_person: Any) -> None:
    record_cell_run(
        by=shop.cora, build=shop.build_1, run_on=date(2026, 5, 1), minutes=90, steps=[(1200, 10), (2500, 80)],
        oil_kind="mineral", oil_used_qt=0.9, full_throttle_ff_gph=15.9, leaks="none", now=NOW,
    )  # fmt: skip
    page = sheet_of(as_person, shop, shop.build_1)

    assert "1 May 2026, 1 h 30 min" in page
    assert "1200 rpm" in page
    assert "1 h 20 min" in page
    assert "0.90 qt" in page
    assert "15.9 gal/h" in page
    assert "Does not count in any rate." in page


def test_the_engine_and_the_list_of_acts_lead_to_it(shop: Cast, as_person: Any) -> None:
    address = reverse("build_sheet", args=[shop.build_1.pk])
    client = as_person(shop.tom)

    assert address in text(client.get(reverse("engine", args=[shop.build_1.engine_id])))
    assert address in text(client.get(reverse("acts")))


def test_it_costs_the_same_number_of_queries_with_more_runs(
    shop: Cast, as_person: Any, django_assert_max_num_queries: Any
) -> None:
    for day in range(1, 9):
        record_cell_run(
            by=shop.cora, build=shop.build_1, run_on=date(2026, 5, day), minutes=30, now=NOW + timedelta(days=1)
        )
    client = as_person(shop.tom)
    with django_assert_max_num_queries(12):
        client.get(reverse("build_sheet", args=[shop.build_1.pk]))
