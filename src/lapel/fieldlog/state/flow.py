"""Flow readings and the rounds they belong to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, TypeAlias

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
