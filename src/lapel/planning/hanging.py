"""
Hanging pumps around the shift start: the day cut into turns of one pump each, and who hangs whom when.

One technician hangs one pump per turn. A worker's pumps must be hung in whole turns inside the minutes around the
shift start, so each worker has an interval of turns. A set of hangs fits exactly when no interval of turns is
asked to hold more hangs than it has turns times technicians (Hall's condition for intervals), and then taking
the earliest end first finds the schedule.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence

from lapel.planning.demand import Crew, Worker


def hang_turns(worker: Worker, crew: Crew) -> tuple[int, int] | None:
    """First and last turn in which this worker's pumps can be hung, or None where no whole turn fits."""
    opens, closes = worker.shift_start_min - crew.before_min, worker.shift_start_min + crew.after_min
    first, last = -(-opens // crew.hang_min), closes // crew.hang_min - 1
    return (first, last) if first <= last else None


def turn_intervals(turns: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Intervals of turns, from a first to a last, that could be asked to hold too much."""
    windows = set(turns)
    firsts, lasts = sorted({a for a, _ in windows}), sorted({b for _, b in windows})
    return [(a, b) for a in firsts for b in lasts if any(a <= f and last <= b for f, last in windows)]


def hang_schedule(hangs: Sequence[tuple[str, tuple[int, int]]], technicians: int) -> list[tuple[str, int, int]] | None:
    """
    Who is hung in which turn by which technician.

    Parameters
    ----------
    hangs : sequence of (worker, (first turn, last turn))
        One row per pump.
    technicians : int

    Returns
    -------
    list of (worker, turn, technician), or None
        Technicians are counted from 1; ``None`` where the hangs do not fit.
    """
    waiting = sorted(hangs, key=lambda hang: hang[1][0])
    ready: list[tuple[int, int, str]] = []
    schedule: list[tuple[str, int, int]] = []
    turn, following = 0, 0
    while following < len(waiting) or ready:
        if not ready:
            turn = max(turn, waiting[following][1][0])
        while following < len(waiting) and waiting[following][1][0] <= turn:
            worker, (_, last) = waiting[following]
            heapq.heappush(ready, (last, following, worker))
            following += 1
        for technician in range(1, technicians + 1):
            if not ready:
                break
            last, _, worker = heapq.heappop(ready)
            if last < turn:
                return None
            schedule.append((worker, turn, technician))
        if technicians < 1:
            return None
        turn += 1
    return schedule
