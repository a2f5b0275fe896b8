"""What is asked of a survey's groups: every group, agent and long-term limit, each under an address of its own."""

from __future__ import annotations

from dataclasses import dataclass

from lapel.assessment.judged_groups import GroupQuestion, group_questions
from lapel.assessment.results import SurveyAssessment
from lapel.office.judge.earlier import EarlierResults, EarlierSurvey, earlier_surveys, results_for
from lapel.office.judge.held import Asked
from lapel.records.models import ReportTerms, Survey


@dataclass(frozen=True, slots=True)
class Question:
    """One question with its address, what earlier surveys have of it, and how it is asked."""

    address: str
    of: GroupQuestion
    earlier: EarlierResults
    asked: Asked


@dataclass(frozen=True, slots=True)
class Questions:
    """All questions of a survey; `use_earlier` says whether the spread of earlier surveys is used."""

    all: tuple[Question, ...]
    surveys: tuple[EarlierSurvey, ...]
    use_earlier: bool

    @property
    def binding(self) -> tuple[Question, ...]:
        """Those the report is about."""
        return tuple(one for one in self.all if one.of.limit.binding)

    def at(self, address: str) -> Question | None:
        """Return the question of an address."""
        return next((one for one in self.all if one.address == address), None)


def questions_of(survey: Survey, assessment: SurveyAssessment, *, use_earlier: bool | None = None) -> Questions:
    """
    Gather what is asked of a survey's groups.

    Parameters
    ----------
    survey : Survey
        The record; access was checked by whoever got it.
    assessment : SurveyAssessment
        What it says now.
    use_earlier : bool, optional
        Whether earlier surveys teach the spread; as the terms of the report say, if left out.
    """
    if use_earlier is None:
        use_earlier = ReportTerms.objects.filter(survey=survey, use_earlier=True).exists()
    surveys = tuple(earlier_surveys(survey))
    found: dict[str, Question] = {}
    for question in group_questions(assessment):
        address = _free(question.key.replace("/", "-"), found)
        earlier = results_for(question, list(surveys))
        rows = earlier.rows if use_earlier and earlier.is_enough else ()
        found[address] = Question(address, question, earlier, Asked(question, rows, assessment.rule_book.key))
    return Questions(tuple(found.values()), surveys, use_earlier)


def _free(address: str, taken: dict[str, Question]) -> str:
    """Two limits of one authority and kind have two addresses."""
    number = 1
    free = address
    while free in taken:
        number += 1
        free = f"{address}-{number}"
    return free
