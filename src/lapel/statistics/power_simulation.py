"""How likely each outcome is where no closed form exists: simulated, with seed and Monte Carlo error stated."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from lapel.statistics.arguments import above, at_least, count, share
from lapel.statistics.compliance_preliminary import PRELIMINARY_FRACTIONS
from lapel.statistics.compliance_statistical import statistical_test
from lapel.statistics.observed import Observations
from lapel.statistics.tolerance import tolerance_factor

__all__ = [
    "SimulatedChances",
    "simulate_group_test_with_workers",
    "simulate_individual_worker_test",
    "simulate_route",
    "simulate_statistical_test",
    "true_chance_of_a_worker_above",
]

Floats = NDArray[np.float64]

_SEED = 20_181_205
_CHUNK_NUMBERS = 4_000_000  # numbers drawn at a time: bounded memory


@dataclass(frozen=True)
class SimulatedChances:
    """
    Simulated probability of each outcome.

    Parameters
    ----------
    chances : dict of str to float
        Outcome -> share of the simulated groups. [-]
    errors : dict of str to float
        Outcome -> Monte Carlo standard error of that share. [-]
    groups, seed : int
        How many groups were simulated, and from which seed.
    """

    chances: dict[str, float]
    errors: dict[str, float]
    groups: int
    seed: int

    @classmethod
    def counted(cls, counts: dict[str, int], groups: int, seed: int) -> "SimulatedChances":
        """From the number of groups with each outcome; the error never falls below that of one group."""
        chances = {name: k / groups for name, k in counts.items()}
        errors = {
            name: math.sqrt(max(p * (1.0 - p), (1.0 - 1.0 / groups) / groups) / groups) for name, p in chances.items()
        }
        return cls(chances, errors, groups, seed)


def simulate_route(
    *,
    gm_to_limit: float,
    gsd: float,
    first: int = 3,
    then: int = 6,
    groups: int = 200_000,
    seed: int = _SEED,
) -> SimulatedChances:
    """
    The whole EN 689 route: preliminary test, and if it asks for more, the statistical test on all results.

    Parameters
    ----------
    gm_to_limit, gsd : float
        The assumed truth. [-]
    first : int
        Results of the preliminary test: 3, 4 or 5. [-]
    then : int
        Results in all at the statistical test, the first ones included; at least 6. [-]
    groups, seed : int
        Simulated groups; seed.

    Returns
    -------
    SimulatedChances
        Outcomes ``shown by the preliminary test``, ``above in the preliminary test``,
        ``shown by the statistical test``, ``not shown``.

    Raises
    ------
    ValueError
        An argument is out of range.

    Notes
    -----
    All measured, independent; the shape check left out. No closed form: the second test reuses results that
    the first one has selected.
    """
    mu, sigma = _truth(gm_to_limit, gsd)
    if first not in PRELIMINARY_FRACTIONS:
        raise ValueError(f"`first` must be 3, 4 or 5; it is {first}")
    count(6, then=then)
    count(1, groups=groups)
    k = float(tolerance_factor(then, coverage=0.95, confidence=0.70))
    cut = math.log(PRELIMINARY_FRACTIONS[first])
    names = ("shown by the preliminary test", "above in the preliminary test", "shown by the statistical test")
    totals = dict.fromkeys((*names, "not shown"), 0)
    for y in _draws(groups, then, seed):
        y = mu + sigma * y
        highest = y[:, :first].max(axis=1)
        low, over = highest < cut, highest > 0.0
        met = -y.mean(axis=1) >= k * y.std(axis=1, ddof=1)
        totals[names[0]] += int(low.sum())
        totals[names[1]] += int(over.sum())
        totals[names[2]] += int((~low & ~over & met).sum())
        totals["not shown"] += int((~low & ~over & ~met).sum())
    return SimulatedChances.counted(totals, groups, seed)


def simulate_statistical_test(
    n: int,
    *,
    gm_to_limit: float,
    gsd: float,
    reporting_limit_to_limit: float,
    groups: int = 1000,
    seed: int = _SEED,
) -> SimulatedChances:
    """
    The statistical test when results below a reporting limit are non-detects.

    Parameters
    ----------
    n : int
        Results, at least 6. [-]
    gm_to_limit, gsd : float
        The assumed truth. [-]
    reporting_limit_to_limit : float
        Reporting limit, as an air concentration, over the limit. [-]
    groups, seed : int
        Simulated groups (about 15 ms each); seed.

    Returns
    -------
    SimulatedChances
        Outcomes ``shown``, ``not shown``, ``no verdict`` of `statistical_test` itself, its shape check and its
        refusal of too many non-detects included.

    Raises
    ------
    ValueError
        An argument is out of range.
    """
    mu, sigma = _truth(gm_to_limit, gsd)
    count(6, n=n)
    count(1, groups=groups)
    (reporting,) = above(0.0, reporting_limit_to_limit=reporting_limit_to_limit)
    totals = {"shown": 0, "not shown": 0, "no verdict": 0}
    for y in _draws(groups, n, seed):
        for row in np.exp(mu + sigma * y):
            totals[_statistical_outcome(row, float(reporting))] += 1
    return SimulatedChances.counted(totals, groups, seed)


def simulate_group_test_with_workers(
    workers: int,
    repeats: int,
    *,
    gm_to_limit: float,
    gsd: float,
    between_share: float,
    reporting_limit_to_limit: float = 0.0,
    groups: int = 100_000,
    seed: int = _SEED,
) -> SimulatedChances:
    """
    The statistical test when part of the variance lies between workers, so that repeats are not independent.

    Parameters
    ----------
    workers, repeats : int
        Workers drawn, and results of each; at least 6 in all. [-]
    gm_to_limit, gsd : float
        The assumed truth of the whole group. [-]
    between_share : float
        Share of the variance of the logs between workers, 0 to below 1. [-]
    reporting_limit_to_limit : float
        Reporting limit, as an air concentration, over the limit; 0 when everything is measured. [-]
    groups, seed : int
        Simulated groups; seed. With a reporting limit a group takes about 15 ms: ask for fewer.

    Returns
    -------
    SimulatedChances
        Outcomes ``shown``, ``not shown``; with a reporting limit ``no verdict`` too, and the shape check is made. At a
        true percentile equal to the limit ``shown`` comes out above 30 %: the test takes repeats of one worker for
        independent, and they are not.

    Raises
    ------
    ValueError
        An argument is out of range.
    """
    mu, sigma = _truth(gm_to_limit, gsd)
    n = int(count(6, workers_times_repeats=workers * repeats)[0])
    (reporting,) = at_least(0.0, reporting_limit_to_limit=reporting_limit_to_limit)
    if reporting > 0.0:
        totals = {"shown": 0, "not shown": 0, "no verdict": 0}
        for y in _worker_draws(groups, workers, repeats, between_share, seed):
            for row in np.exp(mu + sigma * y.reshape(y.shape[0], n)):
                totals[_statistical_outcome(row, float(reporting))] += 1
        return SimulatedChances.counted(totals, groups, seed)
    k = float(tolerance_factor(n, coverage=0.95, confidence=0.70))
    shown = 0
    for y in _worker_draws(groups, workers, repeats, between_share, seed):
        flat = mu + sigma * y.reshape(y.shape[0], n)
        shown += int(np.sum(-flat.mean(axis=1) >= k * flat.std(axis=1, ddof=1)))
    return SimulatedChances.counted({"shown": shown, "not shown": groups - shown}, groups, seed)


def simulate_individual_worker_test(
    workers: int,
    repeats: int,
    *,
    gm_to_limit: float,
    gsd: float,
    between_share: float,
    chance: float = 0.20,
    exceedance: float = 0.05,
    reporting_limit_to_limit: float = 0.0,
    groups: int = 100_000,
    seed: int = _SEED,
) -> SimulatedChances:
    """
    The individual-worker test, for a balanced design.

    Parameters
    ----------
    workers, repeats : int
        At least 3 workers with at least 2 results each, at least 9 in all. [-]
    gm_to_limit, gsd : float
        The assumed truth of the whole group. [-]
    between_share : float
        Share of the variance of the logs between workers, 0 to below 1. [-]
    chance, exceedance : float
        Of the test. [-]
    reporting_limit_to_limit : float
        Reporting limit, as an air concentration, over the limit; 0 when everything is measured. [-]
    groups, seed : int
        Simulated groups; seed.

    Returns
    -------
    SimulatedChances
        Outcomes ``shown``, ``not shown``, and ``no verdict`` where one result or more is a non-detect.

    Raises
    ------
    ValueError
        An argument is out of range.
    """
    mu, sigma = _truth(gm_to_limit, gsd)
    count(3, workers=workers)
    count(2, repeats=repeats)
    count(9, workers_times_repeats=workers * repeats)
    z = float(ndtri(1.0 - share("exceedance", exceedance)))
    chance = share("chance", chance)
    (reporting,) = at_least(0.0, reporting_limit_to_limit=reporting_limit_to_limit)
    lowest = math.log(float(reporting)) if reporting > 0.0 else -math.inf
    shown = refused = 0
    for y in _worker_draws(groups, workers, repeats, between_share, seed):
        y = mu + sigma * y
        means = y.mean(axis=2)
        within = y.var(axis=2, ddof=1).mean(axis=1)
        between = np.maximum(means.var(axis=1, ddof=1) - within / repeats, 0.0)
        margin = -means.mean(axis=1) - z * np.sqrt(within)
        with np.errstate(divide="ignore"):
            over = np.where(between > 0.0, ndtr(-margin / np.sqrt(between)), (margin <= 0.0).astype(np.float64))
        measured = y.min(axis=(1, 2)) >= lowest
        shown += int(np.sum((over < chance) & measured))
        refused += int(np.sum(~measured))
    totals = {"shown": shown, "not shown": groups - shown - refused, "no verdict": refused}
    return SimulatedChances.counted(totals, groups, seed)


def true_chance_of_a_worker_above(
    *, gm_to_limit: float, gsd: float, between_share: float, exceedance: float = 0.05
) -> float:
    """
    True probability that a worker has more than 5 % of shifts above the limit: what the individual test estimates.

    Raises
    ------
    ValueError
        An argument is out of range.
    """
    mu, sigma = _truth(gm_to_limit, gsd)
    part = _part(between_share)
    z = float(ndtri(1.0 - share("exceedance", exceedance)))
    margin = -mu - z * sigma * math.sqrt(1.0 - part)
    if part == 0.0:
        return 0.0 if margin > 0.0 else 1.0
    return float(ndtr(-margin / (sigma * math.sqrt(part))))


def _statistical_outcome(values: Floats, reporting: float) -> str:
    """Outcome of the statistical test itself, results below the reporting limit as non-detects; the limit is 1."""
    detect = values >= reporting
    group = Observations(np.where(detect, values, 0.0), np.where(detect, values, reporting))
    return statistical_test(group, 1.0).outcome


def _truth(gm_to_limit: float, gsd: float) -> tuple[float, float]:
    (ratio,) = above(0.0, gm_to_limit=gm_to_limit)
    (spread,) = above(1.0, gsd=gsd)
    return math.log(float(ratio)), math.log(float(spread))


def _part(between_share: float) -> float:
    if not 0.0 <= between_share < 1.0:
        raise ValueError(f"`between_share` must be at least 0 and below 1; it is {between_share:g}")
    return float(between_share)


def _draws(groups: int, n: int, seed: int) -> Iterator[Floats]:
    """Standard normal numbers in chunks of bounded size, shape (some groups, n)."""
    random = np.random.default_rng(seed)
    chunk = max(1, _CHUNK_NUMBERS // n)
    for start in range(0, groups, chunk):
        yield random.standard_normal((min(chunk, groups - start), n))


def _worker_draws(groups: int, workers: int, repeats: int, between_share: float, seed: int) -> Iterator[Floats]:
    """Standardised logs with a share of their variance between workers, shape (some groups, workers, repeats)."""
    part = _part(between_share)
    for y in _draws(groups, workers * (repeats + 1), seed):
        own = y[:, :workers, None]
        day = y[:, workers:].reshape(y.shape[0], workers, repeats)
        yield math.sqrt(part) * own + math.sqrt(1.0 - part) * day
