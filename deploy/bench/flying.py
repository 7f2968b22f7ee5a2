"""How the engines of a bench fleet are flown: invented, seeded, and near enough to what pilots write down."""

import hashlib
import math
import random
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

from breakin.calc.atmosphere import density_ratio, pressure_altitude_ft
from breakin.calc.power import Chart, corrected_fuel_flow_gph, map_for_percent, max_percent_power, rpm_for_percent
from breakin.models import Flight, FlightEngine, OilEvent, PowerBlock
from engines.models import Aircraft, Engine, EngineTypeRevision, Installation
from shop.models import Person

HABITS = {"good": 78, "gentle": 6, "hot": 4, "thirsty": 6, "rough": 1, "long on the ground": 5}
TACH_PER_AIRBORNE = 0.97
DRAIN_AT_H = 10.0


@dataclass
class Seat:
    """One engine in one seat, with what a fleet needs to fly it. qt, h, qt/h."""

    engine: Engine
    installation: Installation
    revision: EngineTypeRevision
    chart: Chart
    habit: str
    meter: float
    level: float
    plateau: float
    above: float
    tau: float
    hours: float = 0.0
    flown: int = 0
    drained: bool = False

    @property
    def rate(self) -> float:
        """Loss through the rings, and through the breather above the settling level."""
        settle = self.revision.settle_qt or self.revision.sump_full_qt - 2
        breather = 0.3 * max(0.0, self.level - settle)
        return self.plateau + self.above * math.exp(-self.hours / self.tau) + breather


@dataclass
class Facts:
    """Rows that wait to be written, parents before children."""

    flights: list[Flight] = field(default_factory=list)
    runs: list[FlightEngine] = field(default_factory=list)
    blocks: list[PowerBlock] = field(default_factory=list)
    oil: list[OilEvent] = field(default_factory=list)


def new_id(rng: random.Random) -> uuid.UUID:
    return uuid.UUID(int=rng.getrandbits(128), version=4)


def common(rng: random.Random, at: datetime, by: Person) -> dict[str, Any]:
    """What every fact carries: written down and sent at once, so of grade B."""
    own = new_id(rng)
    return {
        "client_id": own,
        "root": own,
        "content_hash": hashlib.sha256(own.bytes).hexdigest(),
        "happened_at": at,
        "local_date": at.date(),
        "zone": "UTC",
        "written_at": at + timedelta(minutes=20),
        "received_at": at + timedelta(minutes=50),
        "entered_by": by,
        "source": "portal",
        "grade": "B",
    }


def moments(rng: random.Random, now: datetime) -> list[datetime]:
    """Ends of four to twelve flights, oldest first. One fleet in ten has stood for weeks since the last."""
    since = rng.uniform(12, 35) if rng.random() < 0.1 else rng.uniform(0.5, 8)
    at = now - timedelta(days=since)
    found = []
    for _ in range(rng.randint(4, 12)):
        found.append(at.replace(hour=rng.randint(9, 17), minute=rng.randrange(60), second=0, microsecond=0))
        at -= timedelta(days=rng.uniform(1.1, 4))
    if found[0] > now - timedelta(hours=1):
        found[0] -= timedelta(days=1)
    return sorted(found)


def fly(facts: Facts, rng: random.Random, aircraft: Aircraft, seats: list[Seat], at: datetime, by: Person) -> None:
    """One flight of an aircraft with all its engines, their blocks and oil."""
    airborne = rng.randrange(65, 126, 5)
    long_ground = any(seat.habit == "long on the ground" for seat in seats)
    before = 24 if long_ground and rng.random() < 0.5 else rng.randint(4, 9)
    rough = any(seat.habit == "rough" for seat in seats) and rng.random() < 0.3
    altitude, warmth = rng.choice((3000, 3500, 4000, 4500)), rng.choice((-10, 0, 10))
    elevation = aircraft.home.elevation_ft
    fact = common(rng, at, by)
    flight = Flight(
        **fact,
        aircraft=aircraft,
        pilot=by,
        kind="run_in",
        field=aircraft.home,
        field_elevation_ft=elevation,
        altimeter_inhg=round(rng.uniform(29.7, 30.2), 2),
        oat_ground_degf=round(59 - 0.00357 * elevation) + warmth,
        airborne_min=airborne,
        ground_before_min=before,
        ground_after_min=rng.randint(2, 4),
        landings=1,
        persons_aboard=1,
        chips=["rough"] if rough else ["none"],
        typed={"airborne_min": [str(airborne), "min"]},
    )
    facts.flights.append(flight)
    began = at - timedelta(minutes=airborne + before + 4)
    for seat in seats:
        _oil_before(facts, rng, seat, flight, began, by)
        _run(facts, rng, seat, flight, altitude, warmth)
        _oil_after(facts, rng, seat, flight, by)


def _takeoff_flow(rng: random.Random, seat: Seat, flight: Flight) -> float | None:
    """What the gauge shows at full throttle: within the type's band, thinner air taken off where the system does so."""
    low, high = seat.revision.takeoff_ff_low_gph, seat.revision.takeoff_ff_high_gph
    if not low or not high:
        return None
    shown = rng.uniform(low + 0.3, high - 0.3)
    if seat.revision.fuel_flow_compensates:
        at = pressure_altitude_ft(flight.field_elevation_ft or 0.0, flight.altimeter_inhg or 29.92)
        shown /= corrected_fuel_flow_gph(1.0, density_ratio(at, float(flight.oat_ground_degf or 59)))
    return round(shown, 1)


