import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import root

from lapel.planning.fragility import fragilities
from lapel.planning.port_pattern import port_pattern
from lapel.planning.splitter import HeldFlow, HeldSuction, Port, splitter_flows
from lapel.planning.splitter_changes import consequence, tube_sensitivities, valve_sensitivities
from lapel.planning.splitter_setting import set_splitter, valve_for

WANTED = {"A": 0.050, "B": 0.100, "C": 0.200}
IDEAL = HeldSuction(5.0)
DROOPING = HeldSuction(5.0, droop_kpa_per_lpm=0.5 / 0.350, reference_lpm=0.350)
TOTAL = HeldFlow(0.350, limit_kpa=10.0)


def ml_min(flows):
    return [1000 * q for q in flows.inlet_lpm]


@pytest.mark.parametrize(
    ("source", "act", "expected", "suction"),
    [
        (IDEAL, {"tube_factor": 2.0}, [50.0, 100.0, 186.0], 5.0),
        (DROOPING, {"tube_factor": 2.0}, [50.1, 100.2, 186.4], None),
        (IDEAL, {"blocked": True}, [50.0, 100.0, 0.0], 5.0),
        (DROOPING, {"blocked": True}, [51.4, 102.9, 0.0], None),
        (TOTAL, {"tube_factor": 2.0}, [51.9, 104.0, 194.1], 5.39),
        (TOTAL, {"blocked": True}, [115.9, 234.1, 0.0], 26.3),
    ],
)
def test_the_three_port_case_by_hand(source, act, expected, suction):
    """
    Ports of 50, 100 and 200 mL/min at 5 kPa with tubes at the NIOSH limit (3.4 kPa at 1 L/min) and orifice
    valves; each figure follows from the quadratic P = aQ + bQ² worked apart from this code.
    """
    ports = set_splitter(WANTED, source)
    assert ml_min(splitter_flows(ports, source)) == pytest.approx([50, 100, 200], rel=1e-12)
    after = consequence(ports, source, "C", **act).after
    assert ml_min(after) == pytest.approx(expected, abs=0.051)
    if suction is not None:
        assert after.suction_kpa == pytest.approx(suction, abs=0.05)


def test_a_blocked_port_in_constant_flow_mode_faults_the_pump():
    ports = set_splitter(WANTED, TOTAL)
    answer = consequence(ports, TOTAL, "C", blocked=True)
    assert answer.after.condition == "pump fault"
    assert answer.largest_on_others == pytest.approx(1.34, abs=0.01)


@pytest.mark.parametrize(("name", "loss"), [("A", 0.017), ("B", 0.034), ("C", 0.070)])
def test_a_doubled_tube_costs_its_own_port_only(name, loss):
    """-1.7, -3.4 and -7 % at 50, 100 and 200 mL/min under 5 kPa."""
    ports = set_splitter(WANTED, IDEAL)
    answer = consequence(ports, IDEAL, name, tube_factor=2.0)
    assert answer.inlet_change[name] == pytest.approx(-loss, abs=0.0006)
    assert answer.largest_on_others == 0


def test_a_tube_three_times_as_tight_at_fifty_costs_three_and_a_half_percent():
    ports = set_splitter(WANTED, IDEAL)
    assert consequence(ports, IDEAL, "A", tube_factor=3).inlet_change["A"] == pytest.approx(-0.034, abs=6e-4)


def test_a_slipped_tube_shows_more_at_the_valve_and_nothing_at_the_inlet():
    """+7.6 % at the valve of the 200 mL/min port: sqrt(1/(1 - 0.136)) - 1."""
    ports = set_splitter(WANTED, IDEAL)
    answer = consequence(ports, IDEAL, "C", tube_off=True)
    assert answer.after.inlet_lpm[2] == 0
    assert answer.after.valve_lpm[2] / 0.2 - 1 == pytest.approx((1 - 0.136) ** -0.5 - 1, rel=1e-9)
    assert answer.after.valve_lpm[2] / 0.2 - 1 == pytest.approx(0.076, abs=5e-4)


