"""Names in a sentence: the first few, how many more there are, and what stands for each."""

from __future__ import annotations

import re
from collections.abc import Sequence

from lapel.said import Said, listed, said

_NAME = re.compile(r"\{(\w+)\}")


def first_of(names: Sequence[str], most: int) -> Said:
    """Name at most so many and count the rest: “G-101, G-102 and 3 more”."""
    if len(names) <= most:
        return listed(", ", names)
    return said("{named} and {n} more", named=listed(", ", names[:most]), n=len(names) - most)


def in_order(template: str, *values: str) -> Said:
    """Make a sentence of a template and what stands for its names, in their order."""
    return Said(template, dict(zip(_NAME.findall(template), values, strict=True)))
