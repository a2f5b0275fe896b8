"""
The field sheet: two sides a train for places where no device may go, and what each of its lines means in the log.

Every line has a number, and with the sheet's code that number is the id of its entry: typed in twice, it is kept once.
The printed sheet and the page it is typed into are made from the same lines, in the same order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from lapel.documents.render import Picture, rendered
from lapel.pictures.qr_code import qr_code

READINGS = 3
"""Readings of one port in a round, as NMAM chapter D asks."""

CHECKS = 5
"""Lines for looks at the running pump: the first within half an hour, then every two hours of a shift."""

CHANGES = 2
"""Lines for tubes changed while the pump runs."""


TURN_AT = "Stop"
"""The part the back of the sheet begins with."""


@dataclass(frozen=True, slots=True)
class SheetPort:
    """A port as planned: its letter, and what is known of what hangs there; empty where it is not."""

    port: str
    medium: str = ""
    sampler: str = ""
    target: str = ""
    target_unit: str = "mL/min"


@dataclass(frozen=True, slots=True)
class SheetLine:
    """
    One numbered line: one entry of the log, once its time is filled in.

    `given` are fields the sheet knows, `asks` those to be filled in, in their order.
    """

    number: int
    kind: str
    given: Mapping[str, str]
    asks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetRow:
    """A row of the sheet: some words, one time, and one line or more (the readings of a port are three lines)."""

    words: str
    lines: tuple[SheetLine, ...]

    @property
    def numbers(self) -> str:
        """The numbers as printed: “7”, or “7-9”."""
        first, last = self.lines[0].number, self.lines[-1].number
        return str(first) if first == last else f"{first}-{last}"


@dataclass(frozen=True, slots=True)
class SheetPart:
    """Rows under one heading; `round_of` is “before” or “after” where a meter and the air belong to it."""

    title: str
    rows: tuple[SheetRow, ...]
    hint: str = ""
    round_of: str = ""


@dataclass(frozen=True, slots=True)
class FieldSheet:
    """A sheet for one train on one day."""

    code: str
    day: date
    train: str
    worker: str
    pump: str
    splitter: str
    ports: tuple[SheetPort, ...]
    parts: tuple[SheetPart, ...] = field(default=())

    @property
    def lines(self) -> tuple[SheetLine, ...]:
        """Every line, in its order."""
        return tuple(line for part in self.parts for row in part.rows for line in row.lines)

    def entry_id(self, line: SheetLine) -> str:
        """Return the id of a line's entry: the same whoever types it in, and in the order of the lines."""
        return f"sheet-{self.code}-line-{line.number:02d}"


def field_sheet(
    day: date, train: str, *, worker: str = "", pump: str = "", splitter: str = "", ports: Sequence[SheetPort]
) -> FieldSheet:
    """
    Make the sheet of a train.

    Parameters
    ----------
    day : datetime.date
        The day it is for; with the train it makes the sheet's code.
    train : str
        The train's code of that day.
    ports : sequence of SheetPort
        At least one.

    Raises
    ------
    ValueError
        There is no port, or no train.
    """
    if not ports:
        raise ValueError("`ports` must hold at least one port; it is empty")
    if not train.strip():
        raise ValueError("`train` must be a code; it is empty")
    numbered = _Numbering(train)
    parts = (
        _put_together(numbered, pump, splitter, ports),
        _round(numbered, "closing", ports),
        _hung(numbered, worker, ports),
        _during(numbered),
        _end(numbered, ports),
        _round(numbered, "post", ports),
        _around(numbered, worker),
    )
    code = f"{day.isoformat()}-{train}"
    return FieldSheet(code, day, train, worker, pump, splitter, tuple(ports), parts)


def field_sheets_document(sheets: Sequence[FieldSheet], *, survey: str, site: str, dated: date) -> bytes:
    """Set sheets as PDF, two sides each."""
    data = {"survey": survey, "site": site, "sheets": [_sheet_data(sheet) for sheet in sheets]}
    return rendered("field_sheet", data, title=f"Field sheets: {survey}", dated=dated)


class _Numbering:
    """Gives each line the next number."""

    def __init__(self, train: str) -> None:
        self.train = train
        self.last = 0

    def row(self, words: str, kind: str, *asks: str, times: int = 1, **given: str) -> SheetRow:
        lines = []
        known = {name: text for name, text in given.items() if text}
        whole = {"train": self.train} | known if kind not in _WITHOUT_TRAIN else known
        for _ in range(times):
            self.last += 1
            lines.append(SheetLine(self.last, kind, whole, asks))
        return SheetRow(words, tuple(lines))


_WITHOUT_TRAIN = frozenset({"blank_opened", "blank_closed", "task", "note", "conditions"})


def _put_together(numbered: _Numbering, pump: str, splitter: str, ports: Sequence[SheetPort]) -> SheetPart:
    rows = [
        numbered.row(
            "Pump, holder, warm-up", "train_prepared", "pump", "splitter", "warm_up_min", "charged_at", "battery"
        ),
        numbered.row("All inlets plugged", "leak_checked", "passed"),
    ]
    rows += [
        numbered.row(
            f"Port {port.port}: calibration tube", "port_prepared", "tube", "lot", "target",
            port=port.port, medium=port.medium, target_unit=port.target_unit,
        )
        for port in ports
    ]  # fmt: skip
    return SheetPart("Put together", tuple(rows), "Warm-up in minutes. Leak check: yes if nothing flows.")


