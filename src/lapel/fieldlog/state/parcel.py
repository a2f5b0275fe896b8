"""Sealed parcels and through whose hands they went."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from lapel.fieldlog.state.sample import Conflict


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
