"""Flow of a sample: repeatability, drift, shared certificates."""

import math
import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import Figure, reading, working
from lapel.hygiene import (
    SampleFlow,
    certificate_factor,
    flow_by_rule,
    flow_change,
    replicate_flow,
    sample_flow,
)

flows = st.floats(0.005, 5.0)


@given(st.lists(flows, min_size=2, max_size=12))
def test_repeatability_is_the_standard_deviation_of_the_mean(readings):
    s = statistics.stdev(readings)
    found = replicate_flow(readings)
    assert found.flow.value == pytest.approx(statistics.mean(readings), rel=1e-12)
    assert found.n == len(readings)
    assert found.spread == pytest.approx(
        (max(readings) - min(readings)) / statistics.mean(readings), rel=1e-9, abs=1e-12
    )
    if s > 1e-6 * found.flow.value:
        assert found.flow.uncertainty == pytest.approx(s / math.sqrt(len(readings)), rel=1e-6)


def test_one_reading_has_the_stated_default_repeatability():
    found = replicate_flow([0.1])
    assert (found.spread, found.n) == (0.0, 1)
    assert found.flow.relative_uncertainty == pytest.approx(0.01)
    terms = working(found.flow).steps[-1].terms
    assert any("tell no spread" in term.origin for term in terms)


def test_readings_that_agree_to_the_last_digit_are_not_taken_as_perfect():
    found = replicate_flow([0.1, 0.1, 0.1])
    assert found.flow.relative_uncertainty == pytest.approx(0.01 / math.sqrt(3))


def test_a_coarse_display_limits_how_sure_a_round_can_be():
    """0.10 on a display of two decimals is anything from 0.095 to 0.105: u = 0.01/√12."""
    found = replicate_flow([0.10, 0.10, 0.10], resolution_lpm=0.01)
    assert found.flow.uncertainty == pytest.approx(0.01 / math.sqrt(12))
    fine = replicate_flow([0.1021, 0.1024, 0.1019], resolution_lpm=0.0001)
    assert fine.flow.uncertainty == pytest.approx(statistics.stdev([0.1021, 0.1024, 0.1019]) / math.sqrt(3))


def test_the_certificate_is_not_averaged_away_by_reading_more_often():
    factor = certificate_factor("M-1", 0.01)
    rng = np.random.default_rng(3)
    many = replicate_flow(list(rng.normal(0.2, 0.0005, size=400)), certificate=factor)
    assert many.flow.relative_uncertainty == pytest.approx(0.01, rel=0.01)


def test_two_ports_read_with_one_meter_share_only_its_certificate():
    factor = certificate_factor("M-1", 0.01)
    a = replicate_flow([0.100, 0.102, 0.101], certificate=factor, cause="readings, port A").flow
    b = replicate_flow([0.200, 0.204, 0.202], certificate=factor, cause="readings, port B").flow
    causes = {row.cause for row in b.budget()}
    assert causes == {"certificate of meter M-1", "readings, port B"}
    u_rep_a, u_rep_b = 0.001 / math.sqrt(3), 0.002 / math.sqrt(3)
    together = math.sqrt((0.01 * (a.value + b.value)) ** 2 + u_rep_a**2 + u_rep_b**2)
    assert (a.amount + b.amount).std_dev == pytest.approx(together, rel=1e-9)


def test_no_reading_is_refused():
    with pytest.raises(ValueError, match=r"`readings` must have 1 reading or more; found none"):
        replicate_flow([])


@pytest.mark.parametrize("bad", [0.0, -0.1, math.nan, math.inf])
def test_the_reading_that_cannot_be_is_named_by_its_place(bad):
    with pytest.raises(ValueError, match=r"`readings\[2\]` of “mean of replicate readings” must be finite and above 0"):
        replicate_flow([0.1, bad, 0.1])


@given(flows, flows)
def test_sample_flow_is_the_mean_and_its_drift_the_rectangle(pre, post):
    found = sample_flow(pre, post)
    assert found.value == pytest.approx((pre + post) / 2, rel=1e-12)
    assert found.uncertainty == pytest.approx(abs(post - pre) / (2 * math.sqrt(3)), rel=1e-9, abs=1e-15)
    assert found.change == pytest.approx((post - pre) / pre, rel=1e-9, abs=1e-12)


