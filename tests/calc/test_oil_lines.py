import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from breakin.calc.errors import MissingData, OutOfRange
from breakin.calc.oil import advise, expected_settle_qt, judge, oil_limits, oil_lines


def test_an_8_quart_sump_with_a_minimum_of_5_has_its_lines_at_6_and_7():
    lines = oil_lines(8, 6, 5, 1.0, 0.10, 0.05)
    assert (lines.add, lines.hold, lines.no_go, lines.margin) == (6.0, 7.0, 5.0, 1.0)
    assert any("breather" in note for note in lines.notes)


def test_a_12_quart_sump_holds_at_the_settling_level():
    lines = oil_lines(12, 10, 8, 1.0, 0.10, 0.05)
    assert (lines.add, lines.hold) == (9.0, 10.0)
    assert lines.notes == ()


def test_a_long_leg_at_high_loss_raises_both_lines_and_says_so():
    lines = oil_lines(12, 10, 8, 4.0, 0.4, 0.1)
    assert lines.margin == pytest.approx(1.3 * 4 * 0.5)
    assert lines.add == pytest.approx(10.6)
    assert lines.hold == pytest.approx(11.6)
    assert any("shorter legs" in note for note in lines.notes)


def test_a_leg_that_the_sump_cannot_hold_is_advised_against():
    lines = oil_lines(8, 6, 5, 6.0, 0.5, 0.1)
    assert lines.add > lines.full == lines.hold
    assert any("Do not plan this leg" in note for note in lines.notes)


def test_loss_not_known_yet_keeps_the_smallest_margin_and_says_so():
    lines = oil_lines(8, 6, 4, 3.0, None, None)
    assert lines.margin == 1.0
    assert "not known" in lines.notes[0]


def test_a_gain_on_the_dipstick_does_not_shrink_the_margin():
    assert oil_lines(8, 6, 4, 3.0, -0.5, 0.1).margin == 1.0


def test_without_the_poh_minimum_there_are_no_lines():
    with pytest.raises(MissingData, match="POH/AFM"):
        oil_lines(8, 6, None, 1.0, 0.1, 0.05)


@pytest.mark.parametrize(
    ("full", "settle", "no_go", "hours"), [(8, 9, 5, 1.0), (8, 6, 8, 1.0), (8, 6, 5, 15.0), (8, 6, 5, -1.0)]
)
def test_levels_out_of_order_are_refused(full, settle, no_go, hours):
    with pytest.raises(OutOfRange):
        oil_lines(full, settle, no_go, hours, 0.1, 0.05)


@pytest.mark.parametrize(
    ("level", "code"),
    [(3.75, "below_no_go"), (4.0, "add_one"), (4.75, "add_one"), (5.0, "leave"), (6.0, "leave"), (6.25, "above_hold")],
)
def test_advice_on_both_sides_of_each_line(level, code):
    advice = advise(level, oil_lines(8, 6, 4, 1.0, 0.1, 0.05))
    assert advice.code == code
    assert f"{level:.2f} qt" in advice.sentence


def test_advice_below_the_minimum_is_not_to_fly():
    assert "Do not fly" in advise(3.0, oil_lines(8, 6, 4, 1.0, 0.1, 0.05)).sentence


def test_a_level_that_cannot_be_is_refused():
    with pytest.raises(OutOfRange, match="oil level"):
        advise(10.5, oil_lines(8, 6, 4, 1.0, 0.1, 0.05))


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.sampled_from([8.0, 10.0, 12.0]), st.floats(2, 6), st.floats(0, 3), st.floats(0, 0.6), st.floats(0, 0.2))
def test_one_quart_added_below_the_add_line_never_passes_the_hold_line(full, no_go, hours, rate, u_rate):
    lines = oil_lines(full, expected_settle_qt(full), no_go, hours, rate, u_rate)
    assert lines.add >= lines.no_go + lines.margin - 1e-9
    if lines.add + 1 <= lines.full:
        assert lines.hold >= lines.add + 1 - 1e-9
    assert lines.hold <= lines.full


@pytest.mark.parametrize(("full", "settle"), [(8, 6), (10, 8), (12, 10)])
def test_expected_settling_level(full, settle):
    assert expected_settle_qt(full) == settle


@pytest.mark.parametrize(("hp", "ceiling", "accept"), [(180, 0.58, 0.15), (285, 0.92, 0.23), (310, 1.01, 0.25)])
def test_ceiling_and_accept_rate_of_the_demonstration_types(hp, ceiling, accept):
    limits = oil_limits(rated_hp=hp)
    assert (round(limits.ceiling, 2), round(limits.accept, 2)) == (ceiling, accept)


def test_a_wider_finish_is_accepted_wider_but_its_ceiling_stays():
    plain, chrome = oil_limits(rated_hp=180), oil_limits(rated_hp=180, accept_factor=1.5)
    assert chrome.accept == pytest.approx(1.5 * plain.accept)
    assert chrome.ceiling == plain.ceiling


def test_no_limit_at_all_is_refused():
    with pytest.raises(MissingData, match="rated power"):
        oil_limits()


@pytest.mark.parametrize(
    ("rate", "u_rate", "verdict"),
    [
        (0.14, 0.05, "accept"),
        (0.2, 0.05, "watch"),
        (0.4, 0.05, "alarm"),
        (0.63, 0.05, "alarm"),
        (0.64, 0.05, "over ceiling"),
    ],
)
def test_over_the_ceiling_only_when_clear_of_the_doubt(rate, u_rate, verdict):
    assert judge(rate, u_rate, oil_limits(rated_hp=180), assessable=True) == verdict
    assert judge(rate, u_rate, oil_limits(rated_hp=180), assessable=False) == "too short to judge"
