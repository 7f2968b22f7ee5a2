"""What goes wrong with clocks, seats, dates, owners and forms, and what the book does about it.

The stories are common practice of the trade, no published source; conversions of units are checked in tests/reference.
"""

from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from breakin import assess
from breakin.calc.units import Kind, parse, to_canonical
from breakin.closeout.hardware import hardware
from breakin.entries import parse_flight, parse_inspection, parse_oil
from breakin.load import load
from breakin.models import DueItem, Finding, Flight, MergeDecision, Severity
from breakin.notices.people import concerned
from breakin.picture.oil_estimate import governing_finish
from breakin.picture.storage import storage_of
from breakin.plan_templates import template_name_for
from breakin.record import PositionFacts
from breakin.rules.base import CALL
from breakin.services import installing
from breakin.services.accessories import AccessoryEntry, enter_accessory, record_event
from breakin.services.builds import open_build, preserve
from breakin.services.closing import close_incomplete
from breakin.services.flights import LoggedFlight, log_flight
from breakin.services.holding import transfer
from breakin.services.inspections import complete_check
from breakin.services.merging import merge_flights
from engines.models import Build, BuildState, Installation
from reports.engine.build_sheet import build_sheet
from reports.pilot.aircraft_page import aircraft_page
from reports.pilot.home import portal_home
from reports.reader import reader_of
from shop import access
from shop.errors import Refusal
from tests import factories
from tests.breakin.closing_cases import losing
from tests.breakin.oil_cases import partial
from tests.breakin.records import record, run
from tests.breakin.stories import asked, judged, said, severities, user_of, words
from tests.factories import NOW, Cast, assessment, flown, raw_flight
from tests.inspected import inspected

AT = NOW - timedelta(days=10)


@pytest.fixture
def shop(db: None) -> Cast:
    return factories.cast()


def log(shop: Cast, at: datetime, hours: float = 1.2, *, by: Any = None, now: datetime | None = None, **more: Any):
    raw = raw_flight(shop.build_1.engine, at, hours, **more)
    return send(shop, raw, by=by, now=now or at + timedelta(minutes=30))


def send(shop: Cast, raw: dict[str, Any], *, now: datetime, by: Any = None, zone: str = "UTC") -> LoggedFlight:
    entry = parse_flight(raw, units="us", zone=zone, now=now)
    return log_flight(by=by or shop.ada, aircraft=shop.aircraft_1, entry=entry, now=now)


def build_as(shop: Cast, **more: Any) -> Build:
    wanted: dict[str, Any] = {"positions": factories.positions(4), "opened_at": NOW - timedelta(days=5), **more}
    return open_build(by=shop.cora, engine=shop.build_1.engine, now=NOW, **wanted)


# Clocks.
def test_07_hobbs_hours_of_a_tach_engine_are_estimated_and_never_close_it_out(shop: Cast) -> None:
    for day in range(5):
        log(shop, AT + timedelta(days=day), 1.4, meter_kind="hobbs", meter_start=500 + day * 1.5,
            meter_end=501.5 + day * 1.5, oil=[{"kind": "reading", "when": "after", "level": 6.0,
            "minutes_since_shutdown": 20, "level_ground": True, "wiped_twice": True}])  # fmt: skip
    assess.assess_build(shop.build_1.pk, NOW)
    kept = assessment(shop.build_1)
    assert kept.hours == pytest.approx(5 * 1.5 * 0.85)
    assert kept.detail["clock"]["basis"] == "tach"
    assert kept.detail["clock"]["estimated_share"] == 1.0
    assert "known_hours" in {row["key"] for row in kept.detail["review"]["lacking"]}
    assert all("its hours are estimated" in row["why_not"] for row in kept.detail["oil"]["windows"])