def _run(facts: Facts, rng: random.Random, seat: Seat, flight: Flight, altitude: int, warmth: int) -> None:
    revision = seat.revision
    airborne = int(flight.airborne_min)
    end = round(seat.meter + airborne / 60 * TACH_PER_AIRBORNE, 1)
    hottest = rng.randint(424, 445) if seat.habit == "hot" and rng.random() < 0.6 else rng.randint(375, 412)
    run = FlightEngine(
        flight=flight,
        engine=seat.engine,
        installation=seat.installation,
        meter_kind="tach",
        meter_start_h=seat.meter,
        meter_end_h=end,
        hours=round(end - seat.meter, 1),
        takeoff_rpm=revision.rated_rpm,
        takeoff_ff_gph=_takeoff_flow(rng, seat, flight),
        climb_cht_degf={"1000": hottest - 15, "2000": hottest, "3000": hottest - 10},
        cht_max_degf=hottest,
        cht_over_watch="under_5" if hottest > 420 else "no",
        cht_falling_by_3000="yes",
        cht_cruise_mean_degf=rng.randint(335, 370),
        oil_temp_max_degf=rng.randint(175, 205),
        oil_press_min_psi=rng.randint(62, 75),
        oil_press_idle_psi=rng.randint(30, 42),
    )
    facts.runs.append(run)
    for order, (minutes, pct) in enumerate(_schedule(seat, airborne - 12), 1):
        rpm, map_inhg = _setting(revision.pk, seat.chart, pct, altitude, warmth)
        facts.blocks.append(
            PowerBlock(
                flight_engine=run,
                order=order,
                duration_min=minutes,
                pressure_altitude_ft=altitude,
                oat_degf=round(59 - 0.00357 * altitude) + warmth,
                rpm=rpm,
                map_inhg=map_inhg,
                mixture="first_peak",
                cowl_flaps="trail",
                cht_max_degf=hottest - 25,
                cht_mean_degf=run.cht_cruise_mean_degf,
            )
        )
    seat.level -= sum(_lost(seat, run.hours))
    seat.meter, seat.flown = end, seat.flown + 1
    seat.hours += run.hours


def _lost(seat: Seat, hours: float) -> Iterator[float]:
    """Loss of a flight in ten steps, each at the rate of its own hour."""
    at = seat.hours
    for step in range(10):
        seat.hours = at + hours * step / 10
        yield seat.rate * hours / 10
    seat.hours = at


def _schedule(seat: Seat, minutes: int) -> Iterator[tuple[int, int]]:
    """(minutes, percent): an hour at 75, then a quarter hour each, then half hours."""
    high, low = (58, 52) if seat.habit == "gentle" else (75, 65)
    step = 60 if seat.flown == 0 else 15 if seat.flown == 1 else 30
    turn = 0
    while minutes >= 10:
        yield min(step, minutes), low if turn % 2 else high
        minutes -= step
        turn += 1


@lru_cache(maxsize=2000)
def _setting(revision: int, chart: Chart, pct: int, altitude: int, warmth: int) -> tuple[float, float | None]:
    """(rpm, inHg or None) that a pilot would set, rounded as on the dials."""
    oat = round(59 - 0.00357 * altitude) + warmth
    if chart.kind == "fixed_pitch":
        rpm = rpm_for_percent(chart, pct, altitude, oat)
        return (float(round(rpm, -1)) if rpm else 2450.0), None
    turns = 2400.0
    most = max_percent_power(chart, pressure_altitude_ft=altitude, oat_degf=oat, rpm=turns)
    found = map_for_percent(chart, min(pct, most - 0.5), turns, altitude, oat)
    return turns, round(found or 22.0, 1)


def _event(
    rng: random.Random, seat: Seat, kind: str, at: datetime, by: Person, flight: Flight | None, **more: Any
) -> OilEvent:
    root = flight.root if flight else None
    return OilEvent(**common(rng, at, by), engine=seat.engine, kind=kind, flight_root=root, **more)


def _oil_before(facts: Facts, rng: random.Random, seat: Seat, flight: Flight, at: datetime, by: Person) -> None:
    hold = (seat.revision.settle_qt or seat.revision.sump_full_qt - 2) - 1
    if seat.level < hold and seat.flown:
        seat.level += 1
        more = {"amount_qt": 1.0, "container": "us_qt", "oil_kind": "mineral"}
        facts.oil.append(_event(rng, seat, "addition", at, by, flight, when="before", **more))
    else:
        facts.oil.append(_event(rng, seat, "none_added", at, by, flight, when="before"))


def _oil_after(facts: Facts, rng: random.Random, seat: Seat, flight: Flight, by: Person) -> None:
    shown = max(0.0, round((seat.level + rng.gauss(0, 0.1)) * 4) / 4)
    more = {"minutes_since_shutdown": rng.choice((15, 20, 30)), "level_ground": True, "wiped_twice": True}
    event = _event(rng, seat, "reading", flight.happened_at, by, flight, when="after", level_qt=shown, **more)
    event.typed, event.order, event.belly_oil = {"level_qt": [f"{shown:g}", "qt"]}, 1, 0
    facts.oil.append(event)


def fill(facts: Facts, rng: random.Random, seat: Seat, at: datetime, by: Person, filled_qt: float) -> None:
    """The technician drains, fills and notes the filter."""
    drained = seat.level if seat.flown else None
    more = {"drained_qt": drained, "filled_qt": filled_qt, "filter_changed": True, "oil_kind": "mineral"}
    facts.oil.append(_event(rng, seat, "drain_fill", at, by, None, **more))
    seat.level = filled_qt
