"""The long-term average of a group: estimates of the arithmetic mean and its exact upper limit."""

import math
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri, stdtrit

from lapel.statistics.arguments import share
from lapel.statistics.land import land_limit
from lapel.statistics.lognormal import spread_of

__all__ = [
    "MeanMethod",
    "mean_limits",
    "mean_lower_limit",
    "mean_upper_limit",
    "moment_mean",
    "unbiased_mean",
    "unbiased_mean_standard_error",
]

MeanMethod = Literal["land", "cox", "student", "chebyshev"]


def moment_mean(values: ArrayLike) -> float:
    """
    Plain average of the results.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured. [any one unit]

    Returns
    -------
    float
        In the unit of `values`. Unbiased whatever the distribution, but erratic when GSD is above 3.

    Raises
    ------
    ValueError
        There are no results, or one is not finite and above 0.
    """
    n, mean, _ = spread_of(values)
    array = np.asarray(values, dtype=np.float64).ravel()
    scale = math.exp(mean)  # keeps the sum finite for results near the largest number
    return float(scale * np.sum(array / scale) / n)


def finney_psi(t: float, n: int) -> float:
    """
    Finney's series psi_n(t), the factor that makes exp(mean of logs) an unbiased mean.

    Parameters
    ----------
    t : float
        Argument. [-]
    n : int
        Number of results, at least 2. [-]

    Returns
    -------
    float

    Notes
    -----
    psi_n(t) = 1 + (n-1)t/n + (n-1)³t²/(n²(n+1)2!) + (n-1)⁵t³/(n³(n+1)(n+3)3!) + ... [1]_, summed
    to the last digit: each term is the one before times (n-1)²t / (n·(n-1+2j)·(j+1)), j = 0, 1, ...

    References
    ----------
    .. [1] R. O. Gilbert, Statistical Methods for Environmental Pollution Monitoring (1987), eq. 13.4.
    """
    total, term, j = 1.0, 1.0, 0
    while abs(term) > 1e-17 * abs(total) or j < 3:
        term *= (n - 1) ** 2 * t / (n * (n - 1 + 2 * j) * (j + 1))
        total += term
        j += 1
        if not math.isfinite(total):
            return math.inf
    return total


def unbiased_mean(values: ArrayLike) -> float:
    """
    Minimum variance unbiased estimate (MVUE) of a lognormal group's arithmetic mean.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured. [any one unit]

    Returns
    -------
    float
        exp(mean of logs)·psi_n(s²/2), in the unit of `values`; the result itself when there is one.

    Raises
    ------
    ValueError
        There are no results, or one is not finite and above 0.

    Notes
    -----
    Finney 1941 [1]_. Best of the unbiased ones if, and only if, the group is lognormal.

    References
    ----------
    .. [1] D. J. Finney, J. R. Statist. Soc. Suppl. 7 (1941) 155-161; Gilbert (1987), 13.1.1.
    """
    n, mean, s = spread_of(values)
    if n == 1:
        return math.exp(mean)
    return math.exp(mean) * finney_psi(s * s / 2.0, n)


def unbiased_mean_standard_error(values: ArrayLike) -> float:
    """
    Unbiased standard error of `unbiased_mean`.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured, at least 2. [any one unit]

    Returns
    -------
    float
        In the unit of `values`.

    Raises
    ------
    ValueError
        There are fewer than 2 results, or one is not finite and above 0.

    Notes
    -----
    Variance exp(2·mean of logs)·(psi_n(s²/2)² - psi_n(s²(n-2)/(n-1))) [1]_.

    References
    ----------
    .. [1] E. L. Bradu, Y. Mundlak, J. Am. Statist. Assoc. 65 (1970) 198-211; Gilbert (1987), eq. 13.5.
    """
    n, mean, s = spread_of(values)
    if n < 2:
        raise ValueError("`values` must hold at least 2 results to have a standard error; it holds 1")
    variance = finney_psi(s * s / 2.0, n) ** 2 - finney_psi(s * s * (n - 2) / (n - 1), n)
    return math.exp(mean) * math.sqrt(max(variance, 0.0))


