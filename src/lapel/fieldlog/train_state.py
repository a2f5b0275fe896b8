"""
What is known of one train at one point of the log, and what a begin, an end or a touch changes in it.

The kinds of entry are understood in `preparing`, `fitting` and `pumping`; they share this state.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from lapel.fieldlog.conflicts import recorded_twice
from lapel.fieldlog.drawing import Drawing
from lapel.fieldlog.order import Act
from lapel.fieldlog.preparation import Findings, PortLog, PreparationLog
from lapel.fieldlog.rounds import PortFlows
from lapel.fieldlog.runs import PumpRunLog, SegmentLog, minutes_between
from lapel.fieldlog.state import (
    Conflict,
    EndedBy,
    PortSupplied,
    Remark,
)
from lapel.said import Said, said


class TrainState:
    """The state of one train, and the changes every kind is made of."""

    def __init__(self, code: str, findings: Findings) -> None:
        self.code = code
        self.findings = findings
        self.preparations: list[PreparationLog] = []
        self.kit_ahead: dict[str, PortSupplied] = {}
        self.ports: dict[str, PortLog] = {}
        self.flows: dict[str, PortFlows] = {}
        self.drawing = Drawing()
        self.held: Drawing | None = None
        self.held_by: Act | None = None
        self.touches = 0
        self.anchor: tuple[datetime, float] | None = None
        self.pump_run: PumpRunLog | None = None
        self.found_stopped: list[SegmentLog] = []
        self.anchor_when_found: tuple[datetime, float] | None = None

    def _preparation(self, act: Act) -> PreparationLog:
        if not self.preparations:
            self.preparations.append(PreparationLog(0, None))
            words = said(
                "Train {train} was never recorded as prepared: pump, holder and warm-up are not known.",
                train=self.code,
            )
            self._remark("train not prepared", [act], words)
        return self.preparations[-1]

    def _port(self, act: Act) -> PortLog:
        return self._port_named(act.value("port"))

    def _port_named(self, letter: str) -> PortLog:
        port = self.ports.get(letter)
        if port is None:
            port = PortLog(letter, PortFlows(letter))
            port.touches_elsewhere_at_round = self.touches
            self.ports[letter] = port
            self.flows[letter] = port.flows
        return port

    def _named_or_all(self, named: tuple[str, ...]) -> Iterator[PortLog]:
        for letter in named or tuple(self.ports):
            yield self._port_named(letter)

    def _draw(self, named: tuple[str, ...], act: Act, *, counter: float | None, is_start: bool) -> None:
        preparation = self._preparation(act)
        preparation.has_run = True
        if not self.drawing.anywhere(self.ports):
            self.pump_run = PumpRunLog(act.at, counter)
            preparation.pump_runs.append(self.pump_run)
            self.anchor = None if counter is None else (act.at, counter)
        elif counter is not None:
            self.anchor = (act.at, counter)
        self.drawing.start(named)
        for port in self._named_or_all(named):
            if port.fitted is not None and port.segment is None:
                if is_start and port.held_since is None and port.stopped is not None:
                    port.fitted.restarts += 1
                self._end_hold(port, act)
                self._begin(port, act, counter)
            port.started = port.started or act
            if self.held is not None:
                self.held.stop((port.letter,))
        if self.held is not None and (not named or not self.held.anywhere(self.ports)):
            self.held = self.held_by = None

    def _begin(self, port: PortLog, act: Act, counter: float | None = None) -> None:
        run = port.fitted
        if run is None:
            return
        preparation = self._preparation(act)
        had_round = port.flows.closing is not None
        if port.flows.begin():
            words = said(
                "Port {port} has closing readings after its declared closing round. They do not count.",
                port=port.letter,
            )
            self._remark("closing readings not declared", [act], words, port)
        if not had_round:
            port.touches_elsewhere_at_round = self.touches - port.touches
        before = port.flows.closing
        port.segment = SegmentLog(
            train=self.code,
            port=port.letter,
            preparation=preparation.number,
            pump=preparation.value("pump"),
            start=act.at,
            before=before,
            before_lost="" if before is not None else port.flows.why_no_closing,
            neighbours_at_start=port.touches_elsewhere_at_round,
            start_entry=act.id,
            counter_start=counter,
        )
        port.started = act
        port.stopped = None
        run.saw(act)
        run.begin(port.segment, self.pump_run, preparation.hung[-1].worker if preparation.hung else "")

    def _end(
        self,
        port: PortLog,
        stop: datetime | None,
        ended_by: EndedBy,
        act: Act,
        *,
        counter: float | None = None,
        from_counter: bool = False,
    ) -> None:
        segment, run = port.segment, port.fitted
        if segment is None or run is None:
            return
        if stop is None:
            segment.not_after = act.at
            run.missing.append("stop")
        elif stop < segment.start:
            stop = segment.start
            words = said(
                "By its counter the pump had stopped before sampler {sampler} was drawn on.", sampler=run.sampler
            )
            self._remark("stopped before the segment", [act], words, port)
        segment.stop = stop
        segment.ended_by = ended_by
        segment.stop_from_counter = from_counter and stop is not None
        segment.counter_stop = counter
        segment.stop_entry = act.id
        segment.neighbour_touches = self._neighbour_touches(port, segment)
        run.saw(act)
        port.flows.waiting.append(segment)
        port.segment = None

    def _end_hold(self, port: PortLog, act: Act) -> None:
        if port.held_since is not None and port.fitted is not None:
            port.fitted.held_min += minutes_between(port.held_since, act.at)
        port.held_since = None

    def _touch(self, port: PortLog, act: Act, how: Said) -> None:
        """Move a valve: the port's round no longer stands, other ports' readings of an open round neither."""
        counter_start = port.segment.counter_start if port.segment is not None else None
        was_drawing = port.segment
        if port.segment is not None and port.fitted is not None:
            port.fitted.touched_in_run = True
            self._end(port, act.at, "valve touched", act)
        self.touches += 1
        port.touches += 1
        port.flows.touch(act.at, how, act.id)
        for other in self.ports.values():
            other.flows.pending_closing = []
        if was_drawing is not None:
            was_drawing.goes_on_in_next = True
            self._begin(port, act, counter_start)
            if port.segment is not None:
                port.segment.counter_start = counter_start

    def _neighbour_touches(self, port: PortLog, segment: SegmentLog) -> int:
        return self.touches - port.touches - segment.neighbours_at_start

    def _off_without_record(self, port: PortLog, act: Act) -> None:
        run = port.fitted
        if run is not None:
            words = said(
                "Nobody recorded that sampler {sampler} was taken off port {port} of train {train}.",
                sampler=run.sampler,
                port=port.letter,
                train=self.code,
            )
            self._remark("removal not recorded", [act], words, port)
            run.on = None
            port.fitted = None
            port.stopped = None

    def _again(
        self, first: Act | None, act: Act, about: str, ports: Iterable[PortLog], samplers: tuple[str, ...] = ()
    ) -> None:
        """Raise what was already the case: one act by two people, or a contradiction."""
        named = samplers or samplers_on(ports)
        by_two = first is not None and first.kind == act.kind and first.device != act.device
        if first is not None and by_two and not self.findings.are_distinct(first, act):
            self.findings.conflicts.append(recorded_twice([first, act], named))
            return
        now = {"train": self.code, "kind": said(act.kind), "time": clock_text(act.at), "about": about}
        if first is None:
            words = said("Train {train}, {kind} at {time}: {about}.", **now)
        else:
            words = said(
                "Train {train}, {kind} at {time}: {about}; the first was at {earlier}.",
                earlier=clock_text(first.at),
                **now,
            )
        self._conflict(about, [first, act], words, list(ports), named)

    def _conflict(
        self,
        about: str,
        acts: Sequence[Act | str | None],
        words: Said,
        ports: list[PortLog],
        samplers: tuple[str, ...] = (),
    ) -> None:
        ids = tuple(act if isinstance(act, str) else act.id for act in acts if act is not None)
        port = ports[0].letter if len(ports) == 1 else ""
        named = samplers or samplers_on(ports)
        self.findings.conflicts.append(Conflict(about, ids, words, self.code, port, named))

    def _remark(self, about: str, acts: list[Act], words: Said, *ports: PortLog) -> None:
        ids = tuple(act.id for act in acts)
        port = ports[0].letter if len(ports) == 1 else ""
        self.findings.remarks.append(Remark(about, ids, words, self.code, port, samplers_on(ports)))


def samplers_on(ports: Iterable[PortLog]) -> tuple[str, ...]:
    """Return the samplers fitted to these ports."""
    return tuple(port.fitted.sampler for port in ports if port.fitted is not None)


def clock_text(at: datetime) -> str:
    """Write an instant to the minute, in UTC."""
    return f"{at:%Y-%m-%d %H:%M} UTC"
