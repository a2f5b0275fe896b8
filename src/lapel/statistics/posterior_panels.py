"""Where the panels of a quantity end, so that a polynomial follows its density in each of them.

From the shape of the region alone: how finely depends on whether the posterior is a single hill, is cut by an end
of a prior's range, or has plateaus because nothing but non-detects holds it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lapel.statistics.posterior_quantity import Quantity
from lapel.statistics.posterior_region import DEPTH, Region, tightest_bounds
from lapel.statistics.posterior_rows import Batch
from lapel.statistics.priors import MU_HIGH, MU_LOW, Prior

Array = NDArray[np.float64]

# Panels end where the density has fallen by these powers of e, on both sides of the peak.
_CUT = (12.0, 6.0, 2.5, 0.5)  # where mu's range cuts the posterior softly
_PLAIN, _FINE = (12.0, 5.0, 1.5), (18.0, 13.0, 9.0, 5.5, 3.0, 1.0, 0.25)
_SPREAD = (9.0, 2.0)  # the spread of one hill
_EDGE_MATTERS = 14.0  # density at an end of mu's prior range above e^-14 of the peak
_LADDER, _LONG_LADDER = 5, 10  # values of sigma whose lines through a corner or a bound end a panel
_LADDER_DEPTH = 12.0


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


def _ladder(batch: Batch, region: Region, quantity: Quantity, rungs: int) -> list[Array]:
    """Values of t near which a loose posterior bends, at every scale of sigma."""
    counts = region.drop <= _LADDER_DEPTH
    first = np.where(counts, region.ln_sigma, np.inf).min(axis=1)
    last = np.where(counts, region.ln_sigma, -np.inf).max(axis=1)
    values = []
    above, below = tightest_bounds(batch)
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
    inner: tuple[float, ...]
    if care >= 2 or at_an_end.any() or (care and quantity.name == "mean"):
        inner = _FINE
    elif care:
        inner = _CUT
    else:
        inner = _PLAIN
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
    for depth in _FINE if care else _SPREAD:
        inside = region.drop <= depth
        edges.append(np.where(inside, region.ln_sigma, np.inf).min(axis=1))
        edges.append(np.where(inside, region.ln_sigma, -np.inf).max(axis=1))
    return np.sort(np.stack(edges, axis=1), axis=1)
