"""Every sixth of forty oil logs, written for another purpose, goes through the services as if people had sent it.

Flights are laid between the entries; each entry becomes an oil event between two flights. Invented logs with their
truth; no published source.
"""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from breakin import assess
from breakin.calc.units import Kind, to_canonical
from breakin.models import Assessment
from engines.models import Build
from tests.factories import NOW, Cast, aircraft, build, cast, engine, flown, oil_event, seat, type_revision

LOGS = [
    json.loads(line)
    for line in (Path(__file__).resolve().parents[1] / "data" / "oil_logs_forty.jsonl").read_text().splitlines()
]
SOME = LOGS[::6]  # of every kind a few: each takes seconds
LONGEST_FLIGHT_H = 3.5
FINISH = {"steel": "through_hardened", "nitrided": "nitrided", "chrome": "chrome", None: "plain_steel"}

pytestmark = [pytest.mark.django_db, pytest.mark.slow]


def quarts(entry: dict[str, Any], log: dict[str, Any]) -> float:
    names = {"reading": "level", "add": "amount", "change": "fill"}
    return to_canonical(float(entry[names[entry["kind"]]]), entry.get("unit", log["unit"]), Kind.VOLUME)


def laid_out(log: dict[str, Any], shop: Cast) -> Build:
    """The engine of a log, its flights and its oil events, one after the other."""
    full = to_canonical(log["capacity"], log["unit"], Kind.VOLUME)
    kind = type_revision(f"LOG-{full:.1f}", sump_full_qt=round(full, 3))
    one = build(engine(kind), by=shop.cora, finish=FINISH[log["cylinder"]])
    seat(one.engine, aircraft("QX-950", shop.ada_customer), by=shop.tom, min_oil_qt=0.5, basis_clock=log["meter"])
    clock, at = 0.0, NOW - timedelta(days=45)
    for entry in log["entries"]:
        while entry["hours"] - clock > 0.01:
            leg = min(LONGEST_FLIGHT_H, entry["hours"] - clock)
            clock = round(clock + leg, 3)
            at += timedelta(hours=6)
            flown(one, leg, at=at, meter_kind=log["meter"], meter_end=round(100.0 + clock, 3))
        at += timedelta(minutes=40)
        _oil(one, entry, log, at, shop)
    return one


def _oil(one: Build, entry: dict[str, Any], log: dict[str, Any], at: Any, shop: Cast) -> None:
    measured = {"unit": entry.get("unit", log["unit"])}
    if entry["kind"] == "reading":
        how: dict[str, Any] = {"minutes_since_shutdown": 40, "level_ground": True, "wiped_twice": True, "belly_oil": 0}
        oil_event(one, "reading", at=at, level={"value": entry["level"], **measured}, **how)
    elif entry["kind"] == "add":
        oil_event(one, "addition", at=at, amount={"value": entry["amount"], **measured}, oil_kind="mineral")
    else:
        filled = {"value": entry["fill"], **measured}
        drained = {"absent": "not_observed"}
        oil_event(one, "drain_fill", at=at, by=shop.tom, filled=filled, drained=drained, oil_kind="mineral")


@pytest.mark.parametrize("row", SOME, ids=[row["log"]["engine_id"] for row in SOME])
def test_a_log_comes_out_of_the_services_as_it_went_in(row: dict[str, Any]) -> None:
    log, shop = row["log"], cast()
    one = laid_out(log, shop)
    now = NOW + timedelta(days=30)
    assert assess.assess_build(one.pk, now)
    kept = Assessment.objects.get(build=one).detail
    names = {"reading": "reading", "addition": "add", "drain_fill": "change"}
    out = [
        (names[entry["kind"]], round(entry["hours"], 2), entry["level_qt"] or entry["amount_qt"] or entry["filled_qt"])
        for entry in kept["oil"]["entries"]
    ]
    put_in = [(entry["kind"], round(entry["hours"], 2), quarts(entry, log)) for entry in log["entries"]]
    assert [value[:2] for value in out] == [value[:2] for value in put_in]
    assert [value[2] for value in out] == pytest.approx([value[2] for value in put_in], abs=0.01)
    assert kept["clock"]["unlogged"] == []
    assert kept["oil"]["rate_lo_qt_h"] <= kept["oil"]["rate_qt_h"] <= kept["oil"]["rate_hi_qt_h"]
    assert not assess.assess_build(one.pk, now)
