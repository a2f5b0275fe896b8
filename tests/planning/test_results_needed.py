import math

import numpy as np
import pytest
from scipy.stats import nct, norm

from lapel.planning.results_needed import (
    GroupTest,
    Truth,
    individual_worker_route,
    percentile_test,
    posterior_route,
    power_curve,
    preliminary_route,
    results_wanted,
)
from lapel.statistics.priors import FlatPrior

GROUPS = 200_000
TRUTH = Truth(0.15, 2.5)


def simulated_groups(truth, n, seed):
    rng = np.random.default_rng(seed)
    return np.log(truth.gm_to_limit) + math.log(truth.gsd) * rng.standard_normal((GROUPS, n))


def four_errors(p):
    return 4 * math.sqrt(max(p * (1 - p), 1e-4) / GROUPS)


@pytest.mark.parametrize(("n", "fraction"), [(3, 0.1), (4, 0.15), (5, 0.2)])
def test_the_preliminary_chance_is_that_of_simulated_groups(n, fraction):
    """EN 689: all of 3, 4, 5 results below 0.1, 0.15, 0.2 of the limit."""
    truth = Truth(0.04, 2.0)
    (point,) = [p for p in power_curve(preliminary_route(), truth) if p.results == n]
    seen = np.mean((simulated_groups(truth, n, n) < math.log(fraction)).all(axis=1))
    assert point.chance == pytest.approx(seen, abs=four_errors(point.chance))


@pytest.mark.parametrize(("n", "confidence"), [(6, 0.70), (12, 0.70), (6, 0.95), (20, 0.95)])
def test_the_percentile_tests_chance_is_that_of_simulated_groups(n, confidence):
    """Mean + k·s of the logs below ln limit; k from scipy's noncentral t, apart from our own."""
    k = nct.ppf(confidence, n - 1, norm.ppf(0.95) * math.sqrt(n)) / math.sqrt(n)
    logs = simulated_groups(TRUTH, n, 10 + n)
    seen = np.mean(logs.mean(axis=1) + k * logs.std(axis=1, ddof=1) <= 0)
    point = percentile_test(confidence=confidence).point(n, TRUTH)
    assert point.chance == pytest.approx(seen, abs=four_errors(point.chance))
    assert point.error == 0


def test_the_individual_workers_chance_is_that_of_another_simulation():
    """Balanced design by one-way analysis of variance, worked here on its own draws."""
    truth, workers, repeats, groups = Truth(0.1, 2.5, 0.3), 5, 2, 100_000
    rng = np.random.default_rng(5)
    variance = math.log(truth.gsd) ** 2
    own = rng.standard_normal((groups, workers, 1)) * math.sqrt(truth.between_share * variance)
    within = rng.standard_normal((groups, workers, repeats)) * math.sqrt((1 - truth.between_share) * variance)
    logs = math.log(truth.gm_to_limit) + own + within
    means = logs.mean(axis=2)
    s2_within = logs.var(axis=2, ddof=1).mean(axis=1)
    s2_between = np.maximum(means.var(axis=1, ddof=1) - s2_within / repeats, 1e-300)
    z = (-means.mean(axis=1) - norm.ppf(0.95) * np.sqrt(s2_within)) / np.sqrt(s2_between)
    seen = np.mean(norm.sf(z) < 0.20)
    point = individual_worker_route().point(10, truth)
    assert point.workers == 5
    assert point.chance == pytest.approx(seen, abs=4 * math.hypot(point.error, math.sqrt(0.25 / groups)))


def test_at_the_limit_the_chance_is_one_minus_the_confidence_whatever_the_number():
    truth = Truth.with_percentile(1.0, 2.2)
    for test, wanted in ((percentile_test(), 0.30), (percentile_test(confidence=0.95), 0.05)):
        for point in power_curve(test, truth, at_most=30):
            assert point.chance == pytest.approx(wanted, abs=1e-9)


def test_the_number_wanted_is_the_first_on_the_curve():
    wanted = results_wanted(percentile_test(), TRUTH, chance=0.8)
    curve = {point.results: point.chance for point in power_curve(percentile_test(), TRUTH)}
    number = wanted.point.results
    assert curve[number] >= 0.8
    assert number == 6 or curve[number - 1] < 0.8
    assert "EN 689 statistical test" in wanted.words


def test_a_hopeless_question_is_said_to_be_hopeless():
    wanted = results_wanted(percentile_test(), Truth.with_percentile(1.2, 2.0), at_most=30)
    assert wanted.point is None
    assert "Lower the exposure first" in wanted.words
    assert wanted.best.chance < 0.3


def test_individual_workers_come_in_whole_workers():
    assert [p.results for p in power_curve(individual_worker_route(groups=500), TRUTH, at_most=14)] == [10, 12, 14]
    assert [p.results for p in power_curve(individual_worker_route(repeats=3, groups=500), TRUTH, at_most=14)] == [
        9,
        12,
    ]


def test_too_few_results_allowed_for_the_test_is_refused():
    with pytest.raises(ValueError, match="`at_most` is 4, and the EN 689 statistical test needs more"):
        results_wanted(percentile_test(), TRUTH, at_most=4)


def test_a_share_between_workers_of_one_is_refused():
    with pytest.raises(ValueError, match="`between_share` must be at least 0 and below 1"):
        Truth(0.1, 2.0, 1.0)


def test_the_bayesian_chance_is_that_of_a_posterior_summed_on_a_grid():
    """
    Own groups, own grid over (ln GM, ln GSD) with the same flat prior of ln sigma and of mu: the share of groups with
    at least 95 % of the weight below the limit.
    """
    truth, n, groups = Truth(0.08, 2.2), 6, 3000
    test = posterior_route(prior=FlatPrior(gsd_low=1.2, gsd_high=6.0), groups=4000)
    point = test.point(n, truth)
    y = np.log(truth.gm_to_limit) + math.log(truth.gsd) * np.random.default_rng(8).standard_normal((groups, n))
    mean, square = y.mean(axis=1), y.var(axis=1)
    edges = np.linspace(math.log(math.log(1.2)), math.log(math.log(6.0)), 401)
    sigma = np.exp((edges[1:] + edges[:-1]) / 2)
    # Given sigma, mu is normal around the mean of the logs (its own range is far away), so that one sum remains.
    weight = sigma ** -(n - 1.0) * np.exp(-n * square[:, None] / (2 * sigma**2))
    below = norm.cdf((-norm.ppf(0.95) * sigma - mean[:, None]) / (sigma / math.sqrt(n)))
    sure = (weight * below).sum(axis=1) / weight.sum(axis=1)
    seen = np.mean(sure >= 0.95)
    assert 0.2 < seen < 0.9
    assert point.chance == pytest.approx(seen, abs=4 * math.hypot(point.error, 0.5 / math.sqrt(groups)))


def test_the_bayesian_wish_for_a_lower_band_is_harder():
    easy, hard = (posterior_route(band=band, groups=400).point(6, TRUTH).chance for band in (1.0, 0.5))
    assert hard < easy


def test_a_simulated_chance_counts_only_where_it_lies_two_errors_above_the_wanted_one():
    """Chances 0.80, 0.83 and 0.86, each ± 0.02: 0.80 is wanted, and only 0.86 is sure to be above it."""
    simulated = {6: (0.80, 0.02), 7: (0.83, 0.02), 8: (0.86, 0.02)}
    test = GroupTest("a test", "none", 1, lambda most: range(6, min(most, 8) + 1), lambda n, _: simulated[n])
    assert results_wanted(test, TRUTH, chance=0.80).point.results == 8
    assert results_wanted(test, TRUTH, chance=0.85).point is None
