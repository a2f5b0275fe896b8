"""
One sample as the log goes on: a sampler, its port, and the segments it drew.

Mutable on purpose: the train drives it entry by entry, and the fold freezes it at the end.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from lapel.fieldlog.order import Act
from lapel.fieldlog.state import (
    Conflict,
    EndedBy,
    FlowReading,
    FlowRound,
    PumpCheck,
    PumpRun,
    Remark,
    SampleRun,
    Segment,
)


@dataclass(slots=True)
class PumpRunLog:
    """A pump's running time while it goes on; counters are `None` where nobody read them."""

    start: datetime
    counter_start: float | None
    stop: datetime | None = None
    counter_stop: float | None = None

    @property
    def clock_min(self) -> float | None:
        """Minutes by the clock."""
        return None if self.stop is None else minutes_between(self.start, self.stop)

    @property
    def counter_min(self) -> float | None:
        """Minutes by the pump's counter; `None` also where it went backwards, so that it must have been set anew."""
        return counted(self.counter_start, self.counter_stop)

    def frozen(self) -> PumpRun:
        """Return it as plain data."""
        return PumpRun(self.start, self.stop, self.clock_min, self.counter_min)


@dataclass(slots=True)
class SegmentLog:
    """A segment while it goes on; see `lapel.fieldlog.state.Segment`."""

    train: str
    port: str
    preparation: int
    pump: str
    start: datetime
    before: FlowRound | None
    before_lost: str
    neighbours_at_start: int
    start_entry: str
    counter_start: float | None
    stop: datetime | None = None
    ended_by: EndedBy = ""
    stop_from_counter: bool = False
    not_after: datetime | None = None
    after: FlowRound | None = None
    after_lost: str = ""
    neighbour_touches: int = 0
    stop_entry: str = ""
    counter_stop: float | None = None
    goes_on_in_next: bool = False
    checks: list[FlowReading] = field(default_factory=list)

    def frozen(self) -> Segment:
        """Return it as plain data."""
        return Segment(
            train=self.train,
            port=self.port,
            preparation=self.preparation,
            pump=self.pump,
            start=self.start,
            stop=self.stop,
            minutes=None if self.stop is None else minutes_between(self.start, self.stop),
            ended_by=self.ended_by,
            stop_from_counter=self.stop_from_counter,
            not_after=self.not_after,
            before=self.before,
            after=self.after,
            before_lost=self.before_lost,
            after_lost=self.after_lost,
            neighbour_touches=self.neighbour_touches,
            checks=tuple(self.checks),
            start_entry=self.start_entry,
            stop_entry=self.stop_entry,
        )


@dataclass(slots=True)
class RunLog:
    """A sample while it goes on; see `lapel.fieldlog.state.SampleRun`."""

    sampler: str
    train: str
    port: str
    preparation: int
    pump: str
    splitter: str
    medium: str = ""
    lot: str = ""
    expiry: str = ""
    how: str = ""
    fitted_at: datetime | None = None
    removed_at: datetime | None = None
    on: tuple[str, str] | None = None
    fit_entry: Act | None = None
    removal: Act | None = None
    segments: list[SegmentLog] = field(default_factory=list)
    strays: list[SegmentLog] = field(default_factory=list)
    workers: list[str] = field(default_factory=list)
    pump_runs: list[PumpRunLog] = field(default_factory=list)
    checks: list[PumpCheck] = field(default_factory=list)
    faults: int = 0
    restarts: int = 0
    held_min: float = 0.0
    touched_in_run: bool = False
    missing: list[str] = field(default_factory=list)
    entry_ids: dict[str, None] = field(default_factory=dict)

    @property
    def has_drawn(self) -> bool:
        """Whether air was drawn through it, as far as the log tells."""
        return bool(self.segments or self.strays)

    def saw(self, act: Act) -> None:
        """Note that an entry belongs to this sample."""
        self.entry_ids[act.id] = None

    def begin(self, segment: SegmentLog, pump_run: PumpRunLog | None, worker: str) -> None:
        """Add a segment; one on a port that is not the sample's own strays."""
        own = (segment.train, segment.port) == (self.train, self.port)
        if own and not self.segments:
            self.preparation, self.pump = segment.preparation, segment.pump
        (self.segments if own else self.strays).append(segment)
        if pump_run is not None and not any(known is pump_run for known in self.pump_runs[-1:]):
            self.pump_runs.append(pump_run)
        if worker and worker not in self.workers:
            self.workers.append(worker)

    def involved_ids(self) -> set[str]:
        """Return the ids of all entries the sample's numbers rest on, its readings included."""
        ids = set(self.entry_ids)
        for segment in (*self.segments, *self.strays):
            for made in (segment.before, segment.after):
                if made is not None:
                    ids.add(made.entry_id)
                    ids.update(reading.entry_id for reading in made.readings)
        return ids

    def frozen(self, conflicts: tuple[Conflict, ...], remarks: tuple[Remark, ...], parcel: str) -> SampleRun:
        """Return it as plain data."""
        segments = tuple(segment.frozen() for segment in self.segments)
        return SampleRun(
            sampler=self.sampler,
            train=self.train,
            port=self.port,
            preparation=self.preparation,
            pump=self.pump,
            splitter=self.splitter,
            worker=self.workers[0] if self.workers else "",
            workers=tuple(self.workers),
            medium=self.medium,
            lot=self.lot,
            expiry=self.expiry,
            how=self.how,
            fitted_at=self.fitted_at,
            removed_at=self.removed_at,
            segments=segments,
            stray_segments=tuple(segment.frozen() for segment in self.strays),
            checks=tuple(self.checks),
            faults=self.faults,
            restarts=self.restarts,
            held_min=self.held_min,
            clock_min=total([segment.minutes for segment in segments]),
            counter_min=self._counter_min(),
            pump_clock_min=total([run.clock_min for run in self._comparable_pump_runs()]),
            pump_counter_min=total([run.counter_min for run in self._comparable_pump_runs()]),
            touched_in_run=self.touched_in_run,
            missing=tuple(dict.fromkeys(self.missing)),
            conflicts=conflicts,
            remarks=remarks,
            parcel=parcel,
            entry_ids=tuple(self.entry_ids),
        )

    def _counter_min(self) -> float | None:
        """Add up the counter over the segments; one that a touched valve split counts where it ends."""
        return total([counted(s.counter_start, s.counter_stop) for s in self.segments if not s.goes_on_in_next])

    def _comparable_pump_runs(self) -> list[PumpRunLog]:
        runs = self.pump_runs
        comparable = all(run.clock_min is not None and run.counter_min is not None for run in runs)
        return runs if comparable else []


def minutes_between(start: datetime, stop: datetime) -> float:
    """Return the minutes from one instant to another, both in UTC."""
    return (stop - start).total_seconds() / 60.0


def counted(start: float | None, stop: float | None) -> float | None:
    """Return how far a counter advanced; `None` if it was not read, or went back and so was set anew."""
    if start is None or stop is None or stop < start:
        return None
    return stop - start


def total(parts: list[float | None]) -> float | None:
    """Add up; `None` where a part is missing or there is none."""
    known = [part for part in parts if part is not None]
    return sum(known) if known and len(known) == len(parts) else None
