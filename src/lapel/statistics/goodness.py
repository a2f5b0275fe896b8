"""Is the group lognormal? Shapiro-Wilk and the probability plot's correlation, on the logs."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from lapel.statistics.censored import NoEstimate
from lapel.statistics.lognormal import logs_of

__all__ = ["ShapeTest", "probability_plot", "probability_plot_correlation", "shapiro_wilk"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class ShapeTest:
    """
    Outcome of a test of the lognormal shape.

    Parameters
    ----------
    statistic : float
        1 for a perfect fit, less for a worse one. [-]
    p_value : float
        Chance of a statistic as low or lower if the group is lognormal. [-]
    n : int
        Number of results. [-]
    name, source : str
        Of the test.
    """

    statistic: float
    p_value: float
    n: int
    name: str
    source: str

    def in_words(self, *, level: float = 0.05) -> str:
        """
        What the outcome does and does not say.

        Parameters
        ----------
        level : float
            p-value under which the shape is called doubtful. [-]
        """
        number = f"{self.name}: {self.statistic:.3f}, p = {self.p_value:.2g}, {self.n} results"
        if self.p_value < level:
            return (
                f"{number}. The logs do not look normal: look at the plot for an outlier or two populations "
                "before using any number that assumes a lognormal group"
            )
        if self.n < 12:
            return f"{number}. Nothing speaks against a lognormal group, but so few results seldom show a wrong shape"
        return f"{number}. Nothing speaks against a lognormal group"


def shapiro_wilk(values: ArrayLike) -> ShapeTest | NoEstimate:
    """
    Shapiro-Wilk test of normality of the logs.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured, 3 to 5000. [any one unit]

    Returns
    -------
    ShapeTest or NoEstimate
        No estimate with fewer than 3 results or when all are the same.

    Raises
    ------
    ValueError
        There are no results, or one is not finite and above 0.

    Notes
    -----
    W and its p-value after Royston's approximation [2]_ of the test [1]_. Not for non-detects: leaving
    them out, or filling them in, makes the p-value meaningless.

    References
    ----------
    .. [1] S. S. Shapiro, M. B. Wilk, Biometrika 52 (1965) 591-611.
    .. [2] P. Royston, Appl. Statist. 44 (1995) 547-551 (algorithm AS R94).
    """
    y = logs_of(values)
    refusal = _too_little(y, 3)
    if refusal is not None:
        return refusal
    if y.size > 5000:
        return NoEstimate("the p-value of Shapiro-Wilk is known for up to 5000 results only")
    from scipy.stats import shapiro  # slow to import, so only when asked for

    statistic, p_value = shapiro(y)
    return ShapeTest(
        float(statistic),
        float(p_value),
        int(y.size),
        "Shapiro-Wilk W of the logs",
        "Shapiro and Wilk 1965; Royston 1995",
    )


def probability_plot(values: ArrayLike) -> tuple[Floats, Floats]:
    """
    Points of a log-probability plot.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured. [any one unit]

    Returns
    -------
    tuple of ndarray, shape (n,)
        Normal scores, rising, after Blom: the normal quantile of (i - 3/8)/(n + 1/4) [-]; and the
        results, rising. [unit of `values`]

    Raises
    ------
    ValueError
        There are no results, or one is not finite and above 0.

    References
    ----------
    .. [1] G. Blom, Statistical Estimates and Transformed Beta-Variables (1958).
    """
    y = np.sort(logs_of(values))
    n = y.size
    scores = ndtri((np.arange(1, n + 1) - 0.375) / (n + 0.25))
    return np.asarray(scores), np.exp(y)


def probability_plot_correlation(values: ArrayLike) -> ShapeTest | NoEstimate:
    """
    Correlation of the logs with their normal scores, with a p-value.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured, 5 to 5000. [any one unit]

    Returns
    -------
    ShapeTest or NoEstimate
        `statistic` is the correlation r itself. No estimate with fewer than 5 results or when all are
        the same.

    Raises
    ------
    ValueError
        There are no results, or one is not finite and above 0.

    Notes
    -----
    r² with Blom's scores is the Shapiro-Francia W'; ln(1 - W') is nearly normal with, for u = ln n and
    v = ln u, mean -1.2725 + 1.0521(v - u) and standard deviation 1.0308 - 0.26758(v + 2/u), for n from 5
    to 5000 [1]_. The correlation as a test of the plot's straightness is Filliben's [2]_.

    References
    ----------
    .. [1] P. Royston, Statist. Comput. 3 (1993) 85-87 (a toolkit for testing non-normality).
    .. [2] J. J. Filliben, Technometrics 17 (1975) 111-117; NIST/SEMATECH e-Handbook, 1.3.3.23.
    """
    y = logs_of(values)
    refusal = _too_little(y, 5)
    if refusal is not None:
        return refusal
    n = int(y.size)
    if n > 5000:
        return NoEstimate("the p-value of the probability-plot correlation is known for up to 5000 results only")
    scores, _ = probability_plot(values)
    y = np.sort(y) - y.mean()
    r = float(np.sum(scores * y) / math.sqrt(float(np.sum(scores**2) * np.sum(y**2))))
    r = min(r, 1.0)
    u = math.log(n)
    v = math.log(u)
    centre, spread = -1.2725 + 1.0521 * (v - u), 1.0308 - 0.26758 * (v + 2.0 / u)
    z = (math.log(max(1.0 - r * r, 1e-300)) - centre) / spread
    return ShapeTest(
        r,
        float(ndtr(-z)),
        n,
        "Correlation of the log-probability plot",
        "Filliben 1975; p-value Royston 1993",
    )


def _too_little(y: Floats, least: int) -> NoEstimate | None:
    if y.size < least:
        return NoEstimate(f"{y.size} measured: a test of the shape wants at least {least}")
    if float(np.ptp(y)) <= 1e-12 * max(1.0, float(np.abs(y).max())):
        return NoEstimate("all results are the same: they have no shape to test")
    return None
