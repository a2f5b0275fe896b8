"""A first feasible campaign by hand's rule: hardest visits first, each on the first day that can take it."""

from __future__ import annotations

from collections.abc import Sequence

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
