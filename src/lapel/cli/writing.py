"""Files a command writes: whole or not at all."""

from __future__ import annotations

import codecs
import sys
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from io import TextIOWrapper
from pathlib import Path
from typing import TextIO


class NotWritten(OSError):  # noqa: N818 - said to a person, who reads it as a sentence
    """A file could not be written; the message says which, why and what to do."""


PLAIN_LETTERS = {
    "−": "-", "–": "-", "≥": ">=", "≤": "<=", "±": "+/-", "µ": "u", "μ": "u", "·": "|", "“": '"', "”": '"', "’": "'",
    "∞": "infinity", "°": "deg ", "×": "x", "√": "sqrt ", "█": "#", "…": "...", "\u00a0": " ", "Σ": "sum ",
}  # fmt: skip
"""What stands in for a letter that a terminal does not have: a minus or a bound must never become a question mark."""


def plain_letters(problem: UnicodeError) -> tuple[str, int]:
    """Error handler of an output whose letters do not reach: the nearest plain writing."""
    if not isinstance(problem, UnicodeEncodeError):
        raise problem
    said = "".join(
        PLAIN_LETTERS.get(letter) or unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode() or "?"
        for letter in problem.object[problem.start : problem.end]
    )
    return said, problem.end


codecs.register_error("plain letters", plain_letters)


@contextmanager
def open_output(name: str) -> Iterator[TextIO]:
    """Open a text file to write, or standard output for “-”; the file appears only once it is complete."""
    if name == "-":
        if isinstance(sys.stdout, TextIOWrapper):
            sys.stdout.reconfigure(encoding="utf-8")  # what programs exchange does not depend on a terminal's letters
        yield sys.stdout
        return
    path = Path(name)
    partial = path.with_name(f".{path.name}.part")
    try:
        with partial.open("w", encoding="utf-8") as stream:
            yield stream
        partial.replace(path)
    except NotWritten:
        raise
    except OSError as problem:
        reason = problem.strerror or str(problem)
        raise NotWritten(f"{path} could not be written ({reason}). Name a file in a folder that is there.") from problem
    finally:
        if partial.exists():
            partial.unlink()
