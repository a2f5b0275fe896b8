"""Likelihood of one group's results when each worker has a level of their own.

ln exposure of worker w on a day is mu + b_w + e, with b_w normal of variance sigma^2 sin^2(phi) between workers and e
normal of variance sigma^2 cos^2(phi) from day to day. For a given phi this is a function of (ln sigma, mu) like that
of a group without workers, and the same machinery integrates it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapel.statistics.normal_cdf import log_normal_cdf, log_normal_interval
from lapel.statistics.posterior_rows import Batch, Index

Array = NDArray[np.float64]

_REACH = 6.5  # standard deviations over which a worker's own level is integrated
_POINTS = 61
_EPSILON = np.linspace(-_REACH, _REACH, _POINTS)
_LOG_WEIGHT = -0.5 * _EPSILON**2 - np.log(np.sum(np.exp(-0.5 * _EPSILON**2)))
_AT_ONCE = 200_000


@dataclass(frozen=True)
class WorkerRows:
    """
    Results of one worker, ln(result/limit): exact rows by number, mean and sum of squares; the others one by one.

    `bound`, `sign`, `times`: rows known from one side. `low`, `high`: rows between bounds.
    """

    count: float
    mean: float
    square: float
    bound: Array
    sign: Array
    times: Array
    low: Array
    high: Array

    @property
    def is_exact(self) -> bool:
        """Whether every row is measured."""
        return self.bound.size == 0 and self.low.size == 0

    @property
    def n(self) -> int:
        """Number of rows."""
        return int(self.count + self.times.sum() + self.low.size)

    @classmethod
    def of(cls, lower: Array, upper: Array) -> WorkerRows:
        """Sort a worker's rows, given as ln(bound/limit)."""
        exact = lower == upper
        y = lower[exact]
        mean = float(y.mean()) if y.size else 0.0
        square = float(np.sum((y - mean) ** 2))
        below, beyond = np.isneginf(lower), np.isposinf(upper)
        sides = np.stack(
            [np.concatenate([upper[below], lower[beyond]]), np.repeat([1.0, -1.0], [below.sum(), beyond.sum()])]
        )
        one_sided, times = np.unique(sides, axis=1, return_counts=True)
        between = ~exact & ~below & ~beyond
        return cls(
            float(y.size),
            mean,
            square,
            one_sided[0],
            one_sided[1],
            times.astype(np.float64),
            lower[between],
            upper[between],
        )

    def level(self, mu: Array, within: Array, between: Array) -> tuple[Array, Array, Array]:
        """
        What the worker's exact rows say.

        Parameters
        ----------
        mu, within, between : ndarray, broadcastable
            Centre of the group and the two standard deviations.

        Returns
        -------
        tuple of three ndarrays
            Mean and standard deviation of the worker's own level given the exact rows, and their log likelihood.
        """
        m = self.count
        if m == 0:
            return mu + 0.0 * within, between + 0.0 * mu, np.zeros(np.broadcast_shapes(mu.shape, within.shape))
        w2, b2 = within * within, between * between
        total = w2 + m * b2
        centre = (mu * w2 + m * self.mean * b2) / total
        spread = within * between / np.sqrt(total)
        away = self.mean - mu
        log_like = -0.5 * ((m - 1.0) * np.log(w2) + self.square / w2 + np.log(total) + m * away * away / total)
        return centre, spread + 0.0 * mu, log_like

    def log_censored(self, level: Array, within: Array) -> Array:
        """Log likelihood of the worker's other rows at given levels of the worker."""
        inverse = 1.0 / within
        result = np.zeros(np.broadcast_shapes(level.shape, within.shape))
        for bound, sign, times in zip(self.bound, self.sign, self.times, strict=True):
            result += times * log_normal_cdf(sign * (bound - level) * inverse)
        for low, high in zip(self.low, self.high, strict=True):
            result += log_normal_interval((low - level) * inverse, (high - level) * inverse)
        return result

    def log_likelihood(self, mu: Array, within: Array, between: Array) -> Array:
        """
        Log likelihood of the worker's rows, the worker's level integrated out.

        Parameters
        ----------
        mu, within, between : ndarray, one shape (k,)
            Centre of the group and the two standard deviations.

        Returns
        -------
        ndarray of float64, shape (k,)

        Notes
        -----
        Exact rows in closed form. The others by the trapezoidal rule over the level given the exact rows, which
        converges exponentially for a smooth integrand that vanishes at both ends.
        """
        centre, spread, result = self.level(mu, within, between)
        if self.is_exact:
            return result
        result = np.array(result)
        step = max(1, _AT_ONCE // _POINTS)
        for start in range(0, mu.size, step):
            part = slice(start, start + step)
            levels = centre[part, None] + spread[part, None] * _EPSILON
            logs = self.log_censored(levels, within[part, None])
            logs += _LOG_WEIGHT
            top = logs.max(axis=1)
            logs -= top[:, None]
            result[part] += top + np.log(np.exp(logs).sum(axis=1))
        return result


@dataclass(frozen=True)
class WorkersBatch(Batch):
    """One group, repeated for each value of phi; its likelihood knows the workers."""

    workers: tuple[WorkerRows, ...]
    phi: Array

    @property
    def only_exact(self) -> bool:
        """False: there is no closed form in mu that the region's search could use."""
        return False

    @classmethod
    def of(cls, pooled: Batch, workers: tuple[WorkerRows, ...], phi: Array) -> WorkersBatch:
        """Repeat a batch of one group for each phi."""
        columns = {
            name: np.repeat(value, phi.size, axis=0) for name, value in vars(pooled).items() if value is not None
        }
        return cls(**columns, workers=workers, phi=phi)

    def take(self, which: Index | slice) -> WorkersBatch:
        """Some of the values of phi."""
        own = ("workers", "phi")
        columns = {name: value[which] for name, value in vars(self).items() if name not in own}
        return WorkersBatch(**columns, workers=self.workers, phi=self.phi[which])

    def log_likelihood(self, ln_sigma: Array, sigma: Array, mu: Array) -> Array:
        """Log likelihood at points of each repeat; shapes as for `Batch`."""
        shape = np.broadcast_shapes(sigma.shape, mu.shape, (self.phi.size, *(1,) * (max(sigma.ndim, mu.ndim) - 1)))
        phi = self.phi.reshape(-1, *(1,) * (len(shape) - 1))
        within = np.broadcast_to(sigma * np.cos(phi), shape).ravel()
        between = np.broadcast_to(sigma * np.sin(phi), shape).ravel()
        centre = np.broadcast_to(mu, shape).ravel()
        total = np.zeros(centre.size)
        for worker in self.workers:
            total += worker.log_likelihood(centre, within, between)
        return total.reshape(shape)

    def log_likelihood_in_mu(self, sigma: Array, mu: Array) -> tuple[Array, Array, Array]:
        """
        Log likelihood with its first two derivatives in mu, by central differences.

        They only steer the search for the region; no answer is computed from them.
        """
        step = 0.02 * sigma + 0.0 * mu
        ln_sigma = np.log(sigma)
        below, at, above = (self.log_likelihood(ln_sigma, sigma, mu + k * step) for k in (-1.0, 0.0, 1.0))
        first = (above - below) / (2.0 * step)
        second = np.minimum((above - 2.0 * at + below) / (step * step), 0.0)
        return at, first, second
