"""
The field log: append-only entries and the pure fold from entries to the day.

Opens no file, keeps no clock and knows no network; see ``docs/science/day-fold.md``.
"""

from lapel.fieldlog.chain import (
    ChainBreak,
    canonical_text,
    chained,
    entry_hash,
    instant_text,
    is_uuid7,
    verify_chain,
    verify_chains,
)
from lapel.fieldlog.checks import EntryProblem, check_entry, codes_in, instant_in, number_in, ports_in, yes_or_no
from lapel.fieldlog.day import fold
from lapel.fieldlog.entries import KINDS, UNITS, Entry, FieldSpec, KindSpec
from lapel.fieldlog.order import device_clocks, order_key
from lapel.fieldlog.record import UnreadableRecord, entry_from_record, entry_record, plain
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
    "KINDS", "UNITS", "Amendment", "BlankRun", "ChainBreak", "Conditions", "Conflict", "CustodyGap", "CustodyHop", "Day",
    "DeviceClock", "Entry", "EntryProblem", "FieldSpec", "FlowReading", "FlowRound", "Hung", "KindSpec", "LeakCheck",
    "Note", "Parcel", "PortPrepared", "Preparation", "PumpCheck", "PumpRun", "Remark", "SampleRun", "Segment", "Task",
    "Train", "TrainRound", "UnreadableRecord", "Unusable", "canonical_text", "chained", "check_entry", "codes_in",
    "device_clocks", "entry_from_record", "entry_hash", "entry_record", "fold", "instant_in", "instant_text", "is_uuid7",
    "number_in", "order_key", "plain", "ports_in", "verify_chain", "verify_chains", "yes_or_no",
]  # fmt: skip
