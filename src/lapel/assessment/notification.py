"""
When must workers be told? The clocks that a rule book's standards start, with the days on which they run out.

A clock starts on the day its standard names: receipt of the results, or completion of the assessment. Working days are
Monday to Friday without public holidays of the place and without the firm's own free days; 29 CFR 1910.1051(b) says it
so for business days. Where a standard's text was seen without the kind of day, the earlier of the two is taken and that
is said; where the number itself was not seen, there is no day, and that is said too. Telling earlier is always allowed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Literal

from lapel.assessment.inputs import Agent, Survey
from lapel.assessment.results import SurveyAssessment
from lapel.reference import NotificationRule, library, notification_rules
from lapel.said import said

Starts = Literal["receipt", "completion", "unknown"]

MOST_DAYS = 3660


class UnknownCalendar(ValueError):  # noqa: N818 - said to a person, who reads it as a sentence
    """There is no calendar of public holidays of that name."""


@dataclass(frozen=True, slots=True)
class Clock:
    """
    One duty to tell, as far as it can be dated.

    Attributes
    ----------
    rule : NotificationRule
        The row of the table, with its source.
    agent : str
        Key of the agent it was started by; empty where the rule is about any substance.
    starts : str
        What starts it.
    started_on, due_on : date or None
        None where it has not started, or cannot be dated.
    words : str
        What was counted, and what is not known.
    """

    rule: NotificationRule
    agent: str
    starts: Starts
    started_on: date | None
    due_on: date | None
    words: str

    def days_left(self, today: date) -> int | None:
        """Calendar days left, negative when it is over; None where there is no day."""
        return None if self.due_on is None else (self.due_on - today).days


@lru_cache(maxsize=64)
def public_holidays(calendar: str, year: int) -> frozenset[date]:
    """
    Public holidays of a country or a part of it.

    Parameters
    ----------
    calendar : str
        Country in two letters, with a part where it matters: “US”, “US-WA”, “GB-ENG”, “ES”. Empty for none.
    year : int
        Year.

    Raises
    ------
    UnknownCalendar
        The library of holidays does not know it.
    """
    if not calendar:
        return frozenset()
    import holidays  # takes a third of a second: only those who count days pay for it

    country, _, part = calendar.partition("-")
    try:
        found = holidays.country_holidays(country, subdiv=part or None, years=year)
    except (NotImplementedError, KeyError, ValueError) as problem:
        raise UnknownCalendar(
            f"found the calendar “{calendar}”; wanted a country in two letters, with a part where it matters, "
            "as in US, US-WA or GB-ENG"
        ) from problem
    return frozenset(found)


def is_working_day(day: date, *, calendar: str = "", free_days: Iterable[date] = ()) -> bool:
    """Whether a day is Monday to Friday, no public holiday and none of the firm's free days."""
    return day.weekday() < 5 and day not in public_holidays(calendar, day.year) and day not in set(free_days)


def day_due(started_on: date, days: int, *, working: bool, calendar: str = "", free_days: Sequence[date] = ()) -> date:
    """
    Return the last day on which something can be done “within so many days”.

    Parameters
    ----------
    started_on : date
        Day of the event; the first day counted is the next one.
    days : int
        At least 0.
    working : bool
        Whether only working days count.
    calendar : str
        As of `public_holidays`.
    free_days : sequence of date
        The firm's own free days.

    Raises
    ------
    ValueError
        `days` is negative or beyond ten years.
    UnknownCalendar
        There is no such calendar.
    """
    if not 0 <= days <= MOST_DAYS:
        raise ValueError(f"`days` must be 0 to {MOST_DAYS}; found {days}")
    day, left = started_on, days
    while left:
        day += timedelta(days=1)
        if not working or is_working_day(day, calendar=calendar, free_days=free_days):
            left -= 1
    return day


