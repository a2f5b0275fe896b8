"""A plan edited by hand stands as it was written: what cannot be worked is told, and no figure is put right."""

from dataclasses import replace
from pathlib import Path

import pytest

from lapel.assessment.plan_by_hand import hand_trains, plan_by_hand
from lapel.assessment.plan_windows import windows_of
from lapel.assessment.planned import plan_survey
from lapel.exchange.plan_folder.reader import read_plan

PLAN = Path(__file__).parents[2] / "examples" / "plan"


@pytest.fixture(scope="module")
def plan():
    return plan_survey(read_plan(PLAN))


def edited(plan, place, **changes):
    trains = list(hand_trains(plan))
    trains[place] = replace(trains[place], **changes)
    return trains, plan_by_hand(plan.inputs, trains)


def split(plan):
    return next(i for i, train in enumerate(hand_trains(plan)) if len(train.ports) == 2)


def words(plan):
    return [fault.words for fault in plan.faults]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"hang_at_min": 200}, "outside the start window"),
        ({"hang_at_min": 600}, "outside the start window"),
        ({"technician": "TX"}, "technician TX is not there on this day"),
        ({"ports": (("A", "K1", 0.5), ("B", "K2", 0.035))}, "wanted 0.01"),
        ({"ports": (("A", "K1", 0.001), ("B", "K2", 0.035))}, "wanted 0.01"),
        ({"ports": (("A", "K1", 0.011), ("Z", "K2", 0.035))}, "has no port Z"),
    ],
)
def test_every_train_comes_back_as_it_was_written(plan, change, said):
    trains, checked = edited(plan, split(plan), **change)
    assert any(said in each for each in words(checked)), words(checked)
    assert set(hand_trains(checked)) == set(trains)


def test_who_is_not_there_is_not_taken_for_somebody_who_is(plan):
    """TA hangs another pump at that minute: not two at once, for TX is not TA."""
    trains = hand_trains(plan)
    first = next(i for i, t in enumerate(trains) if t.technician == "TB")
    same = next(t for t in trains if (t.day, t.technician) == (trains[first].day, "TA"))
    _, checked = edited(plan, first, technician="TX", hang_at_min=same.hang_at_min)
    assert any("technician TX is not there" in each for each in words(checked))
    assert not any("hangs two pumps" in each for each in words(checked))


def test_a_short_term_sample_is_planned_against_short_term_limits_only(plan):
    found = {
        window.question.purpose: {limit.choice.kind for limit in window.limits} for window in windows_of(plan.inputs)
    }
    assert found == {"full shift": {"TWA"}, "short term": {"STEL"}}
