"""A plan edited by hand, or kept on record: taken as it stands, everything wrong with it said, nothing put right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapel.assessment.plan_equipment import technicians_on
from lapel.assessment.plan_inputs import PlanInputs
from lapel.assessment.planned import Groundwork, SurveyPlan, finished, groundwork
from lapel.assessment.planned_trains import PlannedPort, PlannedTrain, WornPump, set_train
from lapel.planning import CampaignPlan, Demand, Fault, Missing, PortUse, Train, Visit, check_campaign, check_visits


@dataclass(frozen=True, slots=True)
class HandTrain(WornPump):
    """One pump of a plan edited by hand: codes as written, ports as (letter, kind of sampler, flow in L/min)."""

    ports: tuple[tuple[str, str, float], ...]
    origin: str = ""

    @property
    def where(self) -> str:
        """How a fault names it."""
        return f"{self.worker}, {self.day}, pump {self.pump}"


def plan_by_hand(inputs: PlanInputs, trains: Sequence[HandTrain], *, source: str = "") -> SurveyPlan:
    """
    Take a plan somebody edited as it stands, and say everything that is wrong with it.

    Parameters
    ----------
    inputs : PlanInputs
    trains : sequence of HandTrain
    source : str
        Where it was read from.

    Returns
    -------
    SurveyPlan
        Nothing is repaired: `faults` names what cannot be worked, `campaign.missing` what is wanted and not met.
    """
    return as_it_stands(groundwork(inputs), trains, source=source)


def as_it_stands(
    ground: Groundwork, trains: Sequence[HandTrain], *, source: str = "", found: CampaignPlan | None = None
) -> SurveyPlan:
    """
    A plan from its trains, re-checked.

    Parameters
    ----------
    ground : Groundwork
    trains : sequence of HandTrain
    source : str
        Where they come from, in words.
    found : CampaignPlan, optional
        Goals, missing wants and advice of the search whose trains these are, unchanged; without it nothing is proven.

    Returns
    -------
    SurveyPlan
        A train that names what is not there stands in `faults` and in no day.
    """
    unreadable = {train: words for train in trains if (words := _what_is_not_there(train, ground))}
    usable = [train for train in trains if train not in unreadable]
    faults = [Fault(train.where, words) for train, words in unreadable.items()]
    visits = visits_by_hand(usable, ground)
    if found is None:
        campaign = CampaignPlan(visits, _missing_by_hand(visits, ground.demand), ())
        faults += check_visits(visits, ground.demand, ground.equipment.equipment)
    else:
        campaign = CampaignPlan(visits, found.missing, found.goals, found.advice)
        faults += check_campaign(campaign, ground.demand, ground.equipment.equipment)
    faults += code_faults(usable, ground.inputs)
    planned = _hand_trains(usable, ground)
    return finished(ground, campaign, planned, tuple(faults), by_hand=found is None, source=source)


def _what_is_not_there(train: HandTrain, ground: Groundwork) -> str:
    """What a train names that the plan does not have; empty where all is there."""
    inputs = ground.inputs
    lost = []
    if train.worker not in inputs.workers:
        lost.append(f"worker {train.worker} is not on this site")
    if train.pump not in inputs.pumps:
        lost.append(f"pump {train.pump or 'without a code'} is not in the register, or retired")
    if train.splitter and train.splitter not in inputs.splitters:
        lost.append(f"splitter {train.splitter} is not in the register, or retired")
    gone = [letter for letter, kind, _ in train.ports if kind not in ground.kinds]
    if gone:
        lost.append(f"the sampler on port {', '.join(gone)} answers no question of this plan any more")
    if not train.ports:
        lost.append("no port carries a sampler")
    return "; ".join(lost)


def visits_by_hand(trains: Sequence[HandTrain], ground: Groundwork) -> tuple[Visit, ...]:
    """The kernel's visits of a plan edited by hand; nothing is put right."""
    by_visit: dict[tuple[str, str], list[Train]] = {}
    for hand in trains:
        kind, number = ground.equipment.pump_place(hand.pump)
        people = technicians_on(hand.day, ground.inputs)
        technician = people.index(hand.technician) + 1 if hand.technician in people else 0
        splitter = ground.equipment.splitter_kind(hand.splitter) if hand.splitter else None
        ports = tuple(PortUse(option, flow) for _, option, flow in hand.ports)
        by_visit.setdefault((hand.day, hand.worker), []).append(
            Train(kind, number, splitter, ports, technician, hand.hang_at_min)
        )
    return tuple(Visit(worker, day, tuple(these)) for (day, worker), these in sorted(by_visit.items()))


def code_faults(trains: Sequence[HandTrain], inputs: PlanInputs) -> tuple[Fault, ...]:
    """What only codes of people and splitters and letters of ports can show: used twice, or not there."""
    faults, first = [], dict[tuple[str, str], HandTrain]()
    for train in trains:
        letters = [letter for letter, _, _ in train.ports]
        twice = sorted({letter for letter in letters if letters.count(letter) > 1})
        if twice:
            faults.append(Fault(train.where, f"port {', '.join(twice)} carries more than one sampler"))
        if train.technician not in technicians_on(train.day, inputs):
            faults.append(Fault(train.where, f"technician {train.technician} is not there on this day"))
        if not train.splitter:
            continue
        there = inputs.splitters[train.splitter].ports
        strange = sorted(set(letters) - set(there))
        if strange:
            words = f"{train.splitter} has no port {', '.join(strange)}; it has {', '.join(there)}"
            faults.append(Fault(train.where, words))
        other = first.setdefault((train.day, train.splitter), train)
        if other is not train:
            words = f"splitter {train.splitter} is on pump {other.pump} of {other.worker} already"
            faults.append(Fault(train.where, words))
    return tuple(faults)


def hand_trains(plan: SurveyPlan) -> tuple[HandTrain, ...]:
    """The trains of a plan as they would be written by hand."""
    return tuple(
        HandTrain(
            train.day,
            train.worker,
            train.pump,
            train.splitter,
            train.technician,
            train.hang_at_min,
            tuple((port.letter, port.kind.code, port.flow_lpm) for port in train.ports),
        )
        for train in plan.trains
    )


def _hand_trains(trains: Sequence[HandTrain], ground: Groundwork) -> tuple[PlannedTrain, ...]:
    """Trains with their codes, T1 the first to be hung; in the order a search gives them."""
    planned: list[PlannedTrain] = []
    for day in sorted({train.day for train in trains}):
        today = sorted((t for t in trains if t.day == day), key=lambda t: (t.hang_at_min, t.technician, t.worker))
        for number, hand in enumerate(today, start=1):
            planned.append(
                set_train(
                    hand,
                    code=f"T{number}",
                    ports=tuple(PlannedPort(letter, ground.kinds[kind], flow) for letter, kind, flow in hand.ports),
                    inputs=ground.inputs,
                )
            )
    return tuple(planned)


def _missing_by_hand(visits: Sequence[Visit], demand: Demand) -> tuple[Missing, ...]:
    missing = []
    for worker in demand.workers:
        mine = [visit for visit in visits if visit.worker == worker.code]
        for agent, count in worker.wants.items():
            met = sum(
                any(agent in demand.options[p.option].agents for t in visit.trains for p in t.ports) for visit in mine
            )
            if met < count:
                missing.append(Missing(worker.code, agent, count - met, "The plan edited by hand does not do it."))
    return tuple(missing)
