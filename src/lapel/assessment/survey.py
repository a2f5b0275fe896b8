"""The whole survey: fold the log, work every sample, judge every shift, add up what acts alike."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from datetime import timedelta
from functools import partial

from lapel import __version__
from lapel.assessment.inputs import Agent, LimitChoice, Survey
from lapel.assessment.kept import KeptWork
from lapel.assessment.results import (
    MixtureResult,
    SampleResult,
    ShiftResult,
    ShortTermResult,
    SurveyAssessment,
)
from lapel.assessment.samples import Samples
from lapel.assessment.shift import SHIFT_PURPOSES, ShiftJudge
from lapel.assessment.short_term import short_term_result
from lapel.fieldlog.day import fold
from lapel.fieldlog.state import Day
from lapel.figures import joined
from lapel.hygiene.limits import compare
from lapel.hygiene.mixtures import MixtureComponent, additive_indices
from lapel.hygiene.rulebook import RuleBook
from lapel.reference import rule_book
from lapel.said import listed, said

OUTSIDE_SLACK_MIN = 15.0
"""Time a sampler may draw before and after its shift without a word: hanging and taking down. Judgement. [min]"""

MOST_NOTED = 20
"""Notes of one kind that are written out; the rest is counted."""

Progress = Callable[[str, int, int], None]
"""Called with what is being done, how much of it is done, and how much there is."""


def assess(
    survey: Survey,
    *,
    book: RuleBook | None = None,
    compared: Sequence[RuleBook] | None = None,
    progress: Progress | None = None,
    day: Day | None = None,
    kept: KeptWork | None = None,
) -> SurveyAssessment:
    """
    Assess a survey: standing of every sample, concentrations, shift averages, each limit.

    Parameters
    ----------
    survey : Survey
        As read from a folder or from records.
    book : RuleBook, optional
        Rules that decide; the survey's own if left out.
    compared : sequence of RuleBook, optional
        Rules shown beside them; the survey's own choice if left out.
    progress : callable, optional
        Told how far the work is.
    day : Day, optional
        What the survey's log amounts to, where that is known already.
    kept : KeptWork, optional
        What was worked for an earlier state of the same survey. What rests on the same records is taken over, and all
        of it is left there for the next state. The assessment is the one that would be worked from nothing.

    Returns
    -------
    SurveyAssessment

    Raises
    ------
    KeyError
        The survey names a rule book that is not packaged.
    """
    tell = progress or (lambda what, done, total: None)
    book = book or rule_book(survey.rule_book)
    compared = [rule_book(key) for key in survey.compared_rule_books] if compared is None else list(compared)
    tell("reading the log", 0, len(survey.entries))
    day = fold(survey.entries) if day is None else day
    samples = kept.samples_of(survey, day, book, compared) if kept else Samples(survey, day, book, compared)
    results: list[SampleResult] = []
    for done, order in enumerate(survey.orders.values()):
        if done % 200 == 0:
            tell("working the samples", done, len(survey.orders))
        results += samples.results_of(order)
    samples.forget_earlier()
    shifts, short_terms = _judged(survey, samples, book, results, tell, kept or KeptWork())
    return SurveyAssessment(
        survey=survey,
        day=day,
        rule_book=book,
        compared=tuple(compared),
        samples=tuple(results),
        shifts=tuple(shifts),
        short_terms=tuple(short_terms),
        mixtures=tuple(_mixtures(shifts, kept or KeptWork())),
        blanks=tuple(samples.blanks()),
        notes=_notes(survey, day, results),
        kernel_version=__version__,
    )


def _judged(
    survey: Survey,
    samples: Samples,
    book: RuleBook,
    results: Sequence[SampleResult],
    tell: Progress,
    kept: KeptWork,
) -> tuple[list[ShiftResult], list[ShortTermResult]]:
    judge = ShiftJudge(samples, book)
    by_agent: dict[str, list[LimitChoice]] = defaultdict(list)
    for limit in survey.limits:
        by_agent[limit.agent].append(limit)
    by_shift: dict[tuple[str, str], list[SampleResult]] = defaultdict(list)
    short_terms = []
    for result in results:
        if result.order.purpose in SHIFT_PURPOSES:
            by_shift[result.order.shift, result.agent.key].append(result)
        elif result.order.purpose in ("short term", "ceiling"):
            limits = [limit for limit in by_agent[result.agent.key] if limit.kind in ("STEL", "ceiling")]
            shift = survey.shifts[result.order.shift]
            short_terms.append(
                kept.short_terms.of(
                    (result.sampler, result.agent.key),
                    (shift, result, *limits),
                    partial(short_term_result, samples, book, shift, result, limits),
                )
            )
    kept.short_terms.forget_others()
    shifts = []
    for done, ((code, agent), members) in enumerate(by_shift.items()):
        if done % 200 == 0:
            tell("judging the shifts", done, len(by_shift))
        limits = [limit for limit in by_agent[agent] if limit.kind in ("TWA", "action level")]
        shift = survey.shifts[code]
        judged = partial(judge.shift_result, shift, members, limits)
        shifts.append(kept.shifts.of((code, agent), (shift, *members, *limits), judged))
    kept.shifts.forget_others()
    return shifts, short_terms


def _mixtures(shifts: Sequence[ShiftResult], kept: KeptWork) -> list[MixtureResult]:
    """Additive indices of each shift, by the long-term limits of one authority at a time."""
    by_shift: dict[str, list[ShiftResult]] = defaultdict(list)
    for result in shifts:
        if result.agent.effect_groups:
            by_shift[result.shift.code].append(result)
    found: list[MixtureResult] = []
    for code, members in by_shift.items():
        if len(members) >= 2:
            found += kept.mixtures.of(code, tuple(members), partial(_mixtures_of, members))
    kept.mixtures.forget_others()
    return found


def _mixtures_of(members: Sequence[ShiftResult]) -> list[MixtureResult]:
    authorities = dict.fromkeys(v.limit.authority for m in members for v in m.verdicts if v.limit.kind == "TWA")
    return [one for authority in authorities for one in _mixtures_by(authority, members)]


def _mixtures_by(authority: str, members: Sequence[ShiftResult]) -> list[MixtureResult]:
    """
    Add up what acts alike on one shift.

    An agent of the group without a usable result leaves the sum a least value: nothing shows that it added nothing. One
    for which the authority states no limit has no share of a limit to add, and is named.
    """
    names = _distinct_names([member.agent for member in members])
    components: list[MixtureComponent] = []
    no_result: list[Agent] = []
    no_limit: list[Agent] = []
    for member in members:
        verdict = next((v for v in member.verdicts if v.limit.authority == authority and v.limit.kind == "TWA"), None)
        if verdict is not None and verdict.average is not None:
            average = verdict.average
            components.append(
                MixtureComponent(
                    member.agent.key, average.lower, average.upper, verdict.limit_value, member.agent.effect_groups
                )
            )
        else:
            (no_limit if member.samples else no_result).append(member.agent)
    found = []
    for index in additive_indices(components).indices:
        missing = tuple(agent.name for agent in no_result if index.effect_group in agent.effect_groups)
        upper = index.upper.bounding(joined(index.upper.sense, "at least")) if missing else index.upper
        lower = upper if missing and index.lower is index.upper else index.lower
        found.append(
            MixtureResult(
                members[0].shift,
                authority,
                index.effect_group,
                tuple(names[key] for key in index.agents),
                {names[key]: share for key, share in index.shares.items()},
                lower,
                upper,
                compare(lower, upper, 1.0),
                missing,
                tuple(agent.name for agent in no_limit if index.effect_group in agent.effect_groups),
            )
        )
    return found


def _distinct_names(agents: Sequence[Agent]) -> dict[str, str]:
    """Name of each agent by its key; two of one name are told apart by their keys."""
    count = Counter(agent.name for agent in agents)
    return {
        agent.key: agent.name if count[agent.name] == 1 else listed("", (agent.name, f" ({agent.key})"))
        for agent in agents
    }


def _outside_their_shift(survey: Survey, day: Day) -> list[str]:
    """Samplers that drew outside the shift they are for: the wrong shift, a wrong time, or overtime."""
    notes: list[str] = []
    for order in survey.orders.values():
        run, shift = day.runs.get(order.sampler), survey.shifts[order.shift]
        spans = [(s.start, s.stop) for s in run.segments if s.stop is not None and s.stop > s.start] if run else []
        drawn = sum((stop - start) / timedelta(minutes=1) for start, stop in spans)
        inside = sum(
            max(0.0, (min(stop, shift.end) - max(start, shift.start)) / timedelta(minutes=1)) for start, stop in spans
        )
        if not spans or drawn - inside <= OUTSIDE_SLACK_MIN:
            continue
        what = (
            said("none of it is counted for that shift")
            if inside == 0.0
            else said(
                "{outside} of its {drawn} min; all of it is counted as time worked",
                outside=f"{drawn - inside:.0f}",
                drawn=f"{drawn:.0f}",
            )
        )
        notes.append(
            said(
                "Sampler {sampler} drew outside shift {shift}: {what}. Check shift and times.",
                sampler=order.sampler,
                shift=shift.code,
                what=what,
            )
        )
    if len(notes) > MOST_NOTED:
        notes[MOST_NOTED:] = [said("{n} more samplers drew outside their shift.", n=len(notes) - MOST_NOTED)]
    return notes


def _notes(survey: Survey, day: Day, results: Sequence[SampleResult]) -> tuple[str, ...]:
    """What concerns the survey as a whole."""
    notes = _outside_their_shift(survey, day)
    unknown = {result.sampler for result in survey.results} - set(survey.orders) - set(day.blanks)
    agents = {result.agent.key for result in results}
    for agent in sorted(agents):
        if not any(limit.agent == agent for limit in survey.limits):
            name = survey.agents[agent].name
            notes.append(said("No limit is stated for {agent}: nothing is judged for it.", agent=name))
    if unknown:
        notes.append(
            said(
                "The laboratory reports on {n} samplers that are neither ordered samples nor recorded blanks: {named}.",
                n=len(unknown),
                named=", ".join(sorted(unknown)[:8]),
            )
        )
    return tuple(notes)
