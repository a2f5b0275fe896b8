"""A group of results against a limit: what they show, how surely, and what one more would be worth."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

import numpy as np

from lapel.said import said
from lapel.statistics import (
    ExceedanceInterval,
    Fit,
    NextResult,
    NoEstimate,
    Observations,
    Outliers,
    ShapeTest,
    Split,
    Trend,
    Verdict,
    action_level_decision,
    compliance_test,
    exceedance_interval,
    fit,
    individual_worker_test,
    next_result,
    next_result_with_non_detects,
    observed,
    outliers,
    shapiro_wilk,
    trend_in_time,
    two_populations,
    upper_tolerance_limit,
)
from lapel.statistics.posterior import CATEGORY_BANDS, Posterior, posterior
from lapel.statistics.priors import PUBLISHED_SPREAD, Prior
from lapel.statistics.workers import workers_posterior

POINTS = (0.05, 0.5, 0.7, 0.95)
"""Probabilities at which believed quantities are stated: a 90 % interval, the middle, and the 70 % upper end."""

BAND_WORDS = (
    "below 1 % of the limit",
    "1 to 10 % of the limit",
    "10 to 50 % of the limit",
    "50 to 100 % of the limit",
    "above the limit",
)
"""Bands of the 95th percentile as shares of the limit (exposure control categories by the 95th percentile)."""


@dataclass(frozen=True, slots=True)
class Believed:
    """A quantity after the results were seen: quantiles at `POINTS`; in the unit of the limit, or a ratio."""

    name: str
    low: float
    middle: float
    upper70: float
    high: float
    is_ratio: bool = False


@dataclass(frozen=True, slots=True)
class OneWorker:
    """One worker's own 95th percentile, drawn towards the group: 90 % interval, middle, chance above the limit."""

    code: str
    n: int
    low: float
    middle: float
    high: float
    chance_above: float


@dataclass(frozen=True, slots=True)
class WorkersView:
    """
    The group seen worker by worker.

    Attributes
    ----------
    between_share : Believed
        Share of the variance that lies between workers. [-]
    chance_worker_above : float
        Probability that a worker drawn at random has a 95th percentile above the limit. [-]
    not_one_group : float
        Probability that the workers differ too much to be one group. [-]
    workers : tuple of OneWorker
        In the order they first appear.
    words : tuple of str
        What it says, in sentences.
    """

    between_share: Believed
    chance_worker_above: float
    not_one_group: float
    workers: tuple[OneWorker, ...]
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GroupJudgement:
    """
    Everything a handful of results says of a group.

    Attributes
    ----------
    results : Observations
        The results as intervals, in the order given.
    fitted : Fit or NoEstimate
        Maximum likelihood with profile intervals, or why there is none.
    believed : tuple of Believed
        Geometric mean, spread, mean, 95th percentile and exceedance after the results were seen.
    band_chances : tuple of float
        Probability of each band of `BAND_WORDS`.
    chance_p95_above, chance_next_above : float
        That the 95th percentile, and the next shift, is above the limit. [-]
    density : tuple of (share of limit, density)
        Posterior density of ln(95th percentile / limit), for the picture.
    tests : tuple of Verdict
        Each test's verdict in its own words, with rule, source and edition.
    notes : tuple of str
        Where the prior decides, what was left out, what the shape tests say.
    """

    name: str
    limit: float
    unit: str
    limit_text: str
    results: Observations
    workers: tuple[str, ...]
    days: tuple[date | None, ...]
    prior: Prior
    error_cv: float | tuple[float, float] | tuple[float, ...] | None
    fitted: Fit | NoEstimate
    believed: tuple[Believed, ...]
    band_chances: tuple[float, ...]
    chance_p95_above: float
    chance_next_above: float
    density: tuple[tuple[float, float], ...]
    tests: tuple[Verdict, ...]
    tolerance_limit: float | None
    exceedance: ExceedanceInterval | None
    shape: ShapeTest | NoEstimate
    apart: Outliers | NoEstimate
    split: Split | NoEstimate
    trend: Trend | NoEstimate | None
    next_one: NextResult | NoEstimate | None
    by_worker: WorkersView | None
    prior_decides: bool
    notes: tuple[str, ...]

    @property
    def p95(self) -> Believed:
        """The 95th percentile."""
        return next(item for item in self.believed if item.name == "95th percentile")

    @property
    def is_settled_below(self) -> bool:
        """Whether every test that reached a verdict was met, and one did."""
        reached = [test for test in self.tests if test.outcome != "no verdict"]
        return bool(reached) and all(test.outcome == "shown" for test in reached)


