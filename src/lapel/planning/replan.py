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

from lapel.planning.campaign import GOALS, Campaign, Entry, Floats, full_model
from lapel.planning.demand import CampaignPlan, Demand, Equipment, Goal, Visit, Worker
from lapel.planning.explain import explain_missing
from lapel.planning.schedule import Chosen, schedule_visits
from lapel.planning.solve import FULL_COLUMNS_AT_MOST, Stopwatch, goal_values, minimise, visits_of

#: The goal that stands between wants and days when a plan is bent.
VISITS_CHANGED = "visits changed"


@dataclass(frozen=True)
class Replanned:
    """
    The plan for the days that remain, with the demand and equipment it was made for.

    ``kept`` visits are as people were told (same worker, day and samplers), ``new`` and ``dropped`` are not.
    """

    plan: CampaignPlan
    demand: Demand
    equipment: Equipment
    kept: tuple[tuple[str, str], ...]
    new: tuple[tuple[str, str], ...]
    dropped: tuple[tuple[str, str], ...]

    @property
    def words(self) -> str:
        """What changes for whom, in one paragraph."""
        parts = [f"{len(self.kept)} visits stay as they were."]
        if self.dropped:
            parts.append("Not any more: " + "; ".join(f"{w} on {d}" for w, d in self.dropped) + ".")
        if self.new:
            parts.append("New or different: " + "; ".join(f"{w} on {d}" for w, d in self.new) + ".")
        short = sum(missing.days_short for missing in self.plan.missing)
        parts.append("Everything wanted is still met." if not short else f"{short} wants can no longer be met.")
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
    return Replanned(bent, rest, left, kept, new, dropped)


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
    columns = len(campaign.entries) * len(demand.days)
    everything = columns <= FULL_COLUMNS_AT_MOST
    entries = campaign.entries if everything else _near(campaign, by_worker)
    names = (GOALS[0], VISITS_CHANGED, *GOALS[1:])
    if not entries or not campaign.wants:
        return _plan(campaign, [], dict.fromkeys(names, math.inf), told, watch)
    matrix = full_model(campaign, entries)
    as_told = np.array([_is_as_told(campaign, matrix.entries[e], int(day), told) for e, day in matrix.visits])
    changed = np.zeros(matrix.size)
    # A new visit counts one; a visit that people were told of and that stays takes one off the number told.
    changed[: len(as_told)] = np.where(as_told, -1.0, 1.0)
    goals = {GOALS[0]: matrix.goals[GOALS[0]], VISITS_CHANGED: changed}
    goals |= {name: matrix.goals[name] for name in GOALS[1:]}
    caps: list[tuple[Floats, float]] = []
    bounds: dict[str, float] = {}
    visits: list[Chosen] = []
    for place, name in enumerate(names):
        answer = minimise(
            matrix,
            goals[name],
            caps,
            seconds=watch.left / (len(names) - place) + 0.5,
            whole=name != GOALS[-1],
        )
        offset = float(len(told)) if name == VISITS_CHANGED else 0.0
        bounds[name] = answer.bound + offset if everything else 0.0
        if answer.columns is None:
            break
        visits = visits_of(matrix, answer.columns)
        caps.append((goals[name], answer.value))
    return _plan(campaign, visits, bounds, told, watch)


def _plan(
    campaign: Campaign,
    visits: list[Chosen],
    bounds: Mapping[str, float],
    told: Mapping[tuple[str, str], frozenset[str]],
    watch: Stopwatch,
) -> CampaignPlan:
    values = dict(zip(GOALS, goal_values(campaign, visits), strict=True))
    days, workers = campaign.demand.days, campaign.demand.workers
    now = {(workers[v.worker].code, days[v.day]): frozenset(v.pattern.options) for v in visits}
    same = sum(now.get(key) == samplers for key, samplers in told.items())
    values[VISITS_CHANGED] = float(len(told) - same + len(now) - same)
    names = (GOALS[0], VISITS_CHANGED, *GOALS[1:])
    goals = tuple(Goal(name, values[name], _bound(values[name], bounds.get(name, 0.0))) for name in names)
    missing, advice = explain_missing(campaign, visits, seconds=max(1.0, watch.left / 2))
    return CampaignPlan(schedule_visits(campaign, visits), missing, goals, advice)


def _bound(reached: float, bound: float) -> float:
    """A bound within the solver's last digits of what was reached is what was reached."""
    return reached if reached - bound <= 1e-6 * max(1.0, abs(reached)) else max(0.0, bound)


def _is_as_told(campaign: Campaign, entry: Entry, day: int, told: Mapping[tuple[str, str], frozenset[str]]) -> bool:
    key = (campaign.demand.workers[entry.worker].code, campaign.demand.days[day])
    return told.get(key) == frozenset(entry.pattern.options)


def _near(campaign: Campaign, told: Mapping[str, frozenset[frozenset[str]]]) -> list[Entry]:
    """For a plan too large to search whole: what each worker was told to wear, and the patterns that bring most."""
    kept = []
    for w, worker in enumerate(campaign.demand.workers):
        wanted = frozenset(worker.wants)
        ranked = sorted(campaign.patterns[w], key=lambda p: (-len(p.agents & wanted), p.hangs, p.cost))
        for place, pattern in enumerate(ranked):
            if place < 3 or frozenset(pattern.options) in told.get(worker.code, ()):
                kept.append(Entry(w, pattern))
    return kept
