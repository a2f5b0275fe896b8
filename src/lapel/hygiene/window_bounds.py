"""What the worst hours of a shift can have held at least and at most, when the air changed within the samples' runs."""

from __future__ import annotations

import functools
import itertools
import math
from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from lapel.figures import Figure, Formula, formula, joined, number
from lapel.hygiene.shift import ShiftAverage, Unsampled, average_of_ends, least, one_unit
from lapel.hygiene.windows import PortRun, checked_runs, checked_shift

_Terms: TypeAlias = list[tuple[Figure | float, float]]
"""Concentrations, each with the minutes it counts for; negative where it is taken off."""


@dataclass(frozen=True, slots=True)
class WindowBounds:
    """
    Bounds of the highest average over a stated length of time.

    Attributes
    ----------
    lower, upper : Figure
        Whatever the concentration did within the runs, as long as each sample's average holds, the highest average is
        neither below `lower` nor above `upper`. `upper` is "at least" where a sample has no upper end, or where the
        window may hold minutes without a sample: nothing then bounds it from above.
    window_min : float
        Length averaged over. [min]
    """

    lower: Figure
    upper: Figure
    window_min: float


def continuous_window_bounds(runs: Iterable[PortRun], *, window_min: float = 480.0) -> WindowBounds:
    """
    Bound the highest average over one unbroken stretch of the sampled span.

    Parameters
    ----------
    runs : iterable of PortRun
        Samples of one agent on one worker; they may overlap.
    window_min : float
        Length of the stretch. [min]

    Returns
    -------
    WindowBounds
        `worst_continuous_window` lies between them for samples that do not overlap.

    Raises
    ------
    ValueError
        As `worst_continuous_window`.

    Notes
    -----
    A window that takes in a part of a run can hold all of the run's dose, or what must be left of it when other samples
    say how much the rest of the run can have held, and that may be nothing. At most: for every place of the window the
    least sum of doses of runs that cover its sampled minutes. At least: the doses of runs that do not overlap, each
    less what the runs around can have held of it outside. Two windows that overlap hold together what their union and
    their common part hold; the higher of them is at least half of that. The upper bound is exact for samples that do
    not overlap; the lower one is valid, and not always the tightest.
    """
    listed, unit = _prepared(runs, window_min)
    places = _places(listed, window_min)
    steps = sorted({*places, *((a + b) / 2.0 for a, b in itertools.pairwise(places))})
    most = max((_most(listed, [(s, s + window_min)]) for s in steps), key=_dose)
    lowest = [_least(listed, unit, s, s + window_min) for s in places]
    for first, second in itertools.combinations(places, 2):
        if second < first + window_min:
            union = _least(listed, unit, first, second + window_min)
            shared = _least(listed, unit, second, first + window_min)
            lowest.append([(c, t / 2.0) for c, t in (*union, *shared)])
    may_hold_gaps = any(_sampled(listed, s, s + window_min) < window_min - 1e-9 for s in steps)
    return _bounds(max(lowest, key=_dose), most, window_min, unit, unsampled=may_hold_gaps)


def total_window_bounds(runs: Iterable[PortRun], *, window_min: float = 480.0) -> WindowBounds:
    """
    Bound the highest average over so many minutes in total, wherever they lie.

    Parameters
    ----------
    runs : iterable of PortRun
        Samples of one agent on one worker; they may overlap.
    window_min : float
        Minutes in total. [min]

    Returns
    -------
    WindowBounds
        For samples that do not overlap the lower bound is `worst_total_window` itself, and the upper one all that was
        breathed in the sampled time, over the window: the shift converted to that length.

    Raises
    ------
    ValueError
        As `worst_total_window`.

    Notes
    -----
    At least: of samples that do not overlap, the worst minutes at their averages, for a run's worst minutes are never
    below its average. At most: everything within the window, by the least sum of doses that covers the sampled time.
    """
    listed, unit = _prepared(runs, window_min)
    apart = _apart(listed, [number(least(run.concentration, unit)) * _minutes(run) for run in listed])
    terms: _Terms = []
    left = window_min
    for run in sorted((listed[i] for i in apart), key=lambda run: -number(least(run.concentration, unit))):
        taken = min(left, _minutes(run))
        if taken > 0.0:
            terms.append((least(run.concentration, unit), taken))
            left -= taken
    span = (listed[0].start_min, max(run.stop_min for run in listed))
    most = _most(listed, [span])
    gaps = _sampled(listed, *span) < min(window_min, span[1] - span[0]) - 1e-9
    return _bounds(terms, most, window_min, unit, unsampled=gaps)


