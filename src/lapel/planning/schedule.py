"""From chosen visits to a day that can be worked: hang times, technicians, pump numbers, port flows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapel.planning.campaign import Campaign
from lapel.planning.demand import PortUse, Train, Visit
from lapel.planning.hanging import hang_schedule
from lapel.planning.patterns import Pattern
from lapel.planning.train import port_flows


@dataclass(frozen=True)
class Chosen:
    """One visit as the search chose it: worker and day by place, and the pattern."""

    worker: int
    day: int
    pattern: Pattern


def schedule_visits(campaign: Campaign, visits: Sequence[Chosen]) -> tuple[Visit, ...]:
    """
    Hang times by earliest end first, pump numbers so that a worker keeps a pump where possible.

    Parameters
    ----------
    campaign : Campaign
    visits : sequence of Chosen

    Returns
    -------
    tuple of Visit
        In order of day and hang time.

    Raises
    ------
    ValueError
        The hangs of a day do not fit: the visits were not a feasible choice.
    """
    crew, demand = campaign.equipment.crew, campaign.demand
    numbers: dict[tuple[int, str], int] = {}
    planned: list[Visit] = []
    for d, day in enumerate(demand.days):
        today = sorted((v for v in visits if v.day == d), key=lambda v: demand.workers[v.worker].code)
        hangs = []
        for visit in today:
            turns = campaign.turns[visit.worker]
            if turns is None:
                raise ValueError(f"worker {demand.workers[visit.worker].code}: no hang turn on {day}")
            hangs += [(demand.workers[visit.worker].code, turns)] * visit.pattern.hangs
        times = hang_schedule(hangs, crew.on(day))
        if times is None:
            raise ValueError(f"{day}: the pumps cannot all be hung around the shift starts")
        by_worker: dict[str, list[tuple[int, int]]] = {}
        for code, turn, technician in times:
            by_worker.setdefault(code, []).append((turn, technician))
        taken = _number_pumps(today, numbers)
        for visit in today:
            code = demand.workers[visit.worker].code
            trains = []
            slots = zip(visit.pattern.trains, taken[visit.worker], by_worker[code], strict=True)
            for (pump, splitter, options), number, (turn, technician) in slots:
                trains.append(
                    Train(
                        pump_kind=pump,
                        pump_number=number,
                        splitter_kind=splitter,
                        ports=_flows(campaign, pump, splitter, options),
                        technician=technician,
                        hang_at_min=turn * crew.hang_min,
                    )
                )
            planned.append(Visit(code, day, tuple(trains)))
    order = {day: d for d, day in enumerate(demand.days)}
    return tuple(sorted(planned, key=lambda v: (order[v.day], v.trains[0].hang_at_min, v.worker)))


def _flows(campaign: Campaign, pump: str, splitter: str | None, options: tuple[str, ...]) -> tuple[PortUse, ...]:
    pump_kind = next(kind for kind in campaign.equipment.pumps if kind.name == pump)
    splitter_kind = next((kind for kind in campaign.equipment.splitters if kind.name == splitter), None)
    flows = port_flows([campaign.demand.options[name] for name in options], pump_kind, splitter_kind)
    if flows is None:
        raise ValueError(f"{pump} with {splitter or 'no splitter'} cannot carry {', '.join(options)}")
    return flows


def _number_pumps(today: Sequence[Chosen], numbers: dict[tuple[int, str], int]) -> dict[int, list[int]]:
    """Numbers within each kind, from 1: first whoever can keep a pump, then the lowest free."""
    used: dict[str, int] = {}
    for visit in today:
        for pump, _, _ in visit.pattern.trains:
            used[pump] = used.get(pump, 0) + 1
    free = {pump: list(range(1, count + 1)) for pump, count in used.items()}
    given: dict[int, list[int | None]] = {v.worker: [None] * len(v.pattern.trains) for v in today}
    for visit in today:
        for i, (pump, _, _) in enumerate(visit.pattern.trains):
            before = numbers.get((visit.worker, pump))
            if before in free[pump] and before not in given[visit.worker]:
                free[pump].remove(before)
                given[visit.worker][i] = before
    taken: dict[int, list[int]] = {}
    for visit in today:
        row = []
        for i, (pump, _, _) in enumerate(visit.pattern.trains):
            number = given[visit.worker][i]
            if number is None:
                number = free[pump].pop(0)
            numbers[visit.worker, pump] = number
            row.append(number)
        taken[visit.worker] = row
    return taken
