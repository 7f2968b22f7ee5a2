"""The clock of a recording: midnight, jumps, gaps, rows that share a reading, dates that cannot be right."""

from datetime import datetime

import numpy as np
import pytest

from breakin.calc.recording import look, read_table
from breakin.calc.recording.written_time import date_order, day_seconds, parts_of
from tests.calc.recording.made import LEGS, File, numbers

FLIGHT = numbers([(leg, lasts / 10) for leg, lasts in LEGS["flight"]])
ROWS = len(FLIGHT["rpm"])


def read(tmp_path, kind, flight=FLIGHT, **more):
    return read_table(kind.write(tmp_path / "recording.csv", flight), kind.mapping(flight), **more)


def at(text):
    return datetime.fromisoformat(text)


@pytest.mark.parametrize("time", ["hms", "iso", "us_ampm", "date_hms"])
def test_midnight_goes_on(tmp_path, time):
    table = read(tmp_path, File(time=time, start=at("2024-02-28 23:58:00")))
    assert np.array_equal(table.t, np.arange(ROWS))
    assert table.has_date == (time != "hms")
    assert ("The clock passed midnight." in table.notes) == (time == "hms")


@pytest.mark.parametrize("jump", [-3600.0, -7.0, 7200.0, 700.0, 40 * 86_400.0])
def test_a_clock_that_jumps_in_flight_does_not_count(tmp_path, jump):
    times = np.arange(ROWS) + np.where(np.arange(ROWS) > 150, jump, 0.0)
    table = read(tmp_path, File(times=times))
    assert np.array_equal(table.t, np.arange(ROWS))
    assert "jumped once" in table.notes[0]


@pytest.mark.parametrize("gap", [20.0, 120.0, 599.0])
def test_a_gap_counts(tmp_path, gap):
    times = np.arange(ROWS) + np.where(np.arange(ROWS) > 150, gap, 0.0)
    table = read(tmp_path, File(times=times))
    assert np.array_equal(table.t, times)
    assert "that time counts" in table.notes[0]


def test_a_long_gap_over_which_the_engine_cooled_counts(tmp_path):
    warm = {name: values.copy() for name, values in FLIGHT.items()}
    for name in ("cht1", "cht2", "cht3", "cht4", "oil_temp"):
        warm[name][:150] += 120
    times = np.arange(ROWS) + np.where(np.arange(ROWS) >= 150, 3000.0, 0.0)
    table = read(tmp_path, File(times=times), warm)
    assert np.array_equal(table.t, times)


def test_a_long_pause_with_the_engine_stopped_counts_though_nothing_moved(tmp_path):
    still = {name: np.concatenate([values[:6], values]) for name, values in FLIGHT.items()}
    times = np.concatenate([np.arange(6.0), 4 * 3600.0 + np.arange(ROWS)])
    table = read(tmp_path, File(times=times), still)
    assert np.array_equal(table.t, times)


def test_the_start_is_told_by_the_stretch_of_the_clock_with_most_rows(tmp_path):
    """The recorder's clock was set right, an hour on, after 100 of its 290 rows."""
    times = np.arange(ROWS) + np.where(np.arange(ROWS) >= 100, 3600.0, 0.0)
    table = read(tmp_path, File(times=times, start=at("2024-03-16 10:00:00")))
    assert np.array_equal(table.t, np.arange(ROWS))
    assert table.started == at("2024-03-16 11:00:00")


def test_rows_that_share_a_reading_of_the_clock_are_spread(tmp_path):
    table = read(tmp_path, File(times=np.floor(np.arange(ROWS) / 4)))
    assert np.allclose(np.diff(table.t), 0.25)
    assert len(table) == ROWS
    assert table.sample_s == 0.25


def test_rows_that_share_a_reading_are_spread_alike_in_stretches_of_any_size(tmp_path, monkeypatch):
    kind = File(times=np.floor(np.arange(ROWS) / 4))
    whole = read(tmp_path, kind).t
    monkeypatch.setattr("breakin.calc.recording.stretch.STRETCH_BYTES", 3_333)
    assert np.allclose(read(tmp_path, kind).t, whole)


def test_a_reading_that_comes_sooner_than_usual_does_not_turn_the_time_back(tmp_path):
    times = np.repeat(np.arange(ROWS), 2)[:ROWS].astype(float) * 4
    times[100:] -= 3
    table = read(tmp_path, File(times=times))
    assert (np.diff(table.t) >= 0).all()
    assert len(table) == ROWS


def test_a_clock_that_was_never_set_is_said(tmp_path):
    table = read(tmp_path, File(start=at("1980-01-06 00:00:00")))
    assert table.suspicious
    assert table.has_date
    assert "before 2 January 2000" in table.notes[-1]


