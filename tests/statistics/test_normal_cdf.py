import mpmath
import numpy as np
import pytest
from scipy.special import log_ndtr

from lapel.statistics.normal_cdf import (
    inverse_mills_ratio,
    log_normal_cdf,
    log_normal_cdf_with_slopes,
    log_normal_interval,
)


def exact_log_cdf(z):
    return mpmath.log(mpmath.ncdf(mpmath.mpf(z)))


def test_ln_phi_holds_eleven_figures_over_the_whole_range():
    with mpmath.workdps(40):
        for z in [-300.0, -40.3, -14.001, -13.999, -8.2, -3.3, -1.0, -0.003, 0.0, 0.7, 2.2, 5.0, 8.4]:
            assert log_normal_cdf(np.array([z]))[0] == pytest.approx(float(exact_log_cdf(z)), rel=1e-11, abs=1e-11)


def test_ln_phi_agrees_with_the_general_routine_on_a_fine_grid():
    z = np.linspace(-20, 12, 64_001)
    assert np.max(np.abs(log_normal_cdf(z) - log_ndtr(z))) < 1e-11


def test_ln_phi_of_infinity_is_zero_and_of_minus_infinity_is_minus_infinity():
    assert log_normal_cdf(np.array([np.inf]))[0] == pytest.approx(0.0, abs=1e-16)
    assert log_normal_cdf(np.array([-np.inf]))[0] == -np.inf


def test_the_inverse_mills_ratio_is_density_over_distribution_in_both_tails():
    with mpmath.workdps(40):
        for z in [-200.0, -37.5, -5.0, -0.5, 0.0, 1.5, 6.0]:
            expected = mpmath.npdf(mpmath.mpf(z)) / mpmath.ncdf(mpmath.mpf(z))
            assert float(inverse_mills_ratio(z)) == pytest.approx(float(expected), rel=1e-13)


def test_slopes_are_the_derivatives():
    z = np.linspace(-10, 6, 33)
    h = 1e-4
    value, slope, bend = log_normal_cdf_with_slopes(z)
    assert value == pytest.approx(log_ndtr(z), abs=1e-11)
    assert slope == pytest.approx((log_ndtr(z + h) - log_ndtr(z - h)) / (2 * h), rel=1e-6)
    slope_above, slope_below = inverse_mills_ratio(z + h), inverse_mills_ratio(z - h)
    assert bend == pytest.approx((slope_above - slope_below) / (2 * h), rel=1e-5, abs=1e-9)


def test_the_probability_between_bounds_does_not_cancel_in_either_tail():
    with mpmath.workdps(300):
        for low, high in [(-30, -29), (29, 30), (-1, 2), (5, np.inf), (-np.inf, -6), (0.3, 0.3001), (2.0, 2.000002)]:
            expected = mpmath.log(mpmath.ncdf(high) - mpmath.ncdf(low))
            assert float(log_normal_interval(low, high)) == pytest.approx(float(expected), rel=1e-9, abs=1e-10)
