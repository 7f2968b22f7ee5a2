"""Take-off to descent on the next-flight card."""

import pytest

from breakin.calc.atmosphere import density_ratio
from breakin.calc.card_flight import climb_heights_ft, descent, expected_fuel_flow_gph, fuel_flow_read_gph
from breakin.calc.errors import OutOfRange
from breakin.calc.power import corrected_fuel_flow_gph


def test_the_descent_loses_500_feet_a_minute_and_ends_1000_ft_above_the_field():
    found = descent(5620.0, 620.0, 120.0)
    assert (found.lose_ft, found.minutes) == (4000.0, 8.0)
    assert found.distance_nm == pytest.approx(16.0)
    assert descent(5620.0, 620.0, 90.0).distance_nm == pytest.approx(12.0)
    assert descent(1620.0, 620.0, 90.0).distance_nm == 0.0


@pytest.mark.parametrize(
    ("from_ft", "ground_speed", "says"), [(1600.0, 120.0, "above the field"), (5000.0, 0.0, "ground speed")]
)
def test_a_descent_that_cannot_be_is_refused(from_ft, ground_speed, says):
    with pytest.raises(OutOfRange, match=says):
        descent(from_ft, 620.0, ground_speed)


@pytest.mark.parametrize(("field_ft", "oat_degf"), [(620.0, 59.0), (6480.0, 88.0), (90.0, 5.0)])
def test_a_flow_read_at_the_edge_of_the_cards_band_is_judged_at_the_edge_of_the_types(field_ft, oat_degf):
    shown = fuel_flow_read_gph(24.0, field_ft, oat_degf)
    assert corrected_fuel_flow_gph(shown, density_ratio(field_ft, oat_degf)) == pytest.approx(24.0)


def test_a_high_hot_field_shows_less_fuel_flow_and_a_cold_low_one_more():
    assert fuel_flow_read_gph(24.0, 6480.0, 88.0) < 20.0
    assert fuel_flow_read_gph(24.0, 0.0, 0.0) > 25.0


def test_expected_fuel_flow_is_a_range_until_the_type_says_its_own():
    assert expected_fuel_flow_gph(75, 285, bsfc_lb_hp_h=None, fuel_lb_per_gal=6.0) == pytest.approx(
        (14.96, 17.1), abs=0.01
    )
    assert expected_fuel_flow_gph(75, 285, bsfc_lb_hp_h=0.45, fuel_lb_per_gal=6.0) == pytest.approx(
        (16.03, 16.03), abs=0.01
    )


@pytest.mark.parametrize(
    ("climb_to", "field", "above", "heights"),
    [
        (4000.0, 620.0, True, (1620.0, 2620.0, 3620.0, 4620.0)),
        (2500.0, 620.0, True, (1620.0, 2620.0)),
        (4000.0, 620.0, False, (1000.0, 2000.0, 3000.0, 4000.0)),
        (8000.0, 6480.0, False, (7000.0, 8000.0)),
        (4000.0, 6480.0, False, ()),
    ],
)
def test_the_heads_are_read_every_1000_ft_by_the_plans_own_reference(climb_to, field, above, heights):
    assert climb_heights_ft(climb_to, field, above_field=above) == heights
