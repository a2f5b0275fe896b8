"""Maximum likelihood for a lognormal group with non-detects and bounds, with profile-likelihood intervals."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

from lapel.statistics.arguments import share
from lapel.statistics.likelihood import Likelihood
from lapel.statistics.observed import Observations, observed
from lapel.statistics.roots import bracketed_root
from lapel.statistics.sentences import said
from lapel.statistics.tolerance import tolerance_factor

__all__ = ["Fit", "NoEstimate", "ProfiledQuantity", "fit"]

Floats = NDArray[np.float64]

_FARTHEST = 690.0  # in logs; beyond, the number no longer fits in a double


@dataclass(frozen=True)
class NoEstimate:
    """
    An honest nothing: no estimate exists, and why. False when asked as a truth value.

    Parameters
    ----------
    reason : str
        Why, in words for a report.
    """

    reason: str

    def __bool__(self) -> bool:
        return False

    def __str__(self) -> str:
        return f"no estimate: {self.reason}"


@dataclass(frozen=True)
class Curve:
    """
    A quantity q of (mu, sigma) as lines in (a, h): all (a, h) with one q are a = q·h - offset(h).

    The offset and its first two derivatives by h; for the log spread, which fixes h itself, None.
    """

    name: str
    offset: Callable[[Floats], Floats] | None
    offset_slope: Callable[[float], float]
    offset_bend: Callable[[float], float]


@dataclass(frozen=True)
class ProfiledQuantity:
    """
    One quantity of the fitted group with its likelihood intervals.

    Parameters
    ----------
    name : str
        gm, gsd, mean or p95.
    estimate : float
        Maximum likelihood estimate. [the unit of the results; GSD -]
    confidence : float
        Of the two-sided interval (`lower`, `upper`). [-]
    """

    name: str
    estimate: float
    confidence: float
    _at: Callable[[float], float]
    _centre: float
    _step: float

    @cached_property
    def lower(self) -> float:
        """Lower end of the two-sided interval; 0 (GSD: 1) where there is none."""
        return self.lower_limit((1.0 + self.confidence) / 2.0)

    @cached_property
    def upper(self) -> float:
        """Upper end of the two-sided interval; infinity where there is none."""
        return self.upper_limit((1.0 + self.confidence) / 2.0)

    def upper_limit(self, confidence: float) -> float:
        """
        One-sided upper limit: where the signed root of twice the loss of log-likelihood is z(confidence).

        Raises
        ------
        ValueError
            `confidence` is not between 0.5 and 1.
        """
        return self._end(+1.0, confidence)

    def lower_limit(self, confidence: float) -> float:
        """
        One-sided lower limit; see `upper_limit`.

        Raises
        ------
        ValueError
            `confidence` is not between 0.5 and 1.
        """
        return self._end(-1.0, confidence)

    def _end(self, side: float, confidence: float) -> float:
        level = share("confidence", confidence)
        if level < 0.5:
            raise ValueError(f"`confidence` must be at least 0.5; it is {level:g}")
        return self.limit_at(side * float(ndtri(level)))

    def limit_at(self, signed_root: float) -> float:
        """
        The value where the signed root of twice the loss of log-likelihood is a given number.

        Parameters
        ----------
        signed_root : float
            Above 0 on the upper side; 1.645 for a 95 % upper limit in large samples. [-]
        """
        side, z, here = math.copysign(1.0, signed_root), abs(signed_root), self._centre

        def gap(distance: float) -> float:
            loss = self._at(here + side * distance)
            return math.sqrt(2.0 * max(loss, 0.0)) - z

        if z == 0.0:
            return self.estimate
        reach = self._step
        while gap(reach) < 0.0:
            reach *= 2.0
            if reach > _FARTHEST:
                return self._exp(here + side * math.inf)
        return self._exp(here + side * bracketed_root(gap, 0.0, reach, relative=1e-13))

    def _exp(self, q: float) -> float:
        """From the inner scale to the number: exp for gm, mean and p95; for GSD q is ln(ln GSD)."""
        if self.name == "gsd":
            sigma = math.exp(q) if q < _FARTHEST else math.inf
            return math.exp(sigma) if sigma < _FARTHEST else math.inf
        if q < -_FARTHEST:
            return 0.0
        return math.exp(q) if q < _FARTHEST else math.inf


@dataclass(frozen=True, eq=False)
class Fit:
    """
    A lognormal group fitted by maximum likelihood.

    Parameters
    ----------
    observed : Observations
        The results.
    mu, sigma : float
        Mean and standard deviation of the logs (maximum likelihood: divided by n, not n - 1). [-]
    confidence : float
        Of the two-sided intervals. [-]
    """

    observed: Observations
    mu: float
    sigma: float
    confidence: float
    _likelihood: Likelihood

    @cached_property
    def log_likelihood(self) -> float:
        """Greatest log-likelihood, without its constants. [-]"""
        h = self._likelihood.unit / self.sigma
        a = (self.mu - self._likelihood.centre) / self.sigma
        return float(self._likelihood.value(np.asarray(a), np.asarray(h)))

    @cached_property
    def gm(self) -> ProfiledQuantity:
        """Geometric mean. [unit of the results]"""
        curve = Curve("gm", lambda h: np.zeros_like(h), lambda h: 0.0, lambda h: 0.0)
        return self._quantity(curve, self.mu)

    @cached_property
    def p95(self) -> ProfiledQuantity:
        """95th percentile. [unit of the results]"""
        return self.percentile(0.95, name="p95")

    def percentile(self, share_below: float, *, name: str = "percentile") -> ProfiledQuantity:
        """
        Any percentile.

        Raises
        ------
        ValueError
            `share_below` is not between 0 and 1.
        """
        z = float(ndtri(share("share_below", share_below)))
        curve = Curve(name, lambda h: np.full_like(h, z), lambda h: 0.0, lambda h: 0.0)
        return self._quantity(curve, self.mu + z * self.sigma)

    def percentile_upper_limit(self, *, coverage: float = 0.95, confidence: float = 0.70) -> float:
        """
        One-sided upper limit of a percentile, honest for few results.

        Parameters
        ----------
        coverage : float
            The percentile. [-]
        confidence : float
            One-sided. [-]

        Returns
        -------
        float
            In the unit of the results; infinity where there is none.

        Raises
        ------
        ValueError
            A share is not between 0 and 1.

        Notes
        -----
        The likelihood limit of `percentile` is too low for few results: its chi-square is a large-sample
        one. With measured results only, the loss of log-likelihood at the exact tolerance limit depends on n,
        coverage and confidence alone; that loss takes the place of the chi-square quantile. So the limit is
        exact when every row is measured, and with non-detects it keeps its confidence far better (the
        coverage study in the documentation shows by how much; it is not exact then).
        """
        coverage, confidence = share("coverage", coverage), share("confidence", confidence)
        n = self.observed.n
        k = float(tolerance_factor(n, coverage=coverage, confidence=confidence))
        z = float(ndtri(coverage))
        sigma = math.sqrt((n - 1) / n)
        complete = Likelihood.complete(n)
        flat = Curve("", lambda h: np.full_like(h, z), lambda h: 0.0, lambda h: 0.0)
        top = float(complete.value(np.asarray(0.0), np.asarray(1.0 / sigma)))
        loss = top - _best_on_curve(complete, flat, k, 1.0 / sigma)
        root = math.copysign(math.sqrt(2.0 * max(loss, 0.0)), k - z * sigma)
        return self.percentile(coverage).limit_at(root)

    @cached_property
    def mean(self) -> ProfiledQuantity:
        """Arithmetic mean, GM·exp(sigma²/2). [unit of the results]"""
        half = self._likelihood.unit / 2.0
        curve = Curve("mean", lambda h: half / h, lambda h: -half / h**2, lambda h: 2.0 * half / h**3)
        return self._quantity(curve, self.mu + self.sigma**2 / 2.0)

    @cached_property
    def gsd(self) -> ProfiledQuantity:
        """Geometric standard deviation. [-]"""
        curve = Curve("gsd", None, lambda h: 0.0, lambda h: 0.0)
        return self._quantity(curve, math.log(self.sigma))

    def _quantity(self, curve: Curve, q: float) -> ProfiledQuantity:
        def loss(at: float) -> float:
            return self.log_likelihood - self._profile(curve, at)

        step = 0.5 if curve.offset is None else self.sigma
        unknown = ProfiledQuantity(curve.name, math.nan, self.confidence, loss, q, step)
        return replace(unknown, estimate=unknown._exp(q))

    def _profile(self, curve: Curve, q: float) -> float:
        """Greatest log-likelihood among all (mu, sigma) with this value of the quantity."""
        inner = self._likelihood
        if curve.offset is None:
            return _best_at_spread(inner, inner.unit * math.exp(-q), (self.mu - inner.centre) / inner.unit)
        return _best_on_curve(inner, curve, (q - inner.centre) / inner.unit, inner.unit / self.sigma)


def _best_at_spread(likelihood: Likelihood, h: float, mu: float) -> float:
    """Concave in a: Newton inside a bracket of the slope's sign."""

    def slope(a: float) -> float:
        return float(likelihood.slope_and_curvature(a, h)[0][0])

    low = high = mu * h
    reach = 1.0 + h
    while slope(low) < 0.0:
        low, reach = low - reach, reach * 2.0
    reach = 1.0 + h
    while slope(high) > 0.0:
        high, reach = high + reach, reach * 2.0
    a = low if low == high else bracketed_root(slope, low, high, relative=1e-12)
    return float(likelihood.value(np.asarray(a), np.asarray(h)))


