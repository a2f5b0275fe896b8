"""
One train as the log goes on: its preparations, its pump, its ports and what is on them.

Each method is one kind of entry and says what that act means. A port draws while the pump draws on it and a sampler is
fitted: those intervals are the segments. What contradicts what is already known becomes a conflict; nothing is
invented.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from lapel.fieldlog.checks import instant_in, number_in, ports_in, yes_or_no
from lapel.fieldlog.conflicts import recorded_twice
from lapel.fieldlog.drawing import Drawing
from lapel.fieldlog.order import Act, utc
from lapel.fieldlog.rounds import PortFlows, declared_closing, declared_post, reading_of
from lapel.fieldlog.runs import PumpRunLog, RunLog, SegmentLog, minutes_between
from lapel.fieldlog.state import (
    Conflict,
    EndedBy,
    FlowReading,
    Hung,
    LeakCheck,
    PortPrepared,
    Preparation,
    PumpCheck,
    Remark,
    Train,
    TrainRound,
)

LEFT_ON_H = 8.0
"""A sampler not drawn on for longer than this when its train is prepared anew is taken as gone: another day. [h]"""


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
    has_run: bool = False

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


class TrainLog:
    """A train while the log goes on; each public method named like a kind takes one entry of it."""

    def __init__(self, code: str, findings: Findings) -> None:
        self.code = code
        self.findings = findings
        self.preparations: list[PreparationLog] = []
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

    # -- before the run

    def train_prepared(self, act: Act) -> None:
        """Begin a new preparation: pump, holder and flows of the one before no longer hold."""
        before = self.preparations[-1] if self.preparations else None
        if before is not None and before.act is not None and self._is_same_preparation(before, before.act, act):
            self.findings.conflicts.append(recorded_twice([before.act, act]))
            return
        if self.drawing.anywhere(self.ports):
            self._found_prepared_while_drawing(act)
        self.preparations.append(PreparationLog(len(self.preparations), act))
        self.drawing = Drawing()
        self.held = self.held_by = None
        self.anchor = None
        self.found_stopped = []
        for port in self.ports.values():
            port.flows.prepare_anew()
            self._end_hold(port, act)
            run = port.fitted
            if run is not None and run.fitted_at is not None:
                last = max([run.fitted_at, *(s.stop for s in run.segments if s.stop)])
                if minutes_between(last, act.at) > 60.0 * LEFT_ON_H:
                    self._off_without_record(port, act)

    def port_prepared(self, act: Act) -> None:
        """Put a calibration tube on a port."""
        port = self._port(act)
        get = act.value
        self._preparation(act).ports[port.letter] = PortPrepared(
            act.id, act.at, port.letter, get("tube"), get("medium"), get("lot"), get("target"), get("target_unit")
        )

    def leak_checked(self, act: Act) -> None:
        """Note a leak check."""
        check = LeakCheck(act.id, act.at, act.value("port"), act.value("passed") == "yes")
        self._preparation(act).leak_checks.append(check)

    def flow_read(self, act: Act) -> None:
        """Note a reading; one of phase “setting” means that the valve was turned."""
        port = self._port(act)
        reading = reading_of(act)
        self._preparation(act).readings.append(reading)
        if reading.phase == "setting":
            self._touch(port, act, "the flow was set")
        elif reading.phase == "closing":
            port.flows.pending_closing.append(reading)
        elif reading.phase == "check":
            if port.segment is not None:
                port.segment.checks.append(reading)
        else:
            port.flows.pending_post.append(reading)
            if port.segment is not None and port.fitted is not None:
                self._remark(
                    "read after the run while drawing", [act], f"Port {port.letter} was read as after the run, and no "
                    "stop is recorded before it.", port,
                )  # fmt: skip

    def valve_touched(self, act: Act) -> None:
        """End the port's segment and its closing round."""
        self._touch(self._port(act), act, "the valve was touched")

    def closing_round(self, act: Act) -> None:
        """Declare the closing round over the listed ports."""
        letters = ports_in(act.value("ports"))
        for letter in letters:
            self._port_named(letter)
        preparation = self._preparation(act)
        repeated = self._standing_round(letters)
        if repeated is not None and self._is_repeated_round(repeated, act):
            return
        made = declared_closing(act, self.flows, letters)
        preparation.closing_rounds.append(made)
        for letter in made.ports:
            port = self.ports[letter]
            port.touches_elsewhere_at_round = self.touches - port.touches
        if made.ports_without_reading:
            listed = ", ".join(made.ports_without_reading)
            self._remark(
                "closing round without reading", [act],
                f"The closing round lists port {listed}, and no closing reading of it stands: read it again.",
            )  # fmt: skip

    def post_round(self, act: Act) -> None:
        """Declare the round after the run over the ports that were read."""
        preparation = self._preparation(act)
        nothing_new = not any(flows.pending_post or flows.waiting for flows in self.flows.values())
        if nothing_new and preparation.post_rounds and self._is_repeated_round(preparation.post_rounds[-1], act):
            return
        made = declared_post(act, self.flows)
        preparation.post_rounds.append(made)
        if made.ports_without_reading or not made.ports:
            listed = ", ".join(made.ports_without_reading) or "any port"
            words = f"The round after the run has no reading of port {listed}."
            self._remark("post round without reading", [act], words)

    def train_hung(self, act: Act) -> None:
        """Put the train on a worker."""
        hung = self._preparation(act).hung
        worker = act.value("worker")
        drawing = [port for port in self.ports.values() if port.segment is not None and port.fitted is not None]
        if drawing and hung and hung[-1].worker != worker:
            self._conflict(
                "two workers", [hung[-1].entry_id, act.id],
                f"Train {self.code} was on {hung[-1].worker} and went to {worker} while it drew.", drawing,
            )  # fmt: skip
        hung.append(Hung(act.id, act.at, worker, act.value("side"), act.value("zone")))
        for port in drawing:
            if port.fitted is not None and worker not in port.fitted.workers:
                port.fitted.workers.append(worker)

    # -- the sampler

    def sampler_fitted(self, act: Act) -> None:
        """Put a sampler on a port; if the pump draws there, its segment begins."""
        port = self._port(act)
        code = act.value("sampler")
        preparation = self._preparation(act)
        run = self.findings.runs.get(code)
        if run is not None and port.fitted is run:
            self._fitted_again(port, run, act)
            return
        if run is None:
            run = RunLog(
                code,
                self.code,
                port.letter,
                preparation.number,
                preparation.value("pump"),
                preparation.value("splitter"),
            )
            self.findings.runs[code] = run
        elif run.fit_entry is None:
            pass  # only its removal was known
        elif (run.train, run.port) != (self.code, port.letter):
            self._on_another_port(port, run, act)
        if run.fit_entry is None:
            run.medium, run.lot = act.value("medium"), act.value("lot")
            run.expiry, run.how = act.value("expiry"), act.value("how")
            run.fitted_at, run.fit_entry = act.at, act
        run.saw(act)
        if port.fitted is not None:
            self._another_is_on(port, port.fitted, act)
        port.fitted = run
        port.last_fitted = act
        port.started = port.stopped = None
        if run.on is None:
            run.on = (self.code, port.letter)
        run.removed_at = None
        if self.held is not None and self.held.on(port.letter):
            port.held_since = act.at
        if self.drawing.on(port.letter):
            self._begin(port, act)

    def sampler_removed(self, act: Act) -> None:
        """Take a sampler off its port; if it drew, its segment ends."""
        port = self._port(act)
        code = act.value("sampler")
        on_it = port.fitted
        if on_it is not None and on_it.sampler == code:
            self._take_off(port, act)
            return
        run = self.findings.runs.get(code)
        if run is None:
            preparation = self._preparation(act)
            run = RunLog(
                code,
                self.code,
                port.letter,
                preparation.number,
                preparation.value("pump"),
                preparation.value("splitter"),
            )
            run.missing.append("fitting")
            self.findings.runs[code] = run
        run.saw(act)
        if on_it is not None:
            samplers = (on_it.sampler, code)
            self._conflict(
                "another sampler was on this port", [port.last_fitted, act],
                f"Port {port.letter} of train {self.code} had sampler {on_it.sampler}; {code} was recorded as taken "
                "off it. Were two samplers swapped?", [port], samplers,
            )  # fmt: skip
            self._take_off(port, act)
        elif port.removed is not None and port.removed.value("sampler") == code:
            self._again(port.removed, act, "removed twice", [port], (code,))
        elif run.fit_entry is not None:
            words = f"Sampler {code} was taken off port {port.letter} of train {self.code}, where it was not."
            self._conflict("removed where it was not", [run.fit_entry, act], words, [port], (code,))
        run.removal = act
        if run.on is None or run.on == (self.code, port.letter):
            run.removed_at = act.at

    def packed(self, act: Act, letter: str) -> None:
        """Note that the sampler on a port is in a sealed parcel, and so no longer on the port."""
        port = self.ports[letter]
        if port.fitted is not None and port.segment is None:
            self._off_without_record(port, act)
        elif port.fitted is not None:
            words = f"Sampler {port.fitted.sampler} is packed in parcel {act.value('parcel')}, and still draws."
            self._conflict("packed while drawing", [port.started, act], words, [port])

    # -- the pump

    def pump_started(self, act: Act) -> None:
        """Let the pump draw."""
        named = ports_in(act.value("ports"))
        concerned = list(self._named_or_all(named))
        already = [port for port in concerned if self.drawing.on(port.letter) and port.fitted is not None]
        if already and len(already) == sum(port.fitted is not None for port in concerned):
            first = next((port.started for port in already if port.started is not None), None)
            self._again(first, act, "started while drawing", already)
            return
        if self.found_stopped:
            self.found_stopped = []
        self._draw(named, act, counter=number_in(act.value("counter_min")), is_start=True)

    def pump_resumed(self, act: Act) -> None:
        """Let the pump draw again where it was held; without a hold, as a start."""
        named = ports_in(act.value("ports"))
        counter = number_in(act.value("counter_min"))
        if self.held is None:
            concerned = list(self._named_or_all(named))
            drawn = [port for port in concerned if port.segment is not None]
            if drawn:
                self._again(drawn[0].started, act, "resumed while drawing", drawn)
                return
            fitted = [port for port in concerned if port.fitted is not None]
            self._remark(
                "resumed without a hold", [act], f"Train {self.code} was resumed, and no hold is recorded before it: "
                "taken as a start.", *fitted,
            )  # fmt: skip
            self._draw(named, act, counter=counter, is_start=True)
            return
        if counter is None and self.held_by is not None and not self.drawing.anywhere(self.ports):
            counter = number_in(self.held_by.value("counter_min"))  # a held pump's counter stands still
        if named:
            self._draw(named, act, counter=counter, is_start=False)
        else:
            held = self.held
            letters = tuple(letter for letter in self.ports if held.on(letter) or self.drawing.on(letter))
            every = held.everywhere and not self.drawing.exceptions and not held.exceptions
            if every or letters:
                self._draw(() if every else letters, act, counter=counter, is_start=False)

    def pump_held(self, act: Act) -> None:
        """End the segments of the ports concerned, to be resumed."""
        named = ports_in(act.value("ports"))
        concerned = list(self._named_or_all(named))
        drawing = [port for port in concerned if self.drawing.on(port.letter)]
        if not drawing and not (not self.ports and self.drawing.everywhere):
            if self.held is not None and self.held_by is not None:
                self._again(self.held_by, act, "held twice", concerned)
            else:
                self._without_a_start(concerned, act, "held")
            return
        held_before = () if self.held is None else tuple(one for one in self.ports if self.held.on(one))
        self.held = Drawing() if named else self.drawing.copy()
        if now_held := (*held_before, *(port.letter for port in drawing)):
            self.held.start(now_held)
        self.held_by = act
        for port in drawing:
            self._end(port, act.at, "hold", act, counter=number_in(act.value("counter_min")))
            port.held_since = act.at
            port.stopped = act
        self._stop_drawing(named, act.at, number_in(act.value("counter_min")))

    def pump_stopped(self, act: Act) -> None:
        """End the segments of the ports concerned; a pump that stopped by itself did so when its counter says."""
        named = ports_in(act.value("ports"))
        concerned = list(self._named_or_all(named))
        drawing = [port for port in concerned if self.drawing.on(port.letter)]
        held = [port for port in concerned if port.held_since is not None]
        for port in held:
            self._end_hold(port, act)
            port.stopped = act
            if self.held is not None:
                self.held.stop((port.letter,))
        if not named:
            self.held = None
        if not drawing:
            if self.found_stopped:
                self._stop_found_earlier(act)
            elif not held:
                self._without_a_start(concerned, act, "stopped")
            return
        counter = number_in(act.value("counter_min"))
        alone = yes_or_no(act.value("stopped_itself")) is True
        stop = self._stop_by_counter(counter, act) if alone else act.at
        ended_by: EndedBy = act.value("why")  # type: ignore[assignment]  # one of the kind's choices
        for port in drawing:
            self._end(port, stop, ended_by, act, counter=counter, from_counter=alone)
            port.stopped = act
            if port.fitted is not None and (alone or ended_by == "fault"):
                port.fitted.faults += 1
        self._stop_drawing(named, stop, counter)

    def pump_checked(self, act: Act) -> None:
        """Note a look at the pump; one that found it stopped ends the segments."""
        counter = number_in(act.value("counter_min"))
        runs = act.value("running") == "yes"
        check = PumpCheck(
            act.id, act.at, runs, counter, act.value("display"), act.value("display_unit"), act.value("remark")
        )
        self._preparation(act).checks.append(check)
        fitted = [port for port in self.ports.values() if port.fitted is not None]
        for port in fitted:
            if port.fitted is not None and port.segment is not None:
                port.fitted.checks.append(check)
                port.fitted.saw(act)
        drawing = [port for port in fitted if port.segment is not None]
        if runs and drawing:
            if counter is not None:
                self.anchor = (act.at, counter)
        elif runs and fitted and self.held is None:
            words = f"Train {self.code} was seen running at {_clock(act.at)}, and no start is recorded before it."
            self._remark("running without a start", [act], words, *fitted)
        elif not runs and drawing:
            self._found_stopped(drawing, counter, act)

    # -- the end

    def end_of_log(self) -> None:
        """Settle what still waits when the entries end."""
        for port in self.ports.values():
            port.flows.end_of_log()
            if port.segment is not None:
                port.segment.neighbour_touches = self._neighbour_touches(port, port.segment)

    def frozen(self) -> Train:
        """Return the train as plain data."""
        return Train(self.code, tuple(one.frozen(self.code) for one in self.preparations))

    def worker_after(self, run: RunLog) -> str:
        """Return who wore the train first in the sample's preparation; for a train hung after its start."""
        hung = self.preparations[run.preparation].hung
        return hung[0].worker if hung else ""

    # -- parts of the acts

    def _preparation(self, act: Act) -> PreparationLog:
        if not self.preparations:
            self.preparations.append(PreparationLog(0, None))
            words = f"Train {self.code} was never recorded as prepared: pump, holder and warm-up are not known."
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
            words = f"Port {port.letter} has closing readings after its declared closing round. They do not count."
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
            before_lost="" if before is not None else port.flows.closing_lost,
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
            words = f"By its counter the pump had stopped before sampler {run.sampler} was drawn on."
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

    def _neighbour_touches(self, port: PortLog, segment: SegmentLog) -> int:
        return self.touches - port.touches - segment.neighbours_at_start

    def _stop_drawing(self, named: tuple[str, ...], stop: datetime | None, counter: float | None) -> None:
        self.drawing.stop(named)
        if not self.drawing.anywhere(self.ports):
            if self.pump_run is not None:
                self.pump_run.stop = stop
                self.pump_run.counter_stop = counter
            self.pump_run = None

    def _stop_by_counter(self, counter: float | None, act: Act) -> datetime | None:
        """Work out when a pump stopped that nobody saw stop; `None` where its counter was not read before."""
        if counter is None or self.anchor is None or counter < self.anchor[1]:
            return None
        stop = self.anchor[0] + timedelta(minutes=counter - self.anchor[1])
        if stop > act.at:
            self._remark(
                "counter ahead of the clock", [act], f"Train {self.code}: the pump's counter gives a stop at "
                f"{_clock(stop)}, after it was found stopped at {_clock(act.at)}; the latter is taken.",
                *self.ports.values(),
            )  # fmt: skip
            return act.at
        return stop

    def _found_stopped(self, drawing: list[PortLog], counter: float | None, act: Act) -> None:
        self.anchor_when_found = self.anchor
        stop = self._stop_by_counter(counter, act)
        self.found_stopped = [port.segment for port in drawing if port.segment is not None]
        for port in drawing:
            self._end(port, stop, "fault", act, counter=counter, from_counter=True)
            port.stopped = act
            if port.fitted is not None:
                port.fitted.faults += 1
        self._stop_drawing((), stop, counter)

    def _stop_found_earlier(self, act: Act) -> None:
        """Take a stop recorded after the pump was found stopped: it tells why, and perhaps the counter."""
        self.anchor = self.anchor_when_found
        counter = number_in(act.value("counter_min"))
        stop = self._stop_by_counter(counter, act)
        preparation = self._preparation(act)
        for port in self.ports.values():
            run = port.fitted
            for segment in [] if run is None else (*run.segments[-1:], *run.strays[-1:]):
                if run is not None and any(segment is found for found in self.found_stopped):
                    segment.ended_by = act.value("why")  # type: ignore[assignment]  # one of the kind's choices
                    run.saw(act)
                    port.stopped = act
                    if segment.stop is None and stop is not None:
                        segment.stop = max(min(stop, segment.not_after or stop), segment.start)
                        segment.stop_from_counter = True
                        segment.not_after = None
                        segment.counter_stop = counter
                        segment.stop_entry = act.id
                        run.missing.remove("stop")
        if preparation.pump_runs and preparation.pump_runs[-1].stop is None and stop is not None:
            preparation.pump_runs[-1].stop = stop
            preparation.pump_runs[-1].counter_stop = counter
        self.found_stopped = []

    def _end_hold(self, port: PortLog, act: Act) -> None:
        if port.held_since is not None and port.fitted is not None:
            port.fitted.held_min += minutes_between(port.held_since, act.at)
        port.held_since = None

    def _touch(self, port: PortLog, act: Act, how: str) -> None:
        """Move a valve: the port's round no longer stands, other ports' readings of an open round neither."""
        counter_start = port.segment.counter_start if port.segment is not None else None
        was_drawing = port.segment
        if port.segment is not None and port.fitted is not None:
            port.fitted.touched_in_run = True
            self._end(port, act.at, "valve touched", act)
        self.touches += 1
        port.touches += 1
        port.flows.touch(act.at, f"{how} ({act.id})")
        for other in self.ports.values():
            other.flows.pending_closing = []
        if was_drawing is not None:
            was_drawing.goes_on_in_next = True
            self._begin(port, act, counter_start)
            if port.segment is not None:
                port.segment.counter_start = counter_start

    def _take_off(self, port: PortLog, act: Act) -> None:
        run = port.fitted
        if run is None:
            return
        self._end_hold(port, act)
        self._end(port, act.at, "sampler removed", act)
        run.saw(act)
        run.removed_at = act.at
        run.removal = act
        if run.on == (self.code, port.letter):
            run.on = None
        port.fitted = None
        port.removed = act
        port.stopped = None

    def _off_without_record(self, port: PortLog, act: Act) -> None:
        run = port.fitted
        if run is not None:
            words = f"Nobody recorded that sampler {run.sampler} was taken off port {port.letter} of train {self.code}."
            self._remark("removal not recorded", [act], words, port)
            run.on = None
            port.fitted = None
            port.stopped = None

    def _another_is_on(self, port: PortLog, run: RunLog, act: Act) -> None:
        """Take the sampler that is on the port as gone: the next one is on."""
        if port.segment is None and run.has_drawn:
            self._off_without_record(port, act)
            return
        words = (
            f"Port {port.letter} of train {self.code} had sampler {run.sampler} when {act.value('sampler')} was "
            "fitted, and its removal is not recorded."
        )
        samplers = (run.sampler, act.value("sampler"))
        self._conflict("two samplers on one port", [port.last_fitted, act], words, [port], samplers)
        self._end(port, None, "another sampler fitted", act)
        run.on = None
        port.fitted = None

    def _fitted_again(self, port: PortLog, run: RunLog, act: Act) -> None:
        first = port.last_fitted
        run.saw(act)
        if first is not None and first.device != act.device and not self.findings.are_distinct(first, act):
            self.findings.conflicts.append(recorded_twice([first, act]))
        else:
            self._remark("fitted twice", [act], f"Sampler {run.sampler} was on port {port.letter} already.", port)

    def _on_another_port(self, port: PortLog, run: RunLog, act: Act) -> None:
        still_on = run.on is not None
        about = "sampler on two ports" if still_on else "sampler moved to another port"
        self._conflict(
            about, [run.fit_entry, act],
            f"Sampler {run.sampler} was fitted to port {run.port} of train {run.train} and to port {port.letter} of "
            f"train {self.code}. One sample is one sampler on one port: which is right?", [port], (run.sampler,),
        )  # fmt: skip

    def _found_prepared_while_drawing(self, act: Act) -> None:
        drawing = [port for port in self.ports.values() if port.segment is not None]
        if drawing:
            words = f"Train {self.code} was prepared anew while it drew: its stop is not recorded."
            self._conflict("prepared while drawing", [drawing[0].started, act], words, drawing)
        for port in drawing:
            self._end(port, None, "other", act)
        self.pump_run = None

    def _without_a_start(self, concerned: list[PortLog], act: Act, did: str) -> None:
        fitted = [port for port in concerned if port.fitted is not None]
        stopped = [port for port in fitted if port.stopped is not None]
        if stopped and len(stopped) == len(fitted):
            self._again(stopped[0].stopped, act, f"{did} twice", stopped)
        elif fitted:
            words = f"Train {self.code} was {did} at {_clock(act.at)}, and no start is recorded before it."
            self._conflict(f"{did} without a start", [act], words, fitted)
            for port in fitted:
                if port.fitted is not None and port.stopped is None:
                    port.fitted.missing.append("start")
                    port.fitted.saw(act)
        else:
            removed = [port.removed for port in concerned if port.removed is not None]
            if not removed:
                words = f"Train {self.code} was {did} at {_clock(act.at)} with no sampler on it and no start before it."
                self._remark(f"{did} without a start", [act], words)

    def _again(
        self, first: Act | None, act: Act, about: str, ports: Iterable[PortLog], samplers: tuple[str, ...] = ()
    ) -> None:
        """Raise what was already the case: one act by two people, or a contradiction."""
        named = samplers or _samplers(ports)
        by_two = first is not None and first.kind == act.kind and first.device != act.device
        if first is not None and by_two and not self.findings.are_distinct(first, act):
            self.findings.conflicts.append(recorded_twice([first, act], named))
            return
        words = f"Train {self.code}, {act.kind} at {_clock(act.at)}: {about}."
        if first is not None:
            words = f"Train {self.code}, {act.kind} at {_clock(act.at)}: {about}; the first was at {_clock(first.at)}."
        self._conflict(about, [first, act], words, list(ports), named)

    def _is_same_preparation(self, before: PreparationLog, first: Act, act: Act) -> bool:
        """Whether another device says the same of a train that has not run since."""
        same = first.device != act.device and first.says_the_same(act) and not before.has_run
        return same and not self.findings.are_distinct(first, act)

    def _standing_round(self, letters: tuple[str, ...]) -> TrainRound | None:
        """Return the last closing round if it stands, covers just these ports and nothing was read since."""
        rounds = self.preparations[-1].closing_rounds
        if not rounds or set(letters) != {*rounds[-1].ports, *rounds[-1].ports_without_reading}:
            return None
        flows = [self.flows[letter] for letter in rounds[-1].ports]
        stands = all(one.closing is not None and one.closing.entry_id == rounds[-1].entry_id for one in flows)
        return rounds[-1] if stands and not any(self.flows[letter].pending_closing for letter in letters) else None

    def _is_repeated_round(self, repeated: TrainRound, act: Act) -> bool:
        """Whether the round was declared before; it then changes nothing but what has to be settled."""
        if self.findings.distinct and frozenset((repeated.entry_id, act.id)) in self.findings.distinct:
            return False
        answers = ("valve_touched", "recharged", "battery_changed", "same_tubes")
        same = all(yes_or_no(act.value(name)) == getattr(repeated, name) or not act.value(name) for name in answers)
        about = "recorded twice" if same else "two answers for one round"
        words = f"The {repeated.phase} round of train {self.code} was declared in {repeated.entry_id} and in {act.id}"
        words += "." if same else ", with different answers. The first counts."
        self._conflict(about, [repeated.entry_id, act.id], words, list(self.ports.values()))
        return True

    def _conflict(
        self,
        about: str,
        acts: Sequence[Act | str | None],
        words: str,
        ports: list[PortLog],
        samplers: tuple[str, ...] = (),
    ) -> None:
        ids = tuple(act if isinstance(act, str) else act.id for act in acts if act is not None)
        port = ports[0].letter if len(ports) == 1 else ""
        named = samplers or _samplers(ports)
        self.findings.conflicts.append(Conflict(about, ids, words, self.code, port, named))

    def _remark(self, about: str, acts: list[Act], words: str, *ports: PortLog) -> None:
        ids = tuple(act.id for act in acts)
        port = ports[0].letter if len(ports) == 1 else ""
        self.findings.remarks.append(Remark(about, ids, words, self.code, port, _samplers(ports)))


def _samplers(ports: Iterable[PortLog]) -> tuple[str, ...]:
    return tuple(port.fitted.sampler for port in ports if port.fitted is not None)


def _clock(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M} UTC"
