"""The field log as files: what stood on paper as one table a kind, what a device recorded as its lines, unchanged."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime

from lapel.exchange.survey_folder.log_chains import Ranges, ranges_text
from lapel.exchange.survey_folder.log_layout import log_tables, table_name
from lapel.exchange.survey_folder.writer_cells import instant
from lapel.exchange.survey_folder.writer_tables import Cells, table_text
from lapel.fieldlog import KINDS, Entry, entry_record

PAPER = "paper"
"""The device of what was typed into the folder's own tables."""
_ENVELOPE = frozenset({"at", "author", "id", "corrects", "reason"})


def log_files(entries: Iterable[Entry], elsewhere: Mapping[str, Ranges]) -> dict[str, str]:
    """
    Write the log.

    Parameters
    ----------
    entries : iterable of Entry
        The survey's log.
    elsewhere : mapping of str to Ranges
        By device, the sequences that stand in other surveys' logs.

    Returns
    -------
    dict of str to str
        Text of each file by its name in the folder. An entry goes into a table only if the table gives it back as it
        is; any other goes into the lines of its device, which hold every sign of it.
    """
    rows: dict[str, list[Cells]] = defaultdict(list)
    lines: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        if _fits_a_table(entry):
            rows[entry.kind].append(_row(entry))
        else:
            lines[entry.device].append(entry)
    tables = log_tables()
    files = {table_name(kind): table_text(tables[kind].columns, found) for kind, found in rows.items()}
    names = file_names(lines, taken=())
    for device, found in lines.items():
        found.sort(key=lambda entry: (entry.sequence, entry.at))
        head = _elsewhere_line(device, elsewhere[device]) if elsewhere.get(device) else ""
        files[f"log/{names[device]}.jsonl"] = head + "".join(_line(entry) + "\n" for entry in found)
    return files


def file_names(codes: Iterable[str], *, taken: Iterable[str]) -> dict[str, str]:
    """Give every code a plain file name of its own, without ending: letters, digits and - _ . only."""
    used = {name.casefold() for name in taken}
    names: dict[str, str] = {}
    for code in codes:
        plain = "".join(sign if sign.isascii() and (sign.isalnum() or sign in "-_.") else "-" for sign in code)
        plain = plain.strip(".-")[:80] or "unnamed"
        name, number = plain, 2
        while name.casefold() in used:
            name, number = f"{plain}-{number}", number + 1
        used.add(name.casefold())
        names[code] = name
    return names


def _fits_a_table(entry: Entry) -> bool:
    spec = KINDS.get(entry.kind)
    if spec is None or entry.device != PAPER or entry.sequence or entry.hash or entry.previous_hash:
        return False
    if entry.received_at is not None or (entry.kind != "correction" and (entry.corrects or entry.reason)):
        return False
    for name, value in entry.fields.items():
        field = spec.fields.get(name)
        if field is None or name in _ENVELOPE or not value or value != value.strip() or "\r" in value:
            return False
        if field.type == "instant" and not _is_written_out(value):
            return False
    return bool(entry.author.strip()) and entry.author == entry.author.strip()


def _is_written_out(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def _row(entry: Entry) -> Cells:
    cells = {"at": instant(entry.at), "author": entry.author, "id": entry.id, **entry.fields}
    if entry.kind == "correction":
        cells |= {"corrects": entry.corrects or "", "reason": entry.reason}
    return cells


def _elsewhere_line(device: str, runs: Ranges) -> str:
    return json.dumps({"device": device, "elsewhere": ranges_text(runs)}, ensure_ascii=False) + "\n"


def _line(entry: Entry) -> str:
    record = entry_record(entry)
    if entry.at.utcoffset() == UTC.utcoffset(None):
        record["at"] = record["at"].replace("+00:00", "Z")
    return json.dumps(_ordered(record), ensure_ascii=False)


def _ordered(record: Mapping[str, object]) -> dict[str, object]:
    """Put what identifies an entry first, for whoever reads the file."""
    first = ("id", "kind", "at", "device", "sequence", "author", "fields")
    return {name: record[name] for name in first} | {name: record[name] for name in record if name not in first}
