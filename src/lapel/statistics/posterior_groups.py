"""Groups made ready for the posterior, and the distribution of each quantity worked out piece by piece.

An uncertain measurement error is one more dimension to integrate over: each group is repeated once for each value
of the error, and the repeats are added up along common points.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from lapel.statistics.posterior_lines import ALONG, line_density, spread_density
from lapel.statistics.posterior_marginal import PANEL, Marginal, assemble, panel_points, panel_weights
from lapel.statistics.posterior_panels import care_needed, panel_edges, spread_edges
from lapel.statistics.posterior_quantity import Quantity
from lapel.statistics.posterior_region import NODES, Region, find_region
from lapel.statistics.posterior_rows import Batch, Index, Rows, batches
from lapel.statistics.priors import Prior

Array = NDArray[np.float64]

_POINTS_AT_ONCE = 160_000  # so that memory stays small however many groups there are


@dataclass(frozen=True)
class Piece:
    """
    Groups that are worked out alike: the same shape of rows and the same care.

    `repeats` consecutive places of `batch` and `region` are one group, once for each value of the measurement
    error; `log_weight` holds the weight of each, shape (repeats,). `group` names the groups, shape (places /
    repeats,).
    """

    batch: Batch
    region: Region
    care: int
    repeats: int
    log_weight: Array
    group: Index

    def chunks(self, points: int) -> Iterator[slice]:
        """Groups at a time, so that `points` points each fit the working memory."""
        step = max(1, _POINTS_AT_ONCE // (points * self.repeats))
        return (slice(s, min(s + step, self.group.size)) for s in range(0, self.group.size, step))

    def places(self, groups: slice) -> slice:
        """Where some groups are in the batch."""
        return slice(groups.start * self.repeats, groups.stop * self.repeats)


@dataclass
class Groups:
    """All groups, in pieces, with what has been worked out so far."""

    prior: Prior
    pieces: list[Piece] = field(default_factory=list)
    known: dict[str, list[Marginal]] = field(default_factory=dict)

    def add(self, rows: Rows, names: Index, log_weight: Array) -> None:
        """
        Take in rows of groups.

        Parameters
        ----------
        rows : Rows
            Group k, repeated r times, has positions k*r to k*r + r - 1.
        names : ndarray of int, shape (groups,)
            Position of each group in the answer.
        log_weight : ndarray, shape (r,)
            Weight of each repeat.
        """
        repeats = log_weight.size
        for batch in batches(rows):
            step = max(repeats, _POINTS_AT_ONCE // (2 * NODES) // repeats * repeats)
            parts = [find_region(batch.take(slice(s, s + step)), self.prior) for s in range(0, batch.size, step)]
            region = Region(*(np.concatenate(columns) for columns in zip(*map(_columns, parts), strict=True)))
            care = care_needed(batch, region, self.prior).reshape(-1, repeats).max(axis=1)
            if repeats > 1:
                care = np.maximum(care, 1)
            for level in np.unique(care).tolist():
                which = np.flatnonzero(care == level)
                places = (which[:, None] * repeats + np.arange(repeats)).ravel()
                self.pieces.append(
                    Piece(
                        batch.take(places),
                        region.take(places),
                        int(level),
                        repeats,
                        log_weight,
                        names[batch.group[places[::repeats]] // repeats],
                    )
                )

    def marginal(self, name: str) -> list[Marginal]:
        """The distribution of a quantity, one entry a piece."""
        if name not in self.known:
            work = _spread_marginal if name == "gsd" else _line_marginal
            self.known[name] = [work(piece, name, self.prior) for piece in self.pieces]
        return self.known[name]

    def joint(self) -> Iterator[tuple[Index, Array, Array, Array]]:
        """
        The whole posterior as weighted points, a few groups at a time.

        Yields
        ------
        tuple
            Positions of the groups, (k,); mu, sigma and weight of each point, (k, points). Weights sum to 1.
        """
        for piece in self.pieces:
            edges = _common_edges(piece, spread_edges(piece.region, care=piece.care))
            segments = 3 if piece.care >= 2 else 1
            for groups in piece.chunks((edges.shape[1] - 1) * PANEL * ALONG * segments):
                u = panel_points(edges[groups])
                sigma = np.exp(u)
                _, mu, weight = _spread(piece, groups, u, self.prior)
                weight *= panel_weights(edges[groups])[:, :, None]
                shape = (u.shape[0], -1)
                weight = weight.reshape(shape)
                weight /= weight.sum(axis=1, keepdims=True)
                sigmas = np.broadcast_to(sigma[:, :, None], mu.shape).reshape(shape)
                yield piece.group[groups], mu.reshape(shape), sigmas, weight


def _columns(region: Region) -> tuple[Array, ...]:
    return (
        region.ln_sigma,
        region.low,
        region.high,
        region.mode,
        region.drop,
        region.peak,
        region.edge_drop,
    )


def _common_edges(piece: Piece, edges: Array) -> Array:
    """Panels that serve all repeats of a group: the widest ends, the inner edges weighed by plausibility."""
    if piece.repeats == 1:
        return edges
    stacked = edges.reshape(-1, piece.repeats, edges.shape[1])
    weight = _repeat_weight(piece)[:, :, None]
    inner = (weight * stacked).sum(axis=1) / weight.sum(axis=1)
    lowest, highest = stacked[:, :, 0].min(axis=1), stacked[:, :, -1].max(axis=1)
    ends = np.stack([inner[:, 0], inner[:, -1]], axis=1)
    inner[:, 0], inner[:, -1] = lowest, highest
    return np.sort(np.concatenate([inner, ends], axis=1), axis=1)


def _repeat_weight(piece: Piece) -> Array:
    """Plausibility of each value of the measurement error, by the peak alone; (groups, repeats)."""
    peak = piece.region.peak.reshape(-1, piece.repeats) + piece.log_weight
    return np.asarray(np.exp(peak - peak.max(axis=1, keepdims=True)))


def _group_peak(piece: Piece) -> Array:
    return np.asarray(piece.region.peak.reshape(-1, piece.repeats).max(axis=1))


def _add_repeats(piece: Piece, density: Array) -> Array:
    """Sum over the values of the measurement error; (places, ...) to (groups, ...)."""
    if piece.repeats == 1:
        return density
    stacked = density.reshape(-1, piece.repeats, *density.shape[1:])
    return np.asarray(np.tensordot(np.exp(piece.log_weight), stacked, axes=(0, 1)))


def _line_marginal(piece: Piece, name: str, prior: Prior) -> Marginal:
    quantity = Quantity(name)
    edges = _common_edges(piece, panel_edges(piece.batch, piece.region, quantity, prior, care=piece.care))
    peak = _group_peak(piece)
    t = panel_points(edges)
    density = np.empty(t.shape)
    steep = name == "exceedance" and piece.care >= 2
    for groups in piece.chunks(t.shape[1] * ALONG * (3 if steep else 1)):
        places = piece.places(groups)
        density[groups] = _add_repeats(
            piece,
            line_density(
                piece.batch.take(places),
                piece.region.take(places),
                quantity,
                prior,
                np.repeat(t[groups], piece.repeats, axis=0),
                np.repeat(peak[groups], piece.repeats),
                steep=steep,
            ),
        )
    return assemble(edges, density, peak)


def _spread(piece: Piece, groups: slice, u: Array, prior: Prior) -> tuple[Array, Array, Array]:
    """Density of ln sigma, and mu and weight of each point at each ln sigma: (k, q), (k, q, m), (k, q, m)."""
    places = piece.places(groups)
    repeated = np.repeat(u, piece.repeats, axis=0)
    peak = np.repeat(_group_peak(piece)[groups], piece.repeats)
    density, mu, weight = spread_density(
        piece.batch.take(places),
        piece.region.take(places),
        prior,
        repeated,
        peak,
        segments=3 if piece.care >= 2 else 1,
    )
    if piece.repeats == 1:
        return density, mu, weight
    k, q = u.shape
    weight = weight * np.tile(np.exp(piece.log_weight), k)[:, None, None]
    mu = mu.reshape(k, piece.repeats, q, -1).transpose(0, 2, 1, 3).reshape(k, q, -1)
    weight = weight.reshape(k, piece.repeats, q, -1).transpose(0, 2, 1, 3).reshape(k, q, -1)
    return weight.sum(axis=2), mu, weight


def _spread_marginal(piece: Piece, name: str, prior: Prior) -> Marginal:
    assert name == "gsd"
    edges = _common_edges(piece, spread_edges(piece.region, care=piece.care))
    u = panel_points(edges)
    density = np.empty(u.shape)
    for groups in piece.chunks(u.shape[1] * ALONG):
        density[groups] = _spread(piece, groups, u[groups], prior)[0]
    return assemble(edges, density, _group_peak(piece))
