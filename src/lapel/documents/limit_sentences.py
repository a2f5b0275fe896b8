"""What was found, in one plain sentence a limit: the worst first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from lapel.assessment.inputs import Agent, LimitChoice
from lapel.assessment.results import (
    GRAVEST_FIRST,
    LimitVerdict,
    ShiftResult,
    ShortTermResult,
    SurveyAssessment,
    Verdict,
)
from lapel.documents.cells import kind_cell, significant_as_stated
from lapel.documents.compose import stated_limit_cell
from lapel.figures import first_of
from lapel.said import listed, said

MOST_NAMED = 6
"""Exposures named in a sentence; the rest is counted."""


@dataclass(frozen=True, slots=True)
class LimitSentence:
    """One limit, the worst verdict any exposure got against it, and the sentence."""

    verdict: Verdict
    limit: str
    words: str


def limit_sentences(assessment: SurveyAssessment) -> list[LimitSentence]:
    """
    One sentence a limit: for whom it is over, for whom it cannot be told, for whom under.

    Exposures nothing could be compared for have a sentence too: silence would read as “under”.
    """
    found: dict[str, list[tuple[str, Verdict]]] = {}
    shortened: dict[str, list[str]] = {}
    for who, agent, verdict in _compared(assessment):
        of_limit = listed(", ", (agent, significant_as_stated_limit(verdict)))
        found.setdefault(of_limit, []).append((who, verdict.comparison.verdict))
        if verdict.shortened_for:
            shortened.setdefault(of_limit, []).append(
                said(
                    "{limit} for {hours}",
                    limit=significant_as_stated(verdict.limit_value),
                    hours=verdict.shortened_for,
                )
            )
    for mixture in assessment.mixtures:
        name = said(
            "Added up for {effect} ({agents}), index of 1 by {authority}",
            effect=said(mixture.effect_group),
            agents=listed(", ", mixture.agents),
            authority=said(mixture.authority),
        )
        found.setdefault(name, []).append((_who(mixture.shift.worker, mixture.shift.code), mixture.comparison.verdict))
    sentences = [_sentence(limit, outcomes, shortened.get(limit, ())) for limit, outcomes in found.items()]
    sentences += [
        LimitSentence(
            "cannot tell",
            agent,
            said("{agent}: cannot tell for {who}, because {why}.", agent=agent, who=_named(who), why=why),
        )
        for (agent, why), who in _not_compared(assessment).items()
    ]
    return sorted(sentences, key=lambda sentence: GRAVEST_FIRST.index(sentence.verdict))


def bottom_line(assessment: SurveyAssessment) -> str:
    """Say what holds of the limits that bind as one text."""
    return listed(" ", bottom_lines(assessment))


def bottom_lines(assessment: SurveyAssessment) -> list[str]:
    """
    Say in a few sentences what holds of the limits that bind: what was above, what is not settled, what was below.

    What is not settled stands in one line with what was shown, so that nobody reads the one without the other.
    What was above a limit that does not bind is said too: it is there for somebody's health. A mixture counts by an
    authority that has a limit that binds here.
    """
    everything = [(agent, verdict) for _, agent, verdict in _compared(assessment)]
    compared = [(agent, verdict) for agent, verdict in everything if verdict.limit.binding]
    beyond = _limits([(a, v) for a, v in everything if not v.limit.binding and v.comparison.verdict == "over"])
    limits = [(agent, v) for agent, v in compared if v.limit.kind != "action level"]
    over = _limits([(agent, v) for agent, v in limits if v.comparison.verdict == "over"])
    warned = _limits([(a, v) for a, v in compared if v.limit.kind == "action level" and v.comparison.verdict == "over"])
    authorities = {v.limit.authority for _, v in compared}
    added_up = dict.fromkeys(
        said("{agents}, index of 1 by {authority}", agents=listed(" + ", m.agents), authority=said(m.authority))
        for m in assessment.mixtures
        if m.comparison.verdict == "over" and m.authority in authorities
    )
    is_over = {agent for agent, v in limits if v.comparison.verdict == "over"}
    is_open = dict.fromkeys(agent for agent, v in limits if v.comparison.verdict == "cannot tell")
    is_open |= dict.fromkeys(_open_against_a_limit_that_binds(assessment))
    under = dict.fromkeys(agent for agent, _ in limits if agent not in is_over and agent not in is_open)
    if over:
        begin = said("At least one exposure was above a limit that binds: {limits}.", limits=listed("; ", over))
    elif limits:
        begin = said("No exposure was shown to be above a limit that binds.")
    else:
        begin = said("No exposure was compared with a limit that binds.")
    if is_open:
        unsettled = said("Not settled for at least one limit that binds: {agents}.", agents=listed(", ", list(is_open)))
        begin = listed(" ", (begin, unsettled))
    lines: list[str] = [begin]
    if beyond:
        lines.append(said("Above a limit that does not bind here: {limits}.", limits=listed("; ", beyond)))
    if warned:
        lines.append(said("At least one was above an action level: {limits}.", limits=listed("; ", warned)))
    if added_up:
        lines.append(said("Added up, at least one was above: {sums}.", sums=listed("; ", list(added_up))))
    if under:
        lines.append(said("Below every limit that binds: {agents}.", agents=listed(", ", list(under))))
    return lines


def _limits(compared: Sequence[tuple[str, LimitVerdict]]) -> list[str]:
    return list(dict.fromkeys(listed(", ", (agent, significant_as_stated_limit(v))) for agent, v in compared))


def significant_as_stated_limit(verdict: LimitVerdict) -> str:
    """A limit with its authority and kind; shortened limits of long shifts stand under the one they come from."""
    stated = verdict.limit
    unit = {"mg/m3": "mg/m³"}.get(stated.unit, stated.unit)
    value = f"{stated.value:g} {unit}"
    if verdict.limit_value.derivation is None:
        value = significant_as_stated(verdict.limit_value)
    kind = kind_cell(stated.authority, stated.kind)
    return said("{value} ({kind})", value=value, kind=kind)


def _compared(assessment: SurveyAssessment) -> Iterable[tuple[str, str, LimitVerdict]]:
    for agent, result in _results(assessment):
        for verdict in result.verdicts:
            yield _who(result.shift.worker, result.shift.code), agent.name, verdict


def _results(assessment: SurveyAssessment) -> Iterable[tuple[Agent, ShiftResult | ShortTermResult]]:
    yield from ((result.agent, result) for result in assessment.shifts)
    yield from ((single.sample.agent, single) for single in assessment.short_terms)


def _not_compared(assessment: SurveyAssessment) -> dict[tuple[str, str], list[str]]:
    """Who could not be compared, by what with and why: an agent, or one limit of it where others were compared."""
    found: dict[tuple[str, str], list[str]] = {}
    for agent, result in _results(assessment):
        keys: list[tuple[str, str]] = [
            (listed(", ", (agent.name, stated_limit_cell(limit))), why) for limit, why in result.not_compared
        ]
        if not result.verdicts and not keys:
            keys = [(agent.name, result.note or said("no limit is stated"))]
        for key in keys:
            found.setdefault(key, []).append(_who(result.shift.worker, result.shift.code))
    return found


def _open_against_a_limit_that_binds(assessment: SurveyAssessment) -> Iterable[str]:
    """Agents with a limit that binds which some exposure was not held against: silence would read as “under”."""
    binding = {limit.agent for limit in assessment.survey.limits if _binds(limit)}
    for agent, result in _results(assessment):
        unjudged = not result.verdicts and not result.not_compared and agent.key in binding
        if unjudged or any(_binds(limit) for limit, _ in result.not_compared):
            yield agent.name


def _binds(limit: LimitChoice) -> bool:
    return limit.binding and limit.kind != "action level"


def _sentence(limit: str, outcomes: Sequence[tuple[str, Verdict]], shortened: Sequence[str] = ()) -> LimitSentence:
    parts: list[str] = []
    for verdict in GRAVEST_FIRST:
        who = [name for name, found in outcomes if found == verdict]
        if not who:
            continue
        if len(who) == len(outcomes) and len(who) > 1:
            parts.append(said(FOR_ALL[verdict], n=len(who), who=_named(who)))
        else:
            parts.append(said(FOR_SOME[verdict], who=_named(who)))
    worst = next(verdict for verdict in GRAVEST_FIRST if any(found == verdict for _, found in outcomes))
    also = said(" Shortened for long shifts to {limits}.", limits=_named(shortened)) if shortened else ""
    return LimitSentence(worst, limit, listed("", (limit, ": ", listed("; ", parts), ".", also)))


FOR_ALL: dict[Verdict, str] = {
    "over": "over for all {n} exposures: {who}",
    "cannot tell": "cannot tell for all {n} exposures: {who}",
    "under": "under for all {n} exposures: {who}",
}
FOR_SOME: dict[Verdict, str] = {
    "over": "over for {who}",
    "cannot tell": "cannot tell for {who}",
    "under": "under for {who}",
}


def _named(who: Sequence[str]) -> str:
    distinct = list(dict.fromkeys(who))
    if len(distinct) > MOST_NAMED:
        return first_of(distinct, MOST_NAMED - 1)
    if len(distinct) == 1:
        return distinct[0]
    return said("{first} and {last}", first=listed(", ", distinct[:-1]), last=distinct[-1])


def _who(worker: str, shift: str) -> str:
    return f"{worker}\u00a0({shift})"
