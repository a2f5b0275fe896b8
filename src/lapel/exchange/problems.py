"""Faults of what was handed in: where, what was found, what is wanted, what to do; all of them at once."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

FIRST_FILE = "survey.toml"
"""Its faults are told before all others: what follows may only follow from them."""

SHOWN = 50
"""How many faults a printed list holds before it says how many more there are."""
HINTED_PER_FILE = 20
"""How many faults of one file come with the nearest known word."""
KEPT_PER_FILE = 500
"""How many faults of one file are kept word for word; the rest are counted."""


@dataclass(frozen=True, slots=True)
class Place:
    """A file, and where it applies a row (the header is row 1) and a column or key."""

    file: str
    row: int | None = None
    column: str = ""

    def __str__(self) -> str:
        parts = [self.file]
        if self.row is not None:
            parts.append(f"row {self.row}")
        if self.column:
            parts.append(f"column “{self.column}”" if self.row is not None else f"“{self.column}”")
        return ", ".join(parts)

    def order(self) -> tuple[bool, str, int, str]:
        """Sort by file, then row, then column; first survey.toml, on which the rest hangs, and of a file its whole."""
        return self.file != FIRST_FILE, self.file, self.row or 0, self.column


class InputProblem(ValueError):  # noqa: N818 - reads as what it is
    """
    One fault.

    Parameters
    ----------
    where : Place
        File, row, column.
    found, wanted, remedy : str
        What stands there, what should, and what the reader of this message can do.
    """

    def __init__(self, where: Place, found: str, wanted: str, remedy: str) -> None:
        super().__init__(f"{where}: found {found}; wanted {wanted}. {remedy}")
        self.where = where
        self.found = found
        self.wanted = wanted
        self.remedy = remedy

    def as_dict(self) -> dict[str, str | int | None]:
        """Return the parts for a program."""
        return {
            "file": self.where.file,
            "row": self.where.row,
            "column": self.where.column,
            "found": self.found,
            "wanted": self.wanted,
            "remedy": self.remedy,
        }


class InputProblems(ValueError):  # noqa: N818
    """
    All faults of one reading, sorted by place; nothing was kept of what was read.

    Attributes
    ----------
    problems : tuple of InputProblem
        At most `KEPT_PER_FILE` of each file.
    count : int
        All of them, also those that are not in `problems`.
    """

    def __init__(self, problems: Iterable[InputProblem], count: int | None = None) -> None:
        self.problems = tuple(sorted(problems, key=lambda problem: problem.where.order()))
        self.count = max(count or 0, len(self.problems))
        super().__init__(self._text())

    def __iter__(self) -> Iterator[InputProblem]:
        return iter(self.problems)

    def _text(self) -> str:
        lines = [f"{self.count} {'fault' if self.count == 1 else 'faults'} found; nothing was used."]
        lines += [str(problem) for problem in self.problems[:SHOWN]]
        if self.count > SHOWN:
            lines.append(f"… and {self.count - min(SHOWN, len(self.problems))} more.")
        return "\n".join(lines)


class Faults:
    """Collects faults while reading goes on."""

    def __init__(self) -> None:
        self._kept: list[InputProblem] = []
        self._by_file: dict[str, int] = {}
        self.count = 0

    @property
    def problems(self) -> tuple[InputProblem, ...]:
        """Those kept so far, sorted by place."""
        return tuple(sorted(self._kept, key=lambda problem: problem.where.order()))

    def add(self, where: Place, found: str, wanted: str, remedy: str) -> None:
        """Note one fault."""
        self.count += 1
        seen = self._by_file.get(where.file, 0)
        self._by_file[where.file] = seen + 1
        if seen < KEPT_PER_FILE:
            self._kept.append(InputProblem(where, found, wanted, remedy))

    def near(self, where: Place, text: str, known: Iterable[str]) -> str:
        """Offer the nearest known word, as `did_you_mean`, for a file's first faults only: looking takes time."""
        return did_you_mean(text, known) if self._by_file.get(where.file, 0) < HINTED_PER_FILE else ""

    def raise_any(self) -> None:
        """
        End the reading if there was any fault.

        Raises
        ------
        InputProblems
            With all of them.
        """
        if self.count:
            raise InputProblems(self._kept, self.count)


def quoted(text: str, *, longest: int = 60) -> str:
    """Show a cell as it was found, shortened and with unprintable characters made visible."""
    shown = text if len(text) <= longest else text[: longest - 1] + "…"
    return "“" + "".join(letter if letter.isprintable() else f"\\x{ord(letter):02x}" for letter in shown) + "”"


def did_you_mean(text: str, known: Iterable[str]) -> str:
    """Offer the nearest known word, as a remedy's opening; empty when none is near."""
    folded = {word.casefold(): word for word in known}
    near = difflib.get_close_matches(text.casefold(), list(folded)[:5000], n=1, cutoff=0.65)
    return f"Did you mean “{folded[near[0]]}”? " if near else ""
