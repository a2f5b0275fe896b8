"""Each technician's day: what should be done when, and when one pair of hands can do it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapel.assessment.plan_inputs import OfferedShift
from lapel.assessment.planned import SurveyPlan
from lapel.assessment.planned_trains import PlannedTrain


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


def shift_end_min(plan: SurveyPlan, train: PlannedTrain) -> int:
    """When the worker's shift ends, in minutes after midnight of the day it began. [min]"""
    shift = _shift(plan, train)
    return shift.start_min + round(shift.minutes)


def _shift(plan: SurveyPlan, train: PlannedTrain) -> OfferedShift:
    # a plan edited by hand may name a worker whose group was not asked about and has no shift of its own
    shifts = plan.inputs.shifts_of(plan.inputs.group_of(train.worker)) or plan.inputs.shifts
    return next((shift for shift in shifts if shift.day == train.day), shifts[0])


def day_acts(plan: SurveyPlan, day: str) -> list[Act]:
    """Every technician's acts of a day, one after the other."""
    acts: list[Act] = []
    for technician in dict.fromkeys(train.technician for train in plan.trains_on(day)):
        mine = [train for train in plan.trains_on(day) if train.technician == technician]
        acts += _one_after_the_other(_wishes(plan, mine, day, technician))
    return acts


def _wishes(plan: SurveyPlan, trains: Sequence[PlannedTrain], day: str, technician: str) -> list[Act]:
    """What should be done when, whatever else there is to do."""
    crew = plan.inputs.crew
    acts: list[Act] = []

    def wish(at: int, minutes: int, what: str, train: PlannedTrain, about: str = "") -> None:
        acts.append(Act(day, technician, at, at, minutes, what, train.code, train.worker, about))

    first = min(train.hang_at_min for train in trains)
    for place, train in enumerate(trains):
        begins = first - crew.set_min * (len(trains) - place)
        ports = ", ".join(f"{port.letter} {port.flow_lpm * 1000:.0f}" for port in train.ports)
        wish(begins, crew.set_min, "set and read the closing round", train, f"mL/min: {ports}")
        starts = train.hang_at_min + crew.hang_min
        ends = shift_end_min(plan, train)
        if any(port.kind.option.needs_own_pump for port in train.ports):
            kind = train.ports[0].kind
            words = f"{kind.purpose}: start when it begins, stop after {kind.option.minutes:g} min"
            wish(train.hang_at_min, crew.hang_min, "hang, not started", train, words)
        else:
            wish(train.hang_at_min, crew.hang_min, "hang and start", train)
            at = starts + crew.first_check_min
            while at < ends - crew.check_min:
                wish(at, crew.check_min, "check", train)
                at += crew.check_every_min
        for port in train.ports:
            for turn in range(1, port.kind.option.samplers):
                at = starts + round(turn * port.kind.minutes_each)
                wish(at, crew.change_min, f"change the sampler on port {port.letter}", train, f"number {turn + 1}")
        wish(ends, crew.take_down_min, "stop and take off", train)
        wish(ends + crew.take_down_min, crew.post_min, "read the closing round afterwards", train, "touch no valve")
    done = max(shift_end_min(plan, train) for train in trains)
    pack = Act(
        day, technician, done, done, crew.pack_min, "label, pack, custody", "", "", "blanks too; air apart from bulk"
    )
    return [*acts, pack]


ORDER = ("hang", "change", "stop and take off", "check", "set", "read", "label")
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
