"""The days of a survey in the field: which trains belong to which day, by the clock of the place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from lapel.fieldlog import Day, Preparation, SampleRun


@dataclass(frozen=True, slots=True)
class TrainDay:
    """One preparation of a train, with the samplers that were fitted to it in order of time; `on` is its first day."""

    on: date
    preparation: Preparation
    runs: tuple[SampleRun, ...]


def train_days(day: Day, zone: ZoneInfo) -> list[TrainDay]:
    """
    Return every preparation of every train, by day and code; a night shift belongs to the day it was prepared for.

    A preparation nobody dated, with nothing read and nothing fitted, belongs to no day and is left out.
    """
    runs: dict[tuple[str, int], list[SampleRun]] = {}
    for run in day.runs.values():
        runs.setdefault((run.train, run.preparation), []).append(run)
    found = []
    for code, train in day.trains.items():
        for index, preparation in enumerate(train.preparations):
            fitted = sorted(runs.get((code, index), ()), key=lambda run: (run.port, _first(run) or preparation.at))
            first = min(_instants(preparation, fitted), default=None)
            if first is not None:
                found.append(TrainDay(first.astimezone(zone).date(), preparation, tuple(fitted)))
    return sorted(found, key=lambda one: (one.on, one.preparation.train, one.preparation.number))


def _instants(preparation: Preparation, runs: list[SampleRun]) -> Iterator[datetime]:
    if preparation.at is not None:
        yield preparation.at
        return
    yield from (read.at for read in preparation.readings)
    yield from (first for run in runs if (first := _first(run)) is not None)


def _first(run: SampleRun) -> datetime | None:
    if run.fitted_at is not None:
        return run.fitted_at
    return run.segments[0].start if run.segments else None
