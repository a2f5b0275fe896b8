"""Rows of many groups, sorted into what the likelihood needs, and that likelihood.

Everything here is in units of the group's limit, on the log scale: ln(result/limit). Rows that carry the same
statement are counted once: exact rows with one measurement error need only their number, mean and sum of squares;
non-detects at one reporting limit are one row with a multiplicity. Groups of like shape are put side by side in a
batch, so that one array operation serves them all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from lapel.statistics.normal_cdf import (
    log_normal_cdf,
    log_normal_cdf_with_slopes,
    log_normal_interval,
)

Array = NDArray[np.float64]
Index = NDArray[np.intp]

_NO_BOUND = 1e3  # ln(bound/limit) so far above any geometric mean that the row says nothing
_LN_ROOT_2PI = 0.9189385332046727


@dataclass(frozen=True)
class Rows:
    """All rows of all groups, one after the other."""

    group: Index  # (rows,) position of the row's group
    lower: Array  # (rows,) ln(lower/limit); -inf for a non-detect
    upper: Array  # (rows,) ln(upper/limit); inf for a right-censored row
    tau: Array  # (rows,) standard deviation of ln measurement error
    groups: int


@dataclass(frozen=True)
class Batch:
    """
    Groups of like shape side by side; g of them. Unused places have multiplicity 0.

    `count`, `mean`, `square`, `exact_tau`: exact rows, (g, e). `bound`, `sign`, `times`, `bound_tau`: rows known
    from one side, (g, c); sign +1 for "below the bound". `low`, `high`, `often`, `interval_tau`: rows between
    bounds, (g, i).
    """

    group: Index
    count: Array
    mean: Array
    square: Array
    exact_tau: Array
    bound: Array
    sign: Array
    times: Array
    bound_tau: Array
    low: Array
    high: Array
    often: Array
    interval_tau: Array

    @property
    def size(self) -> int:
        """Number of groups."""
        return int(self.group.size)

    @property
    def only_exact(self) -> bool:
        """Whether no group here has a censored row."""
        return bool(self.bound.shape[1] == 0 and self.low.shape[1] == 0)

    @property
    def has_error(self) -> bool:
        """Whether some row carries measurement error."""
        return any(bool(tau.any()) for tau in (self.exact_tau, self.bound_tau, self.interval_tau))

    def take(self, which: Index | slice) -> Batch:
        """Some of the groups."""
        return Batch(*(getattr(self, f.name)[which] for f in fields(self)))

    def log_likelihood(self, ln_sigma: Array, sigma: Array, mu: Array) -> Array:
        """Log likelihood at points of each group; see the function of this name."""
        return log_likelihood(self, ln_sigma, sigma, mu)

    def log_likelihood_in_mu(self, sigma: Array, mu: Array) -> tuple[Array, Array, Array]:
        """Log likelihood with its derivatives in mu; see the function of this name."""
        return log_likelihood_in_mu(self, sigma, mu)


def _runs(keys: tuple[Array, ...]) -> tuple[Index, Index]:
    """Order that brings equal keys together, and where each run starts in that order."""
    order = np.lexsort(keys[::-1])
    if order.size == 0:
        return order, np.empty(0, dtype=np.intp)
    new = np.zeros(order.size, dtype=bool)
    new[0] = True
    for key in keys:
        ordered = key[order]
        new[1:] |= ordered[1:] != ordered[:-1]
    return order, np.flatnonzero(new)


def _padded_size(counts: NDArray[np.int64]) -> NDArray[np.int64]:
    """Smallest of 0, 1, 2, 4, 8, ... that holds each count: few shapes, little padding."""
    powers = np.ceil(np.log2(np.maximum(counts, 1))).astype(np.int64)
    return np.where(counts == 0, 0, 2**powers)


class _Entries:
    """Entries of one kind (exact blocks, one-sided bounds, intervals), sorted by group."""

    def __init__(self, groups: int, group: Index, columns: tuple[Array, ...]) -> None:
        self.group = group
        self.columns = columns
        self.count = np.bincount(group, minlength=groups).astype(np.int64)
        self.start = np.concatenate([[0], np.cumsum(self.count)])[:-1]

    def table(self, which: Index, width: int, fill: tuple[float, ...]) -> list[Array]:
        """The entries of some groups as rectangles (groups, width)."""
        position = np.arange(width)
        held = position[None, :] < self.count[which][:, None]
        index = np.where(held, self.start[which][:, None] + position, 0)
        out = []
        for column, empty in zip(self.columns, fill, strict=True):
            values = column[index] if column.size else np.full(index.shape, empty)
            out.append(np.where(held, values, empty))
        return out


def _exact_blocks(rows: Rows) -> _Entries:
    keep = np.flatnonzero(rows.lower == rows.upper)
    group, value, tau = rows.group[keep], rows.lower[keep], rows.tau[keep]
    order, start = _runs((group.astype(np.float64), tau))
    value = value[order]
    count = np.diff(np.append(start, value.size)).astype(np.float64)
    if start.size == 0:
        empty = np.empty(0)
        return _Entries(rows.groups, group, (empty, empty, empty, empty))
    mean = np.add.reduceat(value, start) / count
    spread = value - np.repeat(mean, count.astype(np.intp))
    # One step of refinement: the mean of the residuals is the rounding error of the mean.
    correction = np.add.reduceat(spread, start) / count
    square = np.maximum(np.add.reduceat(spread * spread, start) - count * correction**2, 0.0)
    return _Entries(rows.groups, group[order][start], (count, mean + correction, square, tau[order][start]))


def _bounds(rows: Rows) -> _Entries:
    below, beyond = np.isneginf(rows.lower), np.isposinf(rows.upper)
    keep = np.flatnonzero(below | beyond)
    sign = np.where(below[keep], 1.0, -1.0)
    bound = np.where(below[keep], rows.upper[keep], rows.lower[keep])
    group, tau = rows.group[keep], rows.tau[keep]
    order, start = _runs((group.astype(np.float64), sign, bound, tau))
    times = np.diff(np.append(start, order.size)).astype(np.float64)
    return _Entries(
        rows.groups,
        group[order][start],
        (bound[order][start], sign[order][start], times, tau[order][start]),
    )


def _intervals(rows: Rows) -> _Entries:
    keep = np.flatnonzero(np.isfinite(rows.lower) & np.isfinite(rows.upper) & (rows.lower < rows.upper))
    group, tau, low, high = rows.group[keep], rows.tau[keep], rows.lower[keep], rows.upper[keep]
    order, start = _runs((group.astype(np.float64), low, high, tau))
    often = np.diff(np.append(start, order.size)).astype(np.float64)
    return _Entries(rows.groups, group[order][start], (low[order][start], high[order][start], often, tau[order][start]))


def batches(rows: Rows) -> Iterator[Batch]:
    """
    Groups of like shape side by side.

    Parameters
    ----------
    rows : Rows
        All rows of all groups.

    Yields
    ------
    Batch
        Every group is in one batch.
    """
    exact, bounds, intervals = _exact_blocks(rows), _bounds(rows), _intervals(rows)
    e = np.maximum(_padded_size(exact.count), 1)
    i = _padded_size(intervals.count)
    # A group without any row, and one of intervals only, gets one place for a bound that says nothing.
    c = _padded_size(bounds.count)
    c = np.where((exact.count == 0) & (i == 0), np.maximum(c, 1), c)
    shape = np.stack([e, c, i], axis=1)
    kinds, kind = np.unique(shape, axis=0, return_inverse=True)
    for number, (e_size, c_size, i_size) in enumerate(kinds.tolist()):
        which = np.flatnonzero(kind.ravel() == number)
        yield Batch(
            which,
            *exact.table(which, e_size, (0.0, 0.0, 0.0, 0.0)),
            *bounds.table(which, c_size, (_NO_BOUND, 1.0, 0.0, 0.0)),
            *intervals.table(which, i_size, (-_NO_BOUND, _NO_BOUND, 0.0, 0.0)),
        )


def _over(column: Array, dimensions: int) -> Array:
    """A column of the batch, shaped to be spread over the points of each group."""
    return column.reshape(column.shape[0], *(1,) * (dimensions - 1))


def _scale(sigma: Array, tau: Array) -> Array:
    """Spread of a measured value: of the exposures and of the measurement together."""
    return np.sqrt(sigma * sigma + tau * tau) if tau.any() else sigma


def log_likelihood(batch: Batch, ln_sigma: Array, sigma: Array, mu: Array) -> Array:
    """
    Log likelihood of each group at its own points.

    Parameters
    ----------
    batch : Batch
        g groups.
    ln_sigma, sigma, mu : ndarray, broadcastable to shape (g, ...)
        Points; `sigma` = exp(`ln_sigma`).

    Returns
    -------
    ndarray of float64, shape (g, ...)
        Log likelihood up to a constant of the data. [-]

    Notes
    -----
    An exact row adds ln phi((y - mu)/s) - ln s, a row from one side ln Phi of the standardised distance to its
    bound, a row between bounds ln of the difference, each with s^2 = sigma^2 + tau^2 where tau is the standard
    deviation of the logarithm of the measurement error.
    """
    nd = max(ln_sigma.ndim, mu.ndim)
    total: Array | float = 0.0
    inverse: Array | None = None
    for j in range(batch.count.shape[1]):
        if not batch.count[:, j].any():
            continue
        count = _over(batch.count[:, j], nd)
        tau = _over(batch.exact_tau[:, j], nd)
        away = mu - _over(batch.mean[:, j], nd)
        away = away * away
        away *= -0.5 * count
        away -= 0.5 * _over(batch.square[:, j], nd)
        if tau.any():
            variance = sigma * sigma + tau * tau
            total = total + (away / variance - 0.5 * count * np.log(variance))
        else:
            inverse = 1.0 / sigma if inverse is None else inverse
            away = away * (inverse * inverse)
            away -= count * ln_sigma
            total = total + away
    for j in range(batch.bound.shape[1]):
        tau = _over(batch.bound_tau[:, j], nd)
        away = _over(batch.bound[:, j], nd) - mu
        if tau.any():
            z = away / _scale(sigma, tau)
        else:
            inverse = 1.0 / sigma if inverse is None else inverse
            z = away * inverse
        sign = batch.sign[:, j]
        if (sign < 0).any():
            z *= _over(sign, nd)
        term = log_normal_cdf(z)
        times = batch.times[:, j]
        if not bool(np.all(times == 1.0)):
            term *= _over(times, nd)
        total = total + term
    for j in range(batch.low.shape[1]):
        scale = _scale(sigma, _over(batch.interval_tau[:, j], nd))
        low = (_over(batch.low[:, j], nd) - mu) / scale
        high = (_over(batch.high[:, j], nd) - mu) / scale
        total = total + _over(batch.often[:, j], nd) * log_normal_interval(low, high)
    return np.asarray(total, dtype=np.float64)


def log_likelihood_in_mu(batch: Batch, sigma: Array, mu: Array) -> tuple[Array, Array, Array]:
    """
    Log likelihood with its first two derivatives in mu.

    Parameters
    ----------
    batch : Batch
        g groups.
    sigma, mu : ndarray, shape (g, m)
        Points.

    Returns
    -------
    tuple of three ndarrays, shape (g, m)
        The log likelihood and its derivatives; it is concave in mu.
    """
    shape = np.broadcast_shapes(sigma.shape, mu.shape)
    value, first, second = np.zeros(shape), np.zeros(shape), np.zeros(shape)
    for j in range(batch.count.shape[1]):
        variance = sigma * sigma + batch.exact_tau[:, j, None] ** 2
        away = mu - batch.mean[:, j, None]
        count = batch.count[:, j, None]
        value -= 0.5 * (count * away * away + batch.square[:, j, None]) / variance
        value -= 0.5 * count * np.log(variance)
        first -= count * away / variance
        second -= count / variance
    for j in range(batch.bound.shape[1]):
        scale = _scale(sigma, batch.bound_tau[:, j, None])
        sign, times = batch.sign[:, j, None], batch.times[:, j, None]
        term, slope, bend = log_normal_cdf_with_slopes(sign * (batch.bound[:, j, None] - mu) / scale)
        value += times * term
        first -= times * sign * slope / scale
        second += times * bend / (scale * scale)
    for j in range(batch.low.shape[1]):
        scale = _scale(sigma, batch.interval_tau[:, j, None])
        low = (batch.low[:, j, None] - mu) / scale
        high = (batch.high[:, j, None] - mu) / scale
        often = batch.often[:, j, None]
        term = log_normal_interval(low, high)
        at_low = np.exp(-0.5 * low * low - _LN_ROOT_2PI - term)
        at_high = np.exp(-0.5 * high * high - _LN_ROOT_2PI - term)
        difference = at_high - at_low
        value += often * term
        first -= often * difference / scale
        second -= often * (high * at_high - low * at_low + difference * difference) / (scale * scale)
    return value, first, second
