"""Posterior of one quantity of each group, as piecewise polynomials that can be integrated exactly.

The density is known at the Gauss-Legendre points of panels of t; between them it is the polynomial through those
points, whose integral is known in closed form.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

Array = NDArray[np.float64]

PANEL = 10  # points across each panel of t
_SETTLED = 1e-9  # of half a panel: the error left by Newton's last step is the square of it
_X_PANEL, _W_PANEL = np.polynomial.legendre.leggauss(PANEL)
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

    def _of_panels(self, panel: NDArray[np.intp]) -> Array:
        """Coefficients of the panels with these numbers, (g, q), one degree after the other: (PANEL, g, q)."""
        rows = np.arange(self.edges.shape[0])[:, None]
        return np.ascontiguousarray(np.moveaxis(self.coefficients[rows, panel], 2, 0))

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
        integral, _ = _within(self._of_panels(panel), x)
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
        c = self._of_panels(panel)
        for _ in range(40):
            integral, density = _within(c, x)
            value = base + half * integral
            low = np.where(value <= p, x, low)
            high = np.where(value >= p, x, high)
            with np.errstate(divide="ignore", invalid="ignore"):
                probit = ndtri(value)
                slope = half * density * np.sqrt(2.0 * np.pi) * np.exp(0.5 * probit * probit)
                step = x - (probit - wanted) / slope
            # At the root a bracket's end is x itself and rounding decides on which side the step falls: not a reason
            # to halve the bracket.
            settled = np.abs(step - x) < _SETTLED
            good = settled | ((step > low) & (step < high))
            x = np.where(good, np.clip(step, low, high), 0.5 * (low + high))
            if settled.all():
                break
        return np.asarray(left + half * (x + 1.0))


def _within(c: Array, x: Array) -> tuple[Array, Array]:
    """
    Integral from the panel's left edge, and density, both per unit of x in [-1, 1].

    Shapes: c, Legendre coefficients, (PANEL, g, q); x and results (g, q). By the recurrence of the polynomials;
    (2k + 1) times the integral of the k-th is the difference of the next and the one before.
    """
    before, now = np.ones_like(x), x
    density = c[0] + c[1] * x
    integral = c[0] * (x + 1.0)
    for k in range(1, PANEL):
        after = ((2 * k + 1) / (k + 1)) * x * now
        after -= (k / (k + 1)) * before
        integral += (c[k] / (2 * k + 1)) * (after - before)
        if k + 1 < PANEL:
            density += c[k + 1] * after
        before, now = now, after
    return integral, density


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
