"""Reading the rows of a file: kinds of files, dirt in them, and files that are refused."""

import gzip
from datetime import datetime

import numpy as np
import pytest

from breakin.calc.recording import Unreadable, read_table
from tests.calc.recording.made import LEGS, START, File, numbers

FLIGHT = numbers([(leg, lasts / 10) for leg, lasts in LEGS["flight"]])
ROWS = len(FLIGHT["rpm"])
PLAIN = File()
MAPPING = PLAIN.mapping(FLIGHT)


def read(tmp_path, data, mapping=MAPPING, **more):
    path = tmp_path / "recording.csv"
    path.write_bytes(data if isinstance(data, bytes) else PLAIN.text(data))
    return read_table(path, mapping, **more)


def refused(tmp_path, data, mapping=MAPPING):
    with pytest.raises(Unreadable) as caught:
        read(tmp_path, data, mapping)
    return caught.value


def lines(kind=PLAIN):
    return kind.lines(FLIGHT)


class TestKindsOfFiles:
    @pytest.mark.parametrize(
        "kind",
        [
            File(),
            File(delimiter=";", decimal=","),
            File(delimiter="\t", newline="\r\n"),
            File(delimiter="|", newline="\r"),
            File(encoding="utf-8-sig"),
            File(encoding="utf-16", delimiter=";", decimal=","),
            File(encoding="utf-16-le"),
            File(encoding="utf-16-be", newline="\r\n"),
            File(encoding="cp1252", names={"oil_temp": "Öl Temp °"}),
            File(encoding="utf-8", names={"oil_temp": "Öl Temp °"}),
            File(before=("#Recorder dump", "tail,N000XX", "hours, total: 1.2", "")),
            File(unit_line=True),
        ],
        ids=lambda kind: f"{kind.delimiter!r} {kind.decimal} {kind.encoding} {kind.newline!r} {len(kind.before)}",
    )
    def test_separators_encodings_and_line_ends_give_the_same_table(self, tmp_path, kind):
        path = kind.write(tmp_path / "recording.csv", FLIGHT)
        table = read_table(path, kind.mapping(FLIGHT))
        assert table.row.tolist() == list(range(ROWS))
        assert np.array_equal(table.t, np.arange(ROWS))
        assert np.allclose(table.columns["map_1_inhg"], np.round(FLIGHT["map"], 1))
        assert np.array_equal(table.columns["cht_1_4_degf"], np.round(FLIGHT["cht4"]))
        assert table.notes == ()
        assert table.started == START

    @pytest.mark.parametrize(
        ("time", "started", "has_date"),
        [
            ("iso", START, True),
            ("iso_t", START, True),
            ("hms", datetime.fromisoformat("1970-01-01 13:11:07"), False),
            ("us_ampm", START, True),
            ("us_ampm_short", START, True),
            ("eu", START, True),
            ("slashed", START, True),
            ("date_hms", START, True),
            ("us_date_hms", START, True),
            ("epoch", START, True),
            ("elapsed", None, False),
            ("elapsed_fine", None, False),
        ],
    )
    def test_ways_of_writing_time(self, tmp_path, time, started, has_date):
        kind = File(time=time)
        table = read_table(kind.write(tmp_path / "recording.csv", FLIGHT), kind.mapping(FLIGHT))
        assert np.array_equal(table.t, np.arange(ROWS))
        assert (table.started, table.has_date) == (started, has_date)

    @pytest.mark.parametrize("hour", [0, 11, 12, 23])
    def test_noon_and_midnight_on_a_clock_of_twelve_hours(self, tmp_path, hour):
        kind = File(time="us_ampm", start=datetime.fromisoformat(f"2024-03-16 {hour:02}:59"))
        table = read_table(kind.write(tmp_path / "recording.csv", FLIGHT), kind.mapping(FLIGHT))
        assert np.array_equal(table.t, np.arange(ROWS))
        assert table.started == kind.start

    def test_decimal_commas_in_quotation_marks_between_commas(self, tmp_path):
        head, *rows = lines()
        quoted = [",".join(f'"{one.replace(".", ",")}"' for one in row.split(",")) for row in rows]
        table = read(tmp_path, [head, *quoted])
        assert np.allclose(table.columns["map_1_inhg"], np.round(FLIGHT["map"], 1))
        assert len(table) == ROWS

    def test_a_separator_at_the_end_of_each_line(self, tmp_path):
        head, *rows = lines()
        assert len(read(tmp_path, [head, *(row + "," for row in rows)])) == ROWS
        assert len(read(tmp_path, [head + ",", *(row + "," for row in rows)])) == ROWS

    def test_units_of_the_mapping_are_made_canonical(self, tmp_path):
        metric = {"cht": "C", "egt": "C", "oil_temp": "C", "oat": "C", "map": "hPa", "flow": "L/h", "alt": "m",
                  "airspeed": "km/h"}  # fmt: skip
        kind = File(units=metric, decimals={"map": 0, "flow": 1})
        table = read_table(kind.write(tmp_path / "recording.csv", FLIGHT), kind.mapping(FLIGHT))
        for name, key, within in (("cht_1_1_degf", "cht1", 0.1), ("map_1_inhg", "map", 0.02),
                                  ("ff_1_gph", "flow", 0.02),
                                  ("alt_ft", "alt", 2.0), ("ias_kt", "airspeed", 0.3)):  # fmt: skip
            assert np.abs(table.columns[name] - FLIGHT[key]).max() < within, name

    def test_fuel_flow_in_weight_uses_the_weight_of_the_fuel(self, tmp_path):
        kind = File(units={"flow": "kg/h"}, decimals={"flow": 2})
        path = kind.write(tmp_path / "recording.csv", FLIGHT)
        usual = read_table(path, kind.mapping(FLIGHT)).columns["ff_1_gph"]
        assert np.abs(usual - FLIGHT["flow"]).max() < 0.01
        light = read_table(path, kind.mapping(FLIGHT), fuel_lb_per_gal=5.8).columns["ff_1_gph"]
        assert np.allclose(light, usual * 6.0 / 5.8)

    @pytest.mark.parametrize("flow", ["gph", "L/h", "kg/h"])
    @pytest.mark.parametrize("warm", ["F", "C"])
    def test_units_left_open_are_told_by_size_and_said(self, tmp_path, flow, warm):
        units = dict.fromkeys(("cht", "egt", "oil_temp", "oat"), warm) | {"flow": flow}
        units |= {"map": "hPa", "alt": "m"} if warm == "C" else {}
        flight = numbers(LEGS["flight"], step=5.0)
        kind = File(units=units)
        path = kind.write(tmp_path / "recording.csv", flight, 5.0)
        table = read_table(path, kind.mapping(flight, auto=True), rated_hp={"1": 200.0})
        for name, key, within in (("cht_1_1_degf", "cht1", 1.0), ("oat_degf", "oat", 1.0), ("map_1_inhg", "map", 0.1),
                                  ("alt_ft", "alt", 3.0), ("ff_1_gph", "flow", 0.1)):  # fmt: skip
            assert np.abs(table.columns[name] - flight[key]).max() < within, name
        assert any("Units left open" in note for note in table.notes)
        assert any("unit of fuel flow was not given" in note for note in table.notes)

    def test_feet_are_told_by_the_climb_though_a_wrong_manifold_pressure_speaks_for_metres(self, tmp_path):
        """With a turbocharger, 500 ft with 1.2 inHg too little looks like 500 m; at night it is as warm above."""
        flight = {**numbers(LEGS["flight"])}
        flight["map"] = flight["map"] + np.where(flight["rpm"] > 0, 6.0, -1.2)
        flight["oat"] = flight["oat"] * 0 + 50
        kind = File()
        table = read_table(kind.write(tmp_path / "recording.csv", flight), kind.mapping(flight, auto=True))
        assert np.abs(table.columns["alt_ft"] - flight["alt"]).max() < 1.0

    def test_one_wild_probe_does_not_turn_the_unit_of_its_siblings(self, tmp_path):
        flight = {**numbers(LEGS["flight"], step=5.0)}
        flight["cht2"] = flight["cht2"] * 0 + 999
        kind = File(units=dict.fromkeys(("cht", "egt", "oil_temp", "oat"), "C"))
        table = read_table(kind.write(tmp_path / "recording.csv", flight, 5.0), kind.mapping(flight, auto=True))
        assert np.abs(table.columns["cht_1_1_degf"] - flight["cht1"]).max() < 1.0

    def test_position_is_kept_only_when_asked_for(self, tmp_path):
        flight = {**FLIGHT, "latitude": np.full(ROWS, 47.1), "longitude": np.full(ROWS, 9.2)}
        kind = File(names={"latitude": "Latitude", "longitude": "Longitude"}, decimals={"latitude": 5, "longitude": 5})
        path = kind.write(tmp_path / "recording.csv", flight)
        mapping = kind.mapping(FLIGHT) | {"position": {"latitude": "Latitude", "longitude": "Longitude"}}
        assert "latitude_deg" not in read_table(path, mapping).columns
        assert np.allclose(read_table(path, mapping, keep_position=True).columns["latitude_deg"], 47.1)


