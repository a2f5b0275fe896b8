"""Decisions about a shift from short grab samples taken at random times within it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from lapel.figures import Figure, number
from lapel.hygiene.decision import CONFIDENCE
from lapel.hygiene.limits import Verdict, one_sided_factor, verdict_from
from lapel.hygiene.mixtures import check_pair

MANY = 30
"""Grab samples from which on the plain average is near enough to normal (NIOSH 77-173, 4.2.4)."""


@dataclass(frozen=True, slots=True)
class GrabDecision:
    """
    A decision about the average of a period, from grab samples.

    Attributes
    ----------
    mean_share : float
        Estimated average as a share of the limit. [-]
    lcl, ucl : float
        One-sided 95 % confidence limits of the average, as a share of the limit. [-]
    gm_share, gsd : float
        Geometric mean as a share of the limit and geometric standard deviation; `gsd` is NaN for the plain average. [-]
    n : int
        Number of samples.
    verdict : Verdict
        Under, over or cannot tell.
    reason : str
        Why, in plain words.
    """

    mean_share: float
    lcl: float
    ucl: float
    gm_share: float
    gsd: float
    n: int
    verdict: Verdict
    reason: str


def grab_samples_decision(exposures: Sequence[Figure | float], limit: Figure | float) -> GrabDecision:
    """
    Decide from a few grab samples whose concentrations are lognormal over the period.

    Parameters
    ----------
    exposures : sequence of Figure or float, length n
        Concentrations of samples taken at random times within the period; 3 or more, all above 0. [mg/m3 or ppm]
    limit : Figure or float
        Limit for the average over the period, in the same unit.

    Returns
    -------
    GrabDecision

    Raises
    ------
    ValueError
        Fewer than 3, a concentration that is 0 or only a bound, all equal, or units that differ.

    Notes
    -----
    With y the mean and s the standard deviation of ln(X/L), the logarithm of the lognormal mean is mu + sigma²/2. Its
    exact pivot y - Z·s·sqrt((n-1)/(n·U)) + (n-1)·s²/(2·U), Z normal and U chi-squared with n-1 degrees of freedom, is
    integrated numerically [1]_. The manual decides with charts for the same model [2]_. Few grab samples seldom decide;
    samples that are not taken at random times do not support any of this. The time between samples is covered by the
    model only, not by measurement.

    References
    ----------
    .. [1] Krishnamoorthy K, Mathew T (2003), J. Stat. Plan. Inference 115:103-121.
    .. [2] NIOSH 77-173 (1977), 4.2.4; the model and the preference for full-period samples.
    """
    shares = _shares(exposures, limit)
    n = len(shares)
    if n < 3:
        raise ValueError(f"`exposures` must hold at least 3 grab samples; found {n}")
    if min(shares) <= 0.0:
        raise ValueError("every grab sample must be above 0 for a lognormal model; found 0")
    logs = [math.log(share) for share in shares]
    y, s = fmean(logs), stdev(logs)
    if s == 0.0:
        raise ValueError("the grab samples must not all be equal: their spread cannot be estimated")
    lcl, ucl = (math.exp(_log_mean_quantile(p, y, s, n)) for p in (1.0 - CONFIDENCE, CONFIDENCE))
    mean = math.exp(y + s * s / 2.0)
    return _decision(mean, lcl, ucl, math.exp(y), math.exp(s), n)


def many_grab_samples_decision(exposures: Sequence[Figure | float], limit: Figure | float) -> GrabDecision:
    """
    Decide from 30 or more grab samples by their plain average.

    Parameters
    ----------
    exposures : sequence of Figure or float, length n
        As in `grab_samples_decision`; 30 or more, 0 allowed. [mg/m3 or ppm]
    limit : Figure or float
        In the same unit.

    Returns
    -------
    GrabDecision

    Raises
    ------
    ValueError
        Fewer than 30, a value that is only a bound, or units that differ.

    Notes
    -----
    Mean ± 1.645·s/√n, both as shares of the limit: by the central limit theorem near enough to normal from about 30
    samples on, less so for very skewed concentrations, where the lower side is kept and the upper one is too low.

    References
    ----------
    .. [1] NIOSH 77-173 (1977), 4.2.4.
    """
    shares = _shares(exposures, limit)
    n = len(shares)
    if n < MANY:
        raise ValueError(f"`exposures` must hold at least {MANY} grab samples; found {n}: use `grab_samples_decision`")
    mean = fmean(shares)
    half = one_sided_factor(CONFIDENCE) * stdev(shares) / math.sqrt(n)
    positive = min(shares) > 0.0
    gm = math.exp(fmean(math.log(share) for share in shares)) if positive else 0.0
    return _decision(mean, mean - half, mean + half, gm, math.nan, n)


def _decision(mean: float, lcl: float, ucl: float, gm: float, gsd: float, n: int) -> GrabDecision:
    outcome = verdict_from(
        lcl,
        ucl,
        ratio_low=mean,
        ratio_high=mean,
        caution=f"It rests on {n} grab samples having been taken at random times.",
    )
    return GrabDecision(mean, lcl, ucl, gm, gsd, n, outcome.verdict, outcome.reason)


def _shares(exposures: Sequence[Figure | float], limit: Figure | float) -> list[float]:
    for position, exposure in enumerate(exposures, start=1):
        check_pair(position, exposure, limit)
        if isinstance(exposure, Figure) and exposure.sense != "exactly":
            raise ValueError(
                f"exposure {position} must be a measured value; found one that is “{exposure.sense}” {exposure.value:g}"
            )
    return [number(exposure) / number(limit) for exposure in exposures]


def _log_mean_quantile(probability: float, y: float, s: float, n: int) -> float:
    """Quantile of the pivot of mu + sigma²/2, by quadrature over the chi-squared variable and root finding."""
    import numpy as np  # heavy, and only few decisions rest on grab samples
    from scipy import optimize, stats

    nodes, weights = np.polynomial.legendre.leggauss(400)
    levels = 0.5 * (nodes + 1.0)
    u = stats.chi2.ppf(levels, n - 1)
    centre = y + (n - 1) * s * s / (2.0 * u)
    spread = s * np.sqrt((n - 1) / (n * u))

    def below(x: float) -> float:
        return float(0.5 * np.sum(weights * stats.norm.cdf((x - centre) / spread))) - probability

    low, high = y - s, y + s
    while below(low) > 0.0:
        low -= 2.0 * (high - low)
    while below(high) < 0.0:
        high += 2.0 * (high - low)
    return float(optimize.brentq(below, low, high, xtol=1e-12))