def test_08_a_lower_reading_needs_a_change_of_meter_first(shop: Cast) -> None:
    log(shop, AT, 1.2, meter_end=101.2)
    with pytest.raises(Refusal, match="runs backwards"):
        log(shop, AT + timedelta(days=2), 1.0, meter_end=1.0)
    installing.change_meter(
        by=shop.tom, aircraft=shop.aircraft_1, position="single", kind="tach", at=AT + timedelta(days=1),
        old_reading_h=101.2, new_reading_h=0.0, now=NOW,
    )  # fmt: skip
    log(shop, AT + timedelta(days=2), 1.0, meter_end=1.0)
    assess.assess_build(shop.build_1.pk, NOW)
    assert assessment(shop.build_1).hours == pytest.approx(2.2)
    assert assessment(shop.build_1).detail["clock"]["unlogged"] == []


def test_10_after_a_swap_the_oil_history_stays_with_the_serial(shop: Cast) -> None:
    charter = factories.customer("Charter", factories.person("Dora"))
    into = factories.aircraft("QX-903", charter)
    left, right = (factories.build(factories.engine(), by=shop.cora, number=f"B-{side}") for side in ("left", "right"))
    factories.seat(left.engine, into, by=shop.tom, position="left")
    factories.seat(right.engine, into, by=shop.tom, position="right")
    flown(left, 1.2, at=AT, level_qt=6.5)
    flown(right, 1.2, at=AT, level_qt=5.0)
    installing.swap(by=shop.tom, aircraft=into, at=AT + timedelta(days=1), reason="annual", now=NOW)
    flown(left, 1.2, at=AT + timedelta(days=2), level_qt=6.25, meter_end=102.4)
    for build, levels, side in ((left, [6.5, 6.25], "right"), (right, [5.0], "left")):
        assess.assess_build(build.pk, NOW)
        kept = assessment(build)
        assert [row["level_qt"] for row in kept.detail["oil"]["entries"]] == levels
        assert kept.side == side
    page = aircraft_page(into, reader_of(user_of(shop.tom)), NOW)
    assert [(panel.side, panel.build) for panel in page.engines] == [("LEFT", right), ("RIGHT", left)]


def test_12_an_overhaul_resets_time_since_overhaul_and_total_time_goes_on(shop: Cast) -> None:
    Build.objects.filter(pk=shop.build_1.pk).update(total_time_h=2000.0, state=BuildState.CLOSED, closed_at=AT)
    with pytest.raises(Refusal) as refused:
        build_as(shop, number="B-2", kind="overhaul", total_time_h=0.0, time_since_overhaul_h=0.0)
    assert "Total time never falls" in refused.value.by_field()["total_time_h"][0]
    again = build_as(shop, number="B-2", kind="overhaul", total_time_h=2000.0, time_since_overhaul_h=0.0)
    assert (again.total_time_h, again.time_since_overhaul_h) == (2000.0, 0.0)
    assert "total time goes on" in said(record(kind="overhaul"), "H2").text
    assert "the maker grants a new record" in said(record(kind="factory_rebuilt"), "H2").text


