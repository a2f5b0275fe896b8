"""
What the log amounts to: the day as plain data, made by `lapel.fieldlog.fold`.

Instants are in UTC, so that a difference of two is a duration whatever the clock on the wall did; minutes are computed
from them. Readings, units and answers are texts as typed. `None` means not recorded, never "no".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal, TypeAlias

from lapel.fieldlog.entries import Entry

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
RoundPhase: TypeAlias = Literal["closing", "post"]


@dataclass(frozen=True, slots=True)
class FlowReading:
    """One reading of one port, as typed."""

    entry_id: str
    at: datetime
    train: str
    port: str
    phase: str
    meter: str
    reading: str
    unit: str
    volume: str
    volume_unit: str
    seconds: str
    basis: str
    temperature: str
    temperature_unit: str
    pressure: str
    pressure_unit: str
    humidity_percent: str
    author: str


@dataclass(frozen=True, slots=True)
class FlowRound:
    """
    The readings of one port in one round.

    `declared` is False where readings were taken but nobody said the round was complete; the answers are then `None`.
    `valve_touched` of a post round is True when the round says so or the log has a touch between run and round. `at` is
    the instant of the declaration, or of the last reading. `entry_id` is the declaring entry, or empty.
    """

    phase: RoundPhase
    port: str
    at: datetime
    readings: tuple[FlowReading, ...]
    declared: bool
    entry_id: str = ""
    valve_touched: bool | None = None
    recharged: bool | None = None
    battery_changed: bool | None = None
    same_tubes: bool | None = None


@dataclass(frozen=True, slots=True)
class TrainRound:
    """One declared round over a train, with each port's part of it; a port listed without a reading has no part."""

    phase: RoundPhase
    at: datetime
    entry_id: str
    ports: Mapping[str, FlowRound]
    ports_without_reading: tuple[str, ...] = ()
    valve_touched: bool | None = None
    recharged: bool | None = None
    battery_changed: bool | None = None
    same_tubes: bool | None = None


@dataclass(frozen=True, slots=True)
class PortPrepared:
    """What was put on a port to set its flow, and the flow wanted there."""

    entry_id: str
    at: datetime
    port: str
    tube: str
    medium: str
    lot: str
    target: str
    target_unit: str


@dataclass(frozen=True, slots=True)
class LeakCheck:
    """One leak check; an empty port means all inlets plugged at once."""

    entry_id: str
    at: datetime
    port: str
    passed: bool


@dataclass(frozen=True, slots=True)
class PumpCheck:
    """Somebody looked at the pump."""

    entry_id: str
    at: datetime
    running: bool
    counter_min: float | None
    display: str
    display_unit: str
    remark: str


@dataclass(frozen=True, slots=True)
class Hung:
    """Who wore the train from when."""

    entry_id: str
    at: datetime
    worker: str
    side: str
    zone: str


@dataclass(frozen=True, slots=True)
class PumpRun:
    """
    One uninterrupted time in which a pump drew on any port.

    `counter_min` is the minutes its counter advanced, `clock_min` the minutes of the clock; `None` where an end or a
    counter reading is missing.
    """

    start: datetime
    stop: datetime | None
    clock_min: float | None
    counter_min: float | None


@dataclass(frozen=True, slots=True)
class Preparation:
    """
    One putting together of a train, up to the next one: flows measured in it hold for its segments only.

    `entry_id` is empty and `at` `None` where acts on a train came without a ``train_prepared``.
    """

    train: str
    number: int
    entry_id: str
    at: datetime | None
    pump: str
    splitter: str
    warm_up_min: float | None
    charged_at: datetime | None
    battery: str
    place: str
    ports: Mapping[str, PortPrepared]
    leak_checks: tuple[LeakCheck, ...]
    closing_rounds: tuple[TrainRound, ...]
    post_rounds: tuple[TrainRound, ...]
    hung: tuple[Hung, ...]
    checks: tuple[PumpCheck, ...]
    pump_runs: tuple[PumpRun, ...]
    readings: tuple[FlowReading, ...]