def notification_clocks(
    assessment: SurveyAssessment,
    *,
    received_on: date | None = None,
    completed_on: date | None = None,
    calendar: str = "",
    free_days: Sequence[date] = (),
    standards: Sequence[str] | None = None,
) -> tuple[Clock, ...]:
    """
    Find which standards want workers told, and by when.

    Parameters
    ----------
    assessment : SurveyAssessment
        Its rule book says which standards, its agents which of their rows.
    received_on : date, optional
        Day the results were received; the last report's, if left out.
    completed_on : date, optional
        Day the assessment was completed, for standards that count from there.
    calendar, free_days
        As of `day_due`.
    standards : sequence of str, optional
        Beginnings of the names of standards that apply, instead of the rule book's.

    Returns
    -------
    tuple of Clock
        The earliest day first, those without a day last. Rows about any substance stand once.
    """
    survey = assessment.survey
    received_on = received_on or results_received_on(survey)
    wanted = tuple(standards) if standards is not None else assessment.rule_book.notification
    keys = {result.agent.key for result in assessment.samples}
    agents = [survey.agents[key] for key in survey.agents if key in keys]
    clocks = [
        _clock(rule, agent, received_on, completed_on, calendar, free_days)
        for rule in notification_rules()
        if any(rule.standard.startswith(start) for start in wanted)
        for agent in _concerned(rule, agents)
    ]
    return tuple(sorted(clocks, key=lambda clock: (clock.due_on is None, clock.due_on or date.max)))


def results_received_on(survey: Survey) -> date | None:
    """Day on which the last report was received; None where no report says."""
    return max((one.received_on for one in survey.reports.values() if one.received_on is not None), default=None)


def first_due(clocks: Iterable[Clock]) -> date | None:
    """Return the first day by which somebody must be told; None where no clock has a day."""
    return min((clock.due_on for clock in clocks if clock.due_on), default=None)


def _concerned(rule: NotificationRule, agents: Sequence[Agent]) -> list[Agent | None]:
    """Agents of the survey a row is about; one None for a row about any substance."""
    if rule.substance.casefold().startswith("any "):
        return [None] if agents else []
    try:
        wanted = library().substance(rule.substance)
    except LookupError:
        names = {rule.substance.casefold()}
        return [agent for agent in agents if agent.name.casefold() in names or agent.key.casefold() in names]
    return [agent for agent in agents if agent.cas == wanted.cas or agent.name.casefold() == wanted.name.casefold()]


def _clock(
    rule: NotificationRule,
    agent: Agent | None,
    received_on: date | None,
    completed_on: date | None,
    calendar: str,
    free_days: Sequence[date],
) -> Clock:
    starts = _starts(rule.trigger)
    started = {"receipt": received_on, "completion": completed_on, "unknown": received_on}[starts]
    key = agent.key if agent else ""
    if rule.days is None:
        return Clock(rule, key, starts, started, None, said("the number of days was not seen: read the standard"))
    if started is None:
        words = said(
            "{days} days, counted from when the assessment is completed"
            if starts == "completion"
            else "{days} days, counted from when the results are received",
            days=rule.days,
        )
        return Clock(rule, key, starts, None, None, words)
    working = rule.kind_of_day in ("working", "business")
    due = day_due(started, rule.days, working=working, calendar=calendar, free_days=free_days)
    words = said(DAYS_AFTER[rule.kind_of_day or "calendar"], days=rule.days, day=started.isoformat())
    if not rule.kind_of_day:
        words += said("; the kind of day was not seen, so the earlier day is taken")
    if working and not calendar:
        words += said(
            "; no calendar of public holidays is chosen, so none is left out, and the day is the earliest it can be"
        )
    if starts == "unknown":
        words += said("; what starts it: {trigger}", trigger=said(rule.trigger))
    return Clock(rule, key, starts, started, due, words)


DAYS_AFTER = {
    "working": "{days} working days after {day}",
    "business": "{days} business days after {day}",
    "calendar": "{days} calendar days after {day}",
}


def _starts(trigger: str) -> Starts:
    words = trigger.casefold()
    if "completion" in words:
        return "completion"
    if "receipt" in words or "known to the employer" in words or "become known" in words:
        return "receipt"
    return "unknown"
