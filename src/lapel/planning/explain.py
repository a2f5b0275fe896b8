"""Why a want is not met, and what would have to be relaxed, in the trade's words."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, milp

from lapel.planning.campaign import GOALS, Campaign, Floats, Matrix, summed_model
from lapel.planning.demand import Missing, Worker
from lapel.planning.schedule import Chosen
from lapel.planning.train import port_map


def explain_missing(
    campaign: Campaign, visits: Sequence[Chosen], *, seconds: float
) -> tuple[tuple[Missing, ...], tuple[str, ...]]:
    """
    Every want not met, with its reason; and advice on what to relax where something shared is short.

    Parameters
    ----------
    campaign : Campaign
    visits : sequence of Chosen
    seconds : float
        Time granted to the questions "how much more of this would do?".

    Returns
    -------
    tuple of Missing, tuple of str
    """
    met: dict[tuple[int, str], int] = {}
    for visit in visits:
        for agent in visit.pattern.agents:
            met[visit.worker, agent] = met.get((visit.worker, agent), 0) + 1
    missing, shared = [], False
    for w, agent, count in campaign.wants:
        short = count - met.get((w, agent), 0)
        if short > 0:
            why = why_worker_cannot(campaign, w, agent, count)
            shared = shared or why is None
            words = why or "What is shared does not suffice: see the advice of the plan."
            missing.append(Missing(campaign.demand.workers[w].code, agent, short, words))
    advice = _what_would_do(campaign, seconds=seconds) if shared else ()
    return tuple(missing), advice


def why_worker_cannot(campaign: Campaign, place: int, agent: str, count: int) -> str | None:
    """The reason that lies with this worker alone, in words; None where it lies with what is shared."""
    worker, demand, equipment = campaign.demand.workers[place], campaign.demand, campaign.equipment
    options = [demand.options[name] for name in worker.options if agent in demand.options[name].agents]
    if not options:
        return (
            f"No sampler option for {agent} fits this shift. Look at its window: another method, a lower "
            "reporting limit, more samplers in a row or another period."
        )
    if campaign.turns[place] is None:
        crew = equipment.crew
        return (
            f"No pump can be hung: {crew.before_min + crew.after_min} min around the shift start hold no whole turn "
            f"of {crew.hang_min} min. Widen the start window."
        )
    if not any(agent in pattern.agents for pattern in campaign.patterns[place]):
        return _why_not_carried(campaign, worker, [option.name for option in options], agent)
    present = sum(worker.is_present(day) for day in demand.days)
    if present < count:
        return (
            f"Wanted on {count} days and the worker is there on {present} of the campaign's. Add days, or draw "
            "another worker."
        )
    if worker.days_at_most is not None and worker.days_at_most < count:
        return f"Wanted on {count} days and this worker wears pumps on at most {worker.days_at_most}."
    if worker.days_at_most is not None and not _fits_in(campaign, place, min(worker.days_at_most, present)):
        return (
            f"Not all that is wanted of this worker fits into {worker.days_at_most} days with "
            f"{worker.pumps_at_once} pumps at once and this equipment. Allow another day or pump, or ask for less."
        )
    if not _fits_in(campaign, place, present):
        return (
            f"Not all that is wanted of this worker fits into the {present} days present with "
            f"{worker.pumps_at_once} pumps at once. Allow another pump, add days, or ask for less."
        )
    return None


def _fits_in(campaign: Campaign, place: int, days: int) -> bool:
    """Whether this worker alone, with all equipment free, could be given everything wanted in so many days."""
    worker, patterns = campaign.demand.workers[place], campaign.patterns[place]
    brings = np.array([[float(agent in p.agents) for p in patterns] for agent in worker.wants])
    answer = milp(
        np.ones(len(patterns)),
        constraints=LinearConstraint(brings, list(worker.wants.values()), np.inf),
        bounds=Bounds(0, days),
        integrality=np.ones(len(patterns)),
    )
    return answer.x is not None and round(answer.fun) <= days


def _why_not_carried(campaign: Campaign, worker: Worker, options: list[str], agent: str) -> str:
    equipment, demand = campaign.equipment, campaign.demand
    if worker.area is not None and any(port_map([demand.options[o]], equipment) for o in options):
        return (
            f"The area is {worker.area} and no pump certified for it can carry {agent}. Bring a certified pump; an "
            "ordinary one must not go in."
        )
    windows = "; ".join(
        f"{o}: {demand.options[o].flow_low_lpm * 1000:.4g} to {demand.options[o].flow_high_lpm * 1000:.4g} mL/min"
        for o in options
    )
    return (
        f"No pump and splitter at hand gives the flow ({windows}). Bring another pump or splitter, or choose another "
        "method."
    )


@dataclass(frozen=True)
class _Thing:
    """Something shared that could be more: how to ask for it, and what one more adds to the rows of the sums."""

    words: Callable[[int], str]
    column: Floats
    widens_a_day: bool = True


def _things(campaign: Campaign, matrix: Matrix) -> list[_Thing]:
    equipment, crew, days = campaign.equipment, campaign.equipment.crew, len(campaign.demand.days)
    first, resources = _resource_rows_start(campaign), campaign.capacity.shape[1]

    def column(places: dict[int, float]) -> Floats:
        rows = np.zeros(matrix.rows.shape[0])
        for place, weight in places.items():
            rows[place] = -weight
        return rows

    things = [
        *((f"of pump {pump.name}", place) for place, pump in enumerate(equipment.pumps)),
        *((f"of splitter {s.name}", place) for place, s in enumerate(equipment.splitters, len(equipment.pumps))),
    ]
    found = [_Thing(partial(_ask_kind, name), column({first + place: float(days)})) for name, place in things]
    after = first + len(things)
    hands = {after + i: float(days * (b - a + 1)) for i, (a, b) in enumerate(campaign.intervals)}
    hands[first + resources - 2] = float(days * crew.pumps_per_technician)
    hands[first + resources - 1] = float(days * crew.changes_per_technician)
    found.append(_Thing(_ask_technician, column(hands)))
    # A further day has everybody present and the equipment of the richest day.
    at_worker = len(campaign.wants)
    day = {first + r: float(campaign.capacity[:, r].max()) for r in range(resources)}
    day |= {at_worker + w: 1.0 for w in range(len(campaign.demand.workers))}
    found.append(_Thing(partial(_ask_day, days), column(day), widens_a_day=False))
    return found


def _ask_kind(name: str, extra: int) -> str:
    return f"{extra} more {name}"


def _ask_technician(extra: int) -> str:
    return f"{extra} more technician{'s' if extra > 1 else ''} a day (or later and earlier shift starts, staggered)"


def _ask_day(now: int, extra: int) -> str:
    return f"{extra} more field day{'s' if extra > 1 else ''} (now {now})"


def _what_would_do(campaign: Campaign, *, seconds: float) -> tuple[str, ...]:
    """How much more of each thing alone lets the sums come out, or the fewest of several together."""
    unavoidable = _unavoidable(campaign)
    matrix = summed_model(campaign)
    things = _things(campaign, matrix)
    share = seconds / (len(things) + 1)
    advice = []
    for thing in things:
        extra = _least_extra(matrix, [thing], unavoidable, share)
        if extra == [0]:
            return (
                "Everything suffices in sum, and yet no way was found to lay it on the days: presence, pumps and "
                "hang times do not meet. One more day or pump usually settles it; so may a longer search.",
            )
        if extra:
            advice.append(f"At least {thing.words(extra[0])} would do.")
    if advice:
        return tuple(advice)
    widening = [thing for thing in things if thing.widens_a_day]
    together = _least_extra(matrix, widening, unavoidable, share)
    if together:
        asked = [thing.words(extra) for thing, extra in zip(widening, together, strict=True) if extra]
        return (f"No single thing makes room. Together, at least {' and '.join(asked)} would do.",)
    return ("No amount of pumps, splitters, technicians or days was found to make room: ask for less.",)


def _unavoidable(campaign: Campaign) -> float:
    """Wants that fail whatever is shared: counted with everything shared in plenty."""
    plenty = dict.fromkeys(range(campaign.capacity.shape[1]), 1e5)
    matrix = summed_model(campaign, more=plenty)
    goal = matrix.goals[GOALS[0]]
    answer = milp(
        goal,
        constraints=LinearConstraint(matrix.rows, matrix.lower, matrix.upper),
        bounds=Bounds(matrix.column_low, matrix.column_high),
        integrality=np.ones(matrix.size),
        options={"time_limit": 5.0, "mip_rel_gap": 0.0},
    )
    return math.inf if answer.x is None else float(round(goal @ answer.x))


def _resource_rows_start(campaign: Campaign) -> int:
    """Rows of the summed model before its shared resources: wants, workers, workers with a limit of days."""
    limited = sum(
        worker.days_at_most is not None and bool(campaign.patterns[w])
        for w, worker in enumerate(campaign.demand.workers)
    )
    return len(campaign.wants) + len(campaign.demand.workers) + limited


def _least_extra(matrix: Matrix, things: list[_Thing], unavoidable: float, seconds: float) -> list[int] | None:
    """Fewest more units, in all, of these things so that only the unavoidable is missing; None where none suffice."""
    count = len(things)
    rows = sparse.hstack([matrix.rows, sparse.csr_matrix(np.array([thing.column for thing in things]).T)], format="csr")
    goal = np.concatenate([np.zeros(matrix.size), np.ones(count)])
    missing = np.concatenate([matrix.goals[GOALS[0]], np.zeros(count)]).reshape(1, -1)
    high = np.concatenate([matrix.column_high, np.full(count, 1000.0)])
    # More days allow more visits (the rows of the workers bound them), but none that no single day can take.
    visits = high[: len(matrix.visits)]
    visits[(visits > 0) | any(thing.widens_a_day for thing in things)] = np.inf
    answer = milp(
        goal,
        constraints=[
            LinearConstraint(rows, matrix.lower, matrix.upper),
            LinearConstraint(missing, -np.inf, unavoidable),
        ],
        bounds=Bounds(np.concatenate([matrix.column_low, np.zeros(count)]), high),
        integrality=np.ones(len(goal)),
        options={"time_limit": max(seconds, 0.2), "mip_rel_gap": 0.0},
    )
    return None if answer.x is None else [round(float(extra)) for extra in answer.x[-count:]]
