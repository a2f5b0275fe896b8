"""Between and within workers: is the group one group, and what are the chances of one worker in it?"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lapel.statistics.arguments import above
from lapel.statistics.observed import Observations, observed
from lapel.statistics.posterior_groups import Groups, Piece
from lapel.statistics.posterior_lines import line_density
from lapel.statistics.posterior_marginal import assemble, panel_points, panel_weights
from lapel.statistics.posterior_panels import care_needed, panel_edges
from lapel.statistics.posterior_quantity import Quantity
from lapel.statistics.posterior_region import find_region
from lapel.statistics.posterior_rows import Rows, batches
from lapel.statistics.priors import PUBLISHED_SPREAD, Prior
from lapel.statistics.workers_answers import WorkersPosterior
from lapel.statistics.workers_rows import WorkerRows, WorkersBatch

__all__ = ["LARGEST_SHARE", "WorkersPosterior", "workers_posterior"]

Array = NDArray[np.float64]
# A mapping or sequence of each worker's results; one set of observations; or such a set with the worker of each row.
ByWorker = Any

LARGEST_SHARE = 0.99  # of the variance between workers: at least a hundredth is from day to day
_HIGHEST_PHI = float(np.arcsin(np.sqrt(LARGEST_SHARE)))
_COARSE = 13
_PHI_PANELS = 3
_PHI_DEPTH = 17.0


def _named_rows(results: ByWorker, worker: ArrayLike | None) -> Iterator[tuple[Hashable, Observations]]:
    """Each worker's name and results, in order of first appearance."""
    if worker is None and isinstance(results, tuple) and len(results) == 2:
        first, second = results
        if isinstance(first, Observations) and not isinstance(second, Observations):
            results, worker = first, second
    if worker is not None:
        rows = results if isinstance(results, Observations) else observed(results)
        names = np.asarray(worker)
        if names.shape != (rows.n,):
            raise ValueError(f"`worker` must name one worker a row, {rows.n} in all; it has shape {names.shape}")
        for name in dict.fromkeys(names.tolist()):
            yield name, rows.rows(names == name)
        return
    if isinstance(results, Observations):
        raise ValueError("`worker` must name the worker of each row when `results` are one set of observations")
    items = results.items() if isinstance(results, Mapping) else enumerate(results, start=1)
    for name, values in items:
        yield name, values if isinstance(values, Observations) else observed(np.atleast_1d(values))


def workers_posterior(
    results: ByWorker,
    worker: ArrayLike | None = None,
    *,
    limit: float,
    prior: Prior = PUBLISHED_SPREAD,
) -> WorkersPosterior:
    """
    Posterior of a group whose workers may differ: one-way random effects with censoring.

    Parameters
    ----------
    results : mapping or sequence of each worker's results; or Observations with `worker`; or a tuple of the two
        [mg/m3, or any one unit]
    worker : array_like, shape (rows,), optional
        The worker of each row, by any name or number.
    limit : float
        In the unit of the results.
    prior : SpreadPrior or FlatPrior
        For the total spread, sigma^2 = sigma_between^2 + sigma_within^2.

    Returns
    -------
    WorkersPosterior
        `.quantiles`, `.between_share`, `.probability_worker_above`, `.worker_quantiles`, `.in_words`.

    Raises
    ------
    ValueError
        There is no result, the limit is not above 0, or `worker` does not name one worker a row.
    TypeError
        Something is not a number, or `prior` is no prior.

    Notes
    -----
    ln exposure = mu + b + e [1]_. sigma_between / sigma is uniform between 0 and sqrt(0.99): that prior gives a
    20 % chance of a share below 0.04 and of one above 0.64, the marks found in 183 groups [1]_ (docs/science/
    group-priors.md). Everything is integrated: the workers' levels, mu, both spreads; nothing is sampled.

    References
    ----------
    .. [1] Rappaport, Kromhout, Symanski, Am Ind Hyg Assoc J 54 (1993) 654.
    """
    if not isinstance(prior, Prior):
        raise TypeError(f"`prior` must be a SpreadPrior or a FlatPrior; it is {prior!r}")
    (checked,) = above(0.0, limit=limit)
    ceiling = float(checked)
    named = [(name, rows) for name, rows in _named_rows(results, worker) if rows.n]
    if not named:
        raise ValueError("`results` must hold at least one result; there is none")
    with np.errstate(divide="ignore"):
        logs = [(np.log(rows.lower / ceiling), np.log(rows.upper / ceiling)) for _, rows in named]
    own = tuple(WorkerRows.of(low, np.where(low == high, low, high)) for low, high in logs)
    lower, upper = np.concatenate([low for low, _ in logs]), np.concatenate([high for _, high in logs])
    nobody = np.zeros(lower.size, dtype=np.intp)
    (pooled,) = batches(Rows(nobody, lower, upper, np.zeros(lower.size), 1))
    edges = _phi_edges(WorkersBatch.of(pooled, own, np.linspace(0.0, _HIGHEST_PHI, _COARSE)), prior)
    phi, weight = panel_points(edges)[0], panel_weights(edges)[0]
    batch = WorkersBatch.of(pooled, own, phi)
    region = find_region(batch, prior)
    care = int(care_needed(batch, region, prior).max())
    # Uniform in sin(phi), the ratio of the spreads.
    log_weight = np.log(weight * np.cos(phi))
    piece = Piece(batch, region, max(care, 1), phi.size, log_weight, np.zeros(1, dtype=np.intp))
    evidence = _evidence(batch, prior, care=max(care, 1))
    density = np.exp(evidence - evidence.max()) * np.cos(phi)
    shares = assemble(edges, density[None], np.zeros(1))
    return WorkersPosterior(ceiling, prior, tuple(name for name, _ in named), own, Groups(prior, [piece]), shares)


def _evidence(batch: WorkersBatch, prior: Prior, *, care: int) -> Array:
    """Log of the integral of likelihood times prior over (ln sigma, mu), for each phi."""
    region = find_region(batch, prior)
    gm = Quantity("gm")
    edges = panel_edges(batch, region, gm, prior, care=care)
    density = line_density(batch, region, gm, prior, panel_points(edges), region.peak)
    return np.asarray(np.log((density * panel_weights(edges)).sum(axis=1)) + region.peak)


def _phi_edges(batch: WorkersBatch, prior: Prior) -> Array:
    """Panels of phi over which its posterior is not negligible, shape (1, p + 1)."""
    phi = batch.phi
    for _ in range(2):
        evidence = _evidence(batch.take(slice(None)), prior, care=0)
        inside = np.flatnonzero(evidence > evidence.max() - _PHI_DEPTH)
        low, high = phi[max(inside[0] - 1, 0)], phi[min(inside[-1] + 1, phi.size - 1)]
        if high - low > 0.3 * (phi[-1] - phi[0]):
            break
        phi = np.linspace(low, high, _COARSE)
        pooled = batch.take(slice(0, 1))
        columns = {name: value for name, value in vars(pooled).items() if name not in ("workers", "phi")}
        columns = {name: np.repeat(value, phi.size, axis=0) for name, value in columns.items()}
        batch = WorkersBatch(**columns, workers=batch.workers, phi=phi)
    return np.asarray(np.linspace(low, high, _PHI_PANELS + 1)[None])
