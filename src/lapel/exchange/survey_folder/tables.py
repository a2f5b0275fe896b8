"""CSV tables and TOML documents read against the layout, every fault with its file, row and column."""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Iterator, Mapping, MutableMapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, tzinfo
from typing import Any

from lapel.exchange.problems import Faults, Place, did_you_mean, quoted
from lapel.exchange.survey_folder.cells import Unreadable, read_cell
from lapel.exchange.survey_folder.columns import LIST_MARK, Column, Document, Table
from lapel.exchange.survey_folder.folder_files import FolderFiles

Known = MutableMapping[str, "set[str] | None"]
"""Codes by the list they stand in; `None` for a list that could not be read, which nothing is then held against."""

_FAULT = object()


@dataclass(slots=True)
class Row:
    """One row: its number in the file and the values of its columns, `None` where a cell is empty."""

    file: str
    number: int
    values: dict[str, Any]

    def place(self, column: str = "") -> Place:
        """Name the row, or one cell of it."""
        return Place(self.file, self.number, column)

    @property
    def origin(self) -> str:
        """Where a figure made from this row came from."""
        return f"{self.file}, row {self.number}"

    def __getitem__(self, column: str) -> Any:
        return self.values[column]


@dataclass(slots=True)
class CsvSheet:
    """A CSV file split into header and rows of cells, not yet read as anything."""

    file: str
    header: list[str]
    rows: Iterator[tuple[int, list[str]]]


def open_csv(files: FolderFiles, name: str, *, needed: bool = True) -> CsvSheet | None:
    """Open a table of the folder; `None`, with a fault where it matters, if it cannot be."""
    text = files.text_of(name, needed=needed)
    if text is None:
        return None
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    numbered = _numbered(reader, name, files.faults)
    _, header = next(numbered, (1, []))
    header = [cell.strip() for cell in header]
    if len(header) == 1 and ";" in header[0] and "," not in header[0]:
        files.faults.add(
            Place(name, 1),
            "columns separated by semicolons",
            "columns separated by commas and numbers with a decimal point",
            "Save it as comma-separated UTF-8.",
        )
        return None
    if not any(header):
        files.faults.add(Place(name, 1), "an empty first row", "the column names", "Put the header in the first row.")
        return None
    return CsvSheet(name, header, numbered)


def _numbered(reader: Any, name: str, faults: Faults) -> Iterator[tuple[int, list[str]]]:
    number = 0
    while True:
        number += 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as problem:
            faults.add(
                Place(name, number),
                f"a row that does not end as CSV rows do ({problem})",
                "cells separated by commas, quotes closed",
                "Look for a stray quotation mark or a cut-off end.",
            )
            return
        yield number, cells


def checked_header(sheet: CsvSheet, columns: tuple[Column, ...], faults: Faults) -> dict[str, int]:
    """Find the columns; unknown, repeated and missing ones are faults."""
    names = {column.name for column in columns}
    found: dict[str, int] = {}
    for index, name in enumerate(sheet.header):
        place = Place(sheet.file, 1, name)
        if name in found:
            faults.add(place, "the column twice", "every column once", "Remove or rename one of them.")
        elif name in names:
            found[name] = index
        else:
            shown = quoted(name) if name else f"column {index + 1} without a name"
            faults.add(
                place,
                shown,
                "a column of this table",
                did_you_mean(name, names) + f"Its columns: {', '.join(column.name for column in columns)}.",
            )
    for column in columns:
        if column.needed and column.name not in found:
            faults.add(
                Place(sheet.file, 1, column.name), "no such column", f"{column.about}", "Add the column to the header."
            )
    return found


