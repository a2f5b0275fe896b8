"""The field log: every table of it becomes entries, as typed, after each cell was held against its kind."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, tzinfo
from sys import intern
from typing import Any

from lapel.assessment.inputs import MediaLot, Shift, Splitter
from lapel.exchange.problems import Faults, Place, did_you_mean, quoted
from lapel.exchange.survey_folder.columns import Table
from lapel.exchange.survey_folder.folder_files import FolderFiles
from lapel.exchange.survey_folder.log_layout import (
    BLANKS,
    ENTRY_IDS,
    MEDIA_NAMES,
    PARCELS,
    SAMPLERS_AND_BLANKS,
    TRAINS,
    defines,
    log_tables,
    table_name,
)
from lapel.exchange.survey_folder.tables import CsvSheet, Known, RowReader, open_csv
from lapel.fieldlog import KINDS, Entry
from lapel.fieldlog.chain import verify_chains

_PAPER = "paper"
_ENVELOPE = frozenset({"at", "author", "id", "corrects", "reason"})
_IN_SHIFT = frozenset(
    {"train_hung", "sampler_fitted", "sampler_removed", "pump_started", "pump_checked", "pump_held", "pump_resumed"}
    | {"pump_stopped", "task"}
)
"""Acts that happen during a shift, or a day off it at most."""
_FARTHEST = timedelta(days=60)
_LISTS = {"train_prepared": TRAINS, "blank_opened": BLANKS, "parcel_sealed": PARCELS}
_DEVICE_KEYS = frozenset(
    {"id", "kind", "at", "device", "sequence", "author", "fields", "corrects", "reason"}
    | {"received_at", "previous_hash", "hash"}
)


@dataclass(frozen=True, slots=True)
class LogContext:
    """What the log is held against."""

    zone: tzinfo | None
    field_author: str
    assessed_on: date | None
    shifts: Mapping[str, Shift]
    splitters: Mapping[str, Splitter]
    media_lots: Mapping[str, MediaLot]


@dataclass(slots=True)
class _Source:
    """One kind's rows in one file, ready to be read; `envelopes` holds what devices add, by row."""

    kind: str
    sheet: CsvSheet
    rows: Iterable[tuple[int, list[str]]]
    envelopes: dict[int, dict[str, Any]] = field(default_factory=dict)


def read_log(files: FolderFiles, known: Known, context: LogContext) -> list[Entry]:
    """
    Read the whole log.

    Parameters
    ----------
    known : mapping
        Codes of the tables read before; the log's own trains, blanks, parcels and entry ids are added.

    Returns
    -------
    list of Entry
        In order of time; rows of one minute in the order of their kinds and of their rows.
    """
    sources = [*_table_sources(files), *_device_sources(files)]
    _make_known(sources, known, context, files.faults)
    checker = _LogChecker(sources, context, files.faults)
    entries: list[Entry] = []
    for source in sources:
        entries.extend(_entries_of(source, known, context, checker, files.faults))
    _check_chains(entries, files.faults)
    entries.sort(key=lambda entry: entry.at)
    return entries


def _check_chains(entries: list[Entry], faults: Faults) -> None:
    """Refuse what was altered, lost or put in after a device recorded it."""
    if faults.count:
        return  # rows that were faults are missing from the chain: it would break for that reason
    origins = {entry.id: entry.origin for entry in entries if entry.hash}
    for broken in verify_chains(entry for entry in entries if entry.hash).values():
        if broken is not None:
            file, _, row = origins[broken.entry_id].partition(", row ")
            faults.add(
                Place(file, int(row)),
                f"{broken.found} (device {broken.device}, entry {broken.sequence})",
                broken.wanted,
                "Something was altered or lost since it was recorded: fetch the file from the device again.",
            )


def _table_sources(files: FolderFiles) -> Iterator[_Source]:
    for kind, table in log_tables().items():
        sheet = open_csv(files, table.file, needed=False)
        if sheet is not None:
            looked_at_first = defines(kind) or "id" in sheet.header
            yield _Source(kind, sheet, list(sheet.rows) if looked_at_first else sheet.rows)


def _device_sources(files: FolderFiles) -> Iterator[_Source]:
    """Read log/*.jsonl, one entry a line as a device sent it, as rows of the same columns."""
    for name in files.names("log", ".jsonl"):
        text = files.text_of(name)
        if text is None:
            continue
        by_kind: dict[str, tuple[_Source, list[tuple[int, list[str]]]]] = {}
        for number, line in enumerate(text.split("\n"), start=1):
            if line.strip():
                _add_device_line(files.faults, name, number, line, by_kind)
        yield from (source for source, _ in by_kind.values())


