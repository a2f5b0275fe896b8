"""How many results each question wants, and of whom: the test's number, the draw with its seed, days per worker."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from lapel.assessment.plan_inputs import PlanInputs, Question, TestName
from lapel.planning import (
    DrawSize,
    GroupTest,
    PowerPoint,
    RandomDraw,
    ResultsWanted,
    Truth,
    chance_to_catch,
    draw_workers,
    individual_worker_route,
    percentile_test,
    posterior_route,
    power_curve,
    preliminary_route,
    results_wanted,
    workers_to_draw,
)

AT_MOST = 30
"""More results than this are not considered for a group: nobody pays for them."""

TESTS: dict[str, Callable[[], GroupTest]] = {
    "preliminary": preliminary_route,
    "percentile 95/70": percentile_test,
    "tolerance 95/95": lambda: percentile_test(confidence=0.95),
    "individual worker": lambda: individual_worker_route(groups=4_000),
    "bayesian": lambda: posterior_route(groups=1_000),
}
"""Tests a question may name. The simulated ones take fewer groups than a study would: their error is printed."""

TOP = 0.10
"""Share of a group called the most exposed."""


@dataclass(frozen=True, slots=True)
class Sought:
    """
    What a question wants of whom.

    `days_wanted` is on how many days each chosen worker is sampled; `power` the curve of the test, empty without one.
    """

    question: Question
    results: int
    days_wanted: dict[str, int]
    how_many: str
    whom: str
    wanted: ResultsWanted | None = None
    power: tuple[PowerPoint, ...] = ()
    draw: RandomDraw | None = None
    draw_size: DrawSize | None = None

    @property
    def falls_short(self) -> bool:
        """Whether the test asked for cannot reach the wanted chance with any number considered."""
        return self.wanted is not None and self.wanted.point is None


def sought(question: Question, inputs: PlanInputs) -> Sought:
    """
    How many results, and of which workers on how many days each.

    Parameters
    ----------
    question : Question
    inputs : PlanInputs

    Returns
    -------
    Sought
        A test that no considered number satisfies wants its best number all the same, and `falls_short` says so.
    """
    if question.worker:
        count = question.results or 1
        return Sought(question, count, {question.worker: count}, f"{_results(count)}, as asked.", "the worker named")
    members = inputs.members(question.group)
    size = workers_to_draw(len(members))
    wanted: ResultsWanted | None = None
    power: tuple[PowerPoint, ...] = ()
    repeats = 1
    if question.test is not None:
        wanted, power, repeats = _power(
            question.test, question.assumed_gm_share or 0.0, question.assumed_gsd or 0.0, question.chance
        )
        count, how_many = (wanted.point or wanted.best).results, wanted.words
    elif question.results is not None:
        count, how_many = question.results, f"{_results(question.results)}, as asked."
    elif question.who == "draw":
        count, how_many = size.exact, f"{_results(size.exact)}: as many as the draw needs. {size.words}"
    else:
        count = len(members) if question.who == "everybody" else len(question.named)
        how_many = f"{_results(count)}: one of each worker."
    if question.who == "draw":
        number = min(len(members), max(1, count // repeats))
        draw = draw_workers(members, number, seed=f"{inputs.seed}:{question.group}")
        return Sought(
            question, count, spread(draw.drawn, count), how_many, _draw_words(draw, members, size),
            wanted, power, draw, size,
        )  # fmt: skip
    chosen = question.named if question.who == "named" else members
    count = max(count, len(chosen))
    whom = "named: the highest exposures are expected of them" if question.who == "named" else "everybody in the group"
    return Sought(question, count, spread(chosen, count), how_many, whom, wanted, power, None, size)


@lru_cache(maxsize=200)
def _power(
    test: TestName, gm_share: float, gsd: float, chance: float
) -> tuple[ResultsWanted, tuple[PowerPoint, ...], int]:
    """What a test wants for an assumed truth; worked out once, for a page asks again at every change."""
    asked, truth = TESTS[test](), Truth(gm_share, gsd)
    wanted = results_wanted(asked, truth, chance=chance, at_most=AT_MOST)
    return wanted, power_curve(asked, truth, at_most=AT_MOST), asked.repeats


def spread(workers: tuple[str, ...], results: int) -> dict[str, int]:
    """Days of each worker so that the results are as even as can be, the first drawn getting the odd ones."""
    each, odd = divmod(results, len(workers))
    days = {worker: each + (place < odd) for place, worker in enumerate(workers)}
    return {worker: count for worker, count in days.items() if count}


def _results(count: int) -> str:
    return "1 result" if count == 1 else f"{count} results"


def _draw_words(draw: RandomDraw, members: tuple[str, ...], size: DrawSize) -> str:
    number = len(draw.drawn)
    if number == len(members):
        return f"all {number} of the group"
    chance = float(chance_to_catch(len(members), size.top_members, number))
    enough = "" if number >= size.exact else f"; {size.exact} would make it 90 % or more"
    who = "the most exposed one" if size.top_members == 1 else f"one of the {size.top_members} most exposed"
    return (
        f"{number} of {len(members)} drawn at random, seed “{draw.seed}” ({draw.method}); the chance that {who} is "
        f"among them is {100 * chance:.0f} %{enough}"
    )
