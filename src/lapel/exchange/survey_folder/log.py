"""The field log: every table of it becomes entries, as typed, after each cell was held against its kind."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from sys import intern

from lapel.exchange.problems import Faults, Place, quoted
from lapel.exchange.survey_folder.columns import Column
from lapel.exchange.survey_folder.folder_files import FolderFiles
from lapel.exchange.survey_folder.log_chains import Ranges, check_chains
from lapel.exchange.survey_folder.log_checks import LogChecker, LogContext
from lapel.exchange.survey_folder.log_layout import (
    BLANKS,
    ENTRY_IDS,
    PARCELS,
    SAMPLERS_AND_BLANKS,
    TRAINS,
    defines,
    log_tables,
    table_name,
)
from lapel.exchange.survey_folder.log_sources import Source, device_entry, device_sources, table_sources
from lapel.exchange.survey_folder.tables import CsvSheet, Known, RowReader
from lapel.fieldlog import Entry, check_entry

_PAPER = "paper"
_ENVELOPE = frozenset({"at", "author", "id", "corrects", "reason"})
_LISTS = {"train_prepared": TRAINS, "blank_opened": BLANKS, "parcel_sealed": PARCELS}


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
    elsewhere: dict[str, Ranges] = {}
    sources = [*table_sources(files), *device_sources(files, elsewhere)]
    _make_known(sources, known, files.faults)
    checker = LogChecker(sources, context, files.faults)
    entries: list[Entry] = []
    for source in sources:
        entries.extend(_entries_of(source, known, context, checker, files.faults))
    check_chains(entries, elsewhere, files.faults)
    entries.sort(key=lambda entry: entry.at)
    return entries


def _make_known(sources: list[Source], known: Known, faults: Faults) -> None:
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
    _refuse_ids_of_other_rows(sources, ids, faults)
    for name, codes in found.items():
        known[name] = codes - {""}
    known[ENTRY_IDS] = set(ids)
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


def _refuse_ids_of_other_rows(sources: list[Source], ids: dict[str, tuple[str, int]], faults: Faults) -> None:
    """A row without an id is called by its table and number: no other row may be called so."""
    called_so: dict[tuple[str, int], str] = {}
    for text in ids:
        kind, _, row = text.rpartition("-row-")
        if kind and re.fullmatch("[1-9][0-9]{0,8}", row):
            called_so[kind, int(row)] = text
    for source in sources if called_so else ():
        if source.sheet.file != table_name(source.kind):
            continue
        id_at = source.sheet.header.index("id") if "id" in source.sheet.header else None
        for number, cells in source.rows:
            taken = called_so.get((source.kind, number))
            if taken is not None and (id_at is None or id_at >= len(cells) or not cells[id_at].strip()):
                file, at = ids[taken]
                faults.add(
                    Place(file, at, "id"),
                    f"{quoted(taken)}, which is what {source.sheet.file}, row {number} is called, having no id",
                    "every id once in the whole log",
                    "Give this row another id, or leave it empty.",
                )


def _entries_of(
    source: Source, known: Known, context: LogContext, checker: LogChecker, faults: Faults
) -> Iterator[Entry]:
    table = log_tables()[source.kind]
    sheet = CsvSheet(source.sheet.file, source.sheet.header, iter(source.rows))
    kind, file, spec_pairs = source.kind, sheet.file, checker.pairs_of(source.kind)
    paper = file == table_name(kind)
    columns = table.columns if paper else tuple(map(_as_recorded, table.columns))
    reader = RowReader(sheet, columns, faults, context.zone if paper else None, known)
    places = [(name, index) for name, index in reader.at.items() if name not in _ENVELOPE]
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
        if not paper:
            entry = device_entry(source, number, values, author)
            for problem in check_entry(entry):
                reader.fault(
                    number, problem.field, problem.found, problem.wanted, "Send the file again; it is damaged."
                )
            yield entry
        elif checker.sound(kind, file, number, values, fields, spec_pairs):
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


def _as_recorded(column: Column) -> Column:
    """
    Take a field of a device's line as it was recorded, if its kind lets it pass.

    What was recorded cannot be corrected in the file, only by a later entry: a slip of the finger and its correction
    are both there to be read, and the day says what counts. Only a meter must be known, whose certificate is needed.
    """
    if column.name in ("at", "author", "id", "reason"):
        return column
    kept = column.refers if column.name == "meter" else ""
    return Column(column.name, "text", column.about, refers=kept)
