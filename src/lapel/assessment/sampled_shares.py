"""How much of a shift was sampled."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from lapel.assessment.inputs import Survey
from lapel.assessment.pump_stop import PumpStops
from lapel.fieldlog.state import Day


def sampled_shares(survey: Survey, day: Day, stops: PumpStops) -> dict[tuple[str, str], float]:
    """Part of each shift with a sampler drawing for an agent, whatever its standing. [-]"""
    covered: dict[tuple[str, str], list[tuple[float, float]]] = defaultdict(list)
    open_ended: set[tuple[str, str]] = set()
    for order in survey.orders.values():
        run = day.runs.get(order.sampler)
        if run is None or order.purpose not in ("full shift", "task"):
            continue
        if stops.of(run).unknown:  # how much of the shift was sampled hangs on that stop
            open_ended |= {(order.shift, survey.methods[code].agent) for code in order.methods}
            continue
        shift = survey.shifts[order.shift]
        spans = [
            (max(s.start, shift.start).timestamp() / 60, min(s.stop, shift.end).timestamp() / 60)
            for s in run.segments
            if s.stop is not None and min(s.stop, shift.end) > max(s.start, shift.start)
        ]
        for code in order.methods:
            covered[order.shift, survey.methods[code].agent] += spans
    shares = {}
    for (code, agent), spans in covered.items():
        if (code, agent) in open_ended:
            continue
        shift = survey.shifts[code]
        length = (shift.end - shift.start).total_seconds() / 60
        shares[code, agent] = min(1.0, covered_minutes(spans) / length) if length > 0.0 else 0.0
    return shares


def covered_minutes(spans: Iterable[tuple[float, float]]) -> float:
    """Length of the union of stretches of time, each counted once. [min]"""
    total, reached = 0.0, float("-inf")
    for start, stop in sorted(spans):
        total += max(0.0, stop - max(start, reached))
        reached = max(reached, stop)
    return total
