"""The additive index: effect groups, non-detects and shared causes."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import reading
from lapel.hygiene import MixtureComponent, additive_index, additive_indices, compare, sample_volume
from lapel.hygiene.concentration import concentration
from lapel.hygiene.mixtures import sum_of_shares


def found(value, u=0.0, sense="exactly", unit="mg/m3"):
    return reading(value, unit, name="exposure", uncertainty=u, sense=sense)


def component(agent, value, limit, *groups, sense="exactly"):
    figure = found(value, sense=sense)
    return MixtureComponent(agent, figure, figure, limit, groups)


pairs = st.lists(st.tuples(st.floats(0, 1e3), st.floats(1e-3, 1e3)), min_size=1, max_size=6)


@given(pairs=pairs)
def test_the_index_is_the_sum_of_the_shares(pairs):
    assert additive_index(pairs).value == pytest.approx(sum(c / limit for c, limit in pairs))


@given(pairs=pairs, factor=st.floats(0.01, 100))
def test_the_index_does_not_depend_on_the_units_of_a_pair(pairs, factor):
    scaled = [(c * factor, limit * factor) for c, limit in pairs]
    assert additive_index(scaled).value == pytest.approx(additive_index(pairs).value)


def test_pairs_may_be_in_different_units_but_not_within_a_pair():
    index = additive_index([(found(1.0), found(2.0)), (found(10, unit="ppm"), found(40, unit="ppm"))])
    assert index.value == pytest.approx(0.75)
    with pytest.raises(ValueError, match="exposure 1 is in mg/m3 but its limit in ppm"):
        additive_index([(found(1.0), found(2.0, unit="ppm"))])


def test_a_non_detect_makes_the_index_an_upper_bound_and_an_interval():
    grouping = additive_indices(
        [component("a", 0.4, 1.0, "narcotic"), component("b", 0.3, 1.0, "narcotic", sense="at most")]
    )
    (index,) = grouping.indices
    assert index.lower.value == pytest.approx(0.4)
    assert index.upper.value == pytest.approx(0.7)
    assert (index.lower.sense, index.upper.sense) == ("at least", "at most")
    assert compare(index.lower, index.upper, 1.0).verdict == "under"
    assert compare(index.lower, index.upper, 0.5).verdict == "cannot tell"


def test_breakthrough_of_one_agent_leaves_the_index_without_an_upper_end():
    (index,) = additive_indices(
        [component("a", 0.4, 1.0, "narcotic"), component("b", 0.3, 1.0, "narcotic", sense="at least")]
    ).indices
    assert compare(index.lower, index.upper, 1.0).verdict == "cannot tell"
    assert compare(index.lower, index.upper, 0.5).verdict == "over"


def test_agents_are_added_only_within_their_effect_groups():
    grouping = additive_indices(
        [
            component("toluene", 0.5, 1.0, "narcotic", "irritant"),
            component("acetone", 0.4, 1.0, "irritant", "narcotic"),
            component("lead", 0.9, 1.0, "nerve"),
            component("ammonia", 0.3, 1.0, "irritant"),
            component("unknown", 0.8, 1.0),
        ]
    )
    found_groups = {index.effect_group: (index.agents, index.upper.value) for index in grouping.indices}
    assert found_groups["narcotic"][0] == ("toluene", "acetone")
    assert found_groups["narcotic"][1] == pytest.approx(0.9)
    assert found_groups["irritant"][1] == pytest.approx(1.2)
    assert grouping.alone == ("lead",)
    assert grouping.effects_unknown == ("unknown",)


def test_the_shares_name_who_drives_the_index():
    (index,) = additive_indices([component("a", 0.6, 1.0, "x"), component("b", 0.2, 1.0, "x")]).indices
    assert index.shares == pytest.approx({"a": 0.75, "b": 0.25})
    (nothing,) = additive_indices([component("a", 0.0, 1.0, "x"), component("b", 0.0, 1.0, "x")]).indices
    assert nothing.shares == {"a": 0.0, "b": 0.0}


def test_agents_of_one_tube_share_the_flow():
    """One flow of 5 % behind both: the index has 5 %; two flows would leave 3.5 %."""
    volume = sample_volume(reading(0.1, "L/min", name="flow", uncertainty=0.005), 240)
    index = additive_index([(concentration(12.0, volume), 1.0), (concentration(12.0, volume), 1.0)])
    assert index.relative_uncertainty == pytest.approx(0.05, rel=1e-6)


def test_the_raw_formula_works_on_arrays():
    import numpy as np

    totals = sum_of_shares.raw([np.array([1.0, 2.0]), np.array([0.5, 0.5])], [2.0, 1.0])
    assert totals == pytest.approx([1.0, 1.5])


def test_unusable_mixtures_are_refused():
    with pytest.raises(ValueError, match="at least one exposure"):
        additive_index([])
    with pytest.raises(ValueError, match="limit 2 must be finite and above 0; found 0"):
        additive_index([(1.0, 1.0), (1.0, 0.0)])
    with pytest.raises(ValueError, match="exposure 1 must be finite and not below 0"):
        additive_index([(math.nan, 1.0)])
    with pytest.raises(ValueError, match="found twice: a"):
        additive_indices([component("a", 1.0, 1.0, "x"), component("a", 1.0, 1.0, "x")])