def _best_on_curve(likelihood: Likelihood, curve: Curve, q: float, h_hat: float) -> float:
    """Scan ln h, then settle on the best place: the curve of the mean may have more than one rise."""
    assert curve.offset is not None
    reach = 4.0 + math.log1p(abs(q) * h_hat)
    for widening in range(4):
        x = np.linspace(math.log(h_hat) - reach * (1 + widening), math.log(h_hat) + reach * (1 + widening), 81)
        h = np.exp(x)
        values = likelihood.value(q * h - curve.offset(h), h)
        best = int(np.argmax(values))
        if 0 < best < x.size - 1:
            break
    low, high = float(x[max(best - 1, 0)]), float(x[min(best + 1, x.size - 1)])
    here = float(x[best])
    for _ in range(60):
        h_here = math.exp(here)
        a = q * h_here - float(curve.offset(np.asarray(h_here)))
        a_slope = q - curve.offset_slope(h_here)
        a_bend = -curve.offset_bend(h_here)
        slope, curvature = likelihood.slope_and_curvature(a, h_here)
        direction = np.array([a_slope, 1.0])
        first = float(slope @ direction)
        second = float(direction @ curvature @ direction + slope[0] * a_bend)
        if first > 0.0:
            low = here
        else:
            high = here
        by_log, bend_by_log = first * h_here, second * h_here**2 + first * h_here
        step = -by_log / bend_by_log if bend_by_log < 0.0 else math.inf
        there = here + step
        if not low < there < high:
            there = (low + high) / 2.0
        if abs(there - here) < 1e-10:
            break
        here = there
    h_best = np.exp(np.asarray(here))
    return max(float(likelihood.value(q * h_best - curve.offset(h_best), h_best)), float(values[best]))


