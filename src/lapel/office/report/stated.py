"""What people stated for the report of a survey, as the documents take it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import cast

from lapel.assessment.follow_up import Rung
from lapel.assessment.notification import Clock, UnknownCalendar, first_due, notification_clocks, results_received_on
from lapel.assessment.results import SurveyAssessment
from lapel.documents.letters import LetterFacts
from lapel.documents.render import Picture
from lapel.documents.report import Recommendation, ReportFacts
from lapel.office.report.letterhead import logo_of_site
from lapel.records import models
from lapel.records.models import ReportTerms, Survey
from lapel.said import said

MOST_ACTIONS = 6
"""Actions named in a letter, the strongest control first; the report has all of them."""


@dataclass(frozen=True, slots=True)
class Stated:
    """
    Terms, texts and recommendations of one survey, read in three queries.

    Attributes
    ----------
    problem : str
        Why days could not be counted as the terms say; empty where they could.
    logo : Picture or None
        The site's own.
    """

    terms: ReportTerms
    texts: dict[str, str]
    recommendations: tuple[models.Recommendation, ...]
    clocks: tuple[Clock, ...]
    received_on: date | None
    problem: str = ""
    logo: Picture | None = None

    @property
    def due_on(self) -> date | None:
        """The first day by which somebody must be told."""
        return first_due(self.clocks)

    def report_facts(self, *, dated: date | None = None) -> ReportFacts:
        """What the report takes."""
        return ReportFacts(
            texts=self.texts,
            recommendations=tuple(_as_stated(one) for one in self.recommendations),
            clocks=self.clocks,
            dated=dated,
            logo=self.logo,
        )

    def letter_facts(self, *, sent_on: date | None = None) -> LetterFacts:
        """What a letter takes: what is still to be done, and by when."""
        return LetterFacts(
            contact=self.terms.contact,
            actions=tuple(_action(one) for one in self.recommendations if one.rung != "tell")[:MOST_ACTIONS],
            received_on=self.received_on,
            due_on=self.due_on,
            sent_on=sent_on,
            logo=self.logo,
        )


def stated_for(survey: Survey, assessment: SurveyAssessment) -> Stated:
    """Read what people stated; terms that nobody gave are as a new row has them."""
    terms = ReportTerms.objects.filter(survey=survey).first() or ReportTerms(survey=survey)
    free_days = _days(terms.free_days)
    problem = ""
    try:
        clocks = notification_clocks(
            assessment, completed_on=terms.completed_on, calendar=terms.calendar, free_days=free_days
        )
    except UnknownCalendar as why:
        problem = f"The days below are counted without public holidays: {why}."
        clocks = notification_clocks(assessment, completed_on=terms.completed_on, free_days=free_days)
    return Stated(
        terms=terms,
        texts=dict(survey.report_texts.values_list("part", "text")),
        recommendations=tuple(survey.recommendations.all()),
        clocks=clocks,
        received_on=results_received_on(assessment.survey),
        problem=problem,
        logo=logo_of_site(survey.site),
    )


def _days(texts: Sequence[str]) -> list[date]:
    return [date.fromisoformat(text) for text in texts]


def _as_stated(row: models.Recommendation) -> Recommendation:
    action = row.action
    if row.done_on:
        action = said("{action} (done on {day})", action=row.action, day=row.done_on.isoformat())
    return Recommendation(cast(Rung, row.rung), action, row.reason, row.owner, row.by, is_proposal=False)


def _action(row: models.Recommendation) -> str:
    action = row.action.rstrip().rstrip(".")
    if row.done_on:
        return f"{action} ({row.done_on.isoformat()}: ✓)"
    return f"{action} ({row.by.isoformat()})" if row.by else action
