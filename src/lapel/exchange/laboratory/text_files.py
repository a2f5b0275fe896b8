"""Text files: which letters the bytes are, and what stands between the cells. Both are found, said, and confirmed."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter

from lapel.exchange.laboratory.refusals import LONGEST_CELL, MOST_CELLS, MOST_COLUMNS, MOST_ROWS, refuse
from lapel.exchange.laboratory.sheets import Cell, Sheet
from lapel.exchange.problems import InputProblems, quoted

SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8"),
    (codecs.BOM_UTF32_LE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)
_LOOKED_AT = 400
_UNPRINTABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_SEP_LINE = re.compile(r"sep=(.)\r?\n", re.IGNORECASE)


def decoded(name: str, content: bytes) -> tuple[str, str]:
    """
    Turn bytes into text: by their mark, as UTF-8 or UTF-16 where they can only be that, else as Windows-1252.

    Returns
    -------
    tuple of str
        The text, and the name of its encoding.

    Raises
    ------
    InputProblems
        The bytes hold what no text holds.
    """
    for mark, codec, said in _MARKS:
        if content.startswith(mark):
            return _strictly(name, content, codec, said)
    for codec, said in (("utf-16-le", "UTF-16"), ("utf-16-be", "UTF-16")):
        offset = 1 if codec.endswith("le") else 0
        if content[offset:400:2].count(0) > 0.4 * len(content[:400]) / 2:
            return _strictly(name, content, codec, said)
    try:
        text, said = content.decode("utf-8"), "UTF-8"
    except UnicodeDecodeError:
        try:
            text, said = content.decode("cp1252"), "Windows-1252"
        except UnicodeDecodeError:
            text, said = content.decode("latin-1"), "Latin-1"
    _check_letters(name, text)
    return text, said


def _strictly(name: str, content: bytes, codec: str, said: str) -> tuple[str, str]:
    try:
        text = content.decode(codec)
    except UnicodeDecodeError:
        refuse(name, f"bytes that begin as {said} and then are not", f"{said} from end to end")
    _check_letters(name, text)
    return text, said


def _check_letters(name: str, text: str) -> None:
    strange = _UNPRINTABLE.search(text)
    if strange:
        row = text.count("\n", 0, strange.start()) + 1
        refuse(name, f"the sign {quoted(strange[0])}, which no text holds", "printable text", row=row)


def text_sheet(name: str, text: str) -> tuple[Sheet, str]:
    """
    Cut a text into rows and cells.

    Returns
    -------
    tuple of Sheet and str
        The one sheet, and the word for what stands between its cells.

    Raises
    ------
    InputProblems
        No end to a quoted cell; too many rows, columns or cells.
    """
    told = _SEP_LINE.match(text)
    separator = told[1] if told else _separator(text)
    rows: list[list[Cell]] = [[]] if told else []
    cells = 0
    previous = csv.field_size_limit(LONGEST_CELL)
    try:
        body = text[told.end() :] if told else text
        for row in csv.reader(io.StringIO(body, newline=""), delimiter=separator, strict=True):
            while row and not row[-1].strip():
                row.pop()
            cells += len(row)
            if len(row) > MOST_COLUMNS:
                refuse(name, f"{len(row):,} columns", f"at most {MOST_COLUMNS}", row=len(rows) + 1)
            if len(rows) >= MOST_ROWS or cells > MOST_CELLS:
                refuse(name, f"more than {MOST_ROWS:,} rows or {MOST_CELLS:,} cells", "a report of results")
            rows.append([cell.strip() for cell in row])
    except csv.Error as problem:
        found = f"a row that does not end as rows of cells do ({problem})"
        refuse(name, found, "cells with their quotes closed", "Look for a stray quotation mark.", row=len(rows) + 1)
    except InputProblems:
        raise
    finally:
        csv.field_size_limit(previous)
    word = next((word for word, mark in SEPARATORS.items() if mark == separator), f"“{separator}”")
    return Sheet("", rows), word


def _separator(text: str) -> str:
    """
    Find what stands between the cells: the mark that cuts most rows into the same number of cells.

    Title lines have fewer cells than the table, so the commonest count above 1 decides, not the first row. A mark
    inside quotes does not count.
    """
    lines = [line for line in text.splitlines()[:_LOOKED_AT] if line.strip()]
    best, best_score = ",", 0.0
    for separator in SEPARATORS.values():
        try:
            counts = Counter(len(row) for row in csv.reader(lines, delimiter=separator) if len(row) > 1)
        except csv.Error:
            continue
        if not counts:
            continue
        width, rows = max(counts.items(), key=lambda item: (item[1] * (item[0] - 1) ** 0.5, item[0]))
        # a decimal comma cuts rows too, but not into equally many cells, and it stands between digits
        between_digits = len(re.findall(rf"\d{re.escape(separator)}\d", "\n".join(lines)))
        marks = sum(line.count(separator) for line in lines)
        score = rows * (width - 1) ** 0.5 * (1.0 - 0.8 * between_digits / max(marks, 1))
        if score > best_score:
            best, best_score = separator, score
    return best
