"""Samplers on and off the ports: which sampler was where, and what cannot be."""

from __future__ import annotations

from lapel.fieldlog.conflicts import recorded_twice
from lapel.fieldlog.kit import Supplied
from lapel.fieldlog.order import Act
from lapel.fieldlog.preparation import PortLog, PreparationLog
from lapel.fieldlog.runs import RunLog
from lapel.said import said


class Fitting(Supplied):
    """What happens to samplers on a train; a public method named like a kind takes one entry of it."""

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
            run = self._new_run(code, port, preparation)
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
        self._hold_against_kit(port.letter, act.id, code, act.value("medium"), act.value("lot"))
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
            run = self._new_run(code, port, self._preparation(act))
            run.missing.append("fitting")
        run.saw(act)
        if on_it is not None:
            samplers = (on_it.sampler, code)
            words = said(
                "Port {port} of train {train} had sampler {sampler}; {other} was recorded as taken off it. "
                "Were two samplers swapped?",
                port=port.letter,
                train=self.code,
                sampler=on_it.sampler,
                other=code,
            )
            self._conflict("another sampler was on this port", [port.last_fitted, act], words, [port], samplers)
            self._take_off(port, act)
        elif port.removed is not None and port.removed.value("sampler") == code:
            self._again(port.removed, act, said("removed twice"), [port], (code,))
        elif run.fit_entry is not None:
            words = said(
                "Sampler {sampler} was taken off port {port} of train {train}, where it was not.",
                sampler=code,
                port=port.letter,
                train=self.code,
            )
            self._conflict("removed where it was not", [run.fit_entry, act], words, [port], (code,))
        run.removal = act
        if run.on is None or run.on == (self.code, port.letter):
            run.removed_at = act.at

    def _new_run(self, code: str, port: PortLog, preparation: PreparationLog) -> RunLog:
        """Open the record of a sampler nobody named before, on this port of the train as it is put together now."""
        pump, splitter = preparation.value("pump"), preparation.value("splitter")
        run = RunLog(code, self.code, port.letter, preparation.number, pump, splitter)
        self.findings.runs[code] = run
        return run

    def packed(self, act: Act, letter: str) -> None:
        """Note that the sampler on a port is in a sealed parcel, and so no longer on the port."""
        port = self.ports[letter]
        if port.fitted is not None and port.segment is None:
            self._off_without_record(port, act)
        elif port.fitted is not None:
            words = said(
                "Sampler {sampler} is packed in parcel {parcel}, and train {train} has no stop before.",
                sampler=port.fitted.sampler,
                parcel=act.value("parcel"),
                train=self.code,
            )
            self._conflict("packed while drawing", [port.started, act], words, [port])

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

    def _another_is_on(self, port: PortLog, run: RunLog, act: Act) -> None:
        """Take the sampler that is on the port as gone: the next one is on."""
        if port.segment is None and run.has_drawn:
            self._off_without_record(port, act)
            return
        words = said(
            "Port {port} of train {train} had sampler {sampler} when {other} was fitted, and its removal is not "
            "recorded.",
            port=port.letter,
            train=self.code,
            sampler=run.sampler,
            other=act.value("sampler"),
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
            words = said("Sampler {sampler} was on port {port} already.", sampler=run.sampler, port=port.letter)
            self._remark("fitted twice", [act], words, port)

    def _on_another_port(self, port: PortLog, run: RunLog, act: Act) -> None:
        still_on = run.on is not None
        about = "sampler on two ports" if still_on else "sampler moved to another port"
        words = said(
            "Sampler {sampler} was fitted to port {port} of train {train} and to port {other} of train {second}. "
            "One sample is one sampler on one port: which is right?",
            sampler=run.sampler,
            port=run.port,
            train=run.train,
            other=port.letter,
            second=self.code,
        )
        self._conflict(about, [run.fit_entry, act], words, [port], (run.sampler,))
