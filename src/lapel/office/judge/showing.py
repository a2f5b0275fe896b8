"""What the pages of groups show, as cells: rounded where cells are made, none is here."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lapel.assessment.follow_up import CONFIRM, FollowUp, JudgedGroup
from lapel.assessment.group import GroupJudgement
from lapel.assessment.results import SurveyAssessment
from lapel.documents import compose_group
from lapel.documents.assessment_record import CONFIRM_LIMITS
from lapel.documents.cells import interval_cell
from lapel.documents.group_judgement import (
    ABOUT_THE_GROUP,
    MOST_LISTED,
    POSITION_WORDS,
    density_picture,
    plot_picture,
    rows_are_plain,
)
from lapel.documents.render import Picture
from lapel.office.judge.asked import Question
from lapel.office.samples.by_need import shifts_by_need
from lapel.pictures.verdict_strip import StripRow, verdict_strip
from lapel.statistics import NoEstimate

GRAVEST = ("over", "cannot tell", "under", "no verdict", "being judged")
FEWEST_DRAWN = 3
"""Results from which a probability plot shows more than the table."""
MOST_WORKERS_DRAWN = 60
SURE = 0.95
"""Chance from which a worker's own 95th percentile is drawn as over, and its opposite as under. Judgement. [-]"""

TOO_FEW_FOR_NEXT = (
    "With fewer than 6 results the statistical test cannot be made yet, so no single next result settles it."
)

RUNG_WORDS = {
    "eliminate": "do without",
    "substitute": "replace",
    "engineer": "engineer",
    "organise": "organise",
    "protect": "protect",
    "measure": "measure",
    "tell": "tell",
}
"""The hierarchy of controls, in a word each."""


def outcome_of(found: JudgedGroup | None) -> str:
    """Return the three words of the trade, or that there is no answer yet or at all."""
    if found is None:
        return "being judged"
    return found.follow_up.outcome if found.follow_up else "no verdict"


def group_lines(questions: Sequence[Question], found: Sequence[JudgedGroup | None]) -> list[dict[str, Any]]:
    """Compose a line a question, the gravest first; limits that only compare come after those that bind."""
    lines = [_line(question, judged) for question, judged in zip(questions, found, strict=True)]
    return sorted(lines, key=_order)


def _order(line: dict[str, Any]) -> tuple[bool, int, bool, float]:
    """What binds before what compares, the gravest first; of the open ones those whose results speak, by chance."""
    return (not line["binding"], GRAVEST.index(line["outcome"]), line["prior_decides"], -line["chance_above"])


def _line(question: Question, found: JudgedGroup | None) -> dict[str, Any]:
    judgement = found.judgement if found else None
    return {
        "address": question.address,
        "group": question.of.group.name,
        "agent": question.of.agent.name,
        "limit": question.of.limit_text,
        "binding": question.of.limit.binding,
        "results": len(question.of.rows),
        "workers": len({row.worker for row in question.of.rows}),
        "left_out": len(question.of.left_out),
        "outcome": outcome_of(found),
        "chance_above": judgement.chance_p95_above if judgement else 0.0,
        "chance": compose_group.chance_cell(judgement.chance_p95_above) if judgement else "",
        "sentence": compose_group.sentence(judgement) if judgement else "",
        "prior_decides": bool(judgement and judgement.prior_decides),
    }


