"""A plan says it is the best only where the solver has proven it; a bound that stays below is told as a gap."""

import sys
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from small_campaigns import OPTIONS

from lapel.planning.campaign import GOALS, Campaign, full_model
from lapel.planning.demand import CampaignPlan, Crew, Demand, Equipment, Goal, PumpKind, SplitterKind, Worker
from lapel.planning.replan import VISITS_CHANGED, replan
from lapel.planning.solve import design_campaign, minimise

ALL = tuple(OPTIONS)
KIT = Equipment(
    (
        PumpKind("low", 2, direct_lpm=(0.02, 0.5), split_total_lpm=(0.04, 0.5)),
        PumpKind("high", 1, direct_lpm=(0.5, 4.0)),
    ),
    (SplitterKind("two-port", 2, 2, (0.01, 0.25)),),
    Crew(),
)
CROWD = Demand(
    tuple(Worker(f"W{i}", {"toluene": 1, "dust": 1}, ALL) for i in range(4)), OPTIONS, ("mon", "tue", "wed", "thu")
)


def unsure(*args, **words):
    """A solver that finds the best and has proven one less."""
    answer = minimise(*args, **words)
    return answer if answer.columns is None else replace(answer, bound=answer.value - 1)


def test_a_goal_above_its_bound_is_not_proven_and_tells_its_gap():
    """4 days where 3 are not excluded: a quarter."""
    plan = CampaignPlan((), (), (Goal("wants not met", 0, 0), Goal("field days", 4, 3)))
    assert not plan.is_proven
    assert plan.gap == pytest.approx(0.25)
    assert plan.proof == "wants not met: 0 (proven best); field days: 4 (best possible 3 or more, gap 25.0 %)"
    proven = CampaignPlan((), (), (Goal("field days", 4, 4),))
    assert (proven.is_proven, proven.gap) == (True, 0.0)


@pytest.mark.parametrize(("status", "bound"), [(0, 4), (1, 3)])
def test_what_was_found_when_the_time_ran_out_is_not_its_own_bound(monkeypatch, status, bound):
    """Status 1 of the solver is the time limit: 2.3 proven of whole days is 3, whatever was found."""
    matrix = full_model(Campaign(CROWD, KIT))
    days = matrix.goals[GOALS[1]]
    columns = (days > 0).astype(float)
    cut = SimpleNamespace(status=status, x=columns, fun=4.0, mip_dual_bound=2.3)
    monkeypatch.setattr(sys.modules["lapel.planning.solve"], "milp", lambda *_, **__: cut)
    answer = minimise(matrix, days, seconds=1)
    assert np.array_equal(answer.columns, columns)
    assert (answer.value, answer.bound) == (4, bound)


def test_a_search_without_proof_prints_its_gap(monkeypatch):
    monkeypatch.setattr(sys.modules["lapel.planning.solve"], "minimise", unsure)
    plan = design_campaign(CROWD, KIT)
    days = next(goal for goal in plan.goals if goal.name == "field days")
    assert (days.reached, days.bound) == (4, 3)
    assert not plan.is_proven
    assert plan.gap >= 0.25
    assert "field days: 4 (best possible 3 or more, gap 25.0 %)" in plan.proof


def test_a_bent_plan_without_proof_does_not_call_its_changes_the_fewest(monkeypatch):
    plan = design_campaign(CROWD, KIT)
    first = plan.visits[0]
    monkeypatch.setattr(sys.modules["lapel.planning.replan"], "minimise", unsure)
    bent = replan(plan, CROWD, KIT, from_day="mon", absent={first.worker: [first.day]})
    changed = next(goal for goal in bent.plan.goals if goal.name == VISITS_CHANGED)
    assert changed.reached > 0
    assert changed.bound == 0
    assert not bent.plan.is_proven


def test_a_visit_nobody_needs_any_more_still_counts_as_told_when_the_search_alone_decides(monkeypatch):
    """A second visit of one worker is worth nothing to the wants; to drop it is a change people would be told of."""
    demand = replace(CROWD, days=(*CROWD.days, "fri"))
    plan = design_campaign(demand, KIT)
    (spare_day,) = set(demand.days) - set(plan.days)
    again = replace(plan.visits[0], day=spare_day)
    monkeypatch.setattr(sys.modules["lapel.planning.replan"], "keep_and_fill", lambda *_: [])
    bent = replan(replace(plan, visits=(*plan.visits, again)), demand, KIT, from_day="mon")
    assert (bent.new, bent.dropped) == ((), ())
    assert len(bent.kept) == 5
