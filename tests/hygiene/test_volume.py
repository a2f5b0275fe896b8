"""Volume of a sample: closed forms, properties, how well minutes are known."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import reading
from lapel.hygiene import (
    Air,
    certificate_factor,
    clock_minutes,
    corrected_reading,
    counter_minutes,
    sample_flow,
    sample_volume,
    total_volume,
    volume_at,
)

airs = st.builds(Air, st.floats(250, 320), st.floats(60, 105))
volumes = st.floats(0.0, 2000.0)


@given(st.floats(0.005, 5.0), st.floats(0, 900))
def test_volume_is_flow_times_time(flow, minutes):
    assert sample_volume(flow, minutes).value == flow * minutes


@given(volumes, airs, airs)
def test_a_volume_there_and_back_is_the_same(volume, one, two):
    back = volume_at(volume_at(volume, measured=one, reference=two), measured=two, reference=one)
    assert back.value == pytest.approx(volume, rel=1e-12, abs=1e-12)


@given(volumes, airs, airs)
def test_the_amount_of_air_stays(volume, one, two):
    """P·V/T is the same before and after (Boyle, Gay-Lussac)."""
    out = volume_at(volume, measured=one, reference=two).value
    before = one.pressure_kpa * volume / one.temperature_k
    assert two.pressure_kpa * out / two.temperature_k == pytest.approx(before, rel=1e-12, abs=1e-12)


def test_segments_read_with_one_meter_add_their_certificate_and_not_its_square():
    factor = certificate_factor("M-1", 0.01)
    one = sample_volume(corrected_reading(0.1, factor=factor), 100)
    two = sample_volume(corrected_reading(0.1, factor=factor), 140)
    both = total_volume([one, two])
    assert both.value == pytest.approx(24.0)
    assert both.uncertainty == pytest.approx(0.24, rel=1e-9)


def test_drift_of_two_segments_is_two_causes_of_one_name():
    one = sample_volume(sample_flow(0.100, 0.090), 100)
    two = sample_volume(sample_flow(0.100, 0.090), 100)
    both = total_volume([one, two])
    assert both.uncertainty == pytest.approx(math.sqrt(2) * one.uncertainty, rel=1e-9)


def test_no_segment_is_no_volume():
    assert total_volume([]).value == 0


def test_a_segment_that_ran_backwards_is_named():
    with pytest.raises(ValueError, match=r"`minutes` of “sample volume” must be finite and not below 0; found -5"):
        sample_volume(0.1, -5)
    with pytest.raises(ValueError, match=r"`volumes\[2\]` of “volume of all segments” must be"):
        total_volume([1.0, -1.0])


def test_clock_minutes_scatter_as_two_readings_to_the_minute_do():
    """Both instants are read to the nearest minute; the error of the difference is simulated, seeded."""
    rng = np.random.default_rng(17)
    start, stop = rng.uniform(0, 600, size=(2, 400_000))
    error = (np.round(stop) - np.round(start)) - (stop - start)
    assert clock_minutes(480).uncertainty == pytest.approx(np.std(error), rel=0.005)


def test_a_stop_watch_is_sixty_times_finer():
    assert clock_minutes(15, resolution_min=1 / 60).uncertainty == pytest.approx(clock_minutes(15).uncertainty / 60)


def test_a_minute_weighs_more_in_a_quarter_hour_than_in_a_shift():
    assert clock_minutes(15).relative_uncertainty == pytest.approx(0.027, abs=0.0005)
    assert clock_minutes(480).relative_uncertainty < 0.001


def test_the_counter_is_off_by_its_last_digit_and_by_its_rate():
    found = counter_minutes(480)
    assert found.uncertainty == pytest.approx(math.hypot(1 / math.sqrt(12), 1 / math.sqrt(3)), rel=1e-12)
    assert counter_minutes(0).uncertainty == pytest.approx(1 / math.sqrt(12))


@pytest.mark.parametrize("function", [clock_minutes, counter_minutes])
def test_minutes_below_nothing_are_refused(function):
    with pytest.raises(ValueError, match=r"`minutes` must be finite and not below 0; found -1"):
        function(-1)


def test_a_flow_as_a_lower_bound_gives_a_volume_as_a_lower_bound():
    flow = reading(0.1, "L/min", name="flow", sense="at least")
    assert sample_volume(flow, 100).sense == "at least"
    assert total_volume([sample_volume(flow, 100), 3.0]).sense == "at least"
