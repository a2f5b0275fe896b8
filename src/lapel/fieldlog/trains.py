"""
One train as the log goes on: its preparations, its pump, its ports and what is on them.

A port draws while the pump draws on it and a sampler is fitted: those intervals are the segments. What contradicts what
is already known becomes a conflict; nothing is invented.
"""

from __future__ import annotations

from lapel.fieldlog.fitting import Fitting
from lapel.fieldlog.preparing import Preparing
from lapel.fieldlog.pumping import Pumping
from lapel.fieldlog.runs import RunLog
from lapel.fieldlog.state import Train


class TrainLog(Preparing, Fitting, Pumping):
    """A train while the log goes on."""

    def end_of_log(self) -> None:
        """Settle what still waits when the entries end."""
        for port in self.ports.values():
            port.flows.end_of_log()
            if port.segment is not None:
                port.segment.neighbour_touches = self._neighbour_touches(port, port.segment)

    def frozen(self) -> Train:
        """Return the train as plain data."""
        return Train(self.code, tuple(one.frozen(self.code) for one in self.preparations), self.kit_ahead)

    def worker_after(self, run: RunLog) -> str:
        """Return who wore the train first in the sample's preparation; for a train hung after its start."""
        hung = self.preparations[run.preparation].hung
        return hung[0].worker if hung else ""
