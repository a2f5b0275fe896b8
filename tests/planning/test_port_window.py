import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.planning.port_window import port_window
from lapel.planning.safe_volume import safe_maximum_volume
from lapel.planning.volume_window import MethodWindow, full_shift, short_term, task

# NMAM method 7401, alkaline dusts: 1 to 4 L/min, 70 L at 2 mg/m³ to 1000 L. The volume bound of 70 L is the
# method's; the reporting limit is chosen so that it does not bind.
ALKALINE_DUST = MethodWindow("sodium hydroxide", "NIOSH 7401", 1.0, 4.0, loq_ug=10, volume_min_l=70, volume_max_l=1000)


def test_a_twenty_minute_task_needs_four_litres_a_minute():
    """
    NMAM chapter D, worked example for sodium hydroxide, limit 2 mg/m³, 20-minute process sample: 4 L/min
    (80 L); 1, 2 or 3 L/min do not collect enough.
    """
    window = port_window(ALKALINE_DUST, task(2.0, minutes=20, fraction=0.1))
    (run,) = window.runs
    assert [flow for flow in (1, 2, 3, 4) if run.allows(flow)] == [4]
    assert window.volume_low_l == 70


def test_a_shift_needs_one_or_two_litres_a_minute_of_the_same_sampler():
    """NMAM chapter D, same example, 480 min: 1 or 2 L/min (480 or 960 L); 4 L/min would draw 1920 L."""
    window = port_window(ALKALINE_DUST, full_shift(2.0, samplers_max=1))
    (run,) = window.runs
    assert [flow for flow in (1, 2, 4) if run.allows(flow)] == [1, 2]
    assert run.samplers == 1


def test_twelve_litres_at_a_hundred_ml_min_are_four_tubes_or_a_port_of_twenty_five():
    """Method maximum 12 L: 120 min at 100 mL/min, so 480 min need 4 tubes, or one at 25 mL/min."""
    hundred = MethodWindow("benzene", "M", 0.1, 0.1, loq_ug=1, volume_max_l=12)
    assert port_window(hundred, full_shift(3.0)).fewest.samplers == 4
    any_flow = MethodWindow("benzene", "M", 0.01, 0.2, loq_ug=1, volume_max_l=12)
    window = port_window(any_flow, full_shift(3.0))
    assert window.fewest.samplers == 1
    assert window.fewest.flow_high_lpm == pytest.approx(0.025)
    assert window.minutes_at(0.1) == pytest.approx((1 / 0.3 / 0.1, 120))


def test_a_short_term_sample_of_fifteen_minutes_at_two_hundred_ml_min_draws_three_litres():
    method = MethodWindow("toluene", "M", 0.01, 0.2, loq_ug=1000 * 3 * 0.5, volume_max_l=8)
    run = port_window(method, short_term(1000)).fewest
    assert (run.samplers, run.minutes_each) == (1, 15)
    assert run.flow_low_lpm == pytest.approx(0.2)


def test_masses_at_shares_of_the_limit_are_volume_times_concentration():
    method = MethodWindow("toluene", "M", 0.02, 0.02, loq_ug=5, volume_max_l=12)
    window = port_window(method, full_shift(40.0))
    masses = {m.limit_share: m for m in window.expected_masses(window.fewest)}
    assert masses[1.0].low_ug == pytest.approx(9.6 * 40)
    assert masses[0.1].low_over_loq == pytest.approx(9.6 * 4 / 5)


def test_too_little_air_names_the_reporting_limit_that_would_do():
    method = MethodWindow("hexane", "M", 0.01, 0.2, loq_ug=100)
    window = port_window(method, task(10.0, minutes=15))
    assert not window.is_feasible
    # 15 min x 0.2 L/min = 3 L; a tenth of 10 mg/m³ in 3 L is 3 µg.
    assert "Too little air" in window.verdict
    assert "3 µg or lower (now 100)" in window.verdict
    repaired = MethodWindow("hexane", "M", 0.01, 0.2, loq_ug=3)
    assert port_window(repaired, task(10.0, minutes=15)).is_feasible


def test_too_much_air_names_the_number_of_samplers_that_would_do():
    method = MethodWindow("methanol", "M", 0.05, 0.2, loq_ug=1, volume_max_l=4)
    window = port_window(method, full_shift(200.0, samplers_max=4))
    assert not window.is_feasible
    assert "Allow 6 samplers one after the other (now at most 4)" in window.verdict
    assert port_window(method, full_shift(200.0, samplers_max=6)).is_feasible


def test_a_port_outside_the_methods_flows_is_named():
    window = port_window(ALKALINE_DUST, full_shift(2.0), port_min_lpm=0.01, port_max_lpm=0.2)
    assert "use another pump, splitter or method" in window.verdict
    with pytest.raises(ValueError, match="not feasible"):
        _ = window.fewest


