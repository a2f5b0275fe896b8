"""What a group's results, measured or not, leave to be believed about its exposures: exact, without sampling."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lapel.statistics.arguments import above, at_least, finite
from lapel.statistics.observed import Observations, observed
from lapel.statistics.posterior_answers import CATEGORY_BANDS, Note, Posterior
from lapel.statistics.posterior_groups import Groups
from lapel.statistics.posterior_rows import Index, Rows
from lapel.statistics.priors import PUBLISHED_SPREAD, Prior

__all__ = ["CATEGORY_BANDS", "Note", "Posterior", "posterior"]

Array = NDArray[np.float64]
Results = Observations | ArrayLike

_ERROR_POINTS = 16  # values of an uncertain measurement error at which a group is worked out


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
