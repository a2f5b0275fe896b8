"""
Land's exact confidence limits of a lognormal mean, computed instead of looked up.

The mean is exp(theta), theta = mu + sigma²/2. If theta is the true one, the deviations y - theta of the logs
have, given their sum of squares W, a direction whose cosine u with (1, ..., 1) has the density

    f(u) proportional to (1 - u²)^((n-3)/2) · exp(-sqrt(n·W)·u / 2),    -1 < u < 1,

which holds no unknown any more. The upper limit of theta is the value for which the observed cosine
cuts off the lower tail 1 - confidence. The test behind it is uniformly most powerful unbiased.

References
----------
C. E. Land, Ann. Math. Statist. 42 (1971) 1187-1205; Technometrics 14 (1972) 145-158.
"""

import itertools
import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import roots_legendre

from lapel.statistics.roots import bracketed_root

__all__ = ["land_factor", "land_limit"]

Floats = NDArray[np.float64]

_NODES, _WEIGHTS = roots_legendre(40)
_PANELS = 6
_NEGLIGIBLE = 45.0  # e^-45 is 3e-20 of the peak


def land_limit(n: int, mean: float, s: float, probability: float) -> float:
    """
    Confidence limit of theta = mu + sigma²/2, not passed with a probability.

    Parameters
    ----------
    n : int
        Number of results, at least 2. [-]
    mean, s : float
        Mean and standard deviation (n - 1) of the logs, `s` above 0. [-]
    probability : float
        0.95 for the one-sided upper limit at 95 %, 0.05 for the lower one. [-]

    Returns
    -------
    float
        Natural logarithm of the limit of the arithmetic mean. [-]
    """
    # Work with the logs moved to mean 0; theta is then sought around s²/2.
    centre = s * s / 2.0
    reach = s / math.sqrt(n) + s * s
    low, high = centre - reach, centre + reach
    # The tail falls as theta rises: from 1 far below to 0 far above.
    goal = 1.0 - probability
    while _lower_tail(low, n, s) < goal:
        low -= reach
        reach *= 2.0
    reach = s / math.sqrt(n) + s * s
    while _lower_tail(high, n, s) > goal:
        high += reach
        reach *= 2.0

    def gap(theta: float) -> float:  # in log-odds, nearly straight
        below, over = _tails(theta, n, s)
        return math.log(max(below, 1e-300) / max(over, 1e-300)) - math.log(goal / (1.0 - goal))

    return mean + bracketed_root(gap, low, high)


def land_factor(n: int, s: float, probability: float) -> float:
    """
    Land's H (printed as C or H in tables): limit = mean + s²/2 + s·H/sqrt(n - 1), in logs.

    Parameters
    ----------
    n : int
        Number of results, at least 2. [-]
    s : float
        Standard deviation of the logs, above 0. [-]
    probability : float
        0.95 for H of the one-sided 95 % upper limit, 0.05 for the lower. [-]

    Returns
    -------
    float
        H. [-]
    """
    return (land_limit(n, 0.0, s, probability) - s * s / 2.0) * math.sqrt(n - 1) / s


def _lower_tail(theta: float, n: int, s: float) -> float:
    return _tails(theta, n, s)[0]


def _tails(theta: float, n: int, s: float) -> tuple[float, float]:
    """
    P(cosine <= observed) and P(cosine > observed), if theta is true and the mean of logs is 0.

    With u = sin a the density in the angle a is cos(a)^(n-2)·exp(-c·sin a): smooth for every n of at least 2.
    """
    squares = (n - 1) * s * s
    total = squares + n * theta * theta
    c = math.sqrt(n * total) / 2.0
    observed = math.atan2(-math.sqrt(n) * theta, math.sqrt(squares))
    peak = _peak(n, c)
    top = float(_log_density(np.asarray(peak), n, c))
    # Only the part of the range that weighs anything, cut where the observed angle lies.
    left = _edge(peak, -math.pi / 2.0, n, c, top)
    right = _edge(peak, math.pi / 2.0, n, c, top)
    cut = min(max(observed, left), right)
    below = _mass(left, cut, peak, n, c, top) if observed > left else _mass_outside(observed, -1, n, c, top)
    over = _mass(cut, right, peak, n, c, top) if observed < right else _mass_outside(observed, 1, n, c, top)
    whole = below + over
    return below / whole, over / whole


def _log_density(a: Floats, n: int, c: float) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        log_cos = np.log(np.maximum(np.cos(a), 0.0)) if n > 2 else np.zeros_like(a)
        return np.asarray((n - 2) * log_cos - c * np.sin(a))


def _peak(n: int, c: float) -> float:
    """Angle of the density's only peak: (n-2)·sin a = -c·cos² a, a quadratic in sin a."""
    if n == 2:
        return -math.pi / 2.0
    m = n - 2
    sine = -2.0 * c / (m + math.sqrt(m * m + 4.0 * c * c))
    return math.asin(max(-1.0, sine))


def _edge(peak: float, end: float, n: int, c: float, top: float) -> float:
    """Where, from the peak towards an end of the range, the density has become negligible."""
    if float(_log_density(np.asarray(end), n, c)) > top - _NEGLIGIBLE:
        return end
    inside, outside = peak, end
    for _ in range(50):
        middle = (inside + outside) / 2.0
        if float(_log_density(np.asarray(middle), n, c)) > top - _NEGLIGIBLE:
            inside = middle
        else:
            outside = middle
        if abs(outside - inside) < 1e-3 * abs(outside - peak):
            break
    return outside


def _mass(low: float, high: float, peak: float, n: int, c: float, top: float) -> float:
    """Integral of the density, scaled by its peak, in panels that meet at the peak."""
    marks = [low, high] if not low < peak < high else [low, peak, high]
    total = 0.0
    for left, right in itertools.pairwise(marks):
        if right <= left:
            continue
        edges = np.linspace(left, right, _PANELS + 1)
        half = (edges[1:] - edges[:-1]) / 2.0
        a = ((edges[1:] + edges[:-1]) / 2.0)[:, None] + half[:, None] * _NODES
        total += float(np.sum(half[:, None] * _WEIGHTS * np.exp(_log_density(a, n, c) - top)))
    return total


def _mass_outside(observed: float, side: int, n: int, c: float, top: float) -> float:
    """The negligible mass beyond the observed angle, to first order: enough to steer the search."""
    log_here = float(_log_density(np.asarray(observed), n, c)) - top
    return math.exp(max(log_here, -690.0)) * abs(side * math.pi / 2.0 - observed)
