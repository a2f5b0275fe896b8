"""Faults of a reference or rule-book file, all of them at once, each with where, found, wanted and remedy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FileFault:
    """One fault: where it stands, what was found, what is wanted, what to do."""

    where: str
    found: str
    wanted: str
    remedy: str = "Correct it and read the file again. Nothing from it was kept."

    def __str__(self) -> str:
        return f"{self.where}: found {self.found}; wanted {self.wanted}. {self.remedy}"


class UnusableFileError(ValueError):
    """
    A file that cannot be used, with every fault found in it.

    Attributes
    ----------
    faults : tuple of FileFault
        In the file's order.
    """

    def __init__(self, faults: Sequence[FileFault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))
