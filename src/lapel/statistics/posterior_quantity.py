"""The quantities of a group: t (ln GM, ln P95, ln mean, the probit of the exceedance) as a function of mu and sigma."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lapel.statistics.priors import MU_HIGH, MU_LOW

Array = NDArray[np.float64]

Z95 = 1.6448536269514722  # 95th percentile of the standard normal distribution


@dataclass(frozen=True)
class Quantity:
    """
    A quantity t of the group as a function of (ln sigma, mu), increasing in mu.

    `shift`: for t = mu + shift(sigma). `ratio`: for t = mu / sigma, the probit of the exceedance of the limit.
    """

    name: str

    def of(self, mu: Array, sigma: Array) -> Array:
        """The quantity at given mu and sigma."""
        if self.name == "exceedance":
            return mu / sigma
        return mu + self._shift(sigma)

    def mu(self, t: Array, sigma: Array) -> Array:
        """The mu that gives the quantity at sigma."""
        if self.name == "exceedance":
            return t * sigma
        if self.name == "gm":
            return t
        return t - self._shift(sigma)

    def _shift(self, sigma: Array) -> Array:
        if self.name == "p95":
            return Z95 * sigma
        if self.name == "mean":
            return 0.5 * sigma * sigma
        return np.zeros_like(sigma)

    def ln_sigma_within(self, t: Array) -> tuple[Array, Array]:
        """Lowest and highest ln sigma for which mu stays in its prior range, along the line of t."""
        with np.errstate(divide="ignore", invalid="ignore"):
            if self.name == "p95":
                low, high = (t - MU_HIGH) / Z95, (t - MU_LOW) / Z95
            elif self.name == "mean":
                low = np.sqrt(np.maximum(2.0 * (t - MU_HIGH), 0.0))
                high = np.sqrt(np.maximum(2.0 * (t - MU_LOW), 0.0))
            elif self.name == "exceedance":
                low = np.zeros_like(t)
                high = np.where(t > 0.0, MU_HIGH / t, np.where(t < 0.0, MU_LOW / t, np.inf))
            else:
                return np.full(t.shape, -np.inf), np.full(t.shape, np.inf)
            return np.log(np.maximum(low, 0.0)), np.log(np.maximum(high, 1e-300))
