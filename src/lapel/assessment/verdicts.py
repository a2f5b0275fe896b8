"""Is the verdict robust, what drives it, and which one fact would settle it?"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from functools import lru_cache, reduce

from lapel.assessment.inputs import LimitChoice
from lapel.assessment.results import OtherChoice, Verdict
from lapel.figures import Figure, display_unit, reading, significant
from lapel.hygiene.limits import Comparison, one_sided_factor, verdict_from
from lapel.said import said, worded

SETTLING_CAUSES: dict[str, str] = {
    "flow drift": said("the flow in the course of the run: a check in mid-shift, or the pump's own flow record"),
    "blank": said("the blank: more field blanks of this lot"),
    "laboratory analysis": said("the analysis: the laboratory's own uncertainty, or a repeat from the kept extract"),
    "back section below its reporting limit": said("the back section: a lower reporting limit for it"),
    "air temperature and pressure": said("the air: its temperature and pressure at the place"),
    "pump counter": said("when the pump stopped"),
}
"""What a cause in the budget would need, by the beginning of its name."""

ANOTHER_SAMPLE = said("another sample")


@lru_cache(maxsize=4096)
def limit_figure(limit: LimitChoice) -> Figure:
    """A limit as a figure that names its authority, its source and the date it was seen."""
    seen = f", as of {limit.as_of.isoformat()}" if limit.as_of else ", undated"
    return reading(
        limit.value, limit.unit, name=f"{limit.authority} {limit.kind}", source=f"{limit.source or 'no source'}{seen}"
    )


@lru_cache(maxsize=16)  # the limits of an agent are held against the same average, one after the other
def drives(figure: Figure) -> str:
    """Cause that brings most of a figure's uncertainty; empty where it has none."""
    budget = figure.budget()
    return worded(budget[0].cause) if budget else ""


def other_choice(words: str, compared: Comparison | None, settled_by: str = "") -> OtherChoice | None:
    """Note the verdict another choice gives, and which fact would make it nobody's choice any more."""
    if compared is None:
        return None
    return OtherChoice(words, compared.verdict, compared.ratio_low, compared.ratio_high, settled_by)


def is_robust(verdict: Verdict, others: Iterable[OtherChoice]) -> bool:
    """Say whether no other defensible choice gives another verdict."""
    return all(other.verdict == verdict for other in others)


def settled_by(
    compared: Comparison,
    lower: Figure,
    upper: Figure,
    limit: Figure,
    others: Iterable[OtherChoice],
    *,
    facts: Iterable[tuple[str, Callable[[], bool]]] = (),
    another: str = ANOTHER_SAMPLE,
) -> str:
    """
    Find the one fact that would settle an open or shaky verdict.

    Parameters
    ----------
    compared : Comparison
        Verdict as it stands.
    lower, upper, limit : Figure
        What was compared.
    others : iterable of OtherChoice
        Verdicts under other defensible choices.
    facts : iterable of (words, test)
        Facts outside the budget (unsampled time, a void sample), each with a test of whether knowing it would settle.
    another : str
        What is asked for where no single fact would do.

    Returns
    -------
    str
        Empty where the verdict stands and is robust. For an open verdict each candidate is tried: a cause is taken out
        of the uncertainty, an unknown is put to its ends; the first that makes the verdict definite is named, and where
        none does alone, that is said. For a definite verdict that another choice would turn, what would show which of
        the choices holds.
    """
    listed = list(others)
    shaky = [other for other in listed if other.verdict != compared.verdict]
    if compared.verdict != "cannot tell" and not shaky:
        return ""
    if compared.verdict != "cannot tell":
        asked = list(
            dict.fromkeys(other.settled_by or said("whether “{choice}” holds", choice=other.words) for other in shaky)
        )
        if len(asked) == 1:
            return asked[0]
        facts_asked = reduce(lambda first, last: said("{first}; and {last}", first=first, last=last), asked)
        return said("no one fact alone; together {facts}", facts=facts_asked)
    for words, settles in facts:
        if settles():
            return words
    for cause in dict.fromkeys(row.cause for figure in (upper, lower) for row in figure.budget()):
        if _without(cause, compared, lower, upper, limit).verdict != "cannot tell":
            return next((words for start, words in SETTLING_CAUSES.items() if cause.startswith(start)), worded(cause))
    return said("{another}; no single fact on file would", another=another)


def _without(cause: str, compared: Comparison, lower: Figure, upper: Figure, limit: Figure) -> Comparison:
    """Return the comparison as it would be if one cause were known exactly and the values stayed."""
    z = one_sided_factor(compared.confidence)
    low_u, high_u = (_uncertainty_without(cause, end) / limit.value for end in (lower, upper))
    bounded = not math.isinf(compared.ratio_high)
    return verdict_from(
        max(0.0, compared.ratio_low - z * low_u),
        compared.ratio_high + z * high_u if bounded else math.inf,
        ratio_low=compared.ratio_low,
        ratio_high=compared.ratio_high,
        confidence=compared.confidence,
    )


def _uncertainty_without(cause: str, figure: Figure) -> float:
    return math.sqrt(sum(row.uncertainty**2 for row in figure.budget() if row.cause != cause))


def to_reach(concentration: float, minutes: float, unit: str) -> str:
    """Say what the unsampled time would have had to hold for the average to reach the limit."""
    return said(
        "what was breathed in the {minutes} min without a sample; the limit is reached if they averaged "
        "{concentration} {unit}",
        minutes=f"{minutes:g}",
        concentration=significant(concentration, 2),
        unit=display_unit(unit),
    )
