"""The power and heat tables of an engine's page: stated and measured, recorded and typed, and the early sign."""

from __future__ import annotations

from typing import Any

from breakin.calc.recording.result import Span
from breakin.judgement import judge
from breakin.record import BlockFacts
from reports import plots
from reports.engine import power_tables
from tests.breakin.recorded import HALF, SECOND, piece, recorded
from tests.breakin.records import AT_75, HOUR_1, PLAN, after, block, record, run, with_type

NARROW = "\u202f"
BANDS = {"75": [72, 85], "65": [62, 68]}


def detail(*runs: Any, **more: Any) -> dict[str, Any]:
    return judge(record(*runs, **more), after(8)).detail


def heads(day: float, degf: float, **more: Any) -> Any:
    flown = piece(60, 75.0, cht_degf=(degf,) * 4)
    return recorded(day, flown, cht_cruise_std_degf=(degf,) * 4, cht_cruise_pct=75.0, **more)


def rows(table: Any) -> Any:
    assert table is not None
    return table.rows


def test_stages_say_what_was_stated_and_what_was_measured() -> None:
    half = run(1, 0.5, airborne_min=30.0, blocks=(block(30, AT_75),))
    first = rows(power_tables.stages(detail(half, recorded(2, (30.0, 75.0)))["credit"]))[0]
    assert first[2].endswith(f": 30{NARROW}min stated, 30{NARROW}min measured")
    whole = rows(power_tables.stages(detail(recorded(1, (60.0, 75.0)))["credit"]))[0]
    assert whole[2] == f"1{NARROW}h 00{NARROW}min, measured"


def test_stages_show_least_and_most_where_there_is_doubt() -> None:
    wide = {"75": Span(60.0, 20.0, 60.0), "65": Span(0.0, 0.0, 0.0)}
    first = rows(power_tables.stages(detail(recorded(1, (40.0, 73.0), (20.0, 78.0), minutes=wide))["credit"]))[0]
    assert f"(from 20{NARROW}min to 1{NARROW}h 00{NARROW}min)" in first[2]


def test_stages_say_whether_power_alternated() -> None:
    flights = (recorded(1, (60.0, 75.0)), recorded(2, *SECOND))
    held = rows(power_tables.stages(detail(*flights, recorded(3, *HALF, *HALF))["credit"]))[2]
    assert held[4] == "3, alternation held"
    constant = rows(power_tables.stages(detail(*flights, recorded(3, (120.0, 75.0)))["credit"]))[2]
    assert constant[4] == "0, alternation not held"


def test_blocks_say_what_counts_and_why_not() -> None:
    high = piece(30, 75.0, pressure_altitude_ft=9000.0, chart_pct=76.0, fuel_pct=73.0)
    flown = recorded(1, high, piece(5, 75.0, pressure_altitude_ft=3000.0), (30.0, 65.0), told={"blocks": HOUR_1})
    one = with_type(record(flown), induction="turbocharged", altitude_cap_ft=8000.0)
    table = rows(power_tables.blocks(judge(one, after(8)).detail["credit"]))
    assert [row[3] for row in table] == [
        f"nothing: 75{NARROW}% above the plan's altitude for cooling",
        f"nothing: 75{NARROW}%, not held steady for ten minutes",
        f"65{NARROW}%",
        "nothing: the recording counts",
    ]
    assert table[0][2] == f"75.0{NARROW}±{NARROW}1.2{NARROW}%"
    assert table[0][4].startswith("recorded: chart and fuel flow")
    assert f"(chart 76{NARROW}%, fuel flow 73{NARROW}%)" in table[0][4]


def test_recordings_are_named_with_their_method_and_opened_only_by_who_may() -> None:
    told: dict[str, Any] = {"chart_minus_fuel_pct": 9.0, "suspect": "fuel flow reads low"}
    credit = detail(recorded(1, *HALF, **told), recorded(2, *HALF))["credit"]
    assert power_tables.recordings_in(credit) == {7}
    newest, first = power_tables.recordings(credit, [7])
    assert newest.href == first.href == "/recordings/7/"
    assert first.sentences[0] == "Chart and fuel flow."
    assert f"The chart gives 9{NARROW}% more than fuel flow." in first.sentences
    assert "In doubt: fuel flow reads low." in first.sentences
    assert [line.href for line in power_tables.recordings(credit, [])] == ["", ""]


def test_heat_gives_recorded_beside_typed_and_the_climb_of_each_head() -> None:
    flown = heads(
        1, 380.0, cht_max_degf=421.0, cht_climb_peak_degf=(415.0, None, 421.0, 402.0), told={"cht_max_degf": 405.0}
    )
    row = rows(power_tables.heat(detail(flown)["heat"], "us"))[0]
    assert row[1] == f"16.0{NARROW}gal/h recorded, 16.0{NARROW}gal/h typed"
    assert row[3] == f"421{NARROW}°F recorded, 405{NARROW}°F typed, cylinder 3"
    assert row[4] == f"415, left out, 421, 402{NARROW}°F"


def test_heat_of_a_typed_flight_reads_as_before() -> None:
    row = rows(power_tables.heat(detail(run(1))["heat"], "us"))[0]
    assert row[1:4] == (f"16.0{NARROW}gal/h", "in band", f"390{NARROW}°F")
    assert row[4] == "not observed"


def test_the_early_sign_is_shown_with_its_doubt_in_the_readers_units() -> None:
    flights = [heads(1, 400.0), heads(2, 398.0), heads(3, 375.0), heads(4, 375.0)]
    heat = detail(*flights)["heat"]
    shown = power_tables.seating(heat, "us")
    assert shown is not None
    assert shown.sign
    assert f"down 25{NARROW}±{NARROW}10{NARROW}°F" in shown.sentence
    assert "closes nothing" in shown.sentence
    assert rows(shown.table)[0][3] == "the first hour"
    metric = power_tables.seating(heat, "si")
    assert metric is not None
    assert f"down 14{NARROW}±{NARROW}5{NARROW}°C" in metric.sentence


def test_no_sign_is_said_as_no_sign() -> None:
    shown = power_tables.seating(detail(heads(1, 400.0), heads(3, 395.0))["heat"], "us")
    assert shown is not None
    assert not shown.sign
    assert "its absence proves nothing" in shown.sentence
    assert power_tables.seating(detail(run(1))["heat"], "us") is None


def test_recorded_power_is_a_solid_line_typed_a_dashed_one_and_stated_a_hatched_band() -> None:
    card = {"blocks": (BlockFacts(order=1, duration_min=40.0, stated_band="75"),)}
    credit = detail(
        recorded(1, (40.0, 75.0), piece(5, 70.0), told=card), run(2, 0.5, airborne_min=30.0, blocks=(block(30),))
    )
    figure = plots.power_picture(credit["credit"], BANDS, PLAN.low)
    assert figure is not None
    lines = [trace["line"] for trace in figure["data"] if trace.get("hovertemplate")]
    assert [(line["width"], line.get("dash")) for line in lines] == [(4, None), (1.5, None), (3, "dash")]
    assert [trace["name"] for trace in figure["data"] if trace.get("fillpattern")] == ["as on the card"]
    assert [mark for mark, _ in plots.power_key(credit["credit"], BANDS)] == ["——", "thin line", "– –", "/// in a band"]