def test_a_step_at_an_unknown_time_scatters_the_true_mean_as_stated():
    """The flow steps from pre to post at a uniform time: its mean is uniform between both. Seeded simulation."""
    when = np.random.default_rng(11).uniform(0, 1, size=400_000)
    means = when * 0.100 + (1 - when) * 0.086
    found = sample_flow(0.100, 0.086)
    assert found.value == pytest.approx(np.mean(means), abs=3 * np.std(means) / 600)
    assert found.uncertainty == pytest.approx(np.std(means), rel=0.005)


@pytest.mark.parametrize(("basis", "change"), [("pre", -0.14), ("post", -0.14 / 0.86), ("mean", -0.14 / 0.93)])
def test_the_same_pair_is_three_percentages(basis, change):
    """100 to 86: 14.0 % of pre, 16.3 % of post, 15.1 % of the mean."""
    found = sample_flow(0.100, 0.086, basis=basis)
    assert (found.basis, found.change) == (basis, pytest.approx(change, rel=1e-9))
    assert flow_change(0.100, 0.086, basis=basis) == found.change


@pytest.mark.parametrize(("share", "u"), [(0.05, 0.014), (0.10, 0.029), (0.14, 0.040), (0.20, 0.058)])
def test_drift_of_so_much_is_so_much_uncertainty(share, u):
    """Closed form share/(2·√3), of the flow before."""
    assert sample_flow(1.0, 1.0 - share).uncertainty == pytest.approx(u, abs=0.0005)


def test_a_sample_flow_is_a_figure_that_shows_its_working():
    factor = certificate_factor("M-1", 0.005)
    pre = replicate_flow([0.101, 0.102, 0.103], certificate=factor, cause="readings before").flow
    post = replicate_flow([0.097, 0.098, 0.099], certificate=factor, cause="readings after").flow
    found = sample_flow(pre, post)
    assert isinstance(found, SampleFlow)
    assert isinstance(found, Figure)
    assert [step.name for step in working(found).steps] == ["mean of replicate readings"] * 2 + ["sample flow"]
    assert {row.cause for row in found.budget()} == {
        "certificate of meter M-1", "readings before", "readings after", "flow drift",
    }  # fmt: skip


def test_a_dead_pump_has_no_sample_flow():
    with pytest.raises(ValueError, match=r"`post_lpm` of “sample flow” must be finite and above 0; found 0"):
        sample_flow(0.1, 0.0)


def test_a_basis_nobody_defined_is_refused():
    with pytest.raises(ValueError, match=r"`basis` must be “pre”, “post” or “mean”; found “nominal”"):
        sample_flow(0.1, 0.1, basis="nominal")


def test_the_bare_formula_takes_arrays():
    assert sample_flow.raw(np.array([1.0, 2.0]), np.array([3.0, 4.0])).tolist() == [2.0, 3.0]


@given(flows, flows)
def test_the_rules_pick_what_they_say_and_stay_within_both(pre, post):
    found = {rule: flow_by_rule(pre, post, rule=rule).value for rule in ("mean", "lower", "higher", "pre", "post")}
    assert found["lower"] == min(pre, post)
    assert found["higher"] == max(pre, post)
    assert (found["pre"], found["post"]) == (pre, post)
    assert found["lower"] <= found["mean"] * (1 + 1e-12)
    assert found["mean"] <= found["higher"] * (1 + 1e-12)


def test_a_flow_taken_from_one_end_carries_the_distance_to_the_true_mean():
    """Root mean square of (mean - used) with the mean uniform between both: |d|/√3. Seeded simulation."""
    mean = np.random.default_rng(5).uniform(0.086, 0.100, size=400_000)
    expected = math.sqrt(np.mean((mean - 0.086) ** 2))
    assert flow_by_rule(0.100, 0.086, rule="lower").uncertainty == pytest.approx(expected, rel=0.005)


def test_a_rule_nobody_defined_is_refused():
    with pytest.raises(ValueError, match=r"`rule` must be .*; found “nominal”"):
        flow_by_rule(0.1, 0.1, rule="nominal")


def test_a_flow_known_only_as_a_bound_stays_one():
    bound = reading(0.1, "L/min", name="flow", sense="at least")
    assert sample_flow(bound, 0.1).sense == "at least"
