"""Parts of a report about groups: the honest sentence, what is believed, the pictures, every test with its source."""

from __future__ import annotations

from collections.abc import Sequence

from lapel.assessment.follow_up import JudgedGroup
from lapel.assessment.group import GroupJudgement
from lapel.assessment.results import GRAVEST_FIRST
from lapel.documents import compose_group
from lapel.documents.blocks.model import Block, Drawn, Facts, Heading, Paragraph, Table, VerdictLine
from lapel.documents.group_judgement import density_picture, plot_picture
from lapel.documents.wording import Wording
from lapel.said import ended, listed

WORD_OF = {"over": "common.over_any", "cannot tell": "common.cannot_tell", "under": "common.under_any"}
FEWEST_DRAWN = 3
"""Results from which a probability plot shows more than the table."""
MOST_DRAWN = 40
"""Groups that are drawn; of more, tables and sentences stand for them."""


def short_answers(groups: Sequence[JudgedGroup], words: Wording) -> list[VerdictLine]:
    """One line a group, the gravest first."""
    lines = [
        VerdictLine(
            group.follow_up.outcome,
            words.say(WORD_OF[group.follow_up.outcome]),
            listed(": ", (_named(group), compose_group.sentence(group.judgement))),
        )
        for group in groups
        if group.judgement is not None and group.follow_up is not None
    ]
    return sorted(lines, key=lambda line: GRAVEST_FIRST.index(line.verdict))


def group_results(groups: Sequence[JudgedGroup], words: Wording) -> list[Block]:
    """Every group against every limit that binds."""
    if not groups:
        return []
    blocks: list[Block] = [Heading(words.say("report.groups")), Paragraph(words.say("report.groups_lead"), "lead")]
    drawn = len(groups) <= MOST_DRAWN
    for group in groups:
        blocks.append(Heading(_named(group), 2))
        blocks += [Paragraph(note, "quiet") for note in group.question.notes]
        if group.judgement is not None and group.follow_up is not None:
            blocks += _judged(group.judgement, group, words, drawn=drawn)
    return blocks


def _judged(judgement: GroupJudgement, group: JudgedGroup, words: Wording, *, drawn: bool) -> list[Block]:
    assert group.follow_up is not None
    outcome = group.follow_up.outcome
    blocks: list[Block] = [
        VerdictLine(outcome, words.say(WORD_OF[outcome]), compose_group.sentence(judgement)),
        Paragraph(compose_group.belief(judgement)),
    ]
    if judgement.prior_decides:
        blocks += [Paragraph(note, "caution") for note in judgement.notes]
    if drawn:
        blocks.append(Drawn(density_picture(judgement, tell=words.told)))
        if len(judgement.results) >= FEWEST_DRAWN:
            blocks.append(Drawn(plot_picture(judgement, tell=words.told)))
    else:
        blocks.append(Facts(tuple((band, chance) for band, chance, _ in compose_group.band_rows(judgement))))
    head = tuple(words.say(f"report.{key}") for key in ("test", "outcome", "words", "source"))
    rows = tuple(
        (t.rule, t.outcome, listed(" ", (ended(line) for line in (t.words, *t.remarks))), t.source)
        for t in compose_group.test_rows(judgement)
    )
    blocks.append(Table(head, rows, (1.5, 0.8, 3.0, 1.2), caption=words.say("report.tests")))
    workers = compose_group.worker_rows(judgement)
    if workers and judgement.by_worker is not None:
        blocks += [Paragraph(line) for line in judgement.by_worker.words]
    return blocks


def _named(group: JudgedGroup) -> str:
    question = group.question
    return listed(", ", (question.group.name, question.agent.name, question.limit_text))
