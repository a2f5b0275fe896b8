"""Preparing a train: calibration tubes, leak checks, flow readings and rounds, and whom it is hung on."""

from __future__ import annotations

from lapel.fieldlog.checks import ports_in, yes_or_no
from lapel.fieldlog.conflicts import recorded_twice
from lapel.fieldlog.drawing import Drawing
from lapel.fieldlog.kit import Supplied
from lapel.fieldlog.order import Act
from lapel.fieldlog.preparation import PreparationLog
from lapel.fieldlog.rounds import declared_closing, declared_post, reading_of
from lapel.fieldlog.runs import minutes_between
from lapel.fieldlog.state import (
    Hung,
    LeakCheck,
    PortPrepared,
    TrainRound,
)
from lapel.said import said

_FLOW_SET = said("the flow was set")
_VALVE_TOUCHED = said("the valve was touched")

LEFT_ON_H = 8.0
"""A sampler not drawn on for longer than this when its train is prepared anew is taken as gone: another day. [h]"""


class Preparing(Supplied):
    """What happens to a train before and after the run; a public method named like a kind takes one entry of it."""

    def train_prepared(self, act: Act) -> None:
        """Begin a new preparation: pump, holder and flows of the one before no longer hold."""
        before = self.preparations[-1] if self.preparations else None
        if before is not None and before.act is not None and self._is_same_preparation(before, before.act, act):
            self.findings.conflicts.append(recorded_twice([before.act, act]))
            return
        if self.drawing.anywhere(self.ports):
            self._found_prepared_while_drawing(act)
        made = PreparationLog(len(self.preparations), act)
        self.preparations.append(made)
        self._take_kit_along(made, before)
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
        self._hold_against_kit(port.letter, act.id, "", get("medium"), get("lot"))

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
            self._touch(port, act, _FLOW_SET)
        elif reading.phase == "closing":
            port.flows.pending_closing.append(reading)
        elif reading.phase == "check":
            if port.segment is not None:
                port.segment.checks.append(reading)
        else:
            port.flows.pending_post.append(reading)
            if port.segment is not None and port.fitted is not None:
                words = said(
                    "Port {port} was read as after the run, and no stop is recorded before it.", port=port.letter
                )
                self._remark("read after the run while drawing", [act], words, port)

    def valve_touched(self, act: Act) -> None:
        """End the port's segment and its closing round."""
        self._touch(self._port(act), act, _VALVE_TOUCHED)

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
            words = said(
                "The closing round lists port {ports}, and no closing reading of it stands: read it again.",
                ports=", ".join(made.ports_without_reading),
            )
            self._remark("closing round without reading", [act], words)

    def post_round(self, act: Act) -> None:
        """Declare the round after the run over the ports that were read."""
        preparation = self._preparation(act)
        nothing_new = not any(flows.pending_post or flows.waiting for flows in self.flows.values())
        if nothing_new and preparation.post_rounds and self._is_repeated_round(preparation.post_rounds[-1], act):
            return
        made = declared_post(act, self.flows)
        preparation.post_rounds.append(made)
        if made.ports_without_reading or not made.ports:
            ports = ", ".join(made.ports_without_reading)
            words = (
                said("The round after the run has no reading of port {ports}.", ports=ports)
                if ports
                else said("The round after the run has no reading of port any port.")
            )
            self._remark("post round without reading", [act], words)

    def train_hung(self, act: Act) -> None:
        """Put the train on a worker."""
        hung = self._preparation(act).hung
        worker = act.value("worker")
        drawing = [port for port in self.ports.values() if port.segment is not None and port.fitted is not None]
        if drawing and hung and hung[-1].worker != worker:
            words = said(
                "Train {train} was on {worker} and went to {next} while it drew.",
                train=self.code,
                worker=hung[-1].worker,
                next=worker,
            )
            self._conflict("two workers", [hung[-1].entry_id, act.id], words, drawing)
        hung.append(Hung(act.id, act.at, worker, act.value("side"), act.value("zone")))
        for port in drawing:
            if port.fitted is not None and worker not in port.fitted.workers:
                port.fitted.workers.append(worker)

    def _found_prepared_while_drawing(self, act: Act) -> None:
        drawing = [port for port in self.ports.values() if port.segment is not None]
        if drawing:
            words = said("Train {train} was prepared anew while it drew: its stop is not recorded.", train=self.code)
            self._conflict("prepared while drawing", [drawing[0].started, act], words, drawing)
        for port in drawing:
            self._end(port, None, "other", act)
        self.pump_run = None

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
        template = (
            "The {phase} round of train {train} was declared in {first} and in {second}."
            if same
            else "The {phase} round of train {train} was declared in {first} and in {second}, with different answers. "
            "The first counts."
        )
        words = said(template, phase=said(repeated.phase), train=self.code, first=repeated.entry_id, second=act.id)
        self._conflict(about, [repeated.entry_id, act.id], words, list(self.ports.values()))
        return True
