"""Where a group's posterior lives: the region of (ln sigma, mu) outside which nothing counts.

For each of a set of ln sigma the region is an interval of mu, because the likelihood is log-concave in mu. The
two curves that bound it serve every quantity: along a line of constant 95th percentile, say, they tell between
which ln sigma the density must be integrated.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from lapel.statistics.posterior_rows import Batch, Index
from lapel.statistics.priors import MU_HIGH, MU_LOW, Prior

Array = NDArray[np.float64]

DEPTH = 24.0  # the region ends where the density is e^-24 = 4e-11 of its peak
NODES = 25
_ZOOM_POINTS = 13
_ZOOM_STAGES = 3
_MODE_STEPS = 14
_MODE_PRECISION = 1e-4  # in spreads: the region's bounds need no more
_EDGE_STEPS = 12
_EDGE_PRECISION = 5e-3  # of the square root of the fall


@dataclass(frozen=True)
class Region:
    """
    Bounds of the posterior of g groups at NODES values of ln sigma each.

    `ln_sigma`, `low`, `high`, `mode`: the ln sigma, and there the lowest, highest and most plausible mu.
    `drop`: how far the log density at `mode` lies below its peak. All of shape (g, NODES). `peak`: (g,), the
    largest log density. `edge_drop`: (g,), how far the log density lies below its peak at the ends of mu's range,
    where that is nearest.
    """

    ln_sigma: Array
    low: Array
    high: Array
    mode: Array
    drop: Array
    peak: Array
    edge_drop: Array

    def take(self, which: Index | slice) -> Region:
        """Some of the groups."""
        return Region(*(getattr(self, f.name)[which] for f in fields(self)))


def _start(batch: Batch) -> Array:
    """A first guess of mu, shape (g, 1)."""
    count = batch.count.sum(axis=1)
    exact = (batch.count * batch.mean).sum(axis=1) / np.maximum(count, 1.0)
    weight = np.concatenate([batch.times, 2.0 * batch.often], axis=1)
    place = np.concatenate([batch.bound, 0.5 * (batch.low + batch.high)], axis=1)
    place = np.clip(place, MU_LOW, MU_HIGH)
    censored = (weight * place).sum(axis=1) / np.maximum(weight.sum(axis=1), 1e-300)
    return np.asarray(np.where(count > 0, exact, censored)[:, None])


def conditional_mode(batch: Batch, ln_sigma: Array, start: Array | None = None) -> tuple[Array, Array, Array]:
    """
    Most plausible mu at each ln sigma, within mu's prior range.

    Parameters
    ----------
    batch : Batch
        g groups.
    ln_sigma : ndarray, shape (g, m)
        Where.
    start : ndarray, broadcastable to (g, m), optional
        First guess.

    Returns
    -------
    tuple of three ndarrays, shape (g, m)
        The mu, the log likelihood there, and its second derivative.

    Notes
    -----
    Newton's method, halving the bracket whenever a step would leave it; the log likelihood is concave.
    """
    sigma = np.exp(ln_sigma)
    if batch.only_exact and not batch.has_error:
        mu = np.broadcast_to(np.clip(batch.mean[:, :1], MU_LOW, MU_HIGH), sigma.shape)
        value, _, second = batch.log_likelihood_in_mu(sigma, mu)
        return mu, value, second
    low, high = np.full(sigma.shape, MU_LOW), np.full(sigma.shape, MU_HIGH)
    at_low, at_high = batch.log_likelihood_in_mu(sigma, low), batch.log_likelihood_in_mu(sigma, high)
    # Where it falls from the lower end on, or rises up to the upper end, there is nothing to search.
    falls, rises = at_low[1] <= 0.0, at_high[1] >= 0.0
    settled = falls | rises
    guess = _start(batch) if start is None else start
    mu = np.where(falls, MU_LOW, np.where(rises, MU_HIGH, np.clip(guess, MU_LOW, MU_HIGH)))
    for _ in range(_MODE_STEPS):
        _, first, second = batch.log_likelihood_in_mu(sigma, mu)
        low = np.where(first >= 0.0, mu, low)
        high = np.where(first <= 0.0, mu, high)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            step = -first / second
        there = settled | (first == 0.0) | (np.abs(step) < _MODE_PRECISION * sigma)
        target = mu + step
        inside = (target > low) & (target < high) & ~settled
        mu = np.where(inside, target, np.where(there, mu, 0.5 * (low + high)))
        if there.all():
            break
    value, _, second = batch.log_likelihood_in_mu(sigma, mu)
    for end, there_too in ((MU_LOW, at_low), (MU_HIGH, at_high)):
        better = there_too[0] > value
        mu = np.where(better, end, mu)
        value = np.where(better, there_too[0], value)
        second = np.where(better, there_too[2], second)
    return mu, value, second


def _edge(batch: Batch, sigma: Array, mode: tuple[Array, Array, Array], depth: Array, side: float) -> Array:
    """Where, on one side of the mode, the log likelihood has fallen by `depth`; at most the end of mu's range."""
    mu, top, second = mode
    target = np.sqrt(2.0 * depth)
    end = MU_LOW if side < 0 else MU_HIGH
    with np.errstate(divide="ignore", over="ignore"):
        guess = mu + side * target / np.sqrt(np.maximum(-second, 1e-300))
    inner, outer = np.array(mu), np.full(mu.shape, end)
    at_end, _, _ = batch.log_likelihood_in_mu(sigma, outer)
    whole = top - at_end <= depth
    x = np.where((guess - end) * side < 0.0, guess, 0.5 * (inner + outer))
    there = whole
    precision = _EDGE_PRECISION * np.maximum(target, 0.1)
    for _ in range(_EDGE_STEPS):
        value, first, _ = batch.log_likelihood_in_mu(sigma, x)
        # On the scale of sqrt(2 x fall) a normal likelihood is a straight line.
        fall = np.sqrt(np.maximum(2.0 * (top - value), 0.0))
        beyond = fall >= target
        outer = np.where(beyond, x, outer)
        inner = np.where(beyond, inner, x)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            move = (fall - target) * fall / first
        there = whole | (np.abs(fall - target) <= precision)
        inside = (np.minimum(inner, outer) < x + move) & (x + move < np.maximum(inner, outer))
        x = np.where(inside, x + move, np.where(there, x, 0.5 * (inner + outer)))
        if there.all():
            break
    # A little outside rather than a little inside.
    x = np.where(there, x, outer)
    x = x + side * 0.01 * np.abs(x - mu)
    x = np.where(whole, end, x)
    return np.clip(x, MU_LOW, MU_HIGH)


