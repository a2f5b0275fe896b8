"""What the equipment pages show, as cells."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from lapel.documents.cells import NOTHING
from lapel.documents.render import Picture
from lapel.figures import at_decimals, significant
from lapel.pictures.drift_history import DriftPoint, drift_history
from lapel.records.equipment_history import Drift, Due, EquipmentHistory, PortRun, port_drift, pump_drift
from lapel.records.models import Meter, Pump, Splitter
from lapel.records.models.equipment import Certified

TOLERANCE = 0.05
"""Change of flow in one run by which equipment is compared; what it means for a sample is for the rule book."""
TOLERANCE_WORDS = "5 %"
SOON_DAYS = 60
MOST_RUNS = 100
"""Runs drawn and listed on a page, the latest; the numbers above them speak of all."""
FEW_RUNS = 4
"""Fewer runs than this say little about a pump or port, and the page says so."""


def due_cells(due: Due) -> dict[str, Any]:
    """What falls due, in words, with its tone."""
    if due.days_left is None:
        words, tone = "no date on record", "care"
    elif due.days_left < 0:
        words, tone = f"overdue by {-due.days_left} day{'s' if due.days_left != -1 else ''}", "stop"
    elif due.days_left == 0:
        words, tone = "due today", "care"
    else:
        words, tone = f"due in {due.days_left} day{'s' if due.days_left != 1 else ''}", "care"
    return {"kind": due.kind, "code": due.code, "what": due.what, "on": due.on, "words": words, "tone": tone}


def date_chip(day: date | None, today: date) -> tuple[str, str]:
    """A due date as a chip: its words and tone."""
    if day is None:
        return "no date", "plain"
    left = (day - today).days
    if left < 0:
        return f"{day} overdue", "stop"
    return (f"{day} due soon", "care") if left <= SOON_DAYS else (f"{day} in date", "good")


def drift_cells(drift: Drift, kind: str) -> dict[str, Any]:
    """How one pump or port behaved, as cells, and what that suggests."""
    runs = len(drift.runs)
    splitter = drift.runs[-1].splitter
    return {
        "code": drift.code,
        "link": drift.code if kind == "pump" else splitter,
        "kind": "pump" if kind == "pump" else "splitter",
        "runs": str(runs),
        "median": change_cell(drift.median_change),
        "recent": change_cell(drift.recent_change),
        "worst": change_cell(drift.worst_change),
        "beyond": f"{drift.beyond} of {runs}",
        "verdict": suggestion(drift),
        "tone": "care" if drift.beyond else "good" if runs >= FEW_RUNS else "plain",
        "last": drift.runs[-1].after_at,
    }


def suggestion(drift: Drift) -> str:
    """Say in words what a history suggests; few runs suggest little."""
    runs = len(drift.runs)
    if runs < FEW_RUNS:
        return f"few runs, {drift.beyond} beyond {TOLERANCE_WORDS}" if drift.beyond else "few runs"
    if 2 * drift.beyond >= runs:
        return "look at this one first"
    if abs(drift.recent_change) > TOLERANCE:
        return "creeps of late"
    return "now and then beyond" if drift.beyond else "steady"


def change_cell(change: float) -> str:
    """A change of flow in percent, with its sign."""
    text = at_decimals(100.0 * change, 1)
    return f"{text if change < 0 or text == '0.0' else '+' + text} %"


def run_cells(run: PortRun) -> dict[str, Any]:
    """One run as cells."""
    return {
        "survey": run.survey,
        "train": run.train,
        "pump": run.pump,
        "splitter": run.splitter,
        "port": run.port,
        "at": run.after_at,
        "before": flow(run.before_lpm),
        "after": flow(run.after_lpm),
        "change": change_cell(run.change),
        "beyond": abs(run.change) > TOLERANCE,
        "same_meter": run.same_meter,
    }


def flow(lpm: float) -> str:
    """A flow as read."""
    return f"{significant(1000.0 * lpm, 4)} mL/min" if lpm < 1.0 else f"{significant(lpm, 4)} L/min"


def drift_picture(drift: Drift, title: str, zone: ZoneInfo) -> Picture:
    """Draw the changes of one pump or port over time."""
    points = [
        DriftPoint(
            run.after_at.astimezone(zone).date(),
            run.change,
            f"{run.after_at.astimezone(zone):%Y-%m-%d}, {run.train} port {run.port}: {change_cell(run.change)}",
            run.same_meter,
        )
        for run in drift.runs[-MOST_RUNS:]
    ]
    drawn = drift_history(points, tolerance=TOLERANCE, name=title, tolerance_words=TOLERANCE_WORDS)
    return Picture(drawn.svg(), drawn.words)


def register_cells(
    history: EquipmentHistory,
    pumps: Iterable[Pump],
    splitters: Iterable[Splitter],
    meters: Iterable[Meter],
    today: date,
) -> dict[str, Any]:
    """The register: every piece of equipment with its dates and, for pumps, how it behaved."""
    behaved = {drift.code: drift for drift in pump_drift(history, tolerance=TOLERANCE)}
    return {
        "pumps": [
            {
                "it": pump,
                "range": flow_range(pump.flow_min_lpm, pump.flow_max_lpm),
                "charged": history.charged.get(pump.code),
                "used": history.used.get(pump.code),
                "service": date_chip(pump.service_due_on, today),
                "runs": str(len(behaved[pump.code].runs)) if pump.code in behaved else "0",
            }
            for pump in pumps
        ],
        "splitters": [
            {
                "it": splitter,
                "total": flow_range(None, splitter.total_max_lpm),
                "service": date_chip(splitter.service_due_on, today),
            }
            for splitter in splitters
        ],
        "meters": [
            {
                "it": meter,
                "range": flow_range(meter.range_min_lpm, meter.range_max_lpm),
                "certificate": date_chip(meter.due_on, today),
                "service": date_chip(meter.service_due_on, today),
            }
            for meter in meters
        ],
    }


def certificate_rows(meter: Meter) -> list[dict[str, Any]]:
    """The certificates of a meter, the latest first, each with the days it counts for."""
    certificates: list[Certified] = [meter, *reversed(list(meter.earlier_certificates.all()))]
    rows = []
    following: date | None = None
    for place, one in enumerate(certificates):
        first = one.certified_on or (None if place else meter.certified_on)
        earliest = place == len(certificates) - 1
        if earliest:
            counts = f"until {following - timedelta(days=1)}" if following else "for every reading"
        else:
            counts = f"{first} to {following - timedelta(days=1)}" if following else f"from {first} on"
        rows.append(
            {
                "it": one,
                "number": one.pk if place else None,
                "counts": counts,
                "range": flow_range(one.range_min_lpm, one.range_max_lpm),
                "uncertainty": _uncertainty(one),
                "scale": _scale(one),
                "curve": "; ".join(f"{read:g} shown is {true:g}" for read, true in one.curve),
            }
        )
        following = one.certified_on
    return rows


def _uncertainty(one: Certified) -> str:
    parts = [] if one.relative_u is None else [f"{significant(100.0 * one.relative_u, 2)} % of the reading"]
    if one.full_scale_u_lpm:
        parts.append(f"{significant(one.full_scale_u_lpm, 2)} L/min of the scale")
    return " and ".join(parts) or "none stated"


def _scale(one: Certified) -> str:
    text = f"{one.reads} flow"
    if one.calibrated_at_k is not None and one.calibrated_at_kpa is not None:
        text += f", made for {one.calibrated_at_k:g} K and {one.calibrated_at_kpa:g} kPa"
    return text if one.exponent is None else f"{text}, exponent {one.exponent:g}"


def flow_range(low: float | None, high: float | None) -> str:
    """A range of flows."""
    if low is None and high is None:
        return NOTHING
    if low is None:
        return f"up to {high:g} L/min"
    return f"from {low:g} L/min" if high is None else f"{low:g} to {high:g} L/min"


def drifts_of(history: EquipmentHistory, kind: str, code: str) -> list[Drift]:
    """Return what the log tells of one pump, or of every port of one splitter, in the order of their letters."""
    if kind == "pump":
        return [drift for drift in pump_drift(history, tolerance=TOLERANCE) if drift.code == code]
    mine = [drift for drift in port_drift(history, tolerance=TOLERANCE) if drift.runs[0].splitter == code]
    return sorted(mine, key=lambda drift: drift.code)
