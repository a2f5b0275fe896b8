"""A laboratory's file as it came: its sheets, its cells with nothing interpreted, and what was seen around them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import TypeAlias

from lapel.exchange.survey_folder.delivered import CellFault

Cell: TypeAlias = str | int | float | date | CellFault
"""Text as it stands, a number or day a workbook holds as such, or a fault told where the cell is needed."""

Row: TypeAlias = list[Cell]


@dataclass(slots=True)
class Sheet:
    """
    One sheet of a workbook, one table of a page, or a whole text file.

    Attributes
    ----------
    rows : list of list of Cell
        Row 1 of the file is ``rows[0]``; a row ends with its last filled cell.
    merged : tuple of (int, int, int, int)
        First row, first column, last row, last column of joined cells, counted from 1.
    hidden_rows, hidden_columns : frozenset of int
        What its maker hid, counted from 1; it is read and said.
    """

    name: str
    rows: list[Row]
    merged: tuple[tuple[int, int, int, int], ...] = ()
    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[int] = frozenset()
    hidden: bool = False

    def cell(self, row: int, column: int) -> Cell:
        """Return a cell by row and column counted from 1; empty text where there is none."""
        if not 0 < row <= len(self.rows) or column < 1:
            return ""
        cells = self.rows[row - 1]
        return cells[column - 1] if column <= len(cells) else ""

    @property
    def width(self) -> int:
        """Number of columns of the widest row."""
        return max(map(len, self.rows), default=0)


@dataclass(frozen=True, slots=True)
class LaboratoryFile:
    """
    A delivered file, read.

    Attributes
    ----------
    kind : str
        “csv”, “xlsx” or “pdf”.
    read_as : mapping of str to str
        How the bytes were turned into cells: encoding and separator of a text.
    remarks : tuple of str
        What the reader of the report should know: hidden sheets, formulas, links that were not followed.
    """

    name: str
    sha256: str
    kind: str
    sheets: tuple[Sheet, ...]
    read_as: Mapping[str, str] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()

    def sheet(self, name: str) -> Sheet | None:
        """Find a sheet by name."""
        return next((sheet for sheet in self.sheets if sheet.name == name), None)


def shown(cell: Cell) -> str:
    """Return a cell as text: numbers as they are stored, days as year-month-day, faults as what was found."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, CellFault):
        return cell.found
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(sep=" ")
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, float):
        return repr(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    return str(cell)


def column_letter(column: int) -> str:
    """Name a column as spreadsheets do: 1 is A, 27 is AA."""
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def address(sheet: Sheet, row: int, column: int | None = None) -> str:
    """Say where a cell stands, as in “sheet Results, cell C7”."""
    where = f"sheet {sheet.name}, " if sheet.name else ""
    return f"{where}row {row}" if column is None else f"{where}cell {column_letter(column)}{row}"
