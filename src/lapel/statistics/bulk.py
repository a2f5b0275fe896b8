"""Posteriors of a hundred thousand groups: streamed in chunks, with bounded memory, on as many processors as wished."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from lapel.statistics.arguments import above
from lapel.statistics.chunks import Crew, map_chunks
from lapel.statistics.observed import Observations
from lapel.statistics.posterior import posterior, posterior_of_rows
from lapel.statistics.posterior_answers import CATEGORY_BANDS, What
from lapel.statistics.priors import PUBLISHED_SPREAD, Prior

__all__ = ["BulkAnswer", "BulkQuestion", "bulk_posteriors"]

Array = NDArray[np.float64]

_GROUPS_A_CHUNK = 1_000  # a tenth of a second of work: long beside handing it over, short beside the whole


@dataclass(frozen=True)
class BulkQuestion:
    """
    What is wanted of every group.

    Parameters
    ----------
    quantiles : mapping
        Probabilities wanted of each quantity, as in ``{"p95": (0.05, 0.5, 0.95)}``.
    above : mapping
        For each quantity the value, as a share of the group's limit ("gsd", "exceedance": the value itself),
        whose probability of being exceeded is wanted.
    bands : sequence of float
        Shares of the limit between which the probability of the 95th percentile is wanted; empty for none.
    prior : SpreadPrior or FlatPrior
        For the spread.
    error_cv : float, (low, high) or None
        Measurement error common to all rows, as in `posterior`.
    """

    quantiles: Mapping[What, Sequence[float]] | None = None
    above: Mapping[What, float] | None = None
    bands: Sequence[float] = CATEGORY_BANDS
    prior: Prior = PUBLISHED_SPREAD
    error_cv: float | tuple[float, float] | None = None

    def __post_init__(self) -> None:
        # Asked once here, of one result, what `posterior` would refuse: not of every chunk.
        posterior([1.0], limit=1.0, prior=self.prior, error_cv=self.error_cv)


@dataclass(frozen=True)
class BulkAnswer:
    """
    Answers for consecutive groups.

    `first`: position of the first group. `quantiles`: by quantity, (groups, probabilities). `above`: by quantity,
    (groups,). `bands`: (groups, edges + 1), or None. `prior_decides`: (groups,).
    """

    first: int
    quantiles: dict[str, Array]
    above: dict[str, Array]
    bands: Array | None
    prior_decides: NDArray[np.bool_]

    def __len__(self) -> int:
        return int(self.prior_decides.size)


_Chunk = tuple[int, Array, Array, NDArray[np.int64], Array]


def _answer(question: BulkQuestion, chunk: _Chunk) -> BulkAnswer:
    """Answer for one chunk; the rows travel as flat arrays, which are quick to send."""
    first, lower, upper, n, limits = chunk
    cv = np.zeros(lower.size)
    ranges: list[tuple[float, float] | None] = [None] * n.size
    if isinstance(question.error_cv, tuple):
        ranges = [question.error_cv] * n.size
    elif question.error_cv is not None:
        cv[:] = question.error_cv
    p = posterior_of_rows(lower, upper, n, limits, question.prior, cv, ranges)
    chances = {}
    for what, share in (question.above or {}).items():
        value = share if what in ("gsd", "exceedance") else share * limits
        chances[str(what)] = p.probability_above(what, value)
    return BulkAnswer(
        first,
        {str(what): p.quantiles(what, shares) for what, shares in (question.quantiles or {}).items()},
        chances,
        p.band_probabilities(question.bands) if len(question.bands) else None,
        p.prior_decides,
    )


def _chunks(groups: Iterable[tuple[Observations, float]], size: int) -> Iterator[_Chunk]:
    source, first = iter(groups), 0
    while held := list(islice(source, size)):
        (limits,) = above(0.0, limit=[limit for _, limit in held])
        yield (
            first,
            np.concatenate([rows.lower for rows, _ in held]),
            np.concatenate([rows.upper for rows, _ in held]),
            np.array([rows.n for rows, _ in held], dtype=np.int64),
            limits,
        )
        first += len(held)


def bulk_posteriors(
    groups: Iterable[tuple[Observations, float]],
    question: BulkQuestion,
    *,
    workers: int | Crew = 1,
    scheduler: str | None = None,
    groups_a_chunk: int = _GROUPS_A_CHUNK,
) -> Iterator[BulkAnswer]:
    """
    Posteriors of any number of groups, a chunk at a time.

    Parameters
    ----------
    groups : iterable of (Observations, limit)
        Drawn lazily.
    question : BulkQuestion
        What is wanted of each.
    workers : int, at least 1, or Crew
        Processes on this machine, this one counted; a `Crew` stays ready for the next call.
    scheduler : str, optional
        Address of a Dask scheduler; needs the extra ``lapel[cluster]``.
    groups_a_chunk : int, at least 1
        Groups worked out together.

    Yields
    ------
    BulkAnswer
        In the order of the groups, bit for bit the same wherever and however many at a time they are computed
        within one chunk size.

    Raises
    ------
    ValueError
        A count is below 1, a group's results or limit have no meaning, or a scheduler is given beside a crew.
    """
    if groups_a_chunk < 1:
        raise ValueError(f"`groups_a_chunk` must be at least 1; it is {groups_a_chunk}")
    yield from map_chunks(
        partial(_answer, question), _chunks(groups, groups_a_chunk), workers=workers, scheduler=scheduler
    )