def overlapping_average_bounds(
    runs: Iterable[PortRun],
    *,
    reference_min: float = 480.0,
    unsampled: Unsampled = "zero",
    shift_min: float | None = None,
    unsampled_reason: str = "",
) -> ShiftAverage:
    """
    Bound the average of samples that overlap, whatever the concentration did within their runs.

    Parameters
    ----------
    runs, reference_min, unsampled, shift_min, unsampled_reason
        As in `overlapping_average`.

    Returns
    -------
    ShiftAverage
        Its sampled time between the largest sum of doses of samples that do not overlap and the least sum of doses of
        samples that cover it together. Where measurement error puts these the wrong way round they change places.

    Raises
    ------
    ValueError
        As `overlapping_average`.

    Notes
    -----
    `overlapping_average` takes each sample's average for every minute of its run. Of two samples that share some
    minutes all of both can have fallen outside these, or all of the smaller within them.
    """
    listed = checked_runs(runs)
    unit = one_unit([run.concentration for run in listed])
    sampled = _sampled(listed, listed[0].start_min, max(run.stop_min for run in listed))
    shift = checked_shift(sampled, reference_min, shift_min)
    dose = total_window_bounds(listed, window_min=sampled)
    lower, upper = dose.lower, dose.upper
    if upper.sense == "at most" and lower.value > upper.value:
        lower, upper = upper.bounding("at least"), lower.bounding("at most")
    return average_of_ends(
        [(lower, upper)],
        [sampled],
        unit=unit,
        reference_min=float(reference_min),
        shift_min=shift,
        unsampled=unsampled,
        unsampled_reason=unsampled_reason,
        highest=max((run.concentration for run in listed), key=number),
    )


def partly_shared_minutes(runs: Iterable[PortRun]) -> float:
    """Minutes that a sample shares with another one, where neither ran wholly within the other. [min]"""
    shared = sorted(
        (other.start_min, one.stop_min)
        for one, other in itertools.combinations(checked_runs(runs), 2)
        if one.start_min < other.start_min < one.stop_min < other.stop_min
    )
    total, reached = 0.0, -math.inf
    for start, stop in shared:
        total += max(0.0, stop - max(start, reached))
        reached = max(reached, stop)
    return total


@functools.cache
def _average(unit: str) -> Formula[Any]:
    @formula(
        "bound of the average over the window",
        "E = Σ Cᵢ·tᵢ / T",
        unit=unit,
        source="each sample's average holds over its run, and nothing is said of the air within it; "
        "t is negative where a sample is taken off",
        symbols={"concentrations": "C", "minutes": "t", "window_min": "T"},
    )
    def average(concentrations: Sequence[Any], minutes: Sequence[float], window_min: float) -> Any:
        total: Any = 0.0
        for concentration, run in zip(concentrations, minutes, strict=True):
            total = total + concentration * run
        return total / window_min

    return average


def _bounds(low: _Terms, high: _Terms, window_min: float, unit: str, *, unsampled: bool) -> WindowBounds:
    make = _average(unit)
    lower = make([c for c, _ in low], [t for _, t in low], float(window_min)).bounding("at least")
    upper = make([c for c, _ in high], [t for _, t in high], float(window_min))
    unbounded = any(isinstance(c, Figure) and c.sense in ("at least", "unknown") for c, _ in high)
    sense = joined(upper.sense, "at least") if unbounded or unsampled else "at most"
    return WindowBounds(lower, upper.bounding(sense), float(window_min))


def _prepared(runs: Iterable[PortRun], window_min: float) -> tuple[list[PortRun], str]:
    if not 0.0 < window_min < math.inf:
        raise ValueError(f"`window_min` must be finite and above 0; found {window_min:g}")
    listed = checked_runs(runs)
    return listed, one_unit([run.concentration for run in listed])


