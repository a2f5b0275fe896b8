"""
A survey's plan: from what is wanted to who wears what on which day, with its proof or its gap.

Every plan, whether searched or edited by hand, is read again by the independent checker before it is shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from lapel.assessment.plan_equipment import PlanEquipment, equipment_of, technicians_on
from lapel.assessment.plan_inputs import PlanInputs
from lapel.assessment.plan_people import Sought, sought
from lapel.assessment.plan_windows import PlannedWindow, SamplerKind, SamplerKinds, windows_of
from lapel.planning import (
    CampaignPlan,
    Demand,
    Fault,
    Fragility,
    HeldFlow,
    HeldSuction,
    Missing,
    PortUse,
    SplitterFlows,
    Train,
    Visit,
    Worker,
    check_campaign,
    check_visits,
    design_campaign,
    fragilities,
    set_splitter,
    splitter_flows,
)

SECONDS = 30.0
"""Time the search is granted unless told otherwise. What is proven does not depend on it."""

NARROW = 1.25
"""Ratio of the ends of a flow window below which a caution says so: a port is rarely set closer than ± 5 %. [-]"""


@dataclass(frozen=True, slots=True)
class PlannedPort:
    """One port of a train: its letter, the kind of sampler on it, the flow it is set to."""

    letter: str
    kind: SamplerKind
    flow_lpm: float

    @property
    def volume_each_l(self) -> float:
        """Air through one sampler. [L]"""
        return self.flow_lpm * self.kind.minutes_each


@dataclass(frozen=True, slots=True)
class PlannedTrain:
    """
    One pump on one worker for a day.

    `code` is short and names no one, for labels; `warnings` are the weak points of the splitter as it would be set.
    """

    code: str
    day: str
    worker: str
    pump: str
    splitter: str
    technician: str
    hang_at_min: int
    ports: tuple[PlannedPort, ...]
    flows: SplitterFlows | None = None
    warnings: tuple[Fragility, ...] = ()

    @property
    def total_lpm(self) -> float:
        """Sum of its ports. [L/min]"""
        return sum(port.flow_lpm for port in self.ports)


@dataclass(frozen=True)
class SurveyPlan:
    """
    A survey's plan.

    `campaign` is what the search found, and holds no proof where the plan was edited by hand (`by_hand`); `faults` is
    what the independent checker has against it, empty for a plan that can be worked.
    """

    inputs: PlanInputs
    windows: tuple[PlannedWindow, ...]
    sought: tuple[Sought, ...]
    kinds: dict[str, SamplerKind]
    equipment: PlanEquipment
    demand: Demand
    campaign: CampaignPlan
    trains: tuple[PlannedTrain, ...]
    faults: tuple[Fault, ...]
    by_hand: bool = False
    hand_source: str = ""
    cautions: tuple[str, ...] = field(default_factory=tuple)

    @property
    def days(self) -> tuple[str, ...]:
        """Field days, in order."""
        return tuple(sorted({train.day for train in self.trains}))

    def trains_on(self, day: str) -> tuple[PlannedTrain, ...]:
        """Trains of a day, in the order they are hung."""
        return tuple(train for train in self.trains if train.day == day)

    @property
    def infeasible(self) -> tuple[PlannedWindow, ...]:
        """Windows in which nothing is possible, with what to relax."""
        return tuple(window for window in self.windows if not window.window.is_feasible)

    @property
    def has_findings(self) -> bool:
        """Whether something wanted cannot be done, or the plan cannot be worked as it stands."""
        return bool(self.faults or self.campaign.missing or any(each.falls_short for each in self.sought))


@dataclass(frozen=True)
class _Groundwork:
    inputs: PlanInputs
    windows: tuple[PlannedWindow, ...]
    sought: tuple[Sought, ...]
    kinds: dict[str, SamplerKind]
    equipment: PlanEquipment
    demand: Demand


def plan_survey(inputs: PlanInputs, *, seconds: float = SECONDS) -> SurveyPlan:
    """
    Plan a survey.

    Parameters
    ----------
    inputs : PlanInputs
    seconds : float
        Time granted to the search.

    Returns
    -------
    SurveyPlan
        What cannot be done stands in `campaign.missing` and `infeasible`, each with its reason.
    """
    ground = _groundwork(inputs)
    campaign = design_campaign(ground.demand, ground.equipment.equipment, seconds=seconds)
    faults = check_campaign(campaign, ground.demand, ground.equipment.equipment)
    return _finished(ground, campaign, trains_of(campaign.visits, ground), faults)


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
    ground = _groundwork(inputs)
    visits = visits_by_hand(trains, ground)
    campaign = CampaignPlan(visits, _missing_by_hand(visits, ground.demand), ())
    faults = (*check_visits(visits, ground.demand, ground.equipment.equipment), *code_faults(trains, inputs))
    return _finished(ground, campaign, _hand_trains(trains, ground), faults, by_hand=True, source=source)


def plan_kinds(inputs: PlanInputs) -> dict[str, SamplerKind]:
    """Return the kinds of samplers a plan of these inputs may hang, by code."""
    return _groundwork(inputs).kinds


def _groundwork(inputs: PlanInputs) -> _Groundwork:
    windows = windows_of(inputs)
    wanted = tuple(sought(question, inputs) for question in inputs.questions)
    equipment = equipment_of(inputs)
    kinds = SamplerKinds()
    workers = []
    for code in sorted({worker for each in wanted for worker in each.days_wanted}):
        mine = [each for each in wanted if code in each.days_wanted]
        asked = {each.question.code for each in mine}
        behind = [window for window in windows if window.question.code in asked]
        shifts = inputs.shifts_of(inputs.group_of(code))
        terms = inputs.worker_terms.get(code)
        away = set(terms.away_on) if terms else set()
        keys = {window.question.code: window.agent_key for window in behind}
        workers.append(
            Worker(
                code=code,
                wants={keys[each.question.code]: each.days_wanted[code] for each in mine},
                options=kinds.add(behind),
                shift_start_min=shifts[0].start_min,
                area=(terms.area_class if terms else "") or inputs.site.area_class or None,
                pumps_at_once=terms.pumps_at_once if terms else 2,
                days=frozenset(shift.day for shift in shifts) - away,
                days_at_most=terms.days_at_most if terms else None,
            )
        )
    options = {code: kind.option for code, kind in kinds.by_code.items()}
    return _Groundwork(inputs, windows, wanted, kinds.by_code, equipment, Demand(tuple(workers), options, inputs.days))


def _finished(
    ground: _Groundwork,
    campaign: CampaignPlan,
    trains: tuple[PlannedTrain, ...],
    faults: tuple[Fault, ...],
    *,
    by_hand: bool = False,
    source: str = "",
) -> SurveyPlan:
    return SurveyPlan(
        ground.inputs, ground.windows, ground.sought, ground.kinds, ground.equipment, ground.demand, campaign, trains,
        tuple(Fault(ground.equipment.in_codes(f.where), ground.equipment.in_codes(f.words)) for f in faults),
        by_hand, source, _cautions(ground.kinds),
    )  # fmt: skip


def _cautions(kinds: dict[str, SamplerKind]) -> tuple[str, ...]:
    words = []
    for code, kind in kinds.items():
        low, high = kind.option.flow_low_lpm, kind.option.flow_high_lpm
        if high < NARROW * low:
            words.append(
                f"{code} has a narrow window, {low * 1000:.3g} to {high * 1000:.3g} mL/min: set it with care, and ask "
                "the laboratory whether a larger sampler or a higher volume is possible."
            )
        for window in kind.windows:
            words += [f"{code}: {caution}" for caution in window.window.cautions]
    return tuple(dict.fromkeys(words))


def trains_of(visits: Sequence[Visit], ground: _Groundwork) -> tuple[PlannedTrain, ...]:
    """Trains with the codes of pumps, splitters and technicians, in order of day and hanging."""
    planned: list[PlannedTrain] = []
    for day in ground.inputs.days:
        today = [(train, visit.worker) for visit in visits if visit.day == day for train in visit.trains]
        today.sort(key=lambda pair: (pair[0].hang_at_min, pair[0].technician, pair[1]))
        used = dict.fromkeys(ground.equipment.splitters, 0)
        people = technicians_on(day, ground.inputs)
        for number, (train, worker) in enumerate(today, start=1):
            splitter = ""
            if train.splitter_kind is not None:
                splitter = ground.equipment.splitters[train.splitter_kind][used[train.splitter_kind]]
                used[train.splitter_kind] += 1
            planned.append(
                _train(
                    code=f"T{number}",
                    day=day,
                    worker=worker,
                    pump=ground.equipment.pump_code(train.pump_kind, train.pump_number),
                    splitter=splitter,
                    technician=people[train.technician - 1],
                    hang_at_min=train.hang_at_min,
                    ports=tuple(
                        PlannedPort(letter, ground.kinds[port.option], port.flow_lpm)
                        for letter, port in zip(_letters(splitter, ground), train.ports, strict=False)
                    ),
                    inputs=ground.inputs,
                )
            )
    return tuple(planned)


def _letters(splitter: str, ground: _Groundwork) -> tuple[str, ...]:
    return ground.inputs.splitters[splitter].ports if splitter else ("A",)


def _train(
    *,
    code: str,
    day: str,
    worker: str,
    pump: str,
    splitter: str,
    technician: str,
    hang_at_min: int,
    ports: tuple[PlannedPort, ...],
    inputs: PlanInputs,
) -> PlannedTrain:
    flows: SplitterFlows | None = None
    warnings: tuple[Fragility, ...] = ()
    if splitter and len({port.letter for port in ports}) == len(ports):
        flows, warnings = as_set(ports, inputs)
    return PlannedTrain(code, day, worker, pump, splitter, technician, hang_at_min, ports, flows, warnings)


def as_set(ports: Sequence[PlannedPort], inputs: PlanInputs) -> tuple[SplitterFlows | None, tuple[Fragility, ...]]:
    """
    The splitter's flows as set by its valves, and its weak points.

    Parameters
    ----------
    ports : sequence of PlannedPort
    inputs : PlanInputs
        Controller and resistance of the media.

    Returns
    -------
    SplitterFlows or None, tuple of Fragility
        Flows are None where no valve setting gives them; the one weak point then says why.
    """
    terms = inputs.splitter_terms
    wanted = {port.letter: port.flow_lpm for port in ports}
    loss = {}
    for port in ports:
        medium = inputs.medium_terms.get(port.kind.option.medium)
        loss[port.letter] = medium.loss_kpa_per_lpm if medium else 3.4
    source: HeldSuction | HeldFlow
    if terms.suction_kpa is None:
        source = HeldFlow(sum(wanted.values()))
    else:
        source = HeldSuction(
            terms.suction_kpa, terms.droop_kpa_per_lpm, reference_lpm=sum(wanted.values()), pump_lpm=terms.main_flow_lpm
        )
    try:
        set_ports = set_splitter(wanted, source, tube_kpa_per_lpm=loss)
    except ValueError as problem:
        return None, (Fragility("cannot be set", None, 0.0, f"{problem}.".replace("`", "")),)
    return splitter_flows(set_ports, source), fragilities(set_ports, source)


@dataclass(frozen=True, slots=True)
class HandTrain:
    """One pump of a plan edited by hand: codes as written, ports as (letter, kind of sampler, flow in L/min)."""

    day: str
    worker: str
    pump: str
    splitter: str
    technician: str
    hang_at_min: int
    ports: tuple[tuple[str, str, float], ...]
    origin: str = ""

    @property
    def where(self) -> str:
        """How a fault names it."""
        return f"{self.worker}, {self.day}, pump {self.pump}"


def visits_by_hand(trains: Sequence[HandTrain], ground: _Groundwork) -> tuple[Visit, ...]:
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
        other = first.setdefault((train.day, train.splitter), train)
        if other is not train:
            words = f"splitter {train.splitter} is on pump {other.pump} of {other.worker} already"
            faults.append(Fault(train.where, words))
    return tuple(faults)


def _hand_trains(trains: Sequence[HandTrain], ground: _Groundwork) -> tuple[PlannedTrain, ...]:
    planned: list[PlannedTrain] = []
    for day in sorted({train.day for train in trains}):
        today = sorted((t for t in trains if t.day == day), key=lambda t: (t.hang_at_min, t.technician, t.worker))
        for number, hand in enumerate(today, start=1):
            planned.append(
                _train(
                    code=f"T{number}",
                    day=day,
                    worker=hand.worker,
                    pump=hand.pump,
                    splitter=hand.splitter,
                    technician=hand.technician,
                    hang_at_min=hand.hang_at_min,
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
