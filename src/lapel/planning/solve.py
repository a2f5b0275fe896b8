"""
The search for the best campaign, and its proof.

Goal by goal: the summed model gives a bound no plan can beat; its patterns are then laid on the days. Where that
reaches the bound the goal is proven at once; where it does not, the full model decides, within the time there is.
What is not proven is handed on with its gap.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from lapel.planning.campaign import GOALS, Campaign, Entry, Floats, Matrix, full_model, summed_model
from lapel.planning.demand import CampaignPlan, Demand, Equipment, Goal
from lapel.planning.explain import explain_missing
from lapel.planning.first_fit import first_fit
from lapel.planning.schedule import Chosen, schedule_visits

#: Above this many visit columns the full model is not tried over all patterns.
FULL_COLUMNS_AT_MOST = 60_000

#: Costs closer than this are equal. [-]
_SAME_COST = 1e-7


@dataclass(frozen=True)
class Answer:
    """What one run of the solver found: values of the columns or None, the value, and the proven bound."""

    columns: Floats | None
    value: float
    bound: float


def minimise(
    matrix: Matrix, goal: Floats, caps: Sequence[tuple[Floats, float]] = (), *, seconds: float, whole: bool = True
) -> Answer:
    """
    Smallest value of a goal, others held at or below their caps.

    Parameters
    ----------
    matrix : Matrix
    goal : ndarray
        Cost of each column.
    caps : sequence of (ndarray, float)
        Rows that must not exceed a value.
    seconds : float
        Time limit of the solver.
    whole : bool
        The goal takes whole numbers only, so a fractional bound may be rounded up.

    Returns
    -------
    Answer
        ``columns`` is None where nothing was found; the bound is infinite where it is proven that nothing exists.
    """
    constraints = [LinearConstraint(matrix.rows, matrix.lower, matrix.upper)]
    constraints += [LinearConstraint(row.reshape(1, -1), -np.inf, cap) for row, cap in caps]
    answer = milp(
        goal,
        constraints=constraints,
        bounds=Bounds(matrix.column_low, matrix.column_high),
        integrality=np.ones(matrix.size),
        options={"time_limit": max(seconds, 0.05), "mip_rel_gap": 0.0},
    )
    if answer.status == 2:
        return Answer(None, math.inf, math.inf)
    bound = answer.mip_dual_bound
    bound = -math.inf if bound is None or not math.isfinite(bound) else float(bound)
    if whole and math.isfinite(bound):
        bound = math.ceil(bound - 1e-6)
    if answer.x is None:
        return Answer(None, math.inf, bound)
    columns = np.round(answer.x)
    value = float(goal @ columns)
    if answer.status == 0:
        bound = value if whole else max(bound, value - _SAME_COST * max(1.0, abs(value)))
        bound = min(bound, value)
    return Answer(columns, value, min(bound, value))


class Stopwatch:
    """Counts down the seconds granted. It only ends the search; a proven plan does not depend on it."""

    def __init__(self, seconds: float) -> None:
        self.ends = time.monotonic() + seconds

    @property
    def left(self) -> float:
        """Seconds left, never below 0."""
        return max(0.0, self.ends - time.monotonic())


@dataclass
class _Search:
    """Where the search stands: the best visits so far, and the proven bound of each goal."""

    campaign: Campaign
    watch: Stopwatch
    tell: Callable[[str], None]
    best: list[Chosen] | None = None
    values: tuple[float, ...] = ()
    bounds: dict[str, float] = field(default_factory=dict)
    summed: dict[tuple[float, ...], float] = field(default_factory=dict)

    def offer(self, visits: list[Chosen]) -> None:
        """Keep these visits if they are better, goal by goal."""
        values = goal_values(self.campaign, visits)
        if self.best is None or _before(values, self.values):
            self.best, self.values = visits, values


def _before(one: Sequence[float], other: Sequence[float]) -> bool:
    for a, b in zip(one, other, strict=True):
        if abs(a - b) > _SAME_COST * max(1.0, abs(a), abs(b)):
            return a < b
    return False


def goal_values(campaign: Campaign, visits: Sequence[Chosen]) -> tuple[float, ...]:
    """What these visits come to, for each of the goals."""
    met: dict[tuple[int, str], int] = {}
    carried: dict[int, list[int]] = {}
    for visit in visits:
        for agent in visit.pattern.agents:
            met[visit.worker, agent] = met.get((visit.worker, agent), 0) + 1
        used = carried.setdefault(visit.day, [0] * len(campaign.equipment.pumps))
        for kind, count in enumerate(visit.pattern.pumps):
            used[kind] += count
    short = sum(max(0, count - met.get((w, agent), 0)) for w, agent, count in campaign.wants)
    peak = (
        sum(max(day[kind] for day in carried.values()) for kind in range(len(campaign.equipment.pumps)))
        if (carried)
        else 0
    )
    return float(short), float(len(carried)), float(peak), math.fsum(v.pattern.cost for v in visits)


def visits_of(matrix: Matrix, columns: Floats) -> list[Chosen]:
    """The visits a solution of the full model stands for."""
    return [
        Chosen(matrix.entries[e].worker, int(day), matrix.entries[e].pattern)
        for (e, day), value in zip(matrix.visits, columns, strict=False)
        if value > 0.5
    ]


def design_campaign(
    demand: Demand, equipment: Equipment, *, seconds: float = 30.0, tell: Callable[[str], None] | None = None
) -> CampaignPlan:
    """
    The best feasible campaign: fewest wants not met, then field days, then pumps carried, then cost.

    Parameters
    ----------
    demand : Demand
        Workers with what is wanted of each, sampler options with their windows, days on offer.
    equipment : Equipment
        Pumps, splitters and crew.
    seconds : float
        Time granted to the search.
    tell : callable, optional
        Told, in words, how far the search is; what it raises ends the search.

    Returns
    -------
    CampaignPlan
        Visits with pump numbers, port flows and hang times; for each goal what was reached and what is proven to
        be the best possible; wants that cannot be met with the reason and what to relax. Never an exception for a
        wish that cannot be met.

    Raises
    ------
    ValueError
        ``seconds`` is not above 0, or a worker has too many sampler options.

    Notes
    -----
    Goals are strict: no saving of cost buys a field day. ``pumps carried`` adds up the most of each kind on any one
    day, which is what must be packed. Solved by branch and bound (HiGHS) with a relative gap of 0; bounds from the
    summed model hold for the full one because it is a relaxation of it.
    """
    if not (math.isfinite(seconds) and seconds > 0):
        raise ValueError(f"`seconds` must be finite and above 0; it is {seconds!r}")
    watch = Stopwatch(seconds)
    campaign = Campaign(demand, equipment)
    if not campaign.entries or not campaign.wants or not demand.days:
        visits: list[Chosen] = []
        values = goal_values(campaign, visits)
        goals = tuple(Goal(name, value, value) for name, value in zip(GOALS, values, strict=True))
        missing, advice = explain_missing(campaign, visits, seconds=watch.left)
        return CampaignPlan((), missing, goals, advice)
    search = _Search(campaign, watch, tell or (lambda _words: None))
    people, days = len(demand.workers), len(demand.days)
    search.tell(f"Laying {len(campaign.entries)} ways to equip {people} workers on {days} days.")
    _lay_sums_on_days(search)
    _goal_by_goal(search)
    search.tell("Laying out hang times, pumps and port flows; working out reasons for what is missing.")
    visits = search.best or []
    values = goal_values(campaign, visits)
    goals = tuple(
        Goal(name, value, min(value, search.bounds.get(name, 0.0))) for name, value in zip(GOALS, values, strict=True)
    )
    missing, advice = explain_missing(campaign, visits, seconds=max(2.0, watch.left))
    return CampaignPlan(schedule_visits(campaign, visits), missing, goals, advice)


def _summed_optimum(search: _Search, *, seconds: float) -> list[Answer]:
    """Summed optimum of every goal in turn, those before it held at theirs."""
    answers: list[Answer] = []
    for place, name in enumerate(GOALS):
        days = round(answers[1].value) if place >= 2 else None
        matrix = summed_model(search.campaign, days_used=days)
        before = [(matrix.goals[g], a.value) for g, a in zip(GOALS, answers, strict=False)]
        share = min(seconds / 3, search.watch.left)
        answer = minimise(matrix, matrix.goals[name], before, seconds=share, whole=place < 3)
        answers.append(answer)
        if answer.columns is None:
            break
    return answers


def _lay_sums_on_days(search: _Search) -> None:
    """First try: the summed optimum's patterns on the days; with luck every goal is proven here."""
    campaign, watch = search.campaign, search.watch
    answers = _summed_optimum(search, seconds=watch.left / 3)
    for place, answer in enumerate(answers):
        search.summed[tuple(a.value for a in answers[:place])] = answer.bound
    found = [answer for answer in answers if answer.columns is not None]
    if not found:
        search.offer([])
        return
    patterns = _patterns_of(campaign, found[-1])
    search.offer(first_fit(campaign, patterns))
    if len(found) < len(GOALS):
        return
    matrix = full_model(campaign, _distinct(patterns))
    caps = [(matrix.goals[name], answer.value) for name, answer in zip(GOALS[:3], found, strict=False)]
    answer = minimise(matrix, matrix.goals[GOALS[3]], caps, seconds=watch.left / 3, whole=False)
    if answer.columns is not None:
        search.offer(visits_of(matrix, answer.columns))


