"""What is not read at all, said in one sentence before any memory or time is spent on it."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path
from typing import NoReturn

from lapel.exchange.problems import InputProblem, InputProblems, Place, quoted

MOST_BYTES = {".csv": 60_000_000, ".txt": 60_000_000, ".tsv": 60_000_000, ".xlsx": 40_000_000, ".pdf": 40_000_000}
"""Largest delivered file by ending. [bytes]"""
MOST_UNPACKED = 400_000_000
"""Largest workbook once unpacked. [bytes]"""
MOST_PARTS = 2_000
HIGHEST_SHRINKAGE = 250
"""A part that shrinks more than this is a bomb: sheets of numbers shrink 5 to 30 times, empty formatting to 100."""
MOST_ROWS = 500_000
MOST_COLUMNS = 500
MOST_CELLS = 6_000_000
MOST_SHEETS = 200
LONGEST_CELL = 32_767
"""What a spreadsheet's cell can hold. [signs]"""

_RESAVE = (
    "Ask the laboratory for the results as a plain .xlsx or .csv; or open the file in a safe place and save it so."
)
_MARKS = (
    (b"PK\x03\x04", "a packed file (.xlsx, .zip)"),
    (b"%PDF", "a PDF"),
    (b"\xd0\xcf\x11\xe0", "an old workbook (.xls), or one locked with a password"),
    (b"\x1f\x8b", "a packed file (.gz)"),
    (b"{\\rtf", "a text document (.rtf)"),
    (b"MZ", "a program"),
    (b"\x7fELF", "a program"),
    (b"<htm", "a web page"),
    (b"<!DO", "a web page"),
    (b"<?xm", "XML"),
)


def refuse(name: str, found: str, wanted: str, remedy: str = _RESAVE, *, row: int | None = None) -> NoReturn:
    """
    End the reading of a file.

    Raises
    ------
    InputProblems
        Always, with this one fault.
    """
    raise InputProblems([InputProblem(Place(name, row), found, wanted, remedy)])


def content_of(path: Path) -> bytes:
    """
    Read a delivered file, once its ending and size allow it.

    Raises
    ------
    InputProblems
        It is not there, no file, of another kind, or too large: a file that is refused is not read into memory.
    """
    ending = path.suffix.lower()
    try:
        if not path.is_file():
            found = "a folder or device" if path.exists() else "no such file"
            refuse(path.name, found, "the file as the laboratory sent it", "Check its path.")
        _check_ending(path.name, ending)
        size = path.stat().st_size
        if size > MOST_BYTES[ending]:
            _too_large(path.name, size, ending)
        with path.open("rb") as stream:
            content = stream.read(MOST_BYTES[ending] + 1)
    except OSError as problem:
        refuse(path.name, f"it cannot be read ({problem.strerror})", "a readable file", "Check its permissions.")
    check_content(path.name, content)
    return content


def check_content(name: str, content: bytes) -> None:
    """
    Refuse bytes that are not what their ending says.

    Raises
    ------
    InputProblems
        Saying what was found.
    """
    ending = Path(name).suffix.lower()
    _check_ending(name, ending)
    if len(content) > MOST_BYTES[ending]:
        _too_large(name, len(content), ending)
    if not content.strip(b"\x00\t\r\n \xff\xfe\xef\xbb\xbf"):
        refuse(name, "an empty file", "the laboratory's results", "Ask the laboratory to send it again.")
    looks = next((words for mark, words in _MARKS if content[:4].lower().startswith(mark.lower())), "")
    wanted = {".xlsx": "a packed file (.xlsx, .zip)", ".pdf": "a PDF"}.get(ending, "")
    if looks != wanted:
        refuse(name, looks or "text", f"a {ending} as its name says")
    if ending == ".xlsx":
        _check_workbook(name, content)


def _check_ending(name: str, ending: str) -> None:
    if ending == ".xlsm":
        refuse(name, "a workbook with macros (.xlsm)", "a workbook without: nothing in a file is ever run")
    if ending not in MOST_BYTES:
        refuse(
            name,
            f"a file ending in {quoted(ending)}" if ending else "a file without an ending",
            "one of " + ", ".join(MOST_BYTES),
        )


def _too_large(name: str, size: int, ending: str) -> NoReturn:
    refuse(
        name,
        f"{size / 1e6:.0f} MB",
        f"at most {MOST_BYTES[ending] / 1e6:.0f} MB of {ending}",
        "Reports of 100,000 results are a tenth of this. Ask the laboratory for the results alone, without raw data.",
    )


def _check_workbook(name: str, content: bytes) -> None:
    """Look into the package before anything is unpacked: size, shrinkage, macros, document types."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            parts = packed.infolist()
            if len(parts) > MOST_PARTS:
                refuse(name, f"{len(parts)} parts in one workbook", f"at most {MOST_PARTS}")
            unpacked = sum(part.file_size for part in parts)
            if unpacked > MOST_UNPACKED:
                refuse(name, f"{unpacked / 1e6:.0f} MB when unpacked", f"at most {MOST_UNPACKED / 1e6:.0f} MB")
            for part in parts:
                _check_part(name, packed, part)
            if "xl/workbook.xml" not in packed.namelist():
                refuse(name, "a packed file that is no workbook", "an .xlsx as spreadsheets write it")
    except InputProblems:
        raise
    except Exception as problem:  # a damaged package breaks its reader in many ways
        refuse(name, f"a damaged workbook ({type(problem).__name__})", "an .xlsx as spreadsheets write it")


def _check_part(name: str, packed: zipfile.ZipFile, part: zipfile.ZipInfo) -> None:
    path = part.filename.lower()
    if path.endswith("vbaproject.bin") or "/macrosheets/" in path or "/dialogsheets/" in path:
        refuse(name, "a workbook with macros", "a workbook without: nothing in a file is ever run")
    if "/embeddings/" in path or "/activex/" in path:
        refuse(name, "a workbook with other files or controls inside it", "a workbook of sheets alone")
    if part.flag_bits & 1:
        refuse(name, "a workbook locked with a password", "one that opens without")
    if part.file_size > HIGHEST_SHRINKAGE * max(part.compress_size, 2048):
        shrinkage = part.file_size / max(part.compress_size, 1)
        refuse(name, f"a part that shrinks {shrinkage:.0f} to 1, as no ordinary workbook does", "an ordinary workbook")
    if path.endswith((".xml", ".rels")):
        with packed.open(part) as stream:
            head = stream.read(4096)
        if re.search(rb"<!\s*(DOCTYPE|ENTITY)", head, re.IGNORECASE):
            refuse(name, "XML with a document type, which workbooks never have", "an ordinary workbook")