def judge_group(
    lower: Sequence[float],
    upper: Sequence[float],
    *,
    limit: float,
    unit: str,
    limit_text: str = "",
    name: str = "",
    workers: Sequence[str] = (),
    days: Sequence[date | None] = (),
    prior: Prior = PUBLISHED_SPREAD,
    error_cv: float | tuple[float, float] | Sequence[float] | None = None,
) -> GroupJudgement:
    """
    Judge a group.

    Parameters
    ----------
    lower, upper : sequence of float, length n
        Ends of each result: equal where measured, 0 and the reporting limit where below it. [unit of the limit]
    limit : float
        Above 0.
    unit : str
        “ppm” or “mg/m3”, for words.
    workers, days : sequence, length n or empty
        Whose shift and when.
    prior : Prior
        For the spread.
    error_cv : float, (low, high) or one a row, optional
        Measurement error as a coefficient of variation. [-]

    Returns
    -------
    GroupJudgement

    Raises
    ------
    ValueError
        There is no result, a row has no meaning, or an argument is out of range.
    """
    rows = observed(lower=list(lower), upper=list(upper))
    after = posterior(rows, limit=limit, prior=prior, error_cv=_as_given(error_cv))
    believed = tuple(
        _believed(words, after.quantiles(what, POINTS)[0], is_ratio=what in ("gsd", "exceedance"))  # type: ignore[arg-type]
        for what, words in (
            ("gm", "geometric mean"),
            ("gsd", "geometric standard deviation"),
            ("mean", "arithmetic mean"),
            ("p95", "95th percentile"),
            ("exceedance", "share of shifts above the limit"),
        )
    )
    exact = rows.values if rows.all_measured else None
    spread = exact if exact is not None and len(np.unique(exact)) > 1 else None
    notes = [note.words for note in after.notes()] + _notes_on_what_was_given(rows, workers, days, error_cv)
    return GroupJudgement(
        name=name,
        limit=limit,
        unit=unit,
        limit_text=limit_text or f"{limit:g} {unit}",
        results=rows,
        workers=tuple(workers),
        days=tuple(days),
        prior=prior,
        error_cv=_kept(error_cv),
        fitted=fit(rows),
        believed=believed,
        band_chances=tuple(float(p) for p in after.band_probabilities(CATEGORY_BANDS)[0]),
        chance_p95_above=float(after.probability_above("p95", limit)[0]),
        chance_next_above=float(after.next_shift_probability_above(limit)[0]),
        density=_density(after, limit),
        tests=_tests(rows, limit, workers, days),
        tolerance_limit=None if spread is None else upper_tolerance_limit(spread, coverage=0.95, confidence=0.70),
        exceedance=None if spread is None else exceedance_interval(spread, limit, confidence=0.90),
        shape=_of_measured(rows, shapiro_wilk),
        apart=_of_measured(rows, outliers),
        split=_of_measured(rows, two_populations),
        trend=_trend(rows, days),
        next_one=_next_one(rows, limit, prior),
        by_worker=_by_worker(rows, workers, limit, prior),
        prior_decides=bool(after.prior_decides[0]),
        notes=tuple(notes),
    )


def _notes_on_what_was_given(
    rows: Observations,
    workers: Sequence[str],
    days: Sequence[date | None],
    error_cv: float | tuple[float, float] | Sequence[float] | None,
) -> list[str]:
    """Which measurement error counts, and where; what cannot be looked at because some rows leave it out."""
    notes: list[str] = []
    if size := _error_in_words(error_cv, rows.n):
        notes.append(
            said(
                "Measurement error ({size}) is allowed for in what is believed of the group. The tests, the estimates "
                "without a prior and what is said worker by worker take the results as they are.",
                size=size,
            )
        )
    nameless = sum(not worker for worker in workers)
    if 0 < nameless < len(workers):
        notes.append(
            said(
                "{nameless} of {n} results name no worker, so nothing is said worker by worker: name every one.",
                nameless=nameless,
                n=rows.n,
            )
        )
    undated = sum(day is None for day in days)
    if 0 < undated < len(days):
        notes.append(
            said(
                "{undated} of {n} results have no date, so no drift in time is looked for: date every one.",
                undated=undated,
                n=rows.n,
            )
        )
    return notes