def _patterns_of(campaign: Campaign, answer: Answer) -> list[Entry]:
    """Entries of a summed solution, each as often as it is used."""
    if answer.columns is None:
        return []
    counts = np.round(answer.columns[: len(campaign.entries)]).astype(int)
    return [campaign.entries[e] for e in np.flatnonzero(counts) for _ in range(counts[e])]


def _distinct(entries: Sequence[Entry]) -> list[Entry]:
    return list({id(entry): entry for entry in entries}.values())


def _goal_by_goal(search: _Search) -> None:
    """Prove or improve each goal in turn, those before it held at what was reached."""
    campaign, watch = search.campaign, search.watch
    columns = sum(
        worker.is_present(day) * len(campaign.patterns[w])
        for w, worker in enumerate(campaign.demand.workers)
        for day in campaign.demand.days
    )
    matrix: Matrix | None = None
    proven_so_far = True
    for place, name in enumerate(GOALS):
        held = dict(zip(GOALS[:place], search.values[:place], strict=True))
        bound = _bound(search, place, held) if proven_so_far else -math.inf
        reached = search.values[place]
        if _close(reached, bound, whole=place < 3):
            search.bounds[name] = reached
            search.tell(f"{name.capitalize()}: {reached:g}, proven best.")
            continue
        search.tell(f"{name.capitalize()}: {reached:g} so far; looking for fewer. {watch.left:.0f} s left.")
        if watch.left > 0.2:
            if matrix is None:
                matrix = (
                    full_model(campaign)
                    if columns <= FULL_COLUMNS_AT_MOST
                    else full_model(campaign, _promising(search))
                )
            caps = [(matrix.goals[g], held[g]) for g in GOALS[:place]]
            share = watch.left if place == len(GOALS) - 1 else watch.left / 2
            answer = minimise(matrix, matrix.goals[name], caps, seconds=share, whole=place < 3)
            if answer.columns is not None:
                search.offer(visits_of(matrix, answer.columns))
            if columns <= FULL_COLUMNS_AT_MOST and math.isfinite(answer.bound):
                bound = max(bound, answer.bound)
        reached = search.values[place]
        proven_so_far = proven_so_far and _close(reached, bound, whole=place < 3)
        search.bounds[name] = reached if proven_so_far else max(0.0, bound)
        sure = "proven best" if proven_so_far else f"at best {max(0.0, bound):g}"
        search.tell(f"{name.capitalize()}: {reached:g}, {sure}.")