def _round(numbered: _Numbering, phase: str, ports: Sequence[SheetPort]) -> SheetPart:
    rows = [
        numbered.row(f"Port {port.port}", "flow_read", "reading", times=READINGS, port=port.port, phase=phase)
        for port in ports
    ]
    letters = " ".join(port.port for port in ports)
    if phase == "closing":
        rows.append(numbered.row("Was a valve touched meanwhile?", "closing_round", "valve_touched", ports=letters))
        return SheetPart("Closing round", tuple(rows), "All ports in turn, no valve touched.", "before")
    rows.append(
        numbered.row(
            "Since the run", "post_round", "valve_touched", "recharged", "battery_changed", "same_tubes"
        )
    )  # fmt: skip
    return SheetPart("After the run", tuple(rows), "Same meter, same tubes, no valve touched, no recharge.", "after")


def _hung(numbered: _Numbering, worker: str, ports: Sequence[SheetPort]) -> SheetPart:
    rows = [numbered.row("On whom, which side", "train_hung", "worker", "side")]
    rows += [
        numbered.row(
            f"Port {port.port}: label", "sampler_fitted", "sampler", "lot", "expiry",
            port=port.port, medium=port.medium, how="typed",
        )
        for port in ports
    ]  # fmt: skip
    rows.append(numbered.row("Start", "pump_started", "counter_min"))
    return SheetPart("Hang and start", tuple(rows), "Arrow to the holder; tubes upright, inlets on the collar.")


def _during(numbered: _Numbering) -> SheetPart:
    rows = [numbered.row("Look at the pump", "pump_checked", "running", "counter_min", "remark") for _ in range(CHECKS)]
    for _ in range(CHANGES):
        rows.append(numbered.row("Tube off in mid-run", "sampler_removed", "port", "sampler", why="tube change"))
        rows.append(
            numbered.row("Next tube on", "sampler_fitted", "port", "sampler", "medium", "lot", "expiry", how="typed")
        )
    rows.append(numbered.row("Hold", "pump_held", "why", "counter_min"))
    rows.append(numbered.row("Goes on", "pump_resumed", "counter_min"))
    return SheetPart("During", tuple(rows), "First look within 30 min, then at least every 2 h.")


def _end(numbered: _Numbering, ports: Sequence[SheetPort]) -> SheetPart:
    rows = [numbered.row("Stop", "pump_stopped", "counter_min", "why", "stopped_itself")]
    rows += [
        numbered.row(f"Port {port.port}: off and capped", "sampler_removed", "sampler", port=port.port, why="shift end")
        for port in ports
    ]
    return SheetPart("Stop", tuple(rows), "Counter before anything is touched. Why: shift end, fault, early, other.")


def _around(numbered: _Numbering, worker: str) -> SheetPart:
    rows = (
        numbered.row("Blank opened", "blank_opened", "blank", "medium", "lot", use="field"),
        numbered.row("Blank capped", "blank_closed", "blank"),
        numbered.row("Task", "task", "worker", "task"),
        numbered.row("Note", "note", "text"),
        numbered.row("Note", "note", "text"),
    )
    return SheetPart("Blanks, tasks, notes", rows)


LABELS: Mapping[str, str] = {
    "pump": "pump",
    "splitter": "holder",
    "warm_up_min": "warm-up, min",
    "charged_at": "full at",
    "battery": "battery shows",
    "passed": "tight?",
    "tube": "mark",
    "lot": "lot",
    "target": "wanted, mL/min",
    "reading": "flow",
    "valve_touched": "valve touched?",
    "recharged": "charged?",
    "battery_changed": "battery changed?",
    "same_tubes": "same tubes?",
    "worker": "worker",
    "side": "side",
    "sampler": "number",
    "expiry": "expiry",
    "counter_min": "counter, min",
    "running": "runs?",
    "remark": "seen",
    "port": "port",
    "medium": "medium",
    "why": "why",
    "stopped_itself": "by itself?",
    "blank": "number",
    "task": "task",
    "text": "words",
}
"""What stands under a blank of the sheet, and beside its box on the page."""

WIDE = frozenset({"remark", "text", "task", "medium"})
"""Blanks that need room."""


def known_answer(sheet: FieldSheet, line: SheetLine, ask: str) -> str:
    """Return what the plan expects in a blank, printed small for comparison and never taken as filled in."""
    port = next((one for one in sheet.ports if one.port == line.given.get("port")), None)
    expected = {
        "pump": sheet.pump,
        "splitter": sheet.splitter,
        "worker": sheet.worker,
        "target": port.target if port else "",
        "sampler": port.sampler if port and line.kind == "sampler_fitted" else "",
    }
    return expected.get(ask, "")


def _sheet_data(sheet: FieldSheet) -> dict[str, Any]:
    drawn = qr_code(sheet.code)
    heading = [text for text in (f"Worker {sheet.worker}" if sheet.worker else "", sheet.pump, sheet.splitter) if text]
    return {
        "code": sheet.code,
        "train": sheet.train,
        "day": sheet.day.isoformat(),
        "heading": ", ".join(heading),
        "qr": Picture(drawn.svg(), drawn.words),
        "parts": [
            {
                "title": part.title,
                "hint": part.hint,
                "meter": bool(part.round_of),
                "turn": part.title == TURN_AT,
                "rows": [_row_data(sheet, row) for row in part.rows],
            }
            for part in sheet.parts
        ],
    }


def _row_data(sheet: FieldSheet, row: SheetRow) -> dict[str, Any]:
    blanks = [
        {"label": LABELS[ask], "expected": known_answer(sheet, line, ask), "wide": ask in WIDE}
        for line in row.lines
        for ask in line.asks
    ]
    medium = row.lines[0].given.get("medium", "")
    return {"numbers": row.numbers, "words": row.words, "medium": medium, "blanks": blanks}
