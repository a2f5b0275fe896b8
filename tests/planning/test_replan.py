import itertools
import math
import sys
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from small_campaigns import OPTIONS, campaigns, can_be_hung, outfits

from lapel.planning.checker import check_campaign
from lapel.planning.demand import Crew, Demand, Equipment, PumpKind, SplitterKind, Worker
from lapel.planning.replan import VISITS_CHANGED, replan
from lapel.planning.solve import Answer, design_campaign

ALL = tuple(OPTIONS)
KIT = Equipment(
    (
        PumpKind("low", 2, direct_lpm=(0.02, 0.5), split_total_lpm=(0.04, 0.5)),
        PumpKind("high", 2, direct_lpm=(0.5, 4.0)),
    ),
    (SplitterKind("two-port", 2, 2, (0.01, 0.25)),),
    Crew(),
)
DAYS = ("mon", "tue", "wed", "thu")
CROWD = Demand(tuple(Worker(f"W{i}", {"toluene": 1, "dust": 1}, ALL) for i in range(5)), OPTIONS, DAYS)


def test_nothing_happens_when_nothing_happened():
    plan = design_campaign(CROWD, KIT)
    bent = replan(plan, CROWD, KIT, from_day="mon")
    assert (bent.new, bent.dropped) == ((), ())
    assert len(bent.kept) == len(plan.visits)


def test_an_absent_worker_moves_and_nobody_else_does():
    plan = design_campaign(CROWD, KIT)
    last = plan.days[-1]
    first = next(visit for visit in plan.visits if visit.day == plan.days[0])
    bent = replan(plan, CROWD, KIT, from_day=first.day, absent={first.worker: [first.day]})
    assert not bent.plan.missing
    assert bent.dropped == ((first.worker, first.day),)
    assert {worker for worker, _ in bent.new} == {first.worker}
    assert check_campaign(bent.plan, bent.demand, bent.equipment) == ()
    assert first.worker in bent.words
    assert last in DAYS


def test_what_is_done_stays_done_and_a_lost_sample_is_taken_again():
    plan = design_campaign(CROWD, KIT)
    done = plan.visits[0]
    later = DAYS[DAYS.index(done.day) + 1]
    same = replan(plan, CROWD, KIT, from_day=later)
    assert done.worker not in {visit.worker for visit in same.plan.visits}
    again = replan(plan, CROWD, KIT, from_day=later, samples_lost=[(done.worker, done.day, "dust")])
    assert done.worker in {visit.worker for visit in again.plan.visits}
    assert again.dropped == ()
    (worker,) = [w for w in again.demand.workers if w.code == done.worker]
    assert worker.wants == {"dust": 1}


def test_a_dead_pump_costs_as_few_visits_as_it_must():
    """Five workers want a filter; two filter pumps need three days, one needs five and there are four."""
    plan = design_campaign(CROWD, KIT)
    bent = replan(plan, CROWD, KIT, from_day="mon", pumps_lost={"high": 1})
    assert [missing.agent for missing in bent.plan.missing] == ["dust"]
    assert check_campaign(bent.plan, bent.demand, bent.equipment) == ()
    assert any("of pump high" in words or "field day" in words for words in bent.plan.advice)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ({"from_day": "sun"}, "`from_day` must be one of mon"),
        ({"from_day": "mon", "pumps_lost": {"high": 3}}, "3 of 'high' cannot be lost, there are 2"),
        ({"from_day": "mon", "absent": {"X": ["mon"]}}, "no worker is called X"),
        ({"from_day": "mon", "samples_lost": [("X", "mon", "dust")]}, "X was not visited on mon"),
    ],
)
def test_what_is_not_in_the_plan_is_refused_by_name(words, message):
    plan = design_campaign(CROWD, KIT)
    with pytest.raises(ValueError, match=message):
        replan(plan, CROWD, KIT, **words)


