"""What a group's results, measured or not, leave to be believed about its exposures: exact, without sampling."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from lapel.statistics.arguments import above, at_least, between, finite
from lapel.statistics.observed import Observations, observed
from lapel.statistics.posterior_density import Marginal, probability
from lapel.statistics.posterior_groups import Groups
from lapel.statistics.posterior_rows import Index, Rows
from lapel.statistics.priors import MU_HIGH, MU_LOW, PUBLISHED_SPREAD, Prior

__all__ = ["CATEGORY_BANDS", "Note", "Posterior", "posterior"]

Array = NDArray[np.float64]
What = Literal["gm", "gsd", "mean", "p95", "exceedance"]
Results = Observations | ArrayLike

QUANTITIES = ("gm", "gsd", "mean", "p95", "exceedance")
CATEGORY_BANDS = (0.01, 0.1, 0.5, 1.0)  # shares of the limit that bound the usual five categories

_ERROR_POINTS = 16
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
        if what not in QUANTITIES:
            raise ValueError(f"`what` must be one of {', '.join(QUANTITIES)}; it is {what!r}")
        for piece, marginal in zip(self._groups.pieces, self._groups.marginal(what), strict=True):
            yield piece.group, marginal

    def _to_t(self, what: str, value: Array, limit: Array) -> Array:
        """The quantity on the scale on which its distribution is held."""
        with np.errstate(divide="ignore"):
            if what == "exceedance":
                return np.asarray(ndtri(value))
            if what == "gsd":
                return np.asarray(np.log(np.log(value)))
            return np.asarray(np.log(value / limit))

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
            t = marginal.quantiles(p)
            if what == "exceedance":
                result[group] = probability(t)
            else:
                with np.errstate(over="ignore"):
                    result[group] = np.exp(np.exp(t)) if what == "gsd" else np.exp(t) * self.limit[group, None]
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
        values = np.broadcast_to(_checked_value(what, value), (len(self),))
        result = np.empty(len(self))
        for group, marginal in self._pieces(what):
            t = self._to_t(what, values[group], self.limit[group])
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
            told.append(Note("no results", f"There is no result: this is the prior alone. {self.prior.describe()}"))
        elif detects == 0:
            told.append(
                Note(
                    "prior decides",
                    f"None of the {n} results is above its reporting limit. They only bound the exposures from "
                    f"above; the spread, and how far below the exposures lie, are the prior's. "
                    f"{self.prior.describe()}",
                )
            )
        elif n <= _FEW:
            word = "One result says" if n == 1 else "Two results say"
            told.append(
                Note(
                    "prior decides",
                    f"{word} next to nothing about the spread: it is the prior's. {self.prior.describe()}",
                )
            )
        centre = float(self._mean_ln[group])
        if np.isfinite(centre) and not MU_LOW + 0.5 <= centre <= MU_HIGH - 0.5:
            side = "below limit/1100" if centre < 0 else "above 55 times the limit"
            told.append(
                Note(
                    "outside the range",
                    f"The measured results lie near or beyond the end of the range considered for the geometric "
                    f"mean ({side}); the posterior is pushed against that end. Check the unit of the limit.",
                )
            )
        if bool(self._identical[group]):
            told.append(
                Note(
                    "identical results",
                    "All measured results are the same number. Rounding hides how much they differ, and the "
                    "spread found is as small as the prior allows; give them as rounding intervals instead.",
                )
            )
        return tuple(told)


def _checked_value(what: str, value: ArrayLike) -> Array:
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


def _as_groups(results: Results | Sequence[Results]) -> list[Observations]:
    """One group or several; a flat list of numbers is one group."""
    if isinstance(results, Observations):
        return [results]
    if isinstance(results, Sequence) and any(isinstance(item, Observations) or np.ndim(item) > 0 for item in results):
        return [item if isinstance(item, Observations) else observed(item) for item in results]
    array = np.asarray(results)
    if array.ndim == 2:
        return [observed(row) for row in array]
    if isinstance(results, Sequence) and len(results) == 0:
        return []
    return [observed(array)]


def _is_range(error_cv: object) -> bool:
    return isinstance(error_cv, tuple) and len(error_cv) == 2 and all(np.ndim(end) == 0 for end in error_cv)


def _tau(cv: Array) -> Array:
    """Standard deviation of the logarithm of a lognormal factor with this coefficient of variation."""
    return np.sqrt(np.log1p(cv * cv))


def _row_errors(groups: list[Observations], error_cv: object) -> tuple[list[Array], list[tuple[float, float] | None]]:
    """For each group: the error of each row, and the range when the error itself is uncertain."""
    given: list[object] = [error_cv] * len(groups)
    if isinstance(error_cv, list | tuple | np.ndarray) and not _is_range(error_cv):
        entries = list(error_cv)
        by_row = len(groups) == 1 and all(np.ndim(item) == 0 for item in entries)
        if not by_row:
            given = entries
        if len(given) != len(groups):
            raise ValueError(
                f"`error_cv` must have one entry for each of the {len(groups)} groups; it has {len(given)}"
            )
    rows: list[Array] = []
    ranges: list[tuple[float, float] | None] = []
    for number, (group, entry) in enumerate(zip(groups, given, strict=True), start=1):
        ranges.append(None)
        if entry is None:
            rows.append(np.zeros(group.n))
        elif _is_range(entry):
            low, high = (float(end) for end in np.asarray(entry).tolist())
            if not (np.isfinite(high) and 0.0 <= low <= high):
                raise ValueError(
                    f"`error_cv` as a range must be two finite numbers in order, from 0 up; "
                    f"group {number} has ({low:g}, {high:g})"
                )
            rows.append(np.full(group.n, low))
            if high > low:
                ranges[-1] = (low, high)
        else:
            (cv,) = at_least(0.0, error_cv=entry)  # type: ignore[arg-type]
            if cv.ndim and cv.size != group.n:
                raise ValueError(
                    f"`error_cv` must be one number, one for each of the {group.n} rows, or a (low, high) tuple; "
                    f"group {number} has {cv.size} numbers"
                )
            rows.append(np.broadcast_to(cv, (group.n,)).astype(np.float64))
    return rows, ranges


def posterior(
    results: Results | Sequence[Results],
    *,
    limit: ArrayLike,
    prior: Prior = PUBLISHED_SPREAD,
    error_cv: object = None,
) -> Posterior:
    """
    Posterior of the lognormal distribution of exposures in one or many groups.

    Parameters
    ----------
    results : Observations or array_like, or a sequence of these
        Results of one group, or of each group. [mg/m3, or any one unit]
    limit : array_like, a single number or shape (groups,)
        The limit, in the unit of the results.
    prior : SpreadPrior or FlatPrior
        For the spread; by default the one derived from published variance components.
    error_cv : float, array_like, (low, high), or a sequence of these by group; optional
        Coefficient of variation of the measurement error. One number for all rows; one a row (a list or array);
        a tuple of two numbers: unknown, uniform between them, and common to the rows of a group. [-]

    Returns
    -------
    Posterior
        `.quantiles`, `.band_probabilities`, `.probability_above`, `.next_shift_quantiles`, `.notes`.

    Raises
    ------
    ValueError
        A limit is not finite and above 0, the counts do not match, or an error is negative.
    TypeError
        Something is not a number, or `prior` is no prior.

    Notes
    -----
    ln exposure is normal (mu, sigma). A measured result contributes its density, a non-detect Phi((ln LOQ -
    mu)/s), a row between bounds the difference, with s^2 = sigma^2 + ln(1 + CV^2): measurement error is taken as a
    lognormal factor of median 1 [1]_. mu is uniform between ln(limit) - 7 and ln(limit) + 4. The double integral
    is done by Gauss-Legendre quadrature along lines on which the wanted quantity is constant; accuracy and limits
    are in docs/science/group-posterior.md. No random number is drawn.

    References
    ----------
    .. [1] Gelman et al., Bayesian Data Analysis, 3rd ed., 3.2 (normal model) and 8.7 (censored data).
    """
    if not isinstance(prior, Prior):
        raise TypeError(f"`prior` must be a SpreadPrior or a FlatPrior; it is {prior!r}")
    groups = _as_groups(results)
    (limits,) = above(0.0, limit=limit)
    if limits.ndim and limits.size != len(groups):
        raise ValueError(
            f"`limit` must be one number or one for each of the {len(groups)} groups; it has {limits.size}"
        )
    limits = np.broadcast_to(limits, (len(groups),)).astype(np.float64)
    errors, ranges = _row_errors(groups, error_cv)
    n = np.array([group.n for group in groups], dtype=np.int64)
    empty = [np.empty(0)]
    lower = np.concatenate([group.lower for group in groups] or empty)
    upper = np.concatenate([group.upper for group in groups] or empty)
    return posterior_of_rows(lower, upper, n, limits, prior, np.concatenate(errors or empty), ranges)


def posterior_of_rows(
    lower: Array,
    upper: Array,
    n: NDArray[np.int64],
    limits: Array,
    prior: Prior,
    cv: Array,
    ranges: Sequence[tuple[float, float] | None],
) -> Posterior:
    """
    Posterior of groups given as flat columns that were checked before.

    Parameters
    ----------
    lower, upper, cv : ndarray, shape (rows,)
        Bounds and measurement error of the rows, group after group.
    n : ndarray of int, shape (groups,)
        Rows of each group.
    limits : ndarray, shape (groups,)
        In the unit of the rows.
    prior : Prior
        For ln sigma.
    ranges : sequence of (low, high) or None, one a group
        Range of the measurement error where it is uncertain; `cv` does not count there.

    Returns
    -------
    Posterior
    """
    count_of_groups = int(n.size)
    owner = np.repeat(np.arange(count_of_groups), n)
    with np.errstate(divide="ignore"):
        ln_lower = np.log(lower / limits[owner])
        ln_upper = np.log(upper / limits[owner])
    ln_upper = np.where(lower == upper, ln_lower, ln_upper)
    work = Groups(prior)
    uncertain = np.array([r is not None for r in ranges], dtype=bool)
    plain = np.flatnonzero(~uncertain)
    if plain.size:
        place = np.full(count_of_groups, -1)
        place[plain] = np.arange(plain.size)
        kept = ~uncertain[owner] if owner.size else np.zeros(0, dtype=bool)
        work.add(
            Rows(place[owner[kept]], ln_lower[kept], ln_upper[kept], _tau(cv[kept]), plain.size),
            plain,
            np.zeros(1),
        )
    if uncertain.any():
        _add_uncertain(work, ranges, owner, ln_lower, ln_upper)
    exact = lower == upper
    count = np.bincount(owner[exact], minlength=count_of_groups)
    total = np.bincount(owner[exact], weights=ln_lower[exact], minlength=count_of_groups)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = total / count
    same = np.zeros(count_of_groups, dtype=bool)
    if exact.any():
        highest, lowest = np.full(count_of_groups, -np.inf), np.full(count_of_groups, np.inf)
        np.maximum.at(highest, owner[exact], ln_lower[exact])
        np.minimum.at(lowest, owner[exact], ln_lower[exact])
        same = (highest == lowest) & (count == n) & (n > 1)
    detects = np.bincount(owner[lower > 0], minlength=count_of_groups).astype(np.int64)
    return Posterior(limits, prior, n, detects, work, mean, same)


def _add_uncertain(
    work: Groups,
    ranges: Sequence[tuple[float, float] | None],
    owner: Index,
    ln_lower: Array,
    ln_upper: Array,
) -> None:
    """Groups whose measurement error is uniform over a range: each once for each point of a Gauss-Legendre rule."""
    x, w = np.polynomial.legendre.leggauss(_ERROR_POINTS)
    which = np.flatnonzero([r is not None for r in ranges])
    place = np.full(len(ranges), -1)
    place[which] = np.arange(which.size)
    kept = place[owner] >= 0
    ends = np.array([r for r in ranges if r is not None], dtype=np.float64)
    low, high = finite(low=ends[:, 0], high=ends[:, 1])
    cv = (0.5 * (low + high))[:, None] + (0.5 * (high - low))[:, None] * x
    base = place[owner[kept]]
    repeat = np.arange(_ERROR_POINTS)
    position = (base[:, None] * _ERROR_POINTS + repeat).ravel()
    rows = Rows(
        position,
        np.repeat(ln_lower[kept], _ERROR_POINTS),
        np.repeat(ln_upper[kept], _ERROR_POINTS),
        _tau(cv[base].ravel()),
        which.size * _ERROR_POINTS,
    )
    work.add(rows, which, np.log(0.5 * w))
