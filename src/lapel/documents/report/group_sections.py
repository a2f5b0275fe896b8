"""Parts of a report about groups: the honest sentence, what is believed, the pictures, every test with its source."""

from __future__ import annotations

from collections.abc import Sequence

from lapel.assessment.follow_up import JudgedGroup
from lapel.assessment.group import GroupJudgement
from lapel.assessment.results import GRAVEST_FIRST, Verdict
from lapel.documents import compose_group
from lapel.documents.blocks.model import Block, Drawn, Facts, Heading, Paragraph, Table, VerdictLine
from lapel.documents.group_judgement import density_picture, plot_picture
from lapel.documents.wording import Wording
from lapel.said import ended, listed

WORD_OF = {"over": "common.over_any", "cannot tell": "common.cannot_tell", "under": "common.under_any"}
FEWEST_DRAWN = 3
"""Results from which a probability plot shows more than the table."""
DENSITY_HIGH, PLOT_HIGH = 130.0, 190.0
"""Heights of the pictures of a group, so that a page holds it with its tests. [drawing units]"""
MOST_DRAWN = 40
"""Groups that are drawn; of more, tables and sentences stand for them."""


def short_answers(groups: Sequence[JudgedGroup], words: Wording) -> list[VerdictLine]:
    """One line a sentence, with every group it holds for; the gravest first."""
    found: dict[tuple[Verdict, str], list[str]] = {}
    for group in groups:
        if group.judgement is not None and group.follow_up is not None:
            key = (group.follow_up.outcome, compose_group.sentence(group.judgement))
            found.setdefault(key, []).append(_named(group))
    lines = [
        VerdictLine(outcome, words.say(WORD_OF[outcome]), listed(": ", (listed("; ", named), sentence)))
        for (outcome, sentence), named in found.items()
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
        VerdictLine(outcome, words.say(WORD_OF[outcome]), compose_group.sentence(judgement), leads=True),
        Paragraph(compose_group.belief(judgement)),
    ]
    if judgement.prior_decides:
        blocks += [Paragraph(note, "caution") for note in judgement.notes]
    if drawn:
        blocks.append(Drawn(density_picture(judgement, tell=words.told, height=DENSITY_HIGH)))
        if len(judgement.results) >= FEWEST_DRAWN:
            blocks.append(Drawn(plot_picture(judgement, tell=words.told, height=PLOT_HIGH)))
    else:
        blocks.append(Facts(tuple((band, chance) for band, chance, _ in compose_group.band_rows(judgement))))
    head = tuple(words.say(f"report.{key}") for key in ("test", "outcome", "words", "source"))
    rows = tuple(
        (t.rule, t.outcome, listed(" ", (ended(line) for line in (t.words, *t.remarks))), t.source)
        for t in compose_group.test_rows(judgement)
    )
    blocks.append(Table(head, rows, (1.45, 0.75, 2.7, 1.6), caption=words.say("report.tests")))
    workers = compose_group.worker_rows(judgement)
    if workers and judgement.by_worker is not None:
        blocks += [Paragraph(line) for line in judgement.by_worker.words]
    return blocks


def _named(group: JudgedGroup) -> str:
    question = group.question
    return listed(", ", (question.group.name, question.agent.name, question.limit_text))
