"""Posterior density of one quantity of each group, integrated along the lines on which the quantity is constant.

A quantity t and ln sigma determine mu. The density of t is the joint density integrated along the line of constant
t, between the ends of the posterior's region and of mu's prior range, which are known; so no kink is ever inside an
integral.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from lapel.statistics.posterior_quantity import Quantity
from lapel.statistics.posterior_region import Region, mode_near, mu_bounds, tightest_bounds
from lapel.statistics.posterior_rows import Batch
from lapel.statistics.priors import Prior

Array = NDArray[np.float64]

ALONG = 28  # points along a line of constant t
_POINTS_IN_CACHE = 16_000  # points worked out at once: their arrays stay in the processor's cache
_X_ALONG, _W_ALONG = np.polynomial.legendre.leggauss(ALONG)
# A finer rule along the line for loose posteriors, whose likelihood is a steep step somewhere near its ends.
_PARTS = (-1.0, -0.75, 0.6, 1.0)
_X_STEEP = np.concatenate([0.5 * (a + b) + 0.5 * (b - a) * _X_ALONG for a, b in pairwise(_PARTS)])
_W_STEEP = np.concatenate([0.5 * (b - a) * _W_ALONG for a, b in pairwise(_PARTS)])


def _nodes_short_of(curve: Array, t: Array) -> NDArray[np.intp]:
    """How many nodes lie before the first at which the curve has come down to t; (g, v), (g, q) to (g, q)."""
    lowest_so_far = np.ascontiguousarray(np.minimum.accumulate(curve, axis=1).T)[:, :, None]
    not_yet = (lowest_so_far > t).view(np.uint8)  # counted as bytes: there are never 256 nodes
    return np.asarray(np.add.reduce(not_yet, axis=0, dtype=np.uint8), dtype=np.intp)


def _crossings(curve: Array, u: Array, t: Array, *, below: bool) -> tuple[Array, Array]:
    """
    Between which ln sigma a curve is below (or above) each t, with a margin of part of a node's distance.

    Shapes: curve and u (g, v); t (g, q); results (g, q).
    """
    last_node = u.shape[1] - 1
    side = 1.0 if below else -1.0
    first = _nodes_short_of(side * curve, side * t)
    last = last_node - _nodes_short_of(side * curve[:, ::-1], side * t)
    none = first > last_node
    if none.any():
        nearest = curve.argmin(axis=1) if below else curve.argmax(axis=1)
        nearest = np.broadcast_to(nearest[:, None], first.shape)
        first = np.where(none, nearest, first)
        last = np.where(none, nearest, last)
    rows = np.arange(u.shape[0])[:, None]
    results = []
    for node, step in ((first, -1), (last, 1)):
        beyond = np.clip(node + step, 0, last_node)
        u_in, u_out = u[rows, node], u[rows, beyond]
        c_in, c_out = curve[rows, node], curve[rows, beyond]
        with np.errstate(divide="ignore", invalid="ignore"):
            part = np.where(c_out != c_in, (t - c_in) / (c_out - c_in), 0.0)
        part = np.clip(part, 0.0, 1.0) + 0.25
        results.append(u_in + (u_out - u_in) * np.where(none, 1.0, np.minimum(part, 1.0)))
    return results[0], results[1]


def line_density(
    batch: Batch,
    region: Region,
    quantity: Quantity,
    prior: Prior,
    t: Array,
    peak: Array,
    *,
    steep: bool = False,
) -> Array:
    """
    Posterior density of the quantity, up to e^peak.

    Parameters
    ----------
    batch, region
        g groups and their regions.
    quantity : Quantity
        t.
    prior : Prior
        For ln sigma.
    t : ndarray, shape (g, q)
        Where.
    peak : ndarray, shape (g,)
        Log density that counts as 1.
    steep : bool
        Use the finer rule along the lines.

    Returns
    -------
    ndarray of float64, shape (g, q)
    """
    x, w = (_X_STEEP, _W_STEEP) if steep else (_X_ALONG, _W_ALONG)
    sigma = np.exp(region.ln_sigma)
    low, high = quantity.of(region.low, sigma), quantity.of(region.high, sigma)
    from_low, to_low = _crossings(low, region.ln_sigma, t, below=True)
    from_high, to_high = _crossings(high, region.ln_sigma, t, below=False)
    from_prior, to_prior = quantity.ln_sigma_within(t)
    start = np.maximum(np.maximum(from_low, from_high), from_prior)
    stop = np.minimum(np.minimum(to_low, to_high), to_prior)
    half = 0.5 * np.maximum(stop - start, 0.0)
    middle = np.where(half > 0.0, 0.5 * (start + stop), region.ln_sigma[:, :1])
    density = np.empty(t.shape)
    step = max(1, _POINTS_IN_CACHE // (t.shape[1] * x.size))
    for first in range(0, t.shape[0], step):
        some = slice(first, first + step)
        u = half[some, :, None] * x
        u += middle[some, :, None]
        s = np.exp(u)
        log_density = batch.take(some).log_likelihood(u, s, quantity.mu(t[some, :, None], s))
        log_density += prior.log_density(u)
        if quantity.name == "exceedance":
            log_density += u
        log_density -= peak[some, None, None]
        np.exp(log_density, out=log_density)
        density[some] = log_density @ w
    density *= half
    return density


def spread_density(
    batch: Batch, region: Region, prior: Prior, u: Array, peak: Array, segments: int
) -> tuple[Array, Array, Array]:
    """
    Joint posterior at points (ln sigma, mu), up to e^peak, whose sum over mu is the density of ln sigma.

    Parameters
    ----------
    batch, region
        g groups and their regions.
    prior : Prior
        For ln sigma.
    u : ndarray, shape (g, q)
        Values of ln sigma.
    peak : ndarray, shape (g,)
        Log density that counts as 1.
    segments : int
        1, or 3 where the likelihood may have a plateau in mu: its rise, the plateau, its fall.

    Returns
    -------
    tuple of three ndarrays
        Density of ln sigma, (g, q); mu, (g, q, m); weight of each mu, (g, q, m), which sum to the density.
    """
    bounds = mu_bounds(batch, u, prior, region.peak, mode_near(region, u))
    sigma = np.exp(u)
    edges = [bounds.low, bounds.high]
    if segments == 3:
        # With no exact row all structure lies within 7 spreads of a bound.
        reach = 7.0 * np.sqrt(sigma**2 + batch.bound_tau.max(initial=0.0) ** 2)
        above, below = tightest_bounds(batch)
        rise, fall = above[:, None] + reach, below[:, None] - reach
        third = (bounds.high - bounds.low) / 3.0
        flat = rise < fall
        rise = np.where(flat, rise, bounds.low + third)
        fall = np.where(flat, fall, bounds.high - third)
        edges[1:1] = [np.clip(rise, bounds.low, bounds.high), np.clip(fall, bounds.low, bounds.high)]
    mus, weights = [], []
    for left, right in pairwise(edges):
        half = 0.5 * (right - left)
        mu = (0.5 * (left + right))[:, :, None] + half[:, :, None] * _X_ALONG
        mus.append(mu)
        weights.append(half[:, :, None] * _W_ALONG)
    mu, weight = np.concatenate(mus, axis=2), np.concatenate(weights, axis=2)
    log_density = batch.log_likelihood(u[:, :, None], sigma[:, :, None], mu)
    log_density += (prior.log_density(u) - peak[:, None])[:, :, None]
    weight *= np.exp(log_density)
    return weight.sum(axis=2), mu, weight
