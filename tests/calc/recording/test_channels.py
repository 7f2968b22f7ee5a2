"""What the columns of a file are: proposals, questions, doubts."""

import hashlib

import numpy as np
import pytest

from breakin.calc.recording import Unreadable, doubts, look, read_table
from breakin.calc.recording.vocabulary import named
from tests.calc.recording.made import LEGS, File, joined, numbers

FLIGHT = numbers(LEGS["flight"], step=2.0)


def looked(tmp_path, kind=None, flight=FLIGHT):
    return look((kind or File()).write(tmp_path / "recording.csv", flight, 2.0))


def asked(seen):
    return {one.field for one in seen.questions}


@pytest.mark.parametrize(
    ("name", "channel", "engine", "cylinder"),
    [
        ("CHT1", "cht", None, 1), ("CHT 1", "cht", None, 1), ("C6", "cht", None, 6), ("E1 CHT1", "cht", "1", 1),
        ("L CHT 1", "cht", "1", 1), ("R CHT 1", "cht", "2", 1), ("E2 ZKT 4", "cht", "2", 4),
        ("Zylinderkopftemperatur 2", "cht", None, 2), ("T culasse 5", "cht", None, 5), ("EGT2", "egt", None, 2),
        ("E2 E1", "egt", "2", 1), ("E1", "egt", None, 1),
        ("E1 EGT 2", "egt", "1", 2), ("AGT 3", "egt", None, 3), ("Abgastemperatur 1", "egt", None, 1),
        ("Échappement 4", "egt", None, 4), ("TIT", "tit", None, None), ("E1 TIT", "tit", "1", None),
        ("RPM", "rpm", None, None), ("RPM1", "rpm", "1", None), ("Left RPM", "rpm", "1", None),
        ("Drehzahl", "rpm", None, None), ("Régime", "rpm", None, None), ("Tr/min", "rpm", None, None),
        ("Engine 2 RPM", "rpm", "2", None), ("MAP", "manifold_pressure", None, None),
        ("Manifold Pressure", "manifold_pressure", None, None), ("Ladedruck", "manifold_pressure", None, None),
        ("Pression admission", "manifold_pressure", None, None), ("FF", "fuel_flow", None, None),
        ("Fuel Flow [gph]", "fuel_flow", None, None), ("FuelFlow", "fuel_flow", None, None),
        ("Kraftstoffverbrauch", "fuel_flow", None, None), ("Débit", "fuel_flow", None, None),
        ("Oil Temp", "oil_temp", None, None), ("OilT", "oil_temp", None, None),
        ("Öltemperatur", "oil_temp", None, None), ("Temp. huile", "oil_temp", None, None),
        ("Oil Press", "oil_press", None, None), ("Öldruck", "oil_press", None, None),
        ("Pression huile", "oil_press", None, None), ("OAT", "oat", None, None),
        ("Außentemperatur", "oat", None, None), ("Temp ext", "oat", None, None), ("Altitude", "alt", None, None),
        ("Höhe", "alt", None, None), ("Hauteur", "alt", None, None), ("IAS", "airspeed", None, None),
        ("Fahrt", "airspeed", None, None), ("Vitesse", "airspeed", None, None),
        ("Latitude", "latitude", None, None), ("Lon", "longitude", None, None),
    ],
)  # fmt: skip
def test_names_in_three_languages(name, channel, engine, cylinder):
    said = named(name)
    assert said is not None
    assert (said.channel, said.engine, said.cylinder) == (channel, engine, cylinder)


@pytest.mark.parametrize(
    "name",
    [
        "aux0",
        "Fuel Used",
        "Fuel Qty L",
        "Fuel Press",
        "Fuel Remaining",
        "EGT Diff",
        "Volts",
        "Amps",
        "HP",
        "VSpd",
        "Pitch",
    ],
)
def test_names_that_are_none_of_ours(name):
    assert named(name) is None


def test_the_whole_mapping_is_proposed(tmp_path):
    kind = File(time="date_hms")
    seen = looked(tmp_path, kind)
    assert seen.mapping == kind.mapping(FLIGHT)
    assert all(one.guess and one.guess.sure for one in seen.columns)
    assert (seen.delimiter, seen.decimal, seen.encoding, seen.header_line, seen.has_date) == (
        ",",
        ".",
        "utf-8",
        1,
        True,
    )
    assert seen.position == ()


def test_a_proposal_reads_the_file(tmp_path):
    seen = looked(tmp_path)
    table = read_table(tmp_path / "recording.csv", seen.mapping)
    assert np.array_equal(table.columns["cht_1_2_degf"], np.round(FLIGHT["cht2"]))


def test_a_twin_is_told_by_the_names(tmp_path):
    twin = {
        f"{side}{key}": values for side in "12" for key, values in FLIGHT.items() if key[:3] in ("rpm", "map", "cht")
    }
    names = {key: f"E{key[0]} {key[1:].upper()}" for key in twin}
    seen = looked(tmp_path, File(names=names, decimals={"1map": 1, "2map": 1}), twin)
    assert set(seen.mapping["engines"]) == {"1", "2"}
    assert seen.mapping["engines"]["2"]["cht"] == ["E2 CHT1", "E2 CHT2", "E2 CHT3", "E2 CHT4"]
    assert seen.mapping["engines"]["1"]["rpm"] == "E1 RPM"