def network(ports, source):
    """The same splitter as a nodal network: unknown flows, pressures between tube and valve, and suction."""
    m = len(ports)
    a = np.array([0.0 if p.is_tube_off else p.tube_kpa_per_lpm for p in ports])
    b = np.array([p.valve for p in ports])
    n = np.array([p.exponent for p in ports])

    def residual(x):
        q, between, p = x[:m], x[m : 2 * m], x[-1]
        tube = between - a * q
        valve = (p - between) - b * np.sign(q) * np.abs(q) ** n
        if isinstance(source, HeldFlow):
            last = (q.sum() - source.total_lpm) * 10
        else:
            last = p - source.suction_kpa + source.droop_kpa_per_lpm * (q.sum() - source.reference_lpm)
        return np.concatenate([tube, valve, [last]])

    p0 = source.suction_kpa if isinstance(source, HeldSuction) else 5.0
    q0 = (p0 / (b + a)) ** (1 / n) * 0.9
    start = np.concatenate([q0, a * q0, [p0]])
    for method in ("hybr", "lm"):
        answer = root(residual, start, method=method, tol=1e-14)
        if np.max(np.abs(answer.fun)) < 1e-12:
            break
        start = answer.x
    return answer.x[:m], answer.x[-1], np.max(np.abs(answer.fun))


flow = st.floats(0.01, 0.5)
tube = st.floats(0.0, 6.0)
exponents = st.one_of(st.just(1.0), st.just(2.0), st.floats(1.05, 1.95))


@settings(max_examples=150, deadline=None)
@given(
    st.lists(st.tuples(flow, tube, exponents), min_size=1, max_size=4),
    st.sampled_from(["held", "droop", "flow"]),
    st.floats(0.3, 3.0),
)
def test_agrees_with_a_numerical_network_to_one_in_a_billion(rows, kind, factor):
    ports = []
    for i, (q, a, n) in enumerate(rows):
        assume(a * q < 4.5)
        ports.append(Port("ABCD"[i], a, valve_for(q, suction_kpa=5, tube_kpa_per_lpm=a, exponent=n), n))
    total = sum(q for q, _, _ in rows)
    source = {
        "held": HeldSuction(5.0 * factor),
        "droop": HeldSuction(5.0, droop_kpa_per_lpm=factor, reference_lpm=total / factor),
        "flow": HeldFlow(total * factor),
    }[kind]
    ours = splitter_flows(ports, source)
    flows, suction, residual = network(ports, source)
    assume(residual < 1e-12)
    assert np.array(ours.valve_lpm) == pytest.approx(flows, rel=1e-9)
    assert ours.suction_kpa == pytest.approx(suction, rel=1e-9)


def test_the_network_solver_itself_converges_on_the_plain_cases():
    """So that the comparison above cannot pass by assuming everything away."""
    for source in (IDEAL, DROOPING, TOTAL):
        ports = set_splitter(WANTED, source)
        flows, _, residual = network(ports, source)
        assert residual < 1e-12
        assert flows == pytest.approx([0.05, 0.1, 0.2], rel=1e-9)


def test_sensitivity_at_constant_suction_is_the_textbook_ratio():
    """-f/(2 - f) for an orifice, -f for a viscous valve, f = 0.034, 0.068, 0.136."""
    for exponent, closed in ((2.0, lambda f: -f / (2 - f)), (1.0, lambda f: -f)):
        ports = set_splitter(WANTED, IDEAL, exponent=exponent)
        matrix = tube_sensitivities(ports, IDEAL)
        assert np.diag(matrix) == pytest.approx([closed(f) for f in (0.034, 0.068, 0.136)], rel=1e-12)
        assert np.count_nonzero(matrix - np.diag(np.diag(matrix))) == 0


@pytest.mark.parametrize("source", [IDEAL, DROOPING, TOTAL, HeldSuction(5.0, pump_lpm=0.3)])
@pytest.mark.parametrize("exponent", [1.0, 1.6, 2.0])
def test_sensitivities_are_the_slopes_of_the_model(source, exponent):
    """Central differences in ln a and ln b."""
    ports = set_splitter(WANTED, IDEAL, exponent=exponent)
    h = 1e-5
    for matrix, word in ((tube_sensitivities, "tube_factor"), (valve_sensitivities, "valve_factor")):
        exact = matrix(ports, source)
        for j, name in enumerate("ABC"):
            up = consequence(ports, source, name, **{word: np.exp(h)}).after.valve_lpm
            down = consequence(ports, source, name, **{word: np.exp(-h)}).after.valve_lpm
            slope = (np.log(up) - np.log(down)) / (2 * h)
            assert exact[:, j] == pytest.approx(slope, abs=1e-8)


