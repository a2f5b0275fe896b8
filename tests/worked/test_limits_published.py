"""
Limits for long shifts and action levels, held against published examples.

"Read" examples were read in the place named, "known" ones are known from the named document, whose print was not at
hand.
"""

import pytest

from lapel.figures import reading
from lapel.hygiene import (
    action_level,
    compare,
    extended_shift_limit,
    reduction_factor,
    stated_action_level,
    us_lead_limit,
)


def test_lead_over_ten_hours():
    """Read: 29 CFR 1910.1025(c)(2) and appendix B as quoted in a practitioner's article: 400/10 = 40 µg/m3."""
    assert us_lead_limit(10).value == pytest.approx(0.040)


def test_lead_over_twelve_hours():
    """Read: “Adjusting Occupational Exposure Limits for Extended Work Shifts”: 33 µg/m3 for a 12-hour shift."""
    assert us_lead_limit(12).value == pytest.approx(0.033, abs=0.0005)


def test_lead_over_eight_hours():
    """Read: 29 CFR 1910.1025(c)(1): 50 µg/m3; (c)(2) speaks only of more than 8 hours."""
    assert us_lead_limit(8).value == us_lead_limit(6).value == pytest.approx(0.050)


def test_brief_and_scala_over_twelve_hours_in_the_alberta_code():
    """Read: “Adjusting OELs”, 12 November 2020, on part 4 of the Alberta OHS Code: (8/12)·(24-12)/16 = 0.5, lead 0.05
    to 0.025 mg/m3."""
    assert reduction_factor(12, model="brief-scala-day") == pytest.approx(0.5)
    assert extended_shift_limit(0.05, hours_per_day=12, model="brief-scala-day").value == pytest.approx(0.025)


def test_brief_and_scala_over_ten_hours():
    """Read: “Adjusting Occupational Exposure Limits for Extended Work Shifts”, 19 May 2009: 0.7 for a 10-hour shift.
    (The page prints the factor as 8 × h, which would be 70; its own example shows 8/h.)"""
    assert reduction_factor(10, model="brief-scala-day") == pytest.approx(0.7)


def test_brief_and_scala_leave_eight_hours_as_they_are():
    """Read: “Extrapolating airborne contaminant results to longer shifts”: the factor is 1 for 8 hours."""
    assert reduction_factor(8, model="brief-scala-day") == 1.0
    assert extended_shift_limit(3.0, hours_per_day=8).value == 3.0


@pytest.mark.parametrize(("hours", "factor"), [(9, 0.833), (14, 0.357), (16, 0.250)])
def test_brief_and_scala_by_the_day(hours, factor):
    """Closed form: (8/h)·(24-h)/16 by hand."""
    assert reduction_factor(hours, model="brief-scala-day") == pytest.approx(factor, abs=0.0005)


@pytest.mark.parametrize(("hours", "factor"), [(40, 1.0), (48, 0.78125), (56, 0.625), (60, 0.5625)])
def test_brief_and_scala_by_the_week(hours, factor):
    """Known formula, by hand: (40/h)·(168-h)/128."""
    assert reduction_factor(hours, model="brief-scala-week") == pytest.approx(factor)


def test_proportional_over_twelve_hours():
    """Read: Nordic Expert Group on unusual working hours (2023 review, institute's news): two thirds for 12 hours."""
    assert reduction_factor(12, model="proportional-day") == pytest.approx(2 / 3)


def test_proportional_over_a_fifty_hour_week():
    """Known: IRSST guide T-22, weekly adjustment 40/h: 0.8 for 50 hours."""
    limit = extended_shift_limit(10.0, hours_per_day=10, hours_per_week=50, model="proportional-week")
    assert limit.value == pytest.approx(8.0)


@pytest.mark.parametrize("basis", ["STEL", "ceiling"])
def test_short_term_limits_and_ceilings_are_not_adjusted(basis):
    """Read: Nordic Expert Group (same news) and IRSST (tool page): ceilings and short-term limits are not adjusted."""
    with pytest.raises(ValueError, match="is not shortened for a long shift"):
        extended_shift_limit(1.0, hours_per_day=12, basis=basis)


def test_limits_are_not_raised_for_short_shifts():
    """Read: Alberta OHS Code explanation guide, section 18: limits cannot be adjusted upwards for shorter periods."""
    with pytest.raises(ValueError, match="no model raises a limit for a shorter time"):
        extended_shift_limit(1.0, hours_per_day=6)


def test_the_action_level_is_half_unless_a_rule_says_otherwise():
    """Read: Navy Industrial Hygiene Field Operations Manual, chapter 3, 1.b: half the limit unless a standard
    states one."""
    assert action_level(1.0).value == 0.5


def test_the_action_level_of_lead_is_sixty_percent():
    """Read: 29 CFR 1910.1025(b) and (c): 30 of 50 µg/m3; the Navy manual calls it 60 % of the standard."""
    limit = us_lead_limit(8)
    level = stated_action_level(0.030, limit=limit, source="29 CFR 1910.1025(b)")
    assert level.value == pytest.approx(action_level(limit, fraction_of_limit=0.6).value)
    assert level.value != pytest.approx(action_level(limit).value)


def test_the_action_level_of_lead_stays_on_a_long_shift():
    """Read: same article as for 12 hours: the action level of 30 µg/m3 is not adjusted."""
    level = stated_action_level(0.030, limit=us_lead_limit(12), source="29 CFR 1910.1025(b)")
    exposure = reading(0.031, "mg/m3", name="lead")
    assert compare(exposure, exposure, level).verdict == "over"
    assert compare(exposure, exposure, us_lead_limit(12)).verdict == "under"


def test_the_action_level_of_formaldehyde_is_two_thirds():
    """Read: 29 CFR 1910.1048(b) and (c)(1): 0.5 of 0.75 ppm."""
    limit = reading(0.75, "ppm", name="limit of formaldehyde")
    level = stated_action_level(0.5, limit=limit, source="29 CFR 1910.1048(b)")
    assert level.unit == "ppm"
    assert level.value / limit.value == pytest.approx(2 / 3)


def test_the_action_level_of_vinyl_chloride_is_half():
    """Read: 29 CFR 1910.1017(b)(1): 0.5 ppm over 8 hours, the limit being 1 ppm."""
    assert action_level(reading(1.0, "ppm", name="limit of vinyl chloride")).value == 0.5
