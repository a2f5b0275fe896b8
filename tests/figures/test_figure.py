"""The figure carries value, unit, uncertainty, sense and derivation."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import Micrograms, above_zero, formula, reading
from lapel.figures.formula import Litres, LitresPerMinute, Minutes, UnitMismatch
from lapel.said import told


@formula("sample volume", "V = Q·t", unit="L", source="test", needs={"flow_lpm": above_zero, "minutes": above_zero})
def volume(flow_lpm: LitresPerMinute, minutes: Minutes):
    return flow_lpm * minutes


@formula("concentration", "C = m/V", unit="mg/m3", source="test", falls_with=("volume_l",))
def content(mass_ug: Micrograms, volume_l: Litres):
    return mass_ug / volume_l


@formula("sum", "s = Σx", unit="ug", source="test")
def total(masses):
    return sum(masses)


@formula("difference", "d = a - b", unit="ug", source="test", falls_with=("b",))
def difference(a: Micrograms, b: Micrograms):
    return a - b


def test_a_reading_keeps_what_was_read():
    flow = reading(0.1, "L/min", name="flow", uncertainty=0.002, source="entry 7")
    assert (flow.value, flow.unit, flow.uncertainty, flow.source) == (0.1, "L/min", 0.002, "entry 7")
    assert flow.relative_uncertainty == pytest.approx(0.02)
    assert flow.derivation is None


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_reading_that_is_no_number_is_refused(value):
    with pytest.raises(ValueError, match="`flow` must be a finite number"):
        reading(value, "L/min", name="flow")


@pytest.mark.parametrize("uncertainty", [-0.1, math.nan, math.inf])
def test_an_uncertainty_below_zero_or_unknown_is_refused(uncertainty):
    with pytest.raises(ValueError, match="0 or more and finite"):
        reading(1.0, "L", name="volume", uncertainty=uncertainty)


def test_two_ports_behind_one_meter_share_its_uncertainty():
    """JCGM 100:2008, 5.2.2, example: fully correlated inputs add linearly, independent ones in quadrature."""
    meter = reading(1.0, "ug", name="meter", uncertainty=0.1)
    other = reading(1.0, "ug", name="other", uncertainty=0.1)
    assert total([meter, meter]).uncertainty == pytest.approx(0.2)
    assert total([meter, other]).uncertainty == pytest.approx(math.sqrt(0.02))
    assert difference(meter, meter).uncertainty == 0.0


def test_the_budget_adds_to_one_and_names_causes_once():
    certificate = reading(1.0, "ug", name="a", uncertainty=0.3, cause="certificate")
    second = reading(2.0, "ug", name="b", uncertainty=0.4, cause="reading")
    budget = total([certificate, second, certificate]).budget()
    assert [row.cause for row in budget] == ["certificate", "reading"]
    assert sum(row.share for row in budget) == pytest.approx(1.0)
    assert budget[0].uncertainty == pytest.approx(0.6)


def test_two_variables_of_one_cause_are_one_line_of_the_budget():
    """0.3 and 0.4 in quadrature are 0.5 (JCGM 100:2008, 5.1.2), beside 1.2 from elsewhere: 0.25 of 1.69."""
    parts = [
        reading(value, "ug", name=name, uncertainty=u, cause=cause)
        for value, name, u, cause in [(1, "a", 0.3, "spread"), (2, "b", 0.4, "spread"), (3, "c", 1.2, "meter")]
    ]
    budget = total(parts).budget()
    assert [row.cause for row in budget] == ["meter", "spread"]
    assert budget[1].uncertainty == pytest.approx(0.5)
    assert budget[1].share == pytest.approx(0.25 / 1.69)


@given(st.floats(0.001, 10), st.floats(1, 1000), st.floats(0, 0.2), st.floats(0, 0.2))
def test_relative_uncertainties_of_a_product_add_in_quadrature(flow, minutes, u_flow, u_time):
    """JCGM 100:2008, 5.1.6: for Y = X1·X2, (u/y)² = (u1/x1)² + (u2/x2)²."""
    made = volume(
        reading(flow, "L/min", name="flow", uncertainty=flow * u_flow),
        reading(minutes, "min", name="time", uncertainty=minutes * u_time),
    )
    assert made.relative_uncertainty == pytest.approx(math.hypot(u_flow, u_time), abs=1e-12)


def test_propagation_agrees_with_monte_carlo():
    """Linear propagation against 400,000 draws at 2 to 5 % input uncertainty; tolerance five standard errors."""
    draw = np.random.default_rng(11).normal
    n = 400_000
    simulated = draw(50, 2.5, n) / (draw(0.1, 0.002, n) * draw(480, 3, n))
    made = content(
        reading(50.0, "ug", name="mass", uncertainty=2.5),
        volume(reading(0.1, "L/min", name="q", uncertainty=0.002), reading(480.0, "min", name="t", uncertainty=3.0)),
    )
    assert made.value == pytest.approx(simulated.mean(), rel=1e-3)
    assert made.uncertainty == pytest.approx(simulated.std(), rel=5 / math.sqrt(2 * n) + 2e-3)


def test_a_non_detect_stays_an_upper_bound():
    limit = reading(0.5, "ug", name="reporting limit", sense="at most")
    assert content(limit, 12.0).sense == "at most"
    assert total([limit, reading(1.0, "ug", name="front")]).sense == "at most"
    assert difference(3.0, limit).sense == "at least"
    assert difference(limit, limit).sense == "unknown"


def test_an_upper_bound_of_the_volume_is_a_lower_bound_of_the_concentration():
    at_most = reading(12.0, "L", name="volume", sense="at most")
    assert content(1.0, at_most).sense == "at least"


def test_the_wrong_unit_is_named():
    mass = reading(3.0, "ug", name="front mass")
    with pytest.raises(UnitMismatch, match="`flow_lpm` of “sample volume” must be in L/min; “front mass” is in ug"):
        volume(mass, 10.0)


def test_a_value_out_of_range_is_named():
    with pytest.raises(ValueError, match="`minutes` of “sample volume” must be finite and above 0; found -3"):
        volume(0.1, -3.0)
    with pytest.raises(ValueError, match="found nan"):
        volume(math.nan, 3.0)


def test_raw_is_the_bare_function_and_takes_arrays():
    flow = np.array([0.1, 0.2])
    assert volume.raw(flow, 10.0) == pytest.approx([1.0, 2.0])
    assert volume.__name__ == "volume"


def test_a_formula_cannot_name_arguments_it_lacks():
    with pytest.raises(TypeError, match=r"names arguments it does not have: \['masse'\]"):

        @formula("x", "x", unit="1", source="test", needs={"masse": above_zero})
        def wrong(mass):
            return mass


def test_ancestors_come_before_their_consequences_and_once():
    flow = reading(0.1, "L/min", name="flow")
    air = volume(flow, 10.0)
    result = content(total([1.0, 2.0]), air)
    order = list(result.ancestors())
    assert len(order) == len({id(figure) for figure in order}) == 4
    assert order.index(flow) < order.index(air) < order.index(result) == 3


def test_the_usual_error_for_a_wrong_call():
    with pytest.raises(TypeError, match="too many positional"):
        volume(0.1, 10.0, 3.0)
    with pytest.raises(TypeError, match="missing a required argument: 'minutes'"):
        volume(0.1)
    with pytest.raises(TypeError, match="unexpected keyword"):
        volume(0.1, 10.0, hours=3.0)
    with pytest.raises(TypeError, match="multiple values"):
        volume(0.1, flow_lpm=0.2, minutes=3.0)


def test_inputs_stand_in_the_order_of_the_formula():
    made = content(volume_l=2.0, mass_ug=reading(1.0, "ug", name="mass"))
    assert list(made.derivation.inputs) == ["mass_ug", "volume_l"]


def test_a_source_in_parts_is_a_sentence_when_it_is_read():
    read = reading(0.102, "L/min", name="flow reading", source=("entry {entry}, read on {meter}", "e-7", "M-1"))
    for figure in (read, read.named("flow"), read.bounding("at most")):
        assert figure.source == "entry e-7, read on M-1"
        assert told(figure.source, {"entry {entry}, read on {meter}": "{meter}: {entry}"}.__getitem__) == "M-1: e-7"


def test_a_source_without_all_its_parts_is_refused():
    read = reading(0.102, "L/min", name="flow reading", source=("entry {entry}, read on {meter}", "e-7"))
    with pytest.raises(ValueError, match="shorter"):
        _ = read.source
