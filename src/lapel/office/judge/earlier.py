"""Earlier surveys of the same groups: what of them can speak for the spread of this one."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from datetime import date
from threading import Lock

from lapel.assessment.held import CannotAssess, held_assessment
from lapel.assessment.judged_groups import FEWEST_FOR_PRIOR, GroupQuestion, GroupRow, group_questions
from lapel.assessment.running_records import Marks, records_marks
from lapel.records.models import Survey

MOST_EARLIER = 3
"""Surveys looked back at, the latest first: older ones say little of how the work is done now. Judgement."""
MOST_HELD = 24


@dataclass(frozen=True, slots=True)
class EarlierSurvey:
    """One earlier survey of the site; `problem` says why it cannot speak."""

    code: str
    title: str
    assessed_on: date
    questions: tuple[GroupQuestion, ...]
    problem: str = ""


@dataclass(frozen=True, slots=True)
class EarlierResults:
    """Results of earlier surveys for one question, and where they are from; enough of them teach a spread."""

    rows: tuple[GroupRow, ...]
    surveys: tuple[tuple[str, str, int], ...]

    @property
    def is_enough(self) -> bool:
        """Whether a spread can be learnt."""
        return len(self.rows) >= FEWEST_FOR_PRIOR


_held: OrderedDict[tuple[str, int], tuple[Marks, EarlierSurvey]] = OrderedDict()
_door = Lock()


def earlier_surveys(survey: Survey) -> list[EarlierSurvey]:
    """Return the last surveys of the same site that were assessed before and looked for one of the same agents."""
    agents = survey.agents.values("code")
    found = (
        Survey.objects.filter(site=survey.site_id, assessed_on__lt=survey.assessed_on, agents__code__in=agents)
        .exclude(pk=survey.pk)
        .select_related("site")
        .distinct()
        .order_by("-assessed_on", "code")[:MOST_EARLIER]
    )
    return [_read(one) for one in found]


def results_for(question: GroupQuestion, earlier: list[EarlierSurvey]) -> EarlierResults:
    """
    Return the results of the same group, by its code, of the same agent, against a limit in the same unit.

    Of several limits of one survey that of the same authority is taken, so that no result counts twice.
    """
    rows: list[GroupRow] = []
    surveys = []
    for survey in earlier:
        fitting = [
            one
            for one in survey.questions
            if one.group.code == question.group.code
            and one.agent.key == question.agent.key
            and one.limit.unit == question.limit.unit
            and one.rows
        ]
        if fitting:
            best = min(fitting, key=lambda one: one.limit.authority != question.limit.authority)
            rows += best.rows
            surveys.append((survey.code, survey.title, len(best.rows)))
    return EarlierResults(tuple(rows), tuple(surveys))


def _read(survey: Survey) -> EarlierSurvey:
    key, mark = (str(survey._state.db), survey.pk), records_marks(survey)
    with _door:
        held = _held.get(key)
    if held is not None and held[0] == mark:
        return held[1]
    try:
        questions, problem = group_questions(held_assessment(survey)), ""
    except CannotAssess as why:
        questions, problem = (), " ".join(why.reasons)
    found = EarlierSurvey(survey.code, survey.title, survey.assessed_on, questions, problem)
    with _door:
        _held[key] = (mark, found)
        while len(_held) > MOST_HELD:
            _held.popitem(last=False)
    return found
