"""
The proof of the log: every row as it was stored, every delivery, every device's chain, and the triggers.

A trigger stops whoever comes through the database. Somebody with the file in his hands passes below it: that shows
here, by the entry it was done to. The hash of the last delivery, written down elsewhere, proves later that nothing was
taken off the end.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Any, NamedTuple

from django.db import DatabaseError, connection
from django.db.models import DateTimeField, JSONField, Model, QuerySet

from lapel.fieldlog import Entry, entry_hash
from lapel.records.append_only import GUARDED, missing_guards
from lapel.records.log_reading import delivery_hash, entry_of, refused_digest, row_digest
from lapel.records.models import Delivery, LogEntry, RefusedEntry

_INSTANT = "[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9] [0-9][0-9]:[0-9][0-9]:[0-9][0-9]"
_FILE = "the database file"
_UNREADABLE = (DatabaseError, ValueError, TypeError, AttributeError, KeyError, OverflowError)


class LogBreak(NamedTuple):
    """One place where the log does not hold."""

    where: str
    found: str
    wanted: str

    def __str__(self) -> str:
        return f"{self.where}: found {self.found}; wanted {self.wanted}"


@dataclass(frozen=True, slots=True)
class LogProof:
    """
    What was proven.

    `breaks` is empty when the log is as it was received. `open_ends` tells of the devices' chains what an honest phone
    can cause: entries missing between others, which may still be on their way, and forks after a copy.
    """

    entries: int
    devices: int
    deliveries: int
    last_hash: str
    breaks: tuple[LogBreak, ...]
    open_ends: tuple[LogBreak, ...]


def verify_log(*, guards: bool = True) -> LogProof:
    """
    Prove the whole log; it is read once by receipt and once by device, never held in memory.

    Parameters
    ----------
    guards : bool
        Whether every trigger of this version must stand; not so in records of an earlier one.
    """
    walk = _Walk()
    steps = [walk.storage, walk.guards, walk.last_numbers, walk.along_deliveries, walk.along_chains, walk.writing]
    if not guards:
        steps.remove(walk.guards)
    for step in steps:
        try:
            step()
        except DatabaseError as problem:  # a page so broken that its rows cannot even be counted
            walk.breaks.append(LogBreak(_FILE, str(problem), "one that can be read"))
    return LogProof(
        entries=walk.entries,
        devices=walk.devices,
        deliveries=walk.deliveries,
        last_hash=walk.last_hash,
        breaks=tuple(_first_of_each(walk.breaks)),
        open_ends=tuple(walk.open_ends),
    )


class _Walk:
    """What was seen so far on the way through the log."""

    def __init__(self) -> None:
        self.breaks: list[LogBreak] = []
        self.open_ends: list[LogBreak] = []
        self.entries = self.devices = self.deliveries = 0
        self.last_hash = ""

    def storage(self) -> None:
        self.breaks += _storage()

    def writing(self) -> None:
        self.breaks += _writing()

    def last_numbers(self) -> None:
        self.breaks += _last_numbers()

    def guards(self) -> None:
        self.breaks += [LogBreak(f"trigger {name}", "it missing or changed", "it") for name in missing_guards()]

    def along_deliveries(self) -> None:
        """Hold every delivery against the one before it, and every row against the digest it was taken in with."""
        next_receipt, next_refused = 1, 1
        for number in _keys(Delivery):
            self.deliveries += 1
            delivery = _read(Delivery, number)
            if isinstance(delivery, str):
                self.last_hash = ""
                found = f"it unreadable ({delivery})"
                self.breaks.append(LogBreak(f"delivery {number}", found, "the delivery as it came"))
                continue
            self.breaks += _delivery_itself(delivery, self.last_hash)
            self.last_hash = delivery.hash
            digests = delivery.digests if isinstance(delivery.digests, list) else []
            of_entries, of_refused = digests[: delivery.entries], digests[delivery.entries :]
            for_entries = _rows(LogEntry, next_receipt, delivery.first_receipt, of_entries, f"delivery {number}")
            for_refused = _rows(RefusedEntry, next_refused, delivery.first_refused, of_refused, f"delivery {number}")
            next_receipt, next_refused = for_entries[0], for_refused[0]
            self.breaks += for_entries[1] + for_refused[1]
        self.breaks += _beyond(LogEntry, next_receipt)
        self.breaks += _beyond(RefusedEntry, next_refused)

    def along_chains(self) -> None:
        """Hold every entry against its own hash and against the device's entry before it."""
        self.entries = LogEntry.objects.count()
        rows = _readable(LogEntry.objects.exclude(hash="").order_by("device", "sequence", "receipt"))
        for device, of_device in groupby(rows, key=lambda row: row.device):
            self.devices += 1
            refused = set(RefusedEntry.objects.filter(device=device).values_list("sequence", flat=True))
            before: tuple[int, set[str]] = (0, {""})
            for sequence, same in groupby(of_device, key=lambda row: row.sequence):
                entries = [entry for row in same if (entry := _entry_or_none(row)) is not None]
                self.breaks += [
                    LogBreak(_place(entry), "content its hash does not fit", "the content as it was recorded")
                    for entry in entries
                    if entry.hash != _failing(entry_hash, entry)
                ]
                self.open_ends += _ends(before, sequence, entries, refused)
                if entries:
                    before = (sequence, {entry.hash for entry in entries})


