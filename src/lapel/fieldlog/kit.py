"""The kit sheet of whoever supplied the pumps: what it says of each port, held against what was then put there."""

from __future__ import annotations

from lapel.fieldlog.order import Act
from lapel.fieldlog.preparation import PreparationLog
from lapel.fieldlog.state import PortSupplied, Remark
from lapel.fieldlog.train_state import TrainState, samplers_on

KIT_DIFFERS = "differs from the kit sheet"
"""What such a remark is about; its entries are the sheet's and that of the pump, tube or sampler held against it."""


class Supplied(TrainState):
    """What the supplier says of a train; a public method named like a kind takes one entry of it."""

    def kit_sheet(self, act: Act) -> None:
        """Note a sheet's word on a port: for the preparation going on, or for the next where its pump has stopped."""
        get = act.value
        said = PortSupplied(
            act.id, act.at, get("port"), get("pump"), get("medium"), get("catalogue"), get("lot"), get("intended"),
            get("intended_unit"), get("supplier"), get("supplier_unit"), get("how"),
        )  # fmt: skip
        going_on = self.preparations[-1] if self.preparations else None
        if going_on is None or going_on.is_over:
            self.kit_ahead[said.port] = said
            return
        going_on.kit[said.port] = said
        self._hold_pump_against(said, going_on)
        prepared = going_on.ports.get(said.port)
        if prepared is not None:
            self._hold_against_kit(said.port, prepared.entry_id, "the calibration tube", prepared.medium, prepared.lot)
        port = self.ports.get(said.port)
        run = port.fitted if port is not None else None
        if run is not None and run.fit_entry is not None:
            self._hold_against_kit(said.port, run.fit_entry.id, f"sampler {run.sampler}", run.medium, run.lot)

    def _take_kit_along(self, made: PreparationLog, before: PreparationLog | None) -> None:
        """Give a new preparation what was said ahead of it; one put together anew before it ran loses nothing."""
        if before is not None and not before.has_run:
            made.kit |= before.kit
        made.kit |= self.kit_ahead
        self.kit_ahead = {}
        for said in made.kit.values():
            self._hold_pump_against(said, made)

    def _hold_pump_against(self, said: PortSupplied, preparation: PreparationLog) -> None:
        pump = preparation.value("pump")
        if said.pump and pump and said.pump != pump and preparation.act is not None:
            words = f"The kit sheet of port {said.port} is that of pump {said.pump}; train {self.code} has pump {pump}."
            self._note_difference(said, preparation.act.id, words)

    def _hold_against_kit(self, letter: str, entry_id: str, what: str, medium: str, lot: str) -> None:
        """Hold a calibration tube or sampler against the sheet's word on its port; what is empty says nothing."""
        said = self.preparations[-1].kit.get(letter)
        if said is None:
            return
        for name, found, on_sheet in (("medium", medium, said.medium), ("lot", lot, said.lot)):
            if found and on_sheet and found != on_sheet:
                words = (
                    f"Train {self.code}, port {letter}: the kit sheet says {name} {on_sheet}; {what} is of {name} "
                    f"{found}."
                )
                self._note_difference(said, entry_id, words)

    def _note_difference(self, said: PortSupplied, entry_id: str, words: str) -> None:
        port = self.ports.get(said.port)
        samplers = samplers_on([port] if port is not None else [])
        ids = (said.entry_id, entry_id)
        self.findings.remarks.append(Remark(KIT_DIFFERS, ids, words, self.code, said.port, samplers))
