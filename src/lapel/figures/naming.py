"""Names in a sentence: the first few, and how many more there are."""

from __future__ import annotations

from collections.abc import Sequence

from lapel.said import Said, listed, said


def first_of(names: Sequence[str], most: int) -> Said:
    """Name at most so many and count the rest: “G-101, G-102 and 3 more”."""
    if len(names) <= most:
        return listed(", ", names)
    return said("{named} and {n} more", named=listed(", ", names[:most]), n=len(names) - most)
