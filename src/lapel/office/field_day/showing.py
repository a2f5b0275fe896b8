"""What the pages of the day and the log show, as cells."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from lapel.assessment.live_day import PortNow, TrainNow
from lapel.assessment.results import SurveyAssessment
from lapel.documents.cells import NOTHING, cell, minutes_cell
from lapel.documents.record_pictures import day_pictures
from lapel.fieldlog import KINDS, Conflict, Day, DeviceClock, Entry, Segment, instant_in
from lapel.figures import at_decimals

STATE_TONES = {
    "running": "good",
    "on hold": "care",
    "stopped": "care",
    "ended": "plain",
    "not started": "plain",
    "no stop recorded": "stop",
}
KIND_NAMES = {kind: kind.replace("_", " ") for kind in KINDS}


def train_cells(train: TrainNow) -> dict[str, Any]:
    """One train of the live day as cells."""
    preparation = train.prepared.preparation
    hung = preparation.hung[-1] if preparation.hung else None
    return {
        "code": preparation.train,
        "number": preparation.number,
        "pump": preparation.pump,
        "splitter": preparation.splitter,
        "worker": hung.worker if hung else "",
        "side": ", ".join(text for text in (hung.side, hung.zone) if text) if hung else "",
        "is_running": train.is_running,
        "looked_at": train.looked_at,
        "due_at": train.due_at,
        "due": _due_words(train.due_in_min),
        "overdue": train.due_in_min is not None and train.due_in_min < 0.0,
        "checks": preparation.checks,
        "ports": [_port_cells(port) for port in train.ports],
    }


def _due_words(minutes: float | None) -> str:
    if minutes is None:
        return ""
    text = at_decimals(abs(minutes), 0)
    return f"overdue by {text} min" if minutes < 0.0 else f"due in {text} min"


def _port_cells(port: PortNow) -> dict[str, Any]:
    run = port.run
    return {
        "port": run.port,
        "sampler": run.sampler,
        "medium": run.medium,
        "state": port.state,
        "tone": STATE_TONES[port.state],
        "fitted_at": run.fitted_at,
        "started_at": run.segments[0].start if run.segments else None,
        "minutes": minutes_cell(port.minutes),
        "litres": cell(port.litres),
        "held": minutes_cell(run.held_min) if run.held_min else "",
        "segments": [_segment_cells(segment) for segment in run.segments],
        "conflicts": len(run.conflicts),
        "missing": run.missing,
        "faults": run.faults,
    }


def _segment_cells(segment: Segment) -> dict[str, Any]:
    return {
        "start": segment.start,
        "stop": segment.stop,
        "minutes": minutes_cell(segment.minutes),
        "ended_by": segment.ended_by,
        "by_counter": segment.stop_from_counter,
        "start_entry": segment.start_entry,
        "stop_entry": segment.stop_entry,
        "before_lost": segment.before_lost,
        "after_lost": segment.after_lost,
    }


def clock_cells(clock: DeviceClock) -> dict[str, str]:
    """What receipts tell of a device's clock, in words."""
    if clock.ahead_s:
        words = f"ahead by {_span(clock.ahead_s)} at least"
        words += "; its times are moved back by that" if clock.shift_s else "; too little to matter, nothing is moved"
        tone = "care" if clock.shift_s else "good"
    else:
        behind = _span(clock.behind_at_most_s or 0.0)
        words, tone = f"not ahead; if it is behind, by no more than {behind}", "good"
    return {"device": clock.device, "received": str(clock.received), "words": words, "tone": tone}


def _span(seconds: float) -> str:
    if seconds < 120.0:
        return f"{at_decimals(seconds, 0)} s"
    if seconds < 7200.0:
        return f"{at_decimals(seconds / 60.0, 0)} min"
    return f"{at_decimals(seconds / 3600.0, 0)} h"


def conflict_cells(conflict: Conflict, day: Day, by_id: Mapping[str, Entry], zone: ZoneInfo) -> dict[str, Any]:
    """A conflict with its accounts side by side; `pair` holds the ids where it is about two like acts."""
    accounts = [account(by_id[one], day, zone) for one in conflict.entry_ids if one in by_id]
    return {
        "about": conflict.about,
        "words": conflict.words,
        "samplers": conflict.samplers,
        "accounts": accounts,
        "pair": [one["id"] for one in accounts] if len(accounts) == 2 else [],
    }


