"""
What the log amounts to: the day as plain data, made by `lapel.fieldlog.fold`.

Instants are in UTC, so that a difference of two is a duration whatever the clock on the wall did; minutes are computed
from them. Readings, units and answers are texts as typed. `None` means not recorded, never "no".
"""

from lapel.fieldlog.state.around import Conditions, Note, Task
from lapel.fieldlog.state.day import Day
from lapel.fieldlog.state.flow import FlowReading, FlowRound, RoundPhase, TrainRound
from lapel.fieldlog.state.log import Amendment, DeviceClock, Unusable
from lapel.fieldlog.state.parcel import CustodyGap, CustodyHop, Parcel
from lapel.fieldlog.state.sample import BlankRun, Conflict, EndedBy, Remark, SampleRun, Segment
from lapel.fieldlog.state.train import (
    Hung,
    LeakCheck,
    PortPrepared,
    PortSupplied,
    Preparation,
    PumpCheck,
    PumpRun,
    Train,
)

__all__ = [
    "Amendment",
    "BlankRun",
    "Conditions",
    "Conflict",
    "CustodyGap",
    "CustodyHop",
    "Day",
    "DeviceClock",
    "EndedBy",
    "FlowReading",
    "FlowRound",
    "Hung",
    "LeakCheck",
    "Note",
    "Parcel",
    "PortPrepared",
    "PortSupplied",
    "Preparation",
    "PumpCheck",
    "PumpRun",
    "Remark",
    "RoundPhase",
    "SampleRun",
    "Segment",
    "Task",
    "Train",
    "TrainRound",
    "Unusable",
]