def _places(runs: Sequence[PortRun], window_min: float) -> list[float]:
    """Starts of the window at which it begins to take in, or to leave out, another sample."""
    first, last = runs[0].start_min, max(run.stop_min for run in runs)
    edges = {edge for run in runs for edge in (run.start_min, run.stop_min)}
    inside = (s for edge in edges for s in (edge, edge - window_min) if first <= s <= last - window_min)
    return sorted({first, *inside})


def _minutes(run: PortRun) -> float:
    return run.stop_min - run.start_min


def _dose(terms: _Terms) -> float:
    return sum(number(concentration) * minutes for concentration, minutes in terms)


def _sampled(runs: Sequence[PortRun], start: float, stop: float) -> float:
    """Minutes of a stretch with a sample, each once. [min]"""
    return sum(b - a for a, b in _stretches(runs, start, stop))


def _stretches(runs: Sequence[PortRun], start: float, stop: float) -> list[tuple[float, float]]:
    """Parts of a stretch in which at least one sample ran, joined where they touch."""
    found: list[tuple[float, float]] = []
    for run in runs:
        a, b = max(run.start_min, start), min(run.stop_min, stop)
        if a >= b:
            continue
        if found and a <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], b))
        else:
            found.append((a, b))
    return found


def _most(runs: Sequence[PortRun], spans: Iterable[tuple[float, float]]) -> _Terms:
    """Samples whose doses, added, the sampled minutes of some spans cannot exceed."""
    terms: _Terms = []
    for start, stop in spans:
        for a, b in _stretches(runs, start, stop):
            cover = _cover(runs, a, b, lambda run: number(run.concentration) * _minutes(run))
            assert cover is not None  # every minute of a stretch is sampled
            terms += [(run.concentration, _minutes(run)) for run in cover]
    return terms


def _cover(
    runs: Sequence[PortRun], start: float, stop: float, cost: Callable[[PortRun], float]
) -> list[PortRun] | None:
    """Runs of the least total cost that cover a stretch together; None where a part of it has no run."""
    best: dict[float, tuple[float, list[PortRun]]] = {start: (0.0, [])}
    reached = sorted({start, stop, *(run.stop_min for run in runs if start < run.stop_min < stop)})
    for at in reached:
        if at not in best or at >= stop:
            continue
        so_far, chosen = best[at]
        for run in runs:
            if run.start_min <= at < run.stop_min:
                to, total = min(run.stop_min, stop), so_far + cost(run)
                if to not in best or total < best[to][0]:
                    best[to] = (total, [*chosen, run])
    return best[stop][1] if stop in best else None


def _least(runs: Sequence[PortRun], unit: str, start: float, stop: float) -> _Terms:
    """Samples that do not overlap, less what others can hold of them outside a stretch: the dose it must have held."""
    kept: list[_Terms] = []
    for run in runs:
        terms: _Terms | None = [(least(run.concentration, unit), _minutes(run))]
        others = [other for other in runs if other is not run]
        for a, b in ((run.start_min, min(run.stop_min, start)), (max(run.start_min, stop), run.stop_min)):
            if terms is None or a >= b:
                continue
            outside = _cover(others, a, b, _highest_dose)
            off = None if outside is None or math.isinf(sum(map(_highest_dose, outside))) else outside
            terms = None if off is None else [*terms, *((other.concentration, -_minutes(other)) for other in off)]
        kept.append(terms if terms is not None and _dose(terms) > 0.0 else [])
    return [term for i in _apart(runs, [_dose(terms) for terms in kept]) for term in kept[i]]


def _highest_dose(run: PortRun) -> float:
    """Most that a run can have held; endless where nothing bounds its sample from above."""
    open_above = isinstance(run.concentration, Figure) and run.concentration.sense in ("at least", "unknown")
    return math.inf if open_above else number(run.concentration) * _minutes(run)


def _apart(runs: Sequence[PortRun], weights: Sequence[float]) -> list[int]:
    """Runs that do not overlap, of the greatest total weight: by number, those without weight left out."""
    order = sorted(range(len(runs)), key=lambda i: runs[i].stop_min)
    stops = [runs[i].stop_min for i in order]
    best: list[tuple[float, list[int]]] = [(0.0, [])]
    for position, i in enumerate(order):
        before = bisect_right(stops, runs[i].start_min, 0, position)
        taken = best[before][0] + weights[i]
        best.append((taken, [*best[before][1], i]) if weights[i] > 0.0 and taken > best[-1][0] else best[-1])
    return best[-1][1]
