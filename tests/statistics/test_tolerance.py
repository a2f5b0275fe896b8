"""Tolerance factors, percentile limits and exceedance limits: printed tables, high precision, and repetition."""

import math

import mpmath
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtri

from lapel.statistics import (
    Z95,
    exceedance_interval,
    exceedance_upper_limit,
    tolerance_factor,
    upper_tolerance_limit,
)
from lapel.statistics.noncentral_t import lower_tail, noncentrality, quantile, upper_tail

RESULTS = st.lists(st.floats(1e-4, 1e4), min_size=3, max_size=30).filter(lambda v: max(v) > min(v) * 1.01)


def precise_lower_tail(t, nu, d):
    """P(T <= t) as a mean over the chi distribution of the spread, by adaptive quadrature to 30 digits."""
    with mpmath.workdps(30):
        t, nu, d = mpmath.mpf(t), mpmath.mpf(nu), mpmath.mpf(d)
        middle = mpmath.sqrt(nu)
        log_constant = (1 - nu / 2) * mpmath.log(2) - mpmath.loggamma(nu / 2)
        marks = {max(mpmath.mpf(0), middle + k) for k in (-12, -6, -3, -1, 0, 1, 3, 6, 14)}
        if t != 0:
            step = d * middle / t
            marks |= {max(mpmath.mpf(0), step + k * middle / abs(t)) for k in (-12, -3, 0, 3, 12)}
        marks = [*sorted(m for m in marks | {mpmath.mpf(0)} if m < middle + 20), middle + 30]

        def integrand(x):
            if x == 0:
                return mpmath.ncdf(-d) * mpmath.exp(log_constant) if nu == 1 else mpmath.mpf(0)
            return mpmath.ncdf(t * x / middle - d) * mpmath.exp(log_constant + (nu - 1) * mpmath.log(x) - x * x / 2)

        return mpmath.quad(integrand, marks)


@pytest.mark.parametrize(
    ("t", "nu", "d"),
    [
        (5.0, 5, 4.0),
        (-1.0, 5, 0.5),
        (0.0, 3, 1.0),
        (1.0, 1, 0.2),
        (37.1, 1, 2.3),
        (60.0, 999, 52.0),
        (1200.0, 5, 1000.0),
        (130000.0, 5, 100000.0),
        (-900.0, 5, -1000.0),
        (2.0, 5, -3.0),
        (1.0, 5, 8.0),
    ],
)
def test_the_noncentral_t_holds_to_the_last_digits_in_both_tails(t, nu, d):
    below = precise_lower_tail(t, nu, d)
    assert abs(float(lower_tail(t, nu, d)) - float(below)) < 1e-13
    assert abs(float(upper_tail(t, nu, d)) - float(1 - below)) < 1e-13


@pytest.mark.parametrize("p", [1e-6, 0.05, 0.3, 0.7, 0.95, 0.999999])
@pytest.mark.parametrize("nu", [1, 5, 29, 999])
def test_quantile_and_noncentrality_undo_the_probability(p, nu):
    d = Z95 * math.sqrt(nu + 1)
    t = quantile(p, nu, d)
    assert float(lower_tail(t, nu, d)) == pytest.approx(p, rel=1e-10)
    assert float(noncentrality(p, t, nu)) == pytest.approx(d, rel=1e-10)


@pytest.mark.parametrize(
    ("n", "coverage", "confidence", "printed"),
    [
        (10, 0.95, 0.95, 2.911),
        (5, 0.95, 0.95, 4.203),
        (3, 0.95, 0.95, 7.656),
        (20, 0.95, 0.95, 2.396),
        (10, 0.90, 0.95, 2.355),
        (10, 0.99, 0.99, 5.074),
        (20, 0.99, 0.95, 3.295),
    ],
)
def test_factors_are_those_of_the_printed_tables(n, coverage, confidence, printed):
    """ISO 16269-6 annex tables; M. G. Natrella, NBS Handbook 91, Table A-7 (one-sided factors)."""
    assert float(tolerance_factor(n, coverage=coverage, confidence=confidence)) == pytest.approx(printed, abs=6e-4)


def test_the_worked_example_of_the_nist_handbook():
    """NIST/SEMATECH e-Handbook 7.2.6.3: n = 43, 90 % coverage, 99 % confidence, exact k = 1.8740."""
    assert float(tolerance_factor(43, coverage=0.90, confidence=0.99)) == pytest.approx(1.8740, abs=6e-5)


U_T = {
    6: 2.187, 7: 2.120, 8: 2.072, 9: 2.035, 10: 2.005, 11: 1.981, 12: 1.961, 13: 1.944, 14: 1.929, 15: 1.917,
    20: 1.870, 25: 1.841, 30: 1.820,
}  # fmt: skip


def test_u_t_is_the_published_table_of_the_statistical_test():
    """EN 689:2018, U_T for n = 6 to 30 (95 % coverage, 70 % confidence) as quoted by national guidance."""
    computed = tolerance_factor(list(U_T), coverage=0.95, confidence=0.70)
    assert computed == pytest.approx(list(U_T.values()), abs=6e-4)


