"""What went on around the samples: the air of the place, tasks, notes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


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
