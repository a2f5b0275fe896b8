"""Does the exposure of a group drift in time? For measured results, non-detects and results within bounds alike."""

import math
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri, stdtr

from lapel.statistics.arguments import finite, share
from lapel.statistics.censored import NoEstimate
from lapel.statistics.observed import Observations, observed

__all__ = ["Trend", "trend_in_time"]

Floats = NDArray[np.float64]

_EVERY_ORDER = 7  # results up to which all orders (5,040) are gone through when some cannot be told apart
_FEW = 20  # results; even so many show a rise by one GSD from first to last only 1 time in 5 (simulated)
_COUNTED = 60  # results up to which the distribution without ties is counted out


@dataclass(frozen=True)
class Trend:
    """
    Change of a group with time.

    Parameters
    ----------
    factor : float
        Exposure changes by this factor for one unit of time: exp of the median slope of the logs; NaN when too many
        results are known only from one side to say. [-]
    lower, upper : float
        Confidence limits of the factor; 0 and infinity where open. [-]
    confidence : float
        Of the pair. [-]
    kendall_s : int
        Pairs that surely rise minus pairs that surely fall. [-]
    p_value : float
        Two-sided, of no trend. [-]
    regression_factor, regression_p_value : float
        The same by straight-line regression of the logs; NaN unless all results are measured. [-]
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
    values: Observations | ArrayLike, times: ArrayLike, *, confidence: float = 0.95, level: float = 0.05
) -> Trend | NoEstimate:
    """
    Mann-Kendall test with the median slope of the logs, and a straight line beside it.

    Parameters
    ----------
    values : Observations or array_like, shape (n,)
        Results, at least 4, measured or not. [any one unit]
    times : array_like, shape (n,)
        When, in any one unit (days, years). [any]
    confidence : float
        Of the limits of the factor. [-]
    level : float
        p-value under which a trend is named. [-]

    Returns
    -------
    Trend or NoEstimate
        No estimate with fewer than 4 results, when all are of one time, or when no two can be told apart.

    Raises
    ------
    ValueError
        The two lists differ in length, or an argument is out of range.

    Notes
    -----
    S counts pairs that surely rise minus pairs that surely fall: a result surely lies above another when its lower
    bound is at least the other's upper bound, so a non-detect lies below every result from its reporting limit up,
    and two non-detects are a tie [1]_. Without ties the distribution of S is exact up to 60 results [2]_; with them
    it is exact up to 7, by going through every order, and normal beyond, with the permutation variance of a general
    coefficient of correlation [3]_. The slope is the one that, taken off, leaves as many pairs rising as falling, and
    its limits those that leave S at the edge of chance: for measured results the median of all pairs' slopes, and the
    ordered slopes [4]_. Several results of one day are not independent: give one a day, or take the p-value lightly.
    A reporting limit that itself drifted makes a trend of its own, or hides one.

    References
    ----------
    .. [1] D. R. Helsel, Statistics for Censored Environmental Data (2012), 12.2 and 12.3.
    .. [2] M. G. Kendall, Rank Correlation Methods; Gilbert (1987), 16.4.
    .. [3] H. E. Daniels, Biometrika 33 (1944) 129-135.
    .. [4] P. K. Sen, J. Am. Statist. Assoc. 63 (1968) 1379-1389; Gilbert (1987), 16.5; M. G. Akritas et al., J. Am.
       Statist. Assoc. 90 (1995) 170-177 (with non-detects).
    """
    confidence, level = share("confidence", confidence), share("level", level)
    rows = observed(values)
    (t,) = finite(times=times)
    t = np.atleast_1d(t)
    if t.shape != rows.lower.shape:
        raise ValueError(f"`times` must hold one time a result, {rows.n}; it has shape {t.shape}")
    n = rows.n
    if n < 4:
        return NoEstimate(f"{n} {'result' if n == 1 else 'results'}: a trend wants at least 4")
    if float(t.min()) == float(t.max()):
        return NoEstimate("all results are of one time: there is no trend to see")
    later = np.sign(t[None, :] - t[:, None])
    higher = _surely_higher(rows)
    told_apart = int(np.count_nonzero(higher)) // 2
    if not told_apart and not rows.all_measured:
        return NoEstimate("no two of the results can be told apart: there is no trend to see")
    s = int(np.sum(later * higher)) // 2
    variance = _variance(later, higher)
    p = _p_value(later, higher, s, variance)
    slope, lower, upper = _slope(rows, t, float(ndtri((1.0 + confidence) / 2.0)) * math.sqrt(variance))
    line, line_p = _regression(t, np.log(rows.values)) if rows.all_measured else (math.nan, math.nan)
    remark = (
        f"Exposure {'rose' if s > 0 else 'fell'} with time: the results are not one group without saying when"
        if p < level
        else "No trend is shown" + ("; few results show only a strong one" if n < _FEW else "")
    )
    if not rows.all_measured:
        remark += f" ({told_apart} of {n * (n - 1) // 2} pairs of results can be told apart)"
    return Trend(_exp(slope), _exp(lower), _exp(upper), confidence, s, p, _exp(line), line_p, remark)


def _surely_higher(rows: Observations) -> Floats:
    """Shape (n, n): 1 where the second result surely lies above the first, -1 where below, 0 where none can tell."""
    low, high, exact = rows.lower, rows.upper, rows.is_measured
    both = exact[:, None] & exact[None, :]
    above = np.where(both, low[None, :] > high[:, None], low[None, :] >= high[:, None])
    return above.astype(np.float64) - above.T


def _variance(a: Floats, b: Floats) -> float:
    """Of S over all orders of the results, for any two antisymmetric tables of signs."""
    n = a.shape[0]
    squares_a, squares_b = float(np.sum(a * a)), float(np.sum(b * b))
    ends_a, ends_b = float(np.sum(a.sum(axis=1) ** 2)), float(np.sum(b.sum(axis=1) ** 2))
    three = (ends_a - squares_a) * (ends_b - squares_b) / (n * (n - 1) * (n - 2))
    return float(three + squares_a * squares_b / (2.0 * n * (n - 1)))


def _p_value(later: Floats, higher: Floats, s: int, variance: float) -> float:
    n = later.shape[0]
    pairs = np.triu_indices(n, 1)
    if n <= _COUNTED and np.all(later[pairs] != 0.0) and np.all(higher[pairs] != 0.0):
        return _kendall_exact(n, s)
    if n <= _EVERY_ORDER:
        orders = np.array(list(permutations(range(n))))
        every = (later[pairs] * higher[orders[:, pairs[0]], orders[:, pairs[1]]]).sum(axis=1)
        return float(np.mean(np.abs(every) >= abs(s)))
    if variance <= 0.0:
        return 1.0
    return min(1.0, 2.0 * float(ndtr(-max(abs(s) - 1.0, 0.0) / math.sqrt(variance))))


def _slope(rows: Observations, t: Floats, reach: float) -> tuple[float, float, float]:
    """
    Slope of the logs that leaves S at 0, and those that leave it at plus and minus `reach`.

    As the slope taken off grows, a pair first ceases surely to rise and then surely falls: two steps down of S, which
    for measured results come together.
    """
    first, second = np.nonzero(t[:, None] < t[None, :])
    with np.errstate(divide="ignore"):
        low, high = np.log(rows.lower), np.log(rows.upper)
    dt = t[second] - t[first]
    steps = np.sort(np.concatenate([(low[second] - high[first]) / dt, (high[second] - low[first]) / dt]))
    pairs = dt.size
    lower, upper = math.ceil(pairs - reach) - 1, math.floor(pairs + reach)
    middle = steps[pairs - 1 : pairs + 1]
    return (
        float(middle.mean()) if np.all(np.isfinite(middle)) else math.nan,
        float(steps[lower]) if lower >= 0 else -math.inf,
        float(steps[upper]) if upper < steps.size else math.inf,
    )


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
    return math.inf if exponent >= 700.0 else math.exp(exponent)
