"""A fleet's decay time and plateau learned from its logs: against textbook shrinkage, and on logs with known truth."""

import math

import numpy as np
import pytest

from breakin.calc.errors import OutOfRange
from breakin.calc.oil import estimate
from breakin.calc.oil.learn import (
    BUILT_IN_ENGINES,
    Evidence,
    Learned,
    evidence,
    finish_numbers,
    learn,
    learned_prior,
    prior_from_numbers,
    typical_decay_h,
)
from breakin.calc.oil.prior import BUILT_IN, FINISHES, FinishPrior, Prior
from tests.data.oil_generator import generated

ONE_HUMP = Prior(by_finish={"steel": FinishPrior(slow_share=0.0)})
STEEL = ONE_HUMP.finish("steel")


def said(mean: float, sigma: float, *, plateau: float = 0.0, of: str = "1", usual: float = 1.0) -> Evidence:
    """What a log says that measures ln(decay) over the built-in median as `mean` with `sigma`, under the prior."""
    places = np.linspace(-4, 4, 801)
    weights = np.exp(-0.5 * (places / STEEL.decay_spread) ** 2 - 0.5 * ((places - mean) / sigma) ** 2)
    places, weights = places[weights > 1e-30], weights[weights > 1e-30]
    return Evidence(
        of=of,
        finish="steel",
        log_decay=math.log(STEEL.decay_h) + places,
        log_plateau=np.full(places.shape, math.log(STEEL.plateau_qt_h) + plateau),
        usual=np.full(places.shape, usual),
        weights=weights / weights.sum(),
    )


def steel(rows: list[Learned]) -> Learned:
    return next(row for row in rows if row.finish == "steel")


def shift(row: Learned) -> float:
    return math.log(row.proposed.decay_h / row.built_in.decay_h)


class TestShrinkage:
    """Normal log, normal prior: the closed form of normal-normal shrinkage (textbook, no particular source)."""

    def closed_form(self, logs: list[tuple[float, float]], engines: float = BUILT_IN_ENGINES) -> tuple[float, float]:
        variance = STEEL.decay_spread**2
        held = engines / variance
        precision = held + sum(1 / (variance + sigma**2) for _, sigma in logs)
        return sum(mean / (variance + sigma**2) for mean, sigma in logs) / precision, precision**-0.5

    @pytest.mark.parametrize(
        "logs",
        [
            [(0.7, 0.05)],
            [(0.7, 1.5)],
            [(0.7, 0.3)] * 14,
            [(1.2, 0.2), (-0.4, 0.6), (0.3, 1.0), (0.9, 0.05)],
        ],
    )
    def test_the_shift_and_its_band_are_those_of_the_textbook(self, logs):
        row = steel(learn([said(mean, sigma) for mean, sigma in logs], ONE_HUMP))
        expected, sigma = self.closed_form(logs)
        assert shift(row) == pytest.approx(expected, abs=2e-3)
        low, high = row.decay_band_h
        assert math.log(high / low) == pytest.approx(2 * 1.645 * sigma, rel=0.01)
        assert row.decay_h == pytest.approx(STEEL.decay_h * math.exp(shift(row)), rel=1e-6)

    def test_a_plateau_known_exactly_counts_one_engine_against_those_built_in(self):
        rows = [said(0.0, 0.5, plateau=-0.5, of=str(number)) for number in range(6)]
        row = steel(learn(rows, ONE_HUMP))
        moved = math.log(row.plateau_qt_h / STEEL.plateau_qt_h)
        assert moved == pytest.approx(-0.5 * 6 / (6 + BUILT_IN_ENGINES), abs=1e-3)

    def test_a_glazed_engine_says_nothing_of_the_plateau(self):
        row = steel(learn([said(0.0, 0.5, plateau=2.0, usual=0.0)] * 9, ONE_HUMP))
        assert row.plateau_qt_h == pytest.approx(STEEL.plateau_qt_h, rel=1e-6)

    def test_without_a_log_everything_is_as_built_in(self):
        rows = learn([])
        assert [row.proposed for row in rows] == [row.built_in for row in rows]
        assert finish_numbers(learned_prior(rows, "x")) == finish_numbers(BUILT_IN)
        assert all(row.decay_band_h[0] < row.decay_h < row.decay_band_h[1] for row in rows)

    def test_one_log_hardly_moves_and_many_move_and_narrow_the_band(self):
        one, many = (steel(learn([said(0.7, 0.3)] * count, ONE_HUMP)) for count in (1, 40))
        assert 0 < shift(one) < 0.08
        assert 0.45 < shift(many) < 0.7
        assert many.decay_band_h[1] / many.decay_band_h[0] < one.decay_band_h[1] / one.decay_band_h[0]

    def test_a_log_that_says_nothing_moves_nothing_but_is_counted(self):
        row = steel(learn([said(0.7, 0.3)] * 5 + [said(3.0, 60.0, of="silent")], ONE_HUMP))
        alone = steel(learn([said(0.7, 0.3)] * 5, ONE_HUMP))
        assert shift(row) == pytest.approx(shift(alone), abs=2e-3)
        assert row.engines == 6
        assert "silent" in row.of

    def test_a_heavier_built_in_prior_holds_more(self):
        light, heavy = (shift(steel(learn([said(0.7, 0.3)] * 5, ONE_HUMP, engines))) for engines in (2.0, 40.0))
        assert heavy < 0.4 * light

    def test_a_weight_that_is_none_is_refused(self):
        for weight in (0.0, -1.0, math.nan):
            with pytest.raises(OutOfRange, match="no weight"):
                learn([], BUILT_IN, weight)

    def test_the_order_of_the_logs_does_not_matter(self):
        logs = [said(0.1 * number, 0.3, of=str(number)) for number in range(8)]
        there, back = steel(learn(logs, ONE_HUMP)), steel(learn(logs[::-1], ONE_HUMP))
        assert shift(there) == pytest.approx(shift(back), abs=1e-9)


