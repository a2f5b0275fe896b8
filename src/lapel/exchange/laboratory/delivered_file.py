"""The bytes a laboratory delivered, read into sheets of cells: CSV, XLSX or PDF."""

from __future__ import annotations

import hashlib
from pathlib import Path

from lapel.exchange.laboratory.refusals import check_content, content_of
from lapel.exchange.laboratory.sheets import LaboratoryFile
from lapel.exchange.laboratory.text_files import decoded, text_sheet

_MOST_REMARKS = 12
"""Remarks on a file that are shown."""


def read_file(path: Path) -> LaboratoryFile:
    """
    Read a delivered file from disk.

    Raises
    ------
    InputProblems
        It cannot or must not be read.
    """
    return read_content(path.name, content_of(path))


def read_content(name: str, content: bytes) -> LaboratoryFile:
    """
    Read a delivered file's bytes: CSV, XLSX or PDF.

    Raises
    ------
    InputProblems
        It is too large, hostile, damaged, or not what its ending says.
    """
    check_content(name, content)
    digest = hashlib.sha256(content).hexdigest()
    ending = Path(name).suffix.lower()
    if ending == ".xlsx":
        from lapel.exchange.laboratory.workbooks import workbook_sheets

        sheets, remarks = workbook_sheets(name, content)
        return LaboratoryFile(name, digest, "xlsx", sheets, {}, remarks[:_MOST_REMARKS])
    if ending == ".pdf":
        from lapel.exchange.laboratory.pdf_tables import pdf_sheets

        sheets, remarks = pdf_sheets(name, content)
        return LaboratoryFile(name, digest, "pdf", sheets, {}, remarks[:_MOST_REMARKS])
    text, encoding = decoded(name, content)
    sheet, separator = text_sheet(name, text)
    return LaboratoryFile(name, digest, "csv", (sheet,), {"encoding": encoding, "separator": separator})
