"""What the posterior of a group of workers answers: of the group, of a worker drawn at random, of each worker."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

from lapel.statistics.arguments import above, between
from lapel.statistics.posterior_answers import What, checked_value, known_quantity, scale_of, value_at
from lapel.statistics.posterior_groups import Groups
from lapel.statistics.posterior_lines import spread_density
from lapel.statistics.posterior_marginal import Marginal, assemble, panel_points, panel_weights
from lapel.statistics.posterior_panels import spread_edges
from lapel.statistics.posterior_quantity import Z95
from lapel.statistics.priors import Prior
from lapel.statistics.sentences import said
from lapel.statistics.workers_rows import WorkerRows, WorkersBatch

Array = NDArray[np.float64]
Own = Literal["gm", "mean", "p95"]

_ONE_GROUP_RATIO = 2.0  # fold range of 95 % of workers' means below which a group is called uniform


@dataclass
class WorkersPosterior:
    """
    Posterior of a group whose workers differ; made by `workers_posterior`.

    Attributes
    ----------
    limit : float
        [the unit of the results]
    prior : Prior
        For the total spread, with its source.
    workers : tuple
        Names of the workers, in the order of every answer by worker.
    """

    limit: float
    prior: Prior
    workers: tuple[Hashable, ...]
    _rows: tuple[WorkerRows, ...] = field(repr=False)
    _groups: Groups = field(repr=False)
    _phi: Marginal = field(repr=False)

    def quantiles(self, what: What, probabilities: ArrayLike) -> Array:
        """
        Quantiles of a quantity of all shifts of all workers together.

        Parameters
        ----------
        what : {"gm", "gsd", "mean", "p95", "exceedance"}
            The quantity; "gsd" is that of the total spread.
        probabilities : array_like, shape (q,)
            Strictly between 0 and 1.

        Returns
        -------
        ndarray of float64, shape (q,)
            [the unit of the results; "gsd" and "exceedance": -]

        Raises
        ------
        ValueError
            `what` is no quantity, or a probability is not between 0 and 1.
        """
        known_quantity(what)
        (p,) = between(0, 1, probabilities=probabilities)
        t = self._groups.marginal(what)[0].quantiles(np.atleast_1d(p).ravel())[0]
        return value_at(what, t, np.asarray(self.limit))

    def probability_above(self, what: What, value: float) -> float:
        """
        Probability that a quantity of all shifts of all workers together is above a value.

        Raises
        ------
        ValueError
            `what` is no quantity, or the value is outside what it can be.
        """
        known_quantity(what)
        t = scale_of(what, checked_value(what, value), np.asarray(self.limit))
        return float(1.0 - self._groups.marginal(what)[0].cdf(t.reshape(1, 1))[0, 0])

    def between_share(self, probabilities: ArrayLike = (0.05, 0.5, 0.95)) -> Array:
        """
        Quantiles of the share of the variance of ln exposure that is between workers.

        Parameters
        ----------
        probabilities : array_like, shape (q,)
            Strictly between 0 and 1.

        Returns
        -------
        ndarray of float64, shape (q,)
            Between 0 and 0.99. [-]

        Raises
        ------
        ValueError
            A probability is not between 0 and 1.
        """
        (p,) = between(0, 1, probabilities=probabilities)
        return np.asarray(np.sin(self._phi.quantiles(np.atleast_1d(p).ravel())[0]) ** 2)

    @cached_property
    def _points(self) -> tuple[Array, Array, Array, Array]:
        """The posterior as weighted points: mu, sigma within, sigma between, weight; each of shape (k,)."""
        piece = self._groups.pieces[0]
        batch, region = piece.batch, piece.region
        assert isinstance(batch, WorkersBatch)
        ends = spread_edges(region, care=0)
        edges = np.concatenate([ends.min(axis=0)[:1], np.median(ends, axis=0)[1:-1], ends.max(axis=0)[-1:]])
        edges = np.sort(edges)[None]
        u = np.repeat(panel_points(edges), piece.repeats, axis=0)
        peak = np.full(piece.repeats, region.peak.max())
        segments = 3 if piece.care >= 2 else 1
        _, mu, weight = spread_density(batch, region, self.prior, u, peak, segments)
        weight = weight * (panel_weights(edges)[0][None, :, None] * np.exp(piece.log_weight)[:, None, None])
        sigma = np.exp(u)[:, :, None] + 0.0 * mu
        phi = batch.phi[:, None, None]
        keep = weight > weight.max() * 1e-13
        weight = weight[keep] / weight.sum()
        return mu[keep], (sigma * np.cos(phi))[keep], (sigma * np.sin(phi))[keep], weight

    def probability_worker_above(self, what: Own = "p95", value: float | None = None) -> float:
        """
        Probability that a worker drawn at random has an own level above a value.

        Parameters
        ----------
        what : {"p95", "mean", "gm"}
            The 95th percentile, arithmetic mean or geometric mean of that worker's own shifts.
        value : float, optional
            The limit when left out. [the unit of the results]

        Returns
        -------
        float

        Raises
        ------
        ValueError
            `what` is none of these, or the value is not above 0.
        """
        x = self._ln(value)
        mu, within, across, weight = self._points
        centre = mu + _own_shift(what, within)
        with np.errstate(divide="ignore", invalid="ignore"):
            z = np.where(across > 0, (centre - x) / across, np.sign(centre - x) * np.inf)
        return float(np.sum(weight * ndtr(z)))

    def probability_not_one_group(self, ratio: float = _ONE_GROUP_RATIO) -> float:
        """
        Probability that 95 % of the workers' own means span more than a ratio.

        Parameters
        ----------
        ratio : float, above 1
            2 is the mark below which Rappaport et al. 1993 call a group uniformly exposed. [-]

        Returns
        -------
        float

        Raises
        ------
        ValueError
            The ratio is not above 1.
        """
        (value,) = above(1.0, ratio=ratio)
        _, _, across, weight = self._points
        return float(weight[np.exp(2 * 1.959963984540054 * across) > value].sum())

    def worker_quantiles(self, what: Own, probabilities: ArrayLike) -> Array:
        """
        Each worker's own level, drawn towards the group's as far as that worker's results are few.

        Parameters
        ----------
        what : {"gm", "mean", "p95"}
            Of that worker's own shifts.
        probabilities : array_like, shape (q,)
            Strictly between 0 and 1.

        Returns
        -------
        ndarray of float64, shape (workers, q)
            [the unit of the results]

        Raises
        ------
        ValueError
            `what` is none of these, or a probability is not between 0 and 1.
        """
        (p,) = between(0, 1, probabilities=probabilities)
        p = np.atleast_1d(p).ravel()
        t = np.stack([self._own(what, i).quantiles(p)[0] for i in range(len(self._rows))])
        return np.asarray(np.exp(t) * self.limit)

    def worker_probability_above(self, what: Own = "p95", value: float | None = None) -> Array:
        """
        Probability, for each worker of the sample, that the own level is above a value.

        Parameters
        ----------
        what : {"p95", "mean", "gm"}
            Of that worker's own shifts.
        value : float, optional
            The limit when left out. [the unit of the results]

        Returns
        -------
        ndarray of float64, shape (workers,)

        Raises
        ------
        ValueError
            `what` is none of these, or the value is not above 0.
        """
        t = np.array([[self._ln(value)]])
        return np.array([1.0 - self._own(what, i).cdf(t)[0, 0] for i in range(len(self._rows))])

    def _ln(self, value: float | None) -> float:
        if value is None:
            return 0.0
        (checked,) = above(0.0, value=value)
        return float(np.log(checked / self.limit))

    def _own(self, what: Own, number: int) -> Marginal:
        """Distribution of ln of one worker's own level in units of the limit."""
        key = f"{what} of worker {number}"
        if key not in self._groups.known:
            self._groups.known[key] = [_own_level(self._rows[number], self._points, what)]
        return self._groups.known[key][0]

    def in_words(self) -> tuple[str, ...]:
        """
        What the reader must know: whether this is one group, and whether the data can tell.

        Returns
        -------
        tuple of str
        """
        told: list[str] = []
        repeated = sum(worker.n > 1 for worker in self._rows)
        low, middle, high = self.between_share()
        if len(self._rows) < 2:
            told.append(
                said(
                    "All results are of one worker: nothing is known about how workers differ; the share between "
                    "workers is the prior's."
                )
            )
        elif repeated == 0:
            told.append(
                said(
                    "No worker has more than one result, so the results cannot tell differences between workers from "
                    "differences between days; the share between workers is the prior's."
                )
            )
        else:
            told.append(
                said(
                    "Between workers lies {middle} % of the variance (90 % interval {low} % "
                    "to {high} %), from {workers} workers of whom {repeated} were sampled more than once.",
                    middle=f"{100 * middle:.0f}",
                    low=f"{100 * low:.0f}",
                    high=f"{100 * high:.0f}",
                    workers=len(self._rows),
                    repeated=repeated,
                )
            )
            chance = self.probability_not_one_group()
            how = {"chance": f"{100 * chance:.0f}", "ratio": f"{_ONE_GROUP_RATIO:g}"}
            if chance > 0.95:
                told.append(
                    said(
                        "This is not one uniformly exposed group: with probability {chance} % the own means of "
                        "95 % of its workers span more than {ratio}-fold. Judge workers, or split the group.",
                        **how,
                    )
                )
            elif chance > 0.5:
                told.append(
                    said(
                        "This may not be one group: with probability {chance} % the own means of 95 % of "
                        "its workers span more than {ratio}-fold.",
                        **how,
                    )
                )
            else:
                told.append(
                    said(
                        "These results give no strong sign of more than one group: the probability that the own means "
                        "of 95 % of its workers span more than {ratio}-fold is {chance} %.",
                        **how,
                    )
                )
            told.append(
                said(
                    "A worker of the group drawn at random has an own 95th percentile above the limit with probability "
                    "{percentile}, and an own mean above it with probability {mean}.",
                    percentile=_chance(self.probability_worker_above("p95")),
                    mean=_chance(self.probability_worker_above("mean")),
                )
            )
        told.append(self.prior.describe())
        return tuple(told)


