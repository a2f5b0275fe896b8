"""What a sample of another length than the averaging time proves about the worst short period."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapel.figures import reading
from lapel.hygiene import ceiling_comparison, short_term_comparison


def worst_window(course, a):
    """Highest average over any a consecutive steps: brute force."""
    return max(np.mean(course[start : start + a]) for start in range(len(course) - a + 1))


def exposure(value, sense="exactly", u=0.0):
    return reading(value, "mg/m3", name="STEL sample", sense=sense, uncertainty=u)


def limit(value):
    return reading(value, "mg/m3", name="STEL")


@settings(max_examples=150, deadline=None)
@given(
    course=st.lists(st.sampled_from([0.0, 0.0, 0.1, 1.0, 5.0, 40.0]), min_size=15, max_size=70).filter(any),
)
def test_every_course_of_the_concentration_stays_between_the_two_bounds(course):
    outcome = short_term_comparison(float(np.mean(course)), len(course), 1.0)
    assert outcome.lower.value <= worst_window(course, 15) * (1 + 1e-9)
    assert worst_window(course, 15) <= outcome.upper.value * (1 + 1e-9)


@pytest.mark.parametrize("run", [16, 17, 20, 29, 30, 31, 45, 46, 59, 61])
def test_the_lower_bound_is_reached_by_peaks_that_no_window_can_join(run):
    """n spikes more than 15 minutes apart, at a resolution of a hundredth of a minute."""
    steps = 100
    n = math.ceil(run / 15)
    course = np.zeros(run * steps)
    course[np.linspace(0, run * steps - 1, n).astype(int)] = 1.0
    bound = short_term_comparison(float(course.mean()), run, 1.0).lower.value
    assert worst_window(course, 15 * steps) == pytest.approx(bound, rel=1e-9)


@pytest.mark.parametrize("run", [15, 17, 30, 44])
def test_the_upper_bound_is_reached_when_everything_came_at_once(run):
    course = np.zeros(run)
    course[3] = 10.0
    assert worst_window(course, 15) == pytest.approx(short_term_comparison(float(course.mean()), run, 1.0).upper.value)


def test_seventeen_minutes_above_the_limit_do_not_prove_that_fifteen_were():
    outcome = short_term_comparison(1.2, 17, 1.0)
    assert outcome.verdict == "cannot tell"
    assert outcome.lower.value == pytest.approx(1.2 * 17 / 30)
    assert outcome.upper.value == pytest.approx(1.2 * 17 / 15)
    course = np.zeros(17)
    course[[0, 16]] = 1.2 * 17 / 2
    assert course.mean() == pytest.approx(1.2)
    assert worst_window(course, 15) < 1.0


def test_seventeen_minutes_are_over_when_even_half_of_it_fills_a_window():
    assert short_term_comparison(1.8, 17, 1.0).verdict == "over"
    assert short_term_comparison(1.76, 17, 1.0).verdict == "cannot tell"


def test_seventeen_minutes_are_under_when_all_of_it_in_one_window_is():
    assert short_term_comparison(0.88, 17, 1.0).verdict == "under"
    assert short_term_comparison(0.89, 17, 1.0).verdict == "cannot tell"


def test_thirty_minutes_above_the_limit_prove_that_some_fifteen_were():
    outcome = short_term_comparison(1.01, 30, 1.0)
    assert outcome.lower.value == pytest.approx(1.01)
    assert outcome.verdict == "over"


def test_exactly_fifteen_minutes_are_the_window():
    outcome = short_term_comparison(0.9, 15, 1.0)
    assert outcome.lower is outcome.upper
    assert outcome.verdict == "under"
    assert short_term_comparison(1.1, 15, 1.0).verdict == "over"
    assert "15-minute periods that lie outside" in outcome.reason


def test_a_run_read_in_seconds_is_not_a_hair_longer_than_fifteen_minutes():
    assert short_term_comparison(1.1, 15 * (1 + 1e-14), 1.0).verdict == "over"
    assert short_term_comparison(1.1, 15 * (1 - 1e-14), 1.0, around="no exposure").verdict == "over"


def test_the_reason_names_the_periods_it_is_about():
    assert "17 min, more than 15" in short_term_comparison(1.2, 17, 1.0).comparison.reason
    assert "10 min, less than 15" in short_term_comparison(1.2, 10, 1.0).reason
    assert "says nothing of the highest instant" in ceiling_comparison(0.1, 15, 1.0).comparison.reason


def test_a_shorter_sample_bounds_from_below_only():
    outcome = short_term_comparison(0.9, 10, 1.0)
    assert outcome.lower.value == pytest.approx(0.6)
    assert outcome.verdict == "cannot tell"
    assert math.isinf(outcome.comparison.ucl)
    assert short_term_comparison(1.6, 10, 1.0).verdict == "over"


def test_a_shorter_sample_decides_where_there_was_no_exposure_around_it():
    assert short_term_comparison(1.4, 10, 1.0, around="no exposure").verdict == "under"
    assert short_term_comparison(1.6, 10, 1.0, around="no exposure").verdict == "over"


@pytest.mark.parametrize("run", [10, 15, 17, 30])
def test_a_non_detect_never_shows_over(run):
    for value in (0.1, 5.0):
        outcome = short_term_comparison(exposure(value, "at most"), run, limit(1.0))
        assert outcome.verdict != "over"
        assert outcome.lower.value == 0.0


def test_a_non_detect_far_below_the_limit_shows_under():
    assert short_term_comparison(exposure(0.1, "at most"), 15, limit(1.0)).verdict == "under"
    assert short_term_comparison(exposure(0.1, "at most"), 17, limit(1.0)).verdict == "under"
    assert short_term_comparison(exposure(0.1, "at most"), 10, limit(1.0), around="no exposure").verdict == "under"


@pytest.mark.parametrize("run", [10, 15, 17, 30])
def test_a_least_value_never_shows_under(run):
    outcome = short_term_comparison(exposure(0.1, "at least"), run, limit(1.0), around="no exposure")
    assert outcome.verdict == "cannot tell"


def test_measurement_uncertainty_counts_on_both_bounds():
    """30 minutes at 1.05 with u = 0.05: 1.05 - 1.645·0.05 = 0.968 is not over."""
    assert short_term_comparison(exposure(1.05, u=0.05), 30, limit(1.0)).verdict == "cannot tell"
    assert short_term_comparison(exposure(1.05, u=0.02), 30, limit(1.0)).verdict == "over"


def test_an_instantaneous_ceiling_is_never_shown_kept_by_an_average():
    assert ceiling_comparison(0.01, 15, 1.0).verdict == "cannot tell"
    assert ceiling_comparison(1.1, 15, 1.0).verdict == "over"
    assert ceiling_comparison(exposure(0.5, "at most"), 15, limit(1.0)).verdict == "cannot tell"


def test_impossible_times_are_refused():
    with pytest.raises(ValueError, match="`minutes` must be finite and above 0; found 0"):
        short_term_comparison(1.0, 0, 1.0)
    with pytest.raises(ValueError, match="`averaging_min` must be finite and above 0"):
        short_term_comparison(1.0, 15, 1.0, averaging_min=0)
    with pytest.raises(ValueError, match="`around` must be"):
        short_term_comparison(1.0, 15, 1.0, around="nil")
    with pytest.raises(ValueError, match="`minutes` must be finite and above 0"):
        ceiling_comparison(1.0, -1, 1.0)
