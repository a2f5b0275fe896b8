"""Entries and the day as plain JSON values, for files, for the wire and for vectors shared with the page."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from lapel.fieldlog.chain import instant_text
from lapel.fieldlog.checks import EntryProblem, instant_in
from lapel.fieldlog.entries import Entry

_TEXTS = ("id", "kind", "device", "author", "reason", "previous_hash", "hash")
_KNOWN = {*_TEXTS, "at", "sequence", "fields", "corrects", "received_at"}


class UnreadableRecord(ValueError):  # noqa: N818 - reads as what it is
    """A JSON value is no entry; `problems` holds every reason."""

    def __init__(self, problems: list[EntryProblem]) -> None:
        super().__init__("; ".join(map(str, problems)))
        self.problems = tuple(problems)


def entry_record(entry: Entry) -> dict[str, Any]:
    """Return an entry as a JSON object; what is empty is left out, `origin` always."""
    record: dict[str, Any] = {
        "id": entry.id,
        "kind": entry.kind,
        "at": instant_text(entry.at),
        "device": entry.device,
        "sequence": entry.sequence,
        "author": entry.author,
        "fields": dict(entry.fields),
    }
    optional = {
        "corrects": entry.corrects,
        "reason": entry.reason,
        "received_at": instant_text(entry.received_at) if entry.received_at else None,
        "previous_hash": entry.previous_hash,
        "hash": entry.hash,
    }
    return record | {name: value for name, value in optional.items() if value}


def entry_from_record(record: Any, *, origin: str = "") -> Entry:
    """
    Read an entry from a JSON object.

    Raises
    ------
    UnreadableRecord
        Its frame is not that of an entry: not an object, a member missing, unknown or of the wrong type. Its fields are
        not held against the kind here; `check_entry` does that.
    """
    if not isinstance(record, Mapping):
        raise UnreadableRecord([EntryProblem("entry", type(record).__name__, "an object")])
    problems = [EntryProblem(str(name), "this member", "no such member") for name in record if name not in _KNOWN]
    texts = {name: _text(record, name, problems) for name in _TEXTS}
    sequence = record.get("sequence", 0)
    if not isinstance(sequence, int) or isinstance(sequence, bool):
        problems.append(EntryProblem("sequence", repr(sequence), "a whole number"))
    fields = record.get("fields", {})
    if not isinstance(fields, Mapping):
        problems.append(EntryProblem("fields", repr(fields), "an object of texts"))
        fields = {}
    for name, value in fields.items():
        if not isinstance(value, str):
            problems.append(EntryProblem(str(name), repr(value), "text, as typed"))
    at = _instant(record, "at", problems)
    received_at = _instant(record, "received_at", problems) if record.get("received_at") else None
    corrects = record.get("corrects") or None
    if corrects is not None and not isinstance(corrects, str):
        problems.append(EntryProblem("corrects", repr(corrects), "text"))
    if problems or at is None:
        raise UnreadableRecord(problems)
    return Entry(
        **texts,
        at=at,
        sequence=sequence,
        fields=dict(fields),
        corrects=corrects,
        received_at=received_at,
        origin=origin,
    )


def plain(value: Any) -> Any:
    """Return any part of a day as plain JSON values; instants become UTC texts, as in 2026-03-29T03:10:00.000Z."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [plain(item) for item in value]
    if isinstance(value, datetime):
        return instant_text(value.astimezone(UTC)).replace("+00:00", "Z")
    return value


def _text(record: Mapping[str, Any], name: str, problems: list[EntryProblem]) -> str:
    value = record.get(name, "")
    if isinstance(value, str):
        return value
    problems.append(EntryProblem(name, repr(value), "text"))
    return ""


def _instant(record: Mapping[str, Any], name: str, problems: list[EntryProblem]) -> datetime | None:
    try:
        return instant_in(str(record.get(name, "")))
    except ValueError:
        problems.append(EntryProblem(name, repr(record.get(name, "")), "an instant with its offset"))
        return None
