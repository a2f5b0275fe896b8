"""
An independent reader of campaign plans: counts everything again from the demand and the equipment.

It shares the plain words of `demand` with the search and nothing else, so that a mistake in the model or in the
search cannot hide in both.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from lapel.planning.demand import CampaignPlan, Demand, Equipment, SamplerOption, Train, Visit, Worker

#: Flows and volumes may miss an end of their window by this share, for the last bit of the arithmetic. [-]
TOLERANCE = 1e-6


@dataclass(frozen=True)
class Fault:
    """Something a plan must not do: where, and what was found against what is wanted."""

    where: str
    words: str


def check_visits(visits: Sequence[Visit], demand: Demand, equipment: Equipment) -> tuple[Fault, ...]:
    """
    Whether these visits can be worked, whatever else is claimed of them: for a plan edited by hand.

    Parameters
    ----------
    visits : sequence of Visit
    demand : Demand
    equipment : Equipment

    Returns
    -------
    tuple of Fault
        Empty when every visit, day and worker-day is possible. Wants that are not met are no fault here.
    """
    workers = {worker.code: worker for worker in demand.workers}
    faults: list[Fault] = []
    for visit in visits:
        if visit.worker not in workers:
            faults.append(Fault(f"{visit.worker}, {visit.day}", "no such worker in the survey"))
        else:
            faults += _visit(visit, workers[visit.worker], demand, equipment)
    for day in dict.fromkeys(visit.day for visit in visits):
        faults += _day(day, [visit for visit in visits if visit.day == day], demand, equipment)
    faults += _worker_days(visits, workers)
    return tuple(faults)


def check_campaign(plan: CampaignPlan, demand: Demand, equipment: Equipment) -> tuple[Fault, ...]:
    """
    Everything that is wrong with a plan: visits that cannot be worked, and figures of its own that are not true.

    Parameters
    ----------
    plan : CampaignPlan
    demand : Demand
    equipment : Equipment

    Returns
    -------
    tuple of Fault
        Empty when the plan can be worked, names every want it does not meet, and counts itself rightly.
    """
    return (*check_visits(plan.visits, demand, equipment), *_wants_and_figures(plan, demand))


def check_run(
    where: str, option: SamplerOption, flow_lpm: float, *, least_min: float, most_min: float
) -> tuple[Fault, ...]:
    """
    Whether a sampler keeps its volume window from its planned start to its planned stop or change.

    Parameters
    ----------
    where : str
    option : SamplerOption
    flow_lpm : float
        Planned flow. [L/min]
    least_min, most_min : float
        Fewest and most minutes between start and stop. [min]

    Returns
    -------
    tuple of Fault
        Empty where the fewest minutes draw enough and the most do not draw too much.
    """
    faults = []
    least_l, most_l = flow_lpm * least_min, flow_lpm * most_min
    if most_l > option.volume_high_l * (1 + TOLERANCE):
        faults.append(
            Fault(
                where,
                f"{option.name}: {most_min:g} min from start to stop draw {most_l:.4g} L, at most "
                f"{option.volume_high_l:.4g} is wanted: set {1000 * flow_lpm * option.volume_high_l / most_l:.4g} "
                "mL/min or less, or stop earlier",
            )
        )
    if least_l < option.volume_low_l * (1 - TOLERANCE):
        faults.append(
            Fault(
                where,
                f"{option.name}: {least_min:g} min from start to stop draw {least_l:.4g} L, at least "
                f"{option.volume_low_l:.4g} is wanted: set a higher flow, or start earlier",
            )
        )
    return tuple(faults)


def _visit(visit: Visit, worker: Worker, demand: Demand, equipment: Equipment) -> list[Fault]:
    where, faults = f"{visit.worker}, {visit.day}", []
    if visit.day not in demand.days:
        faults.append(Fault(where, "the day is not one of the campaign's"))
    if worker.days is not None and visit.day not in worker.days:
        faults.append(Fault(where, "the worker is not there on this day"))
    if not visit.trains:
        faults.append(Fault(where, "the visit has no pump"))
    if len(visit.trains) > worker.pumps_at_once:
        faults.append(
            Fault(where, f"{len(visit.trains)} pumps on the worker, at most {worker.pumps_at_once} are allowed")
        )
    for train in visit.trains:
        faults += _train(where, train, worker, demand, equipment)
    return faults


def _train(where: str, train: Train, worker: Worker, demand: Demand, equipment: Equipment) -> list[Fault]:
    where = f"{where}, {train.pump_kind} {train.pump_number}"
    pump = next((kind for kind in equipment.pumps if kind.name == train.pump_kind), None)
    if pump is None:
        return [Fault(where, "no such pump")]
    faults = []
    if not 1 <= train.pump_number <= pump.count:
        faults.append(Fault(where, f"there are only {pump.count} of this kind"))
    if worker.area is not None and worker.area not in pump.certified_for:
        faults.append(Fault(where, f"the pump is not certified for {worker.area}"))
    crew = equipment.crew
    opens, closes = worker.shift_start_min - crew.before_min, worker.shift_start_min + crew.after_min
    if train.hang_at_min < opens or train.hang_at_min + crew.hang_min > closes:
        faults.append(
            Fault(where, f"hung from minute {train.hang_at_min}, outside the start window {opens} to {closes}")
        )
    faults += _ports(where, train, worker, demand, equipment)
    window = pump.direct_lpm if train.splitter_kind is None else pump.split_total_lpm
    total = sum(port.flow_lpm for port in train.ports)
    if window is None or not _inside(total, window):
        faults.append(Fault(where, f"total flow {total:.4g} L/min and the pump can do {window}"))
    return faults


def _ports(where: str, train: Train, worker: Worker, demand: Demand, equipment: Equipment) -> list[Fault]:
    faults, options = [], []
    splitter = next((kind for kind in equipment.splitters if kind.name == train.splitter_kind), None)
    if train.splitter_kind is None:
        if len(train.ports) != 1:
            faults.append(Fault(where, f"{len(train.ports)} samplers on a pump without a splitter"))
    elif splitter is None:
        return [Fault(where, f"no such splitter: {train.splitter_kind}")]
    elif len(train.ports) > splitter.ports or not train.ports:
        faults.append(Fault(where, f"{len(train.ports)} samplers on {splitter.ports} ports"))
    elif len(train.ports) < splitter.ports and not splitter.may_cap:
        faults.append(Fault(where, "a port stays open and may not be capped"))
    for port in train.ports:
        option = demand.options.get(port.option)
        if option is None or port.option not in worker.options:
            faults.append(Fault(where, f"{port.option} is no sampler option of this worker"))
            continue
        options.append(option)
        faults += _flow(where, option, port.flow_lpm)
        if splitter is not None and not _inside(port.flow_lpm, splitter.port_lpm):
            faults.append(
                Fault(where, f"{option.name}: {port.flow_lpm:.4g} L/min and the port does {splitter.port_lpm}")
            )
    if len(train.ports) > 1 and any(option.needs_own_pump for option in options):
        faults.append(Fault(where, "a short-term or task sample shares the pump with others"))
    return faults


def _flow(where: str, option: SamplerOption, flow_lpm: float) -> list[Fault]:
    faults = []
    if not _inside(flow_lpm, (option.flow_low_lpm, option.flow_high_lpm)):
        faults.append(
            Fault(
                where,
                f"{option.name}: {flow_lpm:.4g} L/min, wanted {option.flow_low_lpm:.4g} to {option.flow_high_lpm:.4g}",
            )
        )
    litres = flow_lpm * option.minutes / option.samplers
    if not _inside(litres, (option.volume_low_l, option.volume_high_l)):
        faults.append(
            Fault(
                where,
                f"{option.name}: {litres:.4g} L on each sampler, wanted {option.volume_low_l:.4g} to "
                f"{option.volume_high_l:.4g}",
            )
        )
    return faults


def _inside(value: float, window: tuple[float, float]) -> bool:
    return window[0] * (1 - TOLERANCE) <= value <= window[1] * (1 + TOLERANCE)


def _day(day: str, visits: list[Visit], demand: Demand, equipment: Equipment) -> list[Fault]:
    faults, crew = [], equipment.crew
    technicians = crew.on(day)
    trains = [train for visit in visits for train in visit.trains]
    for (kind, number), uses in Counter((t.pump_kind, t.pump_number) for t in trains).items():
        if uses > 1:
            faults.append(Fault(day, f"{kind} {number} is on {uses} workers at once"))
    for splitter in equipment.splitters:
        uses = sum(train.splitter_kind == splitter.name for train in trains)
        if uses > splitter.count:
            faults.append(Fault(day, f"{uses} {splitter.name} in use and there are {splitter.count}"))
    for person in sorted({train.technician for train in trains}):
        if not 1 <= person <= technicians:
            faults.append(Fault(day, f"technician {person} of {technicians}"))
        starts = sorted(train.hang_at_min for train in trains if train.technician == person)
        for earlier, later in pairwise(starts):
            if later < earlier + crew.hang_min:
                faults.append(Fault(day, f"technician {person} hangs two pumps between minutes {earlier} and {later}"))
    if len(trains) > technicians * crew.pumps_per_technician:
        faults.append(Fault(day, f"{len(trains)} pumps, {technicians} x {crew.pumps_per_technician} can be watched"))
    changes = sum(
        demand.options[port.option].samplers - 1
        for train in trains
        for port in train.ports
        if port.option in demand.options
    )
    if changes > technicians * crew.changes_per_technician:
        faults.append(
            Fault(day, f"{changes} sampler changes, {technicians} x {crew.changes_per_technician} can be made")
        )
    return faults


def _worker_days(visits: Sequence[Visit], workers: dict[str, Worker]) -> list[Fault]:
    faults = []
    for (code, day), times in Counter((visit.worker, visit.day) for visit in visits).items():
        if times > 1:
            faults.append(Fault(f"{code}, {day}", f"{times} visits on one day"))
    for code, count in Counter(visit.worker for visit in visits).items():
        most = workers[code].days_at_most if code in workers else None
        if most is not None and count > most:
            faults.append(Fault(code, f"pumps on {count} days, at most {most} are allowed"))
    return faults


def _wants_and_figures(plan: CampaignPlan, demand: Demand) -> list[Fault]:
    faults = []
    met: Counter[tuple[str, str]] = Counter()
    for visit in plan.visits:
        worn = [demand.options[p.option] for t in visit.trains for p in t.ports if p.option in demand.options]
        for agent in {agent for option in worn for agent in option.agents}:
            met[visit.worker, agent] += 1
    named = {(m.worker, m.agent): m.days_short for m in plan.missing}
    short = 0
    for worker in demand.workers:
        for agent, count in worker.wants.items():
            lacking = max(0, count - met[worker.code, agent])
            short += lacking
            if lacking != named.get((worker.code, agent), 0):
                faults.append(
                    Fault(
                        worker.code,
                        f"{agent}: {lacking} days short, and the plan names {named.get((worker.code, agent), 0)}",
                    )
                )
    trains = [train for visit in plan.visits for train in visit.trains]
    truth = {
        "wants not met": float(short),
        "field days": float(len({visit.day for visit in plan.visits})),
        "pumps carried": float(len({(train.pump_kind, train.pump_number) for train in trains})),
        "samplers and laboratory cost": sum(
            demand.options[p.option].cost for t in trains for p in t.ports if p.option in demand.options
        ),
    }
    for goal in plan.goals:
        if goal.name in truth and abs(goal.reached - truth[goal.name]) > 1e-6 * max(1.0, truth[goal.name]):
            faults.append(
                Fault(
                    "the plan's figures",
                    f"{goal.name}: said {goal.reached:g}, counted {truth[goal.name]:g}",
                )
            )
        if goal.bound > goal.reached + 1e-9:
            faults.append(Fault("the plan's figures", f"{goal.name}: bound {goal.bound:g} above {goal.reached:g}"))
    return faults