def _between_nodes(values: Array, place: Array) -> Array:
    """Values at places between equally numbered nodes, on straight lines; shapes (g, nodes), (g, m), (g, m)."""
    node = np.clip(place.astype(np.intp), 0, values.shape[1] - 2)
    rows = np.arange(values.shape[0])[:, None]
    return np.asarray(values[rows, node] + (place - node) * (values[rows, node + 1] - values[rows, node]))


def mode_near(region: Region, ln_sigma: Array) -> Array:
    """
    Most plausible mu at any ln sigma, roughly, from the nodes of the region.

    Parameters
    ----------
    region : Region
        Of g groups, as `find_region` gives it.
    ln_sigma : ndarray, shape (g, m)
        Where, within the region.

    Returns
    -------
    ndarray of float64, shape (g, m)
    """
    first, last = region.ln_sigma[:, :1], region.ln_sigma[:, -1:]
    part = np.clip((ln_sigma - first) / np.maximum(last - first, 1e-300), 0.0, 1.0)
    place = np.arccos(1.0 - 2.0 * part) * ((region.ln_sigma.shape[1] - 1) / np.pi)  # the nodes' own spacing
    return _between_nodes(region.mode, place)


def mu_bounds(
    batch: Batch, ln_sigma: Array, prior: Prior, peak: Array | None = None, start: Array | None = None
) -> Region:
    """
    The region's bounds at given ln sigma.

    Parameters
    ----------
    batch : Batch
        g groups.
    ln_sigma : ndarray, shape (g, m)
        Where.
    prior : Prior
        For ln sigma.
    peak : ndarray, shape (g,), optional
        Largest log density; found among the points when left out.
    start : ndarray, broadcastable to (g, m), optional
        First guess of the most plausible mu.

    Returns
    -------
    Region
        With m nodes.
    """
    sigma = np.exp(ln_sigma)
    mode = conditional_mode(batch, ln_sigma, start)
    density = mode[1] + prior.log_density(ln_sigma)
    peak = density.max(axis=1) if peak is None else peak
    drop = peak[:, None] - density
    depth = np.maximum(DEPTH - drop, 0.0)
    if batch.only_exact and not batch.has_error:
        # In closed form, also when the mean lies outside mu's range.
        mean, count = batch.mean[:, :1], np.maximum(batch.count[:, :1], 1.0)
        extra = 0.5 * count * ((mode[0] - mean) / sigma) ** 2
        half = sigma * np.sqrt(2.0 * (depth + extra) / count)
        low = np.clip(mean - half, MU_LOW, MU_HIGH)
        high = np.clip(mean + half, MU_LOW, MU_HIGH)
    else:
        low = _edge(batch, sigma, mode, depth, -1.0)
        high = _edge(batch, sigma, mode, depth, 1.0)
    at_ends = np.array([batch.log_likelihood(ln_sigma, sigma, np.full((1, 1), end)) for end in (MU_LOW, MU_HIGH)])
    edge_drop = (peak[:, None] - prior.log_density(ln_sigma) - at_ends).min(axis=(0, 2))
    return Region(ln_sigma, low, high, np.array(mode[0]), drop, peak, edge_drop)


