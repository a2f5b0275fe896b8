"""Does one distribution hold for all the results? Outliers and two populations; for a drift in time see `trend`."""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

from lapel.statistics.arguments import share
from lapel.statistics.censored import NoEstimate
from lapel.statistics.lognormal import logs_of

__all__ = ["Outliers", "Split", "outliers", "two_populations"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Outliers:
    """
    Results that stand apart from the rest.

    Parameters
    ----------
    rows : tuple of int
        Their positions, from 0, the farthest first; empty when none.
    statistics, critical : tuple of float
        Test statistic and critical value at each step, in the order of removal. [-]
    candidates : tuple of int
        The row looked at in each step.
    remark : str
        What to do, and what not.
    """

    rows: tuple[int, ...]
    statistics: tuple[float, ...]
    critical: tuple[float, ...]
    candidates: tuple[int, ...]
    remark: str


def outliers(values: ArrayLike, *, most: int = 1, level: float = 0.05) -> Outliers | NoEstimate:
    """
    Grubbs' test (`most` = 1) or Rosner's generalised one (`most` above 1), two-sided, on the logs.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured, at least 3. [any one unit]
    most : int
        Greatest number of outliers looked for; at most n - 2. [-]
    level : float
        Chance of naming any outlier in a lognormal group without one. [-]

    Returns
    -------
    Outliers or NoEstimate
        No estimate with fewer than 3 results or when all are the same.

    Raises
    ------
    ValueError
        `most` is not between 1 and n - 2, or an argument is out of range.

    Notes
    -----
    Steps i = 1..most remove the result farthest from the mean; critical value
    (n-i)·t / sqrt((n-i-1+t²)(n-i+1)), t the Student quantile 1 - level/(2(n-i+1)) with n-i-1 degrees of
    freedom; the last step above its critical value gives the number of outliers [1]_. Rosner's version
    is accurate from n = 25, fair from 15. An outlier is looked into, never dropped for being one.

    References
    ----------
    .. [1] B. Rosner, Technometrics 25 (1983) 165-172; NIST/SEMATECH e-Handbook, 1.3.5.17.1 and 1.3.5.17.3.
    """
    level = share("level", level)
    y = logs_of(values)
    n = int(y.size)
    if n < 3:
        return NoEstimate(f"{n} measured: an outlier test wants at least 3")
    if not 1 <= most <= n - 2:
        raise ValueError(f"`most` must be between 1 and {n - 2} for {n} results; it is {most}")
    if float(y.min()) == float(y.max()):
        return NoEstimate("all results are the same: none stands apart")
    left = np.arange(n)
    statistics, critical, candidates = [], [], []
    for i in range(1, most + 1):
        rest = y[left]
        spread = float(rest.std(ddof=1))
        distance = np.abs(rest - rest.mean())
        far = int(np.argmax(distance))
        statistics.append(float(distance[far] / spread) if spread > 0.0 else 0.0)
        t = float(stdtrit(n - i - 1, 1.0 - level / (2.0 * (n - i + 1))))
        critical.append((n - i) * t / math.sqrt((n - i - 1 + t * t) * (n - i + 1)))
        candidates.append(int(left[far]))
        left = np.delete(left, far)
    over = [i for i in range(most) if statistics[i] > critical[i]]
    rows = tuple(candidates[: over[-1] + 1]) if over else ()
    remark = (
        "Find out what happened in that shift before anything else; a true high result belongs to the group"
        if rows
        else "No result stands apart from the rest of the logs"
    )
    return Outliers(rows, tuple(statistics), tuple(critical), tuple(candidates), remark)


@dataclass(frozen=True)
class Split:
    """
    The best split of a group into a low and a high part, and how surprising it is.

    Parameters
    ----------
    cut : float
        Geometric midpoint of the gap between the parts. [unit of the results]
    low_gm, high_gm : float
        Geometric means of the parts. [unit of the results]
    low_count, high_count : int
        Results in each. [-]
    statistic : float
        Between-parts over total sum of squares of the logs. [-]
    p_value, p_error : float
        Chance of as clean a split in a lognormal group of this size; its Monte Carlo standard error. [-]
    remark : str
        In words.
    """

    cut: float
    low_gm: float
    high_gm: float
    low_count: int
    high_count: int
    statistic: float
    p_value: float
    p_error: float
    remark: str


_SIMULATED_GROUPS = 20_000
_SEED = 20_110_912


def two_populations(values: ArrayLike, *, level: float = 0.05) -> Split | NoEstimate:
    """
    Look for two populations: the split of the sorted logs that takes most of the variance.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured, 6 to 500. [any one unit]
    level : float
        p-value under which two populations are called likely. [-]

    Returns
    -------
    Split or NoEstimate
        No estimate with fewer than 6 results, with more than 500, or when all are the same.

    Raises
    ------
    ValueError
        There are no results, or an argument is out of range.

    Notes
    -----
    Largest ratio of between-parts to total sum of squares over all splits with at least 2 results in each
    part: the likelihood-ratio criterion of two normals with one spread against one normal [1]_. The p-value
    comes from 20,000 simulated lognormal groups of the same size (fixed seed; standard error stated): the
    statistic does not depend on GM or GSD. It sees two clouds; it cannot see a small second one.

    References
    ----------
    .. [1] L. Engelman, J. A. Hartigan, J. Am. Statist. Assoc. 64 (1969) 1647-1648.
    """
    level = share("level", level)
    y = np.sort(logs_of(values))
    n = int(y.size)
    if n < 6:
        return NoEstimate(f"{n} measured: a search for two populations wants at least 6")
    if n > 500:
        return NoEstimate("more than 500 results: look at the probability plot instead")
    if float(y[0]) == float(y[-1]):
        return NoEstimate("all results are the same: there is nothing to split")
    ratio = _split_ratios(y[None, :])[0]
    k = int(np.argmax(ratio)) + 2
    statistic = float(ratio.max())
    as_clean = int(np.sum(_simulated_splits(n) >= statistic))
    p = (as_clean + 1) / (_SIMULATED_GROUPS + 1)
    error = math.sqrt(p * (1.0 - p) / _SIMULATED_GROUPS)
    if p < level:
        remark = (
            f"The results fall into {k} low and {n - k} high ones: two jobs, two tasks or two kinds of day are "
            "likely. Split the group by what was done, not by the number, and judge each part"
        )
    else:
        remark = "No sign of two separate populations; so few results would show only a wide gap"
    return Split(
        cut=math.exp(float(y[k - 1] + y[k]) / 2.0),
        low_gm=math.exp(float(y[:k].mean())),
        high_gm=math.exp(float(y[k:].mean())),
        low_count=k,
        high_count=n - k,
        statistic=statistic,
        p_value=p,
        p_error=error,
        remark=remark,
    )


def _split_ratios(ordered: Floats) -> Floats:
    """Between-parts over total sum of squares, for splits after 2 .. n-2 results; shape (groups, n-3)."""
    n = ordered.shape[1]
    centred = ordered - ordered.mean(axis=1, keepdims=True)
    sums = np.cumsum(centred, axis=1)[:, 1 : n - 2]
    k = np.arange(2, n - 1)
    between = sums**2 * n / (k * (n - k))
    return np.asarray(between / np.sum(centred**2, axis=1, keepdims=True))


@cache
def _simulated_splits(n: int) -> Floats:
    random = np.random.default_rng(_SEED)
    found = []
    for _ in range(10):
        groups = np.sort(random.standard_normal((_SIMULATED_GROUPS // 10, n)), axis=1)
        found.append(_split_ratios(groups).max(axis=1))
    return np.concatenate(found)