class RowReader:
    """Reads the cells of one table's rows."""

    def __init__(
        self, sheet: CsvSheet, columns: tuple[Column, ...], faults: Faults, zone: tzinfo | None, known: Known
    ) -> None:
        self._sheet = sheet
        self._faults = faults
        self._zone = zone
        self._known = known
        self.at = checked_header(sheet, columns, faults)
        # units first: a quantity whose unit is a fault needs no second one
        in_order = sorted(columns, key=lambda column: column.type != "unit")
        self._seen: dict[str, dict[Any, Any]] = {column.name: {} for column in columns}
        self._present = tuple(
            (column, column.name, self.at[column.name], column.unit_in, column.default, self._seen[column.name])
            for column in in_order
            if column.name in self.at
        )
        self._absent = {column.name: self._default(column) for column in in_order if column.name not in self.at}
        self._incomplete = any(column.needed and column.name not in self.at for column in columns)

    def _default(self, column: Column) -> Any:
        return read_cell(column, column.default) if column.default else None

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Give the filled rows with as many cells as the header has."""
        width = len(self._sheet.header)
        for number, cells in self._sheet.rows:
            if len(cells) == width:
                if any(map(str.strip, cells)):
                    yield number, cells
            elif any(cell.strip() for cell in cells):
                self._faults.add(
                    Place(self._sheet.file, number),
                    f"{len(cells)} cells",
                    f"{width}, as in the header",
                    "Look for a missing or extra comma (a decimal comma is one), or quote the text that holds it.",
                )

    def read(self, number: int, cells: list[str]) -> dict[str, Any] | None:
        """Read one row; `None` if any cell of it was a fault."""
        values: dict[str, Any] = self._absent.copy()
        sound = not self._incomplete
        for column, name, index, unit_in, default, seen in self._present:
            text = cells[index].strip() or default
            if not text:
                values[name] = None
                if column.needed:
                    sound = False
                    self.fault(number, name, "an empty cell", column.about, "Fill it in.")
                continue
            key: Any = (text, values.get(unit_in)) if unit_in else text
            value = seen.get(key)
            if value is None:
                value = self._value(column, text, values, number)
                if value is _FAULT:
                    sound = False
                else:
                    seen[key] = value
            values[name] = value
        return values if sound else None

    def fault(self, number: int, column: str, found: str, wanted: str, remedy: str) -> None:
        """Note a fault of one cell."""
        self._faults.add(Place(self._sheet.file, number, column), found, wanted, remedy)

    def _value(self, column: Column, text: str, values: Mapping[str, Any], number: int) -> Any:
        unit = ""
        if column.unit_in:
            unit = values.get(column.unit_in) or ""
            if unit is _FAULT:
                return _FAULT
        try:
            value = read_cell(column, text, zone=self._zone, unit=unit)
        except Unreadable as problem:
            self.fault(number, column.name, problem.found or quoted(text), problem.wanted, problem.remedy)
            return _FAULT
        if column.refers and not self._refers(column, value, number):
            return _FAULT
        return value

    def _refers(self, column: Column, value: Any, number: int) -> bool:
        known = self._known.get(column.refers)
        if known is None:
            return True
        wanted = [value] if isinstance(value, str) else value
        missing = [code for code in wanted if code not in known]
        for code in missing:
            self.fault(
                number,
                column.name,
                quoted(code),
                f"a code that stands in {column.refers}",
                self._faults.near(Place(self._sheet.file), code, known)
                + f"Correct the code, or add it to {column.refers}.",
            )
        return not missing


def read_table(files: FolderFiles, table: Table, known: Known, zone: tzinfo | None = None) -> list[Row]:
    """
    Read a whole table and make its codes known to what refers to them.

    Returns
    -------
    list of Row
        The rows without fault; the faults are in `files.faults`.
    """
    known[table.file] = None
    sheet = open_csv(files, table.file, needed=table.needed)
    if sheet is None:
        if not table.needed and not (files.root / table.file).exists():
            known[table.file] = set()
        return []
    reader = RowReader(sheet, table.columns, files.faults, zone, known)
    rows: list[Row] = []
    first_seen: dict[tuple[str, str], int] = {}
    for number, cells in reader.rows():
        if table.key in reader.at:
            _note_key(reader, table, cells, number, first_seen)
        values = reader.read(number, cells)
        if values is not None:
            rows.append(Row(table.file, number, values))
    if table.key in reader.at:
        known[table.file] = {code for code, _ in first_seen}
    if table.needed and not first_seen and not rows and table.key:
        files.faults.add(Place(table.file), "no rows", table.about, "Add at least one row.")
    return rows


def _note_key(
    reader: RowReader, table: Table, cells: list[str], number: int, first_seen: dict[tuple[str, str], int]
) -> None:
    code = cells[reader.at[table.key]].strip()
    day = cells[reader.at[table.dated]].strip() if table.dated in reader.at else ""
    if not code:
        return
    if (code, day) in first_seen:
        reader.fault(
            number,
            table.key,
            f"{quoted(code)}{f' with {table.dated} {day}' if day else ''}, which row {first_seen[code, day]} has too",
            f"every code once, or again with another day in {table.dated}" if table.dated else "every code once",
            "Give one of them its own code, or remove the repeated row.",
        )
    else:
        first_seen[code, day] = number


@dataclass(slots=True)
class DocumentValues:
    """A TOML document's values by key, with the free sections as they stand."""

    file: str
    values: dict[str, Any]
    free: dict[str, dict[str, Any]] = field(default_factory=dict)

    def __getitem__(self, key: str) -> Any:
        value = self.values.get(key)
        return None if value is _FAULT else value

    def place(self, key: str = "") -> Place:
        """Name the document, or one key of it."""
        return Place(self.file, None, key)


