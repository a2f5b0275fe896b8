"""Posterior density of one quantity of each group, as piecewise polynomials that can be integrated exactly.

A quantity t (ln GM, ln P95, ln mean, the probit of the exceedance) and ln sigma determine mu. The density of t is
the joint density integrated along the line of constant t, between the ends of the posterior's region and of mu's
prior range, which are known; so no kink is ever inside an integral. Gauss-Legendre along the line, Gauss-Legendre
panels across.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from lapel.statistics.posterior_region import DEPTH, Region, mu_bounds
from lapel.statistics.posterior_rows import Batch
from lapel.statistics.priors import MU_HIGH, MU_LOW, Prior

Array = NDArray[np.float64]

Z95 = 1.6448536269514722  # 95th percentile of the standard normal distribution

ALONG = 28  # points along a line of constant t
PANEL = 10  # points across each panel of t

# Panels end where the density has fallen by these powers of e, on both sides of the peak.
_CUT = (15.0, 8.0, 3.0, 0.75)  # where mu's range cuts the posterior softly
_PLAIN, _SKEWED, _FINE = (9.0, 2.0), (14.0, 6.0, 2.0), (18.0, 13.0, 9.0, 5.5, 3.0, 1.0, 0.25)
_EDGE_MATTERS = 14.0  # density at an end of mu's prior range above e^-14 of the peak
_LADDER, _LONG_LADDER = 5, 10  # values of sigma whose lines through a corner or a bound end a panel
_LADDER_DEPTH = 12.0

_X_ALONG, _W_ALONG = np.polynomial.legendre.leggauss(ALONG)
_X_PANEL, _W_PANEL = np.polynomial.legendre.leggauss(PANEL)
# A finer rule along the line for loose posteriors, whose likelihood is a steep step somewhere near its ends.
_PARTS = (-1.0, -0.75, 0.6, 1.0)
_X_STEEP = np.concatenate([0.5 * (a + b) + 0.5 * (b - a) * _X_ALONG for a, b in pairwise(_PARTS)])
_W_STEEP = np.concatenate([0.5 * (b - a) * _W_ALONG for a, b in pairwise(_PARTS)])
# Values at the panel's points -> coefficients of Legendre polynomials.
_TO_LEGENDRE = (
    _W_PANEL[:, None] * np.polynomial.legendre.legvander(_X_PANEL, PANEL - 1) * (2 * np.arange(PANEL) + 1) / 2.0
)


@dataclass(frozen=True)
class Marginal:
    """
    Posterior of one quantity t for g groups: p panels each, a polynomial in each.

    Attributes
    ----------
    edges : ndarray, shape (g, p + 1)
        Ends of the panels, rising.
    coefficients : ndarray, shape (g, p, PANEL)
        Legendre coefficients of the density of t in each panel, the whole integrating to 1.
    below : ndarray, shape (g, p + 1)
        Probability below each edge.
    log_evidence : ndarray, shape (g,)
        Logarithm of the integral of likelihood times prior, up to a constant of the data.
    """

    edges: Array
    coefficients: Array
    below: Array
    log_evidence: Array

    def _in_panel(self, panel: NDArray[np.intp], x: Array) -> tuple[Array, Array]:
        """Integral from the panel's left edge and density, both per unit of x in [-1, 1]; shapes (g, q)."""
        rows = np.arange(self.edges.shape[0])[:, None]
        c = self.coefficients[rows, panel]
        before, now = np.ones_like(x), x
        density = c[..., 0] + c[..., 1] * x
        integral = c[..., 0] * (x + 1.0)
        for k in range(1, PANEL):
            after = ((2 * k + 1) * x * now - k * before) / (k + 1)
            integral += c[..., k] * (after - before) / (2 * k + 1)
            if k + 1 < PANEL:
                density += c[..., k + 1] * after
            before, now = now, after
        return integral, density

    def cdf(self, t: Array) -> Array:
        """
        Probability that the quantity is at most t.

        Parameters
        ----------
        t : ndarray, shape (g, q)
            Where, group by group.

        Returns
        -------
        ndarray of float64, shape (g, q)
        """
        panels = self.edges.shape[1] - 1
        panel = (t[:, :, None] >= self.edges[:, None, 1:-1]).sum(axis=2)
        rows = np.arange(t.shape[0])[:, None]
        left, right = self.edges[rows, panel], self.edges[rows, panel + 1]
        half = 0.5 * (right - left)
        with np.errstate(divide="ignore", invalid="ignore"):
            x = np.where(half > 0.0, (t - left) / half - 1.0, -1.0)
        x = np.clip(x, -1.0, 1.0)
        integral, _ = self._in_panel(panel, x)
        result = self.below[rows, panel] + half * integral
        result = np.where(t >= self.edges[:, panels, None], 1.0, result)
        return np.clip(result, 0.0, 1.0)

    def quantiles(self, probabilities: Array) -> Array:
        """
        Values below which the quantity lies with the given probabilities.

        Parameters
        ----------
        probabilities : ndarray, shape (q,)
            Strictly between 0 and 1.

        Returns
        -------
        ndarray of float64, shape (g, q)

        Notes
        -----
        Newton's method on the probit of the distribution function, which is nearly a straight line, inside a
        bracket that only shrinks.
        """
        groups = self.edges.shape[0]
        p = np.broadcast_to(probabilities, (groups, probabilities.size))
        panel = (p[:, :, None] >= self.below[:, None, 1:-1]).sum(axis=2)
        rows = np.arange(groups)[:, None]
        left, right = self.edges[rows, panel], self.edges[rows, panel + 1]
        half, base = 0.5 * (right - left), self.below[rows, panel]
        wanted = ndtri(p)
        share = (p - base) / np.maximum(self.below[rows, panel + 1] - base, 1e-300)
        low, high = np.full(p.shape, -1.0), np.full(p.shape, 1.0)
        x = np.clip(2.0 * share - 1.0, -0.999, 0.999)
        for _ in range(40):
            integral, density = self._in_panel(panel, x)
            value = base + half * integral
            low = np.where(value <= p, x, low)
            high = np.where(value >= p, x, high)
            with np.errstate(divide="ignore", invalid="ignore"):
                probit = ndtri(value)
                slope = half * density * np.sqrt(2.0 * np.pi) * np.exp(0.5 * probit * probit)
                step = x - (probit - wanted) / slope
            good = (step > low) & (step < high)
            new = np.where(good, step, 0.5 * (low + high))
            moved = np.abs(new - x).max(initial=0.0)
            x = new
            if moved < 1e-13:
                break
        return np.asarray(left + half * (x + 1.0))


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