def account(entry: Entry, day: Day, zone: ZoneInfo) -> dict[str, Any]:
    """One entry as somebody's account of what happened: as it counts, and whether that is how it was recorded."""
    amendment = day.amendments.get(entry.id)
    counts = amendment.counts if amendment else entry
    shown = counts or entry
    return {
        "id": entry.id,
        "kind": KIND_NAMES.get(entry.kind, entry.kind),
        "what": KINDS[entry.kind].words if entry.kind in KINDS else "",
        "at": shown.at,
        "author": entry.author,
        "device": entry.device,
        "fields": field_cells(shown.fields, zone),
        "corrected": amendment is not None,
        "withdrawn": amendment is not None and counts is None,
    }


def field_cells(fields: Mapping[str, str], zone: ZoneInfo) -> list[tuple[str, str]]:
    """Fields with what was typed, named as people read them; of a correction the field it corrects."""
    if fields.get("field"):
        return [(field_name(fields["field"]), by_the_clock(fields.get("value", ""), zone) or "nothing")]
    return [(field_name(name), by_the_clock(text, zone)) for name, text in fields.items() if text]


def field_name(name: str) -> str:
    """What the form of a correction calls a field of an entry."""
    return "When" if name == "at" else name.replace("_", " ").capitalize()


def by_the_clock(text: str, zone: ZoneInfo) -> str:
    """Tell an instant by the clock of the site; every other text stays as it was typed."""
    try:
        return clock_text(instant_in(text), zone)
    except ValueError:
        return text


def clock_text(at: datetime, zone: ZoneInfo) -> str:
    """Day and time on the wall of the site; seconds where there are any."""
    local = at.astimezone(zone)
    return f"{local:%Y-%m-%d %H:%M:%S}" if local.second else f"{local:%Y-%m-%d %H:%M}"


def compared_fields(recorded: Entry, counts: Entry | None) -> list[dict[str, Any]]:
    """Every field of an entry: as recorded, and as it counts; of a withdrawn one nothing counts."""
    names = dict.fromkeys([*recorded.fields, *(counts.fields if counts else ())])
    rows = [
        {
            "name": field_name(name),
            "recorded": recorded.fields.get(name, ""),
            "counts": counts.fields.get(name, "") if counts else "",
        }
        for name in names
        if recorded.fields.get(name) or (counts and counts.fields.get(name))
    ]
    return [{**row, "differs": counts is not None and row["recorded"] != row["counts"]} for row in rows]


def resting_on(entry_id: str, day: Day) -> list[str]:
    """Samplers whose time or flow rests on an entry."""
    found = []
    for code, run in day.runs.items():
        rounds = [one for segment in run.segments for one in (segment.before, segment.after) if one is not None]
        read = any(reading.entry_id == entry_id for one in rounds for reading in one.readings)
        if read or entry_id in run.entry_ids or any(one.entry_id == entry_id for one in rounds):
            found.append(code)
    return found


def picture_of_day(assessment: SurveyAssessment, trains: Sequence[TrainNow]) -> list[dict[str, Any]]:
    """Draw the trains of a day, ports against time; nothing while no sampler has drawn from start to stop."""
    samplers = {port.run.sampler for train in trains for port in train.ports}
    chosen = tuple(sample for sample in assessment.samples if sample.sampler in samplers)
    return day_pictures(replace(assessment, samples=chosen))


def told_in(entry: Entry) -> str:
    """Say in a line what an entry is about, for a list of many."""
    told = [text for name, text in entry.fields.items() if text and name not in ("temperature_unit", "pressure_unit")]
    return ", ".join(told) or NOTHING


def looks(train: TrainNow) -> Iterable[dict[str, Any]]:
    """Looks at the running pump, in order."""
    for check in train.prepared.preparation.checks:
        yield {
            "at": check.at,
            "entry": check.entry_id,
            "running": check.running,
            "counter": NOTHING if check.counter_min is None else f"{check.counter_min:g} min",
            "display": f"{check.display} {check.display_unit}".strip() or NOTHING,
            "remark": check.remark,
        }
