"""Censored maximum likelihood: printed answers, high precision, and honest absence."""

import itertools
import math

import mpmath
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from scipy.special import log_ndtr, ndtr, ndtri

from lapel.statistics import NoEstimate, Observations, fit, observed, upper_tolerance_limit

# "<" as a negative number: US EPA 530/R-09-007 (2009), Example 15-1, manganese (ppb), five background wells.
MANGANESE = [
    -5, 12.1, 16.9, 21.6, -2, -5, 7.7, 53.6, 9.5, 45.9, -5, 5.3, 12.6, 106.3, 34.5,
    6.3, 11.9, 10, -2, 77.2, 17.9, 22.7, 3.3, 8.4, -2,
]  # fmt: skip


def from_signs(values):
    values = np.array(values, dtype=float)
    return observed(lower=np.where(values < 0, 0, values), upper=np.abs(values))


MIXES = {
    "manganese": from_signs(MANGANESE),
    "one limit, half below": from_signs([-0.1, -0.1, -0.1, 0.15, 0.4, 0.22]),
    "one detect": from_signs([-0.1, -0.1, -0.1, 0.5]),
    "bounds only": observed(lower=[1.0, 5.0, 2.0], upper=[2.0, 8.0, 3.0]),
    "all kinds": observed(lower=[0.0, 0.3, 0.5, 0.7, 2.0], upper=[0.2, 0.3, 0.9, 0.7, math.inf]),
    "measured": observed([0.2, 0.5, 0.35, 1.9]),
    "far apart": from_signs([-1e-6, 1e3, 2e3, -1e-6]),
    "a narrow bound": observed(lower=[1.0, 2.0, 3.0], upper=[1.0, 2.0, 3.0000001]),
}


def precise_log_likelihood(rows, mu, sigma):
    total = mpmath.mpf(0)
    for low, high in zip(rows.lower, rows.upper, strict=True):
        if low == high:
            z = (mpmath.log(mpmath.mpf(low)) - mu) / sigma
            total += -z * z / 2 - mpmath.log(sigma)
        else:
            top = mpmath.mpf(1) if math.isinf(high) else mpmath.ncdf((mpmath.log(mpmath.mpf(high)) - mu) / sigma)
            bottom = mpmath.mpf(0) if low == 0 else mpmath.ncdf((mpmath.log(mpmath.mpf(low)) - mu) / sigma)
            total += mpmath.log(top - bottom)
    return total


def test_the_worked_example_of_the_unified_guidance():
    """Manganese: maximum likelihood mean of logs 2.216 and standard deviation 1.356 (19 of 25 measured)."""
    fitted = fit(MIXES["manganese"])
    assert fitted.mu == pytest.approx(2.216, abs=5e-4)
    assert fitted.sigma == pytest.approx(1.356, abs=5e-4)


def test_a_published_right_censored_sample():
    """A. K. Gupta, Biometrika 39 (1952) 260: first 7 of 10 mice, log10 days; mean 1.742, deviation 0.079."""
    days = np.array([41, 44, 46, 54, 55, 58, 60])
    rows = Observations.measured(days).followed_by(Observations.at_least([60, 60, 60]))
    fitted = fit(rows)
    assert fitted.mu / math.log(10) == pytest.approx(1.742, abs=1e-3)
    assert fitted.sigma / math.log(10) == pytest.approx(0.079, abs=1e-3)


@pytest.mark.parametrize("name", MIXES)
def test_the_maximum_is_right_to_seven_digits(name):
    """The gradient, differentiated numerically at 50 digits and divided by the curvature, is a step below 1e-7."""
    rows, fitted = MIXES[name], fit(MIXES[name])
    with mpmath.workdps(50):
        mu, log_sigma = mpmath.mpf(fitted.mu), mpmath.log(mpmath.mpf(fitted.sigma))

        def f(m, s):
            return precise_log_likelihood(rows, m, mpmath.exp(s))

        gradient = mpmath.matrix([mpmath.diff(f, (mu, log_sigma), o) for o in ((1, 0), (0, 1))])
        cross = mpmath.diff(f, (mu, log_sigma), (1, 1))
        hessian = mpmath.matrix(
            [
                [mpmath.diff(f, (mu, log_sigma), (2, 0)), cross],
                [cross, mpmath.diff(f, (mu, log_sigma), (0, 2))],
            ]
        )
        step = mpmath.lu_solve(hessian, gradient)
        assert abs(step[0]) < 1e-7 * fitted.sigma
        assert abs(step[1]) < 1e-7


def independent_profile(rows, quantity, q):
    """Greatest log-likelihood at one value of the quantity, by a plain search over ln sigma in mu and sigma."""
    low, high = np.log(np.where(rows.lower > 0, rows.lower, np.nan)), np.log(rows.upper)

    def minus(s):
        sigma = math.exp(s)
        mu = {"gm": q, "p95": q - float(ndtri(0.95)) * sigma, "mean": q - sigma**2 / 2}[quantity]
        total = 0.0
        for i in range(rows.n):
            if rows.lower[i] == rows.upper[i]:
                total += -(((high[i] - mu) / sigma) ** 2) / 2 - s
            elif rows.lower[i] == 0:
                total += float(log_ndtr((high[i] - mu) / sigma))
            elif math.isinf(rows.upper[i]):
                total += float(log_ndtr(-(low[i] - mu) / sigma))
            else:
                inside = float(ndtr((high[i] - mu) / sigma) - ndtr((low[i] - mu) / sigma))
                total += math.log(inside) if inside > 0.0 else -1e9
        return -total

    grid = np.linspace(-3.0, 4.0, 141)
    best = int(np.argmin([minus(s) for s in grid]))
    found = minimize_scalar(minus, bounds=(grid[best - 1], grid[best + 1]), method="bounded", options={"xatol": 1e-12})
    return -found.fun