class TestDirt:
    def test_repeated_header_noise_and_blank_lines_are_no_data_rows(self, tmp_path):
        head, *rows = lines()
        dirty = [head, *rows[:20], head, *rows[20:40], "# recorder restarted", "", *rows[40:60], "EVENT,3", *rows[60:]]
        table = read(tmp_path, dirty)
        assert table.row.tolist() == list(range(ROWS))
        assert np.array_equal(table.t, np.arange(ROWS))
        assert table.notes == ("3 lines that hold no data were passed over.",)

    def test_a_header_that_comes_after_the_first_rows_is_found(self, tmp_path):
        head, *rows = lines()
        table = read(tmp_path, [*rows[:12], head, *rows[12:]])
        assert np.array_equal(table.t, np.arange(ROWS))
        assert np.array_equal(table.columns["cht_1_1_degf"], np.round(FLIGHT["cht1"]))

    @pytest.mark.parametrize("newline", ["", "\n"])
    def test_a_last_line_that_is_cut_is_left_out(self, tmp_path, newline):
        text = PLAIN.text(lines()).decode().rstrip("\n")
        table = read(tmp_path, (text[: text.rindex(",") - 8] + newline).encode())
        assert len(table) == ROWS - 1
        assert "cut short" in table.notes[0]

    def test_a_last_number_that_may_be_cut_is_left_out_and_a_whole_one_kept(self, tmp_path):
        kind = File(decimals={"egt4": 1})
        text = kind.text(kind.lines(FLIGHT)).decode()
        assert len(read(tmp_path, text[:-1].encode())) == ROWS
        assert len(read(tmp_path, text[:-2].encode())) == ROWS - 1

    def test_a_line_cut_in_the_middle_of_the_file_is_left_out_but_counts_as_a_row(self, tmp_path):
        head, *rows = lines()
        rows[30] = rows[30][:40]
        table = read(tmp_path, [head, *rows])
        assert 30 not in table.row
        assert table.row[-1] == ROWS - 1
        assert np.array_equal(table.t, table.row)

    def test_a_recorder_that_leaves_out_empty_ends_of_lines_loses_no_row(self, tmp_path):
        head, *rows = lines()
        short = [row if number % 3 else row.rsplit(",", 1)[0] for number, row in enumerate(rows)]
        short[-1] = rows[-1]
        table = read(tmp_path, [head, *short])
        assert len(table) == ROWS
        assert np.isnan(table.columns["egt_1_4_degf"][3])

    def test_rows_that_repeat_the_row_before_are_left_out_and_keep_their_place(self, tmp_path):
        head, *rows = lines()
        table = read(tmp_path, [head, *rows[:10], rows[9], rows[9], *rows[10:]])
        assert table.row.tolist() == [*range(10), *range(12, ROWS + 2)]
        assert np.array_equal(table.t, np.arange(ROWS))
        assert table.notes == ("2 rows that repeat the row before were left out.",)

    def test_blanks_are_unknown_and_sentinels_stay_as_read(self, tmp_path):
        head, *rows = lines()
        place = head.split(",").index("CHT 2")
        for number, word in enumerate(("---", "NaN", "", "-40", "999", "n/a")):
            row = rows[number].split(",")
            row[place] = word
            rows[number] = ",".join(row)
        values = read(tmp_path, [head, *rows]).columns["cht_1_2_degf"]
        assert np.isnan(values[[0, 1, 2, 5]]).all()
        assert values[3:5].tolist() == [-40, 999]

    def test_a_row_without_a_time_is_left_out_but_counts_as_a_row(self, tmp_path):
        head, *rows = lines()
        rows[5] = rows[5][rows[5].index(",") :]
        table = read(tmp_path, [head, *rows])
        assert table.row.tolist() == [*range(5), *range(6, ROWS)]
        assert table.notes == ("One row without a time was left out.",)

    def test_nul_bytes_of_a_lost_supply_are_passed_over(self, tmp_path):
        head, *rows = lines()
        data = PLAIN.text([head, *rows[:50]]) + b"\0" * 300 + PLAIN.text(rows[50:])
        assert read(tmp_path, data).row.tolist() == list(range(ROWS))

    def test_an_unbalanced_quotation_mark_swallows_no_lines(self, tmp_path):
        head, *rows = lines()
        rows[7] = rows[7].replace(",", ',"', 1)
        rows[70] = rows[70].replace(",", '",', 2)
        assert read(tmp_path, [head, *rows]).row.tolist() == list(range(ROWS))

    def test_columns_of_one_name_are_told_apart(self, tmp_path):
        head, *rows = lines()
        mapping = {**MAPPING, "engines": {"1": {"rpm": "RPM", "cht": ["CHT", "CHT (2)", "CHT (3)", "CHT (4)"]}}}
        mapping["units"] = dict.fromkeys(mapping["engines"]["1"]["cht"], "F")
        for number in range(1, 5):
            head = head.replace(f"CHT {number}", "CHT")
        table = read(tmp_path, [head, *rows], mapping)
        assert np.array_equal(table.columns["cht_1_3_degf"], np.round(FLIGHT["cht3"]))

    def test_stretches_of_any_size_give_the_same_table(self, tmp_path, monkeypatch):
        head, *rows = lines(File(encoding="utf-16", newline="\r\n"))
        data = "\r\n".join([head, *rows[:60], head, rows[59], "noise", *rows[60:], rows[-1][:30]]).encode("utf-16")
        whole = read(tmp_path, data)
        for size in (4_000, 10_001):
            monkeypatch.setattr("breakin.calc.recording.stretch.STRETCH_BYTES", size)
            again = read(tmp_path, data)
            assert np.array_equal(again.row, whole.row)
            assert np.array_equal(again.t, whole.t)
            assert again.notes == whole.notes
            for name, values in whole.columns.items():
                assert np.array_equal(again.columns[name], values, equal_nan=True)

    def test_progress_is_told_up_to_the_end(self, tmp_path, monkeypatch):
        monkeypatch.setattr("breakin.calc.recording.stretch.STRETCH_BYTES", 4_000)
        told = []
        read(tmp_path, lines(), progress=lambda done, total: told.append((done, total)))
        assert len(told) > 3
        assert told[-1][0] == told[-1][1]
        assert told == sorted(told)


