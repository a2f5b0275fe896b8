"""The shift average: intervals from non-detects and unsampled time, with shared causes kept."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import reading, working
from lapel.hygiene import compare, sample_volume, time_weighted_average, unsampled_concentration_to_reach
from lapel.hygiene.concentration import concentration


def found(value, u=0.0, unit="mg/m3"):
    return reading(value, unit, name="sample", uncertainty=u)


def less_than(value):
    return reading(value, "mg/m3", name="sample", sense="at most")


positive = st.floats(0.001, 1e3)


@given(values=st.lists(st.tuples(positive, st.floats(1, 120)), min_size=1, max_size=4))
def test_a_fully_sampled_shift_is_the_weighted_mean(values):
    c, t = np.array(values).T
    average = time_weighted_average(values, reference_min=float(t.sum()))
    assert average.upper.value == pytest.approx(np.average(c, weights=t))
    assert average.lower is average.upper
    assert average.unsampled_min == pytest.approx(0.0, abs=1e-9)


@given(
    segments=st.lists(st.tuples(positive, st.floats(1, 100), st.booleans()), min_size=1, max_size=4),
    treatment=st.sampled_from(["zero", "mean", "highest"]),
)
def test_the_lower_end_is_never_above_the_upper_end(segments, treatment):
    listed = [(less_than(c) if censored else c, t) for c, t, censored in segments]
    average = time_weighted_average(listed, unsampled=treatment)
    assert average.lower.value <= average.upper.value * (1 + 1e-12)


@given(segments=st.lists(st.tuples(positive, st.floats(1, 100)), min_size=1, max_size=4))
def test_no_treatment_of_unsampled_time_is_above_the_highest(segments):
    zero, mean, highest = (
        time_weighted_average(segments, unsampled=how).upper.value for how in ("zero", "mean", "highest")
    )
    assert zero <= mean * (1 + 1e-12) <= highest * (1 + 2e-12)


def test_a_longer_shift_is_converted_to_the_reference_period():
    """EN 689 and HSE: 10 h at 4 mg/m3 are 5 mg/m3 over 8 h."""
    average = time_weighted_average([(4.0, 600)], shift_min=600)
    assert average.upper.value == pytest.approx(5.0)
    assert average.sampled_share == 1.0


def test_a_shorter_shift_has_no_unsampled_time():
    average = time_weighted_average([(8.0, 240)], shift_min=240)
    assert average.upper.value == pytest.approx(4.0)
    assert average.unsampled_min == 0.0
    assert average.upper.sense == "exactly"


def test_non_detects_count_from_nothing_to_their_bound():
    average = time_weighted_average([(less_than(2.0), 240), (3.0, 240)])
    assert average.lower.value == pytest.approx(1.5)
    assert average.upper.value == pytest.approx(2.5)
    assert (average.lower.sense, average.upper.sense) == ("at least", "at most")


def test_all_non_detects_are_an_upper_bound_all_the_way():
    average = time_weighted_average([(less_than(2.0), 480)])
    assert average.lower.value == 0.0
    assert average.upper.sense == "at most"
    assert compare(average.lower, average.upper, found(5.0)).verdict == "under"
    assert compare(average.lower, average.upper, found(1.0)).verdict == "cannot tell"


def test_breakthrough_leaves_no_upper_end():
    average = time_weighted_average([(reading(2.0, "mg/m3", name="s", sense="at least"), 240), (3.0, 240)])
    assert not average.is_bounded
    assert compare(average.lower, average.upper, found(100.0)).verdict == "cannot tell"
    assert compare(average.lower, average.upper, found(2.0)).verdict == "over"


def test_breakthrough_beside_a_non_detect_bounds_neither_side_of_the_sum_wrongly():
    average = time_weighted_average([(reading(2.0, "mg/m3", name="s", sense="at least"), 240), (less_than(3.0), 240)])
    assert average.lower.value == pytest.approx(1.0)
    assert average.lower.sense == "at least"
    assert average.upper.sense == "unknown"
    assert not average.is_bounded


def test_zero_is_a_least_value_unless_a_reason_is_stated():
    bare = time_weighted_average([(5.0, 420)], unsampled="zero")
    assert bare.upper.value == pytest.approx(5 * 420 / 480)
    assert not bare.is_bounded
    assert compare(bare.lower, bare.upper, found(10.0)).verdict == "cannot tell"
    assert "without proof" in bare.treatment
    told = time_weighted_average([(5.0, 420)], unsampled="zero", unsampled_reason="process down from 14:00")
    assert compare(told.lower, told.upper, found(10.0)).verdict == "under"
    assert "process down from 14:00" in told.treatment


def test_zero_can_show_over():
    bare = time_weighted_average([(12.0, 420)], unsampled="zero")
    assert compare(bare.lower, bare.upper, found(10.0)).verdict == "over"


def test_mean_carries_on_and_highest_spans_from_nothing():
    segments = [(2.0, 120), (6.0, 120)]
    mean = time_weighted_average(segments, unsampled="mean")
    assert mean.lower.value == mean.upper.value == pytest.approx(4.0)
    highest = time_weighted_average(segments, unsampled="highest")
    assert highest.lower.value == pytest.approx(2.0)
    assert highest.upper.value == pytest.approx((2 * 120 + 6 * 120 + 6 * 240) / 480)
    assert (highest.lower.sense, highest.upper.sense) == ("at least", "at most")


def test_the_mean_of_non_detects_stays_a_bound():
    average = time_weighted_average([(less_than(2.0), 240)], unsampled="mean")
    assert average.upper.value == pytest.approx(2.0)
    assert average.upper.sense == "at most"
    assert average.lower.value == 0.0


@given(c=positive, sampled=st.floats(60, 470), limit=st.floats(0.01, 1e3))
def test_the_concentration_that_would_reach_the_limit_reaches_it(c, sampled, limit):
    average = time_weighted_average([(c, sampled)], unsampled="zero")
    x = unsampled_concentration_to_reach(average, limit)
    reached = time_weighted_average([(c, sampled), (x, 480 - sampled)])
    if x > 0:
        assert reached.upper.value == pytest.approx(limit, rel=1e-6)
    else:
        assert reached.upper.value >= limit * (1 - 1e-9)


def test_the_concentration_to_reach_does_not_depend_on_the_treatment():
    for how in ("zero", "mean", "highest"):
        average = time_weighted_average([(2.0, 120), (6.0, 120)], unsampled=how)
        assert unsampled_concentration_to_reach(average, 5.0) == pytest.approx((5 * 480 - 960) / 240)
    assert math.isinf(unsampled_concentration_to_reach(time_weighted_average([(1.0, 480)]), 5.0))


def test_a_shared_flow_meter_is_not_averaged_away():
    """Two samples read with one meter of 5 %: the average keeps 5 %, and 3.5 % if the meters were two."""
    flow = reading(0.1, "L/min", name="flow", uncertainty=0.005, cause="meter M-1")
    other = reading(0.1, "L/min", name="flow", uncertainty=0.005, cause="meter M-2")

    def sample(q):
        return concentration(24.0, sample_volume(q, 240))

    one = time_weighted_average([(sample(flow), 240), (sample(flow), 240)]).upper
    two = time_weighted_average([(sample(flow), 240), (sample(other), 240)]).upper
    assert one.relative_uncertainty == pytest.approx(0.05, rel=1e-6)
    assert two.relative_uncertainty == pytest.approx(0.05 / math.sqrt(2), rel=1e-6)


def test_uncertainty_matches_a_simulation_with_a_shared_cause_and_a_clock():
    rng = np.random.default_rng(11)
    n = 200_000
    calibration = rng.normal(1.0, 0.04, n)
    c1, c2 = rng.normal(2.0, 0.1, n), rng.normal(3.0, 0.2, n)
    t1 = rng.normal(200.0, 3.0, n)
    simulated = (c1 * calibration * t1 + c2 * calibration * 240.0) / 480.0

    factor = reading(1.0, "mg/m3", name="calibration", uncertainty=0.04)
    from lapel.figures import formula

    @formula("product", "a·b", unit="mg/m3", source="test")
    def product(a, b):
        return a * b

    average = time_weighted_average(
        [
            (product(found(2.0, 0.1), factor), reading(200.0, "min", name="run", uncertainty=3.0)),
            (product(found(3.0, 0.2), factor), 240.0),
        ],
        unsampled_reason="away from the process",
    ).upper
    assert average.value == pytest.approx(simulated.mean(), rel=2e-3)
    assert average.uncertainty == pytest.approx(simulated.std(), rel=0.01)


def test_the_working_shows_every_sample_and_the_unsampled_time():
    average = time_weighted_average([(found(2.0), 120), (found(6.0), 120)], unsampled="mean")
    steps = working(average.upper).steps
    assert [step.name for step in steps][-1] == "time-weighted average"
    assert "time without a sample" in [step.name for step in steps]


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: time_weighted_average([]), "at least one sample"),
        (lambda: time_weighted_average([(1.0, 0)]), "minutes of segment 1 must be finite and above 0; found 0"),
        (lambda: time_weighted_average([(1.0, 10), (-1.0, 10)]), "concentration of segment 2"),
        (lambda: time_weighted_average([(math.nan, 10)]), "concentration of segment 1 must be finite"),
        (lambda: time_weighted_average([(1.0, 300), (1.0, 300)], shift_min=480), "do samples overlap"),
        (lambda: time_weighted_average([(1.0, 10)], unsampled="nil"), "`unsampled` must be"),
        (lambda: time_weighted_average([(1.0, 10)], reference_min=0), "`reference_min` must be"),
        (lambda: time_weighted_average([(found(1.0), 10), (found(1.0, unit="ppm"), 10)]), "in one unit"),
        (lambda: time_weighted_average([(1.0, found(10.0))]), "must be in min"),
    ],
)
def test_unusable_input_is_refused_by_name(call, words):
    with pytest.raises(ValueError, match=words):
        call()
