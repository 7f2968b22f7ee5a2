"""Records of builds written by hand: the smallest that a rule can judge, and what a test changes about it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from breakin.calc.power import Chart
from breakin.record import (
    BlockFacts,
    BuildRecord,
    InspectionFacts,
    InstallationFacts,
    OilFacts,
    PlanFacts,
    PositionFacts,
    RunFacts,
    StageFacts,
    TypeFacts,
)

OPENED = datetime(2026, 6, 1, 8, 0, tzinfo=UTC)
NAMES = UUID("6b1f0a9e-7f55-4a43-9d61-0c2f2f0d9a11")
RPM, MAP = (2000.0, 2300.0, 2500.0, 2700.0), (14.0, 18.0, 22.0, 26.0, 29.0)


# A case of a table: sentence, rule, facts, severities of what the rule finds.
Case = tuple[str, str, BuildRecord, list[int]]


def root(name: str) -> UUID:
    return uuid5(NAMES, name)


def _hp(rpm: float, manifold: float) -> float:
    """A made-up engine of 180 hp at 2700 rpm and 29 inHg: torque in a straight line with manifold pressure."""
    return 180.0 * (rpm / 2700.0) * (manifold - 4.0) / 25.0


CHART = Chart.from_dict(
    {
        "kind": "map_rpm",
        "source": "invented for tests",
        "revision": "1",
        "rpm": list(RPM),
        "map_inhg": list(MAP),
        "hp": [[_hp(rpm, manifold) for manifold in MAP] for rpm in RPM],
        "full_throttle": {"rpm": list(RPM), "map_inhg": [29.0] * 4, "hp": [_hp(rpm, 29.0) for rpm in RPM]},
        "critical_altitude_ft": None,
    },
    rated_hp=180.0,
)

TYPE = TypeFacts(
    designation="TST-4",
    revision=1,
    source="invented for tests",
    cylinders=4,
    displacement_cuin=354.0,
    rated_hp=180.0,
    rated_rpm=2700.0,
    sump_full_qt=8.0,
    fuel_flow_compensates=False,
    takeoff_ff_low_gph=15.0,
    takeoff_ff_high_gph=17.0,
    cht_watch_degf=420.0,
    cht_limit_degf=500.0,
    oil_temp_max_degf=245.0,
    oil_press_min_psi=50.0,
    oil_press_idle_min_psi=20.0,
    chart=CHART,
)
PLAN = PlanFacts(
    revision=1,
    variant="constant speed",
    source="invented plan",
    source_revision="1",
    credit={"75": [72, 85], "65": [62, 68]},
    low=60.0,
    expected_low_h=8.0,
    expected_high_h=12.0,
    minimum_h=8.0,
    accept_qt_h=0.15,
    watch_qt_h=0.29,
    alarm_qt_h=0.58,
    follow_up_h=(10.0, 25.0, 50.0),
    follow_up_days=(30.0, 90.0, 180.0),
    idle_days=(10.0, 14.0, 21.0, 30.0),
    stages=(
        StageFacts("hour_1", ((60.0, "75"),), 2.0, 2450.0),
        StageFacts("hour_2", ((15.0, "75"), (15.0, "65"), (15.0, "75"), (15.0, "65")), 3.5, 2450.0),
    ),
)
SEAT = InstallationFacts(
    id=1,
    engine_id=1,
    aircraft_id=1,
    registration="QX-901",
    position="single",
    since=OPENED,
    until=None,
    min_oil_qt=4.0,
    place_name="Testfield",
    place_elevation_ft=600.0,
)
# 75 % and 65 % of the made-up engine at 2450 rpm near sea level, and a setting far below both.
AT_75, AT_65, LIGHT = 24.66, 21.9, 18.0


def block(minutes: float, manifold: float = AT_75, order: int = 1, **more: Any) -> BlockFacts:
    facts = {"pressure_altitude_ft": 0.0, "oat_degf": 59.0, "rpm": 2450.0, "map_inhg": manifold, **more}
    return BlockFacts(order=order, duration_min=minutes, **facts)


def blocks(*settings: tuple[float, float]) -> tuple[BlockFacts, ...]:
    return tuple(block(minutes, manifold, order) for order, (minutes, manifold) in enumerate(settings, start=1))


HOUR_1 = blocks((60, AT_75))
HOUR_2 = blocks((15, AT_75), (15, AT_65), (15, AT_75), (15, AT_65))
HALVES = blocks((30, AT_75), (30, AT_65))


def run(day: float, hours: float = 1.2, **more: Any) -> RunFacts:
    """A flight that ended on this day after opening; its root follows from the day."""
    at = OPENED + timedelta(days=day)
    values: dict[str, Any] = {
        "root": root(f"flight {day}"),
        "at": at,
        "local_date": at.date(),
        "kind": "run_in",
        "grade": "B",
        "received_at": at + timedelta(minutes=10),
        "aircraft_id": 1,
        "installation_id": 1,
        "hours": hours,
        "airborne_min": round(hours * 60),
        "ground_before_min": 6.0,
        "ground_after_min": 3.0,
        "chips": ("none",),
        "field_elevation_ft": 600.0,
        "altimeter_inhg": 29.92,
        "oat_ground_degf": 59.0,
        "takeoff_ff_gph": 16.0,
        "cht_max_degf": 390.0,
        "cht_over_watch": "no",
        "cht_falling_by_3000": "yes",
    }
    return RunFacts(**{**values, **more})


def metered(start: float, end: float, day: float, **more: Any) -> RunFacts:
    """A flight with the readings of its tach."""
    return run(day, round(end - start, 1), **{"meter_kind": "tach", "meter_start_h": start, "meter_end_h": end, **more})


def level(day: float, quarts: float, **more: Any) -> OilFacts:
    """A good reading after the flight of this day."""
    at = OPENED + timedelta(days=day, minutes=45)
    values: dict[str, Any] = {
        "root": root(f"level {day} {more.get('when', 'after')} {more.get('order', 0)}"),
        "kind": "reading",
        "at": at,
        "grade": "B",
        "received_at": at + timedelta(minutes=5),
        "flight_root": root(f"flight {day}"),
        "when": "after",
        "level_qt": quarts,
        "minutes_since_shutdown": 45.0,
        "level_ground": True,
        "wiped_twice": True,
        "belly_oil": 0,
    }
    return OilFacts(**{**values, **more})


def added(day: float, quarts: float = 1.0, **more: Any) -> OilFacts:
    values = {"kind": "addition", "level_qt": None, "amount_qt": quarts, "oil_kind": "mineral", "order": 1}
    return level(day, 0.0, **{"root": root(f"added {day}"), **values, **more})


def checked(day: float, kind: str = "oil_filter", result: str = "normal") -> InspectionFacts:
    at = OPENED + timedelta(days=day, hours=3)
    return InspectionFacts(root=root(f"{kind} {day}"), kind=kind, at=at, result=result, received_at=at)


def record(*runs: RunFacts, oil: tuple[OilFacts, ...] = (), **more: Any) -> BuildRecord:
    """An overhauled engine in its aircraft, with these flights and oil events."""
    values: dict[str, Any] = {
        "build_id": 1,
        "engine_id": 1,
        "number": "901",
        "kind": "overhaul",
        "state": "open",
        "serial": "T-901",
        "opened_at": OPENED,
        "type": TYPE,
        "plan": PLAN,
        "positions": tuple(PositionFacts(number, True, "through_hardened") for number in range(1, 5)),
        "installations": (SEAT,),
        "customer": "Test Club",
    }
    return BuildRecord(runs=tuple(runs), oil=oil, **{**values, **more})


def with_type(one: BuildRecord, **more: Any) -> BuildRecord:
    return replace(one, type=replace(one.type, **more))


def with_plan(one: BuildRecord, **more: Any) -> BuildRecord:
    assert one.plan is not None
    return replace(one, plan=replace(one.plan, **more))


def after(day: float, hours: float = 0.0) -> datetime:
    """A moment so many days after the opening of the build."""
    return OPENED + timedelta(days=day, hours=hours)


# Nine flights of a pupil who does everything right: flown, read, checked.
GOOD_LEVELS = (6.0, 5.75, 6.5, 6.25, 6.25, 6.0, 6.0, 6.0, 5.75, 5.75, 5.75, 5.5)


def good_build(flights: int = 10) -> BuildRecord:
    """A textbook break-in, one flight every other day, ready for review at the end."""
    settings = [HOUR_1, HOUR_2, *[HALVES] * 20]
    runs = tuple(run(2.0 * n + 1, 1.2, blocks=settings[n]) for n in range(flights))
    oil: list[OilFacts] = []
    for n in range(flights):
        oil.append(level(2.0 * n + 1, GOOD_LEVELS[n]))
        if n == 1:
            oil.append(added(2.0 * n + 1))
    looks = (checked(1, "leak"), *((checked(2.0 * 7 + 1),) if flights >= 8 else ()))
    return record(*runs, oil=tuple(oil), inspections=looks)
