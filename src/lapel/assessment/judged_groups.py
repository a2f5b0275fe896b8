"""
From shift averages to a group: which results speak for it against which limit, and what they say.

Every average goes in as what it is: a value, a value below a bound, or an interval where time was not sampled. Its
measurement uncertainty goes with it, so that a poorly measured group is not judged as if it were well measured.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from lapel.assessment.group import GroupJudgement, judge_group
from lapel.assessment.inputs import Agent, Group, LimitChoice
from lapel.assessment.results import LimitVerdict, ShiftResult, SurveyAssessment
from lapel.figures import display_unit
from lapel.said import Said, listed, said
from lapel.statistics.observed import observed
from lapel.statistics.posterior import posterior
from lapel.statistics.priors import PUBLISHED_SPREAD, Prior, SpreadPrior

SMALLEST_CV = 0.01
"""Uncertainty below which a result counts as exact: it changes nothing in a spread between shifts. [-]"""

FEWEST_FOR_PRIOR = 6
"""Results of an earlier survey from which a spread is learnt; of fewer the published prior says more. Judgement."""


@dataclass(frozen=True, slots=True)
class GroupRow:
    """
    One shift of one worker as a group sees it.

    Attributes
    ----------
    lower, upper : float
        Ends of the average, as against the limit as stated: where a long shift had a limit of its own, both were
        scaled so that their share of it stays. [unit of the limit]
    error_cv : float
        Measurement uncertainty as a coefficient of variation. [-]
    scaled : bool
        Whether the shift had a limit of its own.
    """

    shift: str
    worker: str
    day: date
    lower: float
    upper: float
    error_cv: float
    scaled: bool = False


@dataclass(frozen=True, slots=True)
class GroupQuestion:
    """
    A group, an agent and a limit, with all that can answer.

    Attributes
    ----------
    left_out : tuple of (shift, worker, why)
        Shifts that were sampled and cannot speak.
    """

    group: Group
    agent: Agent
    limit: LimitChoice
    rows: tuple[GroupRow, ...]
    left_out: tuple[tuple[str, str, str], ...]

    @property
    def key(self) -> str:
        """Name of the question in addresses and files."""
        return f"{self.group.code}-{self.agent.key}-{self.limit.authority}-{self.limit.kind}".replace(" ", "-")

    @property
    def limit_text(self) -> Said:
        """The limit with its authority, as stated."""
        return said(
            "{value} {unit} ({authority} {kind})",
            value=f"{self.limit.value:g}",
            unit=display_unit(self.limit.unit),
            authority=said(self.limit.authority),
            kind=said(self.limit.kind),
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """What the reader must know of the results before what they say."""
        notes: list[str] = []
        scaled = [row.shift for row in self.rows if row.scaled]
        if scaled:
            notes.append(
                said(
                    "The shifts {shifts} had a limit of their own for their length; they count by their share of it.",
                    shifts=", ".join(scaled),
                )
            )
        if self.left_out:
            named = listed(", ", (said("{shift} ({why})", shift=shift, why=why) for shift, _, why in self.left_out))
            notes.append(said("Sampled and not counted: {named}.", named=named))
        repeated = len(self.rows) - len({row.worker for row in self.rows})
        if repeated and len({row.worker for row in self.rows}) == 1:
            notes.append(said("All results are one worker's: they speak for that worker, not for the group."))
        return tuple(notes)


def group_questions(assessment: SurveyAssessment, *, binding_only: bool = False) -> tuple[GroupQuestion, ...]:
    """
    Gather what speaks for each group, agent and long-term limit, in the order of the survey.

    Parameters
    ----------
    assessment : SurveyAssessment
        As assessed.
    binding_only : bool
        Whether limits that are shown for comparison only are left away.
    """
    survey = assessment.survey
    zone = ZoneInfo(survey.site.zone)
    rows: dict[tuple[str, str, LimitChoice], list[GroupRow]] = defaultdict(list)
    silent: dict[tuple[str, str, LimitChoice | None], list[tuple[str, str, str]]] = defaultdict(list)
    limits: dict[tuple[str, str], list[LimitChoice]] = defaultdict(list)
    for result in assessment.shifts:
        known = survey.workers.get(result.shift.worker)
        worker = known.on(result.shift.start.astimezone(zone).date()) if known else None
        if worker is None or worker.group not in survey.groups:
            continue
        place = (worker.group, result.agent.key)
        for limit in survey.limits:
            if limit.agent == result.agent.key and limit.kind == "TWA" and limit not in limits[place]:
                limits[place].append(limit)
        for limit, why in result.not_compared:
            silent[(*place, limit)].append((result.shift.code, result.shift.worker, why))
        if not result.verdicts and not result.not_compared:
            why = result.note or said("no usable sample")
            silent[(*place, None)].append((result.shift.code, result.shift.worker, why))
        for verdict in result.verdicts:
            if verdict.limit.kind == "TWA" and verdict.average is not None:
                rows[(*place, verdict.limit)].append(_row(result, verdict, zone))
    questions = (
        GroupQuestion(
            survey.groups[group],
            survey.agents[agent],
            limit,
            tuple(rows[group, agent, limit]),
            (*silent[group, agent, None], *silent[group, agent, limit]),
        )
        for (group, agent), stated in limits.items()
        for limit in stated
        if limit.binding or not binding_only
    )
    return tuple(question for question in questions if question.rows or question.left_out)


def judged(
    question: GroupQuestion, *, prior: Prior = PUBLISHED_SPREAD, earlier: Sequence[GroupRow] = ()
) -> GroupJudgement | None:
    """
    Judge a group by its results.

    Parameters
    ----------
    question : GroupQuestion
        Group, agent, limit and results.
    prior : Prior
        What is believed of the spread beforehand.
    earlier : sequence of GroupRow
        Results of an earlier survey of the same group against the same limit. Only the spread is learnt from them
        (`spread_of_earlier`), never the level: exposures may have changed, and that is the question.

    Returns
    -------
    GroupJudgement or None
        None where no shift can speak.
    """
    if not question.rows:
        return None
    learnt = spread_of_earlier(earlier, question.limit.value) if earlier else None
    rows = question.rows
    errors = [row.error_cv if row.error_cv >= SMALLEST_CV else 0.0 for row in rows]
    return judge_group(
        [row.lower for row in rows],
        [row.upper for row in rows],
        limit=question.limit.value,
        unit=question.limit.unit,
        limit_text=question.limit_text,
        name=f"{question.group.name}, {question.agent.name}",
        workers=[row.worker for row in rows],
        days=[row.day for row in rows],
        prior=learnt or prior,
        error_cv=errors if any(errors) else None,
    )


def spread_of_earlier(earlier: Sequence[GroupRow], limit: float) -> Prior | None:
    """
    Learn the spread of a group from an earlier survey of it.

    Parameters
    ----------
    earlier : sequence of GroupRow
        Its results.
    limit : float
        In their unit.

    Returns
    -------
    SpreadPrior or None
        A lognormal for ln GSD with the median and the 95 % range that the earlier results leave after the published
        prior; None for fewer than `FEWEST_FOR_PRIOR` results.
    """
    if len(earlier) < FEWEST_FOR_PRIOR:
        return None
    rows = observed(lower=[row.lower for row in earlier], upper=[row.upper for row in earlier])
    low, middle, high = (
        float(value) for value in posterior(rows, limit=limit).quantiles("gsd", (0.025, 0.5, 0.975))[0]
    )
    days = sorted(row.day for row in earlier)
    source = said(
        "{n} results of the same group from {first} to {last}",
        n=len(earlier),
        first=days[0].isoformat(),
        last=days[-1].isoformat(),
    )
    return SpreadPrior.from_gsd(middle, low, high, source=source)


def _row(result: ShiftResult, verdict: LimitVerdict, zone: ZoneInfo) -> GroupRow:
    average, stated = verdict.average, verdict.limit.value
    assert average is not None
    lower, upper = average.lower, average.upper
    scale = stated / verdict.limit_value.value
    low = 0.0 if lower.sense in ("at most", "unknown") else lower.value * scale
    high = math.inf if upper.sense in ("at least", "unknown") else upper.value * scale
    end = upper if upper.value > 0 else lower
    return GroupRow(
        shift=result.shift.code,
        worker=result.shift.worker,
        day=result.shift.start.astimezone(zone).date(),
        lower=low,
        upper=max(low, high),
        error_cv=end.uncertainty / end.value if end.value > 0 and math.isfinite(end.value) else 0.0,
        scaled=not math.isclose(scale, 1.0, rel_tol=1e-9),
    )
