"""Names in a sentence: the first few, and how many more there are."""

from __future__ import annotations

from collections.abc import Sequence


def first_of(names: Sequence[str], most: int) -> str:
    """Name at most so many and count the rest: “G-101, G-102 and 3 more”."""
    more = len(names) - most
    return ", ".join(names[:most]) + (f" and {more} more" if more > 0 else "")
