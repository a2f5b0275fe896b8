"""Bounds of the worst hours when the air may change within a sample's run, held against every profile there can be."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from lapel.figures import reading
from lapel.hygiene import (
    PortRun,
    continuous_window_bounds,
    overlapping_average,
    overlapping_average_bounds,
    partly_shared_minutes,
    total_window_bounds,
    worst_continuous_window,
    worst_total_window,
)

STEP = 30.0
"""All times are multiples of it, so that a profile of such steps is as free as any other here. [min]"""


@st.composite
def runs_of_one_shift(draw, overlapping):
    """Samples of a shift whose true profile is drawn too, so that the averages can all hold at once."""
    steps = draw(st.integers(2, 20))
    profile = np.array(draw(st.lists(st.sampled_from([0.0, 0.5, 1.0, 4.0]), min_size=steps, max_size=steps)))
    if overlapping:
        ends = st.tuples(st.integers(0, steps - 1), st.integers(1, steps)).filter(lambda pair: pair[0] < pair[1])
        spans = draw(st.lists(ends, min_size=1, max_size=4))
    else:
        cuts = sorted({0, steps, *draw(st.lists(st.integers(1, steps), max_size=4))})
        spans = list(itertools.pairwise(cuts))
    return [PortRun(float(profile[a:b].mean()), a * STEP, b * STEP) for a, b in spans]


def every_profile(runs):
    """Number of steps of the sampled span, and the samples' averages as equations for the dose of each step."""
    first, last = min(r.start_min for r in runs), max(r.stop_min for r in runs)
    count = round((last - first) / STEP)
    middles = first + STEP * (np.arange(count) + 0.5)
    rows = np.array([(run.start_min < middles) & (middles < run.stop_min) for run in runs], dtype=float)
    doses = np.array([run.concentration * (run.stop_min - run.start_min) for run in runs])
    sampled = rows.any(axis=0)
    return count, rows, doses, sampled


def windows(count, window):
    width = round(window / STEP)
    if width >= count:
        return [np.ones(count)]
    return [np.array([s <= i < s + width for i in range(count)], dtype=float) for s in range(count - width + 1)]


def highest_and_lowest_worst(runs, window):
    """The worst window's dose over all profiles: the highest it can be, and the least that the worst can be."""
    count, rows, doses, sampled = every_profile(runs)
    limits = [(0, None) if one else (0, 0) for one in sampled]
    highest = 0.0
    for each in windows(count, window):
        found = linprog(-each, A_eq=rows, b_eq=doses, bounds=limits)
        assert found.status == 0
        highest = max(highest, -found.fun)
    every = np.array(windows(count, window))
    found = linprog(
        np.append(np.zeros(count), 1.0),
        A_ub=np.hstack([every, -np.ones((len(every), 1))]),
        b_ub=np.zeros(len(every)),
        A_eq=np.hstack([rows, np.zeros((len(rows), 1))]),
        b_eq=doses,
        bounds=[*limits, (0, None)],
    )
    assert found.status == 0
    return highest / window, found.fun / window


@settings(max_examples=60, deadline=None)
@given(runs=runs_of_one_shift(overlapping=True), window=st.sampled_from([60.0, 240.0, 480.0]))
def test_no_profile_that_keeps_the_averages_has_a_worst_window_outside_the_bounds(runs, window):
    """Linear programs over all profiles of half an hour's steps, maximum and min-max."""
    highest, lowest = highest_and_lowest_worst(runs, window)
    found = continuous_window_bounds(runs, window_min=window)
    assert highest <= found.upper.value + 1e-6
    assert found.lower.value <= lowest + 1e-6


@settings(max_examples=60, deadline=None)
@given(runs=runs_of_one_shift(overlapping=False), window=st.sampled_from([60.0, 240.0, 480.0]))
def test_the_worst_window_at_the_samples_averages_lies_between_the_bounds(runs, window):
    worst = worst_continuous_window(runs, window_min=window)
    found = continuous_window_bounds(runs, window_min=window)
    assert found.lower.value <= worst.upper.value + 1e-9
    assert worst.upper.value <= found.upper.value + 1e-9


