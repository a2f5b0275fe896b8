"""Entries of the field log: placeholder shape, to be completed by the room's builder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Entry:
    """One act in the field, never edited: who, when, on which device, and what (values as typed)."""

    id: str
    kind: str
    at: datetime
    device: str
    sequence: int
    author: str
    fields: Mapping[str, str]
    origin: str = ""
