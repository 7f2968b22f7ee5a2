import copy
import json
import runpy
from pathlib import Path
from typing import Any

import pytest

from breakin.calc.errors import BadChart, BadQuantity, MissingData, OutOfRange
from breakin.calc.power import (
    Chart,
    chart_power_hp,
    map_for_percent,
    max_percent_power,
    percent_power,
    rpm_for_percent,
)

TOP = Path(__file__).resolve().parents[2]
FOLDER = TOP / "reports" / "demo" / "charts"
RATED_HP = {"TAV-4C": 160, "TAV-4E": 180, "VRN-6B": 235, "VRN-6D": 285, "PL-6G": 300, "VRN-6T": 310}
# type, rpm, percent, manifold pressure at 2,000 and 4,000 ft on a standard day: the printed rows.
PRINTED = [
    ("TAV-4E", 2450, 75, (24.5, 24.1)),
    ("TAV-4E", 2450, 65, (22.0, 21.7)),
    ("VRN-6B", 2400, 75, (24.1, 23.7)),
    ("VRN-6B", 2400, 65, (21.7, 21.3)),
    ("VRN-6D", 2500, 75, (24.2, 23.8)),
    ("VRN-6D", 2500, 65, (21.8, 21.4)),
    ("PL-6G", 2500, 75, (24.2, 23.8)),
    ("PL-6G", 2500, 65, (21.8, 21.4)),
]


def stored(name: str) -> Any:
    return json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))


def chart(name: str) -> Chart:
    return Chart.from_dict(stored(name), rated_hp=RATED_HP[name])


def pct(name: str, rpm: float, map_inhg: float | None, altitude: float, oat: float | None = None) -> float:
    return percent_power(chart(name), rpm=rpm, map_inhg=map_inhg, pressure_altitude_ft=altitude, oat_degf=oat).pct


@pytest.mark.parametrize(("name", "rpm", "percent", "pressures"), PRINTED)
def test_printed_rows_follow_from_the_generated_charts(name, rpm, percent, pressures):
    for altitude, pressure in zip((2000, 4000), pressures, strict=True):
        assert pct(name, rpm, pressure, altitude) == pytest.approx(percent, abs=0.3)


@pytest.mark.parametrize(("name", "rpm"), [("TAV-4E", 2450), ("VRN-6B", 2400), ("VRN-6D", 2500), ("PL-6G", 2500)])
def test_75_percent_is_out_of_reach_at_6000_ft_but_not_at_4000(name, rpm):
    assert max_percent_power(chart(name), pressure_altitude_ft=6000, oat_degf=None, rpm=rpm) < 75
    assert max_percent_power(chart(name), pressure_altitude_ft=4000, oat_degf=None, rpm=rpm) > 75
    assert map_for_percent(chart(name), 75, rpm, 6000, None) is None


@pytest.mark.parametrize(
    ("altitude", "rpm", "percent"),
    [(2000, 2490, 75), (4000, 2560, 75), (6000, 2630, 75), (2000, 2370, 65), (4000, 2430, 65), (6000, 2490, 65)],
)
def test_fixed_pitch_rows_are_exact_and_can_be_had(altitude, rpm, percent):
    assert pct("TAV-4C", rpm, None, altitude) == pytest.approx(percent, abs=1e-9)
    assert rpm_for_percent(chart("TAV-4C"), percent, altitude, None) == pytest.approx(rpm, abs=1)


def test_the_turbocharged_type_holds_its_power_to_16000_ft_and_not_beyond():
    for altitude in (0, 8000, 16000):
        assert pct("VRN-6T", 2400, 30.0, altitude) == pytest.approx(75, abs=0.3)
        assert pct("VRN-6T", 2400, 26.5, altitude) == pytest.approx(65, abs=0.3)
    full = [max_percent_power(chart("VRN-6T"), pressure_altitude_ft=a, oat_degf=None, rpm=2700) for a in (16000, 20000)]
    assert full[0] == pytest.approx(100, abs=0.01)
    assert full[1] < 95


def test_committed_charts_are_what_the_script_makes():
    made = runpy.run_path(str(TOP / "deploy" / "make_charts.py"), run_name="charts")
    fresh = {name: made["as_text"](form) for name, form in made["charts"]().items()}
    assert set(fresh) == set(RATED_HP)
    for name, text in fresh.items():
        assert (FOLDER / f"{name}.json").read_text(encoding="utf-8") == text


@pytest.mark.parametrize("name", sorted(RATED_HP))
def test_teaching_charts_say_that_they_are_not_for_flight(name):
    assert "Not for flight" in chart(name).source


def test_more_manifold_pressure_or_speed_is_more_power():
    grid = [[pct("VRN-6D", rpm, 18 + 0.5 * step, 4000) for step in range(13)] for rpm in (2100, 2300, 2500)]
    for row in grid:
        assert row == sorted(row)
        assert len(set(row)) == len(row)
    assert all(low < high for low, high in zip(grid[0], grid[2], strict=True))


def test_power_at_full_throttle_is_the_full_throttle_line():
    form = stored("VRN-6D")
    top_map, top_hp = form["full_throttle"]["map_inhg"][0], form["full_throttle"]["hp"][-1]
    found = percent_power(
        chart("VRN-6D"), rpm=2700, map_inhg=top_map * 0.80138, pressure_altitude_ft=6000, oat_degf=None
    )
    most = max_percent_power(chart("VRN-6D"), pressure_altitude_ft=6000, oat_degf=None, rpm=2700)
    assert top_hp == pytest.approx(285)
    assert found.pct == pytest.approx(most, abs=0.2)


