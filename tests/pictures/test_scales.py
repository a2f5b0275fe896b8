"""Scales put values where they belong."""

import math
from itertools import pairwise
from statistics import NormalDist

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from lapel.pictures.scales import LinearScale, LogScale, ProbabilityScale, decades_around

ENDS = st.floats(1e-6, 1e6)


def test_equal_ratios_take_equal_steps():
    scale = LogScale(0.01, 100.0, 0.0, 400.0)
    assert [scale.at(v) for v in (0.01, 0.1, 1.0, 10.0, 100.0)] == pytest.approx([0.0, 100.0, 200.0, 300.0, 400.0])
    assert scale.at(0.0) == 0.0
    assert scale.at(math.inf) == 400.0


def test_a_normal_distribution_is_a_straight_line():
    scale = ProbabilityScale(0.02, 0.98, 10.0, 210.0)
    assert scale.at(0.5) == pytest.approx(110.0)
    deviates = [-1.5, -0.5, 0.5, 1.5]
    places = [scale.at(NormalDist().cdf(z)) for z in deviates]
    assert [b - a for a, b in pairwise(places)] == pytest.approx([places[1] - places[0]] * 3)


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6))
def test_a_linear_axis_names_a_few_round_values_within_it(low, span):
    scale = LinearScale(low, low + span, 0.0, 100.0)
    assume(scale.high > scale.low + span / 2)
    values = [value for value, _ in scale.ticks()]
    assert 3 <= len(values) <= 8
    assert all(low - 1e-6 * span <= value <= low + span + 1e-6 * span for value in values)


@given(ENDS, st.floats(1.5, 1e8))
def test_a_log_axis_names_values_within_it_in_order(low, ratio):
    scale = LogScale(low, low * ratio, 0.0, 100.0)
    values = [value for value, _ in scale.ticks()]
    assert values == sorted(values)
    assert all(low * (1 - 1e-8) <= value <= low * ratio * (1 + 1e-8) for value in values)
    assert all(0.0 <= scale.at(value) <= 100.0 for value in values)


@given(ENDS, ENDS)
def test_decades_hold_both_values(a, b):
    low, high = decades_around(min(a, b), max(a, b))
    assert low <= min(a, b) * (1 + 1e-8)
    assert high >= max(a, b) * (1 - 1e-8)
    assert high > low
    assert math.log10(low) == pytest.approx(round(math.log10(low)), abs=1e-9)