def test_13_an_overhaul_resets_the_engine_and_not_the_magneto(shop: Cast) -> None:
    """The shop closes the engine's break-in, overhauls it, and the magneto's 500 h go on from its own inspection."""
    engine = shop.build_1.engine
    Build.objects.filter(pk=shop.build_1.pk).update(total_time_h=1480.0, time_since_overhaul_h=1480.0)
    inspected_on = (AT - timedelta(days=400)).date()
    magneto = enter_accessory(
        by=shop.tom, engine=engine, kind="magneto", name="left", now=AT,
        entry=AccessoryEntry("inspected", inspected_on, 500, None, "maker's manual, rev. 7", 1000.0),
    )  # fmt: skip
    log(shop, AT, 1.2)
    assess.assess_build(shop.build_1.pk, AT + timedelta(days=1))
    before = DueItem.objects.get(build=shop.build_1, kind="accessory")
    assert (before.state, before.title, before.due_h) == ("due_soon", "Magneto, left", 20.0)

    close_incomplete(by=shop.cora, build=shop.build_1, reason="Overhauled early.", now=AT + timedelta(days=2))
    overhauled = factories.build(
        engine, by=shop.cora, number="B-oh", kind="overhaul", opened_at=AT + timedelta(days=3), total_time_h=1481.2,
        time_since_overhaul_h=0.0, now=NOW,
    )  # fmt: skip
    assess.assess_many([shop.build_1.pk, overhauled.pk], NOW)
    before.refresh_from_db()
    after = DueItem.objects.get(build=overhauled, kind="accessory")
    assert before.state == "gone"
    assert (after.state, round(after.due_h or 0, 1)) == ("due_soon", 18.8)
    assert assessment(overhauled).hours == 0.0
    assert assessment(overhauled).detail["accessories"]["total_time_h"] == 1481.2

    done = record_event(
        by=shop.tom, accessory=magneto, now=NOW,
        entry=AccessoryEntry("inspected", NOW.date(), 500, None, "maker's manual, rev. 7", 1481.2),
    )  # fmt: skip
    assess.assess_build(overhauled.pk, NOW)
    after.refresh_from_db()
    assert (after.state, after.closed_by_kind, after.closed_by_root) == ("done", "accessory", done.root)
    again = DueItem.objects.get(build=overhauled, kind="accessory", state="waiting")
    assert again.due_h == 500.0


def test_13_what_is_due_of_one_build_stays_due_when_a_cylinder_job_opens_the_next(shop: Cast) -> None:
    log(shop, AT - timedelta(days=9), 10.0, meter_end=110.0)
    inspected(
        shop.build_1, "oil_filter", by=shop.tom, at=AT - timedelta(days=8), results={"opened": False},
        drain_fill={"filled": 7, "oil_kind": "mineral", "filter_changed": True},
    )  # fmt: skip
    assess.assess_build(shop.build_1.pk, AT)
    one = [factories.build(shop.build_1.engine, by=shop.cora, number="B-cyl", kind="cylinder",
           positions=factories.positions(4)[:1], opened_at=AT + timedelta(days=1), now=NOW)]  # fmt: skip
    assess.assess_many([shop.build_1.pk, *(build.pk for build in one)], NOW)
    shop.build_1.refresh_from_db()
    assert shop.build_1.state == "superseded"
    kept = DueItem.objects.get(build=shop.build_1, kind="cut_filter")
    assert kept.state in ("due", "late")


def test_14_one_new_cylinder_is_judged_against_the_rate_before_and_by_its_own_looks() -> None:
    drowned = judged(partial(0.12, 0.14, 14))
    assert severities(drowned, "O12") == []
    assert drowned.detail["oil"]["before"]["rate_qt_h"] == pytest.approx(0.12, abs=0.03)
    assert "Compression not looked at yet, borescope not looked at yet" in said(partial(0.12, 0.14, 14), "O12").text
    worse = judged(partial(0.12, 0.3, 14))
    assert severities(worse, "O12") == [CALL]
    assert "borescope and compression of the new cylinder" in words(worse, "O12")


# The calendar.
def test_15_preservation_runs_out_from_the_day_of_the_build(shop: Cast) -> None:
    Installation.objects.filter(engine=shop.build_1.engine).delete()
    day = NOW.date()
    preserve(by=shop.tom, build=shop.build_1, preserved_on=day, expires_on=day + timedelta(days=180), now=NOW)
    steps = []
    for later in (0, 167, 181, 195):
        assess.assess_build(shop.build_1.pk, NOW + timedelta(days=later))
        item = DueItem.objects.get(build=shop.build_1, kind="preservation")
        steps.append((item.state, item.escalation))
    assert steps == [("waiting", ""), ("due_soon", "chase"), ("late", "call"), ("late", "manager")]
    assert assessment(shop.build_1).phase == "preserved"


