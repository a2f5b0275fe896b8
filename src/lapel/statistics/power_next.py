"""What one more result is worth: how likely it is to change the decision."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtr, stdtrit

from lapel.statistics.arguments import above, share
from lapel.statistics.censored import NoEstimate, fit
from lapel.statistics.compliance_conditions import why_no_statistical_test
from lapel.statistics.lognormal import spread_of
from lapel.statistics.observed import Observations, observed
from lapel.statistics.posterior import posterior
from lapel.statistics.priors import PUBLISHED_SPREAD, Prior
from lapel.statistics.roots import bracketed_root
from lapel.statistics.sentences import said
from lapel.statistics.tolerance import tolerance_factor

__all__ = ["NextResult", "next_result", "next_result_with_non_detects"]

_LOOKED_AT = 9  # places among which the most favourable next result is sought first
_GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
_NOT_MET = 50.0  # ln, farther above the limit than any real bound; also where the test cannot be made


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
    judged_from : str
        What the chances rest on.
    """

    shown_now: bool
    shown_from: float
    shown_to: float
    chance_shown: float
    chance_of_change: float
    likely_low: float
    likely_high: float
    judged_from: str = "these results alone"

    def in_words(self) -> str:
        """One or two sentences for a plan."""
        chance = f"{100 * self.chance_of_change:.0f} %" if self.chance_of_change >= 0.01 else said("below 1 %")
        return said(
            "{now}; {what}. The chance that one more result changes this is {chance}, judged from {basis}.",
            now=said("At present it is shown") if self.shown_now else said("At present it is not shown"),
            what=self._what_would_change_it(),
            chance=chance,
            basis=said(self.judged_from),
        )

    def _what_would_change_it(self) -> str:
        low, high = _three_digits(self.shown_from), _three_digits(self.shown_to)
        if not self.shown_now:
            if math.isnan(self.shown_to):
                return said("no single result could show it")
            return said("a result between {low} and {high} would show it", low=low, high=high)
        if math.isnan(self.shown_to):
            return said("any further result would undo it")
        if self.shown_from < 1e-3 * self.likely_low:
            return said("a result above {high} would undo it", high=high)
        return said(
            "a result above {high} would undo it (or one below {low}, which would widen the spread)", low=low, high=high
        )


def _three_digits(value: float) -> str:
    return np.format_float_positional(float(f"{value:.3g}"), trim="-")


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


def next_result_with_non_detects(
    results: Observations,
    limit: float,
    *,
    coverage: float = 0.95,
    confidence: float = 0.70,
    prior: Prior = PUBLISHED_SPREAD,
) -> NextResult | NoEstimate:
    """
    The same where some results are not measured.

    Parameters
    ----------
    results : Observations, n rows
        Results of one group. [unit of `limit`]
    limit : float
        Occupational exposure limit.
    coverage, confidence : float
        Of the test. [-]
    prior : Prior
        For the spread, in the prediction of the next result.

    Returns
    -------
    NextResult or NoEstimate
        No estimate, with the reason, when the statistical test cannot be made now.

    Raises
    ------
    ValueError
        The limit is not above 0, or a share is not between 0 and 1.

    Notes
    -----
    The test is that of `statistical_test` for rows that are not all measured: the calibrated likelihood limit of the
    percentile, found for each possible next result. A next result below the lowest reporting limit so far is a
    non-detect at that limit. The next result itself is predicted by the posterior, so that the chances lean on the
    prior where results are few.
    """
    rows = observed(results)
    (limit_array,) = above(0.0, limit=limit)
    ln_limit = math.log(float(limit_array))
    coverage, confidence = share("coverage", coverage), share("confidence", confidence)
    refusal = why_no_statistical_test(rows)
    if refusal:
        return NoEstimate(f"the statistical test cannot be made now: {refusal}")

    def beyond(now: Observations) -> float:
        """How far the percentile's upper limit lies above the exposure limit, in logs; positive where not met."""
        fitted = fit(now)
        if why_no_statistical_test(now) or isinstance(fitted, NoEstimate):
            return _NOT_MET
        bound = fitted.percentile_upper_limit(coverage=coverage, confidence=confidence)
        return min(_NOT_MET, math.log(bound) - ln_limit) if math.isfinite(bound) else _NOT_MET

    def after(ln_next: float) -> float:
        return beyond(rows.followed_by(Observations.measured([math.exp(ln_next)])))

    believed = posterior(rows, limit=float(limit_array), prior=prior)
    likely_low, likely_high, top = (float(x) for x in believed.next_shift_quantiles([0.1, 0.9, 0.9999])[0])
    below = rows.upper[rows.is_non_detect]
    floor = math.log(float(below.min())) if below.size else math.log(likely_low) - 3.0
    unseen_meets = bool(below.size) and beyond(rows.followed_by(Observations.non_detects([math.exp(floor)]))) <= 0.0
    ceiling = max(ln_limit, math.log(top), floor + 1.0)
    low, high = _where_met(after, floor, ceiling)
    if unseen_meets and math.isnan(high):
        low = high = floor

    def chance_below(ln_value: float) -> float:
        return 1.0 - float(believed.next_shift_probability_above(math.exp(ln_value))[0])

    chance = chance_below(high) - chance_below(low) if high > low else 0.0
    if unseen_meets:
        chance += chance_below(floor)
    now = beyond(rows) <= 0.0
    return NextResult(
        shown_now=now,
        shown_from=0.0 if unseen_meets else _exp(low),
        shown_to=_exp(high),
        chance_shown=chance,
        chance_of_change=1.0 - chance if now else chance,
        likely_low=likely_low,
        likely_high=likely_high,
        judged_from="these results and the prior of the spread",
    )


def _where_met(beyond: Callable[[float], float], floor: float, ceiling: float) -> tuple[float, float]:
    """
    Between which ln results a function is at most 0; both NaN when nowhere.

    It falls to one lowest point and rises again: a low result widens the spread, a high one lifts the middle.
    """
    places = np.linspace(floor, ceiling, _LOOKED_AT).tolist()
    heights = [beyond(x) for x in places]
    k = heights.index(min(heights))
    lowest, left, right = places[k], places[max(k - 1, 0)], places[min(k + 1, _LOOKED_AT - 1)]
    if heights[k] > places[1] - places[0]:
        return math.nan, math.nan  # one result moves the limit of the percentile by less than itself
    if heights[k] > 0.0:
        # Perhaps between the places looked at: narrow down by the golden section.
        for _ in range(12):
            first, second = right - _GOLDEN * (right - left), left + _GOLDEN * (right - left)
            at_first, at_second = beyond(first), beyond(second)
            lowest = first if at_first < at_second else second
            if min(at_first, at_second) <= 0.0:
                break
            left, right = (left, second) if at_first < at_second else (first, right)
        else:
            return math.nan, math.nan

    def edge(end: float, at_end: float) -> float:
        if at_end <= 0.0:
            return end
        ends = sorted((end - floor + 1.0, lowest - floor + 1.0))  # from 1 up, so that a relative precision is one
        return bracketed_root(lambda d: beyond(d + floor - 1.0), *ends, relative=1e-6) + floor - 1.0

    return edge(floor, heights[0]), edge(ceiling, heights[-1])


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
    return math.inf if exponent >= 709.0 else math.exp(exponent)
