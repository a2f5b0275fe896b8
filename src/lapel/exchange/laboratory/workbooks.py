"""Workbooks: values as stored and shown, never computed; what its maker hid or linked is said."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from lapel.exchange.laboratory.refusals import MOST_CELLS, MOST_COLUMNS, MOST_ROWS, MOST_SHEETS, refuse
from lapel.exchange.laboratory.sheets import Cell, Row, Sheet
from lapel.exchange.problems import InputProblems, quoted
from lapel.exchange.survey_folder.delivered import CellFault

_MERGED = re.compile(rb'<mergeCell\s[^>]*?ref="([A-Z]{1,3})([0-9]{1,7}):([A-Z]{1,3})([0-9]{1,7})"')
_HIDDEN_ROW = re.compile(rb'<row\s[^>]*?r="([0-9]{1,7})"[^>]*?hidden="(?:1|true)"')
_HIDDEN_COLUMNS = re.compile(
    rb'<col\s(?=[^>]*hidden="(?:1|true)")(?=[^>]*min="([0-9]{1,5})")(?=[^>]*max="([0-9]{1,5})")[^>]*>'
)
_FORMULA = re.compile(rb"<f[\s>/]")
_BLOCK = 4_000_000
_OVERLAP = 2_000
_MOST_MERGED = 20_000
_CONDITION = re.compile(r"\[[<>=]")
_LITERAL = re.compile(r'"([^"]*)"|\\(.)')
_FEW_EMPTY = 2_000
"""Empty rows after which a sheet is taken to have ended."""
_UNCALCULATED = "Open the file, let it calculate, and save it again; or ask the laboratory for the values."


def workbook_sheets(name: str, content: bytes) -> tuple[tuple[Sheet, ...], tuple[str, ...]]:
    """
    Read all sheets of a workbook.

    Returns
    -------
    tuple
        Sheets in their order, and remarks in words.

    Raises
    ------
    InputProblems
        It is damaged, or has too many sheets, columns, rows or cells.
    """
    import openpyxl  # only those who read a workbook pay for it

    remarks: list[str] = []
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles and extensions that hold no results
            book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
            if len(book.sheetnames) > MOST_SHEETS:
                refuse(name, f"{len(book.sheetnames)} sheets", f"at most {MOST_SHEETS}")
            with zipfile.ZipFile(io.BytesIO(content)) as packed:
                if any("externallinks/" in part.lower() for part in packed.namelist()):
                    remarks.append("The workbook has links to other files; none was followed: values are as stored.")
                sheets = [_sheet(name, book, title, packed, content, remarks) for title in book.sheetnames]
            book.close()
    except InputProblems:
        raise
    except Exception as problem:  # a damaged workbook breaks its reader in many ways
        refuse(name, f"a workbook that cannot be read ({type(problem).__name__})", "an .xlsx as spreadsheets write it")
    return tuple(sheet for sheet in sheets if sheet is not None), tuple(remarks)


def _sheet(
    name: str, book: Any, title: str, packed: zipfile.ZipFile, content: bytes, remarks: list[str]
) -> Sheet | None:
    source = book[title]
    path = getattr(source, "_worksheet_path", "").lstrip("/")
    if not path:  # a chart sheet
        return None
    around = _Around(packed, path)
    source.reset_dimensions()
    formulas = _formula_rows(content, title) if around.formulas else {}
    rows: list[Row] = []
    formats: dict[int, str] = {}
    empty = cells = 0
    for number, row in enumerate(source.iter_rows(max_row=MOST_ROWS + 1, max_col=MOST_COLUMNS + 1), start=1):
        if formulas:
            read = [_cell(cell, formulas.get((number, column)), formats) for column, cell in enumerate(row, start=1)]
        else:
            read = [_cell(cell, None, formats) for cell in row]
        while read and read[-1] == "":
            read.pop()
        empty = 0 if read else empty + 1
        if empty > _FEW_EMPTY:
            break
        cells += len(read)
        if len(read) > MOST_COLUMNS or number > MOST_ROWS or cells > MOST_CELLS:
            refuse(
                name,
                f"sheet {quoted(title)} with more than {MOST_COLUMNS} columns, {MOST_ROWS:,} rows or "
                f"{MOST_CELLS:,} cells",
                "a report of results",
            )
        rows.append(read)
    while rows and not rows[-1]:
        rows.pop()
    sheet = Sheet(
        title, rows, around.merged, around.hidden_rows, around.hidden_columns, source.sheet_state != "visible"
    )
    remarks += _hidden_words(sheet)
    if around.formulas:
        remarks.append(f"Sheet {title} has formulas; the values stored with them are read, nothing is computed.")
    return sheet


def _hidden_words(sheet: Sheet) -> list[str]:
    words = []
    if sheet.hidden and sheet.rows:
        words.append(f"Sheet {sheet.name} is hidden; it was read all the same.")
    if sheet.hidden_rows:
        words.append(f"Sheet {sheet.name} has {len(sheet.hidden_rows)} hidden rows; they were read all the same.")
    if sheet.hidden_columns:
        words.append(f"Sheet {sheet.name} has {len(sheet.hidden_columns)} hidden columns; they were read all the same.")
    return words


class _Around:
    """What stands in a sheet's XML beside its cells, found in passing without holding the whole."""

    def __init__(self, packed: zipfile.ZipFile, path: str) -> None:
        merged: set[tuple[int, int, int, int]] = set()
        hidden_rows: set[int] = set()
        hidden_columns: set[int] = set()
        self.formulas = False
        kept = b""
        with packed.open(path) as stream:
            while block := stream.read(_BLOCK):
                text = kept + block
                self.formulas = self.formulas or _FORMULA.search(text) is not None
                for match in _MERGED.finditer(text):
                    if len(merged) < _MOST_MERGED:
                        first, last = _column_number(match[1]), _column_number(match[3])
                        merged.add((int(match[2]), first, int(match[4]), last))
                hidden_rows.update(int(match[1]) for match in _HIDDEN_ROW.finditer(text))
                for match in _HIDDEN_COLUMNS.finditer(text):
                    hidden_columns.update(range(int(match[1]), min(int(match[2]), MOST_COLUMNS) + 1))
                kept = text[-_OVERLAP:]
        self.merged = tuple(sorted(merged))
        self.hidden_rows = frozenset(hidden_rows)
        self.hidden_columns = frozenset(hidden_columns)


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - 64
    return number


