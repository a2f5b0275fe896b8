"""Parts of a report about results: exposures against limits, samples, mixtures, findings. Cells as everywhere else."""

from __future__ import annotations

from dataclasses import replace

from lapel.assessment.results import SurveyAssessment
from lapel.documents import compose
from lapel.documents.blocks.model import Block, Drawn, Heading, Paragraph, Table
from lapel.documents.compose import VerdictRow
from lapel.documents.compose_findings import finding_rows
from lapel.documents.folding import grouped_findings
from lapel.documents.record_pictures import strip_picture
from lapel.documents.record_results import MOST_IN_PICTURE, MOST_ROWS, rows_left_out, verdict_pairs
from lapel.documents.wording import Wording
from lapel.figures import first_of
from lapel.said import listed, said

MOST_FOUND = 12
"""Samples named under one finding; the calculation record names all."""


def shift_results(assessment: SurveyAssessment, words: Wording) -> list[Block]:
    """Every exposure against every limit, a row each, and those that are not plainly under as a picture."""
    rows = compose.verdict_rows(assessment)
    shown = rows if len(rows) <= MOST_ROWS else [row for row in rows if row.verdict != "under"][:MOST_ROWS]
    head = tuple(words.say(f"report.{k}") for k in ("worker", "agent", "average", "limit", "share", "verdict"))
    blocks: list[Block] = [Heading(words.say("report.results")), *_drawn(assessment, words)]
    blocks += [
        Paragraph(words.say("report.results_lead"), "lead"),
        Table(head, tuple(_verdict_cells(row) for row in shown), (0.95, 1.45, 1.4, 2.15, 1.65, 0.8)),
    ]
    if left_out := rows_left_out(len(rows), len(shown)):
        blocks.append(Paragraph(left_out, "quiet"))
    return blocks


def _drawn(assessment: SurveyAssessment, words: Wording) -> list[Block]:
    """What is not plainly under, as a picture."""
    blocks: list[Block] = []
    pairs = [
        (replace(row, agent=listed(" ", (row.worker, row.agent))), verdict)
        for row, verdict in verdict_pairs(assessment, assessment.shifts)
        if verdict is not None and row.verdict != "under"
    ]
    drawn = pairs[:MOST_IN_PICTURE]
    picture = strip_picture(drawn, words.say("report.results"), tell=words.told)
    if picture:
        blocks.append(Drawn(picture, words.say("report.results_drawn")))
    if left_out := rows_left_out(len(pairs), len(drawn)):
        blocks.append(Paragraph(left_out, "quiet"))
    return blocks


def _verdict_cells(row: VerdictRow) -> tuple[str, ...]:
    shift = row.shift.partition(",")[0]
    return (f"{row.worker} ({shift})", row.agent, row.average, row.limit, row.share, said(row.verdict))


def sample_results(assessment: SurveyAssessment, words: Wording) -> list[Block]:
    """Every sample with its volume, mass, concentration and standing."""
    rows = compose.sample_rows(assessment)
    shown = rows[:MOST_ROWS]
    keys = ("sample", "worker", "agent", "minutes", "volume", "mass", "concentration", "standing")
    table = Table(
        tuple(words.say(f"report.{key}") for key in keys),
        tuple((r.sampler, r.worker, r.agent, r.minutes, r.volume, r.mass, r.concentration, r.standing) for r in shown),
        (0.65, 0.65, 1.35, 0.5, 0.75, 0.85, 1.65, 1.8),
        frozenset({3}),
    )
    blocks: list[Block] = [Heading(words.say("report.samples")), table]
    if left_out := rows_left_out(len(rows), len(shown)):
        blocks.append(Paragraph(left_out, "quiet"))
    return blocks


def findings(assessment: SurveyAssessment, words: Wording) -> list[Block]:
    """Findings by rule and effect, the gravest first."""
    grouped = grouped_findings(finding_rows(assessment))
    if not grouped:
        return []
    head = tuple(words.say(f"report.{key}") for key in ("finding", "effect", "for_samples", "wanted", "source"))
    rows = tuple(
        (
            group.title,
            listed("; ", (part for part in (group.effect, group.overridden) if part)),
            first_of(group.named, MOST_FOUND),
            group.wanted,
            group.source,
        )
        for group in grouped
    )
    return [
        Heading(words.say("report.findings")),
        Paragraph(words.say("report.findings_lead"), "lead"),
        Table(head, rows, (1.15, 1.15, 1.15, 1.6, 2.35)),
    ]