def test_a_name_without_values_that_fit_is_not_sure(tmp_path):
    odd = {**FLIGHT, "airspeed": FLIGHT["airspeed"] * 0 + 3}
    guess = next(one.guess for one in looked(tmp_path, None, odd).columns if one.name == "IAS")
    assert not guess.sure
    assert "does not fit" in guess.why


def test_speed_over_the_ground_is_a_second_choice(tmp_path):
    both = {"ground": FLIGHT["airspeed"] + 20, **FLIGHT}
    seen = looked(tmp_path, File(names={"ground": "GPS Ground Speed"}), both)
    assert seen.mapping["common"]["airspeed"] == "IAS"
    assert not next(one.guess for one in seen.columns if one.name == "GPS Ground Speed").sure


def test_position_is_named_and_never_mapped(tmp_path):
    n = len(FLIGHT["rpm"])
    placed = {**FLIGHT, "latitude": np.full(n, 47.1), "longitude": np.full(n, 9.2)}
    seen = looked(tmp_path, File(names={"latitude": "Latitude", "longitude": "Lon"}), placed)
    assert seen.position == ("Latitude", "Lon")
    assert "Latitude" not in str(seen.mapping)


def test_the_signature_is_of_the_lower_case_names(tmp_path):
    names = [*File().time_names(), *(File().title(key) for key in FLIGHT)]
    seen = looked(tmp_path)
    assert seen.signature == hashlib.sha256("\n".join(name.lower() for name in names).encode()).hexdigest()
    assert looked(tmp_path, File(delimiter=";", decimal=",", encoding="utf-16")).signature == seen.signature


class TestUnits:
    def test_the_unit_line_and_brackets_are_used(self, tmp_path):
        kind = File(unit_line=True, units={"flow": "L/h", "map": "hPa"})
        seen = looked(tmp_path, kind)
        assert seen.mapping["units"] == kind.mapping(FLIGHT)["units"]
        assert asked(seen) == set()
        bracketed = {key: f"{File().title(key)} ({kind.unit(key)})" for key in FLIGHT}
        seen = looked(tmp_path, File(units=kind.units, names=bracketed))
        assert asked(seen) == set()
        assert seen.mapping["units"]["Fuel Flow (L/h)"] == "L/h"

    @pytest.mark.parametrize("flow", ["gph", "L/h", "kg/h"])
    def test_fuel_flow_without_a_unit_is_always_asked(self, tmp_path, flow):
        seen = looked(tmp_path, File(units={"flow": flow}))
        assert "units.fuel_flow" in asked(seen)

    def test_a_header_that_says_f_over_values_in_c_is_asked(self, tmp_path):
        names = {f"cht{n}": f"CHT {n} (F)" for n in range(1, 5)}
        kind = File(units={"cht": "C"}, names=names)
        seen = looked(tmp_path, kind)
        question = next(one for one in seen.questions if one.field == "units.cht")
        assert "header says F" in question.text
        assert question.choices == ("F", "C")

    def test_a_file_without_a_date_is_asked_for_it(self, tmp_path):
        assert "date" in asked(looked(tmp_path, File(time="hms")))
        assert "date" in asked(looked(tmp_path, File(time="elapsed")))
        assert "date" not in asked(looked(tmp_path, File(time="epoch")))

    @pytest.mark.parametrize(
        ("group", "wrong"),
        [("cht", "C"), ("egt", "C"), ("oil_temp", "C"), ("map", "hPa"), ("alt", "m"), ("oil_press", "kPa"),
         ("oat", "C"), ("flow", "L/h")],
    )  # fmt: skip
    def test_numbers_that_contradict_a_confirmed_unit_raise_a_doubt(self, tmp_path, group, wrong):
        kind = File()
        path = kind.write(tmp_path / "recording.csv", FLIGHT, 2.0)
        assert doubts(path, kind.mapping(FLIGHT)) == ()
        confirmed = File(units={group: wrong}).mapping(FLIGHT)
        field = {"map": "manifold_pressure", "flow": "fuel_flow"}.get(group, group)
        assert [one.field for one in doubts(path, confirmed)] == [f"units.{field}"]
        assert [one.field for one in doubts(read_table(path, confirmed), confirmed)] == [f"units.{field}"]

    def test_a_run_on_the_ground_raises_no_doubt(self, tmp_path):
        run = numbers(LEGS["ground_run"])
        path = File().write(tmp_path / "recording.csv", run)
        assert doubts(path, File().mapping(run)) == ()

    def test_probes_of_one_group_in_two_units_raise_a_doubt(self, tmp_path):
        path = File().write(tmp_path / "recording.csv", FLIGHT, 2.0)
        mapping = File().mapping(FLIGHT)
        mapping["units"]["CHT 3"] = "C"
        assert any("different units" in one.text for one in doubts(path, mapping))


def test_the_middle_of_a_long_file_is_looked_at(tmp_path):
    """An hour on the ground before a flight: the values fit only further on."""
    flight = joined(numbers([("taxi", 5000)]), numbers(LEGS["flight"]))
    path = File().write(tmp_path / "recording.csv", flight)
    assert path.stat().st_size > 600_000
    high = {one.name: one.high for one in look(path).columns}
    assert (high["RPM"] or 0) > 2_000


def test_no_column_of_time_is_refused(tmp_path):
    head, *rows = File().lines(FLIGHT)
    path = tmp_path / "recording.csv"
    path.write_bytes(File().text([line.split(",", 1)[1] for line in (head, *rows)]))
    with pytest.raises(Unreadable, match="no column holds the time"):
        look(path)