@pytest.mark.parametrize("quantity", ["gm", "mean", "p95"])
@pytest.mark.parametrize("name", ["manganese", "one limit, half below", "all kinds", "measured"])
def test_profile_limits_lose_half_a_chi_square_quantile(name, quantity):
    rows = MIXES[name]
    estimate = getattr(fit(rows, confidence=0.90), quantity)
    top = independent_profile(rows, quantity, math.log(estimate.estimate))
    for end in (estimate.lower, estimate.upper):
        loss = top - independent_profile(rows, quantity, math.log(end))
        assert loss == pytest.approx(1.6448536269514722**2 / 2, rel=1e-6)
    assert estimate.upper == pytest.approx(estimate.upper_limit(0.95), rel=1e-9)


def test_the_spread_of_measured_results_has_its_textbook_profile():
    """With all measured, loss(sigma) = n·(ln(sigma/s) + (s²/sigma² - 1)/2), s the maximum likelihood deviation."""
    values = [0.2, 0.5, 0.35, 1.9, 0.8]
    fitted = fit(values, confidence=0.90)
    s = np.log(values).std()
    assert fitted.gsd.estimate == pytest.approx(math.exp(s), rel=1e-10)
    for end in (fitted.gsd.lower, fitted.gsd.upper):
        sigma = math.log(end)
        loss = 5 * (math.log(sigma / s) + (s**2 / sigma**2 - 1) / 2)
        assert loss == pytest.approx(1.6448536269514722**2 / 2, rel=1e-7)


@pytest.mark.parametrize(
    ("rows", "reason"),
    [
        (observed([]), "there are no results"),
        (observed([1.0]), "one result is measured and nothing contradicts a spread of zero"),
        (observed([2.0, 2.0, 2.0]), "all measured results are the same"),
        (observed(upper=[0.1, 0.2]), "every result is below its reporting limit: only an upper bound can be stated"),
        (from_signs([0.5, -1.0, -1.0]), "one result is measured and nothing contradicts a spread of zero"),
        (observed(lower=[1, 1.5], upper=[2, 3]), "one and the same value would satisfy every result"),
        (observed(lower=[0, 3], upper=[1, math.inf]), "split as by an endless spread"),
    ],
)
def test_where_no_estimate_exists_the_reason_is_given(rows, reason):
    answer = fit(rows)
    assert isinstance(answer, NoEstimate)
    assert not answer
    assert reason in str(answer)


def test_absence_is_real_the_likelihood_keeps_rising():
    """One detect under a higher reporting limit: the likelihood grows without bound as the spread shrinks."""
    rows = from_signs([0.5, -1.0])
    with mpmath.workdps(30):
        values = [precise_log_likelihood(rows, mpmath.log(mpmath.mpf(0.5)), mpmath.mpf(10) ** -k) for k in range(1, 6)]
    assert all(b > a + 2 for a, b in itertools.pairwise(values))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.01, 100.0), st.booleans()), min_size=2, max_size=25),
    st.floats(1e-3, 1e3),
)
def test_another_unit_changes_nothing_but_the_unit(items, factor):
    values = np.array([v for v, _ in items])
    hidden = np.array([h for _, h in items])
    rows = observed(lower=np.where(hidden, 0.0, values), upper=values)
    one, other = fit(rows), fit(rows.scaled(factor))
    if isinstance(one, NoEstimate):
        assert isinstance(other, NoEstimate)
        return
    assert isinstance(other, type(one))
    assert other.sigma == pytest.approx(one.sigma, rel=1e-6)
    assert other.mu == pytest.approx(one.mu + math.log(factor), abs=1e-6 * (1 + one.sigma))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(0.01, 100.0), min_size=2, max_size=20).filter(lambda v: max(v) > min(v) * 1.01))
def test_with_all_measured_it_is_the_closed_form(values):
    y = np.log(values)
    fitted = fit(values)
    assert fitted.mu == pytest.approx(y.mean(), abs=1e-9 * (1 + abs(y).max()))
    assert fitted.sigma == pytest.approx(y.std(), rel=1e-7)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.floats(0.1, 10.0), min_size=3, max_size=12).filter(lambda v: max(v) > min(v) * 1.2),
    st.sampled_from([0.10, 0.70, 0.95]),
)
def test_the_calibrated_percentile_limit_is_the_exact_one_when_all_are_measured(values, confidence):
    exact = upper_tolerance_limit(values, confidence=confidence)
    if math.isfinite(exact) and exact < 1e200:
        mine = fit(values).percentile_upper_limit(coverage=0.95, confidence=confidence)
        assert math.log(mine) == pytest.approx(math.log(exact), abs=1e-7 * (1 + abs(math.log(exact))))


def test_a_thousand_results_are_no_trouble():
    random = np.random.default_rng(6)
    values = random.lognormal(0.0, 1.0, 1000)
    rows = observed(lower=np.where(values < 0.5, 0.0, values), upper=np.maximum(values, 0.5))
    fitted = fit(rows)
    assert fitted.mu == pytest.approx(0.0, abs=0.15)
    assert fitted.p95.lower < math.exp(float(ndtri(0.95))) < fitted.p95.upper


def test_few_results_give_wide_limits_not_nan():
    fitted = fit(from_signs([-0.1, -0.1, -0.1, 0.5]))
    for q in (fitted.gm, fitted.gsd, fitted.mean, fitted.p95):
        assert 0.0 <= q.lower <= q.estimate <= q.upper
        assert not math.isnan(q.upper)
    with pytest.raises(ValueError, match=r"`confidence` must be at least 0\.5; it is 0\.4"):
        fitted.gm.upper_limit(0.4)