class TestRefused:
    @pytest.mark.parametrize(
        ("data", "what"),
        [
            (b"", "the file is empty"),
            (b"\xef\xbb\xbf \r\n\r\n", "the file is empty"),
            (b"\0" * 900, "the file is empty"),
            (b"PK\x03\x04" + b"x" * 99, "the file is a ZIP archive or a spreadsheet, not a text"),
            (b"\x89PNG\r\n\x1a\n" + b"x" * 99, "the file is a picture, not a text"),
            (gzip.compress(b"Time,RPM\n1,2\n", mtime=0), "the file is a gzip archive, not a text"),
            (b"%PDF-1.7 ...", "the file is a PDF, not a text"),
            (b"<!DOCTYPE html><html>Sign in</html>", "the file is a web page or XML, not separated columns"),
            (bytes(range(256)) * 40, "the file holds binary data, not a text"),
            (b"hello\nworld\n", "no columns were found"),
            (b"Time\n1\n2\n3\n", "no columns were found"),
            (b"1,2,3\n4,5,6\n7,8,9\n", "there are numbers but no line with names of columns before them"),
            (b",".join(b"c%d" % n for n in range(100_000)) + b"\n" + b"1," * 99_999 + b"1\n", None),
            (b"Time,RPM\n" + b"1" * 300_000, None),
        ],
    )  # fmt: skip
    def test_what_is_no_recording_is_refused_with_a_reason(self, tmp_path, data, what):
        refusal = refused(tmp_path, data)
        assert what is None or refusal.what == what
        assert refusal.mend.endswith(".")
        assert str(refusal)[0].isupper()

    def test_only_a_header_names_its_line(self, tmp_path):
        refusal = refused(tmp_path, ["#Recorder dump", lines()[0]])
        assert (refusal.what, refusal.row) == ("there is a header but no line of data", 2)

    def test_lines_wider_than_the_header_are_refused_with_the_line(self, tmp_path):
        head, *rows = lines()
        refusal = refused(tmp_path, [head, *(row.replace(".", ",") for row in rows)])
        assert "the header names 17 columns" in refusal.what
        assert "decimal comma" in refusal.mend
        assert refusal.row == 2

    def test_a_line_without_end_names_its_line(self, tmp_path):
        refusal = refused(tmp_path, [lines()[0], "1," * 100_000])
        assert refusal.row == 2
        assert "characters" in refusal.what

    def test_a_missing_column_is_named(self, tmp_path):
        engines = {"1": {**MAPPING["engines"]["1"], "rpm": "Drehzahl"}}
        refusal = refused(tmp_path, lines(), {**MAPPING, "engines": engines})
        assert refusal.column == "Drehzahl"
        assert str(refusal).startswith("Column “Drehzahl”: the file has no such column.")

    @pytest.mark.parametrize(
        "changed",
        [
            {"time": None}, {"time": []}, {"time": ["a", "b", "c"]}, {"engines": {}},
            {"engines": {"3": {"rpm": "RPM"}}},
            {"engines": None}, {"engines": {"1": {"rpm": 5}}}, {"engines": {"1": {"rpm": "RPM", "tit": "RPM"}}},
            {"units": {"RPM": "furlong"}}, {"engines": [1]}, {"common": 3}, {"engines": {"1": {"cht": 4}}},
            {"units": 3},
        ],
    )  # fmt: skip
    def test_a_mapping_of_a_wrong_shape_is_refused(self, tmp_path, changed):
        assert refused(tmp_path, lines(), {**MAPPING, **changed}).mend

    def test_a_column_chosen_for_two_channels_is_refused(self, tmp_path):
        engines = {"1": {"rpm": "RPM", "cht": ["CHT 1", "CHT 1"]}}
        refusal = refused(tmp_path, lines(), {**MAPPING, "engines": engines})
        assert (refusal.what, refusal.column) == ("the column is chosen for two things", "CHT 1")

    @pytest.mark.parametrize("time", ["RPM", ["Time", "CHT 1"]])
    def test_a_column_chosen_for_the_time_and_for_something_else_is_refused(self, tmp_path, time):
        refusal = refused(tmp_path, lines(), {**MAPPING, "time": time})
        assert refusal.what == "the column is chosen for two things"
        assert refusal.column in {"RPM", "CHT 1"}

    def test_blank_or_senseless_times_are_refused(self, tmp_path):
        head, *rows = lines()
        for word in ("", "---", "soon", "2024-13-45 99:00:00"):
            bare = [word + row[row.index(",") :] for row in rows]
            assert "time" in refused(tmp_path, [head, *bare]).what

    def test_time_that_runs_backward_everywhere_is_refused(self, tmp_path):
        head, *rows = lines()
        refusal = refused(tmp_path, [head, *rows[::-1]])
        assert "runs backward" in refusal.what
        assert refusal.column == "Time"

    def test_a_file_that_is_not_there_is_refused(self, tmp_path):
        with pytest.raises(Unreadable, match="cannot be opened"):
            read_table(tmp_path / "none.csv", MAPPING)
        with pytest.raises(Unreadable, match="cannot be opened"):
            read_table(tmp_path, MAPPING)
