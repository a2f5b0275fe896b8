"""What is believed about a group's spread before its results are seen.

A prior is data: its numbers and where they come from travel with every posterior that used it. The spread is
sigma = ln GSD. The centre mu = ln GM has one prior for all: uniform from limit/1100 to 55 times the limit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from lapel.statistics.sentences import said

Array = NDArray[np.float64]

MU_LOW = -7.0  # ln(GM/limit): the lowest geometric mean considered is limit x e^-7
MU_HIGH = 4.0  # and the highest limit x e^4

_REACH_SD = 12.0  # a normal density is 5e-32 of its peak there
_SMALLEST_SIGMA = 1e-6
_LARGEST_SIGMA = 50.0


@runtime_checkable
class Prior(Protocol):
    """A prior for u = ln sigma: its support, its log density there, and its source in words."""

    @property
    def source(self) -> str:
        """Where its numbers come from."""
        ...

    @property
    def support(self) -> tuple[float, float]:
        """Lowest and highest ln sigma considered."""
        ...

    def log_density(self, ln_sigma: Array) -> Array:
        """Log density in ln sigma, up to a constant, inside the support."""
        ...

    def describe(self) -> str:
        """One sentence for the person who reads the result."""
        ...


@dataclass(frozen=True)
class SpreadPrior:
    """
    Lognormal prior for sigma = ln GSD.

    Parameters
    ----------
    mean_ln_sigma : float
        Mean of ln sigma; exp of it is the median of ln GSD. [-]
    sd_ln_sigma : float, above 0
        Standard deviation of ln sigma. [-]
    source : str
        Where the two numbers come from.

    Raises
    ------
    ValueError
        A number is not finite, or `sd_ln_sigma` is not above 0.

    Notes
    -----
    The support is cut 12 standard deviations from the mean, and at sigma = 1e-6 and 50, where a group's spread
    has no meaning any more; the cut shows only for dozens of identical results.
    """

    mean_ln_sigma: float
    sd_ln_sigma: float
    source: str = field(default="given by the user", compare=False)

    def __post_init__(self) -> None:
        if not math.isfinite(self.mean_ln_sigma):
            raise ValueError(f"`mean_ln_sigma` must be finite; it is {self.mean_ln_sigma!r}")
        if not (math.isfinite(self.sd_ln_sigma) and self.sd_ln_sigma > 0):
            raise ValueError(f"`sd_ln_sigma` must be finite and above 0; it is {self.sd_ln_sigma!r}")
        low, high = self.support
        if not low < high:
            raise ValueError(
                f"`mean_ln_sigma` must put the median GSD somewhere between 1.000001 and e^50; "
                f"it is {self.mean_ln_sigma!r}"
            )

    @classmethod
    def from_gsd(cls, median: float, low: float, high: float, *, source: str) -> SpreadPrior:
        """
        Prior whose median GSD and middle 95 % of log spread are the ones named.

        Parameters
        ----------
        median, low, high : float, 1 < low < median < high
            GSD at the median, and the range that holds about 95 % of groups. [-]
        source : str
            Where they come from.

        Raises
        ------
        ValueError
            The three are not in order above 1.
        """
        if not 1 < low < median < high:
            raise ValueError(f"`low`, `median`, `high` must rise above 1; they are {low}, {median}, {high}")
        width = math.log(math.log(high) / math.log(low)) / (2 * 1.959963984540054)
        return cls(math.log(math.log(median)), width, source)

    @property
    def support(self) -> tuple[float, float]:
        """Lowest and highest ln sigma considered."""
        reach = _REACH_SD * self.sd_ln_sigma
        low = max(self.mean_ln_sigma - reach, math.log(_SMALLEST_SIGMA))
        return low, min(self.mean_ln_sigma + reach, math.log(_LARGEST_SIGMA))

    @property
    def median_gsd(self) -> float:
        """Geometric standard deviation at the prior's median. [-]"""
        return math.exp(math.exp(self.mean_ln_sigma))

    def log_density(self, ln_sigma: Array) -> Array:
        """Log density in ln sigma, up to a constant."""
        z = ln_sigma - self.mean_ln_sigma
        z *= z
        z *= -0.5 / self.sd_ln_sigma**2
        return z

    def describe(self) -> str:
        """One sentence for the person who reads the result."""
        low, high = (
            math.exp(math.exp(self.mean_ln_sigma + side * 1.959963984540054 * self.sd_ln_sigma)) for side in (-1, 1)
        )
        return said(
            "Before the results: GSD about {gsd}, 95 % between {low} and {high} ({source}).",
            gsd=f"{self.median_gsd:.3g}",
            low=f"{low:.3g}",
            high=f"{high:.3g}" if high < 1e4 else said("above 10 000"),
            source=self.source,
        )


@dataclass(frozen=True)
class FlatPrior:
    """
    Prior flat in ln sigma between two geometric standard deviations.

    Parameters
    ----------
    gsd_low, gsd_high : float, 1 < gsd_low < gsd_high
        Smallest and largest GSD considered. [-]
    source : str
        Why these ends.

    Raises
    ------
    ValueError
        The ends are not finite, not above 1, or not in order.
    """

    gsd_low: float = 1.05
    gsd_high: float = 10.0
    source: str = field(default="flat in ln(ln GSD); ends chosen, not measured", compare=False)

    def __post_init__(self) -> None:
        if not (1 < self.gsd_low < self.gsd_high and math.isfinite(self.gsd_high)):
            raise ValueError(
                f"`gsd_low` and `gsd_high` must be finite, above 1 and in order; "
                f"they are {self.gsd_low!r} and {self.gsd_high!r}"
            )

    @property
    def support(self) -> tuple[float, float]:
        """Lowest and highest ln sigma considered."""
        return math.log(math.log(self.gsd_low)), math.log(math.log(self.gsd_high))

    def log_density(self, ln_sigma: Array) -> Array:
        """Log density in ln sigma, up to a constant: zero."""
        return np.zeros_like(ln_sigma)

    def describe(self) -> str:
        """One sentence for the person who reads the result."""
        return said(
            "Before the results: any GSD from {low} to {high} ({source}).",
            low=f"{self.gsd_low:g}",
            high=f"{self.gsd_high:g}",
            source=self.source,
        )


# Median: the middle, on the scale of ln sigma, of the GSDs of 2 to 3 that groups of one job typically show.
# Spread: were 2 and 3 the quartiles, 0.34 would follow; 0.5 is half as much again, because the reader's group is
# not one of those studied. It puts 95 % of groups between GSD 1.4 and 10. See docs/science/group-priors.md.
PUBLISHED_SPREAD = SpreadPrior(
    mean_ln_sigma=0.5 * (math.log(math.log(2.0)) + math.log(math.log(3.0))),
    sd_ln_sigma=0.5,
    source=said("published variance components: Kromhout et al. 1993, Rappaport et al. 1993, Peretz et al. 1997"),
)
