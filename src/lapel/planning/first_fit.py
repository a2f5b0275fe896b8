"""Feasible campaigns by hand's rule: from nothing, hardest visits first; or from a plan, keeping what still fits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from lapel.planning.campaign import Campaign, Entry
from lapel.planning.schedule import Chosen


def first_fit(campaign: Campaign, entries: Sequence[Entry]) -> list[Chosen]:
    """
    Lay visits on days, filling the days one after the other.

    Parameters
    ----------
    campaign : Campaign
    entries : sequence of Entry
        One row per visit wanted; the same entry may occur several times.

    Returns
    -------
    list of Chosen
        As many as fit. Feasible always, best only by luck.
    """
    takes = np.asarray(campaign.takes(entries).todense()).T
    most = np.maximum(campaign.capacity.max(axis=0), 1e-9)
    workers = campaign.demand.workers
    present = [[worker.is_present(day) for day in campaign.demand.days] for worker in workers]
    left = campaign.capacity.copy()
    worn: set[tuple[int, int]] = set()
    visits_left = {w: worker.days_at_most for w, worker in enumerate(workers) if worker.days_at_most is not None}
    order = sorted(
        range(len(entries)),
        key=lambda e: (sum(present[entries[e].worker]), -float((takes[e] / most).max()), e),
    )
    chosen: list[Chosen] = []
    for e in order:
        w = entries[e].worker
        if visits_left.get(w, 1) < 1:
            continue
        for d in range(len(campaign.demand.days)):
            if present[w][d] and (w, d) not in worn and (takes[e] <= left[d] + 1e-9).all():
                left[d] -= takes[e]
                worn.add((w, d))
                if w in visits_left:
                    visits_left[w] = int(visits_left[w] or 0) - 1
                chosen.append(Chosen(w, d, entries[e].pattern))
                break
    return chosen


def keep_and_fill(campaign: Campaign, told: Mapping[tuple[str, str], frozenset[str]]) -> list[Chosen]:
    """
    Keep the visits people were told of that still fit, then fill what is lacking where there is room.

    Parameters
    ----------
    campaign : Campaign
    told : mapping of (worker, day) to frozenset of str
        Sampler options of each visit of the plan in force.

    Returns
    -------
    list of Chosen
        Feasible always, with the fewest changes only by luck.
    """
    workers, days = campaign.demand.workers, campaign.demand.days
    takes = np.asarray(campaign.takes(campaign.entries).todense()).T
    mine: list[list[int]] = [[] for _ in workers]
    for e, entry in enumerate(campaign.entries):
        mine[entry.worker].append(e)
    left = campaign.capacity.copy()
    lacking = {(w, agent): count for w, agent, count in campaign.wants}
    visits_left = [len(days) if worker.days_at_most is None else worker.days_at_most for worker in workers]
    worn: set[tuple[int, int]] = set()
    chosen: list[Chosen] = []

    def take(w: int, d: int, entries: Sequence[int]) -> bool:
        if (w, d) in worn or visits_left[w] < 1 or not workers[w].is_present(days[d]):
            return False
        for e in entries:
            if (takes[e] <= left[d] + 1e-9).all():
                left[d] -= takes[e]
                worn.add((w, d))
                visits_left[w] -= 1
                for agent in campaign.entries[e].pattern.agents:
                    if (w, agent) in lacking:
                        lacking[w, agent] -= 1
                chosen.append(Chosen(w, d, campaign.entries[e].pattern))
                return True
        return False

    for w, worker in enumerate(workers):
        for d, day in enumerate(days):
            samplers = told.get((worker.code, day))
            if samplers is not None:
                as_told = [e for e in mine[w] if frozenset(campaign.entries[e].pattern.options) == samplers]
                take(w, d, sorted(as_told, key=lambda e: campaign.entries[e].pattern.hangs))
    for w in range(len(workers)):
        for d in range(len(days)):
            short = {agent for (place, agent), count in lacking.items() if place == w and count > 0}
            if not short:
                break
            useful = [e for e in mine[w] if campaign.entries[e].pattern.agents & short]
            take(w, d, sorted(useful, key=lambda e: -len(campaign.entries[e].pattern.agents & short)))
    return chosen
