"""Files a command writes: whole or not at all."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TextIO


class NotWritten(OSError):  # noqa: N818 - said to a person, who reads it as a sentence
    """A file could not be written; the message says which, why and what to do."""


@contextmanager
def open_output(name: str) -> Iterator[TextIO]:
    """Open a text file to write, or standard output for “-”; the file appears only once it is complete."""
    if name == "-":
        yield sys.stdout
        return
    path = Path(name)
    partial = path.with_name(f".{path.name}.part")
    try:
        with partial.open("w", encoding="utf-8") as stream:
            yield stream
        partial.replace(path)
    except OSError as problem:
        reason = problem.strerror or str(problem)
        raise NotWritten(f"{path} could not be written ({reason}). Name a file in a folder that is there.") from problem
    finally:
        if partial.exists():
            partial.unlink()
