"""Regression on order statistics and Kaplan-Meier, on published examples and against brute force."""

import math

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from test_censored import MANGANESE, from_signs

from lapel.statistics import NoEstimate, kaplan_meier, observed, plotting_positions, regression_on_order_statistics


def test_robust_regression_on_the_unified_guidances_example():
    """US EPA 530/R-09-007 (2009), Example 15-2: mean of logs 2.277, standard deviation 1.261."""
    answer = regression_on_order_statistics(from_signs(MANGANESE))
    assert answer.log_mean == pytest.approx(2.277, abs=5e-4)
    assert answer.log_sd == pytest.approx(1.261, abs=5e-4)


def test_kaplan_meier_on_the_unified_guidances_example():
    """US EPA 530/R-09-007 (2009), Example 15-1: Kaplan-Meier mean of logs 2.309, standard deviation 1.182."""
    answer = kaplan_meier(from_signs(MANGANESE))
    assert answer.log_mean() == pytest.approx(2.309, abs=5e-4)
    assert answer.log_sd() == pytest.approx(1.182, abs=5e-4)
    # printed steps: F(3.3) = 0.28, F(5.3) = 0.32 of the cumulative column
    at = dict(zip(answer.values.tolist(), (answer.share_below + answer.share_at).tolist(), strict=True))
    assert at[3.3] == pytest.approx(0.28, abs=5e-3)
    assert at[106.3] == pytest.approx(1.0)


def test_positions_without_non_detects_are_weibulls():
    assert plotting_positions(observed([3.0, 1.0, 2.0])) == pytest.approx([0.75, 0.25, 0.5])


def test_positions_with_two_limits_by_hand():
    """
    <1, <1, 3, 5, <10, <10, <10, 20: the layout of USGS TWRI 4-A3.

    Above 10: 1 of 8, so 0.125 exceed 10. Between 1 and 10: 2 of the 4 rows known to be below 10 and
    to bear on 1, so 0.125 + 2/4·0.875 = 0.5625 exceed 1.
    """
    rows = from_signs([-1, -1, 3, 5, -10, -10, -10, 20])
    assert plotting_positions(rows) == pytest.approx(
        [
            0.4375 / 3,
            2 * 0.4375 / 3,
            0.4375 + 0.4375 / 3,
            0.4375 + 2 * 0.4375 / 3,
            0.875 / 4,
            2 * 0.875 / 4,
            3 * 0.875 / 4,
            0.9375,
        ]
    )


def test_with_no_non_detects_both_are_the_plain_average():
    values = [0.2, 0.5, 0.35, 1.9]
    assert regression_on_order_statistics(values).mean == pytest.approx(np.mean(values))
    answer = kaplan_meier(values)
    assert answer.mean() == pytest.approx(np.mean(values))
    assert answer.mean_at_least() == pytest.approx(np.mean(values))
    assert answer.sd() == pytest.approx(np.std(values))
    assert answer.percentile(0.5) == 0.35


def self_consistent_mean(values, hidden, lowest):
    """Brute force: Efron's self-consistent distribution, by redistributing every non-detect again and again."""
    support = np.unique(np.append(values[~hidden], lowest))
    mass = np.full(support.size, 1.0 / support.size)
    for _ in range(20_000):
        new = np.zeros_like(mass)
        for v, h in zip(values, hidden, strict=True):
            where = (support < v) if h else (support == v)
            if h and not where.any():
                where = support == support[0]
            share = mass * where
            new += share / share.sum() if share.sum() > 0 else where / where.sum()
        new /= values.size
        if np.abs(new - mass).max() < 1e-13:
            break
        mass = new
    return float(np.sum(support * mass))


@pytest.mark.parametrize("seed", range(6))
def test_kaplan_meier_is_the_self_consistent_distribution(seed):
    random = np.random.default_rng(seed)
    values = np.round(random.lognormal(0.0, 1.0, 12), 3)
    hidden = random.random(12) < 0.4
    values[0], hidden[0] = 0.001, True  # the lowest row is a non-detect: all unseen mass lies at its limit
    answer = kaplan_meier(observed(lower=np.where(hidden, 0.0, values), upper=values))
    assert answer.mean() == pytest.approx(self_consistent_mean(values, hidden, 0.001), rel=1e-8)
    assert answer.mean_at_least() <= answer.mean()


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.01, 100.0), st.booleans()), min_size=4, max_size=25),
    st.floats(1e-2, 1e2),
)
@example([(1.0, False), (1.0, False), (100.0, True), (99.99999999999999, False)], 64.0)
def test_another_unit_changes_nothing_but_the_unit(items, factor):
    """Where the factor's own rounding makes two neighbours one (99.999…9 and 100), the unit did change the results."""
    values = np.array([v for v, _ in items])
    assume(len(np.unique(values * factor)) == len(np.unique(values)))
    hidden = np.array([h for _, h in items])
    rows = observed(lower=np.where(hidden, 0.0, values), upper=values)
    for method in (regression_on_order_statistics, kaplan_meier):
        one, other = method(rows), method(rows.scaled(factor))
        assert isinstance(one, NoEstimate) == isinstance(other, NoEstimate)
    if not isinstance(one, NoEstimate):
        assert other.mean() == pytest.approx(one.mean() * factor, rel=1e-9)
    ros, ros_scaled = regression_on_order_statistics(rows), regression_on_order_statistics(rows.scaled(factor))
    if not isinstance(ros, NoEstimate):
        assert ros_scaled.gm == pytest.approx(ros.gm * factor, rel=1e-6)


def test_what_cannot_be_estimated_is_said():
    assert str(kaplan_meier(observed(upper=[0.1, 0.2]))) == "no estimate: nothing is measured"
    unseen = kaplan_meier(from_signs([-1, -1, -1, 5.0, 6.0])).percentile(0.3)
    assert isinstance(unseen, NoEstimate)
    assert "the percentile is below 5" in unseen.reason
    assert "only 2 measured" in regression_on_order_statistics(from_signs([-1, 2, 3])).reason
    assert "all measured results are the same" in regression_on_order_statistics([1.0, 1.0, 1.0]).reason


def test_rows_of_another_kind_are_refused_not_bent():
    rows = observed(lower=[1.0, 2.0], upper=[1.0, 3.0])
    with pytest.raises(ValueError, match="item 2 lies between 2 and 3"):
        kaplan_meier(rows)
    with pytest.raises(ValueError, match="item 1 lies between 2 and inf"):
        regression_on_order_statistics(observed(lower=[2.0], upper=[math.inf]))
