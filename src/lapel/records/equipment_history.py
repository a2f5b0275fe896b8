"""
What the log tells of equipment: how much each port's flow changed in every run, last charges, and what falls due.

Which pump to retire, which port creeps: the changes of one pump, or of one port of one splitter, over time.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from statistics import fmean, median

from lapel.fieldlog import Day, Entry, FlowReading, FlowRound, fold
from lapel.figures import UnitProblem
from lapel.figures.units import canonical
from lapel.hygiene import sample_flow, volume_time_flow
from lapel.records.log_reading import entry_of
from lapel.records.models import LogEntry, Meter, Pump, Site, Splitter

RECENT_RUNS = 5
"""Runs that count as recent."""

ROWS_AT_ONCE = 2000
"""Rows of the log fetched at a time."""


@dataclass(frozen=True, slots=True)
class PortRun:
    """
    One port between its closing round and the round after the run.

    Parameters
    ----------
    survey, train, pump, splitter, port : str
        Codes; the splitter is empty where the tube hung on the pump itself.
    before_at, after_at : datetime
        When the port was read.
    before_lpm, after_lpm : float
        Mean of the readings as the meter showed them, uncorrected. [L/min]
    change : float
        (after - before) / before. [fraction]
    same_meter : bool
        Whether both rounds were read with one meter; where not, part of the change may be the meters'.
    """

    survey: str
    train: str
    pump: str
    splitter: str
    port: str
    before_at: datetime
    after_at: datetime
    before_lpm: float
    after_lpm: float
    change: float
    same_meter: bool


@dataclass(frozen=True, slots=True)
class EquipmentHistory:
    """
    What the logs of a site tell of its equipment.

    Attributes
    ----------
    runs : tuple of PortRun
        In the order of time.
    charged, used : mapping of str to datetime
        By pump: when it was charged last as far as anybody recorded it, and when it was prepared last.
    unread : tuple of str
        Runs that could not be compared, and why.
    """

    runs: tuple[PortRun, ...]
    charged: Mapping[str, datetime]
    used: Mapping[str, datetime]
    unread: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Drift:
    """
    How one pump, or one port of a splitter, behaved.

    Parameters
    ----------
    code : str
        The pump, or splitter and port.
    runs : tuple of PortRun
        In the order of time.
    median_change, recent_change : float
        Median of all changes, and of the last `RECENT_RUNS`: with a sign, so that creeping shows. [fraction]
    worst_change : float
        The change farthest from 0. [fraction]
    beyond : int
        Runs whose change is more than the tolerance asked for, up or down.
    """

    code: str
    runs: tuple[PortRun, ...]
    median_change: float
    recent_change: float
    worst_change: float
    beyond: int


@dataclass(frozen=True, slots=True)
class Due:
    """Something that falls due, or is missing: then `on` and `days_left` are `None`. Days below 0 are overdue."""

    kind: str
    code: str
    what: str
    on: date | None
    days_left: int | None


def equipment_history(site: Site) -> EquipmentHistory:
    """
    Work out what the logs of all surveys of a site tell of its equipment.

    Parameters
    ----------
    site : Site
        The record; access was checked by whoever got it.

    Returns
    -------
    EquipmentHistory
        Two queries, however many surveys and entries.

    Notes
    -----
    Rounds belong to runs as `lapel.fieldlog.fold` pairs them: the last closing round before, lost if a valve was
    touched after it, and the first round after. A change is that of the readings as typed. An assessment corrects each
    reading by the meter's certificate and the air first, so its change differs where meter or air did.
    """
    runs: dict[tuple[object, ...], PortRun] = {}
    charged: dict[str, datetime] = {}
    used: dict[str, datetime] = {}
    unread: dict[str, None] = {}
    for survey, entries in _logs(site):
        day = fold(entries)
        for run in _port_runs(survey, day, unread):
            runs[run.survey, run.train, run.port, run.before_at, run.after_at] = run
        _note_pumps(day, charged, used)
    in_time = sorted(runs.values(), key=lambda run: (run.after_at, run.train, run.port))
    return EquipmentHistory(tuple(in_time), charged, used, tuple(unread))


def pump_drift(history: EquipmentHistory, *, tolerance: float = 0.05) -> list[Drift]:
    """
    Return how every pump behaved, the one with most runs beyond the tolerance first.

    Parameters
    ----------
    history : EquipmentHistory
        Of one site.
    tolerance : float
        Change that counts as too much in `Drift.beyond`, to compare equipment by; whether a sample may be used is for
        the survey's rule book. [fraction]
    """
    return _drifts(history.runs, lambda run: run.pump, tolerance)


def port_drift(history: EquipmentHistory, *, tolerance: float = 0.05) -> list[Drift]:
    """Return how every port of every splitter behaved; arguments and order as those of `pump_drift`."""
    on_splitters = [run for run in history.runs if run.splitter]
    return _drifts(on_splitters, lambda run: f"{run.splitter} {run.port}", tolerance)


def due_dates(site: Site, *, today: date, within_days: int = 60) -> list[Due]:
    """
    Return certificates and services that are missing, overdue or fall due soon; the most urgent first.

    Parameters
    ----------
    site : Site
        Retired equipment is left out.
    today : date
        The day counted from.
    within_days : int
        How far to look ahead. [d]
    """
    found: list[Due] = []
    for meter in Meter.objects.filter(site=site, retired_on=None):
        found.append(_due("meter", meter.code, "certificate", meter.due_on, today))
    for kind, table in (("meter", Meter), ("pump", Pump), ("splitter", Splitter)):
        for code, day in table.objects.filter(site=site, retired_on=None, service_due_on__isnull=False).values_list(
            "code", "service_due_on"
        ):
            found.append(_due(kind, code, "service", day, today))
    urgent = [due for due in found if due.days_left is None or due.days_left <= within_days]
    return sorted(urgent, key=lambda due: (due.days_left is not None, due.days_left or 0, due.kind, due.code))


def _logs(site: Site) -> Iterator[tuple[str, list[Entry]]]:
    """Give the logs of a site's surveys one after the other, each with the survey's code."""
    codes = dict(site.surveys.values_list("pk", "code"))
    rows = LogEntry.objects.filter(survey__site=site).order_by("survey_id", "receipt").iterator(ROWS_AT_ONCE)
    for survey, entries in groupby(rows, key=lambda row: row.survey_id):
        yield codes.get(survey, ""), [entry_of(row) for row in entries]


def _due(kind: str, code: str, what: str, on: date | None, today: date) -> Due:
    return Due(kind, code, what, on, (on - today).days if on else None)


def _port_runs(survey: str, day: Day, unread: dict[str, None]) -> Iterator[PortRun]:
    for run in day.runs.values():
        for segment in run.segments:
            before, after = segment.before, segment.after
            if before is None or after is None or not before.readings or not after.readings:
                continue
            where = f"{survey}, {segment.train} port {segment.port}, {after.at:%Y-%m-%d}"
            try:
                before_lpm, after_lpm = _mean_lpm(before), _mean_lpm(after)
                change = sample_flow(before_lpm, after_lpm).change
            except (UnitProblem, ValueError, ZeroDivisionError) as problem:
                unread[f"{where}: {problem}"] = None
                continue
            yield PortRun(
                survey=survey,
                train=segment.train,
                pump=segment.pump,
                splitter=run.splitter,
                port=segment.port,
                before_at=before.at,
                after_at=after.at,
                before_lpm=before_lpm,
                after_lpm=after_lpm,
                change=change,
                same_meter=len({reading.meter for reading in (*before.readings, *after.readings)}) == 1,
            )


def _mean_lpm(one: FlowRound) -> float:
    return fmean(map(_lpm, one.readings))


def _lpm(reading: FlowReading) -> float:
    if reading.reading:
        return canonical(reading.reading, reading.unit, "flow")
    volume = canonical(reading.volume, reading.volume_unit, "volume")
    return float(volume_time_flow(volume, float(reading.seconds)).value)


def _note_pumps(day: Day, charged: dict[str, datetime], used: dict[str, datetime]) -> None:
    for train in day.trains.values():
        for preparation in train.preparations:
            for found, at in ((charged, preparation.charged_at), (used, preparation.at)):
                if at is not None and (preparation.pump not in found or found[preparation.pump] < at):
                    found[preparation.pump] = at


def _drifts(runs: Iterable[PortRun], code_of: Callable[[PortRun], str], tolerance: float) -> list[Drift]:
    by_code: dict[str, list[PortRun]] = defaultdict(list)
    for run in runs:
        by_code[code_of(run)].append(run)
    drifts = [_drift(code, found, tolerance) for code, found in by_code.items()]
    return sorted(drifts, key=lambda drift: (-drift.beyond, -abs(drift.median_change), drift.code))


def _drift(code: str, runs: Sequence[PortRun], tolerance: float) -> Drift:
    changes = [run.change for run in runs]
    return Drift(
        code=code,
        runs=tuple(runs),
        median_change=median(changes),
        recent_change=median(changes[-RECENT_RUNS:]),
        worst_change=max(changes, key=abs),
        beyond=sum(abs(change) > tolerance for change in changes),
    )
