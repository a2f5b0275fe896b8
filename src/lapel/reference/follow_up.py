"""What usually follows a judgement, from the packaged table: when to sample again, what respirators hold back."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any


@dataclass(frozen=True, slots=True)
class SampleAgain:
    """When to sample again, from a share of the limit upwards; `months` is 0 where no periodic date is set."""

    rule_books: tuple[str, ...]
    above: float
    months: int
    words: str
    source: str
    certainty: str


@dataclass(frozen=True, slots=True)
class Respirator:
    """A kind of respirator and the factor by which it is assumed to lower what is breathed. [-]"""

    kind: str
    factor: float
    source: str
    certainty: str


def sample_again(rule_book: str, share: float) -> SampleAgain | None:
    """
    Find when to sample again.

    Parameters
    ----------
    rule_book : str
        Key of the rule book.
    share : float
        What it goes by, as a share of the limit: the table says of what. [-]

    Returns
    -------
    SampleAgain or None
        The row with the highest `above` that the share exceeds; None for a rule book the table does not know.
    """
    rows = [row for row in _table()[0] if rule_book in row.rule_books and share > row.above]
    lowest = [row for row in _table()[0] if rule_book in row.rule_books and row.above == 0.0]
    return max(rows, key=lambda row: row.above, default=lowest[0] if lowest else None)


def respirators(needed: float) -> tuple[Respirator, ...]:
    """Kinds of respirators whose assigned factor is at least the one needed, the lightest first."""
    return tuple(row for row in _table()[1] if row.factor >= needed)


@cache
def _table() -> tuple[tuple[SampleAgain, ...], tuple[Respirator, ...]]:
    text = files("lapel.reference").joinpath("data", "follow_up.toml").read_text(encoding="utf-8")
    data: dict[str, Any] = tomllib.loads(text)
    again = tuple(SampleAgain(**{**row, "rule_books": tuple(row["rule_books"])}) for row in data["sample_again"])
    return again, tuple(sorted((Respirator(**row) for row in data["respirator"]), key=lambda row: row.factor))
