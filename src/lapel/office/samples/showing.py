"""What the pages of samples show, as cells: every number was rounded where cells are made, none is here."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from lapel.assessment.results import LimitVerdict, SampleResult, SurveyAssessment
from lapel.documents import compose
from lapel.documents.blank_words import blank_words
from lapel.documents.cells import cell, cell_with_spread
from lapel.documents.compose_findings import EFFECT_WORDS
from lapel.documents.record_field import flow_table
from lapel.documents.record_results import (
    mixture_table,
    shift_sections,
    short_term_pairs,
    short_term_picture,
    short_term_table,
    verdict_pairs,
)
from lapel.documents.record_workings import budget_picture, step_cells
from lapel.documents.render import Picture
from lapel.figures import working
from lapel.hygiene.findings import Finding, Standing
from lapel.hygiene.rulebook import CERTAINTY_WORDS

FIRST = ("void", "qualified", "sound")
_STEP = re.compile(r"step (\d+)")


@dataclass(frozen=True, slots=True)
class TermCells:
    """One input of a step: letter, value, where it stands, and what that leads to: a step or an entry of the log."""

    label: str
    text: str
    origin: str
    step: str = ""
    entry: str = ""


@dataclass(frozen=True, slots=True)
class AgentCells:
    """One agent on a sampler: its numbers as cells, its findings, its working."""

    key: str
    name: str
    cells: tuple[tuple[str, str], ...]
    standing: str
    findings: tuple[dict[str, Any], ...]
    idle: tuple[str, ...]
    steps: tuple[dict[str, Any], ...]
    budget: Picture | None
    assumptions: tuple[str, ...]
    others: tuple[dict[str, Any], ...]
    others_agree: bool


def chosen_samples(
    assessment: SurveyAssessment, *, find: str = "", agent: str = "", standing: str = ""
) -> list[SampleResult]:
    """Return the samples asked for, those that need a look first."""
    wanted = find.strip().casefold()
    found = [
        sample
        for sample in assessment.samples
        if (not agent or sample.agent.key == agent)
        and (not standing or sample.standing.level == standing)
        and (not wanted or any(wanted in text.casefold() for text in _found_by(assessment, sample)))
    ]
    return sorted(found, key=lambda sample: FIRST.index(sample.standing.level))


def _found_by(assessment: SurveyAssessment, sample: SampleResult) -> Iterable[str]:
    yield sample.sampler
    yield assessment.survey.shifts[sample.order.shift].worker
    if sample.run is not None:
        yield f"{sample.run.train} {sample.run.port}"


def rows_of(assessment: SurveyAssessment, samples: Sequence[SampleResult]) -> list[compose.SampleRow]:
    """Compose some samples of an assessment."""
    return compose.sample_rows(replace(assessment, samples=tuple(samples)))


def flow_rows(assessment: SurveyAssessment, samples: Sequence[SampleResult]) -> dict[str, Any]:
    """Segments of one sampler, with the readings around them as typed; without the sampler's own column."""
    table = flow_table(replace(assessment, samples=tuple(samples)))
    head = table["head"][1:]
    return {"head": head, "rows": [list(zip(head, row[1:], strict=True)) for row in table["rows"]]}


def agent_cells(assessment: SurveyAssessment, sample: SampleResult, entries: Collection[str]) -> AgentCells:
    """
    One agent on a sampler.

    Parameters
    ----------
    entries : collection of str
        Ids of entries that steps may lead to.
    """
    last = sample.ppm or sample.concentration or sample.mass or sample.volume
    others = tuple(_standing_cells(book.title, sample.standings[book.key]) for book in assessment.compared)
    cells = (
        ("Concentration", cell_with_spread(sample.concentration)),
        ("As a mole ratio", cell_with_spread(sample.ppm)),
        ("Mass", cell(sample.mass)),
        ("Blank", blank_words(assessment, sample)),
        ("Volume", cell(sample.volume)),
        ("Method", sample.method.code),
    )
    return AgentCells(
        key=sample.agent.key,
        name=sample.agent.name,
        cells=cells,
        standing=compose.standing_words(sample.standing),
        findings=tuple(_finding_cells(finding) for finding in sample.standing.findings),
        idle=sample.standing.idle_overrides,
        steps=tuple(_steps(sample, last, entries)) if last is not None else (),
        budget=budget_picture(sample.agent.name, last) if last is not None else None,
        assumptions=sample.assumptions,
        others=others,
        others_agree=all(other["standing"] == compose.standing_words(sample.standing) for other in others),
    )


