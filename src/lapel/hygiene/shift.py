"""The shift average: consecutive samples, time without a sample, and non-detects that make it an interval."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

from lapel.figures import Figure, Formula, formula, joined, number, reading
from lapel.said import Said, listed, said, worded

Unsampled: TypeAlias = Literal["zero", "mean", "highest"]
"""What the time without a sample counts as."""

CLOCK_SLACK_MIN = 1.0
"""Sampled time may exceed the stated shift by this much before it is an error: clocks are read to the minute."""

WHOLE_SHIFT = said("the whole shift was sampled")
_COUNTED: dict[Unsampled, str] = {
    "zero": "{minutes} min without a sample counted as no exposure",
    "mean": "{minutes} min without a sample counted like the sampled time",
    "highest": "{minutes} min without a sample counted from no exposure up to the highest sample",
}
_LEAST_VALUE = said(", without proof that there was none: a least value")


@dataclass(frozen=True, slots=True)
class ShiftAverage:
    """
    An average over a reference period, as an interval where the data leave one.

    Attributes
    ----------
    lower, upper : Figure
        Ends of the average; the same figure where nothing is open. `lower` is "exactly" or "at least". `upper` is
        "exactly" or "at most"; "at least" or "unknown" means that nothing bounds the average from above.
    sampled_min, unsampled_min : float
        Time with and without a sample. [min]
    reference_min : float
        Period the average refers to, as in an 8-hour TWA. [min]
    shift_min : float
        Time worked. [min]
    treatment : str
        What was averaged and how the time without a sample was counted, in words.
    unsampled_words : str
        The latter alone.
    within_runs : Figure or None
        Of the worst hours of a longer shift: the highest they can have averaged had the air changed within the samples'
        runs; None for other averages.
    """

    lower: Figure
    upper: Figure
    sampled_min: float
    unsampled_min: float
    reference_min: float
    shift_min: float
    treatment: str
    unsampled_words: str = ""
    within_runs: Figure | None = None

    @property
    def sampled_share(self) -> float:
        """Sampled part of the shift, 0 to 1."""
        return min(1.0, self.sampled_min / self.shift_min)

    @property
    def is_interval(self) -> bool:
        """Whether the data leave an interval rather than one estimate."""
        return self.lower is not self.upper

    @property
    def is_bounded(self) -> bool:
        """Whether anything bounds the average from above."""
        return self.upper.sense in ("exactly", "at most")


@functools.cache
def _mean_over_sampled_time(unit: str) -> Formula[Any]:
    @formula(
        "average over the sampled time",
        "C̄ = Σ Cᵢ·tᵢ / Σ tᵢ",
        unit=unit,
        source="29 CFR 1910.1000(d)(1)(i), over the time sampled",
        symbols={"concentrations": "C", "minutes": "t"},
    )
    def mean(concentrations: Sequence[Any], minutes: Sequence[Any]) -> Any:
        return _dose(concentrations, minutes) / sum(minutes)

    return mean


@functools.cache
def weighted_average(unit: str) -> Formula[Any]:
    """Return the formula of the time-weighted average, in a unit."""

    @formula(
        "time-weighted average",
        "E = (Σ Cᵢ·tᵢ + Cᵤ·tᵤ) / T",
        unit=unit,
        source="29 CFR 1910.1000(d)(1)(i); EN 689:2018 and HSE EH40 convert to 8 h in the same way",
        symbols={
            "concentrations": "C",
            "minutes": "t",
            "unsampled_concentration": "Cᵤ",
            "unsampled_min": "tᵤ",
            "reference_min": "T",
        },
    )
    def average(
        concentrations: Sequence[Any],
        minutes: Sequence[Any],
        unsampled_concentration: Any,
        unsampled_min: Any,
        reference_min: float,
    ) -> Any:
        return (_dose(concentrations, minutes) + unsampled_concentration * unsampled_min) / reference_min

    return average


@formula(
    "time without a sample",
    "tᵤ = t_shift − Σ tᵢ",
    unit="min",
    source="difference of the time worked and the time sampled",
    falls_with=("minutes",),
    symbols={"shift_min": "t_shift", "minutes": "t"},
)
def _time_without_sample(shift_min: float, minutes: Sequence[Any]) -> Any:
    return shift_min - sum(minutes)


def _dose(concentrations: Sequence[Any], minutes: Sequence[Any]) -> Any:
    total: Any = 0.0
    for concentration, run in zip(concentrations, minutes, strict=True):
        total = total + concentration * run
    return total


def time_weighted_average(
    segments: Iterable[tuple[Figure | float, Figure | float]],
    *,
    reference_min: float = 480.0,
    unsampled: Unsampled = "zero",
    shift_min: float | None = None,
    unsampled_reason: str = "",
) -> ShiftAverage:
    """
    Time-weighted average of consecutive samples.

    Parameters
    ----------
    segments : iterable of (concentration, minutes)
        Samples that do not overlap. A concentration that is "at most" (a non-detect) counts from 0 to its bound, one
        that is "at least" (breakthrough) has no upper end. Plain numbers are taken in mg/m3. [mg/m3 or ppm, min]
    reference_min : float
        Period the limit refers to, 480 for an 8-hour limit. A longer shift is converted to it. [min]
    unsampled : Unsampled
        "zero": nothing is added, as when over-exposure must be proved; the result is then a least value. "mean": as
        in the sampled time. "highest": from nothing up to the highest sample.
    shift_min : float, optional
        Time worked. Left out, it is the reference period, or the sampled time where that is longer. [min]
    unsampled_reason : str
        Why there was no exposure in the unsampled time (worker away, process down). Only with it does "zero" become an
        estimate that can also show an exposure under a limit.

    Returns
    -------
    ShiftAverage
        Figures `.lower` and `.upper`; causes shared between samples stay shared.

    Raises
    ------
    ValueError
        No segments, units that differ, a time not above 0, a negative concentration, or more time sampled than worked.

    Notes
    -----
    E = (Ca·Ta + Cb·Tb + ...)/8 h [1]_. "highest" takes the highest sample as the worst credible exposure of the
    unsampled time; it is a judgement and no mathematical bound, as "mean" is one [2]_.

    References
    ----------
    .. [1] 29 CFR 1910.1000(d)(1)(i).
    .. [2] EN 689:2018, 5.2 (known, not re-read): shorter sampling only where the factors are constant.
    """
    pairs = [(concentration, minutes) for concentration, minutes in segments]
    unit = _checked(pairs, reference_min, shift_min)
    if unsampled not in ("zero", "mean", "highest"):
        raise ValueError(f"`unsampled` must be “zero”, “mean” or “highest”; found “{unsampled}”")
    sampled = sum(number(minutes) for _, minutes in pairs)
    shift = max(reference_min, sampled) if shift_min is None else shift_min
    if sampled > shift + CLOCK_SLACK_MIN:
        raise ValueError(
            f"more time was sampled ({sampled:g} min) than the shift lasted ({shift:g} min): do samples overlap?"
        )
    ends = [(least(concentration, unit), concentration) for concentration, _ in pairs]
    return average_of_ends(
        ends,
        [minutes for _, minutes in pairs],
        unit=unit,
        reference_min=float(reference_min),
        shift_min=float(shift),
        unsampled=unsampled,
        unsampled_reason=unsampled_reason,
    )


def average_of_ends(
    ends: Sequence[tuple[Figure | float, Figure | float]],
    minutes: Sequence[Figure | float],
    *,
    unit: str,
    reference_min: float,
    shift_min: float,
    unsampled: Unsampled,
    unsampled_reason: str,
    highest: Figure | float | None = None,
) -> ShiftAverage:
    """
    Average stretches of time whose concentration is known between two ends.

    Parameters
    ----------
    ends : sequence of (lower, upper), length k
        The same object twice where nothing is open. [unit]
    minutes : sequence of Figure or float, length k
        Length of each stretch. [min]
    unit : str
        Of the concentrations.
    reference_min, shift_min, unsampled, unsampled_reason
        As in `time_weighted_average`; checked by the caller.
    highest : Figure or float, optional
        Highest sample, where the stretches are not the samples themselves. [unit]

    Returns
    -------
    ShiftAverage
    """
    sampled = sum(number(run) for run in minutes)
    gap = max(0.0, shift_min - sampled)
    gap_figure: Figure | float = _time_without_sample(shift_min, list(minutes)) if gap > 0.0 else 0.0
    lows, highs = [low for low, _ in ends], [high for _, high in ends]
    times = list(minutes)
    low_fill, high_fill = _fill(unsampled, lows, highs, times, unit) if gap > 0.0 else (0.0, 0.0)
    if highest is not None and gap > 0.0 and unsampled == "highest":
        high_fill = highest
    upper = weighted_average(unit)(highs, times, high_fill, gap_figure, reference_min)
    if gap > 0.0 and unsampled == "zero" and not unsampled_reason.strip():
        upper = upper.bounding(joined(upper.sense, "at least"))
    if gap > 0.0 and unsampled == "highest":
        upper = upper.bounding(joined(upper.sense, "at most"))
    if all(low is high for low, high in ends) and upper.sense in ("exactly", "at least"):
        lower = upper
    else:
        lower = weighted_average(unit)(lows, times, low_fill, gap_figure, reference_min).bounding("at least")
        if upper.sense == "exactly":
            upper = upper.bounding("at most")
    treatment = _words(unsampled, gap, unsampled_reason)
    return ShiftAverage(lower, upper, sampled, gap, reference_min, shift_min, treatment, treatment)


def unsampled_concentration_to_reach(average: ShiftAverage, limit: Figure | float) -> float:
    """
    Concentration the unsampled time would have had to average for the shift average to reach a limit.

    Parameters
    ----------
    average : ShiftAverage
        With unsampled time.
    limit : Figure or float
        In the unit of the average.

    Returns
    -------
    float
        0 where the sampled part alone reaches the limit, infinite where there is no unsampled time. It counts
        non-detects at their bound, so that it errs low. [unit of the limit]

    Notes
    -----
    Solves (Σ C·t + x·t_u)/T = L for x: tells how far-fetched an "over" is that the sampled part does not show.
    """
    if isinstance(limit, Figure) and limit.unit != average.upper.unit:
        raise ValueError(f"`limit` must be in {average.upper.unit}; found {limit.unit}")
    if average.unsampled_min == 0.0:
        return math.inf
    inputs = average.upper.derivation.inputs if average.upper.derivation else {}
    fill = number(inputs.get("unsampled_concentration", 0.0))
    measured = average.upper.value * average.reference_min - fill * average.unsampled_min
    return max(0.0, (number(limit) * average.reference_min - measured) / average.unsampled_min)


def least(concentration: Figure | float, unit: str) -> Figure | float:
    """Return what a concentration proves from below: itself, or 0 where it is only an upper bound or unknown."""
    if isinstance(concentration, Figure) and concentration.sense in ("at most", "unknown"):
        return reading(
            0.0,
            unit,
            name=said("{name}, from below", name=worded(concentration.name)),
            source="a value that is at most so much can be 0",
        )
    return concentration


def _fill(
    unsampled: Unsampled,
    lows: list[Figure | float],
    highs: list[Figure | float],
    times: list[Figure | float],
    unit: str,
) -> tuple[Figure | float, Figure | float]:
    """Concentration counted in the unsampled time, for the lower and the upper end."""
    if unsampled == "zero":
        return 0.0, 0.0
    if unsampled == "highest":
        return 0.0, max(highs, key=number)
    mean = _mean_over_sampled_time(unit)
    return mean(lows, times), mean(highs, times)


def _words(unsampled: Unsampled, gap: float, reason: str) -> Said:
    if gap == 0.0:
        return WHOLE_SHIFT
    return because(said(_COUNTED[unsampled], minutes=f"{gap:g}"), unsampled, reason)


def because(counted: Said, unsampled: Unsampled, reason: str) -> Said:
    """Put behind the words for how unsampled time was counted why, or that nothing proves it."""
    reason = reason if isinstance(reason, Said) else reason.strip()
    if reason:
        return listed("", (counted, " (", reason, ")"))
    return counted + _LEAST_VALUE if unsampled == "zero" else counted


def _checked(pairs: list[tuple[Figure | float, Figure | float]], reference_min: float, shift_min: float | None) -> str:
    if not pairs:
        raise ValueError("`segments` must hold at least one sample; found none")
    for name, span in (("reference_min", reference_min), ("shift_min", shift_min)):
        if span is not None and not 0.0 < span < math.inf:
            raise ValueError(f"`{name}` must be finite and above 0; found {span:g}")
    for position, (concentration, minutes) in enumerate(pairs, start=1):
        if not 0.0 <= number(concentration) < math.inf:
            raise ValueError(
                f"concentration of segment {position} must be finite and not below 0; found {number(concentration):g}"
            )
        if not 0.0 < number(minutes) < math.inf:
            raise ValueError(f"minutes of segment {position} must be finite and above 0; found {number(minutes):g}")
        if isinstance(minutes, Figure) and minutes.unit != "min":
            raise ValueError(f"minutes of segment {position} must be in min; “{minutes.name}” is in {minutes.unit}")
    return one_unit([concentration for concentration, _ in pairs])


def one_unit(concentrations: Iterable[Figure | float]) -> str:
    """
    Unit the concentrations share; mg/m3 for plain numbers.

    Raises
    ------
    ValueError
        They are in different units.
    """
    units = {concentration.unit if isinstance(concentration, Figure) else "mg/m3" for concentration in concentrations}
    if len(units) > 1:
        raise ValueError(f"concentrations must be in one unit; found {' and '.join(sorted(units))}")
    return units.pop()
