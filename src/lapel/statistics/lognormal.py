"""The lognormal distribution: point values of a group, with no allowance for how few results there are."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from lapel.statistics.arguments import above, at_least, between, finite

__all__ = [
    "Z95",
    "arithmetic_mean",
    "exceedance_fraction",
    "geometric_mean",
    "geometric_standard_deviation",
    "percentile",
    "unit_spread",
]

Floats = NDArray[np.float64]

Z95 = 1.6448536269514726
"""The standard normal's 95th percentile. [-]"""


def _flat(values: ArrayLike) -> Floats:
    (array,) = above(0.0, values=values)
    array = np.atleast_1d(array)
    if array.ndim != 1:
        raise ValueError(f"`values` must be one flat list of results; it has shape {array.shape}")
    if array.size == 0:
        raise ValueError("`values` must hold at least 1 result; it holds none")
    return array


def logs_of(values: ArrayLike) -> Floats:
    """
    Natural logarithms of the results of one group.

    Raises
    ------
    ValueError
        There are no results, or one is not finite and above 0.
    """
    return np.log(_flat(values))


def spread_of(values: ArrayLike) -> tuple[int, float, float]:
    """
    Number of results, mean of their logs and standard deviation of their logs (n - 1).

    The spread is exactly 0 when all results are the same number, whatever rounding does in
    between, and for one result.
    """
    array = _flat(values)
    y = np.log(array)
    mean = float(y.mean())
    if array.size == 1 or float(array.min()) == float(array.max()):
        return int(array.size), float(y[0]), 0.0
    return int(array.size), mean, float(y.std(ddof=1))


def geometric_mean(values: ArrayLike) -> float:
    """
    Geometric mean: the middle of the fitted lognormal distribution.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured. [mg/m3, or any other]

    Returns
    -------
    float
        In the unit of `values`.

    Raises
    ------
    ValueError
        There are no results, or one is not finite and above 0.
    """
    return float(np.exp(spread_of(values)[1]))


def geometric_standard_deviation(values: ArrayLike) -> float:
    """
    Geometric standard deviation, with n - 1 in the denominator.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured, at least 2. [any one unit]

    Returns
    -------
    float
        At least 1; exactly 1 when all results are the same. [-]

    Raises
    ------
    ValueError
        There are fewer than 2 results, or one is not finite and above 0.
    """
    n, _, s = spread_of(values)
    if n < 2:
        raise ValueError("`values` must hold at least 2 results to have a spread; it holds 1")
    return float(np.exp(s))


def percentile(share: ArrayLike, *, gm: ArrayLike, gsd: ArrayLike) -> Floats:
    """
    Exposure that a share of lognormal shifts does not pass.

    Parameters
    ----------
    share : array_like
        Share below, between 0 and 1; 0.95 for the 95th percentile. [-]
    gm, gsd : array_like, broadcastable
        Geometric mean [any unit] and geometric standard deviation, at least 1 [-].

    Returns
    -------
    ndarray of float64
        GM·GSD^z, in the unit of `gm`.

    Raises
    ------
    ValueError
        A value is out of the range stated.
    """
    (share,) = between(0.0, 1.0, share=share)
    (gm,) = above(0.0, gm=gm)
    (gsd,) = at_least(1.0, gsd=gsd)
    return np.asarray(gm * gsd ** ndtri(share))


def arithmetic_mean(*, gm: ArrayLike, gsd: ArrayLike) -> Floats:
    """
    Long-term average exposure of a lognormal group.

    Parameters
    ----------
    gm, gsd : array_like, broadcastable
        Geometric mean [any unit] and geometric standard deviation, at least 1 [-].

    Returns
    -------
    ndarray of float64
        GM·exp((ln GSD)²/2), in the unit of `gm`.

    Raises
    ------
    ValueError
        A value is out of the range stated.
    """
    (gm,) = above(0.0, gm=gm)
    (gsd,) = at_least(1.0, gsd=gsd)
    return np.asarray(gm * np.exp(np.log(gsd) ** 2 / 2.0))


def exceedance_fraction(limit: ArrayLike, *, gm: ArrayLike, gsd: ArrayLike) -> Floats:
    """
    Share of lognormal exposures above a limit.

    Parameters
    ----------
    limit, gm : array_like, broadcastable to shape (k,)
        Limit and geometric mean, in one unit. [mg/m3, or any other]
    gsd : array_like, broadcastable to shape (k,)
        Geometric standard deviation, above 1. [-]

    Returns
    -------
    ndarray of float64, shape (k,)
        Fraction between 0 and 1. [-]

    Raises
    ------
    ValueError
        A value is not finite, ``limit`` or ``gm`` is not above 0, or ``gsd`` is not above 1.

    Notes
    -----
    1 - Phi((ln L - ln GM) / ln GSD) [1]_: the fraction of the fitted
    distribution, with no allowance for how well the fit is known.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.6.9.
    """
    limit, gm = above(0.0, limit=limit, gm=gm)
    (gsd,) = above(1.0, gsd=gsd)
    return np.asarray(ndtr(-np.log(limit / gm) / np.log(gsd)))


def unit_spread(limit: ArrayLike, *, gm: ArrayLike, gsd: ArrayLike) -> Floats:
    """
    How many log spreads the limit lies above the geometric mean: (ln L - ln GM) / ln GSD.

    Raises
    ------
    ValueError
        A value is not finite, ``limit`` or ``gm`` is not above 0, or ``gsd`` is not above 1.
    """
    limit, gm = above(0.0, limit=limit, gm=gm)
    (gsd,) = above(1.0, gsd=gsd)
    (distance,) = finite(distance=np.log(limit / gm) / np.log(gsd))
    return distance
