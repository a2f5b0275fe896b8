"""How likely each outcome of each test is, for a group whose truth is assumed: closed forms."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from lapel.statistics.arguments import above, at_least, between, count, share
from lapel.statistics.compliance_preliminary import PRELIMINARY_FRACTIONS
from lapel.statistics.noncentral_t import upper_tail
from lapel.statistics.tolerance import tolerance_factor

__all__ = [
    "OutcomeChances",
    "action_level_chances",
    "gm_for_percentile",
    "preliminary_test_chances",
    "results_needed",
    "statistical_test_power",
]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class OutcomeChances:
    """
    Probability of each outcome of a test.

    Parameters
    ----------
    shown, more_results, above : ndarray of float64
        They add to 1. [-]
    """

    shown: Floats
    more_results: Floats
    above: Floats


def gm_for_percentile(percentile_to_limit: ArrayLike, *, gsd: ArrayLike, coverage: float = 0.95) -> Floats:
    """
    Geometric mean of the group whose percentile is a given share of the limit.

    Parameters
    ----------
    percentile_to_limit : array_like
        True percentile over the limit: 1 for a group that just keeps it. [-]
    gsd : array_like, broadcastable
        True geometric standard deviation, above 1. [-]
    coverage : float
        The percentile, 0.95 for the 95th. [-]

    Returns
    -------
    ndarray of float64
        GM over limit. [-]

    Raises
    ------
    ValueError
        An argument is out of the range stated.
    """
    (ratio,) = above(0.0, percentile_to_limit=percentile_to_limit)
    (spread,) = above(1.0, gsd=gsd)
    return np.asarray(ratio * spread ** -float(ndtri(share("coverage", coverage))))


def statistical_test_power(
    n: ArrayLike,
    *,
    gm_to_limit: ArrayLike,
    gsd: ArrayLike,
    coverage: ArrayLike = 0.95,
    confidence: ArrayLike = 0.70,
) -> Floats:
    """
    Probability that the statistical test shows fewer than 5 % of shifts above the limit.

    Parameters
    ----------
    n : array_like, broadcastable
        Results, at least 2. [-]
    gm_to_limit : array_like
        True geometric mean over the limit. [-]
    gsd : array_like
        True geometric standard deviation, above 1. [-]
    coverage, confidence : array_like
        Of the test. [-]

    Returns
    -------
    ndarray of float64
        P(U_R >= U_T), right to about 1e-12. [-]

    Raises
    ------
    ValueError
        An argument is out of the range stated.

    Notes
    -----
    sqrt n·U_R is noncentral t with n - 1 degrees of freedom and noncentrality sqrt n·ln(L/GM)/ln GSD. When the
    true percentile is the limit this is 1 - confidence, whatever n and GSD: 30 % for EN 689. Results
    independent, all measured; the shape check, which refuses about 1 % of true lognormal groups, left out.
    """
    (n,) = count(2, n=n)
    (ratio,) = above(0.0, gm_to_limit=gm_to_limit)
    (spread,) = above(1.0, gsd=gsd)
    root_n = np.sqrt(n)
    t = tolerance_factor(n, coverage=coverage, confidence=confidence) * root_n
    return upper_tail(t, n - 1, root_n * -np.log(ratio) / np.log(spread))


def results_needed(
    *,
    gm_to_limit: float,
    gsd: float,
    power: float = 0.80,
    coverage: float = 0.95,
    confidence: float = 0.70,
    at_least: int = 6,
    at_most: int = 10_000,
) -> int | None:
    """
    Smallest number of results with which the statistical test shows it with a wanted probability.

    Parameters
    ----------
    gm_to_limit, gsd : float
        The assumed truth. [-]
    power : float
        Wanted probability. [-]
    coverage, confidence : float
        Of the test. [-]
    at_least, at_most : int
        Numbers to look at. [-]

    Returns
    -------
    int or None
        None when even `at_most` results do not give it: the true percentile is at or above the limit, or all but.

    Raises
    ------
    ValueError
        An argument is out of range.
    """
    power = share("power", power)

    def enough(n: int) -> bool:
        p = statistical_test_power(n, gm_to_limit=gm_to_limit, gsd=gsd, coverage=coverage, confidence=confidence)
        return float(p) >= power

    if enough(at_least):
        return at_least
    low, high = at_least, at_least
    while not enough(high):
        if high >= at_most:
            return None
        low, high = high, min(2 * high, at_most)
    while high - low > 1:  # the power rises with n when the true percentile is below the limit
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def preliminary_test_chances(
    n: int,
    *,
    gm_to_limit: ArrayLike,
    gsd: ArrayLike,
    reporting_limit_to_limit: ArrayLike = 0.0,
    between_share: ArrayLike = 0.0,
) -> OutcomeChances:
    """
    Probability of each outcome of the preliminary test.

    Parameters
    ----------
    n : int
        3, 4 or 5 results. [-]
    gm_to_limit, gsd : array_like, broadcastable
        The assumed truth. [-]
    reporting_limit_to_limit : array_like
        Reporting limit, as an air concentration, over the limit; 0 when everything is measured. [-]
    between_share : array_like
        Share of the variance of the logs between workers, when all results are of one worker; 0 when each is of
        another. 0 to below 1. [-]

    Returns
    -------
    OutcomeChances

    Raises
    ------
    ValueError
        `n` is not 3, 4 or 5, or another argument is out of range.

    Notes
    -----
    With F the lognormal distribution function: shown F(fraction·L)^n, above 1 - F(L)^n, more results the rest. A
    reporting limit from fraction·L up leaves nothing to be shown, and one above L hides what lies between. Results of
    one worker share that worker's level: F is then that of the worker, and its powers are averaged over workers by the
    trapezoidal rule, good to 1e-9 for shares up to 0.999.
    """
    if n not in PRELIMINARY_FRACTIONS:
        raise ValueError(f"`n` must be 3, 4 or 5; it is {n}")
    (ratio,) = above(0.0, gm_to_limit=gm_to_limit)
    (spread,) = above(1.0, gsd=gsd)
    (reporting,) = at_least(0.0, reporting_limit_to_limit=reporting_limit_to_limit)
    (part,) = at_least(0.0, between_share=between_share)
    if np.any(part >= 1.0):
        raise ValueError(f"`between_share` must be below 1; it is {float(part.max()):g}")
    fraction, sigma = PRELIMINARY_FRACTIONS[n], np.log(spread)
    to_fraction = np.log(fraction / ratio) / sigma
    to_limit = np.log(np.maximum(reporting, 1.0) / ratio) / sigma
    shown = np.where(reporting < fraction, _all_below(to_fraction, n, part), 0.0)
    over = _some_above(to_limit, n, part)
    return OutcomeChances(shown, np.asarray(1.0 - shown - over), over)


def _all_below(z: Floats, n: int, part: Floats) -> Floats:
    """Chance that n standardised logs that share a part of their variance are all below z."""
    own, weight = _by_worker_level(z, part)
    return np.asarray(np.where(part == 0.0, ndtr(z) ** n, (ndtr(own) ** n) @ weight))


def _some_above(z: Floats, n: int, part: Floats) -> Floats:
    """Chance that one or more of them is above z, without cancellation."""
    own, weight = _by_worker_level(z, part)
    with np.errstate(divide="ignore"):
        alone = -np.expm1(n * np.log1p(-ndtr(-z)))
        shared = -np.expm1(n * np.log1p(-ndtr(-own)))
    return np.asarray(np.where(part == 0.0, alone, shared @ weight))


def _by_worker_level(z: Floats, part: Floats) -> tuple[Floats, Floats]:
    """Where z lies among a worker's own results, for workers of every level, and the weight of each level."""
    level, weight = _worker_levels()
    return (z[..., None] - np.sqrt(part)[..., None] * level) / np.sqrt(1.0 - part)[..., None], weight


