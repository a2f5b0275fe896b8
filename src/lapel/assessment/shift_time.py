"""A shift and the time samples drew in it: what lies within, what nobody sampled, the worst hours of it."""

from __future__ import annotations

from collections.abc import Sequence

from lapel.assessment.inputs import Shift
from lapel.assessment.results import SampleResult
from lapel.assessment.sampled_shares import covered_minutes
from lapel.figures import Figure, joined, number, reading
from lapel.hygiene.shift import WHOLE_SHIFT, ShiftAverage, Unsampled, because
from lapel.hygiene.window_bounds import total_window_bounds
from lapel.hygiene.windows import PortRun, overlapping_average, worst_total_window
from lapel.said import listed, said

_COUNTED: dict[Unsampled, str] = {
    "zero": "{minutes} min without a sample counted as no exposure",
    "mean": "{minutes} min without a sample counted like the sampled time",
    "highest": "{minutes} min without a sample counted up to the highest sample",
}
"""Of the worst hours: time without a sample may have been among them, as a sample of its own."""


def shift_minutes(shift: Shift) -> float:
    """Length of a shift as elapsed time, whatever the clock on the wall did. [min]"""
    return (shift.end - shift.start).total_seconds() / 60.0


def drew_in(shift: Shift, result: SampleResult) -> bool:
    """Whether a sample drew at any time within the shift; True where nobody knows when it drew."""
    spans = [(part.segment.start, part.segment.stop) for part in result.segments if part.segment.stop is not None]
    return not spans or any(start < shift.end and stop > shift.start for start, stop in spans)


def why_left_out(shift: Shift, result: SampleResult) -> str:
    """Say why a sample is not in an average."""
    if result.standing.level != "void" and result.concentration is None:
        return said("has no concentration")
    return said(result.standing.level if drew_in(shift, result) else "drew outside the shift")


def covered(runs: Sequence[PortRun]) -> float:
    """Time with a sample, each minute once. [min]"""
    return covered_minutes((run.start_min, run.stop_min) for run in runs)


def worst_hours(
    runs: list[PortRun], window_min: float, length: float, gap: float, unsampled: Unsampled, reason: str
) -> ShiftAverage:
    """
    Average the worst hours of a shift in total; time without a sample may have been among them.

    Counted as nothing without a reason it leaves a least value; counted like the sampled time or up to the highest
    sample it stands in line with the samples.
    """
    stretches = list(runs)
    if gap > 0.0 and (unsampled != "zero" or reason):
        fill = overlapping_average(runs, reference_min=length - gap, shift_min=length - gap).upper
        if unsampled == "zero":
            fill = reading(0.0, fill.unit, name="time without exposure", source=("{reason}", reason))
        elif unsampled == "highest":
            highest = max((run.concentration for run in runs), key=number)
            assert isinstance(highest, Figure)
            fill = highest.bounding(joined(highest.sense, "at most"))
        after = max(run.stop_min for run in runs)
        stretches.append(PortRun(fill, after, after + gap, "time without a sample"))
    worst = worst_total_window(stretches, window_min=window_min)
    lower, upper = worst.lower, worst.upper
    words = said("the worst {hours} h of the shift in total", hours=f"{window_min / 60:g}")
    unsampled_words = WHOLE_SHIFT
    if gap > 0.0:
        unsampled_words = because(said(_COUNTED[unsampled], minutes=f"{gap:g}"), unsampled, reason)
        words = listed("; ", (words, unsampled_words))
        if unsampled == "zero" and not reason:
            same = lower is upper
            upper = upper.bounding(joined(upper.sense, "at least"))
            lower = upper if same else lower
    within_runs = total_window_bounds(stretches, window_min=window_min).upper
    return ShiftAverage(lower, upper, length - gap, gap, window_min, length, words, unsampled_words, within_runs)