def test_ports_that_want_more_than_the_pump_moves_lose_regulation():
    source = HeldSuction(5.0, pump_lpm=0.3)
    flows = splitter_flows(set_splitter(WANTED, IDEAL), source)
    assert flows.condition == "regulation lost"
    assert flows.total_lpm == pytest.approx(0.3, rel=1e-12)
    assert flows.suction_kpa < 5.0


def test_a_flow_the_tube_does_not_let_through_is_refused_with_the_reason():
    with pytest.raises(ValueError, match=r"the tube alone takes 5.1 kPa of the 5 kPa"):
        valve_for(1.5, suction_kpa=5, tube_kpa_per_lpm=3.4)


def test_wanted_flows_must_add_up_to_the_held_total():
    with pytest.raises(ValueError, match=r"adds up to 0.35 L/min and the pump holds 0.4"):
        set_splitter(WANTED, HeldFlow(0.4))


def test_two_ports_of_one_name_are_refused():
    with pytest.raises(ValueError, match="A occurs more than once"):
        splitter_flows([Port("A", 1, 1), Port("A", 1, 1)], IDEAL)


def kinds(ports, source):
    return {f.kind for f in fragilities(ports, source)}


def test_a_sound_design_raises_no_warning():
    source = HeldSuction(5.0, pump_lpm=1.5)
    assert kinds(set_splitter(WANTED, source), source) == set()


def test_fragile_designs_are_named():
    assert "ports depend on each other" in kinds(set_splitter(WANTED, TOTAL), TOTAL)
    assert "ports depend on each other" in kinds(set_splitter(WANTED, DROOPING), DROOPING)
    small = HeldSuction(5.0, pump_lpm=0.5)
    assert "little bypass" in kinds(set_splitter(WANTED, small), small)
    uneven = {"A": 0.008, "B": 0.2}
    assert {"uneven ports", "very low flow"} <= kinds(set_splitter(uneven, IDEAL), IDEAL)
    tight = set_splitter({"A": 0.2, "B": 0.1}, IDEAL, tube_kpa_per_lpm={"A": 15.0, "B": 3.4})
    assert "depends on its tube" in kinds(tight, IDEAL)
    blocked = HeldFlow(0.35, limit_kpa=4.0)
    assert "pump fault" in kinds(set_splitter(WANTED, blocked), blocked)


def pattern(after, **words):
    return [d.kind for d in port_pattern(WANTED, dict(zip("ABC", after, strict=True)), **words)]


def test_patterns_across_ports_point_at_their_cause():
    assert pattern([0.050, 0.101, 0.198]) == []
    assert pattern([0.045, 0.090, 0.180]) == ["all down"]
    assert pattern([0.056, 0.111, 0.223]) == ["all up"]
    assert pattern([0.050, 0.088, 0.200]) == ["one port down"]
    assert pattern([0.050, 0.000, 0.200], pump_before_lpm=0.35, pump_after_lpm=0.351) == ["leak behind the tube"]
    assert pattern([0.050, 0.000, 0.200], pump_before_lpm=0.35, pump_after_lpm=0.25) == ["port blocked"]
    assert pattern([0.050, 0.200, 0.100]) == ["swapped ports"]
    assert pattern([0.0, 0.0, 0.0], pump_before_lpm=0.35, pump_after_lpm=0.0) == ["pump stopped"]
    assert pattern([0.0, 0.0, 0.0], pump_before_lpm=0.35, pump_after_lpm=0.35) == ["leak before the splitter"]


@pytest.mark.parametrize(
    ("source", "act", "expected"),
    [
        (HeldSuction(4.2), {}, ["all down"]),
        (IDEAL, {"tube_factor": 3.0}, ["one port down"]),
        (HeldFlow(0.35), {"valve_factor": 3.0}, ["one port down", "ports trade flow"]),
        (IDEAL, {"valve_factor": 0.7}, ["one port up"]),
    ],
)
def test_the_pattern_reads_back_what_the_model_was_given(source, act, expected):
    ports = set_splitter(WANTED, IDEAL)
    after = consequence(ports, source, "C", **act).after
    assert pattern(after.inlet_lpm) == expected


def test_readings_of_different_ports_are_refused():
    with pytest.raises(ValueError, match="must name the same ports"):
        port_pattern({"A": 0.1}, {"B": 0.1})
