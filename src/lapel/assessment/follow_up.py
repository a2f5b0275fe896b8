"""
What to do now: proposals in the hierarchy of controls, interim protection, and when to sample again.

Proposals are a start for a qualified person's own words, each with the reason it stands there. They never say that a
respirator makes an exposure acceptable, and they choose nothing: what is feasible and lawful is decided on the spot.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal, TypeAlias

from lapel.assessment.group import GroupJudgement
from lapel.assessment.judged_groups import GroupQuestion, GroupRow, group_questions, judged
from lapel.assessment.results import SurveyAssessment, Verdict
from lapel.reference.follow_up import Respirator, SampleAgain, respirators, sample_again
from lapel.said import said

Rung: TypeAlias = Literal["eliminate", "substitute", "engineer", "organise", "protect", "measure", "tell"]

RUNGS: tuple[Rung, ...] = ("eliminate", "substitute", "engineer", "organise", "protect", "measure", "tell")
"""The hierarchy of controls from the strongest down (29 CFR 1910.134(a)(1) and COSHH regulation 7 go this way)."""

SURE_ABOVE = 0.70
"""Probability from which a group counts as over: the confidence EN 689 asks for the opposite (5.5.3, as quoted). [-]"""

FEWEST_FOR_OVER = 6
"""Results from which a probability alone can put a group over: the size from which EN 689 tests it. Judgement."""

WORTH_PROTECTING = 0.30
"""Probability above the limit from which an open verdict proposes interim protection; the precautionary side of the
70 % EN 689 asks for. Judgement. [-]"""

CONFIRM = "A proposal: a qualified person confirms, changes or strikes it, under the law in force at the place."


@dataclass(frozen=True, slots=True)
class Proposal:
    """One thing to do, its place in the hierarchy, and why it is proposed."""

    rung: Rung
    words: str
    reason: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class FollowUp:
    """
    What follows from the judgement of a group.

    Attributes
    ----------
    outcome : str
        Over, under or cannot tell, of the group.
    proposals : tuple of Proposal
        From the strongest control down.
    again : SampleAgain or None
        The row of the table; None where it has none.
    again_on : date or None
        The last day it means; None where no periodic date is set.
    share : float
        The share of the limit it goes by: the middle estimate of the arithmetic mean, or of the 95th percentile. [-]
    protection_needed : float or None
        Factor by which the 95th percentile's upper 70 % end must be lowered to come to the limit; None below it. [-]
    respirators : tuple of Respirator
        Kinds whose assigned factor reaches that.
    """

    outcome: Verdict
    proposals: tuple[Proposal, ...]
    again: SampleAgain | None
    again_on: date | None
    share: float
    protection_needed: float | None
    respirators: tuple[Respirator, ...]


@dataclass(frozen=True, slots=True)
class JudgedGroup:
    """A group with its judgement and what follows; None where no shift can speak."""

    question: GroupQuestion
    judgement: GroupJudgement | None
    follow_up: FollowUp | None


def group_outcome(judgement: GroupJudgement) -> Verdict:
    """
    Put a group's judgement into the three words of the trade.

    “Under” where the first test was passed. “Over” where a result decided against, or where from `FEWEST_FOR_OVER`
    results on the probability that the 95th percentile is above the limit is `SURE_ABOVE` or more: as sure of the
    opposite as the test asks to be, and by the results, not by what was believed beforehand. Between them it cannot be
    told; a test that was not passed proves nothing of the opposite.
    """
    first = judgement.tests[0]
    if first.outcome == "shown":
        return "under"
    counts = len(judgement.results) >= FEWEST_FOR_OVER and not judgement.prior_decides
    return (
        "over" if first.outcome == "above" or (counts and judgement.chance_p95_above >= SURE_ABOVE) else "cannot tell"
    )


def follow_up(
    question: GroupQuestion, judgement: GroupJudgement, *, rule_book: str, sampled_on: date | None = None
) -> FollowUp:
    """
    Propose what to do after a group was judged.

    Parameters
    ----------
    question : GroupQuestion
        What was asked.
    judgement : GroupJudgement
        What was found.
    rule_book : str
        Key of the survey's rule book, for when to sample again.
    sampled_on : date, optional
        Day from which that is counted; the last day of the results, if left out.
    """
    outcome = group_outcome(judgement)
    mean = next(item for item in judgement.believed if item.name == "arithmetic mean")
    share = (judgement.p95.middle if outcome == "over" or rule_book == "us-osha" else mean.middle) / judgement.limit
    again = sample_again(rule_book, share)
    last = sampled_on or max(row.day for row in question.rows)
    needed = judgement.p95.upper70 / judgement.limit
    likely = judgement.chance_p95_above >= WORTH_PROTECTING and not judgement.prior_decides
    wanted = needed if needed > 1.0 and (outcome == "over" or (outcome == "cannot tell" and likely)) else None
    return FollowUp(
        outcome=outcome,
        proposals=tuple(_proposals(question, outcome, again, wanted)),
        again=again,
        again_on=months_after(last, again.months) if again and again.months else None,
        share=share,
        protection_needed=wanted,
        respirators=respirators(wanted) if wanted is not None and math.isfinite(wanted) else (),
    )


def judged_group(question: GroupQuestion, *, rule_book: str, earlier: Sequence[GroupRow] = ()) -> JudgedGroup:
    """
    Judge a group and propose what to do.

    Parameters
    ----------
    question : GroupQuestion
        What is asked.
    rule_book : str
        Key of the survey's rule book, for when to sample again.
    earlier : sequence of GroupRow
        Results of an earlier survey whose spread is used.
    """
    judgement = judged(question, earlier=earlier)
    after = follow_up(question, judgement, rule_book=rule_book) if judgement else None
    return JudgedGroup(question, judgement, after)


def judged_groups(
    assessment: SurveyAssessment,
    *,
    earlier: Mapping[tuple[str, str], Sequence[GroupRow]] | None = None,
    binding_only: bool = True,
    progress: Callable[[str, int, int], None] | None = None,
) -> tuple[JudgedGroup, ...]:
    """
    Judge every group of a survey against its long-term limits.

    Parameters
    ----------
    assessment : SurveyAssessment
        As assessed.
    earlier : mapping of (group, agent) to rows, optional
        Results of earlier surveys whose spread is used.
    binding_only : bool
        Whether limits shown for comparison only are left away.
    progress : callable, optional
        Told how far it is.
    """
    questions = group_questions(assessment, binding_only=binding_only)
    found = []
    for done, question in enumerate(questions):
        if progress:
            progress("judging the groups", done, len(questions))
        rows = (earlier or {}).get((question.group.code, question.agent.key), ())
        found.append(judged_group(question, rule_book=assessment.rule_book.key, earlier=rows))
    return tuple(found)


def months_after(day: date, months: int) -> date:
    """Same day so many months later; the last day of a shorter month."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    for last in range(day.day, 27, -1):
        try:
            return date(year, month + 1, last)
        except ValueError:
            continue
    return date(year, month + 1, day.day)