def _chance(p: float) -> str:
    if p < 0.001:
        return said("below 0.1 %")
    if p > 0.999:
        return said("above 99.9 %")
    return f"{100 * p:.1f} %" if p < 0.1 or p > 0.9 else f"{100 * p:.0f} %"


def _own_shift(what: str, within: Array) -> Array:
    if what == "p95":
        return Z95 * within
    if what == "mean":
        return 0.5 * within * within
    if what == "gm":
        return np.zeros_like(within)
    raise ValueError(f"`what` must be gm, mean or p95; it is {what!r}")


def _own_level(rows: WorkerRows, points: tuple[Array, Array, Array, Array], what: Own) -> Marginal:
    """
    Distribution of a worker's own ln level: a mixture, over the posterior, of its distribution given mu and spreads.

    Given those it is the normal density that the worker's exact rows leave, times the likelihood of the other rows.
    """
    mu, within, across, weight = points
    keep = weight > weight.max() * 1e-9
    mu, within, across, weight = mu[keep], within[keep], across[keep], weight[keep]
    centre, spread, exact = rows.level(mu, within, across)
    spread = np.maximum(spread, 1e-12)
    shift = _own_shift(what, within)
    scale = weight / (spread * np.sqrt(2.0 * np.pi))
    if not rows.is_exact:
        scale = scale * np.exp(exact - rows.log_likelihood(mu, within, across))
    middle = centre + shift
    mean = float(np.sum(weight * middle) / weight.sum())
    sd = float(np.sqrt(np.sum(weight * (spread**2 + (middle - mean) ** 2)) / weight.sum()))
    steps = np.array([-16, -8, -5, -3.5, -2.5, -1.75, -1, -0.5, 0, 0.5, 1, 1.75, 2.5, 3.5, 5, 8, 16])
    edges = (mean + sd * steps)[None]
    t = panel_points(edges)[0]
    density = np.empty(t.size)
    for k, value in enumerate(t.tolist()):
        level = value - shift
        z = (level - centre) / spread
        log_density = -0.5 * z * z
        if not rows.is_exact:
            log_density += rows.log_censored(level, within)
        density[k] = np.sum(scale * np.exp(log_density))
    return assemble(edges, density[None], np.zeros(1))