def _bound(search: _Search, place: int, held: Mapping[str, float]) -> float:
    """Summed bound of a goal with those before it held at the values reached."""
    known = search.summed.get(tuple(held.values()))
    if known is not None and math.isfinite(known):
        return known
    days = int(held[GOALS[1]]) if place >= 2 else None
    matrix = summed_model(search.campaign, days_used=days)
    caps = [(matrix.goals[g], held[g]) for g in GOALS[:place]]
    share = max(0.1, search.watch.left / 6)
    answer = minimise(matrix, matrix.goals[GOALS[place]], caps, seconds=share, whole=place < 3)
    return answer.bound if math.isfinite(answer.bound) else 0.0


def _close(reached: float, bound: float, *, whole: bool) -> bool:
    return reached <= bound + (0.5 if whole else 10 * _SAME_COST * max(1.0, abs(reached)))


def _promising(search: _Search) -> list[Entry]:
    """Patterns of the best plan so far, and for each worker the cheapest that bring most."""
    campaign = search.campaign
    chosen = {(visit.worker, id(visit.pattern)) for visit in search.best or []}
    kept = []
    for w, patterns in enumerate(campaign.patterns):
        wanted = frozenset(campaign.demand.workers[w].wants)
        best = sorted(patterns, key=lambda p: (-len(p.agents & wanted), p.hangs, p.cost))[:3]
        kept += [
            Entry(w, pattern)
            for pattern in patterns
            if (w, id(pattern)) in chosen or any(pattern is other for other in best)
        ]
    return kept
