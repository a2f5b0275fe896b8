"""A train's preparation and ports while the log goes on, and what the whole log shares."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from lapel.fieldlog.checks import instant_in, number_in
from lapel.fieldlog.order import Act, utc
from lapel.fieldlog.rounds import PortFlows
from lapel.fieldlog.runs import PumpRunLog, RunLog, SegmentLog
from lapel.fieldlog.state import (
    Conflict,
    FlowReading,
    Hung,
    LeakCheck,
    PortPrepared,
    PortSupplied,
    Preparation,
    PumpCheck,
    Remark,
    TrainRound,
)


@dataclass(slots=True)
class Findings:
    """What the whole log shares: samples by number, what to settle, what to know."""

    runs: dict[str, RunLog] = field(default_factory=dict)
    conflicts: list[Conflict] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    distinct: set[frozenset[str]] = field(default_factory=set)

    def are_distinct(self, one: Act, other: Act) -> bool:
        """Whether somebody said that two entries are two acts."""
        return bool(self.distinct) and frozenset((one.id, other.id)) in self.distinct


@dataclass(slots=True)
class PreparationLog:
    """A preparation while it goes on; see `lapel.fieldlog.state.Preparation`."""

    number: int
    act: Act | None
    ports: dict[str, PortPrepared] = field(default_factory=dict)
    leak_checks: list[LeakCheck] = field(default_factory=list)
    closing_rounds: list[TrainRound] = field(default_factory=list)
    post_rounds: list[TrainRound] = field(default_factory=list)
    hung: list[Hung] = field(default_factory=list)
    checks: list[PumpCheck] = field(default_factory=list)
    pump_runs: list[PumpRunLog] = field(default_factory=list)
    readings: list[FlowReading] = field(default_factory=list)
    kit: dict[str, PortSupplied] = field(default_factory=dict)
    has_run: bool = False

    @property
    def is_over(self) -> bool:
        """Whether its pump ran and has stopped."""
        return bool(self.pump_runs) and self.pump_runs[-1].stop is not None

    def value(self, name: str) -> str:
        """Return what the preparing entry says; empty without one."""
        return self.act.value(name) if self.act else ""

    def frozen(self, train: str) -> Preparation:
        """Return it as plain data."""
        charged_at = self.value("charged_at")
        return Preparation(
            train=train,
            number=self.number,
            entry_id=self.act.id if self.act else "",
            at=self.act.at if self.act else None,
            pump=self.value("pump"),
            splitter=self.value("splitter"),
            warm_up_min=number_in(self.value("warm_up_min")),
            charged_at=utc(instant_in(charged_at)) if charged_at else None,
            battery=self.value("battery"),
            place=self.value("place"),
            ports=self.ports,
            leak_checks=tuple(self.leak_checks),
            closing_rounds=tuple(self.closing_rounds),
            post_rounds=tuple(self.post_rounds),
            hung=tuple(self.hung),
            checks=tuple(self.checks),
            pump_runs=tuple(run.frozen() for run in self.pump_runs),
            readings=tuple(self.readings),
            kit=self.kit,
        )


@dataclass(slots=True)
class PortLog:
    """A port while the log goes on."""

    letter: str
    flows: PortFlows
    fitted: RunLog | None = None
    segment: SegmentLog | None = None
    held_since: datetime | None = None
    started: Act | None = None
    stopped: Act | None = None
    removed: Act | None = None
    last_fitted: Act | None = None
    touches: int = 0
    touches_elsewhere_at_round: int = 0
