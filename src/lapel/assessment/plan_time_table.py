"""Each technician's day: what should be done when, and when one pair of hands can do it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from lapel.assessment.plan_inputs import OfferedShift, PlanInputs
from lapel.assessment.planned_trains import PlannedPort, PlannedTrain
from lapel.planning import Fault, check_run

HANG_AND_START = "hang and start"
STOP = "stop and take off"


@dataclass(frozen=True, slots=True)
class Act:
    """One act of a technician: when it should be, when it can be, how long it takes."""

    day: str
    technician: str
    wanted_min: int
    begins_min: int
    minutes: int
    what: str
    train: str = ""
    worker: str = ""
    about: str = ""

    @property
    def late_min(self) -> int:
        """Minutes it comes after it should, for other work. [min]"""
        return self.begins_min - self.wanted_min


@dataclass(frozen=True, slots=True)
class SamplerRun:
    """
    One sampler by the time table: started between two times, stopped or changed at a third, after midnight. [min]
    """

    port: PlannedPort
    turn: int
    earliest_min: int
    latest_min: int
    stops_min: int

    @property
    def most_min(self) -> int:
        """Most minutes between start and stop. [min]"""
        return self.stops_min - self.earliest_min

    @property
    def least_min(self) -> int:
        """Fewest minutes between start and stop. [min]"""
        return self.stops_min - self.latest_min


def sampler_runs(train: PlannedTrain, acts: Sequence[Act]) -> list[SamplerRun]:
    """Every sampler of a train from its start to its stop; none where a task starts and stops the pump."""
    mine = [act for act in acts if (act.day, act.train) == (train.day, train.code)]
    runs = []
    for port in train.ports:
        words = (HANG_AND_START, _change_words(port), _close_words(port), STOP)
        bounds = sorted((act for act in mine if act.what in words), key=lambda act: act.begins_min)
        if not bounds or bounds[0].what != HANG_AND_START:
            continue
        closed = next((i for i, act in enumerate(bounds) if act.what == _close_words(port)), len(bounds) - 1)
        for turn, (before, after) in enumerate(pairwise(bounds[: closed + 1]), start=1):
            begins = before.begins_min
            runs.append(SamplerRun(port, turn, begins, begins + before.minutes, after.begins_min))
    return runs


def air_faults(trains: Sequence[PlannedTrain], acts: Sequence[Act]) -> tuple[Fault, ...]:
    """Samplers that see too much or too little air between the start and the stop the time table gives them."""
    faults: dict[Fault, None] = {}
    for train in trains:
        where = f"{train.worker}, {train.day}, pump {train.pump}"
        for run in sampler_runs(train, acts):
            option, flow = run.port.kind.option, run.port.flow_lpm
            faults |= dict.fromkeys(check_run(where, option, flow, least_min=run.least_min, most_min=run.most_min))
    return tuple(faults)


def _change_words(port: PlannedPort) -> str:
    return f"change the sampler on port {port.letter}"


def _close_words(port: PlannedPort) -> str:
    return f"close port {port.letter} and take its sampler"


def shift_end_min(inputs: PlanInputs, train: PlannedTrain) -> int:
    """When the worker's shift ends, in minutes after midnight of the day it began. [min]"""
    shift = _shift(inputs, train)
    return shift.start_min + round(shift.minutes)


def _shift(inputs: PlanInputs, train: PlannedTrain) -> OfferedShift:
    # a plan edited by hand may name a worker whose group was not asked about and has no shift of its own
    shifts = inputs.shifts_of(inputs.group_of(train.worker)) or inputs.shifts
    return next((shift for shift in shifts if shift.day == train.day), shifts[0])


def day_acts(inputs: PlanInputs, trains: Sequence[PlannedTrain], day: str) -> list[Act]:
    """Every technician's acts of a day, one after the other; trains in the order they are hung."""
    acts: list[Act] = []
    today = [train for train in trains if train.day == day]
    for technician in dict.fromkeys(train.technician for train in today):
        mine = [train for train in today if train.technician == technician]
        acts += _one_after_the_other(_wishes(inputs, mine, day, technician))
    return acts