def _delivery_itself(delivery: Delivery, last_hash: str) -> Iterator[LogBreak]:
    where = f"delivery {delivery.pk}"
    if _failing(delivery_hash, delivery) != delivery.hash:
        yield LogBreak(where, "content its hash does not fit", "the delivery as it came")
    if delivery.previous_hash != last_hash:
        found = f"a link to {delivery.previous_hash[:12] or 'nothing'}…"
        yield LogBreak(where, found, f"the link {last_hash[:12] or 'nothing'}…: one is missing or changed")


def _first_of_each(breaks: list[LogBreak]) -> Iterator[LogBreak]:
    """Yield what was found first at each place; what a delivery shows, the chain often shows again."""
    seen: set[str] = set()
    for fault in breaks:
        if fault.where not in seen or fault.where == _FILE:
            yield fault
        seen.add(fault.where)


def _storage() -> Iterator[LogBreak]:
    """Let SQLite look over its own file: pages, indexes, and that each index holds what its table holds."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA integrity_check(5)")
            for (answer,) in cursor.fetchall():
                if answer != "ok":
                    yield LogBreak(_FILE, answer, "a whole file")


def _writing() -> Iterator[LogBreak]:
    if connection.vendor == "sqlite":
        for model in (LogEntry, RefusedEntry, Delivery):
            for number in _written_otherwise(model):
                where = f"delivery {number}" if model is Delivery else _name(model, number)
                yield LogBreak(where, "a value that is not written so", "the row as it was stored")


def _last_numbers() -> Iterator[LogBreak]:
    """SQLite remembers the last number it gave out; PostgreSQL's count goes on after a rollback and tells nothing."""
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("SELECT name, seq FROM sqlite_sequence")
            for table, last in cursor.fetchall():
                if table in GUARDED:
                    cursor.execute(f"SELECT MAX({GUARDED[table][0][0]}) FROM {table}")
                    there = cursor.fetchone()[0] or 0
                    if there != last:
                        yield LogBreak(table, f"{there} as its last number", f"{last}: rows are gone from its end")


def _written_otherwise(model: type[Model]) -> Iterator[int]:
    """
    Yield the rows of an SQLite table that read as they should but are not written as Django writes them.

    A byte string for a text, another separator in an instant, another blank in JSON: no change of content, and yet a
    change in the file.
    """
    table, key = model._meta.db_table, GUARDED[model._meta.db_table][0][0]
    odd = []
    for field in model._meta.concrete_fields:
        kind = "integer" if "int" in (field.db_type(connection) or "") or field.is_relation else "text"
        odd.append(f"typeof({field.column}) NOT IN ('{kind}', 'null')")
        if isinstance(field, DateTimeField):
            odd.append(f"{field.column} NOT GLOB '{_INSTANT}*'")
    texts = [str(field.column) for field in model._meta.concrete_fields if isinstance(field, JSONField)]
    with connection.cursor() as cursor:
        columns = ", ".join([key, " OR ".join(odd), *texts])
        cursor.execute(f"SELECT {columns} FROM {table} ORDER BY {key}")
        for number, is_odd, *written in cursor:
            if is_odd or not all(map(_is_as_django_writes, written)):
                yield number


def _is_as_django_writes(text: str) -> bool:
    try:
        return json.dumps(json.loads(text)) == text
    except _UNREADABLE:
        return False


def _rows(
    model: type[LogEntry] | type[RefusedEntry], expected: int, first: int | None, digests: list[Any], delivery: str
) -> tuple[int, list[LogBreak]]:
    """Hold the rows of one delivery against the digests it was sealed with; return the key after them."""
    if first is None or not digests:
        return expected, []
    breaks: list[LogBreak] = []
    keys = _keys(model, least=expected, count=len(digests) + 50)
    before = [key for key in keys if key < first]
    breaks += [LogBreak(_name(model, key), "it in no delivery", "only what came through the door") for key in before]
    here = {key for key in keys if key >= first}
    rows = _read_all(model, sorted(here)[: len(digests)])
    for place, (key, digest) in enumerate(zip(sorted(here), digests, strict=False)):
        row = rows.get(key)
        if isinstance(row, str) or row is None:
            breaks.append(LogBreak(_name(model, key), f"it unreadable ({row})", "the row as it was stored"))
        elif _failing(_digest, row) != digest:
            if place + 1 < len(digests) and _failing(_digest, row) in digests[place + 1 :]:
                breaks.append(LogBreak(f"{delivery}, row {place + 1}", f"{_name(model, key)}", "a row that is missing"))
                break
            breaks.append(LogBreak(_name(model, key), "content that was not stored so", "the row as it was stored"))
    if len(here) < len(digests):
        found = f"{len(here)} rows from {_word(model)} {first} on"
        breaks.append(LogBreak(delivery, found, f"the {len(digests)} rows it brought"))
    taken = sorted(here)[: len(digests)]
    return (taken[-1] + 1 if taken else first), breaks


