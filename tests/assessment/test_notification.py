"""Days to tell workers by: counted as the standards say, and never later than they allow."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.assessment.notification import (
    UnknownCalendar,
    day_due,
    is_working_day,
    notification_clocks,
    public_holidays,
)
from lapel.assessment.results import SurveyAssessment
from lapel.assessment.survey import assess
from lapel.exchange.survey_folder import read_survey

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def hard() -> SurveyAssessment:
    return assess(read_survey(EXAMPLES / "hard"))


def test_fifteen_working_days_over_thanksgiving_by_the_calendar_on_the_wall():
    """Received Friday 20 November 2026; 26 November is Thanksgiving: counted by hand, Monday 14 December."""
    assert day_due(date(2026, 11, 20), 15, working=True, calendar="US") == date(2026, 12, 14)
    assert day_due(date(2026, 11, 20), 15, working=True) == date(2026, 12, 11)


def test_five_working_days_end_a_week_later_and_the_firms_own_free_day_puts_it_off():
    """Monday 2 March 2026 and five working days: Monday 9 March; with the Friday free: Tuesday."""
    assert day_due(date(2026, 3, 2), 5, working=True, calendar="GB-ENG") == date(2026, 3, 9)
    free = [date(2026, 3, 6)]
    assert day_due(date(2026, 3, 2), 5, working=True, calendar="GB-ENG", free_days=free) == date(2026, 3, 10)


def test_calendar_days_count_every_day():
    assert day_due(date(2026, 12, 30), 5, working=False) == date(2027, 1, 4)


def test_a_part_of_a_country_has_its_own_holidays():
    assert date(2026, 11, 30) in public_holidays("GB-SCT", 2026)  # St Andrew's Day
    assert date(2026, 11, 30) not in public_holidays("GB-ENG", 2026)


@pytest.mark.parametrize("calendar", ["XX", "US-ZZ", "Germany!", "U"])
def test_a_calendar_nobody_knows_is_said_to_be_unknown(calendar: str):
    with pytest.raises(UnknownCalendar, match="two letters"):
        public_holidays(calendar, 2026)


@given(
    st.dates(date(2000, 1, 1), date(2060, 12, 31)),
    st.integers(0, 60),
    st.lists(st.dates(date(2000, 1, 1), date(2061, 12, 31)), max_size=5),
)
def test_exactly_so_many_working_days_lie_between_the_event_and_the_last_day(start: date, days: int, free: list[date]):
    due = day_due(start, days, working=True, free_days=free)
    between = [start + timedelta(days=n) for n in range(1, (due - start).days + 1)]
    assert sum(is_working_day(day, free_days=free) for day in between) == days
    assert days == 0 or is_working_day(due, free_days=free)
    assert due >= day_due(start, days, working=False)


def test_the_hard_survey_starts_the_clocks_of_its_substance_standards(hard: SurveyAssessment):
    clocks = notification_clocks(hard, received_on=date(2026, 11, 20), calendar="US")
    by_standard = {(clock.rule.standard, clock.agent): clock for clock in clocks}
    assert by_standard["29 CFR 1910.1028", "benzene"].due_on == date(2026, 12, 14)
    assert by_standard["29 CFR 1910.1048", "formaldehyde"].due_on == date(2026, 12, 14)
    assert not [clock for clock in clocks if clock.rule.substance == "lead"]
    assert by_standard["29 CFR 1910.1450", ""].rule.industry == "laboratories"
    dated = [clock.due_on for clock in clocks if clock.due_on]
    assert dated == sorted(dated)


def test_without_a_day_of_receipt_the_last_report_counts(hard: SurveyAssessment):
    received = max(report.received_on for report in hard.survey.reports.values() if report.received_on)
    assert {clock.started_on for clock in notification_clocks(hard) if clock.starts == "receipt"} == {received}


def test_a_clock_that_counts_from_completion_waits_for_it(hard: SurveyAssessment):
    agent = replace(hard.survey.agents["benzene"], key="benzene", name="Beryllium", cas="7440-41-7")
    survey = replace(hard.survey, agents={**hard.survey.agents, "benzene": agent})
    waiting = [c for c in notification_clocks(replace(hard, survey=survey)) if c.rule.substance == "beryllium"]
    assert [clock.due_on for clock in waiting] == [None]
    assert "completed" in waiting[0].words
    done = notification_clocks(replace(hard, survey=survey), completed_on=date(2026, 3, 2), calendar="US")
    assert next(c for c in done if c.rule.substance == "beryllium").due_on == date(2026, 3, 23)


def test_a_number_or_a_kind_of_day_that_was_not_seen_is_said(hard: SurveyAssessment):
    agent = replace(hard.survey.agents["benzene"], name="1,3-butadiene", cas="106-99-0")
    other = replace(hard.survey.agents["toluene"], name="chromium(VI)", cas="")
    survey = replace(hard.survey, agents={**hard.survey.agents, "benzene": agent, "toluene": other})
    clocks = notification_clocks(replace(hard, survey=survey), received_on=date(2026, 3, 2), calendar="US")
    butadiene = next(c for c in clocks if c.rule.substance == "1,3-butadiene")
    assert butadiene.due_on is None
    assert "not seen" in butadiene.words
    chromium = next(c for c in clocks if c.rule.standard == "29 CFR 1910.1026")
    assert chromium.due_on == date(2026, 3, 17)
    assert "the earlier day is taken" in chromium.words


def test_a_rule_book_without_days_starts_no_clock(hard: SurveyAssessment):
    from lapel.reference import rule_book

    assert notification_clocks(replace(hard, rule_book=rule_book("uk"))) == ()


@pytest.mark.parametrize("days", [-1, 100_000])
def test_days_that_are_none_are_refused(days: int):
    with pytest.raises(ValueError, match="`days`"):
        day_due(date(2026, 1, 1), days, working=True)
