"""
Re-planning in the field: a pump dies, a worker is absent, a sample is lost, and the rest of the plan bends least.

What is done stays done. For the days that remain the goals are, in order: fewest wants not met, fewest visits that
differ from what people were told, then field days, pumps and cost as before.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lapel.planning.campaign import GOALS, Campaign, Matrix, full_model, summed_model
from lapel.planning.demand import CampaignPlan, Demand, Equipment, Goal, Visit, Worker
from lapel.planning.explain import explain_missing
from lapel.planning.first_fit import keep_and_fill
from lapel.planning.schedule import Chosen, schedule_visits
from lapel.planning.solve import FULL_COLUMNS_AT_MOST, Stopwatch, goal_values, minimise, visits_of

#: The goal that stands between wants and days when a plan is bent.
VISITS_CHANGED = "visits changed"

#: The goals when a plan is bent, most important first.
BENT_GOALS = (GOALS[0], VISITS_CHANGED, *GOALS[1:])


@dataclass(frozen=True)
class Replanned:
    """
    The plan for the days that remain, with the demand and equipment it was made for.

    ``kept`` visits are as people were told (same worker, day and samplers), ``new`` and ``dropped`` are not;
    ``short_before`` counts the wants that the plan in force did not meet either.
    """

    plan: CampaignPlan
    demand: Demand
    equipment: Equipment
    kept: tuple[tuple[str, str], ...]
    new: tuple[tuple[str, str], ...]
    dropped: tuple[tuple[str, str], ...]
    short_before: int

    @property
    def words(self) -> str:
        """What changes for whom, in one paragraph."""
        parts = [f"{len(self.kept)} visits stay as they were."]
        if self.dropped:
            parts.append("Not any more: " + "; ".join(f"{w} on {d}" for w, d in self.dropped) + ".")
        if self.new:
            parts.append("New or different: " + "; ".join(f"{w} on {d}" for w, d in self.new) + ".")
        short = sum(missing.days_short for missing in self.plan.missing)
        parts.append(
            f"Wants not met: {short}, before {self.short_before}." if short else "Everything wanted is still met."
        )
        return " ".join(parts)


def replan(
    plan: CampaignPlan,
    demand: Demand,
    equipment: Equipment,
    *,
    from_day: str,
    pumps_lost: Mapping[str, int] | None = None,
    absent: Mapping[str, Collection[str]] | None = None,
    samples_lost: Collection[tuple[str, str, str]] = (),
    seconds: float = 20.0,
) -> Replanned:
    """
    Bend a plan from a day on, changing as few visits as the wants allow.

    Parameters
    ----------
    plan : CampaignPlan
        The plan in force.
    demand, equipment
        What it was made for.
    from_day : str
        First day that can still be changed; earlier visits count as done.
    pumps_lost : mapping of str to int, optional
        Pumps of a kind that are gone from that day on.
    absent : mapping of str to collection of str, optional
        Days on which a worker is not there after all.
    samples_lost : collection of (worker, day, agent), optional
        Wants that earlier visits did not meet after all.
    seconds : float
        Time granted to the search.

    Returns
    -------
    Replanned

    Raises
    ------
    ValueError
        The day, a pump kind, a worker or a lost sample is not one of the plan's.
    """
    pumps_lost, absent = pumps_lost or {}, absent or {}
    _look_at(demand, equipment, plan, from_day, pumps_lost, absent, samples_lost)
    days = demand.days[demand.days.index(from_day) :]
    rest = replace(demand, days=days, workers=_remaining(plan, demand, days, absent, samples_lost))
    pumps = tuple(replace(kind, count=kind.count - pumps_lost.get(kind.name, 0)) for kind in equipment.pumps)
    left = replace(equipment, pumps=pumps)
    told = {(v.worker, v.day): _samplers(v) for v in plan.visits if v.day in days}
    bent = _bend(rest, left, told, seconds=seconds)
    now = {(visit.worker, visit.day): _samplers(visit) for visit in bent.visits}
    kept = tuple(sorted(key for key in told if now.get(key) == told[key]))
    new = tuple(sorted(key for key in now if now[key] != told.get(key)))
    dropped = tuple(sorted(key for key in told if key not in now))
    short_before = sum(missing.days_short for missing in plan.missing)
    return Replanned(bent, rest, left, kept, new, dropped, short_before)


def _samplers(visit: Visit) -> frozenset[str]:
    return frozenset(port.option for train in visit.trains for port in train.ports)


def _look_at(
    demand: Demand,
    equipment: Equipment,
    plan: CampaignPlan,
    from_day: str,
    pumps_lost: Mapping[str, int],
    absent: Mapping[str, Collection[str]],
    samples_lost: Collection[tuple[str, str, str]],
) -> None:
    if from_day not in demand.days:
        raise ValueError(f"`from_day` must be one of {', '.join(demand.days)}; it is {from_day!r}")
    counts = {kind.name: kind.count for kind in equipment.pumps}
    for kind, lost in pumps_lost.items():
        if not 0 <= lost <= counts.get(kind, -1):
            raise ValueError(f"`pumps_lost`: {lost} of {kind!r} cannot be lost, there are {counts.get(kind, 0)}")
    strangers = sorted(set(absent) - {worker.code for worker in demand.workers})
    if strangers:
        raise ValueError(f"`absent`: no worker is called {', '.join(strangers)}")
    visited = {(visit.worker, visit.day) for visit in plan.visits}
    for worker, day, agent in samples_lost:
        if (worker, day) not in visited:
            raise ValueError(f"`samples_lost`: {worker} was not visited on {day} ({agent})")


def _remaining(
    plan: CampaignPlan,
    demand: Demand,
    days: tuple[str, ...],
    absent: Mapping[str, Collection[str]],
    samples_lost: Collection[tuple[str, str, str]],
) -> tuple[Worker, ...]:
    """The workers with what is still wanted of them, on the days they are still there."""
    lost, met, worn = set(samples_lost), Counter[tuple[str, str]](), Counter[str]()
    for visit in plan.visits:
        if visit.day not in days:
            worn[visit.worker] += 1
            for agent in frozenset().union(*(demand.options[name].agents for name in _samplers(visit))):
                met[visit.worker, agent] += (visit.worker, visit.day, agent) not in lost
    remaining = []
    for worker in demand.workers:
        wants = {a: n - met[worker.code, a] for a, n in worker.wants.items() if n > met[worker.code, a]}
        away = set(absent.get(worker.code, ()))
        there = frozenset(day for day in days if worker.is_present(day) and day not in away)
        most = None if worker.days_at_most is None else max(0, worker.days_at_most - worn[worker.code])
        remaining.append(replace(worker, wants=wants, days=there, days_at_most=most))
    return tuple(remaining)


def _bend(
    demand: Demand, equipment: Equipment, told: Mapping[tuple[str, str], frozenset[str]], *, seconds: float
) -> CampaignPlan:
    watch = Stopwatch(seconds)
    by_worker: dict[str, frozenset[frozenset[str]]] = {}
    for (code, _), samplers in told.items():
        by_worker[code] = by_worker.get(code, frozenset()) | {samplers}
    campaign = Campaign(demand, equipment, by_worker)
    if not campaign.entries or not campaign.wants:
        return _plan(campaign, [], dict.fromkeys(BENT_GOALS, math.inf), told, watch)
    patched = keep_and_fill(campaign, told)
    if len(campaign.entries) * len(demand.days) <= FULL_COLUMNS_AT_MOST:
        visits, bounds = _search(full_model(campaign), campaign, told, watch)
        best = min(patched, visits, key=lambda found: _wants_and_changes(campaign, found, told))
        return _plan(campaign, best, bounds, told, watch)
    # Too large to search whole: workers who lost a visit may be given anything, the others what they were told to
    # wear, on whichever day.
    kept = {(demand.workers[v.worker].code, demand.days[v.day]) for v in patched if _is_told(campaign, v, told)}
    touched = {code for code, day in told if (code, day) not in kept}
    entries = [
        entry
        for entry in campaign.entries
        for code in [demand.workers[entry.worker].code]
        if code in touched or frozenset(entry.pattern.options) in by_worker.get(code, ())
    ]
    visits, _ = _search(full_model(campaign, entries), campaign, told, Stopwatch(watch.left * 0.7))
    best = min(patched, visits, key=lambda found: _wants_and_changes(campaign, found, told))
    return _plan(campaign, best, _summed_bounds(campaign, best, told, watch), told, watch)


def _is_told(campaign: Campaign, visit: Chosen, told: Mapping[tuple[str, str], frozenset[str]]) -> bool:
    key = (campaign.demand.workers[visit.worker].code, campaign.demand.days[visit.day])
    return told.get(key) == frozenset(visit.pattern.options)


def _wants_and_changes(
    campaign: Campaign, visits: list[Chosen], told: Mapping[tuple[str, str], frozenset[str]]
) -> tuple[float, ...]:
    short, *rest = goal_values(campaign, visits)
    same = sum(_is_told(campaign, visit, told) for visit in visits)
    return (short, float(len(told) + len(visits) - 2 * same), *rest)


def _search(
    matrix: Matrix, campaign: Campaign, told: Mapping[tuple[str, str], frozenset[str]], watch: Stopwatch
) -> tuple[list[Chosen], dict[str, float]]:
    """The best visits, and bounds that hold for this matrix."""
    changed = np.zeros(matrix.size)
    # A new visit counts one; a visit that people were told of and that stays takes one off the number told.
    changed[: len(matrix.visits)] = np.where(_as_told(matrix, campaign, told), -1.0, 1.0)
    # Wants and changes are searched in one: a want weighs more than all changes there can be. Looked for alone, the
    # wants would scatter the visits, and the second search would have to find the way back.
    weight = float(len(told) + len(campaign.demand.workers) * len(campaign.demand.days) + 1)
    both = weight * matrix.goals[GOALS[0]] + changed
    answer = minimise(matrix, both, seconds=watch.left * 0.6)
    if answer.columns is None:
        return [], {}
    visits = visits_of(matrix, answer.columns)
    short, changes = float(matrix.goals[GOALS[0]] @ answer.columns), float(changed @ answer.columns)
    is_best = answer.bound >= answer.value
    bounds = {
        GOALS[0]: short if is_best else _want_bound(answer.bound, weight),
        VISITS_CHANGED: len(told) + changes if is_best else 0.0,
    }
    caps = [(matrix.goals[GOALS[0]], short), (changed, changes)]
    for place, name in enumerate(GOALS[1:]):
        share = watch.left / (len(GOALS) - 1 - place)
        answer = minimise(matrix, matrix.goals[name], caps, seconds=share, whole=name != GOALS[-1])
        bounds[name] = answer.bound
        if answer.columns is None:
            break
        visits = visits_of(matrix, answer.columns)
        caps.append((matrix.goals[name], answer.value))
    return visits, bounds


def _want_bound(bound: float, weight: float) -> float:
    """Fewest wants not met that a bound of wants times weight plus changes leaves; changes stay below the weight."""
    return math.ceil((bound - weight + 1) / weight) if math.isfinite(bound) else 0.0


def _as_told(matrix: Matrix, campaign: Campaign, told: Mapping[tuple[str, str], frozenset[str]]) -> NDArray[np.bool_]:
    days, workers = campaign.demand.days, campaign.demand.workers
    return np.array(
        [
            told.get((workers[matrix.entries[e].worker].code, days[day]))
            == frozenset(matrix.entries[e].pattern.options)
            for e, day in matrix.visits
        ],
        dtype=bool,
    )


def _most_kept(campaign: Campaign, told: Mapping[tuple[str, str], frozenset[str]], *, seconds: float) -> float:
    """The most visits that can stay as told if nothing else is asked: every other one is a change at least."""
    sets = set(told.values())
    matrix = full_model(campaign, [e for e in campaign.entries if frozenset(e.pattern.options) in sets])
    as_told = _as_told(matrix, campaign, told)
    keep = np.zeros(matrix.size)
    keep[: len(as_told)] = np.where(as_told, -1.0, 0.0)
    high = matrix.column_high.copy()
    high[: len(as_told)] *= as_told
    bound = minimise(replace(matrix, column_high=high), keep, seconds=seconds).bound
    return -bound if math.isfinite(bound) else float(len(told))


def _summed_bounds(
    campaign: Campaign,
    visits: list[Chosen],
    told: Mapping[tuple[str, str], frozenset[str]],
    watch: Stopwatch,
) -> dict[str, float]:
    """Bounds of the summed model with the wants not met held; for the changes, the visits nobody can keep."""
    values = dict(zip(GOALS, goal_values(campaign, visits), strict=True))
    bounds = {VISITS_CHANGED: len(told) - _most_kept(campaign, told, seconds=max(0.5, watch.left / 3))}
    for place, name in enumerate(GOALS):
        matrix = summed_model(campaign, days_used=int(values[GOALS[1]]) if place >= 2 else None)
        held = [(matrix.goals[g], values[g]) for g in GOALS[:place]]
        share = max(0.5, watch.left / 6)
        bounds[name] = minimise(matrix, matrix.goals[name], held, seconds=share, whole=place < 3).bound
    return bounds


def _plan(
    campaign: Campaign,
    visits: list[Chosen],
    bounds: Mapping[str, float],
    told: Mapping[tuple[str, str], frozenset[str]],
    watch: Stopwatch,
) -> CampaignPlan:
    values = dict(zip(BENT_GOALS, _wants_and_changes(campaign, visits, told), strict=True))
    goals = tuple(Goal(name, values[name], _bound(values[name], bounds.get(name, 0.0))) for name in BENT_GOALS)
    missing, advice = explain_missing(campaign, visits, seconds=max(1.0, watch.left / 2))
    return CampaignPlan(schedule_visits(campaign, visits), missing, goals, advice)


def _bound(reached: float, bound: float) -> float:
    """A bound within the solver's last digits of what was reached is what was reached."""
    return reached if reached - bound <= 1e-6 * max(1.0, abs(reached)) else max(0.0, bound)
