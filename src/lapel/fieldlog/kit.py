"""The kit sheet of whoever supplied the pumps: what it says of each port, held against what was then put there."""

from __future__ import annotations

from lapel.fieldlog.order import Act
from lapel.fieldlog.preparation import PreparationLog
from lapel.fieldlog.state import PortSupplied, Remark
from lapel.fieldlog.train_state import TrainState, samplers_on
from lapel.said import Said, said

KIT_DIFFERS = "differs from the kit sheet"
"""What such a remark is about; its entries are the sheet's and that of the pump, tube or sampler held against it."""

DIFFERS = {
    "medium": "Train {train}, port {port}: the kit sheet says medium {sheet}; {what} is of medium {found}.",
    "lot": "Train {train}, port {port}: the kit sheet says lot {sheet}; {what} is of lot {found}.",
}


class Supplied(TrainState):
    """What the supplier says of a train; a public method named like a kind takes one entry of it."""

    def kit_sheet(self, act: Act) -> None:
        """Note a sheet's word on a port: for the preparation going on, or for the next where its pump has stopped."""
        get = act.value
        sheet = PortSupplied(
            act.id, act.at, get("port"), get("pump"), get("medium"), get("catalogue"), get("lot"), get("intended"),
            get("intended_unit"), get("supplier"), get("supplier_unit"), get("how"),
        )  # fmt: skip
        going_on = self.preparations[-1] if self.preparations else None
        if going_on is None or going_on.is_over:
            self.kit_ahead[sheet.port] = sheet
            return
        going_on.kit[sheet.port] = sheet
        self._hold_pump_against(sheet, going_on)
        prepared = going_on.ports.get(sheet.port)
        if prepared is not None:
            self._hold_against_kit(sheet.port, prepared.entry_id, "", prepared.medium, prepared.lot)
        port = self.ports.get(sheet.port)
        run = port.fitted if port is not None else None
        if run is not None and run.fit_entry is not None:
            self._hold_against_kit(sheet.port, run.fit_entry.id, run.sampler, run.medium, run.lot)

    def _take_kit_along(self, made: PreparationLog, before: PreparationLog | None) -> None:
        """Give a new preparation what was said ahead of it; one put together anew before it ran loses nothing."""
        if before is not None and not before.has_run:
            made.kit |= before.kit
        made.kit |= self.kit_ahead
        self.kit_ahead = {}
        for sheet in made.kit.values():
            self._hold_pump_against(sheet, made)

    def _hold_pump_against(self, sheet: PortSupplied, preparation: PreparationLog) -> None:
        pump = preparation.value("pump")
        if sheet.pump and pump and sheet.pump != pump and preparation.act is not None:
            words = said(
                "The kit sheet of port {port} is that of pump {other}; train {train} has pump {pump}.",
                port=sheet.port,
                other=sheet.pump,
                train=self.code,
                pump=pump,
            )
            self._note_difference(sheet, preparation.act.id, words)

    def _hold_against_kit(self, letter: str, entry_id: str, sampler: str, medium: str, lot: str) -> None:
        """
        Hold a sampler, or without one the calibration tube, against the sheet's word on its port.

        What is empty says nothing.
        """
        sheet = self.preparations[-1].kit.get(letter)
        if sheet is None:
            return
        what = said("sampler {sampler}", sampler=sampler) if sampler else said("the calibration tube")
        for thing, found, stated in (("medium", medium, sheet.medium), ("lot", lot, sheet.lot)):
            if found and stated and found != stated:
                words = said(DIFFERS[thing], train=self.code, port=letter, what=what, sheet=stated, found=found)
                self._note_difference(sheet, entry_id, words)

    def _note_difference(self, sheet: PortSupplied, entry_id: str, words: Said) -> None:
        port = self.ports.get(sheet.port)
        samplers = samplers_on([port] if port is not None else [])
        ids = (sheet.entry_id, entry_id)
        self.findings.remarks.append(Remark(KIT_DIFFERS, ids, words, self.code, sheet.port, samplers))
