"""A train and its preparations: what was put together, checked, worn and run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from lapel.fieldlog.state.flow import FlowReading, TrainRound


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
class PortSupplied:
    """What the kit sheet of whoever supplied the pumps says of a port; `supplier` is their own reading, never ours."""

    entry_id: str
    at: datetime
    port: str
    pump: str
    medium: str
    catalogue: str
    lot: str
    intended: str
    intended_unit: str
    supplier: str
    supplier_unit: str
    how: str


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
    kit: Mapping[str, PortSupplied] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Train:
    """
    A train over the whole log: its preparations in order; the short names speak of the last, where there is one.

    `kit_ahead` is what a kit sheet said of ports for the preparation still to come.
    """

    code: str
    preparations: tuple[Preparation, ...]
    kit_ahead: Mapping[str, PortSupplied] = field(default_factory=dict)

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
