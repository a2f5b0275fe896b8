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
from lapel.planning import Replanned, Train, Visit, replan


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
    checked = as_it_stands(ground, bent, source=f"changed from {from_day} on")
    return BentPlan(checked, bent, _moves(rest, [train for train in bent if train.day >= from_day]), found)


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
    """The trains of one day: those that stay as told first, then the rest with what is still free."""
    visits = [visit for visit in found.plan.visits if visit.day == day]
    stay = {worker for worker, on in found.kept if on == day}
    mine = {visit.worker: [t for t in told if (t.day, t.worker) == (day, visit.worker)] for visit in visits}
    kept = [train for visit in visits if visit.worker in stay for train in mine[visit.worker] if train.pump not in lost]
    used = {train.pump for train in kept} | {train.splitter for train in kept}
    made = list(kept)
    for visit in visits:
        if visit.worker in stay:
            made += [_with_another_pump(t, used, lost, ground) for t in mine[visit.worker] if t.pump in lost]
        else:
            made += _laid_out(visit, used, lost, ground)
    tentative = as_it_stands(ground, made)
    if not tentative.faults:
        return made
    # Old and new hang times do not go together: take those of the search for the whole day, and keep the pumps.
    times = {
        (visit.worker, place): (train.technician, train.hang_at_min)
        for visit in visits
        for place, train in enumerate(visit.trains)
    }
    people = technicians_on(day, ground.inputs)
    moved, places = [], dict[str, int]()
    for train in made:
        place = places.get(train.worker, 0)
        places[train.worker] = place + 1
        technician, hang_at = times.get((train.worker, place), (0, train.hang_at_min))
        code = people[technician - 1] if 0 < technician <= len(people) else train.technician
        moved.append(replace(train, technician=code, hang_at_min=hang_at))
    return moved


def _with_another_pump(train: HandTrain, used: set[str], lost: frozenset[str], ground: Groundwork) -> HandTrain:
    kind, _ = ground.equipment.pump_place(train.pump)
    return replace(train, pump=_free(ground.equipment.pumps[kind], used, lost))


def _laid_out(visit: Visit, used: set[str], lost: frozenset[str], ground: Groundwork) -> list[HandTrain]:
    people = technicians_on(visit.day, ground.inputs)
    trains = []
    for train in visit.trains:
        splitter = ""
        if train.splitter_kind is not None:
            splitter = _free(ground.equipment.splitters[train.splitter_kind], used, lost)
        letters = ground.inputs.splitters[splitter].ports if splitter else ("A",)
        trains.append(
            HandTrain(
                visit.day,
                visit.worker,
                _free(ground.equipment.pumps[train.pump_kind], used, lost),
                splitter,
                people[train.technician - 1],
                train.hang_at_min,
                _ports(train, letters),
            )
        )
    return trains


def _ports(train: Train, letters: Sequence[str]) -> tuple[tuple[str, str, float], ...]:
    return tuple((letter, port.option, port.flow_lpm) for letter, port in zip(letters, train.ports, strict=False))


def _free(codes: Sequence[str], used: set[str], lost: frozenset[str]) -> str:
    """The first of these codes nobody uses that day; the kernel has counted that there is one, the checker looks."""
    code = next((code for code in codes if code not in used and code not in lost), codes[0])
    used.add(code)
    return code


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
