"""What a group's posterior answers: quantiles, probabilities, the next shift, and what its reader must know."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from lapel.statistics.arguments import above, at_least, between
from lapel.statistics.posterior_groups import Groups
from lapel.statistics.posterior_marginal import Marginal
from lapel.statistics.posterior_rows import Index
from lapel.statistics.priors import MU_HIGH, MU_LOW, Prior
from lapel.statistics.sentences import said

__all__ = ["CATEGORY_BANDS", "QUANTITIES", "Note", "Posterior", "What"]

Array = NDArray[np.float64]
What = Literal["gm", "gsd", "mean", "p95", "exceedance"]

QUANTITIES = ("gm", "gsd", "mean", "p95", "exceedance")
CATEGORY_BANDS = (0.01, 0.1, 0.5, 1.0)  # shares of the limit that bound the usual five categories

_FEW = 2


@dataclass(frozen=True)
class Note:
    """Something the reader of one group's posterior must know: a code for programs, a sentence for people."""

    code: Literal["prior decides", "outside the range", "identical results", "no results"]
    words: str


@dataclass
class Posterior:
    """
    Posterior of one or many groups; made by `posterior`.

    Attributes
    ----------
    limit : ndarray, shape (groups,)
        Limit of each group. [the unit of the results]
    prior : Prior
        The prior used, with its source.
    n, detects : ndarray of int, shape (groups,)
        Number of results, and of those known better than "below the reporting limit".
    """

    limit: Array
    prior: Prior
    n: NDArray[np.int64]
    detects: NDArray[np.int64]
    _groups: Groups = field(repr=False)
    _mean_ln: Array = field(repr=False)
    _identical: NDArray[np.bool_] = field(repr=False)

    def __len__(self) -> int:
        return int(self.limit.size)

    def _pieces(self, what: str) -> Iterator[tuple[Index, Marginal]]:
        known_quantity(what)
        for piece, marginal in zip(self._groups.pieces, self._groups.marginal(what), strict=True):
            yield piece.group, marginal

    def quantiles(self, what: What, probabilities: ArrayLike) -> Array:
        """
        Values below which a quantity lies with given probabilities.

        Parameters
        ----------
        what : {"gm", "gsd", "mean", "p95", "exceedance"}
            Geometric mean, geometric standard deviation, arithmetic mean, 95th percentile, share of shifts above
            the limit.
        probabilities : array_like, shape (q,)
            Strictly between 0 and 1.

        Returns
        -------
        ndarray of float64, shape (groups, q)
            [the unit of the results; "gsd" and "exceedance": -]

        Raises
        ------
        ValueError
            `what` is none of these, or a probability is not between 0 and 1.
        """
        (p,) = between(0, 1, probabilities=probabilities)
        p = np.atleast_1d(p).ravel()
        result = np.empty((len(self), p.size))
        for group, marginal in self._pieces(what):
            result[group] = value_at(what, marginal.quantiles(p), self.limit[group, None])
        return result

    def exceedance_probits(self, probabilities: ArrayLike) -> Array:
        """
        Quantiles of the exceedance as probits, which stay apart when the exceedance itself is near 0 or 1.

        Parameters
        ----------
        probabilities : array_like, shape (q,)
            Strictly between 0 and 1.

        Returns
        -------
        ndarray of float64, shape (groups, q)
            z, where the share of shifts above the limit is Phi(z). [-]

        Raises
        ------
        ValueError
            A probability is not between 0 and 1.
        """
        (p,) = between(0, 1, probabilities=probabilities)
        p = np.atleast_1d(p).ravel()
        result = np.empty((len(self), p.size))
        for group, marginal in self._pieces("exceedance"):
            result[group] = marginal.quantiles(p)
        return result

    def probability_above(self, what: What, value: ArrayLike) -> Array:
        """
        Probability that a quantity is above a value.

        Parameters
        ----------
        what : {"gm", "gsd", "mean", "p95", "exceedance"}
            The quantity.
        value : array_like, a single number or shape (groups,)
            [the unit of the results; "gsd" (at least 1) and "exceedance" (strictly between 0 and 1): -]

        Returns
        -------
        ndarray of float64, shape (groups,)

        Raises
        ------
        ValueError
            `what` is no quantity, or a value is outside what the quantity can be.
        """
        values = np.broadcast_to(checked_value(what, value), (len(self),))
        result = np.empty(len(self))
        for group, marginal in self._pieces(what):
            t = scale_of(what, values[group], self.limit[group])
            result[group] = 1.0 - marginal.cdf(t[:, None])[:, 0]
        return result

    def band_probabilities(
        self, edges: Sequence[float] = CATEGORY_BANDS, what: Literal["gm", "mean", "p95"] = "p95"
    ) -> Array:
        """
        Probability that a quantity lies in each band of shares of the limit.

        Parameters
        ----------
        edges : sequence of float
            Rising shares of the limit; 0.01, 0.1, 0.5 and 1 bound the usual five categories. [-]
        what : {"p95", "gm", "mean"}
            The quantity; the categories are defined for the 95th percentile.

        Returns
        -------
        ndarray of float64, shape (groups, edges + 1)
            Below the first edge, between edges, above the last. Each row sums to 1.

        Raises
        ------
        ValueError
            The edges do not rise above 0, or `what` has no share of the limit.
        """
        if what not in ("gm", "mean", "p95"):
            raise ValueError(f"`what` must be gm, mean or p95, which have a share of the limit; it is {what!r}")
        (shares,) = above(0.0, edges=np.atleast_1d(np.asarray(edges)))
        if np.any(np.diff(shares) <= 0):
            raise ValueError(f"`edges` must rise; they are {shares.tolist()}")
        result = np.empty((len(self), shares.size + 1))
        for group, marginal in self._pieces(what):
            t = np.broadcast_to(np.log(shares), (group.size, shares.size))
            below = np.pad(marginal.cdf(t), ((0, 0), (1, 1)), constant_values=((0, 0), (0, 1)))
            result[group] = np.diff(below, axis=1)
        return result

    def next_shift_probability_above(self, value: ArrayLike) -> Array:
        """
        Probability that the next shift's exposure is above a value.

        Parameters
        ----------
        value : array_like, a single number or shape (groups,)
            [the unit of the results]

        Returns
        -------
        ndarray of float64, shape (groups,)

        Raises
        ------
        ValueError
            A value is not finite and above 0.

        Notes
        -----
        The predictive distribution: the exceedance of the value averaged over the posterior. It is the exposure
        itself, free of the error of a measurement.
        """
        (values,) = above(0.0, value=value)
        x = np.log(np.broadcast_to(values, (len(self),)) / self.limit)
        result = np.empty(len(self))
        for group, mu, sigma, weight in self._groups.joint():
            result[group] = (weight * ndtr((mu - x[group, None]) / sigma)).sum(axis=1)
        return result

    def next_shift_quantiles(self, probabilities: ArrayLike) -> Array:
        """
        Quantiles of the next shift's exposure.

        Parameters
        ----------
        probabilities : array_like, shape (q,)
            Strictly between 0 and 1.

        Returns
        -------
        ndarray of float64, shape (groups, q)
            [the unit of the results]

        Raises
        ------
        ValueError
            A probability is not between 0 and 1.

        Notes
        -----
        Newton's method on the probit of the predictive distribution function, kept inside a shrinking bracket.
        """
        (p,) = between(0, 1, probabilities=probabilities)
        p = np.atleast_1d(p).ravel()
        result = np.empty((len(self), p.size))
        for group, mu, sigma, weight in self._groups.joint():
            for column, share in enumerate(p.tolist()):
                result[group, column] = _predictive_quantile(mu, sigma, weight, share)
        return np.asarray(np.exp(result) * self.limit[:, None])

    @property
    def prior_decides(self) -> NDArray[np.bool_]:
        """Groups whose posterior rests on the prior: no result above its reporting limit, or at most two results."""
        return np.asarray((self.detects == 0) | (self.n <= _FEW))

    def notes(self, group: int = 0) -> tuple[Note, ...]:
        """
        What the reader of a group's numbers must know.

        Parameters
        ----------
        group : int
            Position of the group, from 0.

        Returns
        -------
        tuple of Note
            Empty when there is nothing to say.
        """
        n, detects = int(self.n[group]), int(self.detects[group])
        told: list[Note] = []
        if n == 0:
            told.append(
                Note(
                    "no results",
                    said("There is no result: this is the prior alone. {prior}", prior=self.prior.describe()),
                )
            )
        elif detects == 0:
            told.append(
                Note(
                    "prior decides",
                    said(
                        "None of the {n} results is above its reporting limit. They only bound the exposures from "
                        "above; the spread, and how far below the exposures lie, are the prior's. {prior}",
                        n=n,
                        prior=self.prior.describe(),
                    ),
                )
            )
        elif n <= _FEW:
            template = (
                "One result says next to nothing about the spread: it is the prior's. {prior}"
                if n == 1
                else "Two results say next to nothing about the spread: it is the prior's. {prior}"
            )
            told.append(
                Note(
                    "prior decides",
                    said(template, prior=self.prior.describe()),
                )
            )
        centre = float(self._mean_ln[group])
        if np.isfinite(centre) and not MU_LOW + 0.5 <= centre <= MU_HIGH - 0.5:
            side = said("below limit/1100" if centre < 0 else "above 55 times the limit")
            told.append(
                Note(
                    "outside the range",
                    said(
                        "The measured results lie near or beyond the end of the range considered for the geometric "
                        "mean ({side}); the posterior is pushed against that end. Check the unit of the limit.",
                        side=side,
                    ),
                )
            )
        if bool(self._identical[group]):
            told.append(
                Note(
                    "identical results",
                    said(
                        "All measured results are the same number. Rounding hides how much they differ, and the "
                        "spread found is as small as the prior allows; give them as rounding intervals instead."
                    ),
                )
            )
        return tuple(told)


