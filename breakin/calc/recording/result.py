"""What the analysis of a recorded flight says, as plain values.

Times are seconds since the first data row of the flight, on the repaired clock. Units are the canonical ones (degF,
inHg, rpm, US gal/h, ft, percent of rated power). None means "not recorded" or "could not be told"; it is never zero.
Every dataclass here can be turned to JSON with :func:`as_json` and back with :func:`engine_flight_of`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from typing import Any

Cylinders = tuple[float | None, ...]


@dataclass(frozen=True)
class Phase:
    """One phase of the flight: "off", "start", "taxi", "runup", "takeoff", "climb", "cruise", "descent", "landing"."""

    phase: str
    t0: float
    t1: float


@dataclass(frozen=True)
class Piece:
    """Some minutes in the air at one power, or between two powers. The pieces of a flight cover its airborne time.

    t0, t1 : [s].
    phase : "takeoff", "climb", "cruise", "descent" or "approach".
    pct, sigma : mean percent of rated power and one sigma of it [%]; None when power could not be told.
    chart_pct, fuel_pct : the two powers by themselves [%], None where there is no such way.
    method : how `pct` was found, in words to print beside it.
    steady : held within +-0.5 inHg and +-30 rpm for ten minutes or more.
    band : "75", "65" or "" - where the central value lies in the plan's credit.
    undecided : the centre lies within one sigma of an edge of a band.
    cht_degf, cht_std_degf : mean of each cylinder, as read and moved to a standard day; empty when there is none.
    """

    t0: float
    t1: float
    phase: str
    pct: float | None = None
    sigma: float | None = None
    chart_pct: float | None = None
    fuel_pct: float | None = None
    method: str = ""
    steady: bool = False
    band: str = ""
    undecided: bool = False
    map_inhg: float | None = None
    rpm: float | None = None
    fuel_flow_gph: float | None = None
    pressure_altitude_ft: float | None = None
    oat_degf: float | None = None
    cht_degf: Cylinders = ()
    cht_std_degf: Cylinders = ()

    @property
    def minutes(self) -> float:
        return (self.t1 - self.t0) / 60.0


@dataclass(frozen=True)
class Span:
    """Minutes with what they could be at least and at most under the doubt of the power [min]."""

    central: float
    least: float
    most: float


@dataclass(frozen=True)
class Leaning:
    """Leaning to the first cylinder that peaks: when [s], and which cylinder (1 is the first)."""

    t: float
    first_cylinder: int


@dataclass(frozen=True)
class TakeOff:
    """The full-throttle roll and first climb.

    fuel_flow_gph, map_inhg, rpm : held at full throttle. pressure_altitude_ft, oat_degf : of the field, where recorded.
    ambient_inhg : pressure at that altitude. static_map_error_inhg : manifold pressure minus ambient with the engine
    stopped, None when that was never recorded.
    """

    fuel_flow_gph: float | None = None
    map_inhg: float | None = None
    rpm: float | None = None
    pressure_altitude_ft: float | None = None
    oat_degf: float | None = None
    ambient_inhg: float | None = None
    static_map_error_inhg: float | None = None


@dataclass(frozen=True)
class SensorFault:
    """A sensor that is left out: "cht3", "egt1", "fuel_flow", "manifold_pressure", and why in words."""

    sensor: str
    why: str


@dataclass(frozen=True)
class EngineFlight:
    """What one engine did on one recorded flight or ground run.

    airborne_min, ground_before_min, ground_after_min : engine running [min]; ground_* None when it can't be told.
    run_min : engine running altogether [min].
    pieces : cover the airborne time in order.
    minutes : "75", "65", "light" (airborne below the plan's low), "ground" -> Span [min].
    changes : changes of power setting between cruise pieces.
    cht_climb_peak_degf, cht_turnover_s, cht_drop_max_degf_min : per cylinder; None for a rejected probe.
    climb_cht_degf : (ft above the field, hottest head) at every 1,000 ft passed in the first climb.
    cht_falling_by_3000 : "yes", "no" or "not observed".
    cht_max_degf, cht_max_cylinder : hottest head in flight.
    cht_over_watch_climb_min, cht_over_watch_level_min : longest unbroken minutes over the watch line.
    hot_cylinder : (cylinder, degF over the mean of its mates, its degF), the worst in level cruise, or None.
    cht_cruise_std_degf : mean of each head in steady upper-band cruise, on a standard day; and at what percent power.
    low_map_descent_min : airborne minutes under 15 inHg outside the last 5 minutes.
    oil_press_min_psi : in flight; oil_press_idle_psi : lowest at hot idle.
    above_cap_min : minutes in the upper band above the plan's altitude for cooling; None without such a cap.
    chart_minus_fuel_pct : mean over steady pieces, and how many pieces stood apart by more than 8 %.
    disagree : out of "manifold_pressure", "fuel_flow"; suspect : which of them is wrong, in words, or "".
    method : how power was found, in words. notes : what had to be assumed or left out, each in a sentence.
    """

    cylinders: int
    run_min: float
    airborne_min: float
    ground_before_min: float | None = None
    ground_after_min: float | None = None
    pieces: tuple[Piece, ...] = ()
    minutes: Mapping[str, Span] = field(default_factory=dict)
    changes: int = 0
    takeoff: TakeOff = TakeOff()
    leanings: tuple[Leaning, ...] = ()
    cht_climb_peak_degf: Cylinders = ()
    cht_turnover_s: Cylinders = ()
    cht_drop_max_degf_min: Cylinders = ()
    climb_cht_degf: tuple[tuple[float, float], ...] = ()
    cht_falling_by_3000: str = "not observed"
    cht_max_degf: float | None = None
    cht_max_cylinder: int | None = None
    cht_over_watch_climb_min: float | None = None
    cht_over_watch_level_min: float | None = None
    hot_cylinder: tuple[int, float, float] | None = None
    cht_cruise_std_degf: Cylinders = ()
    cht_cruise_pct: float | None = None
    low_map_descent_min: float | None = None
    oil_temp_max_degf: float | None = None
    oil_press_min_psi: float | None = None
    oil_press_idle_psi: float | None = None
    tit_max_degf: float | None = None
    tit_over_limit_min: float | None = None
    above_cap_min: float | None = None
    chart_minus_fuel_pct: float | None = None
    pieces_apart: int = 0
    bad_sensors: tuple[SensorFault, ...] = ()
    disagree: tuple[str, ...] = ()
    suspect: str = ""
    method: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class FlightAnalysis:
    """One recorded flight: what happened when, what each engine did.

    events : "engine_start", "runup_start", "runup_end", "takeoff_start", "liftoff", "cruise_start", "descent_start",
    "touchdown", "shutdown" -> [s]; one that did not happen or was not recorded is absent.
    engines : "1" (single or left), "2" (right).
    split_pct : engine 1 minus engine 2, mean over cruise [%]; split_over_min : minutes more than 6 % apart.
    """

    sample_s: float
    events: Mapping[str, float]
    phases: tuple[Phase, ...]
    engines: Mapping[str, EngineFlight]
    split_pct: float | None = None
    split_over_min: float | None = None
    notes: tuple[str, ...] = ()


def as_json(value: EngineFlight | FlightAnalysis) -> dict[str, Any]:
    """Plain dicts and lists, for a JSON column."""
    return asdict(value)


def engine_flight_of(data: Mapping[str, Any]) -> EngineFlight:
    """An EngineFlight from its JSON form. Keys that this version does not know are passed over."""
    known = {each.name: data[each.name] for each in fields(EngineFlight) if each.name in data}
    known["pieces"] = tuple(_piece(one) for one in known.get("pieces", ()))
    known["minutes"] = {name: Span(**span) for name, span in (known.get("minutes") or {}).items()}
    known["takeoff"] = TakeOff(**known.get("takeoff", {}))
    known["leanings"] = tuple(Leaning(**one) for one in known.get("leanings", ()))
    known["bad_sensors"] = tuple(SensorFault(**one) for one in known.get("bad_sensors", ()))
    known["climb_cht_degf"] = tuple((ft, cht) for ft, cht in known.get("climb_cht_degf", ()))
    hot = known.get("hot_cylinder")
    known["hot_cylinder"] = None if hot is None else (int(hot[0]), float(hot[1]), float(hot[2]))
    for name in ("cht_climb_peak_degf", "cht_turnover_s", "cht_drop_max_degf_min", "cht_cruise_std_degf"):
        known[name] = tuple(known.get(name, ()))
    for name in ("disagree", "notes"):
        known[name] = tuple(known.get(name, ()))
    return EngineFlight(**known)


def _piece(data: Mapping[str, Any]) -> Piece:
    one = {each.name: data[each.name] for each in fields(Piece) if each.name in data}
    one["cht_degf"], one["cht_std_degf"] = tuple(one.get("cht_degf", ())), tuple(one.get("cht_std_degf", ()))
    return Piece(**one)
