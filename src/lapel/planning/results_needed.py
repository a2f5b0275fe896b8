"""
How many results to plan for: the chance that a test shows what one hopes, for an assumed truth of the group.

The truth is assumed, never known: look at several. A test that would show nothing with any payable number of results
is as useful to know as one that needs six.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from lapel.planning.arguments import above, share
from lapel.statistics import (
    gm_for_percentile,
    preliminary_test_chances,
    simulate_individual_worker_test,
    statistical_test_power,
)
from lapel.statistics.posterior import posterior
from lapel.statistics.priors import PUBLISHED_SPREAD, Prior

#: Groups simulated for one point of a curve that has no closed form.
SIMULATED_GROUPS = 20_000


@dataclass(frozen=True)
class Truth:
    """
    What a group is assumed to be like.

    Attributes
    ----------
    gm_to_limit : float
        Geometric mean over the limit. [-]
    gsd : float
        Geometric standard deviation of all its shifts, above 1. [-]
    between_share : float
        Share of the variance of the logs that lies between workers. [-]
    """

    gm_to_limit: float
    gsd: float
    between_share: float = 0.2

    def __post_init__(self) -> None:
        above(0.0, gm_to_limit=self.gm_to_limit)
        above(1.0, gsd=self.gsd)
        if not 0.0 <= self.between_share < 1.0:
            raise ValueError(f"`between_share` must be at least 0 and below 1; it is {self.between_share!r}")

    @classmethod
    def with_percentile(
        cls, percentile_to_limit: float, gsd: float, *, between_share: float = 0.2, coverage: float = 0.95
    ) -> Truth:
        """The group whose 95th (or other) percentile is a given share of the limit."""
        gm = float(gm_for_percentile(percentile_to_limit, gsd=gsd, coverage=coverage))
        return cls(gm, gsd, between_share)


@dataclass(frozen=True)
class PowerPoint:
    """Chance that a test shows compliance with so many results; ``error`` is the Monte Carlo error, 0 if exact."""

    results: int
    workers: int
    chance: float
    error: float


@dataclass(frozen=True)
class GroupTest:
    """
    A test as a plan sees it: its name, its source, the numbers of results that are possible, and its chance.

    ``repeats`` is the number of results of each worker; 1 where every result is another worker's.
    """

    name: str
    source: str
    repeats: int
    possible: Callable[[int], Iterable[int]]
    chance: Callable[[int, Truth], tuple[float, float]]

    def point(self, results: int, truth: Truth) -> PowerPoint:
        """The chance with so many results."""
        chance, error = self.chance(results, truth)
        return PowerPoint(results, results // self.repeats, chance, error)


def preliminary_route() -> GroupTest:
    """EN 689's preliminary test with 3, 4 or 5 results: shown when all lie below 0.1, 0.15 or 0.2 of the limit."""

    def chance(n: int, truth: Truth) -> tuple[float, float]:
        chances = preliminary_test_chances(n, gm_to_limit=truth.gm_to_limit, gsd=truth.gsd)
        return float(chances.shown), 0.0

    return GroupTest(
        "EN 689 preliminary test", "EN 689:2018, 5.5.2", 1, lambda most: range(3, min(5, most) + 1), chance
    )


def percentile_test(*, coverage: float = 0.95, confidence: float = 0.70) -> GroupTest:
    """
    EN 689's statistical test (70 %), or a tolerance limit with another confidence: the same closed form.

    Parameters
    ----------
    coverage, confidence : float
        0.95 and 0.70 for EN 689; 0.95 and 0.95 for an upper tolerance limit in the American habit. [-]

    Returns
    -------
    GroupTest
    """
    share(coverage=coverage, confidence=confidence)
    is_en_689 = (coverage, confidence) == (0.95, 0.70)
    name = (
        "EN 689 statistical test"
        if is_en_689
        else f"upper tolerance limit {100 * coverage:.0f} %/{100 * confidence:.0f} %"
    )
    source = "EN 689:2018, 5.5.3" if is_en_689 else "one-sided normal tolerance limit of the logs (noncentral t)"

    def chance(n: int, truth: Truth) -> tuple[float, float]:
        power = statistical_test_power(
            n, gm_to_limit=truth.gm_to_limit, gsd=truth.gsd, coverage=coverage, confidence=confidence
        )
        return float(power), 0.0

    return GroupTest(name, source, 1, lambda most: range(6 if is_en_689 else 3, most + 1), chance)


def individual_worker_route(*, repeats: int = 2, groups: int = SIMULATED_GROUPS) -> GroupTest:
    """
    The individual-worker test: at least 3 workers with at least 2 results each, at least 9 in all.

    Parameters
    ----------
    repeats : int
        Results of each worker. [-]
    groups : int
        Groups simulated for each point; there is no closed form.

    Returns
    -------
    GroupTest
    """
    if repeats < 2:
        raise ValueError(f"`repeats` must be at least 2, or the spread within workers is not seen; it is {repeats}")

    def possible(most: int) -> Iterable[int]:
        return (n for n in range(max(3 * repeats, 9), most + 1) if n % repeats == 0)

    def chance(n: int, truth: Truth) -> tuple[float, float]:
        simulated = simulate_individual_worker_test(
            n // repeats,
            repeats,
            gm_to_limit=truth.gm_to_limit,
            gsd=truth.gsd,
            between_share=truth.between_share,
            groups=groups,
        )
        return simulated.chances["shown"], simulated.errors["shown"]

    source = "BOHS/NVvA, Testing compliance with occupational exposure limits, 2011: 20 % chance, 5 % of shifts"
    return GroupTest("individual-worker test", source, repeats, possible, chance)