def test_15_the_days_in_storage_stand_on_the_build_sheet_and_in_the_close_out_file(shop: Cast) -> None:
    """Built in autumn, flown in summer: nine months, of which the preservation held six."""
    opened = NOW - timedelta(days=275)
    Installation.objects.filter(engine=shop.build_1.engine).delete()
    Build.objects.filter(pk=shop.build_1.pk).update(opened_at=opened)
    shop.build_1.refresh_from_db()
    preserve(
        by=shop.tom, build=shop.build_1, preserved_on=opened.date(),
        expires_on=opened.date() + timedelta(days=180), now=opened,
    )  # fmt: skip
    reader = reader_of(user_of(shop.tom))
    line = next(fact for fact in build_sheet(reader, shop.build_1).facts if fact[0] == "Stood before its first run")
    assert "before it runs" in line[2]
    seated = factories.seat(shop.build_1.engine, shop.aircraft_1, by=shop.cora, since=NOW - timedelta(days=6))
    flown(shop.build_1, 1.2, at=NOW - timedelta(days=5), level_qt=6.0)
    stood = storage_of(shop.build_1.preservations.all(), opened.date(), (NOW - timedelta(days=5)).date(), NOW.date())
    assert (stood.days, stood.bare) == (270, 90)
    line = next(fact for fact in build_sheet(reader, shop.build_1).facts if fact[0] == "Stood before its first run")
    assert line[1] == str(stood)
    assert "270 days" in line[1]
    assert "90 of them not preserved" in line[1]
    storage = hardware(shop.build_1, load([shop.build_1.pk], NOW)[shop.build_1.pk])["storage"]
    assert (storage["days"], storage["not_preserved_days"]) == (270, 90)
    assert seated.engine == shop.build_1.engine


@pytest.mark.parametrize(("days", "step"), [(9, None), (10, "nudge"), (14, "chase"), (21, "call"), (42, "manager")])
def test_16_flown_once_and_left_standing_is_asked_by_the_calendar(days: int, step: str | None) -> None:
    ran = run(11, 0.0, kind="ground_run", airborne_min=0.0)
    made = judged(record(run(1), ran), day=1 + days + 0.01)
    found = [one.asked.escalation for one in asked(made, "flight")]
    assert found == ([step] if step else [])
    if step:
        assert "Fly, preserve, or ground care by the maker; ground running is no substitute." in (
            asked(made, "flight")[0].asked.text
        )


def test_31_a_build_that_was_closed_out_stays_in_its_lane_with_dates_of_its_own_and_reopens() -> None:
    quiet = judged(losing(0.05, 1), day=9)
    assert (quiet.phase, quiet.lane) == ("follow_up", 8)
    assert [item.asked.due_h for item in asked(quiet, "follow_up")] == [19.0, 34.0, 59.0]
    assert quiet.reopens is None
    stuck = judged(losing(0.33, 5))
    assert CALL in severities(stuck, "C3")
    assert stuck.reopens is not None
    assert "The break-in is taken up again" in stuck.reopens.hit.text


# Build sheet, card, holder.
def test_32_crew_only_stands_on_what_the_pilot_is_given_for_flight_1(shop: Cast) -> None:
    assess.assess_build(shop.build_1.pk, NOW)
    (panel,) = aircraft_page(shop.aircraft_1, reader_of(user_of(shop.ada)), NOW).engines
    assert panel.next is not None
    assert panel.next.aboard.startswith("No passengers on the first flight")
    assert panel.next.aboard.endswith("Crew only.")
    factories.flown(shop.build_1, 1.0, at=NOW - timedelta(hours=2), by=shop.ada, persons_aboard="4", level_qt=6.0)
    assess.assess_build(shop.build_1.pk, NOW)
    told = Finding.objects.get(build=shop.build_1, rule="P10")
    assert (told.severity, told.numbers["persons_aboard"]) == (Severity.CALL, 4)


