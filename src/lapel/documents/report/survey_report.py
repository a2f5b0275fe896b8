"""The survey report: the answer first, then everything a reader needs to believe it or to find its weak places."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from lapel.assessment.follow_up import JudgedGroup
from lapel.assessment.results import SurveyAssessment
from lapel.documents.assessment_record import cautions
from lapel.documents.blocks.model import (
    Block,
    Bullets,
    Document,
    Facts,
    Heading,
    NewPage,
    Paragraph,
    SignatureLines,
    Table,
    VerdictLine,
)
from lapel.documents.compose import headline
from lapel.documents.limit_sentences import bottom_line, limit_sentences
from lapel.documents.record_field import assumption_rows
from lapel.documents.report import field_sections, group_sections, result_sections
from lapel.documents.report.facts import Recommendation, ReportFacts, proposed
from lapel.documents.report.group_sections import WORD_OF
from lapel.documents.worded import worded_document
from lapel.documents.wording import Wording
from lapel.said import listed, said


def survey_report(
    assessment: SurveyAssessment,
    groups: Sequence[JudgedGroup],
    words: Wording,
    facts: ReportFacts,
    *,
    progress: Callable[[str, int, int], None] | None = None,
) -> Document:
    """
    Compose the report of a survey.

    Parameters
    ----------
    assessment : SurveyAssessment
        As assessed.
    groups : sequence of JudgedGroup
        From `judged_groups`.
    words : Wording
        Headings and leads in the reader's language; what the rules and tests say stays in theirs.
    facts : ReportFacts
        What the assessment does not know.
    progress : callable, optional
        Told how far it is.
    """
    tell = progress or (lambda what, done, total: None)
    survey = assessment.survey
    tell("composing the report", 0, 3)
    blocks: list[Block] = [
        *_answer(assessment, groups, words),
        *_asked(assessment, words, facts),
        *field_sections.people(assessment, words),
        *field_sections.limits(assessment, words),
        *field_sections.methods(assessment, words),
    ]
    tell("composing the report", 1, 3)
    blocks += result_sections.shift_results(assessment, words)
    blocks += result_sections.sample_results(assessment, words)
    blocks += result_sections.findings(assessment, words)
    tell("composing the report", 2, 3)
    blocks += group_sections.group_results(groups, words)
    blocks += _weak(assessment, words, facts)
    blocks += _next(facts.recommendations or proposed(groups), groups, words)
    blocks += _telling(facts, words)
    blocks += [
        Heading(words.say("report.signed")),
        SignatureLines((words.say("report.author"), words.say("report.reviewer"))),
        NewPage(),
        *field_sections.appendix(assessment, words),
    ]
    days = field_sections.days_of(assessment, words)
    return worded_document(
        words, "report", survey, blocks, days=days, dated=facts.dated, author=survey.prepared_by, logo=facts.logo
    )


def _answer(assessment: SurveyAssessment, groups: Sequence[JudgedGroup], words: Wording) -> list[Block]:
    blocks: list[Block] = [
        Heading(words.say("report.answer")),
        Paragraph(bottom_line(assessment), "strong"),
        Paragraph(words.say("report.answer_lead"), "lead"),
    ]
    blocks += [
        VerdictLine(found.verdict, words.say(WORD_OF[found.verdict]), found.words)
        for found in limit_sentences(assessment)
    ]
    if groups:
        blocks += [Heading(words.say("report.groups_short"), 2), *group_sections.short_answers(groups, words)]
    return [*blocks, *(Paragraph(line) for line in headline(assessment))]


def _asked(assessment: SurveyAssessment, words: Wording, facts: ReportFacts) -> list[Block]:
    survey, book = assessment.survey, assessment.rule_book
    rows = (
        ("purpose", survey.purpose),
        ("prepared", survey.prepared_by),
        ("place", survey.site.name),
        ("area", survey.site.area_class),
        ("sampled", field_sections.days_of(assessment, words)),
        ("assessed", words.day(survey.assessed_on)),
        ("rules", listed(", ", (said(book.title), book.edition))),
    )
    blocks: list[Block] = [
        Heading(words.say("report.about")),
        Facts(tuple((words.say(f"report.{key}"), text) for key, text in rows if text)),
    ]
    for part in ("process", "controls", "strategy"):
        text = facts.texts.get(part, "").strip()
        blocks.append(Heading(words.say(f"report.{part}"), 2))
        blocks += [Paragraph(line) for line in text.splitlines() if line.strip()] or [
            Paragraph(words.say("report.not_written"), "quiet")
        ]
    remarks = [text for key, text in survey.notes.items() if not key.startswith("not analysed")]
    if remarks:
        blocks += [Heading(words.say("report.remarks"), 2), Bullets(tuple(remarks))]
    return blocks


def _weak(assessment: SurveyAssessment, words: Wording, facts: ReportFacts) -> list[Block]:
    blocks: list[Block] = [Heading(words.say("report.weak"))]
    blocks += [Paragraph(line) for line in facts.texts.get("weak", "").splitlines() if line.strip()]
    blocks += [Paragraph(line, "caution") for line in cautions(assessment)]
    rows = assumption_rows(assessment)
    if rows:
        head = (words.say("report.assumed"), words.say("report.for_samples"))
        blocks.append(Table(head, tuple((a, b) for a, b in rows), (2.2, 1.0), caption=words.say("report.assumptions")))
    return blocks


def _next(recommended: Sequence[Recommendation], groups: Sequence[JudgedGroup], words: Wording) -> list[Block]:
    head = tuple(words.say(f"report.{key}") for key in ("rung", "action", "owner", "by", "reason"))
    rows = tuple(
        (
            words.say(f"report.{item.rung}"),
            listed("", (item.action, f" ({words.say('report.proposal')})")) if item.is_proposal else item.action,
            item.owner or words.say("common.to_be_filled"),
            words.day(item.by) if item.by else words.say("common.to_be_filled"),
            item.reason,
        )
        for item in recommended
    )
    blocks: list[Block] = [Heading(words.say("report.next")), Paragraph(words.say("report.next_lead"), "lead")]
    if rows:
        blocks.append(Table(head, rows, (0.85, 2.2, 0.9, 0.95, 2.35)))
    dates = [group.follow_up.again_on for group in groups if group.follow_up and group.follow_up.again_on]
    if dates:
        blocks.append(Paragraph(f"{words.say('report.again')}: {words.day(min(dates))}", "strong"))
    return blocks


def _telling(facts: ReportFacts, words: Wording) -> list[Block]:
    blocks: list[Block] = [Heading(words.say("report.clocks"))]
    if not facts.clocks:
        return [*blocks, Paragraph(words.say("report.no_clock"))]
    head = tuple(words.say(f"report.{key}") for key in ("standard", "substance", "due", "counted"))
    rows = tuple(
        (
            listed("", (clock.rule.standard, " (", said(clock.rule.industry), ")")),
            said(clock.rule.substance),
            words.day(clock.due_on) if clock.due_on else words.say("common.nothing"),
            clock.words,
        )
        for clock in facts.clocks
    )
    return [*blocks, Table(head, rows, (1.6, 1.0, 1.0, 2.2))]
