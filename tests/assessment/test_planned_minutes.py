"""Every planned sampler keeps its volume window from the minute its pump is started to the minute it is stopped."""

from dataclasses import replace
from pathlib import Path

import pytest

from lapel.assessment.plan_by_hand import hand_trains, plan_by_hand
from lapel.assessment.plan_time_table import Act, air_faults, day_acts
from lapel.assessment.planned import plan_survey
from lapel.exchange.plan_folder.reader import read_plan
from lapel.planning import SamplerOption, check_run, full_shift, port_window
from lapel.planning.volume_window import MethodWindow

PLAN = Path(__file__).parents[2] / "examples" / "plan"


@pytest.fixture(scope="module")
def inputs():
    return read_plan(PLAN)


@pytest.fixture(scope="module")
def plan(inputs):
    return plan_survey(inputs)


def bounds(train, port, acts):
    """Minutes at which a pump is hung, its sampler changed, the pump stopped, as the time table prints them."""
    change, close = f"change the sampler on port {port.letter}", f"close port {port.letter} and take its sampler"
    mine = [act for act in acts if (act.day, act.train) == (train.day, train.code)]
    return sorted(act.begins_min for act in mine if act.what in {"hang and start", change, close, "stop and take off"})


def shift_long(plan):
    for train in plan.trains:
        for port in train.ports:
            if port.kind.purpose == "full shift":
                yield train, port


def all_acts(plan):
    return [act for day in plan.days for act in day_acts(plan.inputs, plan.trains, day)]


def test_at_the_windows_upper_edge_no_sampler_sees_more_than_its_greatest_volume(plan):
    """Hung at 05:36 and stopped at 14:00 a pump runs 504 min, not the 480 of the shift."""
    acts, most = all_acts(plan), 0
    for train, port in shift_long(plan):
        started, stopped = bounds(train, port, acts)
        most = max(most, stopped - started)
        option = port.kind.option
        assert option.flow_high_lpm * (stopped - started) <= option.volume_high_l * (1 + 1e-9)
    assert most == 504


def test_at_the_windows_lower_edge_every_sampler_sees_its_least_volume(inputs):
    """A least volume that needs all of 480 min at the lowest flow asks for more flow where fewer minutes are sure."""
    methods = {code: replace(m, volume_min_l=4.8, flow_min_lpm=0.01) for code, m in inputs.methods.items()}
    crew = replace(inputs.crew, before_min=0, after_min=24)
    plan = plan_survey(replace(inputs, methods=methods, crew=crew))
    acts, fewest = all_acts(plan), 480
    assert plan.trains
    for train, port in shift_long(plan):
        started, stopped = bounds(train, port, acts)
        sure = stopped - started - crew.hang_min
        fewest = min(fewest, sure)
        assert port.kind.option.flow_low_lpm * sure >= port.kind.option.volume_low_l * (1 - 1e-9)
    assert fewest < 480


def test_with_changes_each_sampler_keeps_its_volume_between_its_own_minutes(inputs):
    """Formaldehyde at 0.08 L/min or more: two cartridges in a row; the change lies midway between start and stop."""
    methods = {
        code: replace(m, flow_min_lpm=0.08) if code.startswith("2016") else m for code, m in inputs.methods.items()
    }
    plan = plan_survey(replace(inputs, methods=methods))
    acts, seen = all_acts(plan), 0
    for train, port in shift_long(plan):
        option = port.kind.option
        if option.samplers == 1:
            continue
        seen += 1
        started, changed, stopped = bounds(train, port, acts)
        for minutes in (changed - started, stopped - changed):
            assert option.flow_high_lpm * minutes <= option.volume_high_l * (1 + 1e-9)
            assert option.flow_low_lpm * (minutes - 4) >= option.volume_low_l * (1 - 1e-9)
    assert seen
    assert plan.faults == ()


def test_a_part_of_the_shift_is_stopped_when_the_part_is_over(inputs):
    """Nine tenths of 480 min: closed 432 min after hanging, not at the end of the shift."""
    methods = {
        code: replace(m, flow_min_lpm=0.0425) if code.startswith("2016") else m for code, m in inputs.methods.items()
    }
    questions = tuple(replace(q, samplers_max=1) for q in inputs.questions)
    plan = plan_survey(replace(inputs, methods=methods, questions=questions))
    acts, seen = all_acts(plan), 0
    for train, port in shift_long(plan):
        option = port.kind.option
        if option.minutes == pytest.approx(432):
            started, stopped, *_ = bounds(train, port, acts)
            seen += 1
            assert 432 <= stopped - started <= 432 + 4 + 3
            assert option.flow_high_lpm * (stopped - started) <= option.volume_high_l * (1 + 1e-9)
    assert seen
    assert plan.faults == ()