def test_part_of_the_shift_is_taken_only_when_allowed():
    method = MethodWindow("acetone", "M", 0.01, 0.2, loq_ug=1, volume_max_l=4.2)
    assert not port_window(method, full_shift(500.0, samplers_max=1)).is_feasible
    run = port_window(method, full_shift(500.0, samplers_max=1, least_share=7 / 8)).fewest
    assert run.minutes_each == pytest.approx(420)


def test_very_low_flow_and_unknown_breakthrough_are_cautioned():
    method = MethodWindow("ether", "M", 0.005, 0.006, loq_ug=1)
    window = port_window(method, full_shift(500.0))
    assert any("diffusion" in caution for caution in window.cautions)
    assert any("breakthrough cannot be ruled out" in caution for caution in window.cautions)


flows = st.floats(0.005, 5.0)


@given(
    lo=flows,
    ratio=st.floats(1, 40),
    loq=st.floats(0.1, 500),
    limit=st.floats(0.01, 1000),
    volume=st.floats(0.1, 1000),
    minutes=st.floats(15, 720),
    flow=st.floats(0.001, 20),
)
def test_a_run_allows_exactly_the_flows_whose_volume_is_inside_the_window(lo, ratio, loq, limit, volume, minutes, flow):
    """Against the definition, sampler by sampler, for every number of samplers up to eight."""
    method = MethodWindow("x", "M", lo, lo * ratio, loq, volume_max_l=volume)
    window = port_window(method, full_shift(limit, minutes=minutes))
    found = {run.samplers: run for run in window.runs}
    for samplers in range(1, 9):
        litres = flow * minutes / samplers
        edges = (lo, lo * ratio)
        inside = edges[0] <= flow <= edges[1] and loq <= 0.1 * limit * litres and litres <= volume
        near_edge = any(
            math.isclose(a, b, rel_tol=1e-9)
            for a, b in ((flow, edges[0]), (flow, edges[1]), (loq, 0.1 * limit * litres), (litres, volume))
        )
        if not near_edge:
            assert (samplers in found and found[samplers].allows(flow)) == inside
    if not window.runs:
        assert window.relax


@given(st.floats(0.01, 0.2), st.floats(15, 480))
def test_flows_at_and_minutes_at_describe_one_region(flow, minutes):
    method = MethodWindow("x", "M", 0.01, 0.2, loq_ug=3, volume_max_l=10)
    window = port_window(method, full_shift(10.0))
    by_minutes = window.flows_at(minutes)
    by_flow = window.minutes_at(flow)
    in_one = by_minutes is not None and by_minutes[0] <= flow <= by_minutes[1]
    in_other = by_flow is not None and by_flow[0] <= minutes <= by_flow[1]
    litres = flow * minutes
    if not any(math.isclose(litres, edge, rel_tol=1e-9) for edge in (3, 10)):
        assert in_one == in_other


def test_a_margin_on_the_safe_volume_narrows_the_window():
    method = MethodWindow("x", "M", 0.01, 0.2, loq_ug=1, volume_max_l=24)
    wide = port_window(method, full_shift(10.0)).fewest
    tight = port_window(method, full_shift(10.0), safe_volume=safe_maximum_volume(method_max_l=12)).fewest
    assert tight.flow_high_lpm == pytest.approx(wide.flow_high_lpm / 2)


@pytest.mark.parametrize(("volume_max", "words"), [(12.0, "1 sampler change in"), (6.0, "3 sampler changes in")])
def test_sampler_changes_in_the_shift_are_counted(volume_max, words):
    """50 mL/min over 480 min draw 24 L: two samplers of 12 L, or four of 6 L."""
    method = MethodWindow("toluene", "M1", 0.05, 0.05, loq_ug=5, volume_max_l=volume_max)
    assert any(words in caution for caution in port_window(method, full_shift(100.0)).cautions)


def test_the_mass_to_expect_is_that_of_a_tenth_a_half_and_once_the_limit():
    """1 mg/m³ in 1 L is 1 µg: 0.01 to 0.025 L/min over 480 min are 4.8 to 12 L, at 100 mg/m³ 480 to 1200 µg."""
    window = port_window(MethodWindow("toluene", "M1", 0.01, 0.2, loq_ug=5, volume_max_l=12), full_shift(100.0))
    masses = window.expected_masses(window.fewest)
    assert [mass.limit_share for mass in masses] == [0.1, 0.5, 1.0]
    assert [mass.low_ug for mass in masses] == pytest.approx([48, 240, 480])
    assert [mass.high_ug for mass in masses] == pytest.approx([120, 600, 1200])
    assert [mass.low_over_loq for mass in masses] == pytest.approx([9.6, 48, 96])