def _add_device_line(
    faults: Faults, name: str, number: int, line: str, by_kind: dict[str, tuple[_Source, list[tuple[int, list[str]]]]]
) -> None:
    place = Place(name, number)
    try:
        content = json.loads(line)
    except (ValueError, RecursionError) as problem:
        faults.add(
            place, f"text that is not JSON ({problem})", "one entry a line", "Send the file again; it is damaged."
        )
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
        by_kind[kind] = _Source(kind, CsvSheet(name, header, iter(())), rows), rows
    source, rows = by_kind[kind]
    cells = [str(fields.get(column) or content.get(column) or "") for column in source.sheet.header]
    rows.append((number, cells))
    source.envelopes[number] = content


def _has_offset(text: Any) -> bool:
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except (TypeError, ValueError):
        return False


def _make_known(sources: list[_Source], known: Known, context: LogContext, faults: Faults) -> None:
    """Collect the codes the log itself brings: trains, blanks, parcels and the ids corrections may name."""
    found: dict[str, set[str]] = {TRAINS: set(), BLANKS: set(), PARCELS: set()}
    ids: dict[str, tuple[str, int]] = {}
    for source in sources:
        header = source.sheet.header
        code_at = header.index(defines(source.kind)) if defines(source.kind) in header else None
        id_at = header.index("id") if "id" in header else None
        if code_at is None and id_at is None:
            continue
        for number, cells in source.rows:
            if code_at is not None and code_at < len(cells):
                found[_LISTS[source.kind]].add(cells[code_at].strip())
            if id_at is not None and id_at < len(cells) and cells[id_at].strip():
                _note_id(cells[id_at].strip(), source.sheet.file, number, ids, faults)
    for name, codes in found.items():
        known[name] = codes - {""}
    known[ENTRY_IDS] = set(ids)
    known[MEDIA_NAMES] = {lot.medium for lot in context.media_lots.values()}
    samplers, blanks = known.get("samples.csv"), known[BLANKS] or set()
    known[SAMPLERS_AND_BLANKS] = None if samplers is None else samplers | blanks
    for code in sorted((samplers or set()) & blanks):
        faults.add(
            Place(BLANKS, None, "blank"),
            f"{quoted(code)}, which samples.csv has too",
            "a code that is either a sample or a blank",
            "Correct one of the two.",
        )


def _note_id(text: str, file: str, number: int, ids: dict[str, tuple[str, int]], faults: Faults) -> None:
    if text in ids:
        first_file, first_number = ids[text]
        faults.add(
            Place(file, number, "id"),
            f"{quoted(text)}, which {first_file}, row {first_number} has too",
            "every id once in the whole log",
            "Give one of them another id, or take the repeated row out.",
        )
    else:
        ids[text] = (file, number)


def _entries_of(
    source: _Source, known: Known, context: LogContext, checker: _LogChecker, faults: Faults
) -> Iterator[Entry]:
    table: Table = log_tables()[source.kind]
    sheet = CsvSheet(source.sheet.file, source.sheet.header, iter(source.rows))
    reader = RowReader(sheet, table.columns, faults, context.zone, known)
    places = [(name, index) for name, index in reader.at.items() if name not in _ENVELOPE]
    kind, file, spec_pairs = source.kind, sheet.file, checker.pairs_of(source.kind)
    paper = file == table_name(kind)
    for number, cells in reader.rows():
        values = reader.read(number, cells)
        if values is None:
            continue
        fields: dict[str, str] = {}
        for name, index in places:
            value = values[name]
            if value is not None:
                if isinstance(value, datetime):
                    fields[name] = value.isoformat()
                else:
                    fields[name] = value if isinstance(value, str) else intern(cells[index].strip())
        author = values["author"] or context.field_author
        if not author:
            reader.fault(
                number, "author", "nobody", "who recorded it", "Fill it in, or set field_author in survey.toml."
            )
            continue
        if not checker.sound(kind, file, number, values, fields, spec_pairs):
            continue
        if paper:
            yield Entry(
                id=values["id"] or f"{kind}-row-{number}",
                kind=kind,
                at=values["at"],
                device=_PAPER,
                sequence=0,
                author=author,
                fields=fields,
                corrects=values.get("corrects"),
                reason=values.get("reason") or "",
                origin=f"{file}, row {number}",
            )
        else:
            yield _device_entry(source, number, values, author)


def _device_entry(source: _Source, number: int, values: Mapping[str, Any], author: str) -> Entry:
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


