"""The arithmetic mean: printed answers, high precision, and what repetition shows."""

import math

import mpmath
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapel.statistics import (
    arithmetic_mean,
    mean_limits,
    mean_lower_limit,
    mean_upper_limit,
    moment_mean,
    unbiased_mean,
    unbiased_mean_standard_error,
)
from lapel.statistics.land import land_factor, land_limit
from lapel.statistics.mean import finney_psi

CHROMIUM = [10, 13, 20, 36, 41, 59, 67, 110, 110, 136, 140, 160, 200, 230, 1300]
RESULTS = st.lists(st.floats(1e-2, 1e2), min_size=3, max_size=20).filter(lambda v: max(v) > min(v) * 1.05)


def test_the_worked_example_of_the_superfund_bulletin():
    """US EPA 9285.7-081 (1992): 15 chromium results; mean of logs 4.38, s 1.25, H 3.163, limit 502 mg/kg."""
    y = np.log(CHROMIUM)
    assert y.mean() == pytest.approx(4.38, abs=0.005)
    assert y.std(ddof=1) == pytest.approx(1.25, abs=0.01)
    assert land_factor(15, 1.25, 0.95) == pytest.approx(3.163, abs=6e-4)
    # The bulletin works with the rounded 4.38 and 1.25.
    rounded = math.exp(4.38 + 1.25**2 / 2 + land_factor(15, 1.25, 0.95) * 1.25 / math.sqrt(14))
    assert rounded == pytest.approx(502, abs=0.6)
    assert mean_upper_limit(CHROMIUM) == pytest.approx(502, rel=0.015)


REFERENCE_AREA = [
    0.22, 0.23, 0.26, 0.27, 0.28, 0.28, 0.29, 0.33, 0.34, 0.35, 0.38, 0.39, 0.39, 0.42, 0.42, 0.43, 0.45, 0.46, 0.48,
    0.50, 0.50, 0.51, 0.52, 0.54, 0.56, 0.56, 0.57, 0.57, 0.60, 0.62, 0.63, 0.67, 0.69, 0.72, 0.74, 0.76, 0.79, 0.81,
    0.82, 0.84, 0.89, 1.11, 1.13, 1.14, 1.14, 1.20, 1.33,
]  # fmt: skip


def test_a_public_data_set_by_the_printed_series():
    """
    US EPA 230-R-94-004 (1994), TcCB in the reference area, 47 results (ppb).

    Finney (1941) as printed in Gilbert (1987), eq. 13.3 and 13.4: exp(mean)·psi_n(s²/2), summed to 40 digits.
    """
    with mpmath.workdps(40):
        logs = [mpmath.log(mpmath.mpf(str(value))) for value in REFERENCE_AREA]
        n = len(logs)
        mean = mpmath.fsum(logs) / n
        t = mpmath.fsum((y - mean) ** 2 for y in logs) / (n - 1) / 2
        total, product = 1 + (n - 1) * t / n, mpmath.mpf(1)
        for j in range(2, 40):
            product *= n + 2 * j - 3
            total += mpmath.mpf(n - 1) ** (2 * j - 1) * t**j / (mpmath.mpf(n) ** j * product * mpmath.factorial(j))
        expected = float(mpmath.exp(mean) * total)
    assert unbiased_mean(REFERENCE_AREA) == pytest.approx(expected, rel=1e-12)
    low, high = mean_limits(REFERENCE_AREA, method="land", confidence=0.95)
    assert low < expected < high


def test_lands_factor_is_the_printed_table():
    """Gilbert (1987), Table A12: H of the one-sided 95 % upper limit at s = 0.10."""
    printed = {
        3: 2.750,
        5: 2.035,
        7: 1.886,
        10: 1.802,
        12: 1.775,
        15: 1.749,
        21: 1.722,
        31: 1.701,
        51: 1.684,
        101: 1.670,
    }
    for n, h in printed.items():
        assert land_factor(n, 0.10, 0.95) == pytest.approx(h, abs=6e-4), n


def precise_tail(theta, n, s):
    """P(cosine <= observed) straight from Land's density in the cosine, by adaptive quadrature."""
    with mpmath.workdps(30):
        theta, s = mpmath.mpf(theta), mpmath.mpf(s)
        total = (n - 1) * s**2 + n * theta**2
        observed = -mpmath.sqrt(n) * theta / mpmath.sqrt(total)
        c = mpmath.sqrt(n * total) / 2
        power = mpmath.mpf(n - 3) / 2

        def density(u):
            return (1 - u * u) ** power * mpmath.exp(-c * (u + 1))

        def marks(low, high):
            inner = [-1 + mpmath.mpf(k) / c for k in (0.1, 1, 3, 8, 20, 50)] + [observed]
            return [low, *sorted(m for m in inner if low < m < high), high]

        below = mpmath.quad(density, marks(mpmath.mpf(-1), observed))
        over = mpmath.quad(density, marks(observed, mpmath.mpf(1)))
        return below / (below + over)


