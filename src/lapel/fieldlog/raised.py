"""Conflicts and remarks with where in the log they were raised, so that parts folded apart come back in its order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TypeAlias, TypeVar

from lapel.fieldlog.order import Key
from lapel.fieldlog.preparation import Findings
from lapel.fieldlog.state import Conflict, Remark

Place: TypeAlias = tuple[Key, int]
"""Where in the log something was raised: at which act, and at which of the samplers it names."""


@dataclass(slots=True)
class Raised:
    """Conflicts and remarks, each with where it was raised."""

    conflicts: list[tuple[Place, Conflict]] = field(default_factory=list)
    remarks: list[tuple[Place, Remark]] = field(default_factory=list)

    def note(self, place: Place, findings: Findings) -> None:
        """Take over what an act raised."""
        if findings.conflicts:
            self.conflicts += [(place, one) for one in findings.conflicts]
            findings.conflicts.clear()
        if findings.remarks:
            self.remarks += [(place, one) for one in findings.remarks]
            findings.remarks.clear()


Found = TypeVar("Found", Conflict, Remark)


def in_place(raised: Iterable[list[tuple[Place, Found]]]) -> Iterator[Found]:
    """Return what was raised, in the order in which the whole log raises it."""
    listed = [one for found in raised for one in found]
    listed.sort(key=lambda one: one[0])
    return (one for _, one in listed)
