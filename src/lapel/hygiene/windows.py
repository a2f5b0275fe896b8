"""Samples placed in time: ports that overlap, and the worst 8 hours of a longer shift."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from lapel.figures import Figure, joined, number, reading
from lapel.hygiene.shift import (
    CLOCK_SLACK_MIN,
    ShiftAverage,
    Unsampled,
    average_of_ends,
    least,
    one_unit,
    weighted_average,
)


@dataclass(frozen=True, slots=True)
class PortRun:
    """
    One sample with its place in time.

    Parameters
    ----------
    concentration : Figure or float
        Average over the run; "at most" for a non-detect. A plain number is taken in mg/m3.
    start_min, stop_min : float
        On one clock, such as minutes since the start of the shift. [min]
    port : str
        Where it was taken.
    """

    concentration: Figure | float
    start_min: float
    stop_min: float
    port: str = ""


@dataclass(frozen=True, slots=True)
class WorstPeriod:
    """
    The highest average over a stated length of time within a shift.

    Attributes
    ----------
    lower, upper : Figure
        Ends of the average, as in `ShiftAverage`.
    window_min : float
        Length averaged over. [min]
    stretches : tuple of (start, stop)
        The time that makes up the upper end; one stretch for a continuous window. [min]
    unsampled_min : float
        Part of the window without a sample, counted as no exposure: above 0 the average is only a least value. [min]
    """

    lower: Figure
    upper: Figure
    window_min: float
    stretches: tuple[tuple[float, float], ...]
    unsampled_min: float


@dataclass(frozen=True, slots=True)
class _Slice:
    """A stretch of time over which the same samples ran, with the lowest and highest of them."""

    start: float
    stop: float
    low: Figure | float
    high: Figure | float

    @property
    def minutes(self) -> float:
        return self.stop - self.start


_Piece: TypeAlias = tuple[Figure | float, float]


def overlapping_average(
    runs: Iterable[PortRun],
    *,
    reference_min: float = 480.0,
    unsampled: Unsampled = "zero",
    shift_min: float | None = None,
    unsampled_reason: str = "",
) -> ShiftAverage:
    """
    Time-weighted average of samples that may overlap, such as two ports of one pump.

    Parameters
    ----------
    runs : iterable of PortRun
        Samples of one agent on one worker.
    reference_min, unsampled, shift_min, unsampled_reason
        As in `lapel.hygiene.time_weighted_average`.

    Returns
    -------
    ShiftAverage
        Where samples of the same minutes differ, an interval from the lowest to the highest of them.

    Raises
    ------
    ValueError
        No runs, a run that does not end after its start, and as in `time_weighted_average`.

    Notes
    -----
    A sample that ran within a longer one is left out, when the longer one is an estimate and no bound: the longer
    sample already holds those minutes. Elsewhere each sample's average stands for every minute of its run; where the
    concentration changed within a run, an overlap of a part of it carries that error.
    """
    listed = checked_runs(runs)
    unit = one_unit([run.concentration for run in listed])
    slices = _slices(_without_nested(listed), unit)
    sampled = sum(piece.minutes for piece in slices)
    shift = checked_shift(sampled, reference_min, shift_min)
    return average_of_ends(
        [(piece.low, piece.high) for piece in slices],
        [piece.minutes for piece in slices],
        unit=unit,
        reference_min=float(reference_min),
        shift_min=shift,
        unsampled=unsampled,
        unsampled_reason=unsampled_reason,
    )


def worst_continuous_window(runs: Iterable[PortRun], *, window_min: float = 480.0) -> WorstPeriod:
    """
    Highest average over one unbroken stretch of the shift.

    Parameters
    ----------
    runs : iterable of PortRun
        Samples of one agent on one worker.
    window_min : float
        Length of the stretch, 480 for the worst 8 hours of a longer shift, 15 for short samples in a row. [min]

    Returns
    -------
    WorstPeriod
        Only stretches within the sampled span are looked at; minutes between samples count as no exposure.

    Raises
    ------
    ValueError
        No runs, a run that does not end after its start, or a window not above 0.

    Notes
    -----
    OSHA memorandum of 10 November 1999 (known from a practitioner's account, not re-read): on long shifts the worst
    continuous 8 hours may be sampled and held against the 8-hour limit. Each sample's average stands for every minute
    of its run; the true worst window can be higher where the concentration changed within a run.
    """
    slices, unit = _prepared(runs, window_min)
    lower_pieces, _ = _best_window(slices, window_min, upper=False)
    upper_pieces, start = _best_window(slices, window_min, upper=True)
    return _worst(lower_pieces, upper_pieces, ((start, start + window_min),), window_min, unit)


def worst_total_window(runs: Iterable[PortRun], *, window_min: float = 480.0) -> WorstPeriod:
    """
    Highest average over so many minutes of the shift in total, wherever they lie.

    Parameters
    ----------
    runs : iterable of PortRun
        Samples of one agent on one worker.
    window_min : float
        Minutes in total. [min]

    Returns
    -------
    WorstPeriod
        The worst samples first; of the last one only as many minutes as are lacking.

    Raises
    ------
    ValueError
        As `worst_continuous_window`.

    Notes
    -----
    OSHA memorandum of 10 November 1999 (known from a practitioner's account, not re-read): several samples over a long
    shift, of which the worst 8 hours in total are held against the 8-hour limit. Never below the worst continuous
    window.
    """
    slices, unit = _prepared(runs, window_min)
    lower_pieces = [(piece.low, taken) for piece, taken in _worst_first(slices, window_min, upper=False)]
    chosen = _worst_first(slices, window_min, upper=True)
    stretches = tuple(sorted((piece.start, piece.start + taken) for piece, taken in chosen))
    return _worst(lower_pieces, [(piece.high, taken) for piece, taken in chosen], stretches, window_min, unit)


def _prepared(runs: Iterable[PortRun], window_min: float) -> tuple[list[_Slice], str]:
    if not 0.0 < window_min < math.inf:
        raise ValueError(f"`window_min` must be finite and above 0; found {window_min:g}")
    listed = checked_runs(runs)
    unit = one_unit([run.concentration for run in listed])
    return _slices(listed, unit), unit


def _worst(
    lower_pieces: list[_Piece],
    upper_pieces: list[_Piece],
    stretches: tuple[tuple[float, float], ...],
    window_min: float,
    unit: str,
) -> WorstPeriod:
    average = weighted_average(unit)
    unsampled = max(0.0, window_min - sum(minutes for _, minutes in upper_pieces))
    upper = average([c for c, _ in upper_pieces], [t for _, t in upper_pieces], 0.0, 0.0, float(window_min))
    if unsampled > 1e-9:
        upper = upper.bounding(joined(upper.sense, "at least"))
    same = len(lower_pieces) == len(upper_pieces) and all(
        low[0] is high[0] and low[1] == high[1] for low, high in zip(lower_pieces, upper_pieces, strict=True)
    )
    if same:
        return WorstPeriod(upper, upper, float(window_min), stretches, unsampled)
    lower = average([c for c, _ in lower_pieces], [t for _, t in lower_pieces], 0.0, 0.0, float(window_min))
    if upper.sense == "exactly":
        upper = upper.bounding("at most")
    return WorstPeriod(lower.bounding("at least"), upper, float(window_min), stretches, unsampled)


def _best_window(slices: Sequence[_Slice], window_min: float, *, upper: bool) -> tuple[list[_Piece], float]:
    """Window with the highest dose; the dose is piecewise linear in its start, so one edge lies on a slice's edge."""
    first, last = slices[0].start, slices[-1].stop
    edges = {edge for piece in slices for edge in (piece.start, piece.stop)}
    starts = sorted({first, *(s for e in edges for s in (e, e - window_min) if first <= s <= last - window_min)})
    best: tuple[float, list[_Piece], float] | None = None
    for start in starts:
        pieces = []
        for piece in slices:
            minutes = min(piece.stop, start + window_min) - max(piece.start, start)
            if minutes > 0.0:
                pieces.append((piece.high if upper else piece.low, minutes))
        dose = sum(number(concentration) * minutes for concentration, minutes in pieces)
        if best is None or dose > best[0]:
            best = (dose, pieces, start)
    assert best is not None  # `starts` holds at least `first`
    return best[1], best[2]


def _worst_first(slices: Sequence[_Slice], window_min: float, *, upper: bool) -> list[tuple[_Slice, float]]:
    left = window_min
    taken: list[tuple[_Slice, float]] = []
    for piece in sorted(slices, key=lambda s: (-number(s.high if upper else s.low), s.start)):
        minutes = min(piece.minutes, left)
        if minutes > 0.0:
            taken.append((piece, minutes))
            left -= minutes
    return taken


def _without_nested(runs: Sequence[PortRun]) -> list[PortRun]:
    """Leave out runs that lie within a longer run whose result is an estimate."""

    def holds(outer: PortRun, inner: PortRun) -> bool:
        longer = outer.stop_min - outer.start_min > inner.stop_min - inner.start_min
        estimate = not isinstance(outer.concentration, Figure) or outer.concentration.sense == "exactly"
        return longer and estimate and outer.start_min <= inner.start_min and inner.stop_min <= outer.stop_min

    return [run for run in runs if not any(holds(other, run) for other in runs)]


def _slices(runs: Sequence[PortRun], unit: str) -> list[_Slice]:
    """Cut the time at every start and stop; minutes without a sample are in no slice."""
    edges = sorted({edge for run in runs for edge in (run.start_min, run.stop_min)})
    slices: list[_Slice] = []
    floors = {id(run): least(run.concentration, unit) for run in runs}
    for start, stop in itertools.pairwise(edges):
        covering = [run for run in runs if run.start_min <= start and stop <= run.stop_min]
        if covering:
            low = min((floors[id(run)] for run in covering), key=number)
            high = _highest([run.concentration for run in covering], unit)
            slices.append(_Slice(start, stop, low, high))
    return slices


def _highest(concentrations: Sequence[Figure | float], unit: str) -> Figure | float:
    """Return the highest of several, unbounded from above if any of them is."""
    high = max(concentrations, key=number)
    senses = {c.sense for c in concentrations if isinstance(c, Figure)}
    if senses.isdisjoint({"at least", "unknown"}):
        return high
    if not isinstance(high, Figure):
        high = reading(float(high), unit, name="highest of the samples of these minutes")
    return high.bounding(joined(high.sense, "at least"))


def checked_shift(sampled_min: float, reference_min: float, shift_min: float | None) -> float:
    """
    Return the time worked: as stated, or the reference period or the sampled time, whichever is longer. [min]

    Raises
    ------
    ValueError
        A time is not above 0, or more was sampled than worked.
    """
    shift = max(reference_min, sampled_min) if shift_min is None else shift_min
    if not 0.0 < reference_min < math.inf or not 0.0 < shift < math.inf:
        raise ValueError(f"`reference_min` and `shift_min` must be above 0; found {reference_min:g} and {shift:g}")
    if sampled_min > shift + CLOCK_SLACK_MIN:
        raise ValueError(f"more time was sampled ({sampled_min:g} min) than the shift lasted ({shift:g} min)")
    return float(shift)


def checked_runs(runs: Iterable[PortRun]) -> list[PortRun]:
    """
    Return the runs in the order they started.

    Raises
    ------
    ValueError
        None were given, a concentration is negative or not finite, or a run does not end after its start.
    """
    listed = sorted(runs, key=lambda run: (run.start_min, run.stop_min))
    if not listed:
        raise ValueError("`runs` must hold at least one sample; found none")
    for run in listed:
        name = f"run from minute {run.start_min:g}" + (f" on port {run.port}" if run.port else "")
        if not -math.inf < run.start_min < run.stop_min < math.inf:
            raise ValueError(f"{name} must end after its start; found minute {run.stop_min:g}")
        if not 0.0 <= number(run.concentration) < math.inf:
            raise ValueError(
                f"concentration of the {name} must be finite and not below 0; found {number(run.concentration):g}"
            )
    return listed