def test_33_chrome_rings_in_a_chrome_bore_are_a_build_error_and_the_slowest_finish_governs(shop: Cast) -> None:
    Build.objects.filter(pk=shop.build_1.pk).update(state=BuildState.CLOSED, closed_at=AT)
    mixed = factories.positions(4, "nitrided")[:2] + factories.positions(4, "chrome")[2:]
    wrong = [*mixed[:3], factories.positions(4, "chrome", ring_facing="chrome plated")[3]]
    with pytest.raises(Refusal) as refused:
        build_as(shop, number="B-mix", kind="overhaul", positions=wrong)
    assert "chrome-faced rings do not belong in a chrome bore" in str(refused.value.by_field())
    build = build_as(shop, number="B-mix", kind="overhaul", positions=mixed)
    assert template_name_for(build) == "Channel chrome"
    facts = tuple(PositionFacts(row.number, True, row.finish) for row in mixed)
    assert governing_finish(record(positions=facts)) == "chrome"
    lines = {line.word: line.say for line in build_sheet(reader_of(user_of(shop.tom)), build).pairing}
    assert "The slowest governs the hours" in lines["Mixed finishes"]
    assert "where they name different oils the manager asks" in lines["Oil: a person decides"]


def test_34_sold_in_break_in_the_history_stays_and_sight_goes_by_the_day_of_sale(shop: Cast) -> None:
    flown(shop.build_1, 1.2, at=AT - timedelta(days=2), level_qt=6.0, by=shop.ada, note="my words")
    transfer(by=shop.cora, aircraft=shop.aircraft_1, customer=shop.ben_customer, at=AT, reason="Sold.", now=NOW)
    flown(shop.build_1, 1.0, at=AT + timedelta(days=1), level_qt=6.0, by=shop.ben)
    crew = concerned([shop.build_1], NOW).crew(shop.build_1)
    assert (crew.flies(shop.ben.pk), crew.flies(shop.ada.pk)) == (True, False)
    of_ada = access.visible_to(user_of(shop.ada), Flight.objects.all())
    assert [row.note for row in of_ada] == ["my words"]
    home = portal_home(reader_of(user_of(shop.ada)), NOW)
    assert [one.registration for one in home.earlier] == ["QX-901"]
    page = aircraft_page(shop.aircraft_1, reader_of(user_of(shop.ben)), NOW)
    assert page.held
    assert [line.said for line in page.flights] == [
        "1\u202fh 00\u202fmin in the air, Ben",
        "1\u202fh 12\u202fmin in the air",
    ]
    assert not aircraft_page(shop.aircraft_1, reader_of(user_of(shop.ada)), NOW).held


# What was typed.
def test_35_a_difference_of_temperature_is_no_temperature_and_containers_are_no_quarts() -> None:
    assert to_canonical(56.0, "ddegC", Kind.TEMPERATURE_DIFFERENCE) == pytest.approx(100.8)
    assert to_canonical(38.0, "degC", Kind.TEMPERATURE) == pytest.approx(100.4)
    assert parse("0,5", "h", Kind.HOURS).value == 0.5
    assert parse("830 hPa", "inHg", Kind.PRESSURE_MANIFOLD).value == pytest.approx(24.51, abs=0.01)
    for container, quarts in (("us_qt", 1.0), ("litre", 1.0567), ("imp_qt", 1.2009)):
        raw = {
            "client_id": str(uuid.uuid4()), "engine_id": 1, "kind": "addition", "container": container, "count": 1,
            "oil_kind": "mineral",
        }  # fmt: skip
        entry = parse_oil(raw, units="si", zone="UTC", now=NOW)
        assert entry.amount_qt == pytest.approx(quarts, abs=1e-4)
    level = {"client_id": str(uuid.uuid4()), "engine_id": 1, "kind": "reading", "level": "6,15"}
    read = parse_oil(level, units="si", zone="UTC", now=NOW)
    assert read.level_qt == pytest.approx(6.4987, abs=1e-4)
    assert read.typed["level"] == ["6,15", "L"]


