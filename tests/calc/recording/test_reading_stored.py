"""The stored form of a recording gives back every number, in parts and in any size of block, and stays small."""

import json

import numpy as np
import pytest

from breakin.calc.recording import Unreadable, convert, read_parquet, read_table, write_parquet
from breakin.calc.recording.table import Table
from tests.calc.recording.made import LEGS, File, numbers

FLIGHT = numbers(LEGS["flight"])
METRIC = File(
    delimiter=";", decimal=",", time="hms", units={"cht": "C", "egt": "C", "map": "hPa", "flow": "L/h", "alt": "m"}
)


def with_blanks(flight):
    holes = {name: values.copy() for name, values in flight.items()}
    holes["cht2"][::7] = np.nan
    holes["oat"][:] = np.nan
    holes["egt1"][:300] = np.nan
    return holes


def same(one, other):
    assert list(one.columns) == list(other.columns)
    assert np.array_equal(one.t, other.t)
    assert np.array_equal(one.row, other.row)
    for name, values in one.columns.items():
        assert np.array_equal(values, other.columns[name], equal_nan=True), name
    for name in ("started", "has_date", "suspicious", "sample_s", "notes", "sides", "factors"):
        assert getattr(one, name) == getattr(other, name), name


@pytest.fixture(params=[File(), METRIC, File(decimals={"map": 9})], ids=["plain", "metric", "many decimals"])
def recording(request, tmp_path):
    kind, flight = request.param, with_blanks(FLIGHT)
    return kind.write(tmp_path / "recording.csv", flight), kind.mapping(flight)


def test_a_table_comes_back_to_the_last_bit(recording, tmp_path):
    path, mapping = recording
    table = read_table(path, mapping)
    write_parquet(table, tmp_path / "kept.parquet")
    same(read_parquet(tmp_path / "kept.parquet"), table)


@pytest.mark.parametrize("block", [65_536, 1_000, 501])
def test_converting_gives_what_reading_gives_in_blocks_of_any_size(recording, tmp_path, monkeypatch, block):
    path, mapping = recording
    table = read_table(path, mapping)
    monkeypatch.setattr("breakin.calc.recording.stretch.STRETCH_BYTES", 20_000)
    monkeypatch.setattr("breakin.calc.recording.store.BLOCK_ROWS", block)
    facts = convert(path, mapping, tmp_path / "kept.parquet")
    assert (facts.rows, facts.started, facts.notes, facts.sides) == (
        len(table),
        table.started,
        table.notes,
        table.sides,
    )
    same(read_parquet(tmp_path / "kept.parquet"), table)
    for first, end in ((0, 10), (990, 1_010), (1_500, None), (2_904, 2_905)):
        part = read_parquet(tmp_path / "kept.parquet", first, end)
        same(part, table.part(first, end or len(table)))
    some = read_parquet(tmp_path / "kept.parquet", 400, 1_600, columns=["alt_ft", "no such"])
    assert list(some.columns) == ["alt_ft"]
    assert np.array_equal(some.columns["alt_ft"], table.columns["alt_ft"][400:1_600])


@pytest.mark.parametrize("late", [("12.375",), ("12.375", "12.123456789012", "1e12")], ids=["few", "too many"])
def test_decimals_that_come_late_in_the_file_are_kept(tmp_path, monkeypatch, late):
    monkeypatch.setattr("breakin.calc.recording.store.BLOCK_ROWS", 500)
    monkeypatch.setattr("breakin.calc.recording.stretch.STRETCH_BYTES", 20_000)
    kind = File()
    head, *rows = kind.lines(FLIGHT)
    place = head.split(",").index("OAT")
    places = (700, 1_300, 1_900)[: len(late)]
    for number, word in zip(places, late, strict=True):
        row = rows[number].split(",")
        row[place] = word
        rows[number] = ",".join(row)
    path = tmp_path / "recording.csv"
    path.write_bytes(kind.text([head, *rows]))
    convert(path, kind.mapping(FLIGHT), tmp_path / "kept.parquet")
    values = read_parquet(tmp_path / "kept.parquet").columns["oat_degf"]
    assert values[list(places)].tolist() == [float(word) for word in late]
    same(read_parquet(tmp_path / "kept.parquet"), read_table(path, kind.mapping(FLIGHT)))


def test_rows_that_were_left_out_keep_their_numbers(tmp_path):
    head, *rows = File().lines(FLIGHT)
    path = tmp_path / "recording.csv"
    path.write_bytes(File().text([head, *rows[:800], rows[799], *rows[800:]]))
    convert(path, File().mapping(FLIGHT), tmp_path / "kept.parquet")
    part = read_parquet(tmp_path / "kept.parquet", 799, 803)
    assert part.row.tolist() == [799, 801, 802]


@pytest.mark.parametrize("kind", [File(), METRIC], ids=["plain", "metric"])
def test_it_takes_at_most_an_eighth_of_the_file(tmp_path, kind):
    path = kind.write(tmp_path / "recording.csv", FLIGHT)
    convert(path, kind.mapping(FLIGHT), tmp_path / "kept.parquet")
    assert (tmp_path / "kept.parquet").stat().st_size <= 0.13 * path.stat().st_size


def test_a_table_made_by_hand_is_kept_too(tmp_path):
    table = Table(columns={"rpm_1": np.array([0.1, np.nan, 1 / 3])}, t=np.array([0.0, 0.5, 1.0]), row=np.arange(3))
    write_parquet(table, tmp_path / "kept.parquet")
    same(read_parquet(tmp_path / "kept.parquet"), Table(**{**vars(table), "factors": {"rpm_1": (1.0, 0.0)}}))


def test_numbers_that_are_not_those_of_a_file_are_kept_as_they_are(tmp_path):
    values = np.random.default_rng(5).normal(300, 20, 50)
    table = Table(
        columns={"cht_1_1_degf": values}, t=np.arange(50.0), row=np.arange(50), factors={"cht_1_1_degf": (1.8, 32.0)}
    )
    write_parquet(table, tmp_path / "kept.parquet")
    assert np.array_equal(read_parquet(tmp_path / "kept.parquet").columns["cht_1_1_degf"], values)


def test_a_refused_file_leaves_nothing_behind(tmp_path):
    path = tmp_path / "recording.csv"
    path.write_bytes(File().text([File().lines(FLIGHT)[0], "a,b,c", "d,e,f"]))
    with pytest.raises(Unreadable):
        convert(path, File().mapping(FLIGHT), tmp_path / "kept.parquet")
    assert [one.name for one in tmp_path.iterdir()] == ["recording.csv"]


def test_what_is_no_stored_recording_is_refused(tmp_path):
    import polars as pl

    for number, write in enumerate((lambda path: path.write_bytes(b"x" * 99), lambda path: None,
                                    lambda path: pl.DataFrame({"a": [1]}).write_parquet(path),
                                    lambda path: pl.DataFrame({"change": [1]}).write_parquet(
                                        path, metadata={"recording": json.dumps({"version": 0})}))):  # fmt: skip
        path = tmp_path / f"{number}.parquet"
        write(path)
        with pytest.raises(Unreadable):
            read_parquet(path)
