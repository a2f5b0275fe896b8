"""
A plan bent in the field: a pump died, a worker is absent; everybody else keeps what they were told, as far as it goes.

The kernel decides who wears what on which day with the fewest changes. Here the trains get their codes back: a visit
that stays keeps its pump, splitter, technician and hang time; what changes gets what is free that day.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from lapel.assessment.plan_by_hand import HandTrain, as_it_stands, hand_trains
from lapel.assessment.plan_equipment import technicians_on
from lapel.assessment.plan_inputs import PlanInputs, WorkerTerms
from lapel.assessment.planned import Groundwork, SurveyPlan, groundwork
from lapel.planning import Fault, PortUse, Replanned, SplitterKind, Train, Visit, replan
from lapel.planning.train import port_flows


@dataclass(frozen=True, slots=True)
class Move:
    """One thing that is otherwise than people were told: day, worker, what it was and what it is now."""

    day: str
    worker: str
    before: str
    after: str


@dataclass(frozen=True)
class BentPlan:
    """A plan bent from a day on: all its trains, re-checked, with what moved and what the search proved."""

    plan: SurveyPlan
    trains: tuple[HandTrain, ...]
    moves: tuple[Move, ...]
    found: Replanned

    @property
    def words(self) -> str:
        """What changes, in one paragraph."""
        return self.found.words


def bend(
    plan: SurveyPlan,
    *,
    from_day: str,
    pumps_lost: Collection[str] = (),
    absent: Mapping[str, Collection[str]] | None = None,
    seconds: float = 20.0,
) -> BentPlan:
    """
    Bend a plan from a day on, changing as little as what is wanted allows.

    Parameters
    ----------
    plan : SurveyPlan
        The plan in force.
    from_day : str
        First day that can still be changed.
    pumps_lost : collection of str
        Codes of pumps that are gone from that day on.
    absent : mapping of str to collection of str, optional
        Days on which a worker is not there after all.
    seconds : float
        Time granted to the search.

    Returns
    -------
    BentPlan
        Checked again with the absent workers away and without the lost pumps from that day on; nothing is put in force.

    Raises
    ------
    ValueError
        The day, a pump or a worker is not one of the plan's.
    """
    absent = absent or {}
    lost_by_kind: dict[str, int] = {}
    for code in pumps_lost:
        if code not in plan.inputs.pumps:
            raise ValueError(f"`pumps_lost`: no pump of this plan is called {code}")
        kind, _ = plan.equipment.pump_place(code)
        lost_by_kind[kind] = lost_by_kind.get(kind, 0) + 1
    found = replan(
        plan.campaign,
        plan.demand,
        plan.equipment.equipment,
        from_day=from_day,
        pumps_lost=lost_by_kind,
        absent=absent,
        seconds=seconds,
    )
    told = hand_trains(plan)
    done = [train for train in told if train.day < from_day]
    rest = [train for train in told if train.day >= from_day]
    ground = groundwork(with_absences(plan.inputs, absent))
    days = [day for day in plan.demand.days if day >= from_day]
    lost = frozenset(pumps_lost)
    bent = (*done, *(train for day in days for train in _day(day, found, rest, lost, ground)))
    later = [train for train in bent if train.day >= from_day]
    checked = as_it_stands(ground, bent, source=f"changed from {from_day} on")
    checked = replace(checked, faults=(*checked.faults, *pumps_used(later, lost)))
    return BentPlan(checked, bent, _moves(rest, later), found)


def with_absences(inputs: PlanInputs, absent: Mapping[str, Collection[str]]) -> PlanInputs:
    """The inputs of a plan with workers away on further days."""
    terms = dict(inputs.worker_terms)
    for worker, days in absent.items():
        now = terms.get(worker, WorkerTerms(worker))
        terms[worker] = replace(now, away_on=tuple(sorted({*now.away_on, *days})))
    return replace(inputs, worker_terms=terms)


def _day(
    day: str, found: Replanned, told: Sequence[HandTrain], lost: frozenset[str], ground: Groundwork
) -> list[HandTrain]:
    """
    The trains of one day: as people were told where that goes, otherwise with what is free.

    Three layouts are tried, the one that keeps most first, and the first the checker finds nothing against is taken:
    everything that stays as told; the same with the search's own technicians and hang times; the search's own day.
    """
    visits = [visit for visit in found.plan.visits if visit.day == day]
    stay = {worker for worker, on in found.kept if on == day}
    mine = {visit.worker: [t for t in told if (t.day, t.worker) == (day, visit.worker)] for visit in visits}
    untouched = {worker for worker in stay if not any(train.pump in lost for train in mine[worker])}
    used = {code for worker in untouched for t in mine[worker] for code in (t.pump, t.splitter) if code}
    as_told = [train for worker in sorted(untouched) for train in mine[worker]]
    for visit in visits:
        if visit.worker not in untouched:
            as_told += _laid_out(visit, used, lost, ground, like=mine[visit.worker])
    fresh: set[str] = set()
    layouts = (
        as_told,
        _at_the_searchs_times(as_told, visits, ground),
        [train for visit in visits for train in _laid_out(visit, fresh, lost, ground)],
    )
    for layout in layouts:
        if not as_it_stands(ground, layout).faults and not pumps_used(layout, lost):
            return layout
    return layouts[-1]


def pumps_used(trains: Sequence[HandTrain], lost: Collection[str]) -> tuple[Fault, ...]:
    """What stands against trains that use a pump which is gone, or none."""
    gone = (t for t in trains if t.pump in lost or not t.pump)
    return tuple(Fault(t.where, f"pump {t.pump} is gone" if t.pump else "no pump is left for it") for t in gone)


def _at_the_searchs_times(trains: Sequence[HandTrain], visits: Sequence[Visit], ground: Groundwork) -> list[HandTrain]:
    times = {
        (visit.worker, place): (train.technician, train.hang_at_min)
        for visit in visits
        for place, train in enumerate(visit.trains)
    }
    moved, places = [], dict[str, int]()
    for train in trains:
        place = places.get(train.worker, 0)
        places[train.worker] = place + 1
        technician, hang_at = times.get((train.worker, place), (0, train.hang_at_min))
        people = technicians_on(train.day, ground.inputs)
        code = people[technician - 1] if 0 < technician <= len(people) else train.technician
        moved.append(replace(train, technician=code, hang_at_min=hang_at))
    return moved


def _laid_out(
    visit: Visit, used: set[str], lost: frozenset[str], ground: Groundwork, like: Sequence[HandTrain] = ()
) -> list[HandTrain]:
    """A visit of the search with codes; what people were told of the same samplers first, as far as it is free."""
    people = technicians_on(visit.day, ground.inputs)
    area = next((worker.area for worker in ground.demand.workers if worker.code == visit.worker), None)
    trains = []
    for train in visit.trains:
        kinds = {port.option for port in train.ports}
        told = next((t for t in like if {kind for _, kind, _ in t.ports} == kinds), None)
        pump, splitter, flows = _carried(train, told, area, used, lost, ground)
        letters = ground.inputs.splitters[splitter].ports if splitter else ("A", "B", "C", "D")
        ports = tuple((letter, use.option, use.flow_lpm) for letter, use in zip(letters, flows, strict=False))
        hang_at, technician = train.hang_at_min, people[train.technician - 1]
        trains.append(HandTrain(visit.day, visit.worker, pump, splitter, technician, hang_at, ports))
    return trains


def _carried(
    train: Train,
    told: HandTrain | None,
    area: str | None,
    used: set[str],
    lost: frozenset[str],
    ground: Groundwork,
) -> tuple[str, str, tuple[PortUse, ...]]:
    """A free pump and splitter for a train's samplers, those people were told of first; no pump where none do."""
    equipment = ground.equipment
    options = [ground.demand.options[port.option] for port in train.ports]
    pump_kinds = {code: kind for kind in equipment.equipment.pumps for code in equipment.pumps[kind.name]}
    splitter_kinds: dict[str, SplitterKind | None] = {
        code: kind for kind in equipment.equipment.splitters for code in equipment.splitters[kind.name]
    }
    splitter_kinds[""] = None
    pumps = sorted(
        (c for c, kind in pump_kinds.items() if area is None or area in kind.certified_for),
        key=lambda c: (told is None or c != told.pump, pump_kinds[c].name != train.pump_kind),
    )
    wanted = train.splitter_kind or ""
    splitters = sorted(
        splitter_kinds,
        key=lambda c: (
            told is None or c != told.splitter,
            (kind.name if (kind := splitter_kinds[c]) else "") != wanted,
        ),
    )
    for pump in (code for code in pumps if code not in used and code not in lost):
        for splitter in (code for code in splitters if code not in used):
            flows = port_flows(options, pump_kinds[pump], splitter_kinds[splitter])
            if flows is not None:
                used.update(code for code in (pump, splitter) if code)
                return pump, splitter, flows
    return "", "", train.ports


def _moves(before: Sequence[HandTrain], after: Sequence[HandTrain]) -> tuple[Move, ...]:
    keys = sorted({(train.day, train.worker) for train in (*before, *after)})
    moves = []
    for day, worker in keys:
        old, new = (
            "; ".join(sorted(_words(train) for train in trains if (train.day, train.worker) == (day, worker)))
            for trains in (before, after)
        )
        if old != new:
            moves.append(Move(day, worker, old, new))
    return tuple(moves)


def _words(train: HandTrain) -> str:
    clock = f"{train.hang_at_min // 60 % 24:02d}:{train.hang_at_min % 60:02d}"
    ports = " + ".join(kind for _, kind, _ in train.ports)
    splitter = f" with {train.splitter}" if train.splitter else ""
    return f"{train.pump}{splitter}, {ports}, {train.technician} at {clock}"