def fewest_changes_by_trying_everything(demand, equipment, told):
    """(wants not met, visits changed) by every outfit of every worker on every day."""
    worn = {worker.code: outfits(worker, demand, equipment) for worker in demand.workers}
    crew, best = equipment.crew, None
    per_day = []
    for day in demand.days:
        rows = set()
        choices = [worn[w.code] if w.is_present(day) else [()] for w in demand.workers]
        for outfit in itertools.product(*choices):
            trains = [train for one in outfit for train in one]
            on = [demand.options[name] for train in trains for name in train[2]]
            if (
                any(sum(t[0] == p.name for t in trains) > p.count for p in equipment.pumps)
                or any(sum(t[1] == s.name for t in trains) > s.count for s in equipment.splitters)
                or len(trains) > crew.on(day) * crew.pumps_per_technician
                or sum(option.samplers - 1 for option in on) > crew.on(day) * crew.changes_per_technician
                or not can_be_hung(day, demand.workers, outfit, crew)
            ):
                continue
            sets = tuple(frozenset(name for train in one for name in train[2]) for one in outfit)
            changed = 0
            for worker, samplers in zip(demand.workers, sets, strict=True):
                before = told.get((worker.code, day), frozenset())
                changed += 0 if samplers == before else bool(samplers) + bool(before)
            met = frozenset(
                (worker.code, agent)
                for worker, samplers in zip(demand.workers, sets, strict=True)
                for name in samplers
                for agent in demand.options[name].agents
            )
            rows.add((met, changed, tuple(bool(one) for one in outfit)))
        per_day.append(rows)
    for combination in itertools.product(*per_day):
        visits = [sum(row[2][w] for row in combination) for w in range(len(demand.workers))]
        if any(w.days_at_most is not None and n > w.days_at_most for w, n in zip(demand.workers, visits, strict=True)):
            continue
        short = sum(
            max(0, count - sum((worker.code, agent) in row[0] for row in combination))
            for worker in demand.workers
            for agent, count in worker.wants.items()
        )
        value = (short, sum(row[1] for row in combination))
        best = value if best is None or value < best else best
    return best


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(campaigns(), st.data())
def test_as_few_changes_as_trying_everything(case, data):
    demand, equipment = case
    plan = design_campaign(demand, equipment, seconds=10)
    assume(plan.visits)
    absentee = data.draw(st.sampled_from(plan.visits))
    kind = data.draw(st.sampled_from([pump for pump in equipment.pumps if pump.count]))
    lost = data.draw(st.integers(0, 1))
    bent = replan(
        plan,
        demand,
        equipment,
        from_day=demand.days[0],
        pumps_lost={kind.name: lost},
        absent={absentee.worker: [absentee.day]},
    )
    assert check_campaign(bent.plan, bent.demand, bent.equipment) == ()
    size = 1
    for worker in bent.demand.workers:
        size *= len(outfits(worker, bent.demand, bent.equipment))
    assume(size <= 2000)
    told = {
        (v.worker, v.day): frozenset(port.option for train in v.trains for port in train.ports) for v in plan.visits
    }
    reached = {goal.name: goal.reached for goal in bent.plan.goals}
    best = fewest_changes_by_trying_everything(bent.demand, bent.equipment, told)
    assert (reached["wants not met"], reached[VISITS_CHANGED]) == best
    assert bent.plan.is_proven


def test_the_demand_that_comes_back_can_be_bent_again():
    plan = design_campaign(CROWD, KIT)
    once = replan(plan, CROWD, KIT, from_day="tue", absent={"W0": ["tue"]})
    twice = replan(once.plan, once.demand, once.equipment, from_day="wed", absent={"W1": ["wed"]})
    assert check_campaign(twice.plan, twice.demand, twice.equipment) == ()
    assert replace(twice.demand, workers=()).days == ("wed", "thu")


def test_a_plan_too_large_to_search_whole_is_bent_as_well_here_with_honest_bounds(monkeypatch):
    """The way for large plans, forced on a small one: never better than the whole search, bounds never above it."""
    plan = design_campaign(CROWD, KIT)
    first = plan.visits[0]
    words = {"from_day": "mon", "absent": {first.worker: [first.day]}, "pumps_lost": {"high": 1}}
    whole = {goal.name: goal for goal in replan(plan, CROWD, KIT, **words).plan.goals}
    monkeypatch.setattr(sys.modules["lapel.planning.replan"], "FULL_COLUMNS_AT_MOST", 0)
    bent = replan(plan, CROWD, KIT, **words)
    assert check_campaign(bent.plan, bent.demand, bent.equipment) == ()
    part = {goal.name: goal for goal in bent.plan.goals}
    assert part["wants not met"].reached == whole["wants not met"].reached
    assert part[VISITS_CHANGED].reached >= whole[VISITS_CHANGED].reached
    assert part[VISITS_CHANGED].bound <= whole[VISITS_CHANGED].reached


def test_no_time_at_all_still_keeps_what_can_be_kept(monkeypatch):
    plan = design_campaign(CROWD, KIT)
    nothing_found = Answer(None, math.inf, -math.inf)
    monkeypatch.setattr(sys.modules["lapel.planning.replan"], "minimise", lambda *_, **__: nothing_found)
    first = plan.visits[0]
    bent = replan(plan, CROWD, KIT, from_day="mon", absent={first.worker: [first.day]})
    assert check_campaign(bent.plan, bent.demand, bent.equipment) == ()
    assert len(bent.kept) == len(plan.visits) - 1
    assert not bent.plan.is_proven