@pytest.mark.parametrize("n", [2, 6, 30, 300])
@pytest.mark.parametrize("confidence", [0.05, 0.70, 0.95, 0.999])
def test_factors_are_right_to_nine_digits(n, confidence):
    k = float(tolerance_factor(n, coverage=0.95, confidence=confidence))
    root = math.sqrt(n)
    with mpmath.workdps(30):
        # One secant step from both sides turns the error in probability into an error in k.
        step = 1e-6 * k
        here = precise_lower_tail(k * root, n - 1, Z95 * root) - confidence
        slope = (
            precise_lower_tail((k + step) * root, n - 1, Z95 * root)
            - precise_lower_tail((k - step) * root, n - 1, Z95 * root)
        ) / (2 * step)
        assert abs(float(here / slope)) < 1e-9 * abs(k)


def test_the_95th_percentile_has_all_its_digits():
    with mpmath.workdps(30):
        exact = mpmath.sqrt(2) * mpmath.erfinv(mpmath.mpf("0.9"))
        assert abs(float(exact - mpmath.mpf(Z95))) < 2e-16
    assert pytest.approx(ndtri(0.95), rel=1e-15) == Z95


def test_the_factor_covers_as_often_as_it_says():
    random = np.random.default_rng(11)
    y = random.standard_normal((200_000, 6))
    k = float(tolerance_factor(6, coverage=0.95, confidence=0.70))
    covered = np.mean(y.mean(axis=1) + k * y.std(axis=1, ddof=1) >= Z95)
    assert covered == pytest.approx(0.70, abs=0.004)  # 4 standard errors


def test_exceedance_limits_are_exact_against_high_precision():
    values, limit = np.array([0.1, 0.2, 0.15, 0.4, 0.3, 0.12]), 1.0
    y = np.log(values)
    t = math.sqrt(6) * (0.0 - y.mean()) / y.std(ddof=1)
    interval = exceedance_interval(values, limit, confidence=0.90)
    with mpmath.workdps(30):
        for share_above, p in ((interval.lower, 0.05), (interval.upper, 0.95)):
            d = mpmath.findroot(
                lambda d, p=p: precise_lower_tail(t, 5, d) - p, float(-ndtri(share_above)) * math.sqrt(6)
            )
            exact = mpmath.ncdf(-d / mpmath.sqrt(6))
            assert share_above == pytest.approx(float(exact), rel=1e-8)


@settings(deadline=None)
@given(RESULTS, st.sampled_from([0.5, 0.7, 0.95]))
def test_percentile_limit_and_exceedance_limit_are_one_statement(values, confidence):
    """The upper limit of the share above L is 5 % exactly where L is the upper limit of the 95th percentile."""
    limit = upper_tolerance_limit(values, coverage=0.95, confidence=confidence)
    if math.isfinite(limit):
        assert exceedance_upper_limit(values, limit, confidence=confidence) == pytest.approx(0.05, rel=1e-7)


@settings(deadline=None)
@given(RESULTS, st.floats(1e-3, 1e3))
def test_another_unit_changes_nothing_but_the_unit(values, factor):
    scaled = [v * factor for v in values]
    limit = upper_tolerance_limit(values, confidence=0.7)
    assert upper_tolerance_limit(scaled, confidence=0.7) == pytest.approx(limit * factor, rel=1e-9)
    assert exceedance_upper_limit(scaled, factor) == pytest.approx(
        exceedance_upper_limit(values, 1.0), rel=1e-6, abs=1e-12
    )


def test_exceedance_limits_cover_as_often_as_they_say():
    random = np.random.default_rng(4)
    truth, hits = 0.10, 0
    limit = math.exp(0.8 * float(ndtri(0.9)))
    for _ in range(500):
        interval = exceedance_interval(random.lognormal(0.0, 0.8, 8), limit, confidence=0.90)
        hits += interval.lower <= truth <= interval.upper
    assert hits / 500 == pytest.approx(0.90, abs=4 * math.sqrt(0.09 / 500))


def test_one_result_sets_no_limit_but_counts():
    assert upper_tolerance_limit([3.0]) == math.inf
    interval = exceedance_interval([1.0], 2.0, confidence=0.95)
    assert (interval.lower, interval.upper) == (0.0, pytest.approx(0.975))
    assert interval.remark.startswith("one result: nothing is known about the spread")


def test_identical_results_are_judged_by_counting_alone():
    """With n results all below, the one-sided limit solves (1 - share)^n = 1 - confidence."""
    assert exceedance_upper_limit([1.0] * 6, 2.0, confidence=0.95) == pytest.approx(1 - 0.05 ** (1 / 6), rel=1e-12)
    assert upper_tolerance_limit([1.0] * 6) == math.inf
    assert upper_tolerance_limit([1.0] * 59) == pytest.approx(1.0)  # 1 - 0.95^59 = 0.9515
    assert exceedance_interval([3.0] * 4, 2.0).estimate == 1.0


def test_a_limit_far_away_and_a_thousand_results_give_plain_numbers():
    far = exceedance_interval([0.1, 0.2, 0.15], 1e30, confidence=0.95)
    assert 0.0 <= far.lower <= far.estimate <= far.upper < 0.01
    many = np.random.default_rng(3).lognormal(0.0, 1.0, 1000)
    assert upper_tolerance_limit(many) == pytest.approx(math.exp(Z95), rel=0.2)


def test_bad_arguments_are_named():
    with pytest.raises(ValueError, match="`n` must be a whole number of at least 2; item 1 is 1"):
        tolerance_factor([1, 5])
    with pytest.raises(ValueError, match="`limit` must be finite and above 0; it is 0"):
        exceedance_interval([1.0, 2.0], 0.0)
    with pytest.raises(ValueError, match="`values` must hold at least 1 result"):
        upper_tolerance_limit([])
