"""A plan bent in the field: who keeps what they were told, and that nothing that is gone is ever used."""

import random
from pathlib import Path

import pytest

from lapel.assessment.plan_bend import bend, pumps_used
from lapel.assessment.plan_by_hand import HandTrain, as_it_stands, hand_trains
from lapel.assessment.planned import groundwork, plan_survey
from lapel.exchange.plan_folder.reader import read_plan

PLAN = Path(__file__).parents[2] / "examples" / "plan"


@pytest.fixture(scope="module")
def plan():
    return plan_survey(read_plan(PLAN))


def changed(plan, bent):
    """Worker-days whose trains are otherwise than before."""
    before, after = set(hand_trains(plan)), set(bent.trains)
    return {(train.day, train.worker) for train in before ^ after}


def test_a_dead_pump_moves_only_the_people_who_wore_it(plan):
    wore = {(t.day, t.worker) for t in plan.trains if t.pump == "P-31" and t.day >= "2026-06-09"}
    bent = bend(plan, from_day="2026-06-09", pumps_lost=["P-31"])
    assert bent.plan.faults == ()
    assert changed(plan, bent) == wore
    assert {(move.day, move.worker) for move in bent.moves} == wore
    assert not any(train.pump == "P-31" for train in bent.trains if train.day >= "2026-06-09")


def test_days_that_are_done_stay_as_they_were(plan):
    bent = bend(plan, from_day="2026-06-09", pumps_lost=["P-11", "P-31"])
    before = [train for train in hand_trains(plan) if train.day < "2026-06-09"]
    assert [train for train in bent.trains if train.day < "2026-06-09"] == before


def test_an_absent_worker_is_sampled_on_another_day_and_nobody_else_moves(plan):
    bent = bend(plan, from_day="2026-06-09", absent={"L-03": ["2026-06-09"]})
    assert {worker for _, worker in changed(plan, bent)} == {"L-03"}
    assert not any((t.worker, t.day) == ("L-03", "2026-06-09") for t in bent.trains)
    assert bent.plan.campaign.missing == ()


def test_nothing_gone_bends_nothing(plan):
    bent = bend(plan, from_day="2026-06-08")
    assert bent.moves == ()
    assert set(bent.trains) == set(hand_trains(plan))


def test_a_train_without_a_pump_is_a_fault():
    train = HandTrain("2026-06-08", "L-01", "", "", "TA", 330, (("A", "K1", 0.01),))
    assert pumps_used([train], ())[0].words == "no pump is left for it"


def test_strangers_are_refused(plan):
    with pytest.raises(ValueError, match="no pump of this plan is called P-77"):
        bend(plan, from_day="2026-06-09", pumps_lost=["P-77"])
    with pytest.raises(ValueError, match="`from_day` must be one of"):
        bend(plan, from_day="2026-07-01")


@pytest.mark.parametrize("seed", range(10))
def test_whatever_is_lost_the_bent_plan_can_be_worked_and_uses_nothing_that_is_gone(plan, seed):
    """The checker, which knows nothing of the search, and a count of the lost pumps agree on every bent plan."""
    chance = random.Random(seed)
    workers = sorted({train.worker for train in plan.trains})
    day = chance.choice(plan.demand.days[:2])
    lost = set(chance.sample(sorted(plan.inputs.pumps), chance.randint(0, 6)))
    away = {
        w: chance.sample(plan.demand.days, chance.randint(1, 3)) for w in chance.sample(workers, chance.randint(0, 2))
    }
    bent = bend(plan, from_day=day, pumps_lost=lost, absent=away, seconds=5)
    assert bent.plan.faults == ()
    later = [train for train in bent.trains if train.day >= day]
    assert not any(train.pump in lost for train in later)
    assert not any(train.day in away.get(train.worker, ()) for train in later)
    again = as_it_stands(groundwork(bent.plan.inputs), bent.trains)
    assert again.faults == ()
    short = sum(missing.days_short for missing in bent.found.plan.missing)
    assert sum(missing.days_short for missing in again.campaign.missing) == short
