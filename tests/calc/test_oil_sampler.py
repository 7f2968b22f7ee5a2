"""The fast answer against general-purpose samplers on the same model, recorded in ``oil_sampler.json``.

The script beside that file, ``make_oil_sampler``, says how: an ensemble Markov chain (emcee) and plain Monte Carlo from
the prior. Tolerances are what the fast answer keeps, not what one would wish: over 110 generated logs of six and of
twelve readings it was within 0.022 of plain Monte Carlo on P(stabilized) and within 0.011 qt/h on the median rate in
nineteen of twenty. The last log on record has the worst P of those 110; the worst median rate was 0.09 qt/h off, in an
interval from 0.07 to 1.14 qt/h.
"""

import json
from pathlib import Path

import pytest

from breakin.calc.oil.estimate import estimate

RECORDED = json.loads((Path(__file__).parents[1] / "data" / "oil_sampler.json").read_text())["logs"]
ORDINARY, WORST = RECORDED[:-1], RECORDED[-1]
# P(stabilized), then the rate [qt/h]: 5, 50 and 95 %.
KEPT = {"p_stabilized": 0.03, "rate_lo": 0.01, "rate_now": 0.02, "rate_hi": 0.02}
KEPT_AT_WORST = {"p_stabilized": 0.10, "rate_lo": 0.02, "rate_now": 0.04, "rate_hi": 0.06}
NUMBERS = tuple(KEPT)
METHODS = ("chain", "other chain", "random draws")


def sampled(row):
    return dict(zip(METHODS, [*row["chains"], row["random_draws"]], strict=True))


def named(row):
    return f"{row['regime']} {row['generated'][1]}"


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("row", ORDINARY, ids=named)
def test_the_fast_answer_is_that_of_a_general_sampler(row, method, number):
    assert estimate(row["log"])[number] == pytest.approx(sampled(row)[method][number], abs=KEPT[number])


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("method", METHODS)
def test_where_two_explanations_lie_far_apart_the_fast_answer_is_coarser_but_the_same_verdict(method, number):
    found = estimate(WORST["log"])
    assert found[number] == pytest.approx(sampled(WORST)[method][number], abs=KEPT_AT_WORST[number])
    assert not found["stabilized"]
    assert sampled(WORST)[method]["p_stabilized"] < 0.85


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("row", RECORDED, ids=named)
def test_the_general_methods_agree_with_each_other_twice_as_well_as_the_fast_answer_has_to(row, number):
    kept = KEPT_AT_WORST if row is WORST else KEPT
    found = [one[number] for one in sampled(row).values()]
    assert max(found) - min(found) <= 0.5 * kept[number]


def test_every_record_rests_on_thousands_of_independent_draws():
    assert all(one["independent"] > 4000 for row in RECORDED for one in sampled(row).values())