def _proposals(
    question: GroupQuestion, outcome: Verdict, again: SampleAgain | None, needed: float | None
) -> list[Proposal]:
    found: list[Proposal] = []
    if outcome == "over":
        found += _controls(question)
    if needed is not None:
        found.append(_protection(needed, question.limit_text))
    found += _measuring(question, outcome, again)
    found.append(
        Proposal(
            "tell",
            said("Tell every worker of the group what was found and what will be done."),
            said("it is their air"),
        )
    )
    return sorted(found, key=lambda proposal: RUNGS.index(proposal.rung))


def _controls(question: GroupQuestion) -> list[Proposal]:
    """What lowers the exposure, from the source on."""
    agent = question.agent.name
    why = said("the results show exposures to {agent} above {limit}", agent=agent, limit=question.limit_text)
    return [
        Proposal("eliminate", said("Ask whether the work can be done without {agent} at all.", agent=agent), why),
        Proposal(
            "substitute",
            said("Look for a less harmful or less volatile material in place of {agent}.", agent=agent),
            why,
        ),
        Proposal(
            "engineer",
            said("Enclose the source or catch it where it arises (local exhaust), and have the air flow measured."),
            why,
        ),
        Proposal("organise", said("Shorten or move the tasks that bring most of it; keep others away from them."), why),
    ]


def _protection(needed: float, limit: str) -> Proposal:
    """A respirator of at least the protection factor needed, the lightest kind that reaches it named."""
    kinds = respirators(needed)
    lightest = (
        said(
            "; the lightest kind that reaches it: {kind} ({factor})",
            kind=said(kinds[0].kind),
            factor=f"{kinds[0].factor:g}",
        )
        if kinds
        else ""
    )
    return Proposal(
        "protect",
        said(
            "Until exposure is lowered or shown to be low: respiratory protection with an assigned protection "
            "factor of at least {factor}{lightest}. Only within a programme with selection, fit test, "
            "medical clearance and training; not where the air can be dangerous to life or poor in oxygen.",
            factor=_whole_up(needed),
            lightest=lightest,
        ),
        said(
            "the 95th percentile may be as high as {times} times {limit} (upper end, 70 % confidence)",
            times=f"{needed:.2g}",
            limit=limit,
        ),
        kinds[0].source if kinds else "",
    )


def _measuring(question: GroupQuestion, outcome: Verdict, again: SampleAgain | None) -> list[Proposal]:
    """What is to be sampled: more for a decision, what was lost, and again after the rule book's interval."""
    found: list[Proposal] = []
    if outcome == "cannot tell":
        n = len(question.rows)
        found.append(
            Proposal(
                "measure",
                said(
                    "Sample more shifts of this group, on other days and workers, until at least {n} count.",
                    n=max(6, n + 3),
                ),
                said(
                    "{n} result says too little for a decision either way"
                    if n == 1
                    else "{n} results say too little for a decision either way",
                    n=n,
                ),
            )
        )
    if question.left_out:
        found.append(
            Proposal(
                "measure",
                said("Sample again the shifts whose samples could not be used."),
                said("they were planned and lost"),
            )
        )
    if again is not None:
        found.append(
            Proposal(
                "measure",
                said("Sample again: {when}.", when=said(again.words)),
                said("the rule book's interval"),
                again.source,
            )
        )
    return found


def _whole_up(value: float) -> str:
    return f"{math.ceil(value):d}" if math.isfinite(value) else said("more than any respirator is assigned")