def _wishes(inputs: PlanInputs, trains: Sequence[PlannedTrain], day: str, technician: str) -> list[Act]:
    """What should be done when, whatever else there is to do."""
    crew = inputs.crew
    acts: list[Act] = []

    def wish(at: int, minutes: int, what: str, train: PlannedTrain, about: str = "") -> None:
        acts.append(Act(day, technician, at, at, minutes, what, train.code, train.worker, about))

    first = min(train.hang_at_min for train in trains)
    stopped: Counter[int] = Counter()
    for place, train in enumerate(trains):
        begins = first - crew.set_min * (len(trains) - place)
        ports = ", ".join(f"{port.letter} {port.flow_lpm * 1000:.0f}" for port in train.ports)
        wish(begins, crew.set_min, "set and read the closing round", train, f"mL/min: {ports}")
        starts = train.hang_at_min + crew.hang_min
        ends = shift_end_min(inputs, train)
        closes = _closes(inputs, train, starts, ends)
        ends = max(closes.values(), default=ends)
        if any(port.kind.option.needs_own_pump for port in train.ports):
            kind = train.ports[0].kind
            words = f"{kind.purpose}: start when it begins, stop after {kind.option.minutes:g} min"
            wish(train.hang_at_min, crew.hang_min, "hang, not started", train, words)
        else:
            wish(train.hang_at_min, crew.hang_min, HANG_AND_START, train)
            at = starts + crew.first_check_min
            while at < ends - crew.check_min:
                wish(at, crew.check_min, "check", train)
                at += crew.check_every_min
        # Pumps of one shift end wait for their stop in the order they were hung; changes are spread up to it.
        waits = stopped[ends] * crew.take_down_min
        for port in train.ports:
            early = closes[port.letter] < ends
            runs = closes[port.letter] + (0 if early else waits) - starts
            for turn in range(1, port.kind.option.samplers):
                at = starts + round(turn * runs / port.kind.option.samplers)
                wish(at, crew.change_min, _change_words(port), train, f"number {turn + 1}")
            if early:
                wish(closes[port.letter], crew.change_min, _close_words(port), train, "clamp it, touch no valve")
        stopped[ends] += 1
        wish(ends, crew.take_down_min, STOP, train)
        wish(ends + crew.take_down_min, crew.post_min, "read the closing round afterwards", train, "touch no valve")
    done = max(shift_end_min(inputs, train) for train in trains)
    pack = Act(
        day, technician, done, done, crew.pack_min, "label, pack, custody", "", "", "blanks too; air apart from bulk"
    )
    return [*acts, pack]


def _closes(inputs: PlanInputs, train: PlannedTrain, starts: int, ends: int) -> dict[str, int]:
    """When each port has drawn what it is planned to: at the shift's end, or earlier where part of it is sampled."""
    shift = round(_shift(inputs, train).minutes)
    closes = {}
    for port in train.ports:
        option = port.kind.option
        is_part = not option.needs_own_pump and option.minutes < shift
        closes[port.letter] = min(ends, starts + round(option.minutes)) if is_part else ends
    return closes


ORDER = ("hang", "change", "close", STOP, "check", "set", "read", "label")
"""What goes first when two acts are wanted at once."""


def _one_after_the_other(wishes: Sequence[Act]) -> list[Act]:
    """One pair of hands: what is wanted first is done first, and what must wait waits."""
    rank = {word: place for place, word in enumerate(ORDER)}

    def before(act: Act) -> tuple[int, int]:
        return act.wanted_min, next(place for word, place in rank.items() if act.what.startswith(word))

    done: list[Act] = []
    free = -1440
    waiting = list(wishes)
    while waiting:
        ready = [act for act in waiting if act.wanted_min <= free] or [min(waiting, key=before)]
        act = min(ready, key=lambda each: (before(each)[1], each.wanted_min))
        waiting.remove(act)
        begins = max(free, act.wanted_min)
        done.append(
            Act(
                act.day, act.technician, act.wanted_min, begins, act.minutes, act.what, act.train, act.worker, act.about
            )
        )
        free = begins + act.minutes
    return done


def late_words(acts: Sequence[Act]) -> list[str]:
    """Whose checks, changes or stops come late for other work, in words."""
    words = []
    for technician in dict.fromkeys(act.technician for act in acts):
        for day in dict.fromkeys(act.day for act in acts):
            late = [
                act.late_min
                for act in acts
                if (act.technician, act.day) == (technician, day)
                and act.what.startswith(("check", "change", "stop"))
                and act.late_min > 10
            ]
            if late:
                count = (
                    "one check, change or stop comes"
                    if len(late) == 1
                    else f"{len(late)} checks, changes or stops come"
                )
                words.append(
                    f"{technician} on {day}: {count} up to {max(late)} min late, for other work. Give the day another "
                    "technician, or fewer pumps, if that matters."
                )
    return words
