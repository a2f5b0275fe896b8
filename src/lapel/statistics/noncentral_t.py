"""
The noncentral t distribution to the last digits.

``T = (Z + d) / S`` with Z standard normal and S² an independent chi-square over its degrees of
freedom. Every exact statement about a percentile or an exceedance of a lognormal group comes down to it.

Written out here because the answer must not change with the version of a library, must hold in both
tails, and must hold when the limit is thousands of spreads away.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammainc, gammaincc, gammaln, ndtr, ndtri, roots_legendre

from lapel.statistics.roots import rising_roots

__all__ = ["lower_tail", "noncentrality", "quantile", "upper_tail"]

Floats = NDArray[np.float64]

# The integrands below are analytic on the ranges used; 128 nodes leave an error near 1e-15.
_NODES, _WEIGHTS = roots_legendre(128)
_REACH = 9.5  # standard deviations kept of a normal factor: 2e-21 lies beyond
_SQRT_TWO_PI = 2.5066282746310002


def lower_tail(t: ArrayLike, degrees: ArrayLike, noncentrality: ArrayLike) -> Floats:
    """
    P(T <= t).

    Parameters
    ----------
    t, degrees, noncentrality : array_like, broadcastable
        Where; degrees of freedom, a whole number of at least 1; noncentrality d. [-]

    Returns
    -------
    ndarray of float64
        Probability. [-]
    """
    return _tails(t, degrees, noncentrality)[0]


def upper_tail(t: ArrayLike, degrees: ArrayLike, noncentrality: ArrayLike) -> Floats:
    """
    P(T > t), accurate also where it is tiny; arguments as in `lower_tail`.

    Returns
    -------
    ndarray of float64
        Probability. [-]
    """
    return _tails(t, degrees, noncentrality)[1]


def _tails(t: ArrayLike, degrees: ArrayLike, noncentrality: ArrayLike) -> tuple[Floats, Floats]:
    t_all, nu_all, d_all = np.broadcast_arrays(
        np.asarray(t, dtype=np.float64),
        np.asarray(degrees, dtype=np.float64),
        np.asarray(noncentrality, dtype=np.float64),
    )
    shape = t_all.shape
    t_flat, nu, d = t_all.ravel(), nu_all.ravel(), d_all.ravel()
    # P(T <= t; d) = P(T >= -t; -d): work with t at or above 0 and swap back at the end.
    mirrored = t_flat < 0.0
    t_flat, d = np.abs(t_flat), np.where(mirrored, -d, d)
    below = np.empty_like(t_flat)
    over = np.empty_like(t_flat)
    # Two forms of one integral; each is smooth where the other has a narrow step.
    steep = t_flat > np.sqrt(2.0 * nu)
    for mask, form in ((steep, _over_the_normal), (~steep, _over_the_spread)):
        if mask.any():
            below[mask], over[mask] = form(t_flat[mask], nu[mask], d[mask])
    lower = np.where(mirrored, over, below)
    upper = np.where(mirrored, below, over)
    return np.clip(lower, 0.0, 1.0).reshape(shape), np.clip(upper, 0.0, 1.0).reshape(shape)


def _over_the_spread(t: Floats, nu: Floats, d: Floats) -> tuple[Floats, Floats]:
    """E[Phi(t·S - d)] and E[Phi(d - t·S)], integrated over the chi distribution of S·sqrt(nu)."""
    centre = np.sqrt(nu)
    low, high = np.maximum(0.0, centre - _REACH), centre + _REACH
    half = (high - low) / 2.0
    x = ((low + high) / 2.0)[:, None] + half[:, None] * _NODES
    log_density = (
        ((1.0 - nu / 2.0) * np.log(2.0) - gammaln(nu / 2.0))[:, None] + (nu - 1.0)[:, None] * np.log(x) - x * x / 2.0
    )
    weight = half[:, None] * _WEIGHTS * np.exp(log_density)
    argument = t[:, None] * x / centre[:, None] - d[:, None]
    return (weight * ndtr(argument)).sum(axis=1), (weight * ndtr(-argument)).sum(axis=1)


def _over_the_normal(t: Floats, nu: Floats, d: Floats) -> tuple[Floats, Floats]:
    """Phi(-d) + E[P(S >= (Z+d)/t); Z > -d] and E[P(S < (Z+d)/t); Z > -d], integrated over Z."""
    low = np.clip(-d, -_REACH, _REACH)
    half = (_REACH - low) / 2.0
    z = ((low + _REACH) / 2.0)[:, None] + half[:, None] * _NODES
    weight = half[:, None] * _WEIGHTS * np.exp(-z * z / 2.0) / _SQRT_TWO_PI
    chi_square = nu[:, None] * (np.maximum(z + d[:, None], 0.0) / t[:, None]) ** 2
    half_nu = nu[:, None] / 2.0
    below = ndtr(-d) + (weight * gammaincc(half_nu, chi_square / 2.0)).sum(axis=1)
    over = (weight * gammainc(half_nu, chi_square / 2.0)).sum(axis=1)
    return below, over


def quantile(probability: ArrayLike, degrees: ArrayLike, noncentrality: ArrayLike) -> Floats:
    """
    The t with P(T <= t) = probability.

    Parameters
    ----------
    probability : array_like
        Strictly between 0 and 1. [-]
    degrees, noncentrality : array_like, broadcastable
        Degrees of freedom, a whole number of at least 1; noncentrality. [-]

    Returns
    -------
    ndarray of float64
        Quantile, to about 1e-13 of its size. [-]
    """
    p, nu, d = np.broadcast_arrays(
        np.asarray(probability, dtype=np.float64),
        np.asarray(degrees, dtype=np.float64),
        np.asarray(noncentrality, dtype=np.float64),
    )

    def signed_gap(t: Floats) -> Floats:
        lower, upper = _tails(t, nu, d)
        return np.where(p < 0.5, lower - p, (1.0 - p) - upper)

    width = 1.0 + np.abs(ndtri(p)) * np.sqrt(1.0 + d * d / (2.0 * nu))
    return rising_roots(signed_gap, np.asarray(d + 0.0), np.asarray(width))


def noncentrality(probability: ArrayLike, t: ArrayLike, degrees: ArrayLike) -> Floats:
    """
    The noncentrality d at which P(T <= t; d) = probability.

    Parameters
    ----------
    probability : array_like
        Strictly between 0 and 1. [-]
    t : array_like
        Where. [-]
    degrees : array_like, broadcastable
        Degrees of freedom, a whole number of at least 1. [-]

    Returns
    -------
    ndarray of float64
        Noncentrality, to about 1e-13 of its size. [-]
    """
    p, t_all, nu = np.broadcast_arrays(
        np.asarray(probability, dtype=np.float64),
        np.asarray(t, dtype=np.float64),
        np.asarray(degrees, dtype=np.float64),
    )

    def signed_gap(d: Floats) -> Floats:  # rises with d, as P(T <= t) falls
        lower, upper = _tails(t_all, nu, d)
        return np.where(p < 0.5, p - lower, upper - (1.0 - p))

    width = 1.0 + np.abs(ndtri(p)) * np.sqrt(1.0 + t_all * t_all / (2.0 * nu))
    return rising_roots(signed_gap, np.asarray(t_all + 0.0), np.asarray(width))
