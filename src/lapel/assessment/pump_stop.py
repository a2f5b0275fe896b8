"""When a pump stopped, where nobody recorded it: no stop at all, or one that stands before its start."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from lapel.fieldlog.entries import Entry
from lapel.fieldlog.state import Conflict, Day, FlowRound, Preparation, Remark, SampleRun, Segment
from lapel.said import listed, said

WITHOUT_START = "stopped without a start"
"""What the fold says of a stop that ends nothing."""

CONSEQUENCES = (WITHOUT_START, "packed while drawing", "prepared while drawing")
"""Conflicts that a stop in its place would settle by itself."""


MISTYPED_WITHIN = timedelta(hours=36)
"""A stop that ends nothing and stands longer before a start belongs to another run: a day is a slip, a week is not."""

BY_THE_PUMP = ("fault", "shift end", "tube change", "early", "other")
"""Ends of a segment that the pump's stop brought, by the reason recorded with it."""


@dataclass(frozen=True, slots=True)
class StopsInDoubt:
    """
    What is in doubt about the stops of one sample, one phrase a segment.

    `unknown` where no end is known, so that there is no sampled time; `taken_from_removal` where the sampler's removal
    stands in for the pump's stop. `entries` are the stops that stand before their start.
    """

    unknown: tuple[str, ...] = ()
    taken_from_removal: tuple[str, ...] = ()
    entries: frozenset[str] = frozenset()

    def explains(self, conflict: Conflict) -> bool:
        """Whether a conflict is only what the doubtful stop leads to."""
        if not self.unknown and not self.taken_from_removal:
            return False
        if conflict.about == WITHOUT_START:
            return not self.entries.isdisjoint(conflict.entry_ids)
        return conflict.about in CONSEQUENCES and bool(self.unknown)


