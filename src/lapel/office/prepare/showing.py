"""What the preparation page shows, as cells."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

from lapel.assessment.preparedness import FlowWindow, PortReady, TrainReady
from lapel.documents.cells import NOTHING, flow_cell
from lapel.documents.record_field import readings_cell
from lapel.figures import percent, significant

LEAK_WORDS = {True: "passed", False: "failed", None: "not recorded"}


def train_cells(train: TrainReady, zone: ZoneInfo) -> dict[str, Any]:
    """One train as cells: how it was put together, its ports, and what is missing."""
    preparation = train.prepared.preparation
    last = preparation.closing_rounds[-1] if preparation.closing_rounds else None
    workers = list(dict.fromkeys(hung.worker for hung in preparation.hung))
    return {
        "code": preparation.train,
        "number": preparation.number,
        "entry": preparation.entry_id,
        "at": preparation.at,
        "pump": preparation.pump,
        "splitter": preparation.splitter,
        "warm_up": NOTHING if preparation.warm_up_min is None else f"{preparation.warm_up_min:g} min",
        "charged_at": preparation.charged_at,
        "battery": preparation.battery,
        "place": preparation.place,
        "workers": ", ".join(workers),
        "leak": LEAK_WORDS[train.leak_checked],
        "closed_at": last.at if last else None,
        "closing_entry": last.entry_id if last else "",
        "touched": {True: "a valve was touched", False: "no valve touched", None: ""}[
            last.valve_touched if last else None
        ],
        "rounds": len(preparation.closing_rounds),
        "ports": [_port_cells(port, zone) for port in train.ports],
        "missing": train.missing,
        "is_ready": train.is_ready,
    }


def _port_cells(port: PortReady, zone: ZoneInfo) -> dict[str, Any]:
    prepared = port.prepared
    flow = port.flow
    return {
        "port": port.port,
        "tube": prepared.tube if prepared else "",
        "medium": f"{prepared.medium} {prepared.lot}".strip() if prepared else "",
        "target": f"{prepared.target} {prepared.target_unit}".strip() if prepared and prepared.target else NOTHING,
        "readings": readings_cell(port.closing) or NOTHING,
        "entry": port.closing.readings[0].entry_id if port.closing and port.closing.readings else "",
        "flow": flow_cell(flow.flow) if flow else NOTHING,
        "spread": percent(flow.spread) if flow else NOTHING,
        "window": _window(port.window),
        "leak": LEAK_WORDS[port.leak_checked] if port.leak_checked is not None else "",
        "missing": port.missing,
        "in_use": prepared is not None or port.closing is not None or bool(port.missing),
    }


def _window(window: FlowWindow | None) -> str:
    if window is None or (window.low_lpm is None and window.high_lpm is None):
        return NOTHING
    low, high = (NOTHING if end is None else significant(1000.0 * end, 3) for end in (window.low_lpm, window.high_lpm))
    return f"{low} to {high} mL/min"