def fit(results: Observations | ArrayLike, *, confidence: float = 0.95) -> Fit | NoEstimate:
    """
    Fit a lognormal group by maximum likelihood, whatever mix of measured and censored rows.

    Parameters
    ----------
    results : Observations or array_like
        Results of one group; plain numbers count as measured. [any one unit]
    confidence : float
        Of the two-sided intervals of `.gm`, `.gsd`, `.mean`, `.p95`. [-]

    Returns
    -------
    Fit or NoEstimate
        With `.gm`, `.gsd`, `.mean`, `.p95`, each with `.estimate`, `.lower`, `.upper` and one-sided
        `.upper_limit(confidence)`; or, where the likelihood has no maximum, why not.

    Raises
    ------
    ValueError
        A row has no meaning, or the confidence is not between 0 and 1.

    Notes
    -----
    Intervals are where the profile log-likelihood has fallen by half a chi-square quantile [1]_. They
    are right for many results and somewhat narrow for few: with 6 measured results a 95 % interval covers
    about 90 %. With measured results only, prefer the exact limits of `lapel.statistics.tolerance`
    and `lapel.statistics.mean`; with few, the posterior. The estimate of sigma divides by n.

    References
    ----------
    .. [1] W. Q. Meeker, L. A. Escobar, Statistical Methods for Reliability Data (1998), 8.3; for
       non-detects D. R. Helsel, Statistics for Censored Environmental Data (2012), chapter 6.
    """
    confidence = share("confidence", confidence)
    rows = observed(results)
    if rows.n == 0:
        return NoEstimate(said("there are no results"))
    likelihood = Likelihood.of(rows)
    why = likelihood.why_no_summit()
    if why:
        return NoEstimate(why)
    a, h = likelihood.summit()
    unit = likelihood.unit
    return Fit(rows, likelihood.centre + unit * a / h, unit / h, confidence, likelihood)