class TestNumbers:
    def test_kept_numbers_give_the_prior_back(self):
        rows = learn([said(0.7, 0.3)] * 5, ONE_HUMP)
        prior = learned_prior(rows, "shop")
        again = prior_from_numbers(finish_numbers(prior), "shop")
        assert again == prior
        assert again.name == "shop"

    def test_a_name_that_is_no_number_of_a_finish_is_refused(self):
        unknown: list[dict[str, dict[str, float]]] = [{"brass": {}}, {"steel": {"speed": 1.0}}]
        for strange in unknown:
            with pytest.raises(OutOfRange, match="no number of the prior"):
                prior_from_numbers(strange, "x")

    def test_the_typical_decay_of_chrome_lies_between_its_quick_and_its_slow_engines(self):
        chrome = BUILT_IN.finish("chrome")
        assert chrome.decay_h < typical_decay_h(chrome) < chrome.slow_decay_h


class TestEvidence:
    def test_a_log_without_running_or_readings_says_nothing(self):
        log = {"capacity": 8, "unit": "qt", "cylinder": "steel", "limit_qt_h": 0.15, "entries": []}
        reading = {"kind": "reading", "hours": 5.0, "level": 6.0}
        assert evidence(log, "1") is None
        assert evidence({**log, "entries": [reading] * 4}, "1") is None

    def test_a_finish_nobody_named_is_learned_apart(self):
        log = generated(1, seed=3)[0]["log"]
        for given in (None, "nickel"):
            found = evidence({**log, "cylinder": given}, "1")
            assert found is not None
            assert found.finish == "unknown"

    def test_a_break_in_given_up_early_counts_for_what_it_shows(self):
        """Cut after a third of its entries a log still moves the finish, and less than the whole log does."""
        rows = [row["log"] for row in generated(60, "tight and late", seed=11) if row["log"]["cylinder"] == "nitrided"]
        cut = [{**log, "entries": log["entries"][: max(7, len(log["entries"]) // 3)]} for log in rows]
        learned = []
        for logs in (rows, cut):
            found = [one for number, log in enumerate(logs) if (one := evidence(log, str(number))) is not None]
            assert len(found) >= len(rows) - 1
            learned.append(next(row for row in learn(found) if row.finish == "nitrided"))
        whole, early = learned
        assert early.decay_h > 1.03 * typical_decay_h(BUILT_IN.finish("nitrided"))
        assert early.decay_band_h[1] / early.decay_band_h[0] > whole.decay_band_h[1] / whole.decay_band_h[0]


def prior_of_fleet(kind: str, count: int) -> tuple[list[Learned], Prior]:
    found = [evidence(row["log"], row["log"]["engine_id"]) for row in generated(count, kind, seed=7)]
    rows = learn([one for one in found if one is not None])
    return rows, learned_prior(rows, "shop")


def common(rows: list[Learned]) -> list[Learned]:
    """The finishes of which a generated fleet has many."""
    return [row for row in rows if row.finish in ("steel", "nitrided")]


def scores(prior: Prior, kind: str, count: int) -> tuple[float, float]:
    """Interval score of the rate (width + 20 x miss) and Brier score of P(stabilized), on logs not learned from."""
    intervals, squares = [], []
    for row in generated(count, kind, seed=8):
        log, readings = row["log"], row["truth"]["at_readings"]
        for place in sorted({2, len(readings) // 4, len(readings) // 2, len(readings) - 1}):
            if not 2 <= place < len(readings):
                continue
            entry, rate, settled = readings[place]
            told = estimate({**log, "entries": log["entries"][: entry + 1]}, prior)
            if told["rate_now"] is None:
                continue
            low, high = told["rate_lo"], told["rate_hi"]
            intervals.append(high - low + 20 * max(low - rate, 0.0, rate - high))
            squares.append((told["p_stabilized"] - settled) ** 2)
    assert len(squares) > 2 * count
    return float(np.mean(intervals)), float(np.mean(squares))


@pytest.mark.slow
def test_a_fleet_unlike_the_built_in_prior_is_learned_and_scores_better():
    """Engines that take twice as long to settle, at 0.6 of the loss; the same seeds each time."""
    kind = "tight and late"
    rows, prior = prior_of_fleet(kind, 160)
    for row in common(rows):
        assert row.decay_h > 1.35 * typical_decay_h(row.built_in), row
        assert row.decay_band_h[0] > typical_decay_h(row.built_in), row
    interval, brier = scores(BUILT_IN, kind, 120)
    learned_interval, learned_brier = scores(prior, kind, 120)
    assert learned_brier < 0.85 * brier
    assert learned_interval < 0.99 * interval


@pytest.mark.slow
def test_a_fleet_that_settles_lower_at_the_usual_time_is_told_apart():
    for row in common(prior_of_fleet("tight", 160)[0]):
        assert row.plateau_qt_h < 0.85 * row.built_in.plateau_qt_h, row
        assert row.plateau_band_qt_h[1] < row.built_in.plateau_qt_h, row
        assert row.decay_h == pytest.approx(typical_decay_h(row.built_in), rel=0.25), row


@pytest.mark.slow
def test_a_fleet_like_the_built_in_prior_stays_near_it():
    rows, _ = prior_of_fleet("base", 120)
    for row in rows:
        if row.finish in FINISHES:
            assert row.decay_h == pytest.approx(typical_decay_h(row.built_in), rel=0.2), row
            assert row.plateau_qt_h == pytest.approx(row.built_in.plateau_qt_h, rel=0.25), row
