"""File names of documents, from codes that may hold any sign."""

from __future__ import annotations

import re
from collections.abc import Sequence


def plain_names(wanted: Sequence[str]) -> list[str]:
    """Make file names of codes; two that would be one name, also where capitals do not matter, are numbered."""
    taken: dict[str, int] = {}
    names = []
    for name in wanted:
        plain = re.sub(r"[^\w.-]", "_", name)
        taken[plain.casefold()] = number = taken.get(plain.casefold(), 0) + 1
        names.append(plain if number == 1 else f"{plain}-{number}")
    return names
