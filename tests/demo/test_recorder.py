"""Made recordings: the same every time, in step with the power charts, and in the dialect that was asked for."""

from __future__ import annotations

import importlib
import json
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from breakin.calc.power import Chart, percent_power
from reports.demo.recorder import (
    Air,
    Dialect,
    Engine,
    Instruments,
    Script,
    engine_of_type,
    readings,
    simulate,
    write_file,
)
from reports.demo.recorder.dialect import Column, mapping_of
from reports.demo.types import CHARTS, TYPES

BENCH = Path(__file__).resolve().parents[2] / "deploy" / "bench"
START = datetime(2026, 5, 4, 23, 58, tzinfo=UTC)


def _type(name: str) -> tuple[Engine, dict[str, Any]]:
    row = next(row for row in TYPES if row.name == name)
    chart = json.loads((CHARTS / f"{name}.json").read_text())
    revision = {
        "cylinders": row.cylinders, "rated_hp": row.hp, "rated_rpm": row.rpm, "chart": chart,
        "turbo": row.name == "VRN-6T", "takeoff_ff": sum(row.ff) / 2 if row.ff else None,
    }  # fmt: skip
    return engine_of_type(revision, seed=1), revision


def _hour(engine: Engine, rpm: float) -> Script:
    script = Script(Air(620.0, 64.0), engine.rated_rpm)
    script.off(20).start(120).taxi(120).run_up(50).taxi(30).roll().climb(3600)
    script.level(60, 75, rpm).cruise(900, 75, rpm).cruise(900, 65, rpm)
    return script.descend(1500, 500, pct=60, rpm=rpm).approach(180, 42, rpm).landing().taxi(120).off(30)


@pytest.mark.parametrize(("name", "rpm"), [("TAV-4E", 2450), ("VRN-6D", 2500), ("PL-6G", 2500), ("VRN-6T", 2400)])
def test_the_engine_makes_the_power_that_its_type_s_chart_gives_for_the_readings(name: str, rpm: float) -> None:
    engine, revision = _type(name)
    flown = simulate(_hour(engine, rpm), [engine], seed=5)
    chart = Chart.from_dict(revision["chart"], rated_hp=revision["rated_hp"])

    for block, asked in ((0, 75), (1, 65)):
        inside = np.flatnonzero((flown.block == block) & flown.settled)[60:]
        mean = {key: float(values[inside].mean()) for key, values in (
            ("rpm", flown.engines[0].rpm), ("map_inhg", flown.engines[0].map_inhg),
            ("pressure_altitude_ft", flown.alt_ft), ("oat_degf", flown.oat_degf),
        )}  # fmt: skip
        by_chart = percent_power(chart, **mean).pct
        true = float(flown.engines[0].pct[inside].mean())
        assert true == pytest.approx(asked, abs=1.5)
        assert by_chart == pytest.approx(true, abs=1.2)


def test_a_fixed_pitch_engine_turns_as_its_printed_rows_say() -> None:
    engine, revision = _type("TAV-4C")
    flown = simulate(_hour(engine, 2500), [engine], seed=5)
    chart = Chart.from_dict(revision["chart"], rated_hp=revision["rated_hp"])

    inside = np.flatnonzero((flown.block == 0) & flown.settled)[60:]
    rpm, alt = float(flown.engines[0].rpm[inside].mean()), float(flown.alt_ft[inside].mean())
    found = percent_power(
        chart, rpm=rpm, map_inhg=None, pressure_altitude_ft=alt, oat_degf=float(flown.oat_degf[inside].mean())
    )
    assert found.pct == pytest.approx(float(flown.engines[0].pct[inside].mean()), abs=1.5)


def test_at_full_throttle_the_fuel_flow_meets_the_middle_of_the_type_s_range() -> None:
    engine, revision = _type("VRN-6D")
    flown = simulate(_hour(engine, 2500), [engine], seed=5)
    roll = np.flatnonzero(flown.phase == "takeoff")[-8:]

    assert float(flown.engines[0].fuel_gph[roll].mean()) == pytest.approx(revision["takeoff_ff"], rel=0.03)


def test_with_the_engine_stopped_the_manifold_shows_the_pressure_of_the_air() -> None:
    engine, _ = _type("VRN-6D")
    flown = simulate(_hour(engine, 2500), [engine], seed=5)

    # 29.26 inHg at 620 ft: ISO 2533:1975 by the formula.
    assert flown.engines[0].map_inhg[:15] == pytest.approx(29.26, abs=0.05)
    assert flown.engines[0].map_inhg[-1] == pytest.approx(29.26, abs=0.05)


COLUMNS = (
    Column("Drehzahl", "rpm_1", "rpm"),
    Column("Ladedruck", "map_1", "hPa"),
    Column("Kopf 1", "cht_1_1", "C", 1),
    Column("Hoehe", "alt", "ft"),
)


def _written(path: Path, seed: int) -> list[str]:
    engine, _ = _type("TAV-4E")
    flown = simulate(_hour(engine, 2450), [engine], seed=seed)
    seconds, shown = readings(flown, Instruments(step_s=2), seed=seed)
    dialect = Dialect(COLUMNS, delimiter=";", decimal_comma=True, clock_jumps=((100, 3600),))
    write_file(path, dialect, START, seconds, shown)
    return path.read_text().splitlines()


def test_a_file_is_the_same_for_the_same_seed_and_another_for_another(tmp_path: Path) -> None:
    assert _written(tmp_path / "a.csv", 1) == _written(tmp_path / "b.csv", 1)
    assert _written(tmp_path / "a.csv", 1) != _written(tmp_path / "c.csv", 2)


def test_a_file_speaks_the_dialect_that_was_asked_for(tmp_path: Path) -> None:
    lines = _written(tmp_path / "a.csv", 1)

    assert lines[0] == "Time;Drehzahl;Ladedruck;Kopf 1;Hoehe"
    assert lines[1].startswith("23:58:00;0;9")
    assert "," in lines[1].split(";")[3]
    assert lines[61].startswith("00:00:00;")
    assert lines[101].startswith("01:01:20;")


def test_the_mapping_names_the_columns_and_units_of_the_file() -> None:
    mapping = mapping_of(Dialect(COLUMNS))

    assert mapping["engines"] == {"1": {"rpm": "Drehzahl", "manifold_pressure": "Ladedruck", "cht": ["Kopf 1"]}}
    assert mapping["common"] == {"alt": "Hoehe"}
    assert mapping["units"]["Ladedruck"] == "hPa"


def test_an_examination_holds_for_each_flight_a_truth_for_every_row_of_its_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "path", [str(BENCH), *sys.path])
    names = importlib.import_module("made_flights").make(6, 4, tmp_path, more=True)

    assert len(names) == len(set(names)) >= 18
    for name in names:
        truth = json.loads((tmp_path / f"{name}.truth.json").read_text())
        head = json.loads((tmp_path / f"{name}.mapping.json").read_text())
        first = head["time"] if isinstance(head["time"], str) else head["time"][0]
        text = (tmp_path / f"{name}.csv").read_text(encoding=truth["encoding"])
        lines = text.splitlines()
        data = [line for line in lines if line[:1].isdigit() and not line.startswith(first)]
        assert len(data) == len(truth["row_t"]), name
        assert max(truth["row_t"]) < len(truth["engines"][0]["pct"])
        assert sum(truth["engines"][0]["minutes"].values()) > 0
