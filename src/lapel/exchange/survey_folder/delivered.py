"""A laboratory's file as delivered: its cells as text, from CSV or XLSX, with nothing interpreted."""

from __future__ import annotations

import csv
import io
import warnings
import zipfile
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import PurePosixPath
from typing import Any

from lapel.exchange.problems import Place, quoted
from lapel.exchange.survey_folder.folder_files import FolderFiles
from lapel.exchange.survey_folder.layout import XLSX_UNPACKED_LIMIT_MB
from lapel.exchange.survey_folder.tables import DocumentValues

_SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
_MOST_COLUMNS = 200
_MOST_ROWS = 1_000_000
_HIGHEST_SHRINKAGE = 200
_RESAVE = "Open it, let it calculate, and save it again as .xlsx; or save the sheet as CSV."


@dataclass(frozen=True, slots=True)
class CellFault:
    """A cell that holds no value: an error such as #N/A, or a formula that was never calculated."""

    found: str
    remedy: str


Grid = list[tuple[int, list["str | CellFault"]]]
"""Row numbers and cells; every cell is text without blanks around it, or a fault to be told if it is needed."""


def delivered_grid(files: FolderFiles, name: str, document: DocumentValues) -> Grid | None:
    """Read the file one laboratory document names; `None`, with a fault, if it cannot be."""
    ending = PurePosixPath(name).suffix.lower()
    content = files.bytes_of(name)
    if content is None:
        return None
    if ending == ".xlsx":
        return _xlsx_grid(files, name, content, document)
    text = files.decoded(name, content, document["encoding"] or "utf-8")
    if text is None:
        return None
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=_SEPARATORS[document["separator"] or "comma"], strict=True
    )
    grid: Grid = []
    number = 1
    try:
        for number, cells in enumerate(reader, start=1):
            grid.append((number, [cell.strip() for cell in cells]))
    except csv.Error as problem:
        files.faults.add(
            Place(name, number + 1),
            f"a row that does not end as CSV rows do ({problem})",
            "cells with their quotes closed",
            "Look for a stray quotation mark or a cut-off end; ask the laboratory to send it again.",
        )
        return None
    return grid


def _xlsx_grid(files: FolderFiles, name: str, content: bytes, document: DocumentValues) -> Grid | None:
    refused = _why_refused(content)
    if refused:
        files.faults.add(Place(name), refused[0], refused[1], _RESAVE)
        return None
    import openpyxl  # only those who read a workbook pay for it

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of styles and extensions that hold no results
            values = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
            formulas = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=False)
            sheet = _sheet_name(files, name, list(values.sheetnames), document)
            return None if sheet is None else _cells_of(values[sheet], formulas[sheet])
    except Exception as problem:  # a damaged workbook breaks its reader in many ways
        files.faults.add(
            Place(name),
            f"a workbook that cannot be read ({type(problem).__name__})",
            "an .xlsx as spreadsheets write it",
            _RESAVE,
        )
        return None


def _why_refused(content: bytes) -> tuple[str, str] | None:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            parts = packed.infolist()
            unpacked = sum(part.file_size for part in parts)
            if unpacked > XLSX_UNPACKED_LIMIT_MB * 1_000_000:
                return f"{unpacked / 1e6:.0f} MB when unpacked", f"at most {XLSX_UNPACKED_LIMIT_MB} MB"
            if any(part.file_size > _HIGHEST_SHRINKAGE * max(part.compress_size, 1024) for part in parts):
                return (
                    f"a part that shrinks more than {_HIGHEST_SHRINKAGE} to 1, as no ordinary workbook does",
                    "an ordinary workbook",
                )
            for part in parts:
                if part.filename.endswith(".xml"):
                    with packed.open(part) as stream:
                        if b"<!DOCTYPE" in stream.read(4096):
                            return "XML with a document type, which workbooks never have", "an ordinary workbook"
    except (zipfile.BadZipFile, OSError, RuntimeError, NotImplementedError, ValueError, EOFError):
        return "a file that is no .xlsx (damaged, an older format, or locked with a password)", "an .xlsx workbook"
    except Exception as problem:  # zlib.error and the like, from damaged parts
        return f"a damaged .xlsx ({type(problem).__name__})", "an .xlsx workbook"
    return None


def _sheet_name(files: FolderFiles, name: str, sheets: list[str], document: DocumentValues) -> str | None:
    wanted = document["sheet"]
    if wanted is None and len(sheets) == 1:
        return sheets[0]
    if wanted in sheets:
        return str(wanted)
    files.faults.add(
        document.place("sheet"),
        quoted(wanted) if wanted else f"nothing, and {len(sheets)} sheets in {name}",
        "one of the workbook's sheets: " + ", ".join(quoted(sheet) for sheet in sheets[:20]),
        "Name the sheet the results are on.",
    )
    return None


def _cells_of(values: Any, formulas: Any) -> Grid:
    values.reset_dimensions()
    formulas.reset_dimensions()
    limits = {"max_row": _MOST_ROWS, "max_col": _MOST_COLUMNS}
    grid: Grid = []
    for number, (row, formula_row) in enumerate(
        zip(values.iter_rows(**limits), formulas.iter_rows(**limits), strict=False), start=1
    ):
        cells = [_as_text(cell, formula) for cell, formula in zip(row, formula_row, strict=False)]
        while cells and cells[-1] == "":
            cells.pop()
        if cells:
            grid.append((number, cells))
    return grid


def _as_text(cell: Any, formula: Any) -> str | CellFault:
    value = cell.value
    if value is None:
        if isinstance(formula.value, str) and formula.value.startswith("="):
            return CellFault(f"the formula {quoted(formula.value)} without its result", _RESAVE)
        return ""
    if cell.data_type == "e":
        return CellFault(f"the error {quoted(str(value))}", "Ask the laboratory for the value, or take the row out.")
    if isinstance(value, bool):
        return CellFault("a truth value", "Write the value itself.")
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    return repr(value) if isinstance(value, float) else str(value).strip()