def _level_bounds(region: Region, quantity: Quantity, depth: float) -> tuple[Array, Array]:
    """Lowest and highest t where the density is within e^-depth of its peak, roughly; shapes (g,)."""
    sigma = np.exp(region.ln_sigma)
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.sqrt(np.clip((depth - region.drop) / np.maximum(DEPTH - region.drop, 1e-9), 0.0, 1.0))
    low = quantity.of(region.mode - (region.mode - region.low) * part, sigma)
    high = quantity.of(region.mode + (region.high - region.mode) * part, sigma)
    inside = region.drop <= depth
    return np.where(inside, low, np.inf).min(axis=1), np.where(inside, high, -np.inf).max(axis=1)


def care_needed(batch: Batch, region: Region, prior: Prior) -> NDArray[np.int8]:
    """
    How finely the posterior of each group must be divided.

    Parameters
    ----------
    batch, region
        g groups and their regions.
    prior : Prior
        For ln sigma.

    Returns
    -------
    ndarray of int8, shape (g,)
        0: a single hill. 1: an end of mu's range or of the spread's range cuts it where it still counts.
        2: no exact row holds it together, so that it has plateaus with steep sides. 3: besides, or with one or
        two exact rows, the spread's range has an end that counts.
    """
    low, high = prior.support
    reaches_low = (region.ln_sigma[:, 0] <= low) & (region.drop[:, 0] < _EDGE_MATTERS)
    reaches_high = (region.ln_sigma[:, -1] >= high) & (region.drop[:, -1] < _EDGE_MATTERS)
    ends = reaches_low | reaches_high
    cut = (region.edge_drop < _EDGE_MATTERS) | ends
    exact = batch.count.sum(axis=1)
    care = np.where(exact == 0, 2, np.where(cut, 1, 0))
    return np.where((exact <= 2) & ends, 3, care).astype(np.int8)


