"""The shape of a group and what breaks it: published examples, and tests whose p-values mean what they say."""

import math
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapel.statistics import (
    NoEstimate,
    Observations,
    observed,
    outliers,
    probability_plot,
    probability_plot_correlation,
    shapiro_wilk,
    trend_in_time,
    two_populations,
)

# Rosner 1983, vitamin E data, as printed in the NIST/SEMATECH e-Handbook 1.3.5.17.3.
ROSNER = [
    -0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70,
    1.76, 1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40,
    2.47, 2.54, 2.62, 2.64, 2.90, 2.92, 2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01,
]  # fmt: skip


def as_results(logs, scale=1.0):
    return np.exp(np.asarray(logs, dtype=float) / scale)


def test_shapiro_and_wilks_own_example():
    """Shapiro and Wilk 1965, weights of 11 men: W = 0.79, significant at 1 %."""
    weights = [148, 154, 158, 160, 161, 162, 166, 170, 182, 195, 236]
    answer = shapiro_wilk(as_results(weights, 100))
    assert answer.statistic == pytest.approx(0.79, abs=0.002)
    assert answer.p_value < 0.01
    assert "look at the plot for an outlier or two populations" in answer.in_words()


@pytest.mark.parametrize(("n", "critical"), [(10, 0.9173), (20, 0.9503), (50, 0.9764)])
def test_the_plots_correlation_has_fillibens_critical_values(n, critical):
    """Filliben 1975 (NIST e-Handbook 1.3.3.23): 5 % points of the correlation; groups built to have just that r."""
    scores, _ = probability_plot(np.arange(1, n + 1))
    highest = np.arange(n) == n - 1
    low, high = 0.0, 50.0
    for _ in range(100):  # how far the highest must stick out for this correlation
        middle = (low + high) / 2
        r = np.corrcoef(scores, scores + middle * highest)[0, 1]
        low, high = (middle, high) if r > critical else (low, middle)
    answer = probability_plot_correlation(np.exp(scores + low * highest))
    assert answer.statistic == pytest.approx(critical, abs=2e-4)
    assert answer.p_value == pytest.approx(0.05, abs=0.006)


@pytest.mark.parametrize("test", [shapiro_wilk, probability_plot_correlation])
@pytest.mark.parametrize("n", [6, 25])
def test_a_true_lognormal_group_is_doubted_as_often_as_said(test, n):
    random = np.random.default_rng(n)
    p = np.array([test(row).p_value for row in random.lognormal(1.0, 0.9, (2000, n))])
    for level in (0.05, 0.20):
        assert np.mean(p < level) == pytest.approx(level, abs=4.5 * math.sqrt(level * (1 - level) / 2000))


def test_so_few_results_say_so():
    assert "so few results seldom show a wrong shape" in shapiro_wilk([1.0, 2.0, 3.5, 5.0]).in_words()
    assert isinstance(shapiro_wilk([1.0, 2.0]), NoEstimate)
    assert isinstance(shapiro_wilk([2.0, 2.0, 2.0]), NoEstimate)
    assert "wants at least 5" in probability_plot_correlation([1.0, 2.0, 3.0]).reason


def test_rosners_own_example_finds_three_outliers():
    """NIST e-Handbook 1.3.5.17.3: statistics 3.118, 2.942, 3.179, 2.810; critical 3.158, 3.151, 3.143, 3.136."""
    answer = outliers(as_results(ROSNER), most=10)
    assert answer.statistics[:4] == pytest.approx([3.118, 2.942, 3.179, 2.810], abs=1.1e-3)
    assert answer.critical[:4] == pytest.approx([3.158, 3.151, 3.143, 3.136], abs=1.1e-3)
    assert answer.rows == (53, 52, 51)


def test_the_handbooks_example_of_grubbs():
    """NIST e-Handbook 1.3.5.17.1: G = 2.4687, one-sided critical value 2.032 at 5 % (two-sided at 10 %)."""
    data = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    answer = outliers(as_results(data, 100), level=0.10)
    assert answer.statistics[0] == pytest.approx(2.4687, abs=1e-4)
    assert answer.critical[0] == pytest.approx(2.032, abs=6e-4)
    assert answer.rows == (7,)
    assert "before anything else" in answer.remark


