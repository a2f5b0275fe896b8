"""A log written the way people write it: a clock time, an act, its fields."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from itertools import count

from lapel.fieldlog import Entry

OFFSET = timezone(timedelta(hours=2))


class Book:
    """Entries of one day (14 May 2026, UTC+2) on some devices, numbered as they are written."""

    def __init__(self, device="phone-1", author="RK"):
        self.entries: list[Entry] = []
        self.device = device
        self.author = author
        self._ids = count(1)
        self._sequences: dict[str, count] = {}

    def write(
        self, clock, kind, *, device=None, author=None, entry_id=None, corrects=None, reason="", received=None, **fields
    ):
        device = device or self.device
        sequence = next(self._sequences.setdefault(device, count(1)))
        entry = Entry(
            id=entry_id or f"e{next(self._ids):03}",
            kind=kind,
            at=instant(clock),
            device=device,
            sequence=sequence,
            author=author or self.author,
            fields={name.rstrip("_"): str(value) for name, value in fields.items()},
            corrects=corrects.id if isinstance(corrects, Entry) else corrects,
            reason=reason,
            received_at=instant(received) if received else None,
        )
        self.entries.append(entry)
        return entry

    def correct(self, clock, entry, reason="misread", **fields):
        return self.write(clock, "correction", corrects=entry, reason=reason, **fields)

    def prepare(self, train="T1", ports="AB", clock="05:00", pump="P-1", flow="0.100"):
        """Prepare a train: three closing readings a port and the closing round."""
        self.write(clock, "train_prepared", train=train, pump=pump, splitter="H-1", warm_up_min="10")
        self.read("05:05", "closing", train, ports, flow)
        return self.write("05:20", "closing_round", train=train, ports=" ".join(ports), valve_touched="no")

    def read(self, clock, phase, train="T1", ports="AB", flow="0.100", times=3):
        return [
            self.write(clock, "flow_read", train=train, port=port, phase=phase, meter="M-1", reading=flow, unit="L/min")
            for port in ports
            for _ in range(times)
        ]

    def post(self, clock="15:00", train="T1", ports="AB", flow="0.098", **answers):
        self.read(clock, "post", train, ports, flow)
        said = {"valve_touched": "no", "recharged": "no", "same_tubes": "yes"} | answers
        return self.write(clock, "post_round", train=train, **said)

    def fit(self, clock, sampler, port="A", train="T1", **more):
        return self.write(clock, "sampler_fitted", train=train, port=port, sampler=sampler, **more)


def instant(clock):
    """“06:30” is on the day itself, “15 06:30” on another day of May 2026, “2026-…” an instant as it stands."""
    if len(clock) > 12:
        return datetime.fromisoformat(clock)
    day, _, rest = clock.rpartition(" ")
    hour, minute, *second = (int(part) for part in rest.split(":"))
    return datetime(2026, 5, int(day or 14), hour, minute, *second, tzinfo=OFFSET)


def utc(clock):
    return instant(clock).astimezone(UTC)