def _tightest_bounds(batch: Batch) -> tuple[Array, Array]:
    """Highest bound from below and lowest bound from above among the censored rows, shapes (g,)."""
    above = np.where(batch.sign < 0, batch.bound, MU_LOW).max(axis=1, initial=MU_LOW)
    above = np.maximum(above, batch.low.max(axis=1, initial=MU_LOW))
    below = np.where(batch.sign > 0, batch.bound, MU_HIGH).min(axis=1, initial=MU_HIGH)
    return above, np.minimum(below, batch.high.min(axis=1, initial=MU_HIGH))


def _ladder(batch: Batch, region: Region, quantity: Quantity, rungs: int) -> list[Array]:
    """Values of t near which a loose posterior bends, at every scale of sigma."""
    counts = region.drop <= _LADDER_DEPTH
    first = np.where(counts, region.ln_sigma, np.inf).min(axis=1)
    last = np.where(counts, region.ln_sigma, -np.inf).max(axis=1)
    values = []
    above, below = _tightest_bounds(batch)
    for part in np.linspace(0.0, 1.0, rungs):
        sigma = np.exp(first + (last - first) * part)
        values += [quantity.of(np.full(sigma.shape, end), sigma) for end in (MU_LOW, MU_HIGH)]
        for bound in (above, below):
            if quantity.name == "exceedance":
                values.append(bound / sigma)
            else:
                values += [bound - 3.0 * sigma, bound + 3.0 * sigma]
    return values