def entries_behind(sample: SampleResult) -> set[str]:
    """Ids of the entries a sample's working may name: its own, and the readings around its segments."""
    if sample.run is None:
        return set()
    ids = set(sample.run.entry_ids)
    for segment in sample.run.segments:
        for flow_round in (segment.before, segment.after):
            if flow_round is not None:
                ids.update(read.entry_id for read in flow_round.readings)
    return ids


def shift_pages(assessment: SurveyAssessment, codes: Collection[str]) -> list[dict[str, Any]]:
    """Sections of some shifts: facts, picture, and every exposure against every limit with its reasons."""
    chosen = tuple(result for result in assessment.shifts if result.shift.code in codes)
    sections = shift_sections(replace(assessment, shifts=chosen))
    for section in sections:
        mine = [result for result in chosen if result.shift.code == section["shift"]]
        _with_choices(section["rows"], verdict_pairs(assessment, mine))
    return sections


def short_terms(assessment: SurveyAssessment) -> dict[str, Any]:
    """Short-term samples and ceilings, with their picture where they are few enough for one."""
    rows = short_term_table(assessment)
    _with_choices(rows, short_term_pairs(assessment))
    return {"rows": rows, "picture": short_term_picture(assessment)}


def _with_choices(rows: list[dict[str, Any]], pairs: Sequence[tuple[compose.VerdictRow, LimitVerdict | None]]) -> None:
    """Add to each row its verdict under every other defensible choice, those that turn it first."""
    for row, (_, verdict) in zip(rows, pairs, strict=True):
        others = verdict.others if verdict is not None else ()
        choices = [(other.words, other.verdict, compose.other_share_cell(other)) for other in others]
        row["choices"] = sorted(choices, key=lambda choice: choice[1] == row["verdict"])


def mixtures(assessment: SurveyAssessment) -> list[dict[str, Any]]:
    """Additive indices."""
    return mixture_table(assessment)


def _finding_cells(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "title": finding.title,
        "found": finding.found,
        "wanted": finding.wanted,
        "effect": EFFECT_WORDS[finding.effect],
        "tone": {"void": "stop", "remark": "plain"}.get(finding.effect, "care"),
        "words": finding.words,
        "remedy": finding.remedy,
        "source": finding.source,
        "certainty": CERTAINTY_WORDS[finding.certainty],
        "clause_unread": finding.clause_unread,
        "counts": finding.counts,
        "overridden_by": finding.overridden_by,
        "override_reason": finding.override_reason,
    }


def _standing_cells(title: str, standing: Standing) -> dict[str, Any]:
    because = [finding.title for finding in standing.findings if finding.counts and finding.effect != "remark"]
    return {"book": title, "standing": compose.standing_words(standing), "because": "; ".join(because)}


def _steps(sample: SampleResult, last: Any, entries: Collection[str]) -> Iterable[dict[str, Any]]:
    for step in working(last).steps:
        cells = step_cells(step)
        yield {**cells, "terms": [_term(label, text, origin, entries) for label, text, origin in cells["terms"]]}


def _term(label: str, text: str, origin: str, entries: Collection[str]) -> TermCells:
    if found := _STEP.fullmatch(origin):
        return TermCells(label, text, origin, step=found[1])
    _, _, named = origin.partition("entry ")
    entry = named.partition(", read on")[0]
    return TermCells(label, text, origin, entry=entry if entry in entries else "")


def verdicts_of(assessment: SurveyAssessment, sampler: str) -> Mapping[str, list[str]]:
    """Codes of the shifts whose averages rest on a sampler, by agent."""
    found: dict[str, list[str]] = {}
    for result in assessment.shifts:
        if any(sample.sampler == sampler for sample in result.samples):
            found.setdefault(result.agent.key, []).append(result.shift.code)
    return found
