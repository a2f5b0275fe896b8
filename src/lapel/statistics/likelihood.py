"""
Likelihood of a lognormal group with censored rows.

In the letters h = 1/sigma and a = mu/sigma the log-likelihood is concave [1]_: one summit or none,
and Newton's method with halved steps finds it from anywhere.

References
----------
.. [1] R. J. Olsen, Econometrica 46 (1978) 1211-1215; J. Burridge, J. R. Statist. Soc. B 43 (1981) 41-45.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from lapel.statistics.observed import Observations
from lapel.statistics.sentences import said

__all__ = ["Likelihood"]

Floats = NDArray[np.float64]

_LOG_ROOT_TWO_PI = 0.9189385332046727
_NARROW = 1e-7  # width, in units of the spread, below which a row counts as a number: the error is its square over 24
_SAME = 1e-9  # logs closer than this are one number: no result is known to nine digits


@dataclass(frozen=True)
class Likelihood:
    """
    Log-likelihood of (a, h), with the rows gathered: exact ones as sums, equal censored ones counted.

    Logs are moved and scaled, y' = (y - centre)/unit, so that the numbers inside are of the order of 1; a and h
    belong to the scaled logs: sigma = unit/h and mu = centre + unit·a/h.

    Parameters
    ----------
    exact : int
        Number of rows known as numbers. [-]
    mean, squares : float
        Mean of their scaled logs and sum of squared deviations from it. [-]
    low, high : ndarray, shape (k,)
        Scaled logs of the bounds of distinct censored rows; infinite where open. [-]
    weight : ndarray, shape (k,)
        How many rows each stands for. [-]
    centre, unit : float
        Of the scale. [-]
    exact_low, exact_high : float
        Smallest and largest exact scaled log. [-]
    """

    exact: int
    mean: float
    squares: float
    low: Floats
    high: Floats
    weight: Floats
    centre: float
    unit: float
    exact_low: float
    exact_high: float

    @classmethod
    def of(cls, observed: Observations) -> "Likelihood":
        """Gather the rows of one group (at least one)."""
        with np.errstate(divide="ignore"):
            low, high = np.log(observed.lower), np.log(observed.upper)
        centre, unit = _scale(low, high)
        low, high = (low - centre) / unit, (high - centre) / unit
        exact = high - low < _NARROW
        y = (low[exact] + high[exact]) / 2.0
        same = y.size > 0 and float(np.ptp(y)) * unit <= _SAME * max(1.0, abs(centre))
        mean = float(y[0]) if same else (float(y.mean()) if y.size else 0.0)
        squares = 0.0 if same or not y.size else float(np.sum((y - mean) ** 2))
        pairs = np.stack([low[~exact], high[~exact]], axis=1)
        distinct, counts = np.unique(pairs, axis=0, return_counts=True)
        return cls(
            exact=int(exact.sum()),
            mean=mean,
            squares=squares,
            low=distinct[:, 0],
            high=distinct[:, 1],
            weight=counts.astype(np.float64),
            centre=centre,
            unit=unit,
            exact_low=(mean if same else float(y.min())) if y.size else np.inf,
            exact_high=(mean if same else float(y.max())) if y.size else -np.inf,
        )

    @classmethod
    def complete(cls, n: int) -> "Likelihood":
        """Of n measured results whose logs have mean 0 and standard deviation (n - 1) 1."""
        nothing = np.empty(0)
        return cls(n, 0.0, n - 1.0, nothing, nothing, nothing, 0.0, 1.0, -1.0, 1.0)

    def why_no_summit(self) -> str:
        """
        Empty when a maximum exists; otherwise the reason why none does, in words.

        The log-likelihood is concave in (a, h), so a maximum exists unless it keeps rising along some
        straight line: towards sigma = 0 when one point satisfies every row, and towards an endless
        sigma when only open bounds are known and they do not pull against each other.
        """
        point_low = max(self.exact_low if self.exact else -np.inf, float(np.max(self.low, initial=-np.inf)))
        point_high = min(self.exact_high if self.exact else np.inf, float(np.min(self.high, initial=np.inf)))
        several_values = self.exact and self.exact_high > self.exact_low
        hair = _SAME * max(1.0, abs(self.centre)) / self.unit
        if not several_values and point_low <= point_high + hair:
            if self.exact:
                return said(
                    "{known} and nothing contradicts a spread of zero: the spread cannot be estimated",
                    known=said("one result is measured" if self.exact == 1 else "all measured results are the same"),
                )
            if np.all(np.isneginf(self.low)):
                return said("every result is below its reporting limit: only an upper bound can be stated")
            return said("one and the same value would satisfy every result: the spread cannot be estimated")
        if not self.exact and not np.any(np.isfinite(self.low) & np.isfinite(self.high)):
            below = np.isneginf(self.low)
            mean_high = np.average(self.high[below], weights=self.weight[below])
            mean_low = np.average(self.low[~below], weights=self.weight[~below])
            if mean_high <= mean_low:
                return said(
                    "results are known only from one side and split as by an endless spread: it cannot be estimated"
                )
        return ""

    def value(self, a: Floats, h: Floats) -> Floats:
        """Log-likelihood at arrays of (a, h) of one shape; constants that do not matter are left out."""
        a, h = np.asarray(a, dtype=np.float64), np.asarray(h, dtype=np.float64)
        total = self.exact * np.log(h) - (h * h * self.squares + self.exact * (h * self.mean - a) ** 2) / 2.0
        if self.weight.size:
            zl = h[..., None] * self.low - a[..., None]
            zu = h[..., None] * self.high - a[..., None]
            total = total + (self.weight * log_probability(zl, zu)).sum(axis=-1)
        return np.asarray(total)

    def slope_and_curvature(self, a: float, h: float) -> tuple[Floats, Floats]:
        """Gradient, shape (2,), and Hessian, shape (2, 2), in (a, h)."""
        m, lag = self.exact, h * self.mean - a
        slope = np.array([m * lag, (m / h if m else 0.0) - h * self.squares - m * lag * self.mean])
        cross = m * self.mean
        curvature = np.array([[-float(m), cross], [cross, -(m / h**2 if m else 0.0) - self.squares - m * self.mean**2]])
        if self.weight.size:
            zl, zu = h * self.low - a, h * self.high - a
            log_p = log_probability(zl, zu)
            # Density over probability at each end; an open end contributes nothing.
            fl, fu = _ratio(zl, log_p), _ratio(zu, log_p)
            l, u = np.where(np.isfinite(self.low), self.low, 0.0), np.where(np.isfinite(self.high), self.high, 0.0)  # noqa: E741
            zl, zu = np.where(np.isfinite(zl), zl, 0.0), np.where(np.isfinite(zu), zu, 0.0)
            ga, gh = fl - fu, u * fu - l * fl
            aa = zl * fl - zu * fu - ga * ga
            ah = zu * u * fu - zl * l * fl - ga * gh
            hh = zl * l * l * fl - zu * u * u * fu - gh * gh
            w = self.weight
            slope = slope + np.array([np.sum(w * ga), np.sum(w * gh)])
            curvature = curvature + np.array([[np.sum(w * aa), np.sum(w * ah)], [np.sum(w * ah), np.sum(w * hh)]])
        return slope, curvature

    def start(self) -> tuple[float, float]:
        """A sensible place to begin: bounds stand for values, only for the first step."""
        middle = np.where(
            np.isneginf(self.low),
            self.high - 0.5,
            np.where(np.isposinf(self.high), self.low + 0.5, (self.low + self.high) / 2.0),
        )
        n = self.exact + float(self.weight.sum())
        mean = (self.exact * self.mean + float(np.sum(self.weight * middle))) / n
        squares = (
            self.squares + self.exact * (self.mean - mean) ** 2 + float(np.sum(self.weight * (middle - mean) ** 2))
        )
        h = 1.0 / max(np.sqrt(squares / n), 1e-9)
        return float(mean * h), float(h)

    def summit(self) -> tuple[float, float]:
        """
        The (a, h) of greatest likelihood; call only when `why_no_summit` is empty.

        Raises
        ------
        ArithmeticError
            The search did not settle.
        """
        a, h = self.start()
        here = float(self.value(np.asarray(a), np.asarray(h)))
        for _ in range(500):
            slope, curvature = self.slope_and_curvature(a, h)
            try:
                step = -np.linalg.solve(curvature, slope)
            except np.linalg.LinAlgError:
                step = slope / (np.abs(slope).max() + 1.0)
            if slope @ step <= 0.0:
                step = slope * min(1.0, h / (np.abs(slope).max() + 1e-300))
            rise = float(slope @ step)
            if rise < 1e-24 * (1.0 + abs(here)):
                return float(a), float(h)
            fraction = 1.0
            while h + fraction * step[1] <= 0.1 * h:
                fraction /= 2.0
            for _ in range(60):
                a_new, h_new = a + fraction * step[0], h + fraction * step[1]
                there = float(self.value(np.asarray(a_new), np.asarray(h_new)))
                if there >= here + 1e-4 * fraction * rise - 1e-13 * (1.0 + abs(here)):
                    break
                fraction /= 2.0
            settled = abs(a_new - a) <= 1e-15 * (1.0 + abs(a)) and abs(h_new - h) <= 1e-15 * h
            a, h, here = float(a_new), float(h_new), there
            if settled:
                return a, h
        raise ArithmeticError("the search for the greatest likelihood did not settle")


def _scale(low: Floats, high: Floats) -> tuple[float, float]:
    """Middle and size of the logs: of the measured ones if two differ, else of all bounds there are."""
    exact = low[low == high]
    ends = exact if exact.size > 1 and float(np.ptp(exact)) > 0.01 * _SAME else np.concatenate([low, high])
    ends = ends[np.isfinite(ends)]
    spread = float(ends.std())
    return float(ends.mean()), spread if spread > 0.01 * _SAME else 1.0


def log_probability(zl: Floats, zu: Floats) -> Floats:
    """ln(Phi(zu) - Phi(zl)) without cancellation in either tail."""
    flip = zl > 0.0  # work on the side where Phi is small
    low, high = np.where(flip, -zu, zl), np.where(flip, -zl, zu)
    top, bottom = log_ndtr(high), log_ndtr(low)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        gap = np.where(np.isneginf(bottom), -np.inf, bottom - top)
        # Far out the two logs agree in all their digits; there Phi falls as exp(-z²/2).
        gap = np.where((high < -1e3) & np.isfinite(low), (high - low) * (high + low) / 2.0, gap)
        wide = top + np.log(-np.expm1(gap))
        width, middle = high - low, (high + low) / 2.0
        narrow = np.log(width) - middle * middle / 2.0 - _LOG_ROOT_TWO_PI + width**2 * (middle**2 - 1.0) / 24.0
    return np.asarray(np.where(width * (1.0 + np.abs(middle)) < 1e-4, narrow, wide))


def _ratio(z: Floats, log_p: Floats) -> Floats:
    """Normal density at z over the probability; 0 at an open end."""
    with np.errstate(over="ignore", invalid="ignore"):
        return np.asarray(np.where(np.isfinite(z), np.exp(-z * z / 2.0 - _LOG_ROOT_TWO_PI - log_p), 0.0))