def _formula_rows(content: bytes, title: str) -> dict[tuple[int, int], str]:
    """Formulas by row and column: one that was never calculated has no value, and must not read as an empty cell."""
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=False, keep_links=False)
    sheet = book[title]
    sheet.reset_dimensions()
    found = {
        (number, column): str(cell.value)
        for number, row in enumerate(sheet.iter_rows(max_row=MOST_ROWS, max_col=MOST_COLUMNS), start=1)
        for column, cell in enumerate(row, start=1)
        if cell.data_type == "f"
    }
    book.close()
    return found


def _cell(cell: Any, formula: str | None, formats: dict[int, str]) -> Cell:
    """Return one cell; `formats` keeps the number formats seen, which are few and slow to look up."""
    value = cell.value
    if value.__class__ is str and cell.data_type != "e":
        return str(value.strip())
    if value is None:
        return CellFault(f"the formula {quoted(formula)} without its result", _UNCALCULATED) if formula else ""
    if cell.data_type == "e":
        return CellFault(f"the error {quoted(str(value))}", "Ask the laboratory for the value.")
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int | float):
        style = cell._style_id
        if style not in formats:
            formats[style] = cell.number_format or "General"
        return _as_shown(value, formats[style])
    if isinstance(value, datetime | date):
        return value
    if isinstance(value, time | timedelta):
        return str(value)
    return str(value)


def _as_shown(value: float, number_format: str | None) -> Cell:
    """
    Return a number with the signs its format shows around it: “<” before it, a unit or “%” after it.

    The number itself stays as stored, in full. A format that shows some numbers otherwise than others is no longer the
    number a person sees, and is told.
    """
    shape = number_format or "General"
    if shape == "General" or not ('"' in shape or "%" in shape or "\\" in shape or _CONDITION.search(shape)):
        return value
    parts = shape.split(";")
    if _CONDITION.search(shape):
        return CellFault(
            f"{value!r} in a format that shows it as something else ({quoted(shape)})",
            "Look at the cell in a spreadsheet and ask the laboratory for the value as text.",
        )
    part = parts[1] if value < 0 and len(parts) > 1 else parts[2] if value == 0 and len(parts) > 2 else parts[0]
    first = re.search(r"[0#?]", _LITERAL.sub(lambda match: "\0" * len(match[0]), part))
    if first is None:
        return CellFault(f"{value!r} in a format that shows no number ({quoted(shape)})", "Ask the laboratory.")
    before = "".join(a or b for a, b in _LITERAL.findall(part[: first.start()]))
    after = "".join(a or b for a, b in _LITERAL.findall(part[first.start() :]))
    exact = Decimal(repr(value)) * (100 if "%" in _LITERAL.sub("", part) else 1)
    after = "%" if "%" in _LITERAL.sub("", part) else after
    if not (before.strip() or after.strip()):
        return value
    return f"{before}{exact.normalize():f}{after}".strip()
