"""Samples and blanks: the segments a sampler drew, and what is in doubt about them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal, TypeAlias

from lapel.fieldlog.state.flow import FlowReading, FlowRound
from lapel.fieldlog.state.train import PumpCheck
from lapel.said import Said

EndedBy: TypeAlias = Literal[
    "",
    "shift end",
    "tube change",
    "fault",
    "early",
    "other",
    "hold",
    "valve touched",
    "sampler removed",
    "another sampler fitted",
]


@dataclass(frozen=True, slots=True)
class Segment:
    """
    One uninterrupted time in which one sampler drew on one port.

    Parameters
    ----------
    stop : datetime or None
        `None` while it runs, or when nobody recorded the end; `not_after` is then the latest instant it can have been,
        where the log tells.
    minutes : float or None
        Stop less start. [min]
    stop_from_counter : bool
        The pump stopped by itself: the stop was worked out from its counter.
    before, after : FlowRound or None
        The closing round before and the round after it that speak for this segment; where `None`, `before_lost` and
        `after_lost` say why.
    neighbour_touches : int
        Valves of other ports of the train touched between the before round and the stop: ports influence each other.
    preparation : int
        Index into the train's preparations: which pump, which rounds.
    checks : tuple of FlowReading
        Readings of phase "check" at this port while it drew.
    """

    train: str
    port: str
    preparation: int
    pump: str
    start: datetime
    stop: datetime | None
    minutes: float | None
    ended_by: EndedBy
    stop_from_counter: bool
    not_after: datetime | None
    before: FlowRound | None
    after: FlowRound | None
    before_lost: str
    after_lost: str
    neighbour_touches: int
    checks: tuple[FlowReading, ...]
    start_entry: str
    stop_entry: str


@dataclass(frozen=True, slots=True)
class Conflict:
    """
    Entries that cannot all be right, to be settled by people: a correction that withdraws or changes one.

    Until then the first in order counts, all stay in the log, and every sample concerned says so.
    """

    about: str
    entry_ids: tuple[str, ...]
    words: Said
    train: str = ""
    port: str = ""
    samplers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Remark:
    """Something the reader of the day should know, that nobody has to settle."""

    about: str
    entry_ids: tuple[str, ...]
    words: Said
    train: str = ""
    port: str = ""
    samplers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SampleRun:
    """
    One sample: one sampler on one port over one or more segments.

    Parameters
    ----------
    pump, splitter, worker : str
        Of its first segment (or of the fitting, before there is one); empty when not recorded.
    segments : tuple of Segment
        In order of time, all on `port` of `train`.
    stray_segments : tuple of Segment
        Drawn with the same sampler on another port: a conflict, not part of the sample's volume until settled.
    held_min : float
        Minutes on hold with the sampler fitted, between a hold and its end.
    clock_min : float or None
        Sum of its segments; `None` when one has no known end. [min]
    counter_min : float or None
        What the pump's counter gives for exactly these segments; `None` when it was not read at their ends. [min]
    pump_clock_min, pump_counter_min : float or None
        Clock and counter over the pump's whole running times in which this sampler took part: comparable with each
        other also when the tube was changed while the pump ran. [min]
    missing : tuple of str
        What nobody recorded ("start", "stop", "fitting"), in words.
    entry_ids : tuple of str
        Entries that name the sampler or started, stopped or touched it.
    """

    sampler: str
    train: str
    port: str
    preparation: int
    pump: str
    splitter: str
    worker: str
    workers: tuple[str, ...]
    medium: str
    lot: str
    expiry: str
    how: str
    fitted_at: datetime | None
    removed_at: datetime | None
    segments: tuple[Segment, ...]
    stray_segments: tuple[Segment, ...]
    checks: tuple[PumpCheck, ...]
    faults: int
    restarts: int
    held_min: float
    clock_min: float | None
    counter_min: float | None
    pump_clock_min: float | None
    pump_counter_min: float | None
    touched_in_run: bool
    missing: tuple[str, ...]
    conflicts: tuple[Conflict, ...]
    remarks: tuple[Remark, ...]
    parcel: str
    entry_ids: tuple[str, ...]

    @property
    def is_drawing(self) -> bool:
        """Whether the last segment runs on, as far as the log tells."""
        return bool(self.segments) and self.segments[-1].stop is None and not self.segments[-1].ended_by

    @property
    def is_complete(self) -> bool:
        """Whether it drew and every start and stop is known."""
        return bool(self.segments) and not self.missing and all(s.stop is not None for s in self.segments)


@dataclass(frozen=True, slots=True)
class BlankRun:
    """One blank; `use` is "field" when left empty, `open_min` is `None` unless both ends were recorded."""

    blank: str
    use: str
    medium: str
    lot: str
    place: str
    opened_at: datetime | None
    closed_at: datetime | None
    open_min: float | None
    conflicts: tuple[Conflict, ...]
    parcel: str
    entry_ids: tuple[str, ...]
