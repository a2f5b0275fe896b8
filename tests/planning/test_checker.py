"""The independent checker against plans written out by hand, each with one thing wrong."""

from dataclasses import replace

import pytest
from small_campaigns import OPTIONS

from lapel.planning.checker import check_visits
from lapel.planning.demand import Crew, Demand, Equipment, PortUse, PumpKind, SplitterKind, Train, Visit, Worker

ZONE = frozenset({"zone 1"})
KIT = Equipment(
    (
        PumpKind("low", 2, direct_lpm=(0.02, 0.5), split_total_lpm=(0.04, 0.5)),
        PumpKind("safe", 2, direct_lpm=(0.02, 0.5), split_total_lpm=(0.04, 0.5), certified_for=ZONE),
    ),
    (SplitterKind("two-port", 2, 2, (0.01, 0.25)),),
    Crew(hang_min=4, before_min=20, after_min=4),
)
DEMAND = Demand(tuple(Worker(w, {"toluene": 1}, tuple(OPTIONS)) for w in ("A", "B")), OPTIONS, ("mon",))
SPLIT = (PortUse("charcoal", 0.03), PortUse("silica", 0.07))


def day(first, second, *, demand=DEMAND, kit=KIT):
    visits = [Visit(worker, "mon", (train,)) for worker, train in (("A", first), ("B", second))]
    return [f"{fault.where}: {fault.words}" for fault in check_visits(visits, demand, kit)]


def train(pump="low", number=1, *, splitter="two-port", at=340):
    return Train(pump, number, splitter, SPLIT if splitter else SPLIT[:1], 1, at)


def test_two_trains_hung_one_after_the_other_are_no_fault():
    assert day(train(at=340), train(number=2, at=344)) == []


@pytest.mark.parametrize("later", [340, 341, 343])
def test_a_technician_cannot_begin_a_second_pump_before_the_first_hangs(later):
    assert day(train(at=340), train(number=2, at=later)) == [
        f"mon: technician 1 hangs two pumps between minutes 340 and {later}"
    ]


def test_two_technicians_can():
    kit = replace(KIT, crew=replace(KIT.crew, technicians=2))
    assert day(train(at=340), replace(train(number=2, at=340), technician=2), kit=kit) == []


def test_a_splitter_is_on_one_pump_at_a_time():
    kit = replace(KIT, splitters=(replace(KIT.splitters[0], count=1),))
    assert day(train(), train(number=2, at=344), kit=kit) == ["mon: 2 two-port in use and there are 1"]
    assert day(train(), train(number=2, at=344, splitter=None), kit=kit) == []


def test_a_pump_without_the_areas_certificate_may_not_go_in():
    demand = replace(DEMAND, workers=(replace(DEMAND.workers[0], area="zone 1"), DEMAND.workers[1]))
    assert day(train(), train(number=2, at=344), demand=demand) == [
        "A, mon, low 1: the pump is not certified for zone 1"
    ]
    assert day(train("safe"), train(number=2, at=344), demand=demand) == []
    other = replace(DEMAND, workers=(replace(DEMAND.workers[0], area="zone 0"), DEMAND.workers[1]))
    assert len(day(train("safe"), train(number=2, at=344), demand=other)) == 1
