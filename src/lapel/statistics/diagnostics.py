"""Does one distribution hold for all the results? Outliers, two populations, and a drift in time."""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri, stdtr, stdtrit

from lapel.statistics.arguments import finite, share
from lapel.statistics.censored import NoEstimate
from lapel.statistics.lognormal import logs_of

__all__ = ["Outliers", "Split", "Trend", "outliers", "trend_in_time", "two_populations"]

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


@dataclass(frozen=True)
class Trend:
    """
    Change of a group with time.

    Parameters
    ----------
    factor : float
        Exposure changes by this factor for one unit of time: exp of the median slope of the logs. [-]
    lower, upper : float
        Confidence limits of the factor. [-]
    confidence : float
        Of the pair. [-]
    kendall_s : int
        Pairs that rise minus pairs that fall. [-]
    p_value : float
        Two-sided, of no trend. [-]
    regression_factor, regression_p_value : float
        The same by straight-line regression of the logs. [-]
    remark : str
        In words.
    """

    factor: float
    lower: float
    upper: float
    confidence: float
    kendall_s: int
    p_value: float
    regression_factor: float
    regression_p_value: float
    remark: str


def trend_in_time(
    values: ArrayLike, times: ArrayLike, *, confidence: float = 0.95, level: float = 0.05
) -> Trend | NoEstimate:
    """
    Mann-Kendall test with the median slope of the logs, and a straight line beside it.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured, at least 4. [any one unit]
    times : array_like, shape (n,)
        When, in any one unit (days, years). [any]
    confidence : float
        Of the limits of the factor. [-]
    level : float
        p-value under which a trend is named. [-]

    Returns
    -------
    Trend or NoEstimate
        No estimate with fewer than 4 results or when all are of one time.

    Raises
    ------
    ValueError
        The two lists differ in length, or an argument is out of range.

    Notes
    -----
    S counts rising minus falling pairs; its distribution is exact without ties up to 60 results, normal
    with the ties' variance otherwise [1]_. Slope: median over all pairs; limits from the ordered slopes
    [2]_. Several results of one day are not independent: give one a day, or take the p-value lightly.

    References
    ----------
    .. [1] M. G. Kendall, Rank Correlation Methods; Gilbert (1987), 16.4.
    .. [2] P. K. Sen, J. Am. Statist. Assoc. 63 (1968) 1379-1389; Gilbert (1987), 16.5.
    """
    confidence, level = share("confidence", confidence), share("level", level)
    y = logs_of(values)
    (t,) = finite(times=times)
    t = np.atleast_1d(t)
    if t.shape != y.shape:
        raise ValueError(f"`times` must hold one time a result, {y.size}; it has shape {t.shape}")
    n = int(y.size)
    if n < 4:
        return NoEstimate(f"{n} measured: a trend wants at least 4")
    if float(t.min()) == float(t.max()):
        return NoEstimate("all results are of one time: there is no trend to see")
    i, j = np.triu_indices(n, 1)
    dt, dy = t[j] - t[i], y[j] - y[i]
    s = int(np.sum(np.sign(dt) * np.sign(dy)))
    variance = _kendall_variance(n, t, y)
    no_ties = bool(np.all(dt != 0.0) and np.all(dy != 0.0))
    if no_ties and n <= 60:
        p = _kendall_exact(n, s)
    elif variance > 0.0:
        p = min(1.0, 2.0 * float(ndtr(-max(abs(s) - 1.0, 0.0) / math.sqrt(variance))))
    else:
        p = 1.0
    slopes = np.sort(dy[dt != 0.0] / dt[dt != 0.0])
    reach = float(ndtri((1.0 + confidence) / 2.0)) * math.sqrt(variance)
    lower, upper = _ordered(slopes, (slopes.size - reach) / 2.0 - 1.0), _ordered(slopes, (slopes.size + reach) / 2.0)
    line, line_p = _regression(t, y)
    factor = _exp(float(np.median(slopes)))
    remark = (
        f"Exposure {'rose' if s > 0 else 'fell'} with time: the results are not one group without saying when"
        if p < level
        else "No trend is shown; few results show only a strong one"
    )
    return Trend(factor, _exp(lower), _exp(upper), confidence, s, p, _exp(line), line_p, remark)


def _ordered(slopes: Floats, rank: float) -> float:
    """Value at a rank between two ordered slopes (from 0); open ends where the rank falls outside."""
    if rank < 0.0:
        return -math.inf
    if rank > slopes.size - 1:
        return math.inf
    return float(np.interp(rank, np.arange(slopes.size), slopes))


def _kendall_variance(n: int, t: Floats, y: Floats) -> float:
    def tied(x: Floats) -> NDArray[np.int64]:
        return np.unique(x, return_counts=True)[1].astype(np.int64)

    a, b = tied(t), tied(y)

    def term(c: NDArray[np.int64]) -> float:
        return float(np.sum(c * (c - 1) * (2 * c + 5)))

    v = (n * (n - 1) * (2 * n + 5) - term(a) - term(b)) / 18.0
    v += float(np.sum(a * (a - 1) * (a - 2))) * float(np.sum(b * (b - 1) * (b - 2))) / (9.0 * n * (n - 1) * (n - 2))
    v += float(np.sum(a * (a - 1))) * float(np.sum(b * (b - 1))) / (2.0 * n * (n - 1))
    return v


def _kendall_exact(n: int, s: int) -> float:
    """Two-sided p-value from the number of inversions of a random order."""
    chance = np.ones(1)
    for k in range(2, n + 1):
        chance = np.convolve(chance, np.full(k, 1.0 / k))
    statistic = n * (n - 1) // 2 - 2 * np.arange(chance.size)
    return float(min(1.0, chance[np.abs(statistic) >= abs(s)].sum()))


def _regression(t: Floats, y: Floats) -> tuple[float, float]:
    """Slope of the least-squares line and its two-sided p-value."""
    n = t.size
    dt = t - t.mean()
    slope = float(np.sum(dt * y) / np.sum(dt**2))
    left = float(np.sum((y - y.mean() - slope * dt) ** 2))
    if left <= 1e-28 * max(1.0, float(np.sum(y**2))):
        return slope, 1.0 if slope == 0.0 else 0.0
    ratio = abs(slope) / math.sqrt(left / (n - 2) / float(np.sum(dt**2)))
    return slope, 2.0 * float(stdtr(n - 2, -ratio))


def _exp(exponent: float) -> float:
    return math.exp(exponent) if exponent < 700.0 else math.inf
