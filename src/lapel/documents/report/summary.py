"""One page for whoever asked: the answer, group by group, and what to do first."""

from __future__ import annotations

from collections.abc import Sequence

from lapel.assessment.follow_up import JudgedGroup
from lapel.assessment.notification import first_due
from lapel.assessment.results import GRAVEST_FIRST, SurveyAssessment
from lapel.documents.blocks.model import Block, Bullets, Document, Facts, Heading, Paragraph, Table, VerdictLine
from lapel.documents.compose import headline
from lapel.documents.limit_sentences import LimitSentence, bottom_line, limit_sentences
from lapel.documents.report.facts import ReportFacts, proposed
from lapel.documents.report.field_sections import days_of
from lapel.documents.report.group_sections import WORD_OF
from lapel.documents.worded import worded_document
from lapel.documents.wording import Wording
from lapel.said import listed, said

MOST_LINES = 3
MOST_GROUPS = 7
MOST_ACTIONS = 4
LOGO_ROWS = 5
"""Rows of the table of groups that a logo takes the room of."""


def client_summary(
    assessment: SurveyAssessment, groups: Sequence[JudgedGroup], words: Wording, facts: ReportFacts
) -> Document:
    """
    Compose the summary for whoever asked.

    What does not fit is counted and left to the report; the gravest comes first, so that it is never left out.
    """
    found = limit_sentences(assessment)
    lines = found[:MOST_LINES]
    blocks: list[Block] = [Heading(words.say("client.answer")), Paragraph(bottom_line(assessment), "strong")]
    blocks += [VerdictLine(s.verdict, words.say(WORD_OF[s.verdict]), s.words) for s in lines]
    if len(found) > len(lines):
        blocks.append(Paragraph(words.say("client.more_limits", counted=_counted(found[len(lines) :])), "quiet"))
    actions = [item.action for item in facts.recommendations or proposed(groups)][:MOST_ACTIONS]
    if actions:
        blocks += [Heading(words.say("client.do")), Bullets(tuple(actions), numbered=True)]
    blocks += _days(groups, words, facts)
    judged = [group for group in groups if group.judgement is not None and group.follow_up is not None]
    if judged:
        blocks += [
            Heading(words.say("client.groups")),
            *_groups(judged, words, MOST_GROUPS - (LOGO_ROWS if facts.logo else 0)),
        ]
    blocks += [
        Heading(words.say("client.samples")),
        *(Paragraph(line) for line in headline(assessment)[:1]),
        Paragraph(words.say("client.read"), "caution"),
    ]
    survey, days = assessment.survey, days_of(assessment, words)
    return worded_document(
        words, "client", survey, blocks,
        days=days, dated=facts.dated, author=survey.prepared_by, logo=facts.logo, is_dense=True,
    )  # fmt: skip


def _days(groups: Sequence[JudgedGroup], words: Wording, facts: ReportFacts) -> list[Block]:
    """By when workers must be told, and by when it is measured again; whichever is known."""
    again = [group.follow_up.again_on for group in groups if group.follow_up and group.follow_up.again_on]
    known = (("client.tell_by", first_due(facts.clocks)), ("report.again", min(again, default=None)))
    rows = tuple((words.say(place), words.day(day)) for place, day in known if day)
    return [Facts(rows)] if rows else []


def _counted(left: Sequence[LimitSentence]) -> str:
    counts = {word: sum(1 for s in left if s.verdict == word) for word in ("over", "cannot tell", "under")}
    return listed(", ", (listed(" ", (str(n), said(word))) for word, n in counts.items() if n))


def _groups(judged: Sequence[JudgedGroup], words: Wording, most: int) -> list[Block]:
    ordered = sorted(
        judged, key=lambda group: GRAVEST_FIRST.index(group.follow_up.outcome if group.follow_up else "under")
    )
    head = tuple(words.say(f"client.{key}") for key in ("group", "limit", "results", "verdict"))
    rows = tuple(
        (
            listed(", ", (group.question.group.name, group.question.agent.name)),
            group.question.limit_text,
            str(len(group.question.rows)),
            words.say(WORD_OF[group.follow_up.outcome]),
        )
        for group in ordered[:most]
        if group.follow_up is not None
    )
    blocks: list[Block] = [Table(head, rows, (2.4, 1.8, 0.7, 1.0), frozenset({2}))]
    if len(ordered) > most:
        blocks.append(Paragraph(words.say("client.more_groups", n=str(len(ordered) - most)), "quiet"))
    return blocks
