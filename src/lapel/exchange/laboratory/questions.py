"""Questions a file leaves open, each with the cells that raise it and the answers it can have."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Choice:
    """An answer, and what would follow from it."""

    answer: str
    means: str


@dataclass(frozen=True, slots=True)
class Question:
    """
    Something only a person can decide.

    Attributes
    ----------
    key : str
        Its place in the map; how it is answered.
    asks : str
        One sentence.
    choices : tuple of Choice
        Empty where any text is an answer.
    where : str
        The first cell that raises it.
    cells : tuple of str
        What stands there, as it came.
    """

    key: str
    asks: str
    choices: tuple[Choice, ...] = ()
    where: str = ""
    cells: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, object]:
        """Return the parts for a program."""
        return {
            "key": self.key,
            "asks": self.asks,
            "choices": [{"answer": choice.answer, "means": choice.means} for choice in self.choices],
            "where": self.where,
            "cells": list(self.cells),
        }


class Asked:
    """Collects questions, each key once; the first cells that raised it stay with it."""

    def __init__(self) -> None:
        self._by_key: dict[str, Question] = {}

    def ask(
        self,
        key: str,
        asks: str,
        choices: tuple[tuple[str, str], ...] = (),
        *,
        where: str = "",
        cells: tuple[str, ...] = (),
    ) -> None:
        """Note a question unless it was asked already."""
        if key not in self._by_key:
            self._by_key[key] = Question(key, asks, tuple(Choice(*choice) for choice in choices), where, cells)

    def __len__(self) -> int:
        return len(self._by_key)

    def all(self) -> tuple[Question, ...]:
        """Return all of them, in the order in which they came up."""
        return tuple(self._by_key.values())
