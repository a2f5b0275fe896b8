"""The day: all that a set of entries amounts to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from lapel.fieldlog.entries import Entry
from lapel.fieldlog.state.around import Conditions, Note, Task
from lapel.fieldlog.state.log import Amendment, DeviceClock, Unusable
from lapel.fieldlog.state.parcel import Parcel
from lapel.fieldlog.state.sample import BlankRun, Conflict, Remark, SampleRun, Segment
from lapel.fieldlog.state.train import Preparation, Train


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