def read_document(files: FolderFiles, name: str, document: Document) -> DocumentValues | None:
    """Read a TOML document; `None` if it is no TOML at all."""
    text = files.text_of(name)
    if text is None:
        return None
    try:
        content = tomllib.loads(text, parse_float=str)
    except (ValueError, RecursionError) as problem:
        files.faults.add(
            Place(name), f"text that is not TOML ({problem})", "TOML as the reference page shows", "Correct that line."
        )
        return None
    result = DocumentValues(name, {}, {section: {} for section in document.free})
    flat = _flattened(content, document, result, files.faults)
    for column in sorted(document.columns, key=lambda column: column.type != "unit"):
        _read_key(column, flat, result, files.faults)
    return result


def _flattened(
    content: Mapping[str, Any], document: Document, result: DocumentValues, faults: Faults
) -> dict[str, Any]:
    names = {column.name for column in document.columns}
    sections = {name.split(".")[0] for name in names if "." in name}
    flat: dict[str, Any] = {}
    for key, value in content.items():
        if key in document.free and isinstance(value, dict):
            result.free[key] = value
        elif key in sections and isinstance(value, dict):
            flat.update({f"{key}.{inner}": inner_value for inner, inner_value in value.items()})
        else:
            flat[key] = value
    for key in flat:
        if key not in names:
            known = sorted(names | set(document.free))
            faults.add(
                result.place(key),
                f"the key {quoted(key)}",
                "a key of this document",
                did_you_mean(key, known) + f"Its keys: {', '.join(known)}.",
            )
    return flat


def _read_key(column: Column, flat: Mapping[str, Any], result: DocumentValues, faults: Faults) -> None:
    if column.name not in flat and not column.default:
        if column.needed:
            faults.add(result.place(column.name), "no such key", column.about, "Add it.")
        return
    text = as_cell(flat.get(column.name, column.default))
    unit = result.values.get(column.unit_in, "") if column.unit_in else ""
    if text is None:
        faults.add(
            result.place(column.name), "a table or nested list", column.about, "Write a plain value or a list of words."
        )
    elif not text.strip():
        if column.needed:
            faults.add(result.place(column.name), "an empty text", column.about, "Fill it in.")
    elif unit is not _FAULT:
        try:
            result.values[column.name] = read_cell(column, text.strip(), unit=unit)
        except Unreadable as problem:
            result.values[column.name] = _FAULT if column.type == "unit" else None
            faults.add(result.place(column.name), problem.found or quoted(text), problem.wanted, problem.remedy)


def as_cell(value: Any) -> str | None:
    """Write a TOML value as the cell it would be; `None` for what fits in no cell."""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value) if abs(value) < 10**18 else f"{float(min(abs(value), 10**300)):g}"
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, list):
        parts = [as_cell(item) for item in value]
        if all(part is not None and LIST_MARK not in part for part in parts) and not any(
            isinstance(item, list) for item in value
        ):
            return LIST_MARK.join(part for part in parts if part is not None)
    return None