def posterior_route(
    *, sure: float = 0.95, band: float = 1.0, prior: Prior = PUBLISHED_SPREAD, groups: int = 2_000, seed: int = 6_001
) -> GroupTest:
    """
    The Bayesian statement: a wanted posterior probability that the 95th percentile lies below an edge of a band.

    Parameters
    ----------
    sure : float
        Posterior probability wanted before it is said. [-]
    band : float
        Edge over the limit: 1 for the limit itself, 0.5 or 0.1 for a lower band. [-]
    prior : SpreadPrior or FlatPrior
        Of the spread, as in the judgement.
    groups, seed : int
        Groups simulated for each point, and from which seed; there is no closed form.

    Returns
    -------
    GroupTest
        Results independent and all measured.
    """
    share(sure=sure)
    above(0.0, band=band)
    if groups < 1:
        raise ValueError(f"`groups` must be at least 1; it is {groups}")

    def chance(n: int, truth: Truth) -> tuple[float, float]:
        rng = np.random.default_rng([seed, n])
        logs = math.log(truth.gm_to_limit) + math.log(truth.gsd) * rng.standard_normal((groups, n))
        belief = posterior(list(np.exp(logs)), limit=1.0, prior=prior)
        shown = int(np.sum(belief.probability_above("p95", band) <= 1.0 - sure))
        p = shown / groups
        # The error never falls below that of one group, as for the other simulated chances.
        return p, math.sqrt(max(p * (1.0 - p), (1.0 - 1.0 / groups) / groups) / groups)

    name = f"Bayesian: {100 * sure:.0f} % sure that the 95th percentile is below {band:g} of the limit"
    return GroupTest(name, f"posterior of the group; {prior.describe()}", 1, lambda most: range(1, most + 1), chance)


def power_curve(test: GroupTest, truth: Truth, *, at_most: int = 40) -> tuple[PowerPoint, ...]:
    """
    Chance of showing compliance against the number of results.

    Parameters
    ----------
    test : GroupTest
    truth : Truth
    at_most : int
        Largest number of results.

    Returns
    -------
    tuple of PowerPoint
        One for each number the test allows; empty where ``at_most`` is below its least.
    """
    return tuple(test.point(n, truth) for n in test.possible(at_most))


@dataclass(frozen=True)
class ResultsWanted:
    """The smallest number of results that gives the wanted chance, or None; with the point and the words for it."""

    test: str
    source: str
    wanted_chance: float
    point: PowerPoint | None
    best: PowerPoint
    words: str


def results_wanted(test: GroupTest, truth: Truth, *, chance: float = 0.80, at_most: int = 40) -> ResultsWanted:
    """
    How many results give a wanted chance of showing compliance.

    Parameters
    ----------
    test : GroupTest
    truth : Truth
        Assumed; say in the plan why.
    chance : float
        Wanted. [-]
    at_most : int
        More results than this are not considered.

    Returns
    -------
    ResultsWanted
        ``point`` is None where no number up to ``at_most`` does it. A simulated chance counts only when it lies above
        the wanted one by two Monte Carlo errors.

    Raises
    ------
    ValueError
        A share is out of range, or ``at_most`` is below the least number the test allows.
    """
    share(chance=chance)
    best: PowerPoint | None = None
    for number in test.possible(at_most):
        point = test.point(number, truth)
        if best is None or point.chance > best.chance:
            best = point
        if point.chance - 2 * point.error >= chance:
            return ResultsWanted(test.name, test.source, chance, point, point, _words(test, truth, chance, point))
    if best is None:
        raise ValueError(f"`at_most` is {at_most}, and the {test.name} needs more results than that")
    words = (
        f"{test.name}: no number of results up to {at_most} gives a chance of {100 * chance:.0f} % if the "
        f"geometric mean is {truth.gm_to_limit:.2g} of the limit and the geometric standard deviation "
        f"{truth.gsd:.2g}; the best is {100 * best.chance:.0f} % with {best.results}. Lower the exposure "
        "first, or choose another question."
    )
    return ResultsWanted(test.name, test.source, chance, None, best, words)


def _words(test: GroupTest, truth: Truth, chance: float, point: PowerPoint) -> str:
    who = f"{point.results} results" + (
        f" ({point.workers} workers, {test.repeats} each)" if test.repeats > 1 else ", each of another worker or day"
    )
    error = f" ± {100 * point.error:.1f} % (simulated)" if point.error else ""
    return (
        f"{test.name}: {who}. If the geometric mean is {truth.gm_to_limit:.2g} of the limit and the geometric standard "
        f"deviation {truth.gsd:.2g}, this shows it with a chance of {100 * point.chance:.0f} %{error}; "
        f"wanted {100 * chance:.0f} %."
    )
