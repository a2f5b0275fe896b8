"""Samples placed in time: overlapping ports and the worst part of a long shift, against a minute-by-minute count."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapel.figures import reading
from lapel.hygiene import (
    PortRun,
    overlapping_average,
    time_weighted_average,
    worst_continuous_window,
    worst_total_window,
)


def less_than(value):
    return reading(value, "mg/m3", name="sample", sense="at most")


@st.composite
def placed_runs(draw):
    """Samples on a grid of minutes, overlapping or with gaps."""
    runs = []
    for _ in range(draw(st.integers(1, 6))):
        start = draw(st.integers(0, 500))
        runs.append(PortRun(draw(st.floats(0.01, 100)), start, start + draw(st.integers(1, 300))))
    return runs


def minute_by_minute(runs):
    """Lowest and highest concentration of each minute, NaN where nothing ran."""
    low, high = np.full(1000, np.nan), np.full(1000, np.nan)
    for run in runs:
        span = slice(int(run.start_min), int(run.stop_min))
        low[span] = np.fmin(low[span], run.concentration)
        high[span] = np.fmax(high[span], run.concentration)
    return low, high


def sampled_span(course, runs):
    return course[min(int(r.start_min) for r in runs) : max(int(r.stop_min) for r in runs)]


def brute_window(course, runs, window):
    """Highest dose of any window of whole minutes within the sampled span, over the window."""
    line = np.nan_to_num(sampled_span(course, runs))
    if len(line) <= window:
        return line.sum() / window
    sums = np.concatenate([[0.0], np.cumsum(line)])
    return (sums[window:] - sums[:-window]).max() / window


@settings(max_examples=150, deadline=None)
@given(runs=placed_runs(), window=st.sampled_from([15, 60, 240, 480]))
def test_the_worst_continuous_window_is_the_highest_of_all_windows(runs, window):
    low, high = minute_by_minute(runs)
    worst = worst_continuous_window(runs, window_min=window)
    assert worst.upper.value == pytest.approx(brute_window(high, runs, window))
    assert worst.lower.value == pytest.approx(brute_window(low, runs, window))


@settings(max_examples=150, deadline=None)
@given(runs=placed_runs(), window=st.sampled_from([15, 60, 240, 480]))
def test_the_worst_total_is_the_sum_of_the_worst_minutes(runs, window):
    low, high = minute_by_minute(runs)
    worst = worst_total_window(runs, window_min=window)
    for end, course in ((worst.lower, low), (worst.upper, high)):
        minutes = np.sort(course[~np.isnan(course)])[::-1][:window]
        assert end.value == pytest.approx(minutes.sum() / window)


@settings(max_examples=100, deadline=None)
@given(runs=placed_runs(), window=st.sampled_from([15, 240, 480]))
def test_the_worst_total_is_never_below_the_worst_continuous_window(runs, window):
    total, continuous = worst_total_window(runs, window_min=window), worst_continuous_window(runs, window_min=window)
    assert total.upper.value >= continuous.upper.value * (1 - 1e-9)
    assert total.lower.value >= continuous.lower.value * (1 - 1e-9)


def test_a_ten_hour_shift_of_five_samples():
    """By hand: 2 h each at 1, 5, 2, 6, 1 mg/m3. Continuous: 120-600 min or 0-480 give (1+5+2+6)/4; total the same four
    samples; with the first at 3 the total is (5+6+3+2)/4 = 4."""
    values = [3.0, 5.0, 2.0, 6.0, 1.0]
    runs = [PortRun(value, 120 * i, 120 * (i + 1)) for i, value in enumerate(values)]
    assert worst_continuous_window(runs).upper.value == pytest.approx(4.0)
    swapped = [PortRun(value, 120 * i, 120 * (i + 1)) for i, value in enumerate([5.0, 1.0, 6.0, 2.0, 3.0])]
    assert worst_continuous_window(swapped).upper.value == pytest.approx(3.5)
    assert worst_total_window(swapped).upper.value == pytest.approx(4.0)
    assert worst_total_window(swapped).stretches == ((0, 120), (240, 360), (360, 480), (480, 600))


def test_a_window_with_unsampled_minutes_is_a_least_value():
    worst = worst_continuous_window([PortRun(3.0, 0, 240)])
    assert worst.upper.value == pytest.approx(1.5)
    assert worst.upper.sense == "at least"
    assert worst.unsampled_min == 240


def test_non_detects_leave_an_interval_of_the_worst_window():
    worst = worst_continuous_window([PortRun(less_than(2.0), 0, 240), PortRun(3.0, 240, 600)])
    assert worst.lower.value == pytest.approx(3 * 360 / 480)
    assert worst.upper.value == pytest.approx((3 * 360 + 2 * 120) / 480)
    assert (worst.lower.sense, worst.upper.sense) == ("at least", "at most")


@given(values=st.lists(st.floats(0.01, 100), min_size=1, max_size=4))
def test_samples_that_follow_each_other_are_the_plain_average(values):
    step = 480 / len(values)
    runs = [PortRun(value, i * step, (i + 1) * step) for i, value in enumerate(values)]
    expected = time_weighted_average([(value, step) for value in values])
    assert overlapping_average(runs).upper.value == pytest.approx(expected.upper.value)


def test_two_ports_that_differ_leave_an_interval():
    average = overlapping_average([PortRun(2.0, 0, 480, "A"), PortRun(3.0, 0, 480, "B")])
    assert (average.lower.value, average.upper.value) == pytest.approx((2.0, 3.0))
    assert average.sampled_min == 480


def test_a_short_sample_within_a_long_one_is_already_in_it():
    average = overlapping_average([PortRun(2.0, 0, 480, "A"), PortRun(30.0, 100, 115, "B")])
    assert average.upper.value == pytest.approx(2.0)
    assert average.lower is average.upper


def test_a_short_sample_within_a_long_non_detect_is_not_thrown_away():
    average = overlapping_average([PortRun(less_than(1.0), 0, 480, "A"), PortRun(30.0, 100, 115, "B")])
    assert average.upper.value == pytest.approx((30.0 * 15 + 1.0 * 465) / 480)
    assert average.lower.value == 0.0


def test_a_port_changed_while_the_next_already_ran_counts_its_minutes_once():
    average = overlapping_average([PortRun(4.0, 0, 242), PortRun(4.0, 240, 480)])
    assert average.upper.value == pytest.approx(4.0)
    assert average.sampled_min == 480


def test_breakthrough_on_one_of_two_ports_leaves_no_upper_end():
    lost = reading(2.0, "mg/m3", name="s", sense="at least")
    average = overlapping_average([PortRun(lost, 0, 480, "A"), PortRun(3.0, 0, 480, "B")])
    assert not average.is_bounded
    assert average.lower.value == pytest.approx(2.0)


@settings(max_examples=60, deadline=None)
@given(runs=placed_runs(), how=st.sampled_from(["zero", "mean", "highest"]))
def test_the_interval_is_in_order_for_every_treatment(runs, how):
    average = overlapping_average(runs, unsampled=how, shift_min=800)
    assert average.lower.value <= average.upper.value * (1 + 1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: worst_continuous_window([]), "at least one sample"),
        (lambda: worst_total_window([PortRun(1.0, 10, 10)]), "must end after its start; found minute 10"),
        (lambda: overlapping_average([PortRun(-1.0, 0, 10, "B")]), "run from minute 0 on port B must be finite"),
        (lambda: worst_continuous_window([PortRun(1.0, 0, 10)], window_min=0), "`window_min` must be"),
        (lambda: overlapping_average([PortRun(1.0, 0, 600)], shift_min=480), "more time was sampled"),
        (lambda: overlapping_average([PortRun(1.0, 0, 600)], reference_min=0), "must be above 0"),
    ],
)
def test_unusable_input_is_refused_by_name(call, words):
    with pytest.raises(ValueError, match=words):
        call()
