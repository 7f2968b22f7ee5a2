"""What the lines of a card say for one engine and another: instruments, turbo, fixed pitch, twins, weather, descent."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone

from breakin.models import Assessment, Finding, Phase, Severity
from engines.models import Aircraft, Build
from reports.pilot.card_content import CardContent, EngineColumn, Line
from tests import factories
from tests.factories import NOW, Cast
from tests.reports.card_pages import add_engine, card_of, charted_aircraft

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]
WARM = {"elevation": "600", "oat": "59 F", "altimeter": "29.92"}


def column(content: CardContent) -> EngineColumn:
    (engine,) = content.engines
    return engine


def line(lines: tuple[Line, ...], label: str) -> Line:
    return next(row for row in lines if row.label == label)


def take_off(content: CardContent) -> dict[str, str]:
    checks = column(content).take_off
    assert checks is not None
    return {row.label: row.value.replace("\u202f", " ") for row in checks.checks}


def test_take_off_has_rpm_the_air_outside_and_the_band_of_fuel_flow(shop: Cast, as_person: Any) -> None:
    content = card_of(as_person(shop.ada), charted_aircraft(shop, rpm_error=40.0, map_error_inhg=-0.5), **WARM)
    checks = take_off(content)
    assert checks["rpm"] == "2740 rpm", "as the instrument shows it"
    assert checks["Manifold pressure"] == "27.3 inHg or more", "29.3 outside, less 1.5, less what the gauge reads short"
    assert checks["Fuel flow"] == "14.8 gal/h to 16.4 gal/h", "15.2 to 16.8 at sea level, 600 ft up"


def test_a_fuel_system_that_follows_density_has_a_lower_band_at_a_high_hot_field(shop: Cast, as_person: Any) -> None:
    aircraft = charted_aircraft(shop)
    content = card_of(as_person(shop.ada), aircraft, elevation="6480", oat="88 F")
    checks = column(content).take_off
    assert checks is not None
    assert float(take_off(content)["Fuel flow"].split()[0]) < 12
    assert "15.2" in checks.note
    assert take_off(content)["Fuel flow"].split(" to ")[0] in checks.reject.replace("\u202f", " ")


def test_what_is_not_fitted_is_said_and_left_no_blank(shop: Cast, as_person: Any) -> None:
    bare = charted_aircraft(shop, has_map=False, has_fuel_flow=False, has_cht_per_cylinder=False)
    content = card_of(as_person(shop.ada), bare, **WARM)
    assert take_off(content) == {"rpm": "2700 rpm", "Manifold pressure": "not fitted", "Fuel flow": "not fitted"}
    assert line(column(content).heat, "Heads").value == "not fitted"
    assert "Rough or short of power" in (column(content).take_off or pytest.fail("no take-off")).reject
    assert "less rpm" in content.descent[0]


def test_a_fixed_pitch_propeller_and_a_carburettor_are_set_by_rpm(shop: Cast, as_person: Any) -> None:
    content = card_of(as_person(shop.ada), charted_aircraft(shop, "TAV-4C", prop_control="fixed"), **WARM)
    upper = column(content).settings[0]
    assert (upper.at, upper.unit) == ("", "rpm")
    standard = [name for name, _off in upper.airs].index("standard")
    assert upper.rows[0].cells[standard].value == "2490"
    assert column(content).not_achievable == ""
    assert take_off(content)["Fuel flow"] == "by the POH/AFM"
    assert any("Carburettor" in said for said in column(content).cautions)


def test_a_turbocharged_engine_has_its_cap_its_turbine_limit_and_its_cool_down(shop: Cast, as_person: Any) -> None:
    content = card_of(as_person(shop.ada), charted_aircraft(shop, "VRN-6T"), **WARM)
    assert line(column(content).cruise, "Not above").value == "8000\u202fft"
    assert line(column(content).heat, "Turbine inlet (TIT)") == Line(
        "Turbine inlet (TIT)", "1650\u202f°F", "not fitted"
    )
    assert take_off(content)["Manifold pressure"].startswith("37.0 inHg ± 1.0")
    assert any("Cool the turbocharger down" in said for said in column(content).cautions)
    highest = column(content).settings[0].rows[-1]
    assert {cell.note for cell in highest.cells} == {"8000\u202fft"}


def test_the_climb_has_a_box_every_1000_ft_and_says_by_when_the_heads_fall(shop: Cast, as_person: Any) -> None:
    climb = column(card_of(as_person(shop.ada), charted_aircraft(shop), **WARM)).climb
    assert climb is not None
    assert [box.replace("\u202f", " ") for box in climb.boxes] == [
        f"{height} ft above the field ({height + 600} ft)" for height in (1000, 2000, 3000, 4000)
    ]
    assert "3600\u202fft" in climb.falling
    assert "no higher" not in climb.words
    high = column(card_of(as_person(shop.ada), Aircraft.objects.get(registration="QX-903"), elevation="6480")).climb
    assert "climb to a safe gliding height and no higher" in (high or climb).words


def test_the_heat_box_has_three_lines_and_stops_expecting_heat_after_three_hours(shop: Cast, as_person: Any) -> None:
    aircraft = charted_aircraft(shop)
    early = column(card_of(as_person(shop.ada), aircraft, **WARM))
    assert [row.label for row in early.heat] == ["Expected early", "Watch line", "Maker's limit"]
    assert early.heat[0].value.replace("\u202f", " ") == "400 °F to 420 °F"
    assert "50\u202f°F between cylinders: ignore" in early.ignore
    assert [row.value.replace("\u202f", " ") for row in early.oil_limits] == ["245 °F", "25 psi to 115 psi"]
    Assessment.objects.filter(build__engine__installations__aircraft=aircraft).update(hours=6.0)
    assert column(card_of(as_person(shop.ada), aircraft, **WARM)).heat[0].label == "Level cruise"


def test_a_pasted_weather_report_is_todays_air_and_what_is_typed_goes_before_it(shop: Cast, as_person: Any) -> None:
    aircraft, ada = charted_aircraft(shop), as_person(shop.ada)
    report = f"METAR QXTF {timezone.now():%d%H}00Z 18005KT CAVOK 30/08 A2980"
    content = card_of(ada, aircraft, metar=report)
    values = {row.label: row.value for row in content.air.lines}
    assert (values["Temperature"], values["Altimeter"]) == ("86\u202f°F", "29.80\u202finHg")
    assert "QXTF" in content.air.source
    assert content.air.warning == ""
    typed = card_of(ada, aircraft, metar=report, oat="50 F")
    assert {row.label: row.value for row in typed.air.lines}["Temperature"] == "50\u202f°F"


def test_an_old_weather_report_is_said_to_be_old(shop: Cast, as_person: Any) -> None:
    content = card_of(as_person(shop.ada), charted_aircraft(shop), metar="QXTF 010000Z 18005KT CAVOK 30/08 A2980")
    assert "more than 3 hours old" in content.air.warning


def test_the_top_of_descent_follows_from_altitude_and_ground_speed(shop: Cast, as_person: Any) -> None:
    aircraft, ada = charted_aircraft(shop), as_person(shop.ada)
    content = card_of(ada, aircraft, descend_from="5600", ground_speed="120", **WARM)
    assert "begin 16 nautical miles before the field" in content.descent[1]
    answer = ada.get(f"/portal/aircraft/{aircraft.pk}/card/", {"descend_from": "5600"}).content.decode()
    assert "The top of descent needs this too" in answer


def test_cold_and_hot_fields_ask_for_more(shop: Cast, as_person: Any) -> None:
    aircraft, ada = charted_aircraft(shop), as_person(shop.ada)
    said = [column(card_of(ada, aircraft, oat=oat)).cautions for oat in ("5 F", "60 F", "95 F")]
    assert ["Cold air" in " ".join(each) for each in said] == [True, False, False]
    assert ["Hot air" in " ".join(each) for each in said] == [False, False, True]


def test_a_twin_with_engines_at_different_stages_is_flown_by_the_earlier_one(shop: Cast, as_person: Any) -> None:
    twin = charted_aircraft(shop, registration="QX-904", position="left")
    add_engine(shop, twin, position="right")
    left = Build.objects.get(engine__installations__aircraft=twin, engine__installations__position="left")
    Assessment.objects.filter(build=left).update(phase=Phase.ALTERNATING, detail={})
    content = card_of(as_person(shop.ada), twin)
    assert content.engines[0].stage == "30 min and 30 min"
    assert "fly both by the minutes of the RIGHT engine" in content.even_power
    assert "No circuits, no air work, no long taxi" in content.do_not[0]


def test_the_old_engine_of_a_twin_follows_with_even_power(shop: Cast, as_person: Any) -> None:
    twin = charted_aircraft(shop, registration="QX-904", position="left")
    add_engine(shop, twin, in_break_in=False, position="right")
    left, right = card_of(as_person(shop.ada), twin).engines
    assert (left.number, right.number) == (1, None)
    assert right.follows
    assert "even power" in right.why


def test_a_stop_stands_on_the_card_itself(shop: Cast, as_person: Any) -> None:
    aircraft = charted_aircraft(shop)
    build = Build.objects.get(engine__installations__aircraft=aircraft)
    before = card_of(as_person(shop.ada), aircraft)
    assert before.stops == ()
    Finding.objects.create(
        build=build, rule="E1", occurrence="a", rule_version=1, severity=Severity.STOP, title="Fuel flow low",
        text="It was low.", why="Because.", source="plan", happened_at=NOW, opened_at=NOW,
    )  # fmt: skip
    after = card_of(as_person(shop.ada), aircraft)
    assert after.stops == ("Do not fly until a technician has cleared this item: Fuel flow low.",)
    assert after.engines[0].number == 2


def test_an_engine_that_is_only_logged_gives_no_settings(shop: Cast, as_person: Any) -> None:
    of = factories.engine(factories.type_revision("TAV-L4", log_only=True, dry_sump=True))
    into = factories.aircraft("QX-905", shop.ada_customer)
    factories.build(of, by=shop.cora, number="B-905")
    factories.seat(of, into, by=shop.tom)
    content = card_of(as_person(shop.ada), into)
    assert "Log only" in column(content).why
    assert column(content).settings == ()
    assert column(content).heat == ()
