"""
The campaign as a mixed-integer model: which visit pattern of which worker on which day.

Two matrices from one description. The **full** model says who wears what on which day. The **summed** model adds
all days up: it cannot say on which day, but whatever it cannot do, no plan can, so its optimum bounds the full one.
Goals in order of weight: wants not met, field days, pumps carried (the most of each kind on any one day), then
samplers and laboratory cost.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from lapel.planning.demand import Agent, Demand, Equipment, Worker
from lapel.planning.hanging import hang_turns, turn_intervals
from lapel.planning.patterns import Pattern, visit_patterns

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: The goals, most important first.
GOALS = ("wants not met", "field days", "pumps carried", "samplers and laboratory cost")


@dataclass(frozen=True)
class Entry:
    """One pattern of one worker, by their places."""

    worker: int
    pattern: Pattern


class Campaign:
    """
    Demand and equipment made ready for matrices: patterns of every worker, shared resources of every day.

    Parameters
    ----------
    demand : Demand
    equipment : Equipment
    told : mapping of str to set of frozenset of str, optional
        By worker, sets of sampler options that people were told of and that must stay possible.
    """

    def __init__(
        self, demand: Demand, equipment: Equipment, told: Mapping[str, frozenset[frozenset[str]]] | None = None
    ) -> None:
        self.demand, self.equipment = demand, equipment
        self.turns = [hang_turns(worker, equipment.crew) for worker in demand.workers]
        seen: dict[object, tuple[Pattern, ...]] = {}
        self.patterns: list[tuple[Pattern, ...]] = []
        for worker, turns in zip(demand.workers, self.turns, strict=True):
            also = (told or {}).get(worker.code, frozenset())
            key = (worker.options, frozenset(worker.wants), worker.area, worker.pumps_at_once, also)
            if key not in seen:
                seen[key] = visit_patterns(worker, demand, equipment, also=also)
            self.patterns.append(seen[key] if turns is not None else ())
        self.entries = [Entry(w, pattern) for w, patterns in enumerate(self.patterns) for pattern in patterns]

    @cached_property
    def wants(self) -> list[tuple[int, Agent, int]]:
        """Worker, agent and on how many days, one row per want."""
        return [(w, a, n) for w, worker in enumerate(self.demand.workers) for a, n in worker.wants.items()]

    @cached_property
    def intervals(self) -> list[tuple[int, int]]:
        """Intervals of hang turns that could be asked to hold too much."""
        return turn_intervals(turns for turns in self.turns if turns is not None)

    @cached_property
    def day_classes(self) -> list[list[int]]:
        """Days that are alike in who is present and how many technicians there are."""
        classes: dict[object, list[int]] = {}
        for d, day in enumerate(self.demand.days):
            present = tuple(worker.is_present(day) for worker in self.demand.workers)
            classes.setdefault((present, self.equipment.crew.on(day)), []).append(d)
        return list(classes.values())

    @cached_property
    def capacity(self) -> Floats:
        """What each day offers of each shared resource, shape (days, resources): the rows of `takes`."""
        crew, rows = self.equipment.crew, []
        for day in self.demand.days:
            technicians = crew.on(day)
            rows.append(
                [
                    *(pump.count for pump in self.equipment.pumps),
                    *(splitter.count for splitter in self.equipment.splitters),
                    *(technicians * (b - a + 1) for a, b in self.intervals),
                    technicians * crew.pumps_per_technician,
                    technicians * crew.changes_per_technician,
                ]
            )
        shape = (
            len(rows),
            len(self.equipment.pumps) + len(self.equipment.splitters) + len(self.intervals) + 2,
        )
        return np.array(rows, dtype=float).reshape(shape)

    def takes(self, entries: Sequence[Entry]) -> sparse.csc_matrix:
        """What each entry takes of each shared resource, shape (resources, entries)."""
        columns = np.zeros((self.capacity.shape[1], len(entries)))
        kinds = len(self.equipment.pumps) + len(self.equipment.splitters)
        for e, entry in enumerate(entries):
            turns = self.turns[entry.worker]
            inside = [turns is not None and a <= turns[0] and turns[1] <= b for a, b in self.intervals]
            columns[:kinds, e] = (*entry.pattern.pumps, *entry.pattern.splitters)
            columns[kinds:-2, e] = np.array(inside, dtype=float) * entry.pattern.hangs
            columns[-2, e], columns[-1, e] = entry.pattern.hangs, entry.pattern.changes
        return sparse.csc_matrix(columns)

    def brings(self, entries: Sequence[Entry]) -> sparse.csc_matrix:
        """Which wants each entry meets once, shape (wants, entries)."""
        row_of = {(w, agent): r for r, (w, agent, _) in enumerate(self.wants)}
        cells = [
            (row_of[entry.worker, agent], e)
            for e, entry in enumerate(entries)
            for agent in entry.pattern.agents
            if (entry.worker, agent) in row_of
        ]
        rows, columns = zip(*cells, strict=True) if cells else ((), ())
        shape = (len(self.wants), len(entries))
        return sparse.csc_matrix((np.ones(len(cells)), (list(rows), list(columns))), shape=shape)

    def worker(self, place: int) -> Worker:
        """The worker at a place."""
        return self.demand.workers[place]


@dataclass(frozen=True)
class Matrix:
    """
    A model as arrays: rows ``lower <= A x <= upper``, bounds, and one cost vector per goal.

    Columns are visits, then wants not met, then days used, then pumps carried of each kind. ``visits`` names the
    entry and the day (-1 in the summed model) of each visit column.
    """

    rows: sparse.csr_matrix
    lower: Floats
    upper: Floats
    column_low: Floats
    column_high: Floats
    goals: Mapping[str, Floats]
    entries: Sequence[Entry]
    visits: Ints

    @property
    def size(self) -> int:
        """Columns."""
        return len(self.column_low)


class _Rows:
    """Rows collected piece by piece."""

    def __init__(self, columns: int) -> None:
        self.columns = columns
        self.blocks: list[sparse.spmatrix] = []
        self.low: list[Floats] = []
        self.high: list[Floats] = []

    def add(self, *parts: tuple[int, sparse.spmatrix], low: Floats | float, high: Floats | float) -> None:
        """Add rows from parts placed at column offsets."""
        count = parts[0][1].shape[0]
        pieces = [sparse.coo_matrix(part) for _, part in parts]
        block = sparse.coo_matrix(
            (
                np.concatenate([piece.data for piece in pieces]),
                (
                    np.concatenate([piece.row for piece in pieces]),
                    np.concatenate([p.col + at for (at, _), p in zip(parts, pieces, strict=True)]),
                ),
            ),
            shape=(count, self.columns),
        )
        self.blocks.append(block)
        self.low.append(np.broadcast_to(np.asarray(low, dtype=float), count))
        self.high.append(np.broadcast_to(np.asarray(high, dtype=float), count))


def full_model(campaign: Campaign, entries: Sequence[Entry] | None = None) -> Matrix:
    """
    Who wears what on which day.

    Parameters
    ----------
    campaign : Campaign
    entries : sequence of Entry, optional
        Only these patterns; all where not given.

    Returns
    -------
    Matrix
    """
    entries = campaign.entries if entries is None else entries
    days, workers = campaign.demand.days, campaign.demand.workers
    columns = [
        (e, d) for d, day in enumerate(days) for e, entry in enumerate(entries) if workers[entry.worker].is_present(day)
    ]
    visits = np.array(columns, dtype=np.int64).reshape(-1, 2)
    entry_of, day_of = visits[:, 0], visits[:, 1]
    n, u, k = len(visits), len(campaign.wants), len(campaign.equipment.pumps)
    at_u, at_y, at_k = n, n + u, n + u + len(days)
    rows = _Rows(at_k + k)
    brings, takes = campaign.brings(entries)[:, entry_of], sparse.coo_matrix(campaign.takes(entries)[:, entry_of])
    counts = np.array([count for _, _, count in campaign.wants], dtype=float)
    rows.add((0, brings), (at_u, sparse.identity(u)), low=counts, high=np.inf)
    worker_of = np.array([entry.worker for entry in entries], dtype=np.int64)[entry_of]
    # At most one visit of a worker on a day, and none on a day that is not used.
    place = worker_of * len(days) + day_of
    on_day = sparse.coo_matrix((np.ones(n), (place, np.arange(n))), shape=(len(workers) * len(days), n))
    opened = sparse.kron(np.ones((len(workers), 1)), -sparse.identity(len(days)))
    used = np.unique(place)
    rows.add((0, on_day.tocsr()[used]), (at_y, opened.tocsr()[used]), low=-np.inf, high=0.0)
    _visits_at_most(campaign, rows, worker_of)
    # Shared resources of each day.
    resources = campaign.capacity.shape[1]
    daily = sparse.coo_matrix(
        (takes.data, (day_of[takes.col] * resources + takes.row, takes.col)), shape=(len(days) * resources, n)
    )
    offers = sparse.coo_matrix(
        (
            -campaign.capacity.ravel(),
            (np.arange(len(days) * resources), np.repeat(np.arange(len(days)), resources)),
        ),
        shape=(len(days) * resources, len(days)),
    )
    rows.add((0, daily), (at_y, offers), low=-np.inf, high=0.0)
    pump_rows = (np.arange(len(days))[:, None] * resources + np.arange(k)).ravel()
    carried = sparse.kron(np.ones((len(days), 1)), -sparse.identity(k))
    rows.add((0, daily.tocsr()[pump_rows]), (at_k, carried), low=-np.inf, high=0.0)
    _days_in_order(campaign, rows, at_y)
    high = np.concatenate([np.ones(n), counts, np.ones(len(days)), _pump_counts(campaign)])
    return _matrix(campaign, rows, high, entries, visits, at_u, at_y, at_k)


def summed_model(
    campaign: Campaign,
    entries: Sequence[Entry] | None = None,
    *,
    days_used: int | None = None,
    more: Mapping[int, float] | None = None,
) -> Matrix:
    """
    All days added up: a relaxation whose optimum no plan can beat.

    Parameters
    ----------
    campaign : Campaign
    entries : sequence of Entry, optional
        Only these patterns; all where not given.
    days_used : int, optional
        Field days, once they are fixed; the bound on pumps carried needs it.
    more : mapping of int to float, optional
        Extra capacity of a shared resource per day used, by its place.

    Returns
    -------
    Matrix
    """
    entries = campaign.entries if entries is None else entries
    days, workers = campaign.demand.days, campaign.demand.workers
    n, u, k = len(entries), len(campaign.wants), len(campaign.equipment.pumps)
    at_u, at_y, at_k = n, n + u, n + u + len(days)
    rows = _Rows(at_k + k)
    takes = campaign.takes(entries)
    counts = np.array([count for _, _, count in campaign.wants], dtype=float)
    rows.add((0, campaign.brings(entries)), (at_u, sparse.identity(u)), low=counts, high=np.inf)
    worker_of = np.array([entry.worker for entry in entries], dtype=np.int64)
    of_worker = sparse.coo_matrix((np.ones(n), (worker_of, np.arange(n))), shape=(len(workers), n))
    present = np.array([[-float(worker.is_present(day)) for day in days] for worker in workers]).reshape(
        len(workers), len(days)
    )
    rows.add((0, of_worker), (at_y, sparse.csr_matrix(present)), low=-np.inf, high=0.0)
    _visits_at_most(campaign, rows, worker_of)
    capacity = campaign.capacity.copy()
    for place, extra in (more or {}).items():
        capacity[:, place] += extra
    rows.add((0, takes), (at_y, sparse.csr_matrix(-capacity.T)), low=-np.inf, high=0.0)
    if days_used is not None:
        rows.add((0, takes[:k]), (at_k, -float(days_used) * sparse.identity(k)), low=-np.inf, high=0.0)
    _days_in_order(campaign, rows, at_y)
    # A visit that no single day can take is in no plan, whatever the sums say.
    fits = (takes.toarray().T[:, None, :] <= capacity[None, :, :] + 1e-9).all(axis=2)
    there = -present[worker_of]
    most = (fits * there).sum(axis=1)
    high = np.concatenate([most, counts, np.ones(len(days)), _pump_counts(campaign)])
    visits = np.column_stack([np.arange(n), np.full(n, -1)]).astype(np.int64)
    return _matrix(campaign, rows, high, entries, visits, at_u, at_y, at_k)


def _pump_counts(campaign: Campaign) -> Floats:
    return np.array([pump.count for pump in campaign.equipment.pumps], dtype=float)


def _visits_at_most(campaign: Campaign, rows: _Rows, worker_of: Ints) -> None:
    limited = [(w, s.days_at_most) for w, s in enumerate(campaign.demand.workers) if s.days_at_most is not None]
    for w, most in limited:
        mine = np.flatnonzero(worker_of == w)
        if len(mine):
            row = sparse.coo_matrix(
                (np.ones(len(mine)), (np.zeros(len(mine), dtype=int), mine)), shape=(1, len(worker_of))
            )
            rows.add((0, row), low=-np.inf, high=float(most))


def _days_in_order(campaign: Campaign, rows: _Rows, at_y: int) -> None:
    """Of days that are alike the earlier are used first; no optimum is lost."""
    days = len(campaign.demand.days)
    pairs = [pair for alike in campaign.day_classes for pair in pairwise(alike)]
    if pairs:
        cells = sparse.lil_matrix((len(pairs), days))
        for r, (earlier, later) in enumerate(pairs):
            cells[r, earlier], cells[r, later] = 1.0, -1.0
        rows.add((at_y, cells), low=0.0, high=np.inf)


def _matrix(
    campaign: Campaign,
    rows: _Rows,
    high: Floats,
    entries: Sequence[Entry],
    visits: Ints,
    at_u: int,
    at_y: int,
    at_k: int,
) -> Matrix:
    size = rows.columns
    goals = {name: np.zeros(size) for name in GOALS}
    goals[GOALS[0]][at_u:at_y] = 1.0
    goals[GOALS[1]][at_y:at_k] = 1.0
    goals[GOALS[2]][at_k:] = 1.0
    cost = np.array([entry.pattern.cost for entry in entries], dtype=float)
    goals[GOALS[3]][:at_u] = cost[visits[:, 0]] if len(visits) else 0.0
    return Matrix(
        rows=sparse.csr_matrix(sparse.vstack(rows.blocks)),
        lower=np.concatenate(rows.low),
        upper=np.concatenate(rows.high),
        column_low=np.zeros(size),
        column_high=high,
        goals=goals,
        entries=entries,
        visits=visits,
    )
