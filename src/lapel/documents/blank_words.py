"""What became of a blank: whether it is off a mass already, and who took it off."""

from __future__ import annotations

from lapel.assessment.choices import we_subtracted
from lapel.assessment.results import SampleResult, SurveyAssessment
from lapel.documents.cells import NOTHING, cell
from lapel.figures import first_of
from lapel.said import listed, said

MOST_NAMED = 12
"""Samplers named in a line; the rest is counted."""

MASS_WORDS = said(
    "Mass: both sections together, in the air that was sampled. A field blank above its reporting limit is off it "
    "already, and the recovery divided out, once, by the laboratory or here."
)


def blank_words(assessment: SurveyAssessment, sample: SampleResult) -> str:
    """The blank of a sample, and whether the mass shown is with or without it."""
    if sample.blank is None:
        return NOTHING if sample.mass is None else said("no field blank with a result")
    return listed(", ", (cell(sample.blank), blank_use(assessment, sample)))


def blank_use(assessment: SurveyAssessment, sample: SampleResult) -> str:
    """Whether the blank of a sample is off its mass, and by whom."""
    report = assessment.survey.reports.get(sample.result.report) if sample.result else None
    if sample.mass is None or sample.blank is None or report is None:
        return said("with no mass to take it off")
    if report.blank_corrected_by == "laboratory":
        return said("the laboratory says it has taken the blank off the mass already")
    if we_subtracted(sample):
        return said("off the mass already")
    if sample.blank.sense == "at most":
        return said("below its reporting limit, so nothing is off the mass")
    if sample.mass.sense == "at most" and sample.result is not None and not sample.result.front_below:
        return said("which leaves a mass below the reporting limit")
    return said("not off the mass, which is below its reporting limit")


def blank_lines(assessment: SurveyAssessment) -> list[str]:
    """For every blank that carried something: what was taken off, by whom, and of which samples."""
    found: dict[tuple[str, str, str, str], list[str]] = {}
    for sample in assessment.samples:
        if sample.blank is None or sample.blank.sense == "at most" or sample.run is None:
            continue
        lot = f"{sample.run.medium} {sample.run.lot}".strip()
        key = (sample.agent.name, lot, cell(sample.blank), blank_use(assessment, sample))
        found.setdefault(key, []).append(sample.sampler)
    lines: list[str] = [
        said(
            "{agent} on {lot}: blank {mass}, {use} ({samplers}).",
            agent=agent,
            lot=lot,
            mass=mass,
            use=use,
            samplers=first_of(samplers, MOST_NAMED),
        )
        for (agent, lot, mass, use), samplers in found.items()
    ]
    if any(sample.blank is not None and sample.blank.sense == "at most" for sample in assessment.samples):
        lines.append(said("Blanks below their reporting limit are not taken off; they count in the uncertainty."))
    return lines
