"""From the findings of an assessment to cells: each once, with the samplers that share it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from lapel.assessment.results import SurveyAssessment
from lapel.figures import first_of
from lapel.hygiene.findings import Finding
from lapel.hygiene.measures.measure import AS_STATED
from lapel.said import listed, said

MOST_NAMED = 6
"""Samplers named with a finding; the rest is counted."""

EFFECT_WORDS = {
    "remark": "remark",
    "qualified": "estimate",
    "at least": "at least",
    "at most": "at most",
    "partial": "part of the period",
    "void": "void",
}


@dataclass(frozen=True, slots=True)
class FindingRow:
    """One finding, as cells; samplers that share it are named together."""

    samplers: str
    title: str
    found: str
    wanted: str
    effect: str
    remedy: str
    source: str
    overridden: str
    named: tuple[str, ...] = ()
    clause_unread: bool = False


def finding_rows(assessment: SurveyAssessment) -> list[FindingRow]:
    """Every finding once, the gravest first, with its samplers, and the agents where it is not about all of them."""
    agents = Counter(sample.sampler for sample in assessment.samples)
    found: dict[Finding, dict[str, list[str]]] = {}
    for sample in assessment.samples:
        for finding in sample.standing.findings:
            found.setdefault(finding, {}).setdefault(sample.sampler, []).append(sample.agent.name)
    grouped = {
        finding: [
            sampler if len(names) == agents[sampler] else listed("", (sampler, " (", listed(", ", names), ")"))
            for sampler, names in by_sampler.items()
        ]
        for finding, by_sampler in found.items()
    }
    gravity = ["void", "at least", "at most", "partial", "qualified", "remark"]
    ordered = sorted(grouped.items(), key=lambda item: (not item[0].counts, gravity.index(item[0].effect)))
    return [_finding_row(finding, names) for finding, names in ordered]


def idle_override_lines(assessment: SurveyAssessment) -> list[str]:
    """A sentence for every override that lifted nothing, so that none lies in wait unseen."""
    idle: dict[str, list[str]] = {}
    for override in assessment.survey.overrides:
        mine = [sample for sample in assessment.samples if sample.sampler == override.sampler]
        if all(override.rule in sample.standing.idle_overrides for sample in mine):
            idle.setdefault(override.rule, []).append(
                said("{sampler} (by {person})", sampler=override.sampler, person=override.person)
            )
    return [
        said(
            "The override of “{rule}” on {samplers} lifted nothing: the rule found nothing there.",
            rule=rule,
            samplers=listed(", ", names),
        )
        for rule, names in idle.items()
    ]


def _finding_row(finding: Finding, samplers: list[str]) -> FindingRow:
    overridden = (
        said("overridden by {person}: {reason}", person=finding.overridden_by, reason=finding.override_reason)
        if not finding.counts
        else ""
    )
    certain = said("{source} ({certainty})", source=finding.source, certainty=said(finding.certainty))
    return FindingRow(
        samplers=first_of(samplers, MOST_NAMED),
        named=tuple(samplers),
        title=said(finding.title),
        found=finding.found,
        wanted=finding.wanted,
        effect=said(EFFECT_WORDS[finding.effect]),
        remedy=said(finding.remedy),
        source=finding.source if finding.source.endswith(AS_STATED) else certain,
        overridden=overridden,
        clause_unread=finding.clause_unread,
    )
