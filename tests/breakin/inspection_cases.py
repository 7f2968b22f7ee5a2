"""Cases of the rules that read inspections, for the table of rules.

The lines are common practice of the trade without a published source; the numbers of the plan's table, the growth of a
filter and the rise above the baseline are the shop's own choice.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from breakin.record import BuildRecord, InspectionFacts
from breakin.rules.base import CALL, STOP, WATCH
from tests.breakin.records import Case, checked, record, run, with_plan, with_type


def look(day: float, kind: str, result: str = "normal", **results: Any) -> InspectionFacts:
    return replace(checked(day, kind, result), results=results)


def cut(day: float, **results: Any) -> InspectionFacts:
    return look(day, "oil_filter", opened=True, **results)


def pressed(day: float, *psi: float, **more: Any) -> InspectionFacts:
    readings = {str(number): each for number, each in enumerate(psi, start=1)}
    return look(day, "compression", input_psi=80.0, readings=readings, **more)


def sampled(day: float, hours: float | None = 10.0, **ppm: float) -> InspectionFacts:
    return look(day, "oil_analysis", ppm=ppm, hours_on_oil=hours)


def at_h(hours: float, *looks: InspectionFacts, **more: Any) -> BuildRecord:
    """So many hours flown on the first day, then these looks."""
    return record(run(1, hours), inspections=looks, **more)


def table(one: BuildRecord) -> BuildRecord:
    return with_plan(one, filter_table={"sliver": "few", "flake": "some"})


BREATHER = {"leak_heard": {"1": "breather", "3": "breather"}}
BASE = (sampled(2, fe=60.0, cu=20.0), sampled(3, fe=48.0, cu=12.0))
FF, AS_READ = {"fuel_flow_compensates": True}, {"fuel_flow_compensates": False}

INSPECTION_CASES: list[Case] = [
    # Metal in the filter.
    ("fuzz is usual with new rings", "I2", at_h(1, cut(2, material="fuzz", count="many", amount="trace")), []),
    ("a flake of 0.9 mm is usual", "I2", at_h(1, cut(2, material="flake", longest_mm=0.9)), []),
    ("a flake of 1 mm is looked at soon", "I2", at_h(1, cut(2, material="flake", longest_mm=1.0)), [WATCH]),
    ("a sliver of 2 mm is looked at soon", "I2", at_h(1, cut(2, material="sliver", longest_mm=2.0)), [WATCH]),
    ("a sliver of 2.1 mm stops", "I2", at_h(1, cut(2, material="sliver", longest_mm=2.1)), [STOP]),
    ("a chunk stops", "I2", at_h(1, cut(2, material="chunk", longest_mm=0.5)), [STOP]),
    ("as many slivers as the plan takes", "I2", table(at_h(1, cut(2, material="sliver", count="few"))), []),
    ("more slivers than the plan takes stop", "I2", table(at_h(1, cut(2, material="sliver", count="some"))), [STOP]),
    ("more flakes than the plan takes stop", "I2", table(at_h(1, cut(2, material="flake", count="many"))), [STOP]),
    (
        "the same amount again is no growth",
        "I2",
        at_h(1, cut(2, material="fuzz", amount="quarter"), cut(9, material="fuzz", amount="quarter")),
        [],
    ),
    (
        "an amount that grows stops",
        "I2",
        at_h(1, cut(2, material="fuzz", amount="trace"), cut(9, material="fuzz", amount="quarter")),
        [STOP],
    ),
    (
        "a first trace after a clean filter is no growth",
        "I2",
        at_h(1, cut(2, material="none", amount="none"), cut(9, material="fuzz", amount="trace")),
        [],
    ),
    (
        "more flakes than in the filter before stop",
        "I2",
        at_h(1, cut(2, material="flake", count="few"), cut(9, material="flake", count="some")),
        [STOP],
    ),
    (
        "fewer flakes than before are fine",
        "I2",
        at_h(1, cut(2, material="flake", count="some"), cut(9, material="flake", count="few")),
        [],
    ),
    # Differential compression.
    ("two low cylinders before 25 h say nothing", "I3", at_h(25.0, pressed(2, 40, 45, 70, 70)), []),
    ("two low cylinders after 25 h are looked at soon", "I3", at_h(25.1, pressed(2, 59, 59, 70, 70)), [WATCH]),
    ("one low cylinder after 25 h is not", "I3", at_h(25.1, pressed(2, 59, 60, 70, 70)), []),
    (
        "two low cylinders before the plan's first check say nothing",
        "I3",
        with_plan(at_h(40.0, pressed(2, 40, 45, 70, 70)), first_check_h=50.0),
        [],
    ),
    (
        "air at the breather on two cylinders after 25 h speaks before the plan's first check",
        "I3",
        with_plan(at_h(40.0, pressed(2, 70, 70, 70, 70, **BREATHER)), first_check_h=50.0),
        [WATCH],
    ),
    ("air at the breather before 25 h says nothing", "I3", at_h(24.0, pressed(2, 70, 70, 70, 70, **BREATHER)), []),
    (
        "air at the breather on one cylinder says nothing",
        "I3",
        at_h(30.0, pressed(2, 70, 70, 70, 70, leak_heard={"1": "breather", "2": "exhaust"})),
        [],
    ),
    ("both at once ask for a call", "I3", at_h(30.0, pressed(2, 50, 50, 70, 70, **BREATHER)), [CALL]),
    # Oil at the breather: 0 dry to 3 heavy.
    ("drips at the breather are fine", "I4", at_h(5, look(2, "leak", breather=2)), []),
    ("a breather heavy with oil is looked at soon", "I4", at_h(5, look(2, "leak", breather=3)), [WATCH]),
    # Oil analysis: two samples of baseline, a quarter and 5 ppm above both.
    ("a first sample says nothing, however high", "I5", at_h(10, sampled(2, fe=400.0)), []),
    ("a second sample that rose says nothing", "I5", at_h(10, BASE[1], sampled(5, fe=200.0)), []),
    ("a third sample a quarter above both is not a rise", "I5", at_h(30, *BASE, sampled(5, fe=75.0)), []),
    ("a third sample clearly above both is watched", "I5", at_h(30, *BASE, sampled(5, fe=75.1)), [WATCH]),
    ("a few ppm of a rare metal are no rise", "I5", at_h(30, *BASE, sampled(5, cu=24.9)), []),
    ("twice the hours on the oil give twice the metal", "I5", at_h(30, *BASE, sampled(5, 20.0, fe=120.0)), []),
    (
        "coarse metal counts from the first sample",
        "I5",
        at_h(10, replace(sampled(2, fe=60.0), results={"ppm": {"fe": 60.0}, "coarse_metal": True})),
        [WATCH],
    ),
    # Fuel flow as left, band 15 to 17 gal/h.
    ("a set-up in the band is fine", "I7", at_h(1, look(2, "fuel_flow", full_gph=15.0)), []),
    ("a set-up under the band asks for a call", "I7", at_h(1, look(2, "fuel_flow", full_gph=14.9)), [CALL]),
    ("a set-up over the band asks for a call", "I7", at_h(1, look(2, "fuel_flow", full_gph=17.1)), [CALL]),
    (
        "high up a flow that follows density is brought to sea level",
        "I7",
        with_type(at_h(1, look(2, "fuel_flow", full_gph=12.9, density_altitude_ft=6000.0)), **FF),
        [],
    ),
    (
        "high up a flow that does not follow density is compared as read",
        "I7",
        with_type(at_h(1, look(2, "fuel_flow", full_gph=12.9, density_altitude_ft=6000.0)), **AS_READ),
        [CALL],
    ),
    (
        "the newest set-up counts",
        "I7",
        at_h(1, look(2, "fuel_flow", full_gph=14.0), look(3, "fuel_flow", full_gph=16.0)),
        [],
    ),
    # One cause is one thing to clear.
    (
        "what the rule of metal says is not said again",
        "I1",
        at_h(1, look(2, "oil_filter", "stop", opened=True, material="chunk")),
        [],
    ),
    (
        "a technician who finds it graver than the rule is heard",
        "I1",
        at_h(1, look(2, "oil_filter", "stop", opened=True, material="flake", longest_mm=1.5)),
        [STOP],
    ),
]  # fmt: skip