@lru_cache(maxsize=1)
def _worker_levels() -> tuple[Floats, Floats]:
    """Standard normal levels and their weights; the trapezoidal rule converges exponentially here."""
    x = np.linspace(-9.0, 9.0, 2001)
    weight = np.exp(-0.5 * x * x)
    return x, weight / weight.sum()


def action_level_chances(
    *,
    gm_to_limit: ArrayLike,
    gsd: ArrayLike,
    action_fraction: ArrayLike = 0.5,
    results: int = 1,
    reporting_limit_to_limit: ArrayLike = 0.0,
) -> OutcomeChances:
    """
    Probability that all of a worker's first results are below the action level, or the last above the limit.

    Parameters
    ----------
    gm_to_limit, gsd : array_like, broadcastable
        The worker's own assumed truth. [-]
    action_fraction : array_like
        Action level over limit. [-]
    results : int
        How many are looked at: 1 for a first measurement, 2 for stopping after two in a row. [-]
    reporting_limit_to_limit : array_like
        Reporting limit, as an air concentration, over the limit; 0 when everything is measured. One above the action
        level leaves nothing to be shown. [-]

    Returns
    -------
    OutcomeChances
        ``shown``: all below the action level; ``above``: the last above the limit. [-]

    Raises
    ------
    ValueError
        An argument is out of range.
    """
    (ratio,) = above(0.0, gm_to_limit=gm_to_limit)
    (spread,) = above(1.0, gsd=gsd)
    (fraction,) = above(0.0, action_fraction=action_fraction)
    (between_0_and_1,) = between(0.0, 1.0 + 1e-15, action_fraction=fraction)
    (times,) = count(1, results=results)
    (reporting,) = at_least(0.0, reporting_limit_to_limit=reporting_limit_to_limit)
    distance = -np.log(ratio) / np.log(spread)
    below = ndtr(distance + np.log(between_0_and_1) / np.log(spread)) ** times
    below = np.where(reporting < between_0_and_1, below, 0.0)
    over = ndtr(-distance - np.log(np.maximum(reporting, 1.0)) / np.log(spread))
    return OutcomeChances(np.asarray(below), np.asarray(1.0 - below - over), np.asarray(over + 0.0 * below))