def judgement_cells(judgement: GroupJudgement) -> dict[str, Any]:
    """Compose everything a judgement says."""
    split = None if isinstance(judgement.split, NoEstimate) else judgement.split.remark
    trend = judgement.trend
    next_one = judgement.next_one
    return {
        "sentence": compose_group.sentence(judgement),
        "belief": compose_group.belief(judgement),
        "counts": judgement.results.in_words(),
        "notes": judgement.notes,
        "prior_decides": judgement.prior_decides,
        "prior": _sentence(judgement.prior.describe().rstrip(".")),
        "density": density_picture(judgement),
        "plot": plot_picture(judgement) if len(judgement.results) >= FEWEST_DRAWN else None,
        "positions": POSITION_WORDS[rows_are_plain(judgement)],
        "bands": compose_group.band_rows(judgement),
        "believed": compose_group.believed_rows(judgement),
        "estimates": compose_group.estimate_rows(judgement),
        "tests": [
            {
                "rule": test.rule[:1].upper() + test.rule[1:],
                "outcome": test.outcome,
                "tone": {"shown": "good", "above": "stop"}.get(test.outcome, "care"),
                "words": test.words,
                "source": test.source,
                "remarks": [remark if remark.endswith(".") else f"{remark}." for remark in test.remarks],
            }
            for test in compose_group.test_rows(judgement)
        ],
        "shape": compose_group.shape_lines(judgement)[:1],
        "apart": "" if isinstance(judgement.apart, NoEstimate) or not judgement.apart.rows else judgement.apart.remark,
        "split": split,
        "trend": _words_of(trend) if trend is not None else "No trend can be looked for: a day is missing.",
        "next_one": TOO_FEW_FOR_NEXT
        if next_one is None
        else (_sentence(next_one.reason) if isinstance(next_one, NoEstimate) else next_one.in_words()),
        "workers": compose_group.worker_rows(judgement),
        "worker_words": judgement.by_worker.words if judgement.by_worker else (),
        "worker_picture": workers_picture(judgement),
        "cautions": (ABOUT_THE_GROUP, CONFIRM_LIMITS),
    }


def _words_of(found: Any) -> str:
    return _sentence(found.reason) if isinstance(found, NoEstimate) else found.remark


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}{'' if words.endswith('.') else '.'}"


def workers_picture(judgement: GroupJudgement) -> Picture | None:
    """Draw each worker's own 95th percentile beside the limit."""
    if judgement.by_worker is None:
        return None
    rows = [
        StripRow(
            exposure=worker.code,
            limit=f"{worker.n} result" if worker.n == 1 else f"{worker.n} results",
            low=worker.middle / judgement.limit,
            high=worker.middle / judgement.limit,
            lower_limit=worker.low / judgement.limit,
            upper_limit=worker.high / judgement.limit,
            verdict="over"
            if worker.chance_above >= SURE
            else ("under" if worker.chance_above <= 1 - SURE else "cannot tell"),
            words=f"chance above the limit {compose_group.chance_cell(worker.chance_above)}",
        )
        for worker in judgement.by_worker.workers[:MOST_WORKERS_DRAWN]
    ]
    drawn = verdict_strip(rows, name="Each worker's own 95th percentile, with its 90 % interval")
    return Picture(drawn.svg(), drawn.words)


def results_of(assessment: SurveyAssessment, question: Question, *, shifts_a_page: int) -> list[dict[str, Any]]:
    """Compose each result, in the shift's own cell, with what leads down to its working: its shift and its samples."""
    pages = {line.shift: place // shifts_a_page + 1 for place, line in enumerate(shifts_by_need(assessment))}
    mine = [result for result in assessment.shifts if result.agent.key == question.of.agent.key]
    samples = {result.shift.code: [sample.sampler for sample in result.samples] for result in mine}
    averages = {
        result.shift.code: interval_cell(verdict.average.lower, verdict.average.upper)
        for result in mine
        for verdict in result.verdicts
        if verdict.limit == question.of.limit and verdict.average is not None
    }
    return [
        {
            "shift": row.shift,
            "page": pages.get(row.shift, 1),
            "worker": row.worker,
            "day": row.day.isoformat(),
            "known": averages[row.shift],
            "scaled": row.scaled,
            "samples": samples.get(row.shift, []),
        }
        for row in question.of.rows[:MOST_LISTED]
    ]


def follow_up_cells(after: FollowUp) -> dict[str, Any]:
    """Compose what follows: when to sample again, proposals from the strongest control down, what holds back."""
    return {
        "again": after.again,
        "again_on": after.again_on,
        "proposals": [
            {
                "number": number,
                "rung": RUNG_WORDS[proposal.rung],
                "words": proposal.words,
                "reason": proposal.reason,
                "source": proposal.source,
            }
            for number, proposal in enumerate(after.proposals)
        ],
        "respirators": after.respirators,
        "confirm": CONFIRM,
    }
