import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapel.planning.demand import Equipment, PumpKind, SamplerOption, SplitterKind
from lapel.planning.port_window import port_window
from lapel.planning.train import (
    AgentMethod,
    partitions,
    port_flows,
    port_map,
    sampler_options,
    why_not_shared,
)
from lapel.planning.volume_window import MethodWindow, full_shift, short_term


def by_charcoal(agent, *, volume_max=12.0, medium="charcoal 100/50", purpose=None, **words):
    method = MethodWindow(agent, words.pop("method", "M 1501"), 0.01, 0.2, loq_ug=5, volume_max_l=volume_max)
    window = port_window(method, purpose or full_shift(100.0))
    given_words = {"desorption": "carbon disulfide", "laboratory": "first", "analysis_cost": 20, **words}
    return AgentMethod(window, medium, sampler_cost=4, **given_words)


def test_agents_share_one_tube_where_everything_agrees():
    (option,) = sampler_options([by_charcoal("toluene"), by_charcoal("xylene", volume_max=23)])
    assert option.agents == {"toluene", "xylene"}
    assert option.volume_high_l == 12
    assert option.flow_high_lpm == pytest.approx(12 / 480)
    assert option.cost == 4 + 20 + 20


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        ({"method": "M 1300"}, "method differs"),
        ({"medium": "silica gel"}, "medium differs"),
        ({"desorption": "methanol"}, "desorption differs"),
        ({"laboratory": "second"}, "laboratory differs"),
        ({"purpose": short_term(400.0)}, "purpose differs"),
    ],
)
def test_nothing_is_shared_where_one_thing_differs(words, reason):
    one, other = by_charcoal("toluene"), by_charcoal("acetone", **words)
    assert len(sampler_options([one, other])) == 2
    assert any(reason in why for why in why_not_shared(one, other))


def test_the_laboratorys_word_lets_two_methods_share():
    one = by_charcoal("toluene", analysis="CS2 screen")
    other = by_charcoal("acetone", method="M 1300", analysis="CS2 screen")
    assert why_not_shared(one, other) == ()
    assert len(sampler_options([one, other])) == 1


def test_windows_that_do_not_meet_keep_agents_apart():
    one = by_charcoal("toluene", volume_max=6.0)
    method = MethodWindow("heavy", "M 1501", 0.1, 0.2, loq_ug=5, volume_max_l=None)
    other = AgentMethod(
        port_window(method, full_shift(100.0, samplers_max=1)), "charcoal 100/50", "carbon disulfide", "first"
    )
    assert len(sampler_options([one, other])) == 2
    assert "no flow and number of samplers" in why_not_shared(one, other)[0]


def option(name, low, high, *, own=False):
    return SamplerOption(name, name, frozenset({name}), 480, 1, low, high, 480 * low, 480 * high, 30, own)


LOW = PumpKind("low", 2, direct_lpm=(0.02, 0.5), split_total_lpm=(0.04, 0.5))
HIGH = PumpKind("high", 1, direct_lpm=(1.0, 4.0), certified_for=frozenset({"zone 1"}))
TWO = SplitterKind("two-port", 1, 2, (0.01, 0.25))
THREE = SplitterKind("three-port", 1, 3, (0.01, 0.25), may_cap=False)
KIT = Equipment((LOW, HIGH), (TWO, THREE))


def test_three_tubes_and_a_filter_take_one_low_and_one_high_pump():
    wanted = [option("a", 0.02, 0.05), option("b", 0.05, 0.1), option("c", 0.1, 0.2), option("dust", 1, 2)]
    plan = port_map(wanted, KIT)
    assert {(pump, splitter, len(ports)) for pump, splitter, ports in plan.trains} == {
        ("low", "three-port", 3),
        ("high", None, 1),
    }


def test_a_short_term_sample_gets_a_pump_of_its_own():
    wanted = [option("a", 0.02, 0.05), option("stel", 0.2, 0.2, own=True)]
    assert len(port_map(wanted, KIT).trains) == 2


def test_an_uncertified_pump_is_not_used_in_the_area():
    assert port_map([option("a", 0.02, 0.05)], KIT, area="zone 1") is None


def test_an_open_port_that_may_not_be_capped_is_not_left_open():
    assert port_flows([option("a", 0.02, 0.05), option("b", 0.02, 0.05)], LOW, THREE) is None


def test_critical_agents_on_one_pump_are_cautioned():
    wanted = [option("a", 0.02, 0.05), option("b", 0.05, 0.1)]
    assert "a, b hang on one low" in port_map(wanted, KIT, keep_apart=["a", "b"]).cautions[0]
    assert port_map(wanted, KIT).cautions == ()


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.005, 0.3), st.floats(1, 10)), min_size=1, max_size=3),
    st.floats(0.01, 0.3),
    st.floats(1, 4),
)
def test_port_flows_exist_exactly_when_lows_and_highs_bracket_the_total(rows, total_low, ratio):
    pump = PumpKind("p", 1, split_total_lpm=(total_low, total_low * ratio))
    splitter = SplitterKind("s", 1, 3, (0.01, 0.25))
    wanted = [option(f"o{i}", low, low * r) for i, (low, r) in enumerate(rows)]
    lows = [max(o.flow_low_lpm, 0.01) for o in wanted]
    highs = [min(o.flow_high_lpm, 0.25) for o in wanted]
    possible = (
        all(low <= high for low, high in zip(lows, highs, strict=True))
        and sum(lows) <= total_low * ratio
        and sum(highs) >= total_low
    )
    edge = any(
        math.isclose(a, b, rel_tol=1e-6)
        for a, b in [
            *zip(lows, highs, strict=True),
            (sum(lows), total_low * ratio),
            (sum(highs), total_low),
        ]
    )
    flows = port_flows(wanted, pump, splitter)
    if not edge:
        assert (flows is not None) == possible
    if flows is not None:
        total = sum(use.flow_lpm for use in flows)
        assert total_low * (1 - 1e-8) <= total <= total_low * ratio * (1 + 1e-8)
        for use, low, high in zip(flows, lows, highs, strict=True):
            assert low * (1 - 1e-8) <= use.flow_lpm <= high * (1 + 1e-8)


def test_partitions_are_counted_by_stirlings_numbers():
    """S(4,1..4) = 1, 7, 6, 1; S(6,2) = 31."""
    assert [len(partitions(4, k)) for k in (1, 2, 3, 4)] == [1, 7, 6, 1]
    assert len(partitions(6, 2)) == 31