def mean_upper_limit(values: ArrayLike, *, method: MeanMethod = "land", confidence: float = 0.95) -> float:
    """
    One-sided upper confidence limit of the arithmetic mean.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured. [any one unit]
    method : {"land", "cox", "student", "chebyshev"}
        ``land`` is exact for a lognormal group; the others are approximations that guidance names.
    confidence : float
        One-sided. [-]

    Returns
    -------
    float
        In the unit of `values`; infinity where the results set no upper limit (one result, or results
        that are all the same number and so say nothing about the spread).

    Raises
    ------
    ValueError
        There are no results, one is not finite and above 0, the method is unknown, or the confidence is
        not between 0 and 1.

    Notes
    -----
    - ``land``: Land's exact limit, computed (see `lapel.statistics.land`).
    - ``cox``: mean + s²/2 + z·sqrt(s²/n + s⁴/(2(n-1))) in logs [1]_; good for n above 30.
    - ``student``: average + t·s_x/sqrt n [2]_; too low for skewed groups (GSD above 1.5 and few results).
    - ``chebyshev``: MVUE + sqrt(1/(1-confidence) - 1)·its standard error [2]_; needs no shape of the
      sampling distribution, usually wider than needed.

    References
    ----------
    .. [1] C. E. Land, Technometrics 14 (1972) 145-158 (Cox's direct method).
    .. [2] US EPA, OSWER 9285.6-10 (2002), sections 4.1 and 4.2.
    """
    return _mean_limit(values, method, share("confidence", confidence))


def mean_lower_limit(values: ArrayLike, *, method: MeanMethod = "land", confidence: float = 0.95) -> float:
    """
    One-sided lower confidence limit of the arithmetic mean; arguments as in `mean_upper_limit`.

    Returns
    -------
    float
        In the unit of `values`; 0 where the results set no lower limit.

    Raises
    ------
    ValueError
        As for `mean_upper_limit`.
    """
    return _mean_limit(values, method, 1.0 - share("confidence", confidence))


def mean_limits(values: ArrayLike, *, method: MeanMethod = "land", confidence: float = 0.95) -> tuple[float, float]:
    """
    Two-sided confidence limits of the arithmetic mean, equal tails; arguments as in `mean_upper_limit`.

    Returns
    -------
    tuple of float
        Lower and upper limit, in the unit of `values`.

    Raises
    ------
    ValueError
        As for `mean_upper_limit`.
    """
    tail = (1.0 - share("confidence", confidence)) / 2.0
    return _mean_limit(values, method, tail), _mean_limit(values, method, 1.0 - tail)


def _mean_limit(values: ArrayLike, method: str, probability: float) -> float:
    """The limit not passed with this probability: an upper one above one half, a lower one below."""
    if method not in get_args(MeanMethod):
        known = ", ".join(f'"{name}"' for name in get_args(MeanMethod))
        raise ValueError(f'`method` must be one of {known}; it is "{method}"')
    n, mean, s = spread_of(values)
    if s == 0.0:
        return math.inf if probability > 0.5 else 0.0
    if method == "land":
        return _exp(land_limit(n, mean, s, probability))
    if method == "cox":
        half_width = float(ndtri(probability)) * math.sqrt(s**2 / n + s**4 / (2.0 * (n - 1)))
        return _exp(mean + s**2 / 2.0 + half_width)
    if method == "student":
        average = moment_mean(values)
        deviation = float(np.std(np.asarray(values, dtype=np.float64), ddof=1))
        return max(0.0, average + float(stdtrit(n - 1, probability)) * deviation / math.sqrt(n))
    centre, error = unbiased_mean(values), unbiased_mean_standard_error(values)
    if probability > 0.5:
        return centre + math.sqrt(1.0 / (1.0 - probability) - 1.0) * error
    return max(0.0, centre - math.sqrt(1.0 / probability - 1.0) * error)


def _exp(exponent: float) -> float:
    return math.exp(exponent) if exponent < 709.0 else math.inf
