"""Kaplan-Meier for results below reporting limits: no shape assumed, nothing filled in."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lapel.statistics.arguments import share
from lapel.statistics.censored import NoEstimate
from lapel.statistics.observed import Observations, observed
from lapel.statistics.order_statistics import refuse_other_rows

__all__ = ["KaplanMeier", "kaplan_meier"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class KaplanMeier:
    """
    Estimated distribution of a group with non-detects.

    Parameters
    ----------
    values : ndarray, shape (k,)
        Distinct measured results, rising. [unit of the results]
    share_below : ndarray, shape (k,)
        Estimated share of shifts strictly below each. [-]
    share_at : ndarray, shape (k,)
        Estimated share of shifts at each. [-]
    lowest_limit : float
        Where the share below every measured result is placed by the Efron convention: the
        smallest reporting limit, when it is not above the smallest measured result; NaN when nothing is left.
    """

    values: Floats
    share_below: Floats
    share_at: Floats
    lowest_limit: float

    @property
    def share_unseen(self) -> float:
        """Share of shifts below every measured result. [-]"""
        return float(self.share_below[0])

    def mean(self) -> float:
        """
        Mean, with the unseen share placed at its reporting limit (Efron): biased upwards.

        Returns
        -------
        float
            In the unit of the results.
        """
        return self.moment(1)

    def mean_at_least(self) -> float:
        """
        Mean, with the unseen share placed at zero: the truth lies between this and `mean`.

        Returns
        -------
        float
            In the unit of the results.
        """
        return float(np.sum(self.values * self.share_at))

    def moment(self, power: int, *, of_logs: bool = False) -> float:
        """Mean of a power of the results, or of their logs, with the unseen share at its reporting limit."""
        transform = np.log if of_logs else np.asarray
        total = float(np.sum(transform(self.values) ** power * self.share_at))
        if self.share_unseen > 0.0:
            total += self.share_unseen * float(transform(np.asarray(self.lowest_limit))) ** power
        return total

    def sd(self) -> float:
        """Standard deviation of the estimated distribution, the unseen share at its reporting limit."""
        return float(np.sqrt(max(self.moment(2) - self.moment(1) ** 2, 0.0)))

    def log_mean(self) -> float:
        """Mean of the logs, the unseen share at its reporting limit. [-]"""
        return self.moment(1, of_logs=True)

    def log_sd(self) -> float:
        """Standard deviation of the logs, the unseen share at its reporting limit. [-]"""
        return float(np.sqrt(max(self.moment(2, of_logs=True) - self.log_mean() ** 2, 0.0)))

    def percentile(self, share_below: float) -> float | NoEstimate:
        """
        Smallest measured result that at least this share of shifts does not pass.

        Returns
        -------
        float or NoEstimate
            No estimate where the percentile lies among the non-detects.

        Raises
        ------
        ValueError
            `share_below` is not between 0 and 1.
        """
        p = share("share_below", share_below)
        if p <= self.share_unseen:
            return NoEstimate(
                f"about {100 * self.share_unseen:.0f} % of the group lies below every measured result: "
                f"the percentile is below {self.values[0]:g}"
            )
        reached = self.share_below + self.share_at >= p - 1e-12
        return float(self.values[int(np.argmax(reached))])


def kaplan_meier(results: Observations | ArrayLike) -> KaplanMeier | NoEstimate:
    """
    Distribution of a group with non-detects, without assuming its shape.

    Parameters
    ----------
    results : Observations or array_like
        Measured results and non-detects. [any one unit]

    Returns
    -------
    KaplanMeier or NoEstimate
        No estimate when nothing is measured.

    Raises
    ------
    ValueError
        A row is known only within bounds or from below.

    Notes
    -----
    Kaplan-Meier turned upside down for left-censored results [1]_: from the largest result down, the
    share below x is the product over measured values above x of (1 - d/b), with d the results equal to the
    value and b the rows at or below it (a non-detect whose limit equals the value counts as below).
    If the lowest row is a non-detect a share stays below every measured result. It is placed at the
    smallest reporting limit (Efron's convention, biased upwards); `mean_at_least` places it at zero. With
    one reporting limit below all detects this mean is nothing but substitution of the limit: use it with
    several limits only, and below 50 % non-detects. A high percentile of few results is simply the largest.

    References
    ----------
    .. [1] US EPA 530/R-09-007 (2009), 15.3; D. R. Helsel, Statistics for Censored Environmental Data
       (2012), 5.3 and 6.3; B. Efron, Proc. 5th Berkeley Symp. 4 (1967) 831-853.
    """
    rows = observed(results)
    refuse_other_rows(rows)
    detect = rows.is_measured
    if not detect.any():
        return NoEstimate("nothing is measured" if rows.n else "there are no results")
    values, counts = np.unique(rows.lower[detect], return_counts=True)
    at_or_below = np.array([np.sum(rows.upper <= v) for v in values], dtype=np.float64)
    factor = 1.0 - counts / at_or_below
    # share below values[i] = product of the factors from i upwards
    share_below = np.asarray(np.cumprod(factor[::-1])[::-1], dtype=np.float64)
    share_up_to = np.append(share_below[1:], 1.0)
    lowest = np.nan
    if share_below[0] > 0.0:
        lowest = min(float(rows.upper[~detect].min()), float(values[0]))
    return KaplanMeier(np.asarray(values, dtype=np.float64), share_below, share_up_to - share_below, lowest)
