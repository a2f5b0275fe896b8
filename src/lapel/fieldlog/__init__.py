"""
The field log: append-only entries and the pure fold from entries to the day.

Opens no file, keeps no clock and knows no network; see ``docs/science/day-fold.md``.
"""

from lapel.fieldlog.checks import EntryProblem, check_entry
from lapel.fieldlog.entries import KINDS, UNITS, Entry, FieldSpec, KindSpec
from lapel.fieldlog.state import (
    Amendment,
    BlankRun,
    Conditions,
    Conflict,
    CustodyGap,
    CustodyHop,
    Day,
    DeviceClock,
    FlowReading,
    FlowRound,
    Hung,
    LeakCheck,
    Note,
    Parcel,
    PortPrepared,
    Preparation,
    PumpCheck,
    PumpRun,
    Remark,
    SampleRun,
    Segment,
    Task,
    Train,
    TrainRound,
    Unusable,
)

__all__ = [
    "KINDS", "UNITS", "Amendment", "BlankRun", "Conditions", "Conflict", "CustodyGap", "CustodyHop", "Day",
    "DeviceClock", "Entry", "EntryProblem", "FieldSpec", "FlowReading", "FlowRound", "Hung", "KindSpec", "LeakCheck",
    "Note", "Parcel", "PortPrepared", "Preparation", "PumpCheck", "PumpRun", "Remark", "SampleRun", "Segment", "Task",
    "Train", "TrainRound", "Unusable", "check_entry",
]  # fmt: skip
