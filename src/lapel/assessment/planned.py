"""
A survey's plan: from what is wanted to who wears what on which day, with its proof or its gap.

Every plan, whether searched or edited by hand, is read again by the independent checker before it is shown.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from lapel.assessment.plan_equipment import PlanEquipment, equipment_of, technicians_on
from lapel.assessment.plan_inputs import PlanInputs
from lapel.assessment.plan_people import Sought, sought
from lapel.assessment.plan_time_table import air_faults, day_acts
from lapel.assessment.plan_windows import PlannedWindow, SamplerKind, SamplerKinds, windows_of
from lapel.assessment.planned_trains import PlannedPort, PlannedTrain, WornPump, set_train
from lapel.planning import CampaignPlan, Demand, Fault, Visit, Worker, check_campaign, design_campaign

SECONDS = 30.0
"""Time the search is granted unless told otherwise. What is proven does not depend on it."""

NARROW = 1.25
"""Ratio of the ends of a flow window below which a caution says so: a port is rarely set closer than ± 5 %. [-]"""


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
class Groundwork:
    """What follows from the inputs before anything is searched: windows, whom, kinds, equipment, the demand."""

    inputs: PlanInputs
    windows: tuple[PlannedWindow, ...]
    sought: tuple[Sought, ...]
    kinds: dict[str, SamplerKind]
    equipment: PlanEquipment
    demand: Demand


def plan_survey(
    inputs: PlanInputs, *, seconds: float = SECONDS, tell: Callable[[str], None] | None = None
) -> SurveyPlan:
    """
    Plan a survey.

    Parameters
    ----------
    inputs : PlanInputs
    seconds : float
        Time granted to the search.
    tell : callable, optional
        Told, in words, how far the search is.

    Returns
    -------
    SurveyPlan
        What cannot be done stands in `campaign.missing` and `infeasible`, each with its reason.
    """
    if tell:
        tell("Working out windows, numbers of results and the draw.")
    ground = groundwork(inputs)
    campaign = design_campaign(ground.demand, ground.equipment.equipment, seconds=seconds, tell=tell)
    faults = check_campaign(campaign, ground.demand, ground.equipment.equipment)
    return finished(ground, campaign, trains_of(campaign.visits, ground), faults)


def plan_kinds(inputs: PlanInputs) -> dict[str, SamplerKind]:
    """Return the kinds of samplers a plan of these inputs may hang, by code."""
    return groundwork(inputs).kinds


def groundwork(inputs: PlanInputs) -> Groundwork:
    """Work out everything a search, a check or a page of a plan starts from."""
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
    return Groundwork(inputs, windows, wanted, kinds.by_code, equipment, Demand(tuple(workers), options, inputs.days))


def finished(
    ground: Groundwork,
    campaign: CampaignPlan,
    trains: tuple[PlannedTrain, ...],
    faults: tuple[Fault, ...],
    *,
    by_hand: bool = False,
    source: str = "",
) -> SurveyPlan:
    """A plan put together, its faults in the codes people know."""
    acts = [act for day in ground.inputs.days for act in day_acts(ground.inputs, trains, day)]
    faults = (*faults, *air_faults(trains, acts))
    return SurveyPlan(
        ground.inputs, ground.windows, ground.sought, ground.kinds, ground.equipment, ground.demand, campaign, trains,
        tuple(Fault(ground.equipment.in_codes(f.where), ground.equipment.in_codes(f.words)) for f in faults),
        by_hand, source, (*_minutes_planned(ground.windows), *_cautions(ground.kinds)),
    )  # fmt: skip


def _minutes_planned(windows: Sequence[PlannedWindow]) -> tuple[str, ...]:
    """For how many minutes on a pump the flows of a shift are right."""
    words = []
    for purpose in (planned.window.purpose for planned in windows if planned.question.purpose == "full shift"):
        shortest, longest = purpose.shortest_each(purpose.minutes, 1), purpose.longest_each(purpose.minutes, 1)
        words.append(
            f"A shift of {purpose.minutes:g} min: flows keep the volumes for {shortest:g} to {longest:g} min on the "
            "pump, since it may be hung anywhere in its start window and is stopped in turn after the shift."
        )
    return tuple(dict.fromkeys(words))


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


def trains_of(visits: Sequence[Visit], ground: Groundwork) -> tuple[PlannedTrain, ...]:
    """Trains with the codes of pumps, splitters and technicians, in order of day and hanging."""
    planned: list[PlannedTrain] = []
    for day in ground.inputs.days:
        today = [(train, visit.worker) for visit in visits if visit.day == day for train in visit.trains]
        people = technicians_on(day, ground.inputs)
        today.sort(key=lambda pair: (pair[0].hang_at_min, people[pair[0].technician - 1], pair[1]))
        used = dict.fromkeys(ground.equipment.splitters, 0)
        for number, (train, worker) in enumerate(today, start=1):
            splitter = ""
            if train.splitter_kind is not None:
                splitter = ground.equipment.splitters[train.splitter_kind][used[train.splitter_kind]]
                used[train.splitter_kind] += 1
            pump = ground.equipment.pump_code(train.pump_kind, train.pump_number)
            planned.append(
                set_train(
                    WornPump(day, worker, pump, splitter, people[train.technician - 1], train.hang_at_min),
                    code=f"T{number}",
                    ports=tuple(
                        PlannedPort(letter, ground.kinds[port.option], port.flow_lpm)
                        for letter, port in zip(_letters(splitter, ground), train.ports, strict=False)
                    ),
                    inputs=ground.inputs,
                )
            )
    return tuple(planned)


def _letters(splitter: str, ground: Groundwork) -> tuple[str, ...]:
    return ground.inputs.splitters[splitter].ports if splitter else ("A",)