def test_a_stop_that_comes_too_late_is_a_fault_with_the_flow_that_would_do(plan):
    train, port = next((t, p) for t, p in shift_long(plan))
    option = port.kind.option
    edge = replace(train, ports=(replace(port, flow_lpm=option.flow_high_lpm),))

    def acts(stop_min):
        hang = Act(train.day, "TA", 340, 340, 4, "hang and start", train.code, train.worker)
        return [hang, Act(train.day, "TA", 840, stop_min, 3, "stop and take off", train.code, train.worker)]

    sure = int(option.volume_high_l / option.flow_high_lpm)
    assert air_faults([edge], acts(340 + sure)) == ()
    (fault,) = air_faults([edge], acts(340 + sure + 20))
    assert f"{sure + 20} min from start to stop draw" in fault.words
    assert f"{1000 * option.volume_high_l / (sure + 20):.4g} mL/min or less" in fault.words
    assert fault.where.startswith(f"{train.worker}, {train.day}")
    low = replace(train, ports=(replace(port, flow_lpm=option.volume_low_l / 400),))
    assert air_faults([low], acts(344 + 400)) == ()
    (fault,) = air_faults([low], acts(344 + 380))
    assert "380 min from start to stop draw" in fault.words
    assert "start earlier" in fault.words


def test_a_pump_hung_too_early_by_hand_is_told_with_the_air_it_would_draw(plan):
    """At the upper edge of its window a pump hung at 04:40 runs 560 min."""
    train = next(
        t for t in hand_trains(plan) if len(t.ports) == 1 and plan.kinds[t.ports[0][1]].purpose == "full shift"
    )
    letter, kind, _ = train.ports[0]
    edge = ((letter, kind, plan.kinds[kind].option.flow_high_lpm),)
    early = plan_by_hand(plan.inputs, [replace(train, hang_at_min=280, ports=edge)])
    assert any("560 min from start to stop draw" in fault.words for fault in early.faults)
    in_time = plan_by_hand(plan.inputs, [replace(train, ports=edge)])
    assert in_time.faults == ()


@pytest.mark.parametrize("samplers", [1, 2, 4])
def test_the_window_holds_for_the_shortest_and_the_longest_sampler(samplers):
    """
    480 min, 4 fewer or 16 more, each start and change slipping by 7; 2 to 12 L each.

    Longest (480 + 16)/k + 7; shortest (480 - 4)/k, less 7 where the sampler is changed.
    """
    purpose = full_shift(100.0, shorter_min=4, longer_min=16, slip_min=7, samplers_max=4)
    method = MethodWindow("a", "m", 0.001, 1.0, loq_ug=1, volume_min_l=2, volume_max_l=12)
    run = next(run for run in port_window(method, purpose).runs if run.samplers == samplers)
    assert run.flow_high_lpm == pytest.approx(12 / (496 / samplers + 7), rel=1e-12)
    assert run.flow_low_lpm == pytest.approx(2 / (476 / samplers - (7 if samplers > 1 else 0)), rel=1e-12)


def test_what_to_relax_counts_the_longest_run_and_what_it_names_does():
    """0.03 L/min over 503 min is 15.09 L; 12 L hold 400 min, 393 of the period: two samplers."""
    words = {"shorter_min": 4, "longer_min": 16, "slip_min": 7}
    method = MethodWindow("a", "m", 0.03, 1.0, loq_ug=1, volume_max_l=12)
    window = port_window(method, full_shift(100.0, samplers_max=1, **words))
    assert not window.is_feasible
    assert "503 min at the lowest flow, 30 mL/min, draw 15.09 L" in window.relax[0]
    assert "Allow 2 samplers" in window.relax[1]
    assert port_window(method, full_shift(100.0, samplers_max=2, **words)).is_feasible
    just = MethodWindow("a", "m", 0.012 / 0.503, 1.0, loq_ug=1, volume_max_l=12)
    assert port_window(just, full_shift(100.0, samplers_max=1, **words)).is_feasible


def test_a_run_is_checked_at_its_fewest_and_its_most_minutes():
    option = SamplerOption("K", "m", frozenset({"a"}), 480.0, 1, 0.01, 0.1, 4.8, 24.0)
    assert check_run("W", option, 0.05, least_min=96, most_min=480) == ()
    assert [f.words[:40] for f in check_run("W", option, 0.05, least_min=95, most_min=481)] == [
        "K: 481 min from start to stop draw 24.05",
        "K: 95 min from start to stop draw 4.75 L",
    ]