class _LogChecker:
    """Holds rows against what no single cell shows: other cells, the shifts, the ports of the train."""

    def __init__(self, sources: list[_Source], context: LogContext, faults: Faults) -> None:
        self._faults = faults
        self._context = context
        self._days: set[date] = set()
        starts = [shift.start for shift in context.shifts.values()]
        ends = [shift.end for shift in context.shifts.values()]
        self._first = min(starts, default=None)
        self._last = max(ends, default=None)
        for start, end in zip(starts, ends, strict=True):
            day = start.date() - timedelta(days=1)
            while day <= end.date() + timedelta(days=1):
                self._days.add(day)
                day += timedelta(days=1)
        self._ports = self._ports_of_trains(sources)

    def pairs_of(self, kind: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Return the unit fields of a kind with the numbers each is the unit of."""
        fields = KINDS[kind].fields
        return tuple(
            (name, tuple(number.name for number in fields.values() if number.unit_in == name))
            for name, spec in fields.items()
            if spec.type == "unit"
        )

    def sound(
        self,
        kind: str,
        file: str,
        number: int,
        values: Mapping[str, Any],
        fields: Mapping[str, str],
        pairs: tuple[tuple[str, tuple[str, ...]], ...],
    ) -> bool:
        """Say whether a row fits; what does not is a fault."""
        before = self._faults.count
        for unit, numbers in pairs:
            if unit in fields and not any(name in fields for name in numbers):
                self._add(
                    file, number, numbers[0], "an empty cell", f"a number in {fields[unit]}", "Add it, or no unit."
                )
        groups = KINDS[kind].one_of
        if groups and not any(all(name in fields for name in group) for group in groups):
            wanted = ", or ".join(" with ".join(group) for group in groups)
            self._add(file, number, groups[0][0], "an empty cell", wanted, "Fill in one of these.")
        self._check_time(kind, file, number, values["at"])
        if "train" in fields:
            self._check_ports(file, number, fields["train"], values)
        if "medium" in fields:
            self._check_medium(file, number, fields)
        return self._faults.count == before

    def _check_time(self, kind: str, file: str, number: int, at: datetime) -> None:
        assessed = self._context.assessed_on
        if assessed is not None and at.date() > assessed + timedelta(days=1):
            self._add(
                file, number, "at", f"{at.date()}, after the survey was assessed on {assessed}",
                "a day before it", "Correct the date here, or assessed_on in survey.toml.",
            )  # fmt: skip
        elif self._first is None or self._last is None:
            return
        elif not self._first - _FARTHEST <= at <= self._last + _FARTHEST:
            self._add(
                file, number, "at", f"{at.date()}, more than {_FARTHEST.days} days from every shift",
                f"a day near the shifts, {self._first.date()} to {self._last.date()}", "Correct the date.",
            )  # fmt: skip
        elif kind in _IN_SHIFT and at.date() not in self._days:
            self._add(
                file, number, "at", f"{at.date()}, when nobody of shifts.csv worked",
                "the day of a shift, or one day off it", "Correct the date, or add the shift.",
            )  # fmt: skip

    def _check_ports(self, file: str, number: int, train: str, values: Mapping[str, Any]) -> None:
        allowed = self._ports.get(train)
        if not allowed:
            return
        for column in ("port", "ports"):
            named = values.get(column) or ()
            for port in named:
                if port not in allowed:
                    self._add(
                        file, number, column, quoted(port),
                        f"a port of the train's splitter: {', '.join(sorted(allowed))}",
                        "Correct the letter, or the splitter of the train.",
                    )  # fmt: skip

    def _check_medium(self, file: str, number: int, fields: Mapping[str, str]) -> None:
        lots, medium, lot = self._context.media_lots, fields["medium"], fields.get("lot", "")
        if lot in lots:
            if lots[lot].medium != medium:
                self._add(
                    file, number, "medium", f"{quoted(medium)} with the lot {lot} of {quoted(lots[lot].medium)}",
                    "lot and medium that agree with media.csv", "Look at the label; correct one of the two.",
                )  # fmt: skip
        elif lots and medium not in {known.medium for known in lots.values()}:
            known_media = {known.medium for known in lots.values()}
            self._add(
                file, number, "medium", quoted(medium), "a medium that stands in media.csv",
                did_you_mean(medium, known_media) + "Use the same words in both, or add the lot to media.csv.",
            )  # fmt: skip

    def _ports_of_trains(self, sources: list[_Source]) -> dict[str, set[str]]:
        ports: dict[str, set[str]] = {}
        open_trains: set[str] = set()
        for source in sources:
            header = source.sheet.header
            if source.kind != "train_prepared" or "train" not in header or "splitter" not in header:
                continue
            train_at, splitter_at = header.index("train"), header.index("splitter")
            for _, cells in source.rows:
                if len(cells) != len(header):
                    continue
                train, splitter = cells[train_at].strip(), self._context.splitters.get(cells[splitter_at].strip())
                if splitter is None:
                    open_trains.add(train)
                else:
                    ports.setdefault(train, set()).update(splitter.ports)
        return {train: letters for train, letters in ports.items() if train not in open_trains}

    def _add(self, file: str, number: int, column: str, found: str, wanted: str, remedy: str) -> None:
        self._faults.add(Place(file, number, column), found, wanted, remedy)
