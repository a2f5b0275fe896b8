"""What the log itself shows: device clocks, corrected entries, entries that cannot be read."""

from __future__ import annotations

from dataclasses import dataclass

from lapel.fieldlog.entries import Entry
from lapel.said import Said


@dataclass(frozen=True, slots=True)
class DeviceClock:
    """
    What receipts tell of a device's clock.

    An entry cannot be received before it happened, so an instant later than its receipt shows a clock that is ahead, by
    `ahead_s` at least. A clock that is behind cannot be told from a late delivery: `behind_at_most_s` is the bound.
    `shift_s` is what the fold added to the device's instants (0 or negative).
    """

    device: str
    received: int
    ahead_s: float
    behind_at_most_s: float | None
    shift_s: float


@dataclass(frozen=True, slots=True)
class Amendment:
    """An entry that was corrected: as recorded, as it counts now (`None`: withdrawn), and by which corrections."""

    recorded: Entry
    counts: Entry | None
    corrections: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Unusable:
    """An entry that cannot be read as its kind; it is kept and shown, and counts for nothing until corrected."""

    entry_id: str
    kind: str
    origin: str
    problems: tuple[Said, ...]