def test_a_cold_day_gives_more_power_by_the_root_of_absolute_temperature():
    standard, cold = pct("VRN-6D", 2500, 23.8, 4000, 44.74), pct("VRN-6D", 2500, 23.8, 4000, 4.74)
    assert cold / standard == pytest.approx((504.41 / 464.41) ** 0.5, rel=1e-4)


def test_a_missing_temperature_is_named_and_widens_the_doubt():
    given: dict[str, Any] = {"rpm": 2500, "map_inhg": 23.8, "pressure_altitude_ft": 4000}
    seen = percent_power(chart("VRN-6D"), **given, oat_degf=44.74)
    unseen = percent_power(chart("VRN-6D"), **given, oat_degf=None)
    assert seen.assumed == ()
    assert seen.sigma_pct == 2.0
    assert unseen.sigma_pct > 2.3
    assert "standard day" in unseen.assumed[0]


@pytest.mark.parametrize("missing", ["rpm", "map_inhg", "pressure_altitude_ft"])
def test_power_without_a_needed_reading_is_not_known(missing):
    given: dict[str, Any] = {"rpm": 2500, "map_inhg": 23.8, "pressure_altitude_ft": 4000, "oat_degf": 50}
    with pytest.raises(MissingData, match="not observed"):
        percent_power(chart("VRN-6D"), **{**given, missing: None})


@pytest.mark.parametrize(
    ("changed", "tells"),
    [
        ({"rpm": 900}, "off the power chart"),
        ({"map_inhg": 31.0}, "29.1"),
        ({"map_inhg": 27.0, "pressure_altitude_ft": 9000}, "cannot be had"),
    ],
)
def test_readings_off_the_chart_are_refused_in_words(changed, tells):
    given: dict[str, Any] = {"rpm": 2500, "map_inhg": 23.8, "pressure_altitude_ft": 4000, "oat_degf": 50}
    with pytest.raises(OutOfRange) as refused:
        percent_power(chart("VRN-6D"), **{**given, **changed})
    assert tells in str(refused.value)


def test_just_off_the_edge_is_read_and_said():
    found = percent_power(chart("VRN-6D"), rpm=2740, map_inhg=24.0, pressure_altitude_ft=2000, oat_degf=50)
    assert "edge" in found.assumed[0]
    assert found.sigma_pct > 2


def test_manifold_pressure_for_a_percentage_comes_back_as_that_percentage():
    for altitude, oat in ((1000, 60.0), (3000, 80.0), (5000, 20.0)):
        setting = map_for_percent(chart("TAV-4E"), 68, 2450, altitude, oat)
        assert setting is not None
        assert pct("TAV-4E", 2450, setting, altitude, oat) == pytest.approx(68, abs=1e-6)


def test_asking_a_propeller_for_the_setting_it_does_not_have_is_refused():
    with pytest.raises(BadQuantity, match="set by rpm"):
        map_for_percent(chart("TAV-4C"), 75, 2500, 2000, None)
    with pytest.raises(BadQuantity, match="manifold pressure"):
        rpm_for_percent(chart("TAV-4E"), 75, 2000, None)


def test_fixed_pitch_on_a_hot_high_day_is_not_achievable():
    assert rpm_for_percent(chart("TAV-4C"), 75, 8500, 95.0) is None


def broken(**changes: object) -> Any:
    form = copy.deepcopy(stored("VRN-6D"))
    for path, value in changes.items():
        target, keys = form, path.split("__")
        for key in keys[:-1]:
            target = target[int(key) if key.isdigit() else key]
        target[int(keys[-1]) if keys[-1].isdigit() else keys[-1]] = value
    return form


@pytest.mark.parametrize(
    ("form", "tells"),
    [
        (broken(kind="curve"), "map_rpm or fixed_pitch"),
        (broken(source=" "), "chart source"),
        (broken(rpm=[2500, 2100, 2700, 1, 2, 3]), "does not rise"),
        (broken(hp=[[1, 2]]), "one row an engine speed"),
        (broken(hp__0__3=10.0), "does not rise"),
        (broken(hp__0__0="x"), "not a number"),
        (broken(hp__0=[1.0, 2.0]), "2 values"),
        (broken(full_throttle=None), "full_throttle"),
        (broken(full_throttle__hp=[100, 200]), "differ in length"),
        (broken(full_throttle__rpm=[1700, 1800, 1900, 2000, 2100, 2200]), "does not cover"),
        ({**stored("TAV-4C"), "points": []}, "chart points"),
        ({**stored("TAV-4C"), "points": [{"rpm": 2500}]}, "chart point 1"),
    ],
)
def test_a_chart_that_contradicts_itself_is_refused(form, tells):
    with pytest.raises(BadChart) as refused:
        Chart.from_dict(form, rated_hp=285)
    assert tells in str(refused.value)


@pytest.mark.parametrize(
    "changed", [{"hp_sea_level": 0}, {"hp_full_throttle": 171.0}, {"pressure_altitude_ft": 9000.0}]
)
def test_two_chart_procedure_refuses_what_cannot_be(changed):
    case = {"hp_sea_level": 126.0, "hp_full_throttle": 138.0, "hp_full_throttle_sea_level": 170.0}
    with pytest.raises(OutOfRange):
        chart_power_hp(**{**case, "pressure_altitude_ft": 4000.0, **changed})
