"""What one more result is worth: how likely it is to change the decision."""

import math
from dataclasses import dataclass

from numpy.typing import ArrayLike
from scipy.special import stdtr, stdtrit

from lapel.statistics.arguments import above, share
from lapel.statistics.censored import NoEstimate
from lapel.statistics.lognormal import spread_of
from lapel.statistics.tolerance import tolerance_factor

__all__ = ["NextResult", "next_result"]


@dataclass(frozen=True)
class NextResult:
    """
    What one more result could do to the statistical test.

    Parameters
    ----------
    shown_now : bool
        Whether the test is met with the results at hand.
    shown_from, shown_to : float
        The test is met after one more result if, and only if, that result lies between these; both NaN when no
        result could do it. [unit of the results]
    chance_shown : float
        Probability that the test is met after one more result. [-]
    chance_of_change : float
        Probability that one more result changes the outcome. [-]
    likely_low, likely_high : float
        Where the next result lies with 80 % probability. [unit of the results]
    """

    shown_now: bool
    shown_from: float
    shown_to: float
    chance_shown: float
    chance_of_change: float
    likely_low: float
    likely_high: float

    def in_words(self) -> str:
        """One or two sentences for a plan."""
        now = "is shown" if self.shown_now else "is not shown"
        change = f"{100 * self.chance_of_change:.0f} %" if self.chance_of_change >= 0.01 else "below 1 %"
        if self.shown_now:
            what = f"a result above {self.shown_to:.3g} would undo it"
            if math.isnan(self.shown_to):
                what = "any further result would undo it"
            elif self.shown_from >= 1e-3 * self.likely_low:
                what += f" (or one below {self.shown_from:.3g}, which would widen the spread)"
        elif math.isnan(self.shown_to):
            what = "no single result could show it"
        else:
            what = f"a result between {self.shown_from:.3g} and {self.shown_to:.3g} would show it"
        return (
            f"At present it {now}; {what}. The chance that one more result changes this is {change}, "
            "judged from these results alone."
        )


def next_result(
    values: ArrayLike, limit: float, *, coverage: float = 0.95, confidence: float = 0.70
) -> NextResult | NoEstimate:
    """
    How likely one more result is to change the outcome of the statistical test.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured, at least 2. [unit of `limit`]
    limit : float
        Occupational exposure limit.
    coverage, confidence : float
        Of the test. [-]

    Returns
    -------
    NextResult or NoEstimate
        No estimate with fewer than 2 results, or when all are the same.

    Raises
    ------
    ValueError
        A result or the limit is not finite and above 0, a share is not between 0 and 1, or both are so low
        that the tolerance factor is not above 0.

    Notes
    -----
    Closed form. With d the next log result minus the mean of the n at hand, the test after it reads
    ln L - mean - d/(n+1) >= k·sqrt((SS + d²·n/(n+1))/n), k the factor for n + 1: a quadratic in d, met on one
    interval. The next log result is mean + s·sqrt(1 + 1/n)·t with Student's t on n - 1 degrees of freedom: the
    predictive distribution under the reference prior [1]_, exact as a frequency statement. With few
    results it is wide, as it should be.

    References
    ----------
    .. [1] S. Geisser, Predictive Inference (1993), 3.1; G. J. Hahn, W. Q. Meeker, Statistical Intervals (1991), 4.7.
    """
    (limit_array,) = above(0.0, limit=limit)
    coverage, confidence = share("coverage", coverage), share("confidence", confidence)
    n, mean, s = spread_of(values)
    if n < 2 or s == 0.0:
        return NoEstimate("one result, or results that are all the same, say nothing of the next one's spread")
    room = math.log(float(limit_array)) - mean
    now = room >= float(tolerance_factor(n, coverage=coverage, confidence=confidence)) * s
    k = float(tolerance_factor(n + 1, coverage=coverage, confidence=confidence))
    low, high = _interval_of_deviation(n, s, room, k)
    scale = s * math.sqrt(1.0 + 1.0 / n)
    chance = 0.0
    if low < high:
        chance = float(stdtr(n - 1, high / scale) - stdtr(n - 1, low / scale))
    reach = float(stdtrit(n - 1, 0.9)) * scale
    return NextResult(
        shown_now=now,
        shown_from=_exp(mean + low) if low < high else math.nan,
        shown_to=_exp(mean + high) if low < high else math.nan,
        chance_shown=chance,
        chance_of_change=1.0 - chance if now else chance,
        likely_low=_exp(mean - reach),
        likely_high=_exp(mean + reach),
    )


def _interval_of_deviation(n: int, s: float, room: float, k: float) -> tuple[float, float]:
    """
    Deviations d of the next log result for which the test is met; (0, 0) when none is.

    (room - d/(n+1))² >= k²(SS + d²n/(n+1))/n with room - d/(n+1) >= 0 and k > 0.
    """
    m = n + 1
    squares = (n - 1) * s * s
    a = 1.0 / m**2 - k * k / m
    b = -2.0 * room / m
    c = room * room - k * k * squares / n
    if k <= 0.0:
        raise ValueError(f"`coverage` and `confidence` must make a factor above 0; it is {k:g}")
    disc = b * b - 4.0 * a * c
    if disc <= 0.0:
        return (0.0, 0.0)
    root = math.sqrt(disc)
    if a == 0.0:
        return -math.inf, -c / b
    if a > 0.0:  # a factor so small that every low enough result meets the test
        return -math.inf, (-b - root) / (2.0 * a)
    first, second = sorted(((-b + root) / (2.0 * a), (-b - root) / (2.0 * a)))
    # The mirror branch (room - d/(n+1) < 0) is not the test.
    if room - (first + second) / 2.0 / m < 0.0:
        return (0.0, 0.0)
    return first, min(second, room * m)


def _exp(exponent: float) -> float:
    return math.exp(exponent) if exponent < 709.0 else math.inf