def test_a_group_without_outliers_loses_none_as_often_as_said():
    random = np.random.default_rng(17)
    found = sum(bool(outliers(row).rows) for row in random.lognormal(0.0, 1.0, (3000, 12)))
    assert found / 3000 == pytest.approx(0.05, abs=4 * math.sqrt(0.05 * 0.95 / 3000))


def test_two_clouds_are_seen_and_one_is_left_alone():
    random = np.random.default_rng(1)
    mixed = np.concatenate([random.lognormal(0.0, 0.3, 8), random.lognormal(3.0, 0.3, 6)])
    split = two_populations(mixed)
    assert (split.low_count, split.high_count) == (8, 6)
    assert split.p_value < 0.01
    assert split.low_gm < split.cut < split.high_gm
    p = np.array([two_populations(row).p_value for row in random.lognormal(0.0, 1.3, (2000, 10))])
    assert np.mean(p < 0.10) == pytest.approx(0.10, abs=4 * math.sqrt(0.09 / 2000))


def test_the_best_split_is_the_best_by_brute_force():
    y = np.sort(np.random.default_rng(9).normal(size=9))
    best = max(
        (k * (y[:k].mean() - y.mean()) ** 2 + (9 - k) * (y[k:].mean() - y.mean()) ** 2) / np.sum((y - y.mean()) ** 2)
        for k in range(2, 8)
    )
    assert two_populations(np.exp(y)).statistic == pytest.approx(best, rel=1e-12)


def test_kendalls_p_value_is_exact_by_going_through_every_order():
    times, values = np.arange(6), np.array([1.0, 3.0, 2.0, 6.0, 4.0, 5.0])

    def s(order):
        return sum(np.sign(order[j] - order[i]) for i in range(6) for j in range(i + 1, 6))

    mine = trend_in_time(values, times)
    every = [abs(s(order)) for order in permutations(range(6))]
    assert mine.kendall_s == s(values)
    assert mine.p_value == pytest.approx(np.mean(np.array(every) >= abs(s(values))), rel=1e-12)


def test_a_steady_rise_is_named_with_its_factor():
    times = np.arange(10) / 2.0
    values = np.exp(0.5 * times) * np.exp(np.random.default_rng(2).normal(0.0, 0.05, 10))
    trend = trend_in_time(values, times)
    assert trend.factor == pytest.approx(math.exp(0.5), rel=0.05)
    assert trend.lower < math.exp(0.5) < trend.upper
    assert trend.regression_factor == pytest.approx(math.exp(0.5), rel=0.05)
    assert "Exposure rose with time" in trend.remark


def test_only_few_results_are_called_few():
    random = np.random.default_rng(1)
    few, many = (trend_in_time(random.lognormal(0.0, 0.8, n), np.arange(n)) for n in (8, 200))
    assert few.remark == "No trend is shown; few results show only a strong one"
    assert many.remark == "No trend is shown"


def test_ties_in_time_and_value_are_taken_into_the_variance():
    """Many ties: the normal approximation against the permutation distribution by simulation."""
    random = np.random.default_rng(3)
    times = np.array([1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6])
    values = np.array([1, 2, 2, 3, 3, 3, 4, 5, 5, 4, 6, 3.0])
    mine = trend_in_time(values, times)
    i, j = np.triu_indices(12, 1)
    sign_t = np.sign(times[j] - times[i])
    every = np.array(
        [np.sum(sign_t * np.sign(v[j] - v[i])) for v in (random.permutation(values) for _ in range(20_000))]
    )
    assert mine.p_value == pytest.approx(np.mean(np.abs(every) >= abs(mine.kendall_s)), abs=0.004)


def surely(low_i, high_i, low_j, high_j):
    """+1 where j lies above i for every truth the bounds allow (a shared bound counts), -1 below, 0 otherwise."""
    if low_i == high_i and low_j == high_j:
        return np.sign(low_j - low_i)
    return int(low_j >= high_i) - int(low_i >= high_j)


