"""The live day: what every port has drawn by an instant, who looked at the pumps, and when somebody must look again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal, TypeAlias
from zoneinfo import ZoneInfo

from lapel.assessment import inputs
from lapel.assessment.bench import FlowBench
from lapel.assessment.field_days import TrainDay, train_days
from lapel.assessment.place_air import PlaceAir
from lapel.fieldlog import Day, FlowRound, SampleRun, Segment
from lapel.figures import Figure
from lapel.hygiene import clock_minutes, sample_volume, total_volume
from lapel.hygiene.rulebook import RuleBook

FORGOTTEN = timedelta(hours=24)
"""A run nobody stopped for this long is taken as one whose stop was not recorded, not as one that goes on."""

State: TypeAlias = Literal["running", "on hold", "stopped", "ended", "not started", "no stop recorded"]


@dataclass(frozen=True, slots=True)
class PortNow:
    """
    One sampler on one port, as it stands at an instant.

    Attributes
    ----------
    state
        "running" while it draws; "on hold" between a hold and its end; "stopped" where the pump stopped with the
        sampler in place; "ended" once the sampler is off or the shift over.
    minutes
        Drawn so far. [min] None where a stop was not recorded.
    litres
        Drawn so far by the flow of the closing round; the flow after the run is not known yet. None without a closing
        round or without minutes. [L]
    """

    run: SampleRun
    state: State
    minutes: float | None
    litres: Figure | None


@dataclass(frozen=True, slots=True)
class TrainNow:
    """
    One train at an instant.

    Attributes
    ----------
    looked_at
        When somebody last looked at the running pump, its start included; None while it does not run.
    due_at, due_in_min
        When the rule book wants the next look, and how far off that is, below 0 when overdue. None while no look is due
        or where the rule book wants none.
    """

    prepared: TrainDay
    ports: tuple[PortNow, ...]
    looked_at: datetime | None
    due_at: datetime | None
    due_in_min: float | None

    @property
    def is_running(self) -> bool:
        """Whether any port draws."""
        return any(port.state == "running" for port in self.ports)


def live_day(
    survey: inputs.Survey, day: Day, book: RuleBook, now: datetime, trains: Iterable[TrainDay] | None = None
) -> list[TrainNow]:
    """
    Say how the trains of a survey stand.

    Parameters
    ----------
    survey, day : Survey, Day
        What is on record, and what its log amounts to (up to `now`, to look at an earlier moment).
    book : RuleBook
        Which looks at a running pump it wants.
    now : datetime
        The instant.
    trains : iterable of TrainDay, optional
        Which of them; all, if left out.
    """
    wanted = train_days(day, ZoneInfo(survey.site.zone)) if trains is None else trains
    bench = FlowBench(survey.meters, PlaceAir(survey.site, day.conditions))
    known = frozenset(survey.meters)
    return [_train(one, bench, known, book, now) for one in wanted]


def measurable(flow_round: FlowRound | None, meters: frozenset[str]) -> bool:
    """Whether a round was read, and read with meters that are in the register."""
    return bool(flow_round and flow_round.readings) and all(
        read.meter in meters for read in (flow_round.readings if flow_round else ())
    )


def limit_of(book: RuleBook, measure: str) -> float | None:
    """Return the number of the mildest tier of the rule on a measure; None where the book has none."""
    return next((tier.value for rule in book.rules if rule.measure == measure for tier in rule.tiers[:1]), None)


def _train(one: TrainDay, bench: FlowBench, meters: frozenset[str], book: RuleBook, now: datetime) -> TrainNow:
    ports = tuple(_port(run, bench, meters, now) for run in one.runs)
    running = [port.run for port in ports if port.state == "running"]
    if not running:
        return TrainNow(one, ports, None, None, None)
    started = min(run.segments[-1].start for run in running)
    looks = [check.at for check in one.preparation.checks if started <= check.at <= now]
    limit = limit_of(book, "check_gap" if looks else "first_check")
    looked = max([started, *looks])
    if limit is None:
        return TrainNow(one, ports, looked, None, None)
    due = looked + timedelta(minutes=limit)
    return TrainNow(one, ports, looked, due, (due - now) / timedelta(minutes=1))


def _port(run: SampleRun, bench: FlowBench, meters: frozenset[str], now: datetime) -> PortNow:
    state = _state(run, now)
    parts = [_minutes(segment, state, now) for segment in run.segments]
    minutes = sum(part for part in parts if part is not None) if parts and None not in parts else None
    return PortNow(run, state, minutes, _litres(run.segments, parts, bench, meters))


def _state(run: SampleRun, now: datetime) -> State:
    if not run.segments:
        return "not started"
    last = run.segments[-1]
    if last.stop is None:
        open_still = not last.ended_by and now - last.start <= FORGOTTEN
        return "running" if open_still else "no stop recorded"
    if run.removed_at is not None or run.parcel or last.ended_by in ("shift end", "tube change", "early"):
        return "ended"
    if now - last.stop > FORGOTTEN:
        return "ended"
    return "on hold" if last.ended_by == "hold" else "stopped"


def _minutes(segment: Segment, state: State, now: datetime) -> float | None:
    if segment.minutes is not None:
        return segment.minutes
    return (now - segment.start) / timedelta(minutes=1) if state == "running" else None


def _litres(
    segments: Sequence[Segment], minutes: Sequence[float | None], bench: FlowBench, meters: frozenset[str]
) -> Figure | None:
    volumes = list(_volumes(segments, minutes, bench, meters))
    if not volumes or None in volumes:
        return None
    known = [volume for volume in volumes if volume is not None]
    return known[0] if len(known) == 1 else total_volume(known)


def _volumes(
    segments: Sequence[Segment], minutes: Sequence[float | None], bench: FlowBench, meters: frozenset[str]
) -> Iterator[Figure | None]:
    for segment, drawn in zip(segments, minutes, strict=True):
        if drawn is None or drawn <= 0.0 or segment.before is None or not measurable(segment.before, meters):
            yield None
            continue
        flow = bench.round_flow(segment.before).flow
        yield sample_volume(flow, clock_minutes(drawn)) if flow.value > 0.0 else None
