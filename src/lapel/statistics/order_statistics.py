"""Robust regression on order statistics: the detects set a line, the line fills in the non-detects."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from lapel.statistics.censored import NoEstimate
from lapel.statistics.observed import Observations, observed

__all__ = ["OrderStatisticsFit", "plotting_positions", "regression_on_order_statistics"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class OrderStatisticsFit:
    """
    Summary by robust regression on order statistics.

    Parameters
    ----------
    filled : ndarray, shape (n,)
        Results with every non-detect filled in from the line, rows in place. The filled numbers serve the
        summary of the group only: no row is known to be its own. [unit of the results]
    intercept, slope : float
        Of the line ln x = intercept + slope·(normal score), through the detects. [-]
    log_mean, log_sd : float
        Mean and standard deviation (n - 1) of the logs of `filled`. [-]
    """

    filled: Floats
    intercept: float
    slope: float
    log_mean: float
    log_sd: float

    @property
    def mean(self) -> float:
        """Average of the filled results. [unit of the results]"""
        return float(self.filled.mean())

    @property
    def sd(self) -> float:
        """Standard deviation of the filled results. [unit of the results]"""
        return float(self.filled.std(ddof=1))

    @property
    def gm(self) -> float:
        """Geometric mean of the filled results. [unit of the results]"""
        return math.exp(self.log_mean)

    @property
    def gsd(self) -> float:
        """Geometric standard deviation of the filled results. [-]"""
        return math.exp(self.log_sd)


def plotting_positions(results: Observations) -> Floats:
    """
    Share of the group below each row, for probability plots with several reporting limits.

    Parameters
    ----------
    results : Observations
        Measured results and non-detects only.

    Returns
    -------
    ndarray, shape (n,)
        Positions between 0 and 1, rows in place; equal rows take neighbouring positions in their order. [-]

    Raises
    ------
    ValueError
        A row is known only within bounds or from below.

    Notes
    -----
    At each reporting limit the share above it is estimated from the rows that bear on it; detects
    between two limits, and the non-detects of one limit, are spread evenly (Weibull) [1]_.
    With one limit, or none, this is the Weibull position r/(n+1).

    References
    ----------
    .. [1] R. M. Hirsch, J. R. Stedinger, Water Resour. Res. 23 (1987) 715-727; D. R. Helsel, T. A. Cohn,
       Water Resour. Res. 24 (1988) 1997-2004; Helsel et al., USGS Techniques and Methods 4-A3 (2020).
    """
    refuse_other_rows(results)
    detect = results.is_measured
    value = results.upper
    limits = np.unique(value[~detect])
    edges = np.concatenate([[0.0], limits, [np.inf]])
    # Rows: detects at or above limit j and below the next; all rows known to be below limit j.
    exceed = np.zeros(edges.size)
    for j in range(edges.size - 2, -1, -1):
        above_here = int(np.sum(detect & (value >= edges[j]) & (value < edges[j + 1])))
        below_here = int(np.sum(value[detect] < edges[j])) + int(np.sum(value[~detect] <= edges[j]))
        if j == 0:
            exceed[0] = 1.0
        elif above_here + below_here > 0:
            exceed[j] = exceed[j + 1] + above_here / (above_here + below_here) * (1.0 - exceed[j + 1])
        else:
            exceed[j] = exceed[j + 1]
    position = np.empty(results.n)
    for j in range(edges.size - 1):
        here = np.flatnonzero(detect & (value >= edges[j]) & (value < edges[j + 1]))
        rank = np.arange(1, here.size + 1)
        ordered = here[np.argsort(value[here], kind="stable")]
        span = exceed[j] - exceed[j + 1]
        position[ordered] = (1.0 - exceed[j]) + span * rank / (here.size + 1)
        if j > 0:
            below = np.flatnonzero(~detect & (value == edges[j]))
            position[below] = (1.0 - exceed[j]) * np.arange(1, below.size + 1) / (below.size + 1)
    return position


def regression_on_order_statistics(results: Observations | ArrayLike) -> OrderStatisticsFit | NoEstimate:
    """
    Robust ROS: mean and spread of a group with non-detects, any number of reporting limits.

    Parameters
    ----------
    results : Observations or array_like
        Measured results and non-detects. [any one unit]

    Returns
    -------
    OrderStatisticsFit or NoEstimate
        No estimate with fewer than 3 measured results, or when these are all the same.

    Raises
    ------
    ValueError
        A row is known only within bounds or from below.

    Notes
    -----
    The logs of the detects are regressed on the normal scores of their plotting positions; each
    non-detect is filled in from the line at its own position, and the summary is taken over detects
    and filled values together [1]_. A compromise that needs the lognormal shape only for the part not
    seen; it comes without confidence limits, and above half non-detects it is not to be trusted.

    References
    ----------
    .. [1] D. R. Helsel, T. A. Cohn, Water Resour. Res. 24 (1988) 1997-2004; US EPA 530/R-09-007
       (2009), 15.4.
    """
    rows = observed(results)
    if rows.n == 0:
        return NoEstimate("there are no results")
    position = plotting_positions(rows)
    detect = rows.is_measured
    if int(detect.sum()) < 3:
        return NoEstimate(f"only {int(detect.sum())} measured: a line through the detects wants at least 3")
    y, score = np.log(rows.lower[detect]), ndtri(position[detect])
    if float(y.min()) == float(y.max()):
        return NoEstimate("all measured results are the same: they set no line")
    slope = float(np.sum((score - score.mean()) * (y - y.mean())) / np.sum((score - score.mean()) ** 2))
    intercept = float(y.mean() - slope * score.mean())
    filled = np.where(detect, rows.lower, np.exp(intercept + slope * ndtri(position)))
    logs = np.log(filled)
    return OrderStatisticsFit(filled, intercept, slope, float(logs.mean()), float(logs.std(ddof=1)))


def refuse_other_rows(rows: Observations) -> None:
    """Raise a ValueError naming the first row that is neither measured nor below a reporting limit."""
    other = np.flatnonzero(rows.is_within | rows.is_at_least)
    if other.size:
        i = int(other[0])
        raise ValueError(
            "`results` must be measured or below a reporting limit; "
            f"item {i + 1} lies between {rows.lower[i]:g} and {rows.upper[i]:g}. "
            "Use the likelihood fit, which takes any row"
        )