@pytest.mark.parametrize("n", [3, 5, 15])
@pytest.mark.parametrize("s", [0.05, 0.5, 1.5])
@pytest.mark.parametrize("probability", [0.05, 0.70, 0.95])
def test_lands_limit_is_right_to_eight_digits(n, s, probability):
    theta = land_limit(n, 0.0, s, probability)
    step = 1e-6 * max(abs(theta), s)
    slope = (precise_tail(theta + step, n, s) - precise_tail(theta - step, n, s)) / (2 * step)
    error = (precise_tail(theta, n, s) - (1 - probability)) / slope
    assert abs(float(error)) < 1e-8 * max(abs(theta), s)


def test_lands_limit_covers_as_often_as_it_says():
    random = np.random.default_rng(8)
    truth = 1.2**2 / 2
    y = random.normal(0.0, 1.2, (600, 6))
    hits = sum(land_limit(6, row.mean(), row.std(ddof=1), 0.95) >= truth for row in y)
    assert hits / 600 == pytest.approx(0.95, abs=4 * math.sqrt(0.05 * 0.95 / 600))


@pytest.mark.parametrize("n", [2, 3, 10, 50])
@pytest.mark.parametrize("t", [0.01, 0.5, 2.0, 20.0])
def test_finneys_series_is_a_bessel_function(n, t):
    """psi_n(t) = 0F1(; (n-1)/2; (n-1)²t/(2n)), here from mpmath."""
    with mpmath.workdps(30):
        exact = mpmath.hyp0f1(mpmath.mpf(n - 1) / 2, mpmath.mpf(n - 1) ** 2 * t / (2 * n))
    assert finney_psi(t, n) == pytest.approx(float(exact), rel=1e-12)


def test_the_unbiased_mean_is_unbiased_and_so_is_its_variance():
    random = np.random.default_rng(21)
    samples = random.lognormal(0.0, 0.8, (20_000, 5))
    estimates = np.array([unbiased_mean(row) for row in samples])
    errors = np.array([unbiased_mean_standard_error(row) for row in samples])
    truth = float(arithmetic_mean(gm=1.0, gsd=math.exp(0.8)))
    sampling_error = estimates.std() / math.sqrt(len(estimates))
    assert estimates.mean() == pytest.approx(truth, abs=4 * sampling_error)
    squares = errors**2
    assert squares.mean() == pytest.approx(estimates.var(), abs=8 * squares.std() / math.sqrt(len(squares)))
    # Better than the plain average, which is unbiased too.
    assert estimates.var() < samples.mean(axis=1).var()


def test_students_limit_is_the_textbooks():
    """Mean 5, s 1, n 4, t(0.95; 3) = 2.353: 5 + 2.353/2."""
    values = 5 + np.array([-1, 1, -1, 1]) * math.sqrt(3) / 2
    assert mean_upper_limit(values, method="student") == pytest.approx(5 + 2.353 / 2, abs=5e-4)


def test_coxs_limit_nears_lands_with_many_results():
    values = np.random.default_rng(2).lognormal(0.0, 0.7, 800)
    assert mean_upper_limit(values, method="cox") == pytest.approx(mean_upper_limit(values), rel=0.005)


@settings(deadline=None)
@given(RESULTS, st.floats(1e-3, 1e3), st.sampled_from(["land", "cox", "student", "chebyshev"]))
def test_another_unit_changes_nothing_but_the_unit(values, factor, method):
    scaled = [v * factor for v in values]
    plain = mean_upper_limit(values, method=method, confidence=0.9)
    assert mean_upper_limit(scaled, method=method, confidence=0.9) == pytest.approx(plain * factor, rel=1e-8)


@settings(deadline=None)
@given(RESULTS)
def test_limits_lie_around_the_estimate(values):
    low, high = mean_limits(values, confidence=0.9)
    assert (
        low
        < float(arithmetic_mean(gm=math.exp(np.log(values).mean()), gsd=math.exp(np.log(values).std(ddof=1))))
        < high
    )
    assert low == pytest.approx(mean_lower_limit(values, confidence=0.95), rel=1e-12)
    assert high == pytest.approx(mean_upper_limit(values, confidence=0.95), rel=1e-12)


def test_results_that_say_nothing_of_the_spread_set_no_limit():
    assert mean_upper_limit([2.0]) == math.inf
    assert mean_lower_limit([2.0, 2.0, 2.0]) == 0.0
    assert unbiased_mean([2.0]) == pytest.approx(2.0)
    assert unbiased_mean([2.0, 2.0]) == pytest.approx(2.0)
    assert moment_mean([1.0, 3.0]) == pytest.approx(2.0)


def test_two_results_far_apart_give_a_number_or_infinity_never_nan():
    assert mean_upper_limit([1e-6, 1e6]) == math.inf
    assert mean_lower_limit([1e-6, 1e6]) > 0.0


def test_a_thousand_results_are_no_trouble():
    values = np.random.default_rng(5).lognormal(0.0, 1.0, 1000)
    assert mean_upper_limit(values) == pytest.approx(math.exp(0.5), rel=0.2)


def test_an_unknown_method_is_refused_by_name():
    with pytest.raises(ValueError, match='`method` must be one of "land", "cox", "student", "chebyshev"; it is "h"'):
        mean_upper_limit([1.0, 2.0], method="h")
    with pytest.raises(ValueError, match="at least 2 results to have a standard error"):
        unbiased_mean_standard_error([1.0])
