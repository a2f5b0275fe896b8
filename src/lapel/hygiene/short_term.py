"""Short-term limits and ceilings, for samples that did not run exactly as long as the limit is averaged over."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, replace
from typing import Any, Literal, TypeAlias

from lapel.figures import Figure, Formula, formula, joined, number
from lapel.hygiene.limits import Comparison, Verdict, compare
from lapel.hygiene.shift import least, one_unit
from lapel.said import Said, listed, said

AroundTheRun: TypeAlias = Literal["unknown", "no exposure"]
"""What is known of the minutes before and after a sample."""

_SOURCE = "derived in docs/science/short-term.md from the definition of an average"


@dataclass(frozen=True, slots=True)
class ShortTermComparison:
    """
    What one sample proves about the worst short period.

    Attributes
    ----------
    lower, upper : Figure
        Between these the highest average over `averaging_min` lies; `upper` is "at least" where nothing bounds it.
    comparison : Comparison
        Held against the limit.
    run_min, averaging_min : float
        Length of the sample, and the time the limit is averaged over (0 for an instantaneous ceiling). [min]
    about : str
        Which periods the verdict is about, in words.
    """

    lower: Figure
    upper: Figure
    comparison: Comparison
    run_min: float
    averaging_min: float
    about: str

    @property
    def verdict(self) -> Verdict:
        """Under, over or cannot tell."""
        return self.comparison.verdict

    @property
    def reason(self) -> str:
        """Why, and about which periods, in plain words."""
        return self.comparison.reason


@functools.cache
def _spread_over(unit: str) -> Formula[Any]:
    @formula(
        "average when all of it fell into so many minutes",
        "C·t/a",
        unit=unit,
        source=_SOURCE,
        symbols={"concentration": "C", "minutes": "t", "averaging_min": "a"},
    )
    def spread(concentration: Any, minutes: Any, averaging_min: float) -> Any:
        return concentration * minutes / averaging_min

    return spread


@functools.cache
def _least_of_windows(unit: str) -> Formula[Any]:
    @formula(
        "average the worst of the windows must reach",
        "C·t/(n·a), n = ⌈t/a⌉",
        unit=unit,
        source=_SOURCE,
        symbols={"concentration": "C", "minutes": "t", "averaging_min": "a", "windows": "n"},
    )
    def least_of(concentration: Any, minutes: Any, averaging_min: float, windows: int) -> Any:
        return concentration * minutes / (windows * averaging_min)

    return least_of


def short_term_comparison(
    concentration: Figure | float,
    minutes: Figure | float,
    limit: Figure | float,
    *,
    averaging_min: float = 15.0,
    around: AroundTheRun = "unknown",
    confidence: float = 0.95,
) -> ShortTermComparison:
    """
    Hold one sample against a limit averaged over a short period.

    Parameters
    ----------
    concentration : Figure or float
        Average over the run of the sample. A plain number is taken in mg/m3.
    minutes : Figure or float
        Run of the sample, above 0. [min]
    limit : Figure or float
        Short-term limit, or a ceiling that is assessed as a short average, in the same unit.
    averaging_min : float
        What the limit is averaged over, above 0. [min]
    around : AroundTheRun
        "no exposure" only where it is known that there was none before and after the sample.
    confidence : float
        One-sided.

    Returns
    -------
    ShortTermComparison

    Raises
    ------
    ValueError
        A time is not above 0, the concentration is negative, or as `lapel.hygiene.compare`.

    Notes
    -----
    Let C be the average over a run of t minutes, a the averaging time, M the highest average over any a minutes.
    For t >= a, M <= C·t/a among the windows within the run: one window can hold everything that was collected. And
    M >= C·t/(n·a) with n = ceil(t/a): n windows within the run cover it, so one of them holds at least the n-th part.
    Both are reached by some course of the concentration, so nothing better can be said. A 17-minute sample at 1.2 times
    a 15-minute limit therefore proves nothing: M lies between 0.68 and 1.36 times the limit.
    For t < a, M >= C·t/a; equal to it if there was no exposure around the run, else with no upper bound.
    For t = a the sample is the window and M, within the run, is C.
    Periods that are not wholly within the run can have been worse, unless ``around`` says otherwise.
    """
    unit = one_unit([concentration])
    run = number(minutes)
    if not 0.0 < run < math.inf:
        raise ValueError(f"`minutes` must be finite and above 0; found {run:g}")
    if not 0.0 < averaging_min < math.inf:
        raise ValueError(f"`averaging_min` must be finite and above 0; found {averaging_min:g}")
    if around not in ("unknown", "no exposure"):
        raise ValueError(f"`around` must be “unknown” or “no exposure”; found “{around}”")
    whole = _spread_over(unit)(concentration, minutes, float(averaging_min))
    floor = least(concentration, unit)
    if run < averaging_min:
        lower = whole if floor is concentration else _spread_over(unit)(floor, minutes, float(averaging_min))
        upper = whole if around == "no exposure" else whole.bounding(joined(whole.sense, "at least"))
    else:
        windows = max(1, math.ceil(run / averaging_min - 1e-9))  # seconds turned to minutes are not exact
        upper = whole
        if windows == 1:
            lower = whole if floor is concentration else _spread_over(unit)(floor, minutes, float(averaging_min))
        else:
            lower = _least_of_windows(unit)(floor, minutes, float(averaging_min), windows)
            upper = whole.bounding(joined(whole.sense, "at most"))
    if lower is not upper and lower.sense == "exactly":
        lower = lower.bounding("at least")
    about = _about(run, averaging_min, around)
    outcome = _compared(lower, upper, limit, confidence, about)
    return ShortTermComparison(lower, upper, outcome, run, float(averaging_min), about)


def ceiling_comparison(
    concentration: Figure | float, minutes: Figure | float, limit: Figure | float, *, confidence: float = 0.95
) -> ShortTermComparison:
    """
    Hold one sample against a ceiling that must not be exceeded at any instant.

    Parameters
    ----------
    concentration, minutes, limit, confidence
        As in `short_term_comparison`.

    Returns
    -------
    ShortTermComparison
        "over" or "cannot tell": the highest instant is at least the average, and no sample bounds it from above.

    Raises
    ------
    ValueError
        As `short_term_comparison`.

    Notes
    -----
    Where instantaneous monitoring is not feasible, US ceilings are assessed as a 15-minute average (29 CFR
    1910.1000(a)(1)): use `short_term_comparison`.
    """
    unit = one_unit([concentration])
    run = number(minutes)
    if not 0.0 < run < math.inf:
        raise ValueError(f"`minutes` must be finite and above 0; found {run:g}")
    whole = _spread_over(unit)(concentration, minutes, run)
    floor = least(concentration, unit)
    lower = whole if floor is concentration else _spread_over(unit)(floor, minutes, run)
    lower = lower.bounding("at least")
    upper = whole.bounding(joined(whole.sense, "at least"))
    about = said(
        "An average over {minutes} min says nothing of the highest instant within it, except that it was not lower.",
        minutes=f"{run:g}",
    )
    outcome = _compared(lower, upper, limit, confidence, about)
    return ShortTermComparison(lower, upper, outcome, run, 0.0, about)


def _compared(lower: Figure, upper: Figure, limit: Figure | float, confidence: float, about: str) -> Comparison:
    """Compare, and keep beside the reason what it is about."""
    return replace(compare(lower, upper, limit, confidence=confidence), caution=about)


def _about(run: float, averaging_min: float, around: AroundTheRun) -> Said:
    ran, window = f"{run:g}", f"{averaging_min:g}"
    if run < averaging_min:
        within = said(
            "The sample ran {minutes} min, less than {window}: the {window} minutes around it held at least that.",
            minutes=ran,
            window=window,
        )
    elif run > averaging_min:
        within = said(
            "The sample ran {minutes} min, more than {window}: its worst {window} minutes can lie on either side of "
            "its average.",
            minutes=ran,
            window=window,
        )
    else:
        within = said("The sample ran exactly {window} min.", window=window)
    elsewhere = (
        said("There was no exposure around the sample.")
        if around == "no exposure"
        else said(
            "It says nothing of {window}-minute periods that lie outside the sample or only partly within it.",
            window=window,
        )
    )
    return listed(" ", (within, elsewhere))