def test_a_date_after_the_day_of_reading_is_said(tmp_path):
    assert not read(tmp_path, File(), now=at("2024-03-17 00:00:00")).suspicious
    table = read(tmp_path, File(), now=at("2024-03-15 00:00:00"))
    assert table.suspicious
    assert "in the future" in table.notes[-1]


class TestOrderOfDayAndMonth:
    def test_a_number_over_twelve_tells(self):
        assert date_order(parts_of(["16/03/2024 10:00:00"])) == ("dmy", True)
        assert date_order(parts_of(["03/16/2024 10:00:00"])) == ("mdy", True)
        assert date_order(parts_of(["2024-03-04 10:00:00"])) == ("ymd", True)
        assert date_order(parts_of(["04.03.2024 10:00:00"])) == ("dmy", True)
        assert date_order(parts_of(["04/03/2024 10:00:00 PM"])) == ("mdy", True)

    def test_a_day_that_counts_up_tells(self):
        assert date_order(parts_of(["03/04/2024 23:59:59", "04/04/2024 00:00:00"])) == ("dmy", True)
        assert date_order(parts_of(["04/03/2024 23:59:59", "04/04/2024 00:00:00"])) == ("mdy", True)

    def test_what_is_open_is_asked_and_the_answer_is_used(self, tmp_path):
        kind = File(time="slashed", start=at("2024-05-04 10:00:00"))
        path = kind.write(tmp_path / "recording.csv", FLIGHT)
        assert [one.field for one in look(path).questions if one.field == "date_order"] == ["date_order"]
        told = read_table(path, kind.mapping(FLIGHT) | {"date_order": "dmy"})
        assert told.started == kind.start
        guessed = read_table(path, kind.mapping(FLIGHT))
        assert "can be read in two ways" in guessed.notes[-1]


def test_written_times_that_do_not_exist_are_no_times():
    texts = ["24:00:00", "10:61:00", "10:00:61", "13:00:00 PM", "00:10:00 AM", "ten", "", None, "10:00"]
    assert np.isnan(parts_of(texts).seconds[1:8]).all()
    assert parts_of(texts).seconds[8] == 36_000.0


def test_days_that_do_not_exist_are_no_dates():
    date = parts_of(["2023-02-28", "2023-02-29", "2024-02-29", "2023-04-31", "2023-13-01", "2023-00-10"]).date
    assert date is not None
    days = day_seconds(date, "ymd")
    assert np.isfinite(days).tolist() == [True, False, True, False, False, False]
    assert days[2] == np.datetime64("2024-02-29").astype("datetime64[s]").astype(float)


def test_texts_that_are_only_together_as_long_as_the_first_are_read_one_by_one():
    assert parts_of(["10:00:00", "9:59:5", "10:00:00.5"]).seconds.tolist()[::2] == [36000.0, 36000.5]
    assert np.isnan(parts_of(["10:00:00", "noon-ish", "10:00:02"]).seconds[1])


def test_a_mixture_of_ways_of_writing_is_read_row_by_row():
    texts = ["9:59:59", "10:00:00", "10:00:00.5", "10:00:01", " 10:00:02"]
    assert parts_of(texts).seconds.tolist() == [35999.0, 36000.0, 36000.5, 36001.0, 36002.0]


class TestPauses:
    """Several sessions in one file: between them the engine stood still, and cold at the end."""

    COOL = numbers([*((leg, lasts / 10) for leg, lasts in LEGS["flight"]), ("off", 900)])

    def session(self, tmp_path, pause, start, time="iso"):
        flight = {name: np.concatenate([values, values]) for name, values in self.COOL.items()}
        n = len(self.COOL["rpm"])
        times = np.concatenate([np.arange(n), n + pause + np.arange(n)])
        table = read(tmp_path, File(times=times, start=at(start), time=time), flight)
        return table, times

    @pytest.mark.parametrize("pause", [3600.0, 86_400.0, 9 * 86_400.0])
    def test_a_pause_between_flights_counts_though_all_was_cold(self, tmp_path, pause):
        table, times = self.session(tmp_path, pause, "2024-03-16 15:00:00")
        assert np.array_equal(table.t, times)

    def test_the_next_morning_without_a_date_is_a_later_day(self, tmp_path):
        table, times = self.session(tmp_path, 18 * 3600.0, "2024-03-16 15:00:00", "hms")
        assert np.array_equal(table.t, times)

    def test_a_clock_that_is_set_between_flights_is_no_pause_of_years(self, tmp_path):
        table, _times = self.session(tmp_path, 24 * 365 * 86_400.0, "1999-12-31 15:00:00")
        assert np.array_equal(table.t, np.arange(len(table)))

    def test_a_jump_soon_after_the_engine_stopped_is_a_jump(self, tmp_path):
        flight = numbers(LEGS["flight"])
        n = len(flight["rpm"])
        times = np.arange(n) + np.where(np.arange(n) > n - 40, 7200.0, 0.0)
        assert np.array_equal(read(tmp_path, File(times=times), flight).t, np.arange(n))
