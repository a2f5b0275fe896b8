"""
A file of entries that a device could not deliver: JSON Lines, an entry a line in the shape the interface takes.

What cannot be read as an entry is kept all the same, as the line it is: a phone may have died while it wrote.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from lapel.exchange.problems import Faults, Place, quoted
from lapel.fieldlog import Entry, EntryProblem, UnreadableRecord, entry_from_record
from lapel.records.append import Receipts, Unreadable
from lapel.records.entry_frame import holdable

MOST_BYTES = 5 * 1024 * 1024
MOST_LINES = 20_000
VERSION = 1


@dataclass(frozen=True, slots=True)
class EntriesFile:
    """
    What a file holds.

    Attributes
    ----------
    items : tuple of Entry or Unreadable
        In the order of the lines; entries name their line as `origin`.
    devices : tuple of str
        Devices whose entries these are, each once.
    survey, device : str
        What the first line says, if it says it.
    """

    items: tuple[Entry | Unreadable, ...]
    devices: tuple[str, ...]
    survey: str = ""
    device: str = ""


def read_entries_file(content: bytes, *, name: str, survey: str) -> EntriesFile:
    """
    Read a device's file for a survey.

    Parameters
    ----------
    content : bytes
        UTF-8, at most `MOST_BYTES`.
    name : str
        What the file is called.
    survey : str
        Code of the survey it is brought to.

    Raises
    ------
    InputProblems
        It is no such file, or one of another survey. Nothing of it should be kept.
    """
    faults = Faults()
    lines = _lines(content, name, faults)
    head: Mapping[str, Any] = {}
    items: list[Entry | Unreadable] = []
    for number, line in lines:
        value = _value(line)
        if not items and not head and isinstance(value, dict) and "lapel" in value:
            head = value
            _check_head(value, Place(name, number), survey, faults)
        else:
            items.append(_item(value, line, f"file {name}, line {number}"[:300]))
    if not faults.count and not any(isinstance(item, Entry) for item in items):
        faults.add(
            Place(name),
            "no line that is an entry" if items else "no entry",
            "a JSON object a line, each an entry as the field page writes it",
            "Choose the file the field page saved; its name ends in .jsonl.",
        )
    faults.raise_any()
    devices = dict.fromkeys(item.device for item in items if isinstance(item, Entry))
    return EntriesFile(tuple(items), tuple(devices), _text(head, "survey"), _text(head, "device"))


def receipts_record(survey: str, device: str, receipts: Receipts) -> dict[str, Any]:
    """Return what a device reads to know which entries it may forget; in the shape of the interface's answer."""
    return {
        "lapel": "receipts",
        "version": VERSION,
        "survey": survey,
        "device": device,
        "confirmed": list(receipts.confirmed),
        "receipts": dict(receipts.confirmed),
        "refused": {
            entry_id: {
                "number": refusal.number,
                "problems": [
                    {"field": one.field, "found": holdable(one.found, 500), "wanted": one.wanted}
                    for one in refusal.problems
                ],
                "kept_receipt": refusal.kept_receipt,
            }
            for entry_id, refusal in receipts.refused.items()
        },
    }


def _lines(content: bytes, name: str, faults: Faults) -> Sequence[tuple[int, str]]:
    if len(content) > MOST_BYTES:
        found, wanted = f"{len(content) / 1024 / 1024:.1f} MB", f"at most {MOST_BYTES // 1024 // 1024} MB"
        faults.add(Place(name), found, wanted, "Cut it into several files between two lines.")
        return ()
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        faults.add(
            Place(name),
            f"a byte that is no UTF-8 at {problem.start}",
            "text in UTF-8",
            "Choose the file as it was saved.",
        )
        return ()
    numbered = [(number, line) for number, line in enumerate(text.split("\n"), 1) if line.strip()]
    if len(numbered) > MOST_LINES:
        faults.add(Place(name), f"{len(numbered)} lines", f"at most {MOST_LINES}", "Cut it into several files.")
        return ()
    return numbered


def _check_head(head: Mapping[str, Any], place: Place, survey: str, faults: Faults) -> None:
    if head.get("lapel") != "entries" or head.get("version") != VERSION:
        faults.add(
            place,
            f"a file of {quoted(str(head.get('lapel'))[:40])}, version {str(head.get('version'))[:10]}",
            f"“entries”, version {VERSION}",
            "Choose the file of waiting entries; a newer field page needs a newer server.",
        )
    named = _text(head, "survey")
    if named and named != survey:
        faults.add(
            place,
            f"entries of the survey {quoted(named[:80])}",
            f"entries of {quoted(survey)}",
            "Bring it in on that survey's page.",
        )


def _value(line: str) -> Any:
    """Return the JSON value of a line; the line itself, as text, where it is none."""
    try:
        return json.loads(line)
    except (ValueError, RecursionError):
        return line


def _item(value: Any, line: str, origin: str) -> Entry | Unreadable:
    if isinstance(value, str):
        return Unreadable(line, (EntryProblem("entry", "a line that is no JSON object", "an entry; was it cut off?"),))
    try:
        entry = entry_from_record(value)
    except UnreadableRecord as problem:
        return Unreadable(value, problem.problems)
    if entry.received_at is not None:
        wanted = "no receipt time: the office gives it"
        return Unreadable(value, (EntryProblem("received_at", entry.received_at.isoformat(), wanted),))
    return replace(entry, origin=origin)


def _text(head: Mapping[str, Any], name: str) -> str:
    value = head.get(name, "")
    return value if isinstance(value, str) else ""