def test_36_a_flight_that_ended_late_in_the_evening_belongs_to_the_pilots_day(shop: Cast) -> None:
    raw = raw_flight(shop.build_1.engine, AT, 1.2, meter_end=101.2)
    del raw["ended_at"]
    raw |= {"local_date": "2026-06-10", "local_time": "23:40"}
    landed = datetime.fromisoformat("2026-06-11T05:40:00+00:00")
    logged = send(shop, raw, now=landed + timedelta(minutes=5), zone="Etc/GMT+6")
    assert (logged.flight.happened_at, logged.flight.local_date) == (landed, date(2026, 6, 10))
    assert logged.flight.zone == "Etc/GMT+6"
    for hours, step in ((0.4, ""), (17.9, ""), (18.1, "nudge")):  # the night after is no time to call it missing
        assess.assess_build(shop.build_1.pk, landed + timedelta(hours=hours))
        assert DueItem.objects.get(build=shop.build_1, kind="oil_reading").escalation == step


def test_37_three_taps_are_one_flight_and_a_club_mates_entry_is_merged_not_deleted(shop: Cast) -> None:
    raw = raw_flight(shop.build_1.engine, AT, 1.2, meter_end=101.2)
    taps = [send(shop, raw, now=AT + timedelta(minutes=20 + n)) for n in range(3)]
    assert [tap.created for tap in taps] == [True, False, False]
    mate = log(shop, AT + timedelta(minutes=10), 1.2, meter_end=101.2, by=shop.tom)
    assert mate.possible_duplicate
    assess.assess_build(shop.build_1.pk, NOW)
    assert assessment(shop.build_1).hours == pytest.approx(1.2)  # the better-graded one counts until somebody decides
    merge_flights(by=shop.tom, kept=taps[0].flight, dropped=mate.flight, reason="The same flight.", now=NOW)
    assess.assess_build(shop.build_1.pk, NOW)
    assert assessment(shop.build_1).hours == pytest.approx(1.2)
    assert Flight.objects.count() == 2
    assert MergeDecision.objects.get().dropped_root == mate.flight.root


def test_38_twelve_flights_written_in_one_evening_are_kept_and_count_as_memory(shop: Cast) -> None:
    tonight = NOW - timedelta(minutes=5)
    for number in range(12):
        at = AT - timedelta(days=24 - 2 * number)
        log(shop, at, 1.0, meter_end=101.0 + number, now=tonight)
    assert set(Flight.objects.values_list("grade", flat=True)) == {"D"}
    assert all(row.received_at - row.happened_at > timedelta(days=7) for row in Flight.objects.all())
    assess.assess_build(shop.build_1.pk, NOW)
    kept = assessment(shop.build_1)
    assert kept.hours == pytest.approx(12.0)
    assert kept.evidence_share == 0.0
    why = {row["key"]: row["why"] for row in kept.detail["review"]["lacking"]}
    assert why["evidence"] == "0 of 12 flights have it."


def test_46_a_due_item_closes_with_one_event_and_a_telephone_call_is_none(shop: Cast) -> None:
    log(shop, AT, 10.0, meter_end=110.0)
    assess.assess_build(shop.build_1.pk, AT + timedelta(hours=1))
    item = DueItem.objects.get(build=shop.build_1, kind="oil_filter")
    assert item.state in ("due", "late")
    raw = {
        "client_id": str(uuid.uuid4()), "kind": "oil_filter", "result": "normal",
        "happened_at": (AT + timedelta(days=1)).isoformat(), "results": {"opened": True, "material": "fuzz"},
        "drain_fill": {"drained": 6.5, "filled": 7, "oil_kind": "mineral", "filter_changed": True},
    }  # fmt: skip

    def completed(**more: Any) -> Any:
        entry = parse_inspection({**raw, **more}, units="us", zone="UTC", now=NOW)
        return complete_check(by=shop.tom, engine=shop.build_1.engine, entry=entry, due_item=item, now=NOW)

    first = completed()
    assert completed() == first
    with pytest.raises(Refusal, match="is done already"):
        completed(client_id=str(uuid.uuid4()))
    assess.assess_build(shop.build_1.pk, NOW)
    item.refresh_from_db()
    assert (item.state, item.closed_by_root) == ("done", first.root)
    assert DueItem.objects.filter(build=shop.build_1, kind="oil_filter").count() == 1
