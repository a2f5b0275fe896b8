"""
The flow rounds of one port: which readings speak for which segment.

A closing round is the readings taken in turn with no valve touched; it stands as the flow before every later segment of
its port until that port's valve moves, its round is made anew or the train is prepared anew. Segments that ended wait
for the first round after them: a post round, or a closing round if no valve moved in between.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from lapel.fieldlog.checks import yes_or_no
from lapel.fieldlog.order import Act
from lapel.fieldlog.state import FlowReading, FlowRound, TrainRound
from lapel.said import Said, listed, said

NO_ROUND = said("no closing round since the train was prepared")
_IN_CLOSING_ROUND = said("a valve was touched in the closing round")
_PREPARED_ANEW = said("the train was prepared anew before the port was read again")
_NEVER_READ_AGAIN = said("the port was not read after it")


class Waiting(Protocol):
    """A segment that ended and waits for the flow after it."""

    after: FlowRound | None
    after_lost: str


def reading_of(act: Act) -> FlowReading:
    """Return a ``flow_read`` as the reading it is."""
    get = act.value
    return FlowReading(
        act.id, act.at, get("train"), get("port"), get("phase"), get("meter"), get("reading"),
        get("unit"), get("volume"), get("volume_unit"), get("seconds"), get("basis"),
        get("temperature"), get("temperature_unit"), get("pressure"), get("pressure_unit"),
        get("humidity_percent"), act.author,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Touch:
    """When a valve moved, how, and by which entry, if one names this port; worded only where a flow is lost by it."""

    at: datetime
    how: Said
    entry_id: str

    @property
    def words(self) -> Said:
        """Say it."""
        how = listed("", (self.how, f" ({self.entry_id})")) if self.entry_id else self.how
        return said("{how} at {time}", how=how, time=f"{self.at:%Y-%m-%d %H:%M} UTC")


@dataclass(slots=True)
class PortFlows:
    """The rounds of one port as the log goes on."""

    port: str
    closing: FlowRound | None = None
    closing_lost_by: Touch | None = None
    pending_closing: list[FlowReading] = field(default_factory=list)
    pending_post: list[FlowReading] = field(default_factory=list)
    waiting: list[Waiting] = field(default_factory=list)
    touched_since_stop: Touch | None = None

    @property
    def why_no_closing(self) -> str:
        """Why no closing round stands: none was made since the train was prepared, or the valve moved since."""
        if self.closing_lost_by is None:
            return NO_ROUND
        return said("{touched}, and no closing round since", touched=self.closing_lost_by.words)

    def prepare_anew(self) -> None:
        """Forget flows of an earlier preparation; segments of it that still wait have no flow after them."""
        self.take_undeclared_post()
        self._lose_waiting(_PREPARED_ANEW)
        self.closing = self.closing_lost_by = None
        self.pending_closing = []
        self.touched_since_stop = None

    def touch(self, at: datetime, how: Said, entry_id: str = "") -> None:
        """Note that the valve moved: the closing round no longer stands."""
        touch = Touch(at, how, entry_id)
        if self.closing is not None or self.pending_closing or self.closing_lost_by is None:
            self.closing_lost_by = touch
        self.closing = None
        self.pending_closing = []
        self.touched_since_stop = self.touched_since_stop or touch

    def begin(self) -> bool:
        """
        Note that drawing begins: what was read and not declared counts as far as it goes.

        Returns
        -------
        bool
            Whether closing readings are left over after a declared round, and so count for nothing.
        """
        self.take_undeclared_post()
        left_over = bool(self.pending_closing) and self.closing is not None and self.closing.declared
        if self.pending_closing and not left_over:
            readings = tuple(self.pending_closing)
            self.close(FlowRound("closing", self.port, readings[-1].at, readings, declared=False))
        self.pending_closing = []
        if self.touched_since_stop:
            self._lose_waiting(self.touched_since_stop)
        self.touched_since_stop = None
        return left_over

    def close(self, made: FlowRound) -> None:
        """Let a closing round stand; it is also the flow after segments since which no valve moved."""
        self.closing = made
        self.pending_closing = []
        if self.touched_since_stop:
            self._lose_waiting(self.touched_since_stop)
        else:
            self._answer_waiting(made)

    def take_declared_post(self, made: FlowRound) -> None:
        """Give a post round to the segments that wait for it."""
        self.pending_post = []
        self._answer_waiting(made)

    def take_undeclared_post(self) -> None:
        """Let post readings that nobody declared a round speak for the segments that wait."""
        if self.pending_post:
            readings = tuple(self.pending_post)
            touched = True if self.touched_since_stop else None
            self.take_declared_post(
                FlowRound("post", self.port, readings[-1].at, readings, declared=False, valve_touched=touched)
            )

    def end_of_log(self) -> None:
        """Settle what still waits when the entries end."""
        self.take_undeclared_post()
        self._lose_waiting(_NEVER_READ_AGAIN)

    def _answer_waiting(self, made: FlowRound) -> None:
        for segment in self.waiting:
            segment.after = made
            segment.after_lost = ""
        self.waiting = []

    def _lose_waiting(self, why: Said | Touch) -> None:
        for segment in self.waiting:
            segment.after_lost = (
                said("{touched}, before the port was read again", touched=why.words) if isinstance(why, Touch) else why
            )
        self.waiting = []


def declared_closing(act: Act, flows: dict[str, PortFlows], ports: tuple[str, ...]) -> TrainRound:
    """
    Close the round over the listed ports.

    A round in which a valve was touched stands for none of its ports: it is shown, and has to be made again.
    """
    touched = yes_or_no(act.value("valve_touched"))
    made = {
        port: FlowRound(
            "closing", port, act.at, tuple(flows[port].pending_closing), True, act.id, valve_touched=touched
        )
        for port in ports
        if flows[port].pending_closing
    }
    for port, one in made.items():
        if touched:
            flows[port].touch(act.at, _IN_CLOSING_ROUND)
        else:
            flows[port].close(one)
    unread = tuple(port for port in ports if port not in made)
    return TrainRound("closing", act.at, act.id, made, unread, touched)


def declared_post(act: Act, flows: dict[str, PortFlows]) -> TrainRound:
    """Complete the post round over every port that was read or waits to be."""
    touched = yes_or_no(act.value("valve_touched"))
    recharged = yes_or_no(act.value("recharged"))
    battery_changed = yes_or_no(act.value("battery_changed"))
    same_tubes = yes_or_no(act.value("same_tubes"))
    made: dict[str, FlowRound] = {}
    unread: list[str] = []
    for port in sorted(flows):
        one = flows[port]
        if one.pending_post:
            readings = tuple(one.pending_post)
            moved = True if one.touched_since_stop else touched
            made[port] = FlowRound(
                "post", port, act.at, readings, True, act.id, moved, recharged, battery_changed, same_tubes
            )
            one.take_declared_post(made[port])
        elif one.waiting:
            unread.append(port)
    return TrainRound("post", act.at, act.id, made, tuple(unread), touched, recharged, battery_changed, same_tubes)
