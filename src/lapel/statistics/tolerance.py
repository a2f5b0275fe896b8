"""Exact statements about a percentile and about the share of shifts above a limit, from measured results."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincinv, ndtr, ndtri

from lapel.statistics.arguments import above, between, count, share
from lapel.statistics.lognormal import logs_of, spread_of
from lapel.statistics.noncentral_t import noncentrality, quantile

__all__ = [
    "ExceedanceInterval",
    "exceedance_interval",
    "exceedance_upper_limit",
    "tolerance_factor",
    "upper_tolerance_limit",
]


def tolerance_factor(n: ArrayLike, *, coverage: ArrayLike = 0.95, confidence: ArrayLike = 0.95) -> NDArray[np.float64]:
    """
    One-sided normal tolerance factor k: mean + k·s lies above a share of the population, with confidence.

    Parameters
    ----------
    n : array_like, broadcastable
        Number of results, at least 2. [-]
    coverage : array_like
        Share of shifts to be covered. [-]
    confidence : array_like
        Confidence that at least that share is covered. [-]

    Returns
    -------
    ndarray of float64
        Factor k, right to about 1e-12. [-]

    Raises
    ------
    ValueError
        `n` is not a whole number of at least 2, or a share is not between 0 and 1.

    Notes
    -----
    k = t'(confidence; n - 1, z·sqrt n) / sqrt n, with t' the quantile of the noncentral t
    distribution and z the normal quantile of the coverage [1]_, [2]_. The factor of EN 689
    is the one of 95 % coverage and 70 % confidence.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3.
    .. [2] ISO 16269-6:2014, one-sided interval, unknown mean and variance.
    """
    (n,) = count(2, n=n)
    coverage, confidence = between(0.0, 1.0, coverage=coverage, confidence=confidence)
    root_n = np.sqrt(n)
    return np.asarray(quantile(confidence, n - 1, ndtri(coverage) * root_n) / root_n)


def upper_tolerance_limit(values: ArrayLike, *, coverage: float = 0.95, confidence: float = 0.95) -> float:
    """
    Upper confidence limit of a percentile of a lognormal group.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured. [any one unit]
    coverage : float
        The percentile, 0.95 for the 95th. [-]
    confidence : float
        One-sided. [-]

    Returns
    -------
    float
        GM·GSD^k, in the unit of `values`; infinity where the results set no upper limit.

    Raises
    ------
    ValueError
        There are no results, one is not finite and above 0, or a share is not between 0 and 1.

    Notes
    -----
    One result sets no limit. Results that are all the same number tell nothing about the spread; then
    only the count speaks (distribution-free limit: the largest of n results covers the share p with
    confidence 1 - p^n), and the limit is that number or infinity.
    """
    coverage, confidence = share("coverage", coverage), share("confidence", confidence)
    n, mean, s = spread_of(values)
    if s == 0.0:
        return math.exp(mean) if 1.0 - coverage**n >= confidence else math.inf
    k = float(tolerance_factor(n, coverage=coverage, confidence=confidence))
    exponent = mean + k * s
    return math.exp(exponent) if exponent < 709.0 else math.inf


@dataclass(frozen=True)
class ExceedanceInterval:
    """
    Share of shifts above a limit, with confidence limits.

    Parameters
    ----------
    estimate : float
        Share above the limit in the fitted distribution. [-]
    lower, upper : float
        Two-sided confidence limits, equal tails. [-]
    confidence : float
        Of the pair. [-]
    remark : str
        Empty, or why the limits were found by counting only.
    """

    estimate: float
    lower: float
    upper: float
    confidence: float
    remark: str = ""


def exceedance_interval(values: ArrayLike, limit: float, *, confidence: float = 0.95) -> ExceedanceInterval:
    """
    Exact confidence limits of the share of lognormal shifts above a limit.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured. [any one unit]
    limit : float
        In the unit of `values`.
    confidence : float
        Of the two limits together, equal tails. [-]

    Returns
    -------
    ExceedanceInterval

    Raises
    ------
    ValueError
        There are no results, one is not finite and above 0, the limit is not above 0, or the confidence
        is not between 0 and 1.

    Notes
    -----
    sqrt n·(ln L - mean)/s is noncentral t with noncentrality sqrt n·z(1 - share), solved for the
    share [1]_. One result, or results that are all the same number, say nothing about the spread: then
    the limits come from counting alone (exact binomial limits [2]_) and `remark` says so.

    References
    ----------
    .. [1] D. B. Owen, T. A. Hua, Commun. Statist. B6 (1977) 285-311.
    .. [2] C. J. Clopper, E. S. Pearson, Biometrika 26 (1934) 404-413.
    """
    confidence = share("confidence", confidence)
    tail = (1.0 - confidence) / 2.0
    estimate, remark = _estimate(values, limit)
    return ExceedanceInterval(
        estimate=estimate,
        lower=_limit_of_share(values, limit, tail),
        upper=_limit_of_share(values, limit, 1.0 - tail),
        confidence=confidence,
        remark=remark,
    )


def exceedance_upper_limit(values: ArrayLike, limit: float, *, confidence: float = 0.95) -> float:
    """
    One-sided upper confidence limit of the share of lognormal shifts above a limit.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured. [any one unit]
    limit : float
        In the unit of `values`.
    confidence : float
        One-sided. [-]

    Returns
    -------
    float
        Share; below 0.05 exactly when the upper tolerance limit of the 95th percentile is below the limit. [-]

    Raises
    ------
    ValueError
        As for `exceedance_interval`.
    """
    return _limit_of_share(values, limit, share("confidence", confidence))


def _estimate(values: ArrayLike, limit: float) -> tuple[float, str]:
    (limit_array,) = above(0.0, limit=limit)
    n, mean, s = spread_of(values)
    if s == 0.0:
        above_limit = float(np.mean(logs_of(values) > math.log(float(limit_array))))
        why = "one result" if n == 1 else f"{n} results that are all the same number"
        return above_limit, f"{why}: nothing is known about the spread; limits from counting alone"
    return float(ndtr((mean - math.log(float(limit_array))) / s)), ""


def _limit_of_share(values: ArrayLike, limit: float, probability: float) -> float:
    """Confidence limit of the share above the limit: the share's value not passed with this probability."""
    (limit_array,) = above(0.0, limit=limit)
    log_limit = math.log(float(limit_array))
    n, mean, s = spread_of(values)
    if s == 0.0:
        return _limit_by_counting(n, int(np.sum(logs_of(values) > log_limit)), probability)
    t = math.sqrt(n) * (log_limit - mean) / s
    d = float(noncentrality(probability, t, n - 1))
    return float(ndtr(-d / math.sqrt(n)))


def _limit_by_counting(n: int, over: int, probability: float) -> float:
    """Clopper-Pearson: the lower limit for probabilities below one half, the upper limit otherwise."""
    if probability < 0.5:
        return 0.0 if over == 0 else float(betaincinv(over, n - over + 1, probability))
    return 1.0 if over == n else float(betaincinv(over + 1, n - over, probability))
