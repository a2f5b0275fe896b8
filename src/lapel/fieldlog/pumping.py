"""The pump: started, held, resumed, checked, stopped, or found to have stopped by itself."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Literal

from lapel.fieldlog.checks import number_in, ports_in, yes_or_no
from lapel.fieldlog.drawing import Drawing
from lapel.fieldlog.order import Act
from lapel.fieldlog.preparation import PortLog
from lapel.fieldlog.state import (
    EndedBy,
    PumpCheck,
)
from lapel.fieldlog.train_state import TrainState, clock_text
from lapel.said import said


class Pumping(TrainState):
    """What happens to the pump of a train; a public method named like a kind takes one entry of it."""

    def pump_started(self, act: Act) -> None:
        """Let the pump draw."""
        named = ports_in(act.value("ports"))
        concerned = list(self._named_or_all(named))
        already = [port for port in concerned if self.drawing.on(port.letter) and port.fitted is not None]
        if already and len(already) == sum(port.fitted is not None for port in concerned):
            first = next((port.started for port in already if port.started is not None), None)
            self._again(first, act, said("started while drawing"), already)
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
                self._again(drawn[0].started, act, said("resumed while drawing"), drawn)
                return
            fitted = [port for port in concerned if port.fitted is not None]
            words = said(
                "Train {train} was resumed, and no hold is recorded before it: taken as a start.", train=self.code
            )
            self._remark("resumed without a hold", [act], words, *fitted)
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
                self._again(self.held_by, act, said("held twice"), concerned)
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
            words = said(
                "Train {train} was seen running at {time}, and no start is recorded before it.",
                train=self.code,
                time=clock_text(act.at),
            )
            self._remark("running without a start", [act], words, *fitted)
        elif not runs and drawing:
            self._found_stopped(drawing, counter, act)

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
            words = said(
                "Train {train}: the pump's counter gives a stop at {stop}, after it was found stopped at {found}; "
                "the latter is taken.",
                train=self.code,
                stop=clock_text(stop),
                found=clock_text(act.at),
            )
            self._remark("counter ahead of the clock", [act], words, *self.ports.values())
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

    def _without_a_start(self, concerned: list[PortLog], act: Act, did: Literal["held", "stopped"]) -> None:
        fitted = [port for port in concerned if port.fitted is not None]
        stopped = [port for port in fitted if port.stopped is not None]
        if stopped and len(stopped) == len(fitted):
            self._again(stopped[0].stopped, act, said("held twice" if did == "held" else "stopped twice"), stopped)
        elif fitted:
            template = (
                "Train {train} was held at {time}, and no start is recorded before it."
                if did == "held"
                else "Train {train} was stopped at {time}, and no start is recorded before it."
            )
            words = said(template, train=self.code, time=clock_text(act.at))
            self._conflict(f"{did} without a start", [act], words, fitted)
            for port in fitted:
                if port.fitted is not None and port.stopped is None:
                    port.fitted.missing.append("start")
                    port.fitted.saw(act)
        else:
            removed = [port.removed for port in concerned if port.removed is not None]
            if not removed:
                template = (
                    "Train {train} was held at {time} with no sampler on it and no start before it."
                    if did == "held"
                    else "Train {train} was stopped at {time} with no sampler on it and no start before it."
                )
                words = said(template, train=self.code, time=clock_text(act.at))
                self._remark(f"{did} without a start", [act], words)