@settings(max_examples=40, deadline=None)
@given(runs=runs_of_one_shift(overlapping=False), window=st.sampled_from([45.0, 225.0, 465.0]))
def test_the_upper_bound_is_reached_by_some_profile(runs, window):
    """Samples one after another, a window that is no multiple of them: all of a run it touches can lie within it."""
    found = continuous_window_bounds(runs, window_min=window)
    first, last = runs[0].start_min, runs[-1].stop_min
    reached = 0.0
    for start in np.arange(first, max(first, last - window) + 1e-9, 1.0):
        inside = [run for run in runs if min(run.stop_min, start + window) - max(run.start_min, start) > 1e-9]
        reached = max(reached, sum(run.concentration * (run.stop_min - run.start_min) for run in inside))
    assert found.upper.value == pytest.approx(reached / window, rel=1e-12)


@settings(max_examples=60, deadline=None)
@given(runs=runs_of_one_shift(overlapping=True), window=st.sampled_from([60.0, 240.0, 480.0]))
def test_the_worst_minutes_in_total_lie_within_their_bounds_for_every_profile_tried(runs, window):
    """Corners of the set of profiles, found by random directions; the worst minutes of each by sorting."""
    count, rows, doses, sampled = every_profile(runs)
    limits = [(0, None) if one else (0, 0) for one in sampled]
    found = total_window_bounds(runs, window_min=window)
    dice = np.random.default_rng(5)
    for _ in range(6):
        corner = linprog(dice.normal(size=count) + 2.0, A_eq=rows, b_eq=doses, bounds=limits)
        assert corner.status == 0
        worst = np.sort(corner.x)[::-1][: round(window / STEP)].sum()
        assert found.lower.value <= worst / window + 1e-6
        assert corner.x.sum() / window <= found.upper.value + 1e-6


@given(runs=runs_of_one_shift(overlapping=False), window=st.sampled_from([60.0, 240.0, 480.0]))
def test_in_total_the_estimate_is_the_least_and_all_that_was_breathed_the_most(runs, window):
    found = total_window_bounds(runs, window_min=window)
    assert found.lower.value == pytest.approx(worst_total_window(runs, window_min=window).upper.value, rel=1e-12)
    dose = sum(run.concentration * (run.stop_min - run.start_min) for run in runs)
    assert found.upper.value == pytest.approx(dose / window, rel=1e-12)


def test_one_sample_over_ten_hours_by_hand():
    """10 h at 1: all of it can lie in the worst 8 h (1.25); half of it at each end, and no 8 h hold more than half."""
    found = continuous_window_bounds([PortRun(1.0, 0, 600)])
    assert found.upper.value == pytest.approx(600 / 480)
    assert found.lower.value == pytest.approx(300 / 480)


def test_a_second_port_says_how_much_lies_outside():
    """1 over 10 h, and 0.5 over the last 2 h of it: the first 8 h held 600 - 60."""
    found = continuous_window_bounds([PortRun(1.0, 0, 600), PortRun(0.5, 480, 600)])
    assert found.lower.value == pytest.approx(540 / 480)
    assert found.upper.value == pytest.approx(600 / 480)


def test_a_non_detect_counts_from_nothing_and_a_least_value_without_an_end():
    below = reading(1.0, "mg/m3", name="a non-detect", sense="at most")
    lost = reading(1.0, "mg/m3", name="breakthrough", sense="at least")
    found = continuous_window_bounds([PortRun(below, 0, 240), PortRun(2.0, 240, 480)])
    assert (found.lower.value, found.upper.value) == (pytest.approx(1.0), pytest.approx(1.5))
    assert (found.lower.sense, found.upper.sense) == ("at least", "at most")
    assert continuous_window_bounds([PortRun(lost, 0, 480)]).upper.sense == "at least"


def test_minutes_without_a_sample_leave_no_upper_end():
    runs = [PortRun(1.0, 0, 200), PortRun(1.0, 260, 480)]
    assert continuous_window_bounds(runs).upper.sense == "at least"
    assert total_window_bounds(runs).upper.sense == "at least"


