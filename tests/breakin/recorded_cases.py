"""Rules that read a recording, on both sides of their line. Lines as in tests/breakin/records.py, or common practice of
the trade without a published source.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from breakin.calc.power import Chart
from breakin.calc.recording.result import Span, TakeOff
from breakin.record import BuildRecord, RunFacts
from breakin.rules.base import CALL, NOTE, STOP, WATCH
from tests.breakin.recorded import FIRST, HALF, SECOND, TAKEOFF, engine, piece, pieces, recorded, with_engine
from tests.breakin.records import CHART, SEAT, TYPE, Case, blocks, record, run, with_type

COMPENSATES = {"fuel_flow_compensates": True}


def one(*settings: Any, **more: Any) -> BuildRecord:
    return record(recorded(1, *(settings or FIRST), **more))


def late(hours: float, **more: Any) -> BuildRecord:
    """A recorded flight that starts after so many hours."""
    return record(run(1, hours), recorded(2, *HALF, **more))


def takeoff(**more: Any) -> TakeOff:
    return replace(TAKEOFF, **more)


def descents(count: int, minutes: float) -> BuildRecord:
    return record(*(recorded(day, *HALF, low_map_descent_min=minutes) for day in range(1, count + 1)))


def circuits(landings: int, light_min: float) -> BuildRecord:
    """One recorded flight with so many landings and so many minutes light, which no piece of it shows by its mean."""
    light = Span(light_min, light_min, light_min)
    flight = recorded(1, (40.0, 63.0), minutes={"light": light})
    assert flight.recorded is not None
    return record(replace(flight, recorded=replace(flight.recorded, landings=landings)))


def with_heads(day: float, third: float, rest: float = 380.0, **more: Any) -> RunFacts:
    """A flight on which cylinder 3 ran at one temperature and its mates at another."""
    heads = (rest, rest, third, rest)
    hot = (3, third - rest, third)
    return recorded(day, piece(60, 75.0, cht_degf=heads), hot_cylinder=hot, **more)


def apart(*counts: int, **more: Any) -> BuildRecord:
    """Flights on which so many settings stood apart, and no mixture explains it."""
    rows = (
        recorded(day, *HALF, pieces_apart=count, disagree=("fuel_flow",) if count else ())
        for day, count in enumerate(counts, start=1)
    )
    return record(*rows, **more)


def twin(left: float, right: float, minutes: float, mean: float, over: float, **more: Any) -> BuildRecord:
    flight = run(1)
    own = engine(pieces(piece(minutes, left)))
    other = engine(pieces(piece(minutes, right, **more)))
    seen = with_engine(flight, own, other=other, split_pct=mean, split_over_min=over)
    return record(replace(flight, recorded=seen), installations=(replace(SEAT, position="left"),))


BOOSTED_CHART = Chart.from_dict(
    {
        "kind": "map_rpm",
        "source": "invented for tests",
        "revision": "1",
        "rpm": list(CHART.rpm),
        "map_inhg": list(CHART.map_inhg),
        "hp": [list(row) for row in CHART.hp],
        "full_throttle": {
            "rpm": list(CHART.full_throttle_rpm),
            "map_inhg": [37.0] * len(CHART.full_throttle_rpm),
            "hp": [hp * 1.2 for hp in CHART.full_throttle_hp],
        },
        "critical_altitude_ft": 16000.0,
    },
    rated_hp=TYPE.rated_hp,
)


def boosted(facts: BuildRecord) -> BuildRecord:
    return with_type(
        facts, induction="turbocharged", altitude_cap_ft=8000.0, tit_limit_degf=1650.0, chart=BOOSTED_CHART
    )


def at_full_throttle(manifold: float) -> BuildRecord:
    return boosted(one(takeoff=takeoff(map_inhg=manifold)))


def high(altitude: float, **more: Any) -> BuildRecord:
    return boosted(one(piece(60, 75.0, pressure_altitude_ft=altitude), **more))


TYPED_HIGH = boosted(record(run(1, blocks=blocks((60, 24.66)))))
HOT_TYPED = {"cht_max_degf": 505.0}
RECORDED_CASES: list[Case] = [
    # What was typed beside what was recorded.
    ("fuel flow 5 % apart is taken", "P0", one(told={"takeoff_ff_gph": 16.8}), []),
    ("fuel flow 5.1 % apart is noted", "P0", one(told={"takeoff_ff_gph": 16.82}), [NOTE]),
    ("heads 15 degF apart are taken", "P0", one(told={"cht_max_degf": 405.0}), []),
    ("heads 16 degF apart are noted", "P0", one(told={"cht_max_degf": 374.0}), [NOTE]),
    ("5 min more in the air than recorded are taken", "P0", one(told={"airborne_min": 65.0}), []),
    ("6 min more in the air than recorded are noted", "P0", one(told={"airborne_min": 66.0}), [NOTE]),
    (
        "stated 60 and recorded 50 min in the band are taken",
        "P0",
        one((50.0, 75.0), (10.0, 55.0), told={"blocks": blocks((60, 24.66))}),
        [],
    ),
    (
        "stated 60 and recorded 49 min in the band are noted",
        "P0",
        one((49.0, 75.0), (11.0, 55.0), told={"blocks": blocks((60, 24.66))}),
        [NOTE],
    ),
    ("two powers that agree are fine", "P1", one(), []),
    (
        "a fuel flow that disagrees with the chart is noted once for all flights",
        "P1",
        record(*(recorded(day, *HALF, disagree=("fuel_flow",), chart_minus_fuel_pct=9.0) for day in (1, 2))),
        [NOTE],
    ),
    # Light running and the verdict, measured.
    ("10 min light by the recording are taken", "P4", one((40.0, 75.0), (10.0, 55.0), (10.0, 50.0)), []),
    ("11 min light by it ask for a call", "P4", one((39.0, 75.0), (11.0, 55.0), (10.0, 50.0)), [CALL]),
    (
        "stated as on the card and flown light asks for a call",
        "P4",
        one((60.0, 50.0), told={"blocks": blocks((60, 24.66))}),
        [CALL],
    ),
    ("first two hours met by measurement", "P4", record(recorded(1, *FIRST), recorded(2, *SECOND)), []),
    (
        "a recorded hour at 72.5 ± 1.2 % leaves them undecided",
        "P4",
        record(recorded(1, (60.0, 72.5)), recorded(2, *SECOND)),
        [NOTE],
    ),
    (
        "a recorded hour at 71.5 ± 1.2 % does too, and is watched",
        "P4",
        record(recorded(1, (120.0, 71.5)), recorded(2, *SECOND)),
        [WATCH],
    ),
    # Twins.
    ("3 % apart on average is even", "P6", twin(75, 72, 60, 3.0, 0.0), []),
    ("3.1 % apart is noted", "P6", twin(75, 71.9, 60, 3.1, 0.0), [NOTE]),
    ("0.5 inHg apart is even", "P6", twin(75, 75, 60, 0.0, 0.0, map_inhg=23.5), []),
    ("0.6 inHg apart is noted", "P6", twin(75, 75, 60, 0.0, 0.0, map_inhg=23.4), [NOTE]),
    ("far apart for 10 min is noted", "P6", twin(75, 68, 10, 7.0, 10.0), [NOTE]),
    ("far apart for 11 min asks for a call", "P6", twin(75, 68, 11, 7.0, 11.0), [CALL]),
    # Descent: under 15 inHg for 2 min; the third flight.
    ("2 min with the power off are taken", "P7", descents(1, 2.0), []),
    ("2.1 min with the power off are noted", "P7", descents(1, 2.1), [NOTE]),
    ("the third such flight asks for a call", "P7", descents(3, 2.1), [NOTE, NOTE, CALL]),
    # Who is aboard: two people, the first flight.
    ("two people are a crew", "P10", record(run(1, persons_aboard=2)), []),
    ("three people aboard the first flight ask for a call", "P10", record(run(1, persons_aboard=3)), [CALL]),
    ("later flights may carry passengers", "P10", record(run(1, persons_aboard=1), run(2, persons_aboard=4)), []),
    # Circuits: two landings, 10 min light, the first 5 h.
    ("two landings are no circuits", "P9", circuits(2, 30.0), []),
    ("three landings are noted", "P9", circuits(3, 10.0), [NOTE]),
    ("three landings with 11 min light ask for a call", "P9", circuits(3, 11.0), [CALL]),
    ("what the pilot noted counts without a recording", "P9", record(run(1, landings=4)), [NOTE]),
    ("from 5 h on circuits are flown", "P9", record(*(run(number) for number in range(1, 6)), run(6, landings=4)), []),
    # Boost: 8,000 ft, 1650 degF.
    ("75 % at the plan's altitude is credited", "P8", high(8000.0), []),
    ("75 % above it is not credited, and noted", "P8", high(8001.0), [NOTE]),
    ("TIT at its limit is taken", "P8", boosted(one(tit_max_degf=1650.0)), []),
    ("TIT over its limit asks for a call", "P8", boosted(one(tit_max_degf=1651.0)), [CALL]),
    ("TIT over its limit by the pilot's word asks too", "P8", boosted(record(run(1, tit_max_degf=1660.0))), [CALL]),
    ("without boost there is no altitude for cooling", "P8", one(piece(60, 75.0, pressure_altitude_ft=9000.0)), []),
    # Take-off and heat.
    ("a recorded flow in band beats a typed one that is low", "E1", one(told={"takeoff_ff_gph": 14.0}), []),
    (
        "a recorded flow that is low beats a typed one in band",
        "E1",
        one(takeoff=takeoff(fuel_flow_gph=14.6), told={"takeoff_ff_gph": 16.0}),
        [STOP],
    ),
    (
        "the recording's own altitude corrects a compensated flow",
        "E1",
        with_type(one(takeoff=takeoff(fuel_flow_gph=12.6, pressure_altitude_ft=6480.0, oat_degf=36.0)), **COMPENSATES),
        [],
    ),
    (
        "the same flow at a low field stops",
        "E1",
        with_type(one(takeoff=takeoff(fuel_flow_gph=12.6, pressure_altitude_ft=600.0, oat_degf=59.0)), **COMPENSATES),
        [STOP],
    ),
    ("a recorded head over the limit stops", "E2", one(cht_max_degf=501.0), [STOP]),
    ("a typed head over the limit stops beside a recording", "E2", one(cht_max_degf=495.0, told=HOT_TYPED), [STOP]),
    (
        "5 min over the watch line in the climb are noted",
        "E2",
        one(cht_max_degf=425.0, cht_over_watch_climb_min=5.0),
        [NOTE],
    ),
    (
        "5.1 min over it in the climb ask for a call",
        "E2",
        one(cht_max_degf=425.0, cht_over_watch_climb_min=5.1),
        [CALL],
    ),
    (
        "2.1 min over it level ask for a call",
        "E2",
        one(cht_max_degf=425.0, cht_over_watch_level_min=2.1),
        [CALL],
    ),
    (
        "recorded minutes over the line beat the pilot's word",
        "E2",
        one(cht_max_degf=425.0, cht_over_watch_climb_min=1.0, told={"cht_over_watch": "longer"}),
        [NOTE],
    ),
    (
        "recorded heads at 400 that still warm up are noted",
        "E3",
        one(cht_falling_by_3000="no", cht_max_degf=400.0),
        [NOTE],
    ),
    (
        "recorded heads over 400 not coming down ask for a call",
        "E3",
        one(cht_falling_by_3000="no", cht_max_degf=401.0),
        [CALL],
    ),
    (
        "at 400 the pilot's own word asks for a call",
        "E3",
        one(cht_falling_by_3000="no", cht_max_degf=400.0, told={"cht_falling_by_3000": "no"}),
        [CALL],
    ),
    (
        "recorded over 420 at the top of the climb stops",
        "E3",
        one(cht_falling_by_3000="no", climb_cht_degf=((2000.0, 415.0), (3000.0, 421.0))),
        [STOP],
    ),
    ("a recording that shows them come down beats the word", "E3", one(told={"cht_falling_by_3000": "no"}), []),
    ("50 degF over its mates is taken", "E4", record(with_heads(1, 430.0)), []),
    ("51 degF over its mates and over 400 is watched", "E4", record(with_heads(1, 431.0)), [WATCH]),
    ("51 degF over its mates at 400 is taken", "E4", record(with_heads(1, 400.0, 349.0)), []),
    (
        "30 degF beyond its own history is watched",
        "E4",
        record(with_heads(1, 410.0), with_heads(2, 410.0), with_heads(3, 440.0)),
        [WATCH],
    ),
    (
        "31 degF beyond its own history asks for a call",
        "E4",
        record(with_heads(1, 410.0), with_heads(2, 410.0), with_heads(3, 441.0)),
        [CALL],
    ),
    (
        "one flight is no history",
        "E4",
        record(with_heads(1, 400.0), with_heads(2, 441.0)),
        [WATCH],
    ),
    ("recorded oil pressure under the minimum stops", "E5", one(oil_press_min_psi=49.0), [STOP]),
    ("recorded oil pressure at the minimum is taken", "E5", one(oil_press_min_psi=50.0), []),
    ("20 recorded min on the ground are noted", "E7", one(ground_before_min=20.0), [NOTE]),
    ("20.1 recorded min on the ground ask for a call", "E7", one(ground_before_min=20.1), [CALL]),
    ("recorded minutes on the ground beat typed ones", "E7", one(told={"ground_before_min": 40.0}), []),
    # Full throttle: 29.3 inHg outside, rated 2700 rpm, a boosted engine's 37.0 inHg.
    ("1.5 inHg under the air outside is taken", "E8", one(takeoff=takeoff(map_inhg=27.8)), []),
    ("1.6 inHg under the air outside asks for a call", "E8", one(takeoff=takeoff(map_inhg=27.7)), [CALL]),
    (
        "a sensor that reads low with the engine stopped is not the engine",
        "E8",
        one(takeoff=takeoff(map_inhg=27.7, static_map_error_inhg=-0.5)),
        [],
    ),
    ("typed manifold pressure is judged without a recording", "E8", record(run(1, takeoff_map_inhg=27.0)), [CALL]),
    ("typed manifold pressure as it should be is fine", "E8", record(run(1, takeoff_map_inhg=28.5)), []),
    ("50 rpm under rated is taken", "E8", one(takeoff=takeoff(rpm=2650.0)), []),
    ("51 rpm under rated asks for a call", "E8", one(takeoff=takeoff(rpm=2649.0)), [CALL]),
    ("typed rpm under rated asks as well", "E8", record(run(1, takeoff_rpm=2600.0)), [CALL]),
    (
        "a fixed-pitch propeller turns under rated rpm on the roll",
        "E8",
        with_type(one(takeoff=takeoff(rpm=2350.0)), prop_control="fixed"),
        [],
    ),
    ("boost 1 inHg off its setting is taken", "E8", at_full_throttle(36.0), []),
    ("boost 1.1 inHg low asks for a call", "E8", at_full_throttle(35.9), [CALL]),
    ("boost 1.1 inHg high asks for a call", "E8", at_full_throttle(38.1), [CALL]),
]