def pairs_by_hand(rows, times):
    n = rows.n
    return sum(
        np.sign(times[j] - times[i]) * surely(rows.lower[i], rows.upper[i], rows.lower[j], rows.upper[j])
        for i in range(n)
        for j in range(i + 1, n)
    )


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(4, 6))
def test_the_trend_of_few_results_is_exact_whatever_the_kind_of_rows(seed, n):
    """Non-detects at several limits, intervals, at-least rows, ties in time: against every order by brute force."""
    random = np.random.default_rng(seed)
    value = np.round(random.lognormal(0.0, 1.0, n), 1) + 0.1
    kind = random.integers(0, 4, n)
    lower = np.select([kind == 1, kind == 2], [0.0, 0.5 * value], value)
    upper = np.select([kind == 2, kind == 3], [1.5 * value, np.inf], value)
    rows, times = Observations(lower, upper), np.round(random.uniform(0, 3, n))
    mine = trend_in_time(rows, times)
    if isinstance(mine, NoEstimate):
        assert np.ptp(times) == 0 or all(
            surely(lower[i], upper[i], lower[j], upper[j]) == 0 for i in range(n) for j in range(n)
        )
        return
    assert mine.kendall_s == pairs_by_hand(rows, times)
    every = np.array([abs(pairs_by_hand(rows.rows(list(order)), times)) for order in permutations(range(n))])
    assert mine.p_value == pytest.approx(np.mean(every >= abs(mine.kendall_s)), rel=1e-12)
    assert not mine.lower > mine.upper


def test_a_trend_with_non_detects_has_the_permutations_p_value():
    random = np.random.default_rng(11)
    times = np.arange(14.0)
    value = np.exp(0.15 * times + random.normal(0.0, 0.8, 14))
    cut = np.where(times < 7, 1.0, 1.6)
    rows = Observations(np.where(value < cut, 0.0, value), np.maximum(value, cut))
    mine = trend_in_time(rows, times)
    assert 0 < rows.is_non_detect.sum() < 14
    every = [pairs_by_hand(rows.rows(random.permutation(14)), times) for _ in range(4000)]
    assert mine.p_value == pytest.approx(np.mean(np.abs(every) >= abs(mine.kendall_s)), abs=0.02)
    assert math.isnan(mine.regression_factor)
    assert "of 91 pairs of results can be told apart" in mine.remark


def test_the_slope_with_non_detects_leaves_as_many_pairs_rising_as_falling():
    """Akritas, Murphy and LaValley 1995: the Theil-Sen slope as the root of Kendall's S of the residuals."""
    random = np.random.default_rng(5)
    times = np.arange(12.0)
    value = np.exp(0.3 * times + random.normal(0.0, 0.3, 12))
    lower, upper = np.where(value < 1.5, 0.0, value), np.maximum(value, 1.5)
    mine = trend_in_time(Observations(lower, upper), times)

    def s(slope):
        drift = np.exp(-slope * times)
        return pairs_by_hand(Observations(lower * drift, upper * drift), times)

    slope = math.log(mine.factor)
    assert s(slope - 1e-6) >= 0 >= s(slope + 1e-6)
    assert s(math.log(mine.lower) - 1e-6) > 0 > s(math.log(mine.upper) + 1e-6)
    assert mine.lower < math.exp(0.3) < mine.upper


def test_the_trend_of_nothing_but_non_detects_is_not_estimated():
    answer = trend_in_time(observed(upper=[0.1] * 6), range(6))
    assert isinstance(answer, NoEstimate)
    assert "told apart" in answer.reason
    most = trend_in_time(observed(upper=[0.1, 0.1, 0.1, 0.1, 0.1, np.nan], values=[np.nan] * 5 + [0.4]), range(6))
    assert math.isnan(most.factor)
    assert most.lower <= 1.0


def test_what_cannot_be_tested_is_said_and_what_makes_no_sense_refused():
    assert isinstance(outliers([1.0, 1.0, 1.0]), NoEstimate)
    assert isinstance(two_populations([1.0, 2.0, 3.0]), NoEstimate)
    assert isinstance(trend_in_time([1.0, 2.0, 3.0, 4.0], [5, 5, 5, 5]), NoEstimate)
    assert trend_in_time([2.0] * 5, range(5)).p_value == 1.0
    with pytest.raises(ValueError, match="`most` must be between 1 and 1 for 3 results; it is 2"):
        outliers([1.0, 2.0, 3.0], most=2)
    with pytest.raises(ValueError, match="`times` must hold one time a result, 4"):
        trend_in_time([1.0, 2.0, 3.0, 4.0], [1, 2, 3])
