"""
From texts to a PDF: typst templates, the shipped fonts, PDF/UA-1 and PDF/A-2a, and nothing half-written.

A template gets texts and pictures, never numbers. Texts go in as data and are never read as markup.
"""

from __future__ import annotations

import json
import os
import re
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import typst

from lapel.pictures.lettering import FONTS, printable

STANDARDS = ["ua-1", "a-2a"]
"""What every document is made as: PDF/UA-1 (ISO 14289-1) and PDF/A-2a (ISO 19005-2)."""

LONGEST_WORD = 16
"""A run of characters without a space that is longer may be broken anywhere, so that no cell overflows."""

BREAK_HERE = "\u200b"
_AT_A_SPACE = re.compile(r"(\s)")
"""Spaces that do not break too: “0.294 ± 0.045 mg/m³” is no long word, and its unit stays whole."""
_AFTER_A_MARK = re.compile(r"(?<=[-_/.,;:])")


class DocumentNotWritten(OSError):  # noqa: N818 - said to a person, who reads it as a sentence
    """A document could not be written; what stood at its path before is unchanged."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing for a template: the SVG, and what it shows in words."""

    svg: str
    words: str


_IMPORTED = re.compile(r'^#import "([a-z_]+)\.typ"', re.MULTILINE)
"""Templates that another one names at the beginning of a line."""


def rendered(template: str, data: Mapping[str, Any], *, title: str, dated: date) -> bytes:
    """
    Set a document.

    Parameters
    ----------
    template : str
        Name of a file in `lapel.documents.templates`, without its ending.
    data : mapping
        Texts, booleans and `Picture` objects, in lists and mappings as the template wants them.
    title : str
        Title in the document's properties.
    dated : datetime.date
        Date in the document's properties; the same input gives the same bytes whenever it is set.

    Returns
    -------
    bytes
        The PDF.

    Raises
    ------
    TypeError
        A number found its way into `data`: it must be rounded to text where it was made.
    """
    given = {"title": title, "dated": [str(dated.year), str(dated.month), str(dated.day)], **data}
    main = _template(template)
    sources = {
        "main.typ": main,
        **{f"{name}.typ": _template(name) for name in _IMPORTED.findall(main.decode("utf-8"))},
        "data.json": json.dumps(_texts(given), ensure_ascii=False).encode("utf-8"),
    }
    compile_sources: Any = typst.compile  # its stubs do not know that a mapping of sources may be given
    made: bytes = compile_sources(sources, font_paths=shipped_fonts(), pdf_standards=STANDARDS)
    return made


@cache
def shipped_fonts() -> typst.Fonts:
    """Fonts of every document, looked at once a process; none of the machine's own."""
    return typst.Fonts(include_system_fonts=False, font_paths=[str(FONTS)])


def write_whole(content: bytes, path: Path) -> None:
    """
    Write a file whole or not at all: beside its place first, then moved into it.

    Raises
    ------
    DocumentNotWritten
        The folder is missing, not writable or full, or the path is a folder; the message says which.
    """
    if path.is_dir():
        named = path / "record.pdf"
        raise DocumentNotWritten(f"Cannot write {path}: it is a folder. Name a file in it, such as {named}.")
    waiting = path.with_name(f".{path.name[:40]}-{secrets.token_hex(6)}.part")
    try:
        with waiting.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        waiting.replace(path)
    except OSError as problem:
        waiting.unlink(missing_ok=True)
        raise _not_written(path, problem) from problem


def breakable(text: str) -> str:
    """
    Return a text with places to break in every run longer than a line's patience; they are invisible.

    A code breaks after its own marks (pump_started-row-2); what is long even between them breaks anywhere.
    """
    if len(text) <= LONGEST_WORD:
        return text
    return "".join(word if len(word) <= LONGEST_WORD else _breakable_word(word) for word in _AT_A_SPACE.split(text))


def _breakable_word(word: str) -> str:
    parts = [part for part in _AFTER_A_MARK.split(word) if part]
    return BREAK_HERE.join(part if len(part) <= LONGEST_WORD else BREAK_HERE.join(part) for part in parts)


def _texts(item: Any) -> Any:
    """Everything as the fonts can show it; pictures as they are."""
    if isinstance(item, str):
        return breakable(printable(item))
    if isinstance(item, Picture):
        return {"svg": item.svg, "words": printable(item.words)}
    if isinstance(item, Mapping):
        return {key: _texts(value) for key, value in item.items()}
    if isinstance(item, list | tuple):
        return [_texts(value) for value in item]
    if item is None or isinstance(item, bool):
        return item
    raise TypeError(f"a document takes texts; found {type(item).__name__} {item!r}: round it where it was made")


@cache
def _template(name: str) -> bytes:
    return files("lapel.documents").joinpath("templates", f"{name}.typ").read_bytes()


def _not_written(path: Path, problem: OSError) -> DocumentNotWritten:
    reason = problem.strerror or str(problem)
    if not path.parent.is_dir():
        missing = path.parent
        return DocumentNotWritten(f"Cannot write {path}: there is no folder {missing}. Make it, or name another place.")
    return DocumentNotWritten(f"Cannot write {path}: {reason}. What was there before is unchanged.")
