"""Everything one worker could sensibly wear on one day, each with what it takes: pumps, splitters, hangs, money."""

from __future__ import annotations

import itertools
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from lapel.planning.demand import Agent, Demand, Equipment, SamplerOption, Worker
from lapel.planning.train import partitions, port_flows

#: More samplers than this for one worker would make the list of combinations too long.
OPTIONS_AT_MOST = 14

Block = tuple[str, str | None, tuple[str, ...]]


@dataclass(frozen=True)
class Pattern:
    """
    A visit as the model sees it.

    ``trains`` holds for each pump its kind, its splitter or none, and the sampler options on it; ``pumps`` and
    ``splitters`` count what is used of each kind, in the order of the equipment.
    """

    options: tuple[str, ...]
    agents: frozenset[Agent]
    trains: tuple[Block, ...]
    pumps: tuple[int, ...]
    splitters: tuple[int, ...]
    changes: int
    cost: float

    @property
    def hangs(self) -> int:
        """Pumps to hang."""
        return sum(self.pumps)


def visit_patterns(
    worker: Worker, demand: Demand, equipment: Equipment, *, also: Collection[frozenset[str]] = ()
) -> tuple[Pattern, ...]:
    """
    All visits of one worker that no other visit beats in everything.

    Parameters
    ----------
    worker : Worker
    demand : Demand
    equipment : Equipment
    also : collection of frozenset of str, optional
        Sets of sampler options to be listed even where another visit beats them.

    Returns
    -------
    tuple of Pattern
        Left out are visits with a sampler whose agents the others bring anyway, and visits for which another
        brings at least the same agents with no more of any pump, splitter, change or cost.

    Raises
    ------
    ValueError
        More sampler options than `OPTIONS_AT_MOST` concern this worker.
    """
    wanted = frozenset(worker.wants)
    listed: frozenset[str] = frozenset().union(*also)
    options = [
        demand.options[name] for name in worker.options if demand.options[name].agents & wanted or name in listed
    ]
    if len(options) > OPTIONS_AT_MOST:
        raise ValueError(
            f"worker {worker.code}: {len(options)} sampler options concern this worker; at most "
            f"{OPTIONS_AT_MOST} are searched. Leave out those nobody would choose"
        )
    carriers = _carriers(worker, equipment)
    fits: dict[tuple[int, ...], list[tuple[int, int | None]]] = {}
    found: list[Pattern] = []
    most_ports = max((1, *(s.ports for s in equipment.splitters)))
    for size in range(1, min(len(options), most_ports * worker.pumps_at_once) + 1):
        for chosen in itertools.combinations(range(len(options)), size):
            is_listed = frozenset(options[i].name for i in chosen) in also
            if is_listed or not _is_redundant([options[i] for i in chosen], wanted):
                found += _packings(chosen, options, worker, equipment, carriers, fits)
    return _unbeaten(found, wanted, also)


def _is_redundant(chosen: list[SamplerOption], wanted: frozenset[Agent]) -> bool:
    for i, option in enumerate(chosen):
        others: frozenset[Agent] = frozenset().union(*(other.agents for j, other in enumerate(chosen) if j != i))
        if option.agents & wanted <= others:
            return True
    return False


def _carriers(worker: Worker, equipment: Equipment) -> list[tuple[int, int | None]]:
    """Pump kinds (certified for the worker's area), alone and with each splitter kind, by position."""
    pumps = [
        i
        for i, pump in enumerate(equipment.pumps)
        if pump.count > 0 and (worker.area is None or worker.area in pump.certified_for)
    ]
    splitters = [i for i, splitter in enumerate(equipment.splitters) if splitter.count > 0]
    return [(pump, splitter) for pump in pumps for splitter in (None, *splitters)]


def _packings(
    chosen: tuple[int, ...],
    options: list[SamplerOption],
    worker: Worker,
    equipment: Equipment,
    carriers: list[tuple[int, int | None]],
    fits: dict[tuple[int, ...], list[tuple[int, int | None]]],
) -> list[Pattern]:
    def carry(block: tuple[int, ...]) -> list[tuple[int, int | None]]:
        if block not in fits:
            on = [options[i] for i in block]
            fits[block] = [
                (p, s)
                for p, s in carriers
                if port_flows(on, equipment.pumps[p], None if s is None else equipment.splitters[s])
            ]
        return fits[block]

    by_use: dict[tuple[tuple[int, ...], tuple[int, ...]], Pattern] = {}
    agents: frozenset[Agent] = frozenset().union(*(options[i].agents for i in chosen))
    for count in range(1, min(worker.pumps_at_once, len(chosen)) + 1):
        for blocks in partitions(len(chosen), count):
            named = [tuple(chosen[i] for i in block) for block in blocks]
            for carried in itertools.product(*(carry(block) for block in named)):
                pumps, splitters = [0] * len(equipment.pumps), [0] * len(equipment.splitters)
                for p, s in carried:
                    pumps[p] += 1
                    if s is not None:
                        splitters[s] += 1
                use = (tuple(pumps), tuple(splitters))
                if use in by_use or _too_many(use, equipment):
                    continue
                trains = tuple(
                    (
                        equipment.pumps[p].name,
                        None if s is None else equipment.splitters[s].name,
                        tuple(options[i].name for i in block),
                    )
                    for block, (p, s) in zip(named, carried, strict=True)
                )
                by_use[use] = Pattern(
                    tuple(options[i].name for i in chosen),
                    agents,
                    trains,
                    *use,
                    changes=sum(options[i].changes for i in chosen),
                    cost=sum(options[i].cost for i in chosen),
                )
    return list(by_use.values())


def _too_many(use: tuple[tuple[int, ...], tuple[int, ...]], equipment: Equipment) -> bool:
    pumps, splitters = use
    return any(n > kind.count for n, kind in zip(pumps, equipment.pumps, strict=True)) or any(
        n > kind.count for n, kind in zip(splitters, equipment.splitters, strict=True)
    )


def _unbeaten(found: list[Pattern], wanted: frozenset[Agent], also: Collection[frozenset[str]]) -> tuple[Pattern, ...]:
    if not found:
        return ()
    order = sorted(wanted)
    brings = np.array([[agent in pattern.agents for agent in order] for pattern in found])
    takes = np.array([[*p.pumps, *p.splitters, p.changes, p.cost] for p in found])
    kept = []
    for i in range(len(found)):
        at_least = (brings | ~brings[i]).all(axis=1) & (takes <= takes[i]).all(axis=1)
        equal = (brings == brings[i]).all(axis=1) & (takes == takes[i]).all(axis=1)
        beaten = at_least & (~equal | (np.arange(len(found)) < i))
        if not beaten.any() or frozenset(found[i].options) in also:
            kept.append(found[i])
    return tuple(kept)