def _beyond(model: type[LogEntry] | type[RefusedEntry], first: int) -> Iterator[LogBreak]:
    for key in _keys(model, least=first, count=100):
        yield LogBreak(_name(model, key), "it in no delivery", "only what came through the door")


def _ends(before: tuple[int, set[str]], sequence: int, entries: list[Entry], refused: set[int]) -> Iterator[LogBreak]:
    last, hashes = before
    if not entries:
        return
    if len({entry.hash for entry in entries}) > 1:
        others = ", ".join(entry.id for entry in entries[1:])
        yield LogBreak(_place(entries[0]), f"other entries with its sequence ({others})", "one entry a sequence")
    missing = [number for number in range(last + 1, min(sequence, last + 1000)) if number not in refused]
    if missing:
        span = f"{missing[0]} to {sequence - 1}" if sequence - 1 > missing[0] else str(missing[0])
        yield LogBreak(_place(entries[0]), "nothing right before it", f"entry {span}: still on the device, or lost")
    elif sequence == last + 1:
        for entry in entries:
            if entry.previous_hash not in hashes:
                found = f"a link to {entry.previous_hash[:12] or 'nothing'}…"
                yield LogBreak(_place(entry), found, f"a link to entry {last}" if last else "no link: it is the first")


def _place(entry: Entry) -> str:
    return f"entry {entry.id} (device {entry.device}, {entry.sequence})"


def _name(model: type[Model], key: int) -> str:
    """Name a row as far as it can still be read."""
    if model is RefusedEntry:
        return f"refused entry {key}"
    try:
        entry_id, device, sequence = LogEntry.objects.values_list("entry_id", "device", "sequence").get(pk=key)
    except (*_UNREADABLE, LogEntry.DoesNotExist):
        return f"receipt {key}"
    return f"entry {entry_id} (device {device}, {sequence})"


def _word(model: type[LogEntry] | type[RefusedEntry]) -> str:
    return "receipt" if model is LogEntry else "refused entry"


def _digest(row: LogEntry | RefusedEntry) -> str:
    return row_digest(row) if isinstance(row, LogEntry) else refused_digest(row)


def _failing(function: Any, row: Model | Entry) -> str:
    """Return the hash of a row, or nothing where what was made of it can no longer be hashed."""
    try:
        return str(function(row))
    except _UNREADABLE:
        return ""


def _keys(model: type[Model], *, least: int = 0, count: int | None = None) -> list[int]:
    rows = model._default_manager.filter(pk__gte=least).order_by("pk").values_list("pk", flat=True)
    return list(rows[:count] if count else rows)


def _read_all(model: type[Model], keys: list[int]) -> dict[int, Any]:
    """Read rows together; where one cannot be read, each alone, so that the others still can."""
    try:
        return {row.pk: row for row in model._default_manager.filter(pk__in=keys)}
    except _UNREADABLE:
        return {key: _read(model, key) for key in keys}


def _read(model: type[Model], key: int) -> Any:
    """Return a row, or in words why it cannot be read."""
    try:
        return model._default_manager.get(pk=key)
    except (*_UNREADABLE, model.DoesNotExist) as problem:  # type: ignore[attr-defined]
        return str(problem)[:200]


def _readable(rows: QuerySet[LogEntry]) -> Iterator[LogEntry]:
    """Yield rows in order, in lots; those that cannot be read were named before."""
    keys = rows.values_list("pk", flat=True)
    lot: list[int] = []
    for key in keys.iterator(chunk_size=2000):
        lot.append(key)
        if len(lot) == 500:
            yield from _of_lot(lot)
            lot = []
    yield from _of_lot(lot)


def _of_lot(lot: list[int]) -> Iterator[LogEntry]:
    rows = _read_all(LogEntry, lot)
    yield from (rows[key] for key in lot if isinstance(rows.get(key), LogEntry))


def _entry_or_none(row: LogEntry) -> Entry | None:
    try:
        # SQLite keeps a column of any kind: a changed byte can make a number of a text
        return entry_of(row) if isinstance(row.sequence, int) and isinstance(row.hash, str) else None
    except _UNREADABLE:
        return None