def known_quantity(what: str) -> None:
    """
    Refuse what is no quantity of a group.

    Raises
    ------
    ValueError
        Naming the quantities there are.
    """
    if what not in QUANTITIES:
        raise ValueError(f"`what` must be one of {', '.join(QUANTITIES)}; it is {what!r}")


def scale_of(what: str, value: Array, limit: Array) -> Array:
    """t, the scale on which a quantity's distribution is held; infinite at the end of what the quantity can be."""
    with np.errstate(divide="ignore"):
        if what == "exceedance":
            return np.asarray(ndtri(value))
        if what == "gsd":
            return np.asarray(np.log(np.log(value)))
        return np.asarray(np.log(value / limit))


def value_at(what: str, t: Array, limit: Array) -> Array:
    """The quantity at t, in the unit of the limit where it has one; the reverse of `scale_of`."""
    if what == "exceedance":
        return np.asarray(ndtr(t))
    with np.errstate(over="ignore"):
        return np.asarray(np.exp(np.exp(t)) if what == "gsd" else np.exp(t) * limit)


def checked_value(what: str, value: ArrayLike) -> Array:
    """
    Accept what a quantity can be.

    Raises
    ------
    ValueError
        A value is not finite and above 0 ("gsd": at least 1; "exceedance": strictly between 0 and 1).
    """
    if what == "exceedance":
        (values,) = between(0.0, 1.0, value=value)
    elif what == "gsd":
        (values,) = at_least(1.0, value=value)
    else:
        (values,) = above(0.0, value=value)
    return values


def _predictive_quantile(mu: Array, sigma: Array, weight: Array, share: float) -> Array:
    """ln of the exposure, in units of the limit, below which the next shift falls with a probability; (k,)."""
    wanted = float(ndtri(share))
    centre = (weight * mu).sum(axis=1)
    width = np.sqrt((weight * (sigma**2 + (mu - centre[:, None]) ** 2)).sum(axis=1))
    low, high = centre - 60.0 * width, centre + 60.0 * width
    x = centre + wanted * width
    for _ in range(60):
        z = (x[:, None] - mu) / sigma
        value = (weight * ndtr(z)).sum(axis=1)
        density = (weight * np.exp(-0.5 * z * z) / sigma).sum(axis=1)
        low, high = np.where(value <= share, x, low), np.where(value >= share, x, high)
        with np.errstate(divide="ignore", invalid="ignore"):
            probit = ndtri(value)
            target = x - (probit - wanted) * np.exp(-0.5 * probit * probit) / density
        new = np.where((target > low) & (target < high), target, 0.5 * (low + high))
        moved = np.abs(new - x).max(initial=0.0)
        x = new
        if moved < 1e-12:
            break
    return np.asarray(x)