class PumpStops:
    """
    Finds the stops that are missing or stand before their start.

    Parameters
    ----------
    day : Day
        What the log amounts to.
    entries : iterable of Entry
        The log itself, for the time somebody wrote with a stop that ends nothing.
    zone : str
        Clock of the site.
    """

    def __init__(self, day: Day, entries: Iterable[Entry], zone: str) -> None:
        self._day = day
        self._zone = ZoneInfo(zone)
        listed = tuple(entries)
        self._idle = _stops_that_end_nothing(day, listed)
        self._found_stopped = {entry.id for entry in listed if entry.kind in ("pump_stopped", "pump_checked")}
        self._last_start: dict[str, datetime] = {}
        for run in day.runs.values():
            for segment in (*run.segments, *run.stray_segments):
                last = self._last_start.get(segment.train)
                self._last_start[segment.train] = segment.start if last is None else max(last, segment.start)

    def of(self, run: SampleRun | None) -> StopsInDoubt:
        """Say what is in doubt about the stops of one sample."""
        if run is None:
            return StopsInDoubt()
        unknown, removal, entries = [], [], set()
        for segment in run.segments:
            drew_nothing = segment.stop == segment.start and segment.ended_by in BY_THE_PUMP and len(run.segments) == 1
            if segment.stop is not None and not drew_nothing and segment.ended_by != "sampler removed":
                continue
            preparation = self._day.preparation_of(segment)
            idle = self._idle_before(segment, preparation)
            if segment.stop is None or drew_nothing:
                unknown.append(listed(": ", (self._place(segment), self._how_unknown(segment, idle))))
            elif self._pump_never_stopped(segment, preparation):
                removal.append(
                    said(
                        "{place}: {how}; the sampler's removal at {time} (entry {entry}) is taken",
                        place=self._place(segment),
                        how=self._how_unknown(segment, idle, open_ended=True),
                        time=self._clock(segment.stop),
                        entry=segment.stop_entry,
                    )
                )
            else:
                continue
            if idle is not None:
                entries.add(idle[1])
        return StopsInDoubt(tuple(unknown), tuple(removal), frozenset(entries))

    def _idle_before(self, segment: Segment, preparation: Preparation) -> tuple[datetime, str] | None:
        """Return the last stop of this train, in this preparation, that ended nothing and stands before the start."""
        began = preparation.at or datetime.min.replace(tzinfo=segment.start.tzinfo)
        found = [idle for idle in self._idle.get(segment.train, ()) if idle[0] <= segment.start]
        here = [idle for idle in found if idle[0] >= began]
        lately = [idle for idle in found if segment.start - idle[0] <= MISTYPED_WITHIN]
        return max(here or lately, default=None)

    def _pump_never_stopped(self, segment: Segment, preparation: Preparation) -> bool:
        """Whether the pump's own stop is recorded nowhere and nothing was drawn on the train after this segment."""
        assert segment.stop is not None  # the caller's case
        before = [pump for pump in preparation.pump_runs if pump.start <= segment.start]
        return bool(before) and before[-1].stop is None and self._last_start[segment.train] < segment.stop

    def _how_unknown(self, segment: Segment, idle: tuple[datetime, str] | None, *, open_ended: bool = False) -> str:
        start = said("{time} (entry {entry})", time=self._clock(segment.start), entry=segment.start_entry)
        if segment.stop is not None and not open_ended:
            return said(
                "the stop in entry {entry} does not stand after the start at {start}",
                entry=segment.stop_entry,
                start=start,
            )
        if idle is not None:
            stop = said("{time} (entry {entry})", time=self._clock(idle[0]), entry=idle[1])
            return said("the stop at {stop} stands before the start at {start}", stop=stop, start=start)
        if open_ended or not segment.stop_entry:
            return said("no stop is recorded after the start at {start}", start=start)
        seen = (
            said("{time} (entry {entry})", time=self._clock(segment.not_after), entry=segment.stop_entry)
            if segment.not_after
            else said("that")
        )
        if segment.stop_entry in self._found_stopped:
            return said(
                "after the start at {start} the pump was found stopped at {seen}, and no counter says since when",
                start=start,
                seen=seen,
            )
        return said(
            "no stop is recorded between the start at {start} and {seen}, when the log goes on with this train",
            start=start,
            seen=seen,
        )

    def _place(self, segment: Segment) -> str:
        return said("train {train}, port {port}", train=segment.train, port=segment.port)

    def _clock(self, at: datetime) -> str:
        return f"{at.astimezone(self._zone):%Y-%m-%d %H:%M}"


def post_round_waiting(segment: Segment, preparation: Preparation) -> FlowRound | None:
    """
    Return the flow round that speaks for a segment as soon as its stop is known.

    The log gives a round to the segments that ended before it. One without an end waits for none, though the port was
    read: that reading is not missing.
    """
    if segment.after is not None or segment.stop is not None:
        return segment.after
    for one in preparation.post_rounds:
        made = one.ports.get(segment.port)
        if made is not None and one.at > segment.start:
            return made
    read = tuple(
        each
        for each in preparation.readings
        if each.port == segment.port and each.phase == "post" and each.at > segment.start
    )
    return FlowRound("post", segment.port, read[-1].at, read, declared=False) if read else None


def _stops_that_end_nothing(day: Day, entries: Iterable[Entry]) -> dict[str, list[tuple[datetime, str]]]:
    """Instants and ids of stops without a start, by train, in order."""
    told: list[Conflict | Remark] = [*day.conflicts, *day.remarks]
    train_of = {entry_id: one.train for one in told if one.about == WITHOUT_START for entry_id in one.entry_ids}
    found: dict[str, list[tuple[datetime, str]]] = defaultdict(list)
    if not train_of:
        return found
    for entry in entries:
        train = train_of.pop(entry.id, None)
        if train is not None:
            amended = day.amendments.get(entry.id)
            counts = amended.counts if amended and amended.counts else entry
            found[train].append((counts.at, entry.id))
    return {train: sorted(stops) for train, stops in found.items()}
