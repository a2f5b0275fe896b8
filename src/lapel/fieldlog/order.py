"""
The order of acts: by instant, after what receipts tell of each device's clock.

No clock is trusted and none is refused. An entry cannot be received before it happened: where a device's instants lie
after their receipt, its clock is ahead by that much at least, and all its instants are moved back by it. A late
delivery looks like a clock that is behind, so nothing is ever moved forward; the bound is shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TypeAlias

from lapel.fieldlog.entries import KINDS, Entry
from lapel.fieldlog.state import DeviceClock

TOLERATED_AHEAD_S = 60.0
"""A clock less than this ahead of the office's is taken as right: acts are kept to the minute. [s]"""

Key: TypeAlias = tuple[datetime, str, int, int, str]

_RANK = {kind: 10 * spec.rank for kind, spec in KINDS.items()}
_RANK_OF_READING = {
    # a reading of the same minute goes before the round it belongs to, and after what made it necessary
    "check": _RANK["pump_checked"] - 1,
    "post": _RANK["post_round"] - 1,
    "setting": _RANK["valve_touched"] + 1,
    "closing": _RANK["valve_touched"] + 2,
}


@dataclass(slots=True)
class Act:
    """An entry as it counts: corrected, its instant in UTC by the measured clock, values read without outer blanks."""

    id: str
    kind: str
    at: datetime
    device: str
    author: str
    fields: Mapping[str, str]
    key: Key

    def value(self, name: str) -> str:
        """Return what was typed in a field; empty when nothing was."""
        return self.fields.get(name, "").strip()

    def says_the_same(self, other: Act) -> bool:
        """Whether two acts have the same values, whatever blanks were typed around them."""
        names = self.fields.keys() | other.fields.keys()
        return all(self.value(name) == other.value(name) for name in names)


def device_clocks(entries: Iterable[Entry]) -> dict[str, DeviceClock]:
    """
    Measure the clock of every device that has receipts.

    Parameters
    ----------
    entries : iterable of Entry
        As recorded; corrections do not move what a clock showed.

    Returns
    -------
    dict of str to DeviceClock
        By device, in alphabetical order.
    """
    least: dict[str, timedelta] = {}
    count: dict[str, int] = {}
    for entry in entries:
        if entry.received_at is not None:
            lag = utc(entry.received_at) - utc(entry.at)
            device = entry.device
            count[device] = count.get(device, 0) + 1
            if device not in least or lag < least[device]:
                least[device] = lag
    return {device: clock_of(device, count[device], least[device]) for device in sorted(least)}


def act_of(entry: Entry, clocks: dict[str, DeviceClock], *, at_corrected: bool) -> Act:
    """
    Return an entry as it counts.

    An instant that a person corrected is by the clock that person read, not by the device's: it is not moved.
    """
    key = order_key(entry, clocks, at_corrected=at_corrected)
    return Act(entry.id, entry.kind, key[0], entry.device, entry.author, entry.fields, key)


def order_key(entry: Entry, clocks: dict[str, DeviceClock], *, at_corrected: bool = False) -> Key:
    """
    Return what an entry is ordered by: instant, device, sequence, rank of its kind, id.

    An entry without a sequence names no device here, so that acts of one minute on several sheets follow the ranks.
    """
    at = utc(entry.at)
    clock = clocks.get(entry.device)
    if clock is not None and clock.shift_s and not at_corrected:
        at += timedelta(seconds=clock.shift_s)
    rank = _RANK.get(entry.kind, 10 * len(_RANK))
    if entry.kind == "flow_read":
        rank = _RANK_OF_READING.get(entry.fields.get("phase", "").strip(), rank)
    return (at, entry.device if entry.sequence else "", entry.sequence, rank, entry.id)


def utc(at: datetime) -> datetime:
    """Return an instant in UTC; one without an offset, which no check lets pass, as if it were in UTC already."""
    zone = at.tzinfo
    if zone is UTC:
        return at
    return at.astimezone(UTC) if zone is not None else at.replace(tzinfo=UTC)


def clock_of(device: str, received: int, least_lag: timedelta) -> DeviceClock:
    """Return the clock of a device by the least time between an instant of its entries and the receipt."""
    least_lag_s = least_lag.total_seconds()
    ahead_s = max(0.0, -least_lag_s)
    return DeviceClock(
        device=device,
        received=received,
        ahead_s=ahead_s,
        behind_at_most_s=None if ahead_s else least_lag_s,
        shift_s=-ahead_s if ahead_s > TOLERATED_AHEAD_S else 0.0,
    )
