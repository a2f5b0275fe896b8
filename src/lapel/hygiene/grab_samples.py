"""Decisions about a shift from short grab samples taken at random times within it."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev
from typing import Any

from lapel.figures import Figure, number
from lapel.hygiene.decision import CONFIDENCE
from lapel.hygiene.limits import Verdict, one_sided_factor, verdict_from
from lapel.hygiene.mixtures import check_pair
from lapel.said import said

MANY = 30
"""Grab samples from which on the plain average is near enough to normal (NIOSH 77-173, 4.2.4)."""

_BEYOND = 200.0
"""Logarithm beyond which a limit of the mean is called infinite."""


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
    Land's exact limits of a lognormal mean [1]_. With x = ln(X/L), k the logarithm of a mean put to the test,
    A = Σ(x-k)² and R = Σ(x-k)/√(n·A), the density of R given A is (1-r²)^((n-3)/2)·exp(-r·√(n·A)/2) up to a constant,
    whatever sigma: the limits are the k whose tail holds 5 %. The manual decides with charts for the same model [2]_.
    Few grab samples seldom decide; samples that were not taken at random times support none of this. The time between
    samples is covered by the model only, not by measurement.

    References
    ----------
    .. [1] Land CE (1971), Ann. Math. Stat. 42:1187-1205; (1975), Selected Tables in Mathematical Statistics 3:385-419.
    .. [2] NIOSH 77-173 (1977), 4.2.4; known, not re-read.
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
    lcl, ucl = (math.exp(_land_limit(logs, upper=upper)) for upper in (False, True))
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
        caution=said("It rests on {n} grab samples having been taken at random times.", n=n),
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


def _land_limit(logs: Sequence[float], *, upper: bool) -> float:
    """Logarithm of a mean that the samples just do not exclude, from below or above; infinite if they exclude none."""
    from scipy.optimize import brentq  # heavy, and only few decisions rest on grab samples

    def tail(k: float) -> float:
        return _tail(logs, k, upper=upper) - (1.0 - CONFIDENCE)

    step = stdev(logs) if upper else -stdev(logs)
    near = fmean(logs)
    while tail(near) < 0.0:  # the mean of the logarithms may itself be excluded as the logarithm of the mean
        near -= step
    far = near + step
    while tail(far) > 0.0:
        step *= 2.0
        far += step
        if abs(far) > _BEYOND:
            return math.copysign(math.inf, step)
    return float(brentq(tail, near, far, xtol=1e-10))


def _tail(logs: Sequence[float], k: float, *, upper: bool) -> float:
    """Chance of an R as far out as the one observed, were k the logarithm of the mean; R = -cos(angle)."""
    import numpy as np

    n = len(logs)
    total = sum(x - k for x in logs)
    a = sum((x - k) ** 2 for x in logs)
    pull = math.sqrt(n * a) / 2.0
    seen = math.acos(max(-1.0, min(1.0, -total / math.sqrt(n * a))))
    nodes, weights = _quadrature()

    def mass(low: float, high: float) -> float:
        angle = low + (high - low) * nodes
        density = np.sin(angle) ** (n - 2) * np.exp(pull * (np.cos(angle) - 1.0))
        return float((high - low) * np.sum(weights * density))

    below, above = mass(0.0, seen), mass(seen, math.pi)
    return (below if upper else above) / (below + above)


@functools.cache
def _quadrature() -> tuple[Any, Any]:
    """Gauss-Legendre nodes and weights on 0 to 1."""
    import numpy as np

    nodes, weights = np.polynomial.legendre.leggauss(240)
    return 0.5 * (nodes + 1.0), 0.5 * weights