def _error_in_words(error_cv: float | tuple[float, float] | Sequence[float] | None, n: int) -> str:
    """Return the measurement error of n results, its ends where there are several; empty where there is none."""
    given = np.atleast_1d(np.asarray(0.0 if error_cv is None else error_cv, dtype=np.float64))
    if not given.any():
        return ""
    ends = sorted({f"{100 * cv:.3g}" for cv in (given[given > 0.0].min(), given.max())}, key=float)
    size = said("{low} to {high} %", low=ends[0], high=ends[-1]) if len(ends) > 1 else said(f"{ends[0]} %")
    exact = int(np.sum(given == 0.0)) if isinstance(error_cv, list) else 0
    if exact:
        return size + said("; {exact} of {n} results state none and count as exact", exact=exact, n=n)
    if isinstance(error_cv, tuple) and len(ends) > 1:
        return size + said(", unknown and common to the results")
    return size


def _as_given(error_cv: float | tuple[float, float] | Sequence[float] | None) -> object:
    return list(error_cv) if isinstance(error_cv, list) else error_cv


def _kept(error_cv: float | tuple[float, float] | Sequence[float] | None) -> float | tuple[float, ...] | None:
    return error_cv if error_cv is None or isinstance(error_cv, int | float) else tuple(error_cv)


def _believed(name: str, quantiles: Iterable[float], *, is_ratio: bool) -> Believed:
    low, middle, upper70, high = (float(value) for value in quantiles)
    return Believed(name, low, middle, upper70, high, is_ratio)


def _density(after: Posterior, limit: float) -> tuple[tuple[float, float], ...]:
    """Density of ln(P95/limit) from differences of its distribution, over the range that matters."""
    low, high = (float(v) for v in after.quantiles("p95", (0.001, 0.999))[0])
    edges = np.exp(np.linspace(math.log(low), math.log(high), 161))
    above = np.array([float(after.probability_above("p95", edge)[0]) for edge in edges])
    middles = np.sqrt(edges[1:] * edges[:-1])
    heights = -np.diff(above) / np.diff(np.log(edges))
    return tuple((float(m / limit), max(0.0, float(h))) for m, h in zip(middles, heights, strict=True))


def _tests(
    rows: Observations, limit: float, workers: Sequence[str], days: Sequence[date | None]
) -> tuple[Verdict, ...]:
    tests = [compliance_test(rows, limit)]
    if workers and all(workers) and len(set(workers)) > 1:
        tests.append(individual_worker_test(rows, workers, limit))
    if workers and all(workers) and len(set(workers)) == 1 and all(days):
        order = sorted(range(rows.n), key=lambda row: days[row] or date.min)
        ordinals = [float((days[row] or date.min).toordinal()) for row in order]
        tests.append(action_level_decision(rows.rows(order), limit, days=ordinals))
    return tuple(tests)


Shape = TypeVar("Shape")


def _of_measured(rows: Observations, test: Callable[[np.ndarray], Shape | NoEstimate]) -> Shape | NoEstimate:
    """Run a test of the shape on the results that were measured; it says itself where there are too few."""
    if rows.all_measured:
        return test(rows.values)
    return NoEstimate("some results are not measured values; shape tests need measured ones")


def _trend(rows: Observations, days: Sequence[date | None]) -> Trend | NoEstimate | None:
    if not days or not all(days):
        return None
    return trend_in_time(rows, [(day or date.min).toordinal() / 365.25 for day in days])


def _next_one(rows: Observations, limit: float, prior: Prior) -> NextResult | NoEstimate | None:
    """What one more result could do to the statistical test, where there are enough results for it."""
    if rows.n < 6:
        return None
    return (
        next_result(rows.values, limit) if rows.all_measured else next_result_with_non_detects(rows, limit, prior=prior)
    )


def _by_worker(rows: Observations, workers: Sequence[str], limit: float, prior: Prior) -> WorkersView | None:
    """Look worker by worker, where there are two or more and somebody has more than one result."""
    if not workers or not all(workers):
        return None
    names = list(dict.fromkeys(workers))
    if len(names) < 2 or len(names) == len(workers):
        return None
    after = workers_posterior(rows, np.asarray(workers), limit=limit, prior=prior)
    share = after.between_share((0.05, 0.5, 0.7, 0.95))
    own = after.worker_quantiles("p95", (0.05, 0.5, 0.95))
    above = after.worker_probability_above("p95")
    counts = {name: list(workers).count(name) for name in names}
    return WorkersView(
        between_share=_believed("share of the variance between workers", share, is_ratio=True),
        chance_worker_above=float(after.probability_worker_above("p95")),
        not_one_group=float(after.probability_not_one_group()),
        workers=tuple(
            OneWorker(code, counts[code], float(low), float(middle), float(high), float(chance))
            for code, (low, middle, high), chance in zip(names, own, above, strict=True)
        ),
        words=tuple(after.in_words()),
    )
