"""The lines of a picture: of the window that was asked for, in the reader's units, for whoever may see the flight."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from django.core.files.storage import default_storage
from django.test import Client
from pytest_django import Settings

from breakin.models import ReadState, RecordedFlight, RecordingRead
from breakin.reading.series import Keeper, read_series
from shop.models import Units
from tests.factories import NOW, Cast
from tests.reports.recorded import LINES, Rows, analysis, columns, engine_flight, recorded_flight, recording

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture(autouse=True)
def _own_media(settings: Settings, tmp_path) -> None:
    settings.MEDIA_ROOT = tmp_path


def address(row: RecordedFlight, asked: str = "") -> str:
    return f"/recordings/{row.recording_id}/flights/{row.number}/series/{asked}"


def lines(client: Client, row: RecordedFlight, asked: str = "") -> dict[str, Any]:
    answer = client.get(address(row, asked))
    assert answer.status_code == 200, answer.content
    got: dict[str, Any] = json.loads(answer.content)
    return got


def times(line: list[list[float]]) -> np.ndarray:
    return np.cumsum(line[0]) / 10


class TestWindow:
    def test_the_whole_flight_comes_thinned_with_its_extremes(self, shop: Cast, as_person) -> None:
        row = recorded_flight(shop)
        got = lines(as_person(shop.ada), row, "?points=200")["lines"]
        t, cht = times(got["cht_1_3_degf"]), got["cht_1_3_degf"][1]
        assert 150 < len(t) <= 260
        assert (t[0], t[-1]) == (0, LINES[-1])
        assert max(cht) == round(columns()["cht_1_3_degf"].max())
        assert {"pct_1", "map_1_inhg", "rpm_1", "ff_1_gph", "alt_ft", "egt_1_4_degf"} <= set(got)

    def test_a_close_look_brings_every_row_of_its_window(self, shop: Cast, as_person) -> None:
        row = recorded_flight(shop)
        got = lines(as_person(shop.ada), row, "?from=1000&to=1200&points=600")["lines"]["ff_1_gph"]
        assert times(got).tolist() == list(range(999, 1202))

    def test_doubt_comes_as_a_low_and_a_high_around_the_power(self, shop: Cast, as_person) -> None:
        row = recorded_flight(shop)
        got = lines(as_person(shop.ada), row, "?from=2000&to=2200&points=600")
        low, high = (np.array(got["rooms"]["1"][place]) for place in (1, 2))
        assert np.allclose(high - low, 2.6, atol=0.11)

    def test_a_hole_is_a_null_among_the_values(self, shop: Cast, as_person) -> None:
        got = lines(as_person(shop.ada), recorded_flight(shop), "?points=100")["lines"]["egt_1_2_degf"]
        hole = got[1].index(None)
        assert (times(got)[hole - 1], times(got)[hole + 1]) == (1999, 2400)

    def test_moments_of_the_flight_are_among_the_points(self, shop: Cast, as_person) -> None:
        t = times(lines(as_person(shop.ada), recorded_flight(shop), "?points=50")["lines"]["rpm_1"])
        assert {30, 625, 1100, 5100} <= set(t)

    def test_positions_are_never_sent(self, shop: Cast, as_person) -> None:
        assert not any(
            name.rsplit("_", 1)[-1] == "deg" for name in lines(as_person(shop.ada), recorded_flight(shop))["lines"]
        )

    def test_a_reader_of_celsius_and_litres_gets_those(self, shop: Cast, as_person) -> None:
        row = recorded_flight(shop)
        shop.ada.units = Units.SI
        shop.ada.save()
        got = lines(as_person(shop.ada), row, "?from=2000&to=2010&points=50")["lines"]
        assert got["ff_1_gph"][1][0] == pytest.approx(10.4 * 3.785411784, abs=0.06)
        assert got["cht_1_3_degf"][1][0] == pytest.approx((columns()["cht_1_3_degf"][1999] - 32) / 1.8, abs=0.06)

    @pytest.mark.parametrize(
        ("asked", "said"),
        [
            ("?from=noon", "“from” is “noon”. Write it in seconds"),
            ("?to=nan", "“to” is “nan”"),
            ("?from=900&to=300", "“to” (300) must be later than “from” (900)"),
            ("?points=7", "Write a whole number from 50 to 2000"),
            ("?points=99999", "Write a whole number from 50 to 2000"),
            ("?points=1e3", "Write a whole number"),
        ],
    )
    def test_what_is_no_window_is_refused_with_words(self, shop: Cast, as_person, asked: str, said: str) -> None:
        answer = as_person(shop.ada).get(address(recorded_flight(shop), asked))
        assert answer.status_code == 400
        assert said in json.loads(answer.content)["problem"]

    def test_a_window_beyond_the_flight_is_cut_to_it(self, shop: Cast, as_person) -> None:
        got = lines(as_person(shop.ada), recorded_flight(shop), "?from=-500&to=99999&points=50")
        assert (got["from"], got["to"]) == (0, LINES[-1])


class TestFetching:
    def test_a_browser_that_has_it_gets_304_until_it_is_read_anew(self, shop: Cast, as_person) -> None:
        row = recorded_flight(shop)
        ada = as_person(shop.ada)
        tag = ada.get(address(row))["ETag"]
        assert ada.get(address(row), headers={"if-none-match": tag}).status_code == 304
        assert ada.get(address(row, "?points=100"), headers={"if-none-match": tag}).status_code == 200
        with Keeper(RecordingRead.objects.select_related("recording").get(recording=row.recording_id)) as keeper:
            row.summary |= keeper.keep(Rows({"rpm_1": LINES}, LINES), analysis({"1": engine_flight()}), {})
            row.save()
            keeper.settle()
        assert ada.get(address(row), headers={"if-none-match": tag}).status_code == 200

    def test_it_is_compressed_and_kept_by_no_proxy(self, shop: Cast, as_person) -> None:
        answer = as_person(shop.ada).get(address(recorded_flight(shop)), headers={"accept-encoding": "gzip"})
        assert answer["Content-Encoding"] == "gzip"
        assert "private" in answer["Cache-Control"]
        assert "no-cache" in answer["Cache-Control"]

    def test_only_who_may_see_the_flight_gets_it(self, shop: Cast, as_person) -> None:
        row = recorded_flight(shop)
        for person, code in ((shop.ben, 404), (shop.tom, 200), (shop.cora, 200), (shop.ada, 200)):
            assert as_person(person).get(address(row)).status_code == code, person

    def test_a_flight_that_is_not_in_the_file_is_not_found(self, shop: Cast, as_person) -> None:
        row = recorded_flight(shop)
        assert as_person(shop.ada).get(f"/recordings/{row.recording_id}/flights/2/series/").status_code == 404

    def test_lines_that_were_lost_are_not_found_and_the_page_still_stands(self, shop: Cast, as_person) -> None:
        row = recorded_flight(shop)
        default_storage.delete(row.summary["series"])
        assert as_person(shop.ada).get(address(row)).status_code == 404
        page = as_person(shop.ada).get(f"/recordings/{row.recording_id}/")
        assert page.status_code == 200
        assert "Of 1\u202fh 15\u202fmin in the air" in page.content.decode()


class TestKeeping:
    """The file of lines beside the rows: replaced as a whole, gone when the reading fails."""

    def keep(self, keeper: Keeper, height: float) -> dict[str, Any]:
        return keeper.keep(Rows({"alt_ft": LINES + height}, LINES), analysis({"1": engine_flight()}), {})

    def test_what_a_reading_that_fails_had_stored_goes_again(self, shop: Cast) -> None:
        row = recorded_flight(shop)
        reading = RecordingRead.objects.select_related("recording").get(recording=row.recording_id)
        names: list[str] = []

        def read() -> None:
            with Keeper(reading) as keeper:
                names.append(self.keep(keeper, 5)["series"])
                assert default_storage.exists(names[0])
                raise ValueError("it broke off")

        with pytest.raises(ValueError, match="broke off"):
            read()
        assert not default_storage.exists(names[0])
        assert default_storage.exists(row.summary["series"])

    def test_what_the_reading_before_had_stored_goes_when_the_new_one_stands(self, shop: Cast) -> None:
        row = recorded_flight(shop)
        before = row.summary["series"]
        reading = RecordingRead.objects.select_related("recording").get(recording=row.recording_id)
        with Keeper(reading) as keeper:
            row.summary |= self.keep(keeper, 9)
            keeper.settle()
        assert default_storage.exists(row.summary["series"])
        assert not default_storage.exists(before)

    def test_the_same_lines_again_are_the_same_file(self, shop: Cast) -> None:
        held = recording(shop, state=ReadState.READ)
        reading = RecordingRead.objects.select_related("recording").get(recording=held)
        keeper = Keeper(reading)
        assert self.keep(keeper, 1)["series"] == self.keep(keeper, 1)["series"]

    def test_lines_come_back_as_they_went_in_without_positions(self, shop: Cast) -> None:
        series = read_series(recorded_flight(shop))
        assert series is not None
        assert np.array_equal(series.t, LINES)
        assert np.allclose(series.channel("egt_1_1_degf"), columns()["egt_1_1_degf"], rtol=1e-6)
        assert not {"latitude_deg", "longitude_deg"} & set(series.names)

    def test_time_starts_at_the_first_row_of_the_flight(self, shop: Cast) -> None:
        held = recording(shop, state=ReadState.READ)
        keeper = Keeper(RecordingRead.objects.select_related("recording").get(recording=held))
        said = keeper.keep(Rows({"alt_ft": LINES}, LINES + 7200), analysis({"1": engine_flight()}), {})
        assert said["seconds"] == LINES[-1]

    def test_outstanding_readings_have_their_moment(self, shop: Cast) -> None:
        kept = {
            each["kind"]: each for each in recorded_flight(shop, began_at=NOW - timedelta(days=1)).summary["moments"]
        }
        assert kept["hottest_head"]["cylinder"] == 3
        assert kept["hottest_head"]["t"] == pytest.approx(1050, abs=15)
        assert kept["lowest_oil_pressure"]["t"] == pytest.approx(5100, abs=5)