def panel_edges(batch: Batch, region: Region, quantity: Quantity, prior: Prior, *, care: int) -> Array:
    """
    Ends of the panels of t, from the shape of the region.

    Parameters
    ----------
    batch, region
        g groups and their regions.
    quantity : Quantity
        t.
    prior : Prior
        Its support's ends are corners of the posterior where the density does not vanish.
    care : int
        From `care_needed`.

    Returns
    -------
    ndarray of float64, shape (g, p + 1)
        Rising; panels may have no width.
    """
    at_an_end = (region.ln_sigma[:, 0] <= prior.support[0]) | (region.ln_sigma[:, -1] >= prior.support[1])
    bell = quantity.name in ("gm", "p95")
    inner: tuple[float, ...]
    if care >= 2 or at_an_end.any() or (care and quantity.name == "mean"):
        inner = _FINE
    elif care:
        inner = _CUT
    else:
        inner = _PLAIN if bell else _SKEWED
    best = region.drop.argmin(axis=1)
    rows = np.arange(best.size)
    u = region.ln_sigma[rows, best]
    edges = [quantity.of(region.mode[rows, best], np.exp(u))]
    for depth in (DEPTH, *inner):
        edges.extend(_level_bounds(region, quantity, depth))
    if care and (quantity.name == "mean" or at_an_end.any()):
        # The upper tail is as long as sigma, or sigma squared, may be: panels that grow with it.
        for node in range(region.ln_sigma.shape[1] // 2, region.ln_sigma.shape[1] - 1, 2):
            edges.append(quantity.of(region.mode[:, node], np.exp(region.ln_sigma[:, node])))
    if care and at_an_end.any():
        ends = np.exp(np.array(prior.support))
        for end in (MU_LOW, MU_HIGH):
            edges.extend(np.full(best.size, float(quantity.of(np.array(end), s))) for s in ends)
    if care >= 2:
        edges += _ladder(batch, region, quantity, _LADDER if care == 2 else _LONG_LADDER)
    table = np.stack(edges, axis=1)
    lowest, highest = edges[1][:, None], edges[2][:, None]
    return np.sort(np.clip(table, lowest, highest), axis=1)


def _crossings(curve: Array, u: Array, t: Array, *, below: bool) -> tuple[Array, Array]:
    """
    Between which ln sigma a curve is below (or above) each t, with a margin of part of a node's distance.

    Shapes: curve and u (g, v); t (g, q); results (g, q).
    """
    inside = curve[:, None, :] <= t[:, :, None] if below else curve[:, None, :] >= t[:, :, None]
    none = ~inside.any(axis=2)
    last_node = u.shape[1] - 1
    first = inside.argmax(axis=2)
    last = last_node - inside[:, :, ::-1].argmax(axis=2)
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
    u = half[:, :, None] * x
    u += middle[:, :, None]
    s = np.exp(u)
    log_density = batch.log_likelihood(u, s, quantity.mu(t[:, :, None], s))
    log_density += prior.log_density(u)
    if quantity.name == "exceedance":
        log_density += u
    log_density -= peak[:, None, None]
    np.exp(log_density, out=log_density)
    return np.asarray(half * (log_density @ w), dtype=np.float64)


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
    bounds = mu_bounds(batch, u, prior, region.peak)
    sigma = np.exp(u)
    edges = [bounds.low, bounds.high]
    if segments == 3:
        # With no exact row all structure lies within 7 spreads of a bound.
        reach = 7.0 * np.sqrt(sigma**2 + batch.bound_tau.max(initial=0.0) ** 2)
        above, below = _tightest_bounds(batch)
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


def panel_points(edges: Array) -> Array:
    """Points of all panels, shape (g, p * PANEL)."""
    half = 0.5 * np.diff(edges, axis=1)
    middle = 0.5 * (edges[:, 1:] + edges[:, :-1])
    points = middle[:, :, None] + half[:, :, None] * _X_PANEL
    return points.reshape(edges.shape[0], -1)


def panel_weights(edges: Array) -> Array:
    """Weights of the points of all panels, shape (g, p * PANEL)."""
    half = 0.5 * np.diff(edges, axis=1)
    return (half[:, :, None] * _W_PANEL).reshape(edges.shape[0], -1)


def assemble(edges: Array, density: Array, peak: Array) -> Marginal:
    """
    Make the distribution of a quantity out of its density at the panels' points.

    Parameters
    ----------
    edges : ndarray, shape (g, p + 1)
        Ends of the panels.
    density : ndarray, shape (g, p * PANEL)
        Density at `panel_points`, up to e^peak.
    peak : ndarray, shape (g,)
        Log density that counts as 1.

    Returns
    -------
    Marginal
    """
    groups, panels = edges.shape[0], edges.shape[1] - 1
    coefficients = density.reshape(groups, panels, PANEL) @ _TO_LEGENDRE
    mass = coefficients[:, :, 0] * np.diff(edges, axis=1)
    total = mass.sum(axis=1)
    below = np.zeros_like(edges)
    np.cumsum(mass, axis=1, out=below[:, 1:])
    below /= total[:, None]
    coefficients /= total[:, None, None]
    return Marginal(edges, coefficients, below, np.log(total) + peak)


def probability(z: Array) -> Array:
    """Exceedance whose probit is z."""
    return np.asarray(ndtr(z), dtype=np.float64)


def spread_edges(region: Region, *, care: int) -> Array:
    """
    Ends of the panels of ln sigma, from the shape of the region.

    Parameters
    ----------
    region : Region
        Of g groups.
    care : int
        From `care_needed`.

    Returns
    -------
    ndarray of float64, shape (g, p + 1)
        Rising; panels may have no width.
    """
    best = region.drop.argmin(axis=1)
    edges = [region.ln_sigma[:, 0], region.ln_sigma[:, -1], region.ln_sigma[np.arange(best.size), best]]
    for depth in _FINE if care else _PLAIN:
        inside = region.drop <= depth
        edges.append(np.where(inside, region.ln_sigma, np.inf).min(axis=1))
        edges.append(np.where(inside, region.ln_sigma, -np.inf).max(axis=1))
    return np.sort(np.stack(edges, axis=1), axis=1)