@pytest.mark.parametrize("bounds", [continuous_window_bounds, total_window_bounds])
def test_what_is_no_window_and_no_sample_is_refused(bounds):
    with pytest.raises(ValueError, match="`window_min` must be finite and above 0"):
        bounds([PortRun(1.0, 0, 60)], window_min=0.0)
    with pytest.raises(ValueError, match="at least one sample"):
        bounds([])


@settings(max_examples=60, deadline=None)
@given(runs=runs_of_one_shift(overlapping=True))
def test_no_profile_that_keeps_the_averages_has_a_dose_outside_the_bounds_of_the_average(runs):
    """Linear programs over all profiles: the least and the most that the sampled time can have held."""
    count, rows, doses, sampled = every_profile(runs)
    limits = [(0, None) if one else (0, 0) for one in sampled]
    found = overlapping_average_bounds(runs, reference_min=600.0, shift_min=600.0, unsampled_reason="away")
    ends = [linprog(sign * np.ones(count), A_eq=rows, b_eq=doses, bounds=limits) for sign in (1.0, -1.0)]
    assert [end.status for end in ends] == [0, 0]
    assert found.lower.value <= ends[0].fun / 600.0 + 1e-6
    assert -ends[1].fun / 600.0 <= found.upper.value + 1e-6
    if len(runs) == 2:
        assert (found.lower.value, found.upper.value) == pytest.approx(
            (ends[0].fun / 600.0, -ends[1].fun / 600.0), abs=1e-6
        )


def test_two_ports_that_share_two_hours_by_hand():
    """300 min at 1.0 and 300 at 0.5 with 120 shared: all apart 450, the smaller all within the larger 300, over 480."""
    runs = [PortRun(1.0, 0, 300, "A"), PortRun(0.5, 180, 480, "B")]
    found = overlapping_average_bounds(runs)
    assert (found.lower.value, found.upper.value) == pytest.approx((300 / 480, 450 / 480))
    assert (found.lower.sense, found.upper.sense) == ("at least", "at most")
    estimate = overlapping_average(runs)
    assert found.lower.value < estimate.lower.value < estimate.upper.value < found.upper.value


@pytest.mark.parametrize(
    ("how", "low", "high"), [("zero", 300.0, 450.0), ("mean", 300 * 600 / 480, 450 * 600 / 480), ("highest", 300, 570)]
)
def test_the_time_without_a_sample_counts_as_it_does_in_the_estimate(how, low, high):
    runs = [PortRun(1.0, 0, 300, "A"), PortRun(0.5, 180, 480, "B")]
    found = overlapping_average_bounds(runs, unsampled=how, shift_min=600, unsampled_reason="away")
    assert (found.lower.value, found.upper.value) == pytest.approx((low / 480, high / 480))
    assert found.unsampled_min == 120


def test_samples_that_contradict_each_other_leave_the_interval_between_them():
    """Two ports over the same time at 2 and 3: no profile keeps both, and the average lies between."""
    found = overlapping_average_bounds([PortRun(2.0, 0, 480, "A"), PortRun(3.0, 0, 480, "B")])
    assert (found.lower.value, found.upper.value) == pytest.approx((2.0, 3.0))
    assert (found.lower.sense, found.upper.sense) == ("at least", "at most")


def test_breakthrough_on_one_of_the_ports_leaves_no_upper_end():
    lost = reading(1.0, "mg/m3", name="s", sense="at least")
    assert not overlapping_average_bounds([PortRun(lost, 0, 300), PortRun(0.5, 180, 480)]).is_bounded


@pytest.mark.parametrize(
    ("spans", "shared"),
    [
        ([(0, 240), (240, 480)], 0),
        ([(0, 480), (100, 115)], 0),
        ([(0, 480), (0, 480)], 0),
        ([(0, 480), (0, 240)], 0),
        ([(0, 480), (240, 480)], 0),
        ([(0, 300), (180, 480)], 120),
        ([(0, 300), (180, 480), (200, 500)], 300),
    ],
)
def test_minutes_count_as_shared_once_and_only_where_neither_sample_holds_the_other(spans, shared):
    assert partly_shared_minutes([PortRun(1.0, a, b) for a, b in spans]) == shared
