"""Tables of a PDF report, where it holds text; a scanned page has none, and says so."""

from __future__ import annotations

import io
import multiprocessing
from queue import Empty
from typing import Any

from lapel.exchange.laboratory.refusals import MOST_CELLS, MOST_COLUMNS, refuse
from lapel.exchange.laboratory.sheets import Row, Sheet
from lapel.exchange.problems import InputProblems

MOST_PAGES = 150
LONGEST_S = 120.0
"""Time a PDF may take. [s]"""
MOST_MEMORY = 1_200_000_000
"""Memory its reader may take. [bytes]"""
_TEXTLESS = (
    "Ask the laboratory for the results as .xlsx or .csv, or type them into a table; nothing is read off pictures."
)


def pdf_sheets(name: str, content: bytes) -> tuple[tuple[Sheet, ...], tuple[str, ...]]:
    """
    Read the tables of a PDF, page after page, as one sheet; a table's heading repeated on a page continues it.

    A process of its own does it, with bounded time and memory: a page can be made to take for ever.

    Raises
    ------
    InputProblems
        It is damaged, locked, too long, a picture, or takes too much.
    """
    context = multiprocessing.get_context("spawn")
    answers: Any = context.Queue()
    reader = context.Process(target=_read_apart, args=(content, answers), daemon=True)
    reader.start()
    try:
        kind, said = answers.get(timeout=LONGEST_S)
    except Empty:
        kind, said = "fault", f"a PDF that takes longer than {LONGEST_S:.0f} s to read"
    finally:
        if reader.is_alive():
            reader.terminate()
        reader.join(5)
        answers.close()
    if kind == "fault":
        refuse(name, str(said), "a PDF with its tables as text", _TEXTLESS)
    rows, remarks = said
    return (Sheet("", rows),), tuple(remarks)


def _read_apart(content: bytes, answers: Any) -> None:  # pragma: no cover - runs in a process of its own
    try:
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (int(LONGEST_S), int(LONGEST_S)))
    except (ImportError, ValueError, OSError):
        pass  # a system without such limits still has the time limit
    try:
        answers.put(("rows", rows_of(content)))
    except InputProblems as problems:
        answers.put(("fault", problems.problems[0].found))
    except MemoryError:
        answers.put(("fault", "a PDF that takes too much memory to read"))
    except Exception as problem:
        answers.put(("fault", f"a PDF that cannot be read ({type(problem).__name__})"))


def rows_of(content: bytes) -> tuple[list[Row], list[str]]:
    """
    Take rows of cells from a PDF: ruled tables first, words in columns where nothing is ruled.

    Raises
    ------
    InputProblems
        Too many pages or cells, or no text at all.
    """
    import pdfplumber

    rows: list[Row] = []
    remarks: list[str] = []
    letters = cells = 0
    with pdfplumber.open(io.BytesIO(content)) as document:
        if len(document.pages) > MOST_PAGES:
            refuse("", f"{len(document.pages)} pages", f"at most {MOST_PAGES}")
        for number, page in enumerate(document.pages, start=1):
            letters += len(page.chars)
            before = len(rows)
            rows += _page_rows(page)
            cells += sum(len(row) for row in rows[before:])
            if cells > MOST_CELLS or any(len(row) > MOST_COLUMNS for row in rows[before:]):
                refuse("", "more cells than a report has", f"at most {MOST_CELLS:,}")
            if page.images and not page.chars:
                remarks.append(f"Page {number} is a picture without text; nothing was read from it.")
            page.close()
    if letters < 20:
        refuse("", "pages without text: a scan or a picture", "a PDF with its tables as text")
    remarks.insert(0, "Tables were taken from a PDF: hold every number against the page before you confirm.")
    return rows, remarks


def _page_rows(page: Any) -> list[Row]:
    ruled = sorted((table for table in page.find_tables() if len(table.rows) > 1), key=lambda table: table.bbox[1])
    rows: list[Row] = []
    top = 0.0
    for table in ruled:
        rows += _lines(page, top, table.bbox[1])
        rows += [[_flat(cell) for cell in row] for row in table.extract()]
        top = table.bbox[3]
    return [*rows, *_lines(page, top, float(page.height))]


def _flat(cell: str | None) -> str:
    return " ".join((cell or "").split())


def _lines(page: Any, top: float, bottom: float) -> list[Row]:
    """Words between two heights, line by line; a gap wider than two letters begins a new cell."""
    if bottom - top < 2.0:
        return []
    part = page.crop((0, max(top, 0), page.width, min(bottom, float(page.height))), strict=False)
    words = part.extract_words(keep_blank_chars=False, x_tolerance=2, y_tolerance=3)
    lines: list[list[dict[str, Any]]] = []
    for word in sorted(words, key=lambda word: (round(word["top"]), word["x0"])):
        if lines and abs(lines[-1][0]["top"] - word["top"]) <= 3:
            lines[-1].append(word)
        else:
            lines.append([word])
    return _in_columns([sorted(line, key=lambda word: word["x0"]) for line in lines])


def _in_columns(lines: list[list[dict[str, Any]]]) -> list[Row]:
    """Put the pieces of lines under each other: pieces that overlap from line to line are one column."""
    pieces = [_pieces(line) for line in lines]
    rows: list[Row] = []
    start = 0
    while start < len(pieces):
        end = start
        while end < len(pieces) and len(pieces[end]) > 1:
            end += 1
        if end == start:
            rows.append([text for _, _, text in pieces[start]])
            start += 1
            continue
        rows += _aligned(pieces[start:end])
        start = end
    return rows


_Piece = tuple[float, float, str]


def _pieces(line: list[dict[str, Any]]) -> list[_Piece]:
    found: list[_Piece] = []
    for word in line:
        letter = (word["x1"] - word["x0"]) / max(len(word["text"]), 1)
        if found and word["x0"] - found[-1][1] < 1.6 * letter:
            found[-1] = (found[-1][0], word["x1"], f"{found[-1][2]} {word['text']}")
        else:
            found.append((word["x0"], word["x1"], word["text"]))
    return found


def _aligned(block: list[list[_Piece]]) -> list[Row]:
    bands: list[list[float]] = []
    for left, right, _ in sorted(piece for line in block for piece in line):
        if bands and left < bands[-1][1] - 0.5:
            bands[-1][1] = max(bands[-1][1], right)
        else:
            bands.append([left, right])
    rows: list[Row] = []
    for line in block:
        row: Row = [""] * len(bands)
        for left, right, text in line:
            at = max(range(len(bands)), key=lambda band: min(right, bands[band][1]) - max(left, bands[band][0]))
            row[at] = f"{row[at]} {text}".strip()
        rows.append(row)
    return rows
