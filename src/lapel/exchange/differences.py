"""Two assessments as data held against each other: numbers within the last digits, words letter by letter."""

from __future__ import annotations

import math
from typing import Any

SAME = 1e-9
"""Relative difference up to which two computers may differ in a figure: their last digits. [-]"""

PROSE = frozenset(
    {"found", "wanted", "remedy", "reason", "note", "notes", "words", "title", "source", "choice", "settled_by",
     "driven_by", "treatment", "why", "cause", "assumptions"}
)  # fmt: skip
"""Names under which sentences stand; everything else is a figure, a verdict, a code or a sense."""

APART = frozenset({"kernel_version", "input_sha256"})
"""Keys whose change is told by itself."""


class Differences:
    """
    What differs between two trees of JSON.

    Attributes
    ----------
    count : int
        Numbers that were compared.
    figures, words : list of str
        Each difference in a figure, verdict, code or presence; and each in a sentence.
    largest : float
        Largest relative difference of two numbers that count as the same. [-]
    """

    def __init__(self, *, names: tuple[str, str] = ("stated", "computed")) -> None:
        self.count = 0
        self.figures: list[str] = []
        self.words: list[str] = []
        self.largest = 0.0
        self._before, self._after = names

    def compare(self, where: str, stated: Any, again: Any) -> None:
        """
        Hold one part against its counterpart.

        Parameters
        ----------
        where : str
            What the part is called in differences.
        stated, again : JSON data
            As it was, and as it is.
        """
        if stated == again:
            self.count += _numbers_in(stated)
        elif isinstance(stated, dict) and isinstance(again, dict):
            self._mappings(where, stated, again)
        elif isinstance(stated, list) and isinstance(again, list):
            if len(stated) != len(again):
                self.figures.append(f"{where}: {len(stated)} {self._before}, {len(again)} {self._after}")
            for number, (one, other) in enumerate(zip(stated, again, strict=False), start=1):
                self.compare(f"{where} {_named(one) or number}", one, other)
        elif _is_number(stated) and _is_number(again):
            self._number(where, stated, again)
        elif type(stated) is not type(again) or _is_number(stated):
            self.figures.append(f"{where}: {self._before} {stated!r}, {self._after} {again!r}")
        elif stated != again:
            (self.words if _is_prose(where) else self.figures).append(
                f"{where}: {self._before} “{stated}”, {self._after} “{again}”"
            )

    def _mappings(self, where: str, stated: dict[str, Any], again: dict[str, Any]) -> None:
        for key in sorted(stated.keys() | again.keys()):
            place = f"{where} {key}" if where else key
            if key in APART:
                continue
            if key not in stated or key not in again:
                self.figures.append(f"{place}: not {self._before if key not in stated else self._after}")
            else:
                self.compare(place, stated[key], again[key])

    def _number(self, where: str, stated: float, again: float) -> None:
        self.count += 1
        apart = abs(stated - again) / max(abs(stated), abs(again))
        if apart <= SAME:
            self.largest = max(self.largest, apart)
        else:
            self.figures.append(f"{where}: {self._before} {stated!r}, {self._after} {again!r}")


def _numbers_in(item: Any) -> int:
    if isinstance(item, dict):
        return sum(_numbers_in(part) for part in item.values())
    if isinstance(item, list):
        return sum(_numbers_in(part) for part in item)
    return int(_is_number(item))


def _named(item: Any) -> str:
    """What a row of a list is called by, where it says so."""
    if not isinstance(item, dict):
        return ""
    names = [str(item[key]) for key in ("sampler", "shift", "blank", "agent", "authority", "kind") if item.get(key)]
    return "/".join(names).replace(" ", "-")


def _is_prose(where: str) -> bool:
    """Whether a place holds a sentence and no verdict, code or sense."""
    return next((word for word in reversed(where.split()) if not word.isdigit()), "") in PROSE


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
