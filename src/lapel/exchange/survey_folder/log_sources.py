"""Where log entries come from: tables typed from paper, and files devices recorded with their hash chain."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from lapel.exchange.problems import Faults, Place, quoted
from lapel.exchange.survey_folder.folder_files import FolderFiles
from lapel.exchange.survey_folder.log_chains import Ranges, ranges_in
from lapel.exchange.survey_folder.log_layout import defines, log_tables
from lapel.exchange.survey_folder.tables import CsvSheet, open_csv
from lapel.fieldlog import KINDS, Entry

_DEVICE_KEYS = frozenset(
    {"id", "kind", "at", "device", "sequence", "author", "fields", "corrects", "reason"}
    | {"received_at", "previous_hash", "hash"}
)

_ELSEWHERE_KEYS = frozenset({"device", "elsewhere"})


@dataclass(slots=True)
class Source:
    """One kind's rows in one file, ready to be read; `envelopes` holds what devices add, by row."""

    kind: str
    sheet: CsvSheet
    rows: Iterable[tuple[int, list[str]]]
    envelopes: dict[int, dict[str, Any]] = field(default_factory=dict)


def table_sources(files: FolderFiles) -> Iterator[Source]:
    """Open the table of every kind there is one of; rows that bring codes are held for a first look."""
    for kind, table in log_tables().items():
        sheet = open_csv(files, table.file, needed=False)
        if sheet is not None:
            looked_at_first = defines(kind) or "id" in sheet.header
            yield Source(kind, sheet, list(sheet.rows) if looked_at_first else sheet.rows)


def device_sources(files: FolderFiles, elsewhere: dict[str, Ranges]) -> Iterator[Source]:
    """
    Read log/*.jsonl, one entry a line as a device sent it, as rows of the same columns.

    Parameters
    ----------
    elsewhere : dict
        Filled with the sequences of each device that are said to stand in other surveys.
    """
    for name in files.names("log", ".jsonl"):
        text = files.text_of(name)
        if text is None:
            continue
        by_kind: dict[str, tuple[Source, list[tuple[int, list[str]]]]] = {}
        for number, line in enumerate(text.split("\n"), start=1):
            if line.strip():
                _add_device_line(files.faults, name, number, line, by_kind, elsewhere)
        yield from (source for source, _ in by_kind.values())


def _add_device_line(
    faults: Faults,
    name: str,
    number: int,
    line: str,
    by_kind: dict[str, tuple[Source, list[tuple[int, list[str]]]]],
    elsewhere: dict[str, Ranges],
) -> None:
    place = Place(name, number)
    try:
        content = json.loads(line)
    except (ValueError, RecursionError) as problem:
        faults.add(
            place, f"text that is not JSON ({problem})", "one entry a line", "Send the file again; it is damaged."
        )
        return
    if isinstance(content, dict) and set(content) == _ELSEWHERE_KEYS:
        _note_elsewhere(faults, place, content, elsewhere)
        return
    fields = content.get("fields") if isinstance(content, dict) else None
    whole = (
        isinstance(content, dict) and not set(content) - _DEVICE_KEYS and {"id", "kind", "at", "device"} <= set(content)
    )
    texts = [value for key, value in content.items() if key not in ("fields", "sequence")] if whole else []
    sequence = content.get("sequence", 0) if whole else 0
    instants = [content.get("received_at"), content.get("at")] if whole else []
    if whole and isinstance(fields, dict) and content["kind"] in KINDS:
        instants += [fields.get(name) for name, spec in KINDS[content["kind"]].fields.items() if spec.type == "instant"]
    if (
        not whole
        or not isinstance(fields, dict)
        or not all(value is None or isinstance(value, str) for value in (*texts, *fields.values()))
        or isinstance(sequence, bool)
        or not isinstance(sequence, int)
        or sequence < (1 if content.get("hash") else 0)
        or not all(text is None or text == "" or _has_offset(text) for text in instants)
    ):
        faults.add(
            place,
            "a line that is no entry",
            "an object with id, kind, at, device, sequence, author and fields of texts, its times with offsets",
            "Send the file again from the device.",
        )
        return
    kind = content["kind"]
    if kind not in KINDS:
        faults.add(place, f"the kind {quoted(str(kind))}", "one of " + ", ".join(KINDS), "Correct the kind.")
        return
    unknown = set(fields) - set(KINDS[kind].fields)
    if unknown:
        faults.add(
            place,
            "the fields " + ", ".join(sorted(map(quoted, unknown))),
            f"fields of {kind}: {', '.join(KINDS[kind].fields)}",
            "Correct them; nothing typed is dropped.",
        )
        return
    if kind not in by_kind:
        header = [column.name for column in log_tables()[kind].columns]
        rows: list[tuple[int, list[str]]] = []
        by_kind[kind] = Source(kind, CsvSheet(name, header, iter(())), rows), rows
    source, rows = by_kind[kind]
    cells = [str(fields.get(column) or content.get(column) or "") for column in source.sheet.header]
    rows.append((number, cells))
    source.envelopes[number] = content


def _note_elsewhere(faults: Faults, place: Place, content: dict[str, Any], elsewhere: dict[str, Ranges]) -> None:
    device, text = content["device"], content["elsewhere"]
    try:
        if not isinstance(device, str) or not isinstance(text, str) or device in elsewhere:
            raise ValueError("a second such line, or no texts")
        elsewhere[device] = ranges_in(text)
    except ValueError as problem:
        faults.add(
            place,
            str(problem),
            "one line a device with the sequences that stand in other surveys, as in 1-50 56-80",
            "Send the file again; it is damaged.",
        )


def _has_offset(text: Any) -> bool:
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except (TypeError, ValueError):
        return False


def device_entry(source: Source, number: int, values: Mapping[str, Any], author: str) -> Entry:
    """Make an entry of a device's line, its fields untouched: its hash is over exactly what was recorded."""
    envelope = source.envelopes[number]
    received = envelope.get("received_at")
    return Entry(
        id=values["id"],
        kind=source.kind,
        at=values["at"],
        device=envelope["device"],
        sequence=envelope.get("sequence", 0),
        author=author,
        fields={name: text for name, text in envelope["fields"].items() if text is not None},
        corrects=values.get("corrects"),
        reason=values.get("reason") or "",
        received_at=datetime.fromisoformat(received) if received else None,
        previous_hash=envelope.get("previous_hash") or "",
        hash=envelope.get("hash") or "",
        origin=f"{source.sheet.file}, row {number}",
    )