@dataclass(frozen=True, slots=True)
class Train:
    """A train over the whole log: its preparations in order, at least one; the short names speak of the last."""

    code: str
    preparations: tuple[Preparation, ...]

    @property
    def last(self) -> Preparation:
        """The last preparation."""
        return self.preparations[-1]

    @property
    def pump(self) -> str:
        """Pump of the last preparation."""
        return self.last.pump

    @property
    def splitter(self) -> str:
        """Holder of the last preparation."""
        return self.last.splitter

    @property
    def ports(self) -> Mapping[str, PortPrepared]:
        """Prepared ports of the last preparation."""
        return self.last.ports

    @property
    def closing_rounds(self) -> tuple[TrainRound, ...]:
        """Declared closing rounds of the last preparation."""
        return self.last.closing_rounds

    @property
    def post_rounds(self) -> tuple[TrainRound, ...]:
        """Declared post rounds of the last preparation."""
        return self.last.post_rounds

    @property
    def leak_checks(self) -> tuple[LeakCheck, ...]:
        """Leak checks of the last preparation."""
        return self.last.leak_checks

    @property
    def warm_up_min(self) -> float | None:
        """Warm-up of the last preparation. [min]"""
        return self.last.warm_up_min

    @property
    def charged_at(self) -> datetime | None:
        """When the battery was last charged before the last preparation."""
        return self.last.charged_at

    @property
    def worker(self) -> str:
        """Who wore it last; empty when nobody did."""
        return self.last.hung[-1].worker if self.last.hung else ""


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
    words: str
    train: str = ""
    port: str = ""
    samplers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Remark:
    """Something the reader of the day should know, that nobody has to settle."""

    about: str
    entry_ids: tuple[str, ...]
    words: str
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


@dataclass(frozen=True, slots=True)
class Conditions:
    """The air at a place, as typed."""

    entry_id: str
    at: datetime
    place: str
    temperature: str
    temperature_unit: str
    pressure: str
    pressure_unit: str
    humidity_percent: str


@dataclass(frozen=True, slots=True)
class Task:
    """What a worker did; `until` as recorded, else the start of the worker's next task, else `None`."""

    entry_id: str
    at: datetime
    until: datetime | None
    worker: str
    task: str


@dataclass(frozen=True, slots=True)
class Note:
    """A note or a photo (then `file` is set)."""

    entry_id: str
    at: datetime
    author: str
    about: str
    text: str
    file: str
    sha256: str


@dataclass(frozen=True, slots=True)
class CustodyHop:
    """The parcel changed hands."""

    entry_id: str
    at: datetime
    giver: str
    receiver: str
    seal_intact: bool | None
    temperature: str
    temperature_unit: str


@dataclass(frozen=True, slots=True)
class CustodyGap:
    """Nobody recorded how the parcel came from the last known holder to the one who gave it on."""

    after: datetime
    until: datetime
    hours: float
    last_holder: str
    next_giver: str


@dataclass(frozen=True, slots=True)
class Parcel:
    """A sealed parcel and its way; `seal_broken` is True once somebody found it so, `None` if nobody ever looked."""

    code: str
    samplers: tuple[str, ...]
    seal: str
    sealed_at: datetime | None
    sealed_by: str
    temperature: str
    temperature_unit: str
    hops: tuple[CustodyHop, ...]
    gaps: tuple[CustodyGap, ...]
    seal_broken: bool | None
    conflicts: tuple[Conflict, ...]

    @property
    def holder(self) -> str:
        """Who has it, as far as recorded."""
        return self.hops[-1].receiver if self.hops else self.sealed_by


@dataclass(frozen=True, slots=True)
class DeviceClock:
    """
    What receipts tell of a device's clock.

    An entry cannot be received before it happened, so an instant later than its receipt shows a clock that is ahead, by
    `ahead_s` at least. A clock that is behind cannot be told from a late delivery: `behind_at_most_s` is the bound.
    `shift_s` is what the fold added to the device's instants (0 or negative).
    """

    device: str
    received: int
    ahead_s: float
    behind_at_most_s: float | None
    shift_s: float


@dataclass(frozen=True, slots=True)
class Amendment:
    """An entry that was corrected: as recorded, as it counts now (`None`: withdrawn), and by which corrections."""

    recorded: Entry
    counts: Entry | None
    corrections: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Unusable:
    """An entry that cannot be read as its kind; it is kept and shown, and counts for nothing until corrected."""

    entry_id: str
    kind: str
    origin: str
    problems: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Day:
    """
    All that a set of entries amounts to; mappings are by code.

    `rivals` are entries with the id of one that counts and another content; `amendments` are by the id of what was
    corrected; `entry_count` is the number of ids.
    """

    trains: Mapping[str, Train] = field(default_factory=dict)
    runs: Mapping[str, SampleRun] = field(default_factory=dict)
    blanks: Mapping[str, BlankRun] = field(default_factory=dict)
    parcels: Mapping[str, Parcel] = field(default_factory=dict)
    conditions: tuple[Conditions, ...] = ()
    tasks: tuple[Task, ...] = ()
    notes: tuple[Note, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    remarks: tuple[Remark, ...] = ()
    clocks: Mapping[str, DeviceClock] = field(default_factory=dict)
    amendments: Mapping[str, Amendment] = field(default_factory=dict)
    unusable: tuple[Unusable, ...] = ()
    rivals: tuple[Entry, ...] = ()
    entry_count: int = 0

    def preparation_of(self, segment: Segment) -> Preparation:
        """Return the preparation of the train a segment was drawn in."""
        return self.trains[segment.train].preparations[segment.preparation]
