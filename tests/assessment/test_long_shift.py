"""Long shifts: which limit they are held against, and how far the worst hours can be off."""

from dataclasses import replace

import pytest

from lapel.assessment.survey import assess
from lapel.documents.compose import limit_cell
from tests.assessment.one_worker import OneWorker, Tube

FLOW_LPM = 0.099


def ten_hours(mg_m3, **more):
    return OneWorker([Tube("L-1", 0, 600, mg_m3 * FLOW_LPM * 600)], shift_min=600, **more)


def the_verdict(survey, *, hours_per_week=40.0, **limit_fields):
    shift = replace(survey.shifts["S-1"], hours_per_week=hours_per_week)
    limit = replace(survey.limits[0], **limit_fields)
    ((verdict,),) = (s.verdicts for s in assess(replace(survey, shifts={"S-1": shift}, limits=(limit,))).shifts)
    return verdict


def test_all_of_the_shift_within_its_worst_hours_is_another_choice():
    """0.9 of the limit all day is under it; had the 10 h been breathed within 8, they averaged 1.125 of it."""
    found = the_verdict(ten_hours(0.9, rule_book="us-osha", analysis_cv=0.01).survey())
    assert found.comparison.ratio_high == pytest.approx(0.9, rel=1e-9)
    assert found.comparison.verdict == "under"
    (other,) = [one for one in found.others if "all that was breathed" in one.words]
    assert (other.ratio_low, other.ratio_high) == (pytest.approx(0.9), pytest.approx(0.9 * 600 / 480))
    assert other.verdict == "cannot tell"
    assert not found.robust
    assert "shorter samples" in found.settles


def test_far_under_the_limit_it_changes_nothing():
    assert the_verdict(ten_hours(0.2, rule_book="us-osha").survey()).robust


@pytest.mark.parametrize("model", ["brief-scala-day", "proportional-day"])
def test_a_limit_for_ten_hours_a_day_is_never_shortened_for_ten(model):
    found = the_verdict(ten_hours(0.5).survey(), averaging_min=600.0, extended_shift_model=model, authority="US-NIOSH")
    assert found.limit_value.value == 1.0
    assert found.shortened_for == ""
    assert "US-NIOSH states it for up to 10 h a day" in found.note
    assert "would protect twice and was not done" in found.note
    assert limit_cell(found) == "1 mg/m³ (US-NIOSH TWA)"


def test_a_longer_week_is_another_choice_and_takes_the_robustness_of_what_it_turns():
    """Brief and Scala by the week: (40/60)·(168 - 60)/128 = 0.5625 of the limit."""
    made = ten_hours(0.7).survey()
    found = the_verdict(made, averaging_min=600.0, hours_per_week=60.0)
    assert found.comparison.verdict == "under"
    (other,) = [one for one in found.others if "week of 60 h" in one.words]
    assert other.ratio_high == pytest.approx(0.7 / 0.5625, rel=1e-9)
    assert other.verdict == "over"
    assert not found.robust
    assert "its authority's own words" in found.settles


def test_a_model_by_the_week_that_the_survey_asks_for_is_used():
    found = the_verdict(
        ten_hours(0.2).survey(), averaging_min=600.0, hours_per_week=50.0, extended_shift_model="proportional-week"
    )
    assert found.limit_value.value == pytest.approx(0.8)
    assert limit_cell(found) == "0.800 mg/m³ (House TWA 1 mg/m³, shortened for a week of 50 h)"


def test_twelve_hours_against_a_limit_for_ten_are_shortened_from_ten():
    """(10/12)·(24 - 12)/(24 - 10), not (8/12)·(12/16)."""
    made = OneWorker([Tube("L-1", 0, 720, 0.2 * FLOW_LPM * 720)], shift_min=720).survey()
    found = the_verdict(made, averaging_min=600.0, extended_shift_model="brief-scala-day")
    assert found.limit_value.value == pytest.approx(10 / 12 * 12 / 14, rel=1e-12)
    assert "from the 10 h a day it is stated for" in found.note


def test_a_shortened_limit_says_what_its_authority_states():
    found = the_verdict(ten_hours(0.2).survey(), averaging_min=480.0, extended_shift_model="brief-scala-day")
    assert found.limit_value.value == pytest.approx(0.7)
    assert limit_cell(found) == "0.700 mg/m³ (House TWA 1 mg/m³, shortened for 10 h)"
    assert found.note == "House TWA 1 mg/m³, shortened to 0.700 mg/m³ for a 10 h shift (Brief and Scala, by the day)"
