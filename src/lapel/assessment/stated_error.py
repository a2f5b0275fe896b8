"""The decision by a method's stated sampling and analytical error, beside the one by this result's own uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from lapel.assessment.results import OtherChoice, SampleResult
from lapel.assessment.sample import ASSUMED_ANALYSIS_CV
from lapel.assessment.verdicts import SETTLING_CAUSES
from lapel.figures import Figure, number, reading
from lapel.hygiene.decision import PUMP_CV, consecutive_samples_decision, single_sample_decision
from lapel.hygiene.shift import ShiftAverage
from lapel.said import Said, said


def by_stated_error(used: Sequence[SampleResult], limit: Figure, average: ShiftAverage) -> OtherChoice | None:
    """
    Return the verdict by the pump's 5 % and the analysis' stated error, for samples over the whole period.

    The parts are those of the average itself (a sample once, whatever stretches of it count), so that the severity
    is the share of the limit that is shown, and only the half-width is the stated error's.
    """
    if average.is_interval or average.upper.sense != "exactly":
        return None
    cvs = [_analysis_cv(result) for result in used]
    cv_total = max((PUMP_CV**2 + cv**2) ** 0.5 for cv in cvs)
    words = _words(max(cvs))
    parts = _parts(average.upper)
    if len(parts) < 2 or not average.upper.value > 0.0:
        decision = single_sample_decision(average.upper.value, limit.value, cv_total=cv_total)
    else:
        exposures, minutes = zip(*parts, strict=True)
        over_parts = sum(exposure.value * run for exposure, run in parts) / sum(minutes)
        scaled = limit.value * over_parts / average.upper.value
        if not scaled > 0.0:
            return None
        decision = consecutive_samples_decision(
            exposures, minutes, reading(scaled, limit.unit, name=limit.name), cv_total=cv_total
        )
    share = decision.severity.value
    return OtherChoice(words, decision.verdict, share, share, SETTLING_CAUSES["laboratory analysis"])


@lru_cache(maxsize=256)
def _words(analysis_cv: float) -> Said:
    return said("by sampling and analytical error (pump 5 %, analysis {analysis} %)", analysis=f"{100 * analysis_cv:g}")


def _analysis_cv(result: SampleResult) -> float:
    """Relative standard uncertainty of an analysis: as reported, else the method's, else the working default."""
    stated = result.result.relative_u if result.result is not None else None
    if stated is None:
        stated = result.method.analysis_cv
    return ASSUMED_ANALYSIS_CV if stated is None else stated


def _parts(average: Figure) -> list[tuple[Figure, float]]:
    """Samples in an average with the minutes of each that count; an average is linear in them."""
    inputs = average.derivation.inputs if average.derivation else {}
    minutes_of: dict[int, float] = {}
    figures: dict[int, Figure] = {}
    for concentration, minutes in zip(inputs.get("concentrations", ()), inputs.get("minutes", ()), strict=True):
        if isinstance(concentration, Figure):
            figures[id(concentration)] = concentration
            minutes_of[id(concentration)] = minutes_of.get(id(concentration), 0.0) + number(minutes)
    return [(figure, minutes_of[key]) for key, figure in figures.items()]