def find_region(batch: Batch, prior: Prior) -> Region:
    """
    Find where the posterior of each group lives.

    Parameters
    ----------
    batch : Batch
        g groups.
    prior : Prior
        For ln sigma.

    Returns
    -------
    Region
    """
    lowest, highest = prior.support
    low, high = np.full(batch.size, lowest), np.full(batch.size, highest)
    fraction = np.linspace(0.0, 1.0, _ZOOM_POINTS)
    rows = np.arange(batch.size)
    start = _start(batch)
    for _ in range(_ZOOM_STAGES):
        u = low[:, None] + (high - low)[:, None] * fraction
        mode, value, _ = conditional_mode(batch, u, start)
        density = value + prior.log_density(u)
        within = density > density.max(axis=1)[:, None] - DEPTH
        first = np.maximum(within.argmax(axis=1) - 1, 0)
        last = np.minimum(_ZOOM_POINTS - within[:, ::-1].argmax(axis=1), _ZOOM_POINTS - 1)
        place = first[:, None] + (last - first)[:, None] * fraction
        start = _between_nodes(mode, place)
        low, high = u[rows, first], u[rows, last]
    # Nodes crowd at the ends, where the region closes like a square root.
    crowd = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, NODES))
    u = low[:, None] + (high - low)[:, None] * crowd
    place = (_ZOOM_POINTS - 1) * np.broadcast_to(crowd, u.shape)
    return mu_bounds(batch, u, prior, start=_between_nodes(start, place))


def tightest_bounds(batch: Batch) -> tuple[Array, Array]:
    """Highest bound from below and lowest bound from above among the censored rows, shapes (g,)."""
    above = np.where(batch.sign < 0, batch.bound, MU_LOW).max(axis=1, initial=MU_LOW)
    above = np.maximum(above, batch.low.max(axis=1, initial=MU_LOW))
    below = np.where(batch.sign > 0, batch.bound, MU_HIGH).min(axis=1, initial=MU_HIGH)
    return above, np.minimum(below, batch.high.min(axis=1, initial=MU_HIGH))
